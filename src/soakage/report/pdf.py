"""The report on paper."""

from __future__ import annotations

from typing import Any

from soakage.app.result import Evaluation
from soakage.report import charts
from soakage.report.content import made, report_content
from soakage.report.network_drawing import network_svg
from soakage.report.typesetting import ask, paper_name, typeset

_MM = 72 / 25.4
_NETWORK, _DRYING = 71.0, 56.0
_COLUMN = {2: 54.0, 3: 83.0, 5: 141.0}
# Heights of charts in mm. Below the low one a chart no longer reads well; the second is for a record whose
# measured part runs over anyway.
_LOW, _SPILT, _MOST = 38.0, 42.0, {"a4": 70.0, "us-letter": 60.0}
_PAGE_END = {"a4": 297.0 - 19.0, "us-letter": 279.4 - 15.5}


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
    heights = _heights(content)
    return typeset("report", content, made=made(evaluation), drawings=_drawings(content, heights))


def _heights(content: dict[str, Any]) -> dict[int, float]:
    """Return the height [mm] of each record's charts: what the page they stand on leaves free.

    The report is set once with low charts, and asked where the measured part of each record ends.  Where it
    runs over even so, the charts keep a middle height and the quantities go on overleaf.
    """
    paper = content["paper"]
    most, end = _MOST[paper], _PAGE_END[paper]
    if not any(part["plots"] for part in content["parts"]):
        return {}
    found = ask("report", {**content, "trial": _LOW}, "<measured>")
    return {
        entry["number"]: min(most, _LOW + end - entry["y"] - 0.5) if entry["from"] == entry["to"] else _SPILT
        for entry in found
    }


def _drawings(content: dict[str, Any], heights: dict[int, float]) -> dict[str, str]:
    drawn = {
        f"network-{index}": network_svg(network, paper=True, width=_NETWORK * _MM)
        for index, network in enumerate(content["networks"])
        if network["terminals"]
    }
    for index, dry_out in enumerate(content["dry_outs"]):
        if dry_out["plot"] is not None:
            spec = charts.spec(dry_out["plot"], "paper", width=_COLUMN[5] * _MM, height=_DRYING * _MM)
            drawn[f"dry-out-{index}"] = charts.svg(spec, f"d{index}")
    for part in content["parts"]:
        widths = [5] if len(part["plots"]) == 1 else [3, 2]
        for index, (plot, columns) in enumerate(zip(part["plots"], widths, strict=False)):
            name = f"{part['number']}-{index}"
            height = heights[part["number"]]
            spec = charts.spec(plot, "paper", width=_COLUMN[columns] * _MM, height=height * _MM)
            drawn[name] = charts.svg(spec, f"c{name}")
    return drawn
