"""The report on paper."""

from __future__ import annotations

from typing import Any

from soakage.app.result import Evaluation
from soakage.report import charts
from soakage.report.content import made, report_content
from soakage.report.typesetting import paper_name, typeset

_MM = 72 / 25.4
_COLUMN = {2: 54.0, 3: 83.0, 5: 141.0}
_LINE_MM = 11.4 / _MM


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
    drawing = 29.0 if part["connection"] else 0.0
    tested = max(len(part["asset"]) * _LINE_MM, drawing)
    test = (len(part["test"]) + 1) // 2 * _LINE_MM * 1.5
    conditions = max(len(part["conditions"]) * _LINE_MM * 1.3, 13.4 if part["thermo"] else 0.0)
    tables = sum(len(part[name]["rows"]) + 4 for name in ("steps", "ramp") if part[name])
    quantities = len(part["quantities"]["rows"]) * 1.5 + 3
    fixed = 17 + 40 + tested + test + conditions + (tables + quantities) * _LINE_MM + 6 * 5.5 + 12
    return min(70.0 if paper == "a4" else 60.0, max(44.0, page - fixed))
