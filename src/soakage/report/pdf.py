"""The report on paper."""

from __future__ import annotations

from typing import Any

from soakage.app.result import Evaluation
from soakage.report import charts
from soakage.report.content import made, report_content
from soakage.report.typesetting import paper_name, typeset

_MM = 72 / 25.4
_COLUMN = {2: 54.0, 3: 83.0, 5: 141.0}
# Heights in mm: a line of text, of small text, a section's rule and gaps.
_TEXT, _SMALL, _SECTION = 11.4 / _MM, 9.2 / _MM, 15.6 / _MM


def report_pdf(evaluation: Evaluation, *, paper: str = "a4") -> bytes:
    """Return the report as PDF/A-2b.

    Parameters
    ----------
    evaluation : Evaluation
        The records with everything said about them.
    paper : str
        a4 or letter.

    Returns
    -------
    bytes
        The same bytes for the same evaluation: it carries the time of its latest test, never the clock's.

    Raises
    ------
    UsageError
        If the paper is not known.
    """
    content = report_content(evaluation, paper=paper_name(paper))
    return typeset("report", content, made=made(evaluation), drawings=_drawings(content))


def _drawings(content: dict[str, Any]) -> dict[str, str]:
    drawn = {}
    for part in content["parts"]:
        height = _chart_height(part, content["paper"])
        widths = [5] if len(part["plots"]) == 1 else [3, 2]
        for index, (plot, columns) in enumerate(zip(part["plots"], widths, strict=False)):
            name = f"{part['number']}-{index}"
            spec = charts.spec(plot, "paper", width=_COLUMN[columns] * _MM, height=height * _MM)
            drawn[name] = charts.svg(spec, f"c{name}")
    return drawn


def _chart_height(part: dict[str, Any], paper: str) -> float:
    """Return the height [mm] that lets page 1 hold all that was measured, within what still reads well."""
    if not part["plots"]:
        return 0.0
    page = 297 - 17 - 19 if paper == "a4" else 279.4 - 14 - 15.5
    said = part["verdict"]
    verdict = (
        8.4
        + 6 * _lines(said["sentence"], 62)
        + (_TEXT * _lines(said["more"], 88) + 0.8 if said["more"] else 0.0)
        + 4.6 * bool(said["certainty"])
    )
    verdict += 1.4 + _TEXT * _lines(said["first_action"], 88) if said["first_action"] else 0.0
    left = [row for row in part["asset"] if row[0] != "Site"]
    tested = max(_facts(left, 40 if part["connection"] else 80), 29.0 if part["connection"] else 0.0)
    half = (len(part["test"]) + 1) // 2
    test = max(_facts(part["test"][:half], 31), _facts(part["test"][half:], 31))
    conditions = max(_facts(part["conditions"], 40), 13.4 if part["thermo"] else 0.0)
    readings = _TEXT * 2 + 3 + _SMALL * _lines(part["plot_note"], 112)
    tables = [part[name] for name in ("steps", "ramp") if part[name]]
    measured = sum(15 + 3.9 * len(table["rows"]) + _SECTION for table in tables)
    rows = part["quantities"]["rows"]
    quantities = 6 + sum(
        3.9 if _lines(row["how"], 36) == 1 else 0.9 + _SMALL * _lines(row["how"], 36) for row in rows
    )
    noted = " ".join(f"[1] {s['source']}. {s['verified']}" for s in part["quantities"]["sources"])
    quantities += 1 + _SMALL * _lines(noted + " ".join(part["quantities"]["notes"]), 108)
    fixed = 14 + verdict + tested + test + conditions + readings + measured + quantities + 6 * _SECTION
    most = 70.0 if paper == "a4" else 60.0
    # Where even a low chart leaves no room, the quantities go on over the page and the chart keeps its size.
    return min(most, page - fixed - 1) if page - fixed - 1 >= 40 else most - 10


def _facts(rows: list[list[str]], width: int) -> float:
    return sum(_TEXT * _lines(said, width) for _, said in rows)


def _lines(text: str, width: int) -> int:
    """Return how many lines a text takes at so many characters a line."""
    return max(1, -(-len(text) // width))
