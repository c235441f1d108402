"""Pieces: every component in every state, for whoever builds pages and for the tests.  All of it is invented."""

from __future__ import annotations

from functools import cache

from fastapi import Request
from fastapi.responses import HTMLResponse

from soakage.model.verdict import Status
from soakage.web import view
from soakage.web.chart_data import Plot
from soakage.web.charts import drawn
from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.shapes import fault

ROUTER = Router("pieces", word="Pieces", address="/pieces", place="more", order=90, developer=True)
_RECORD = "drain-pump-3-w.csv"
_SAID = {
    Status.SOUND: "The wall is dry. Nothing asks for attention.",
    Status.WATCH: "The dye has entered. Test sooner.",
    Status.INVESTIGATE: "It has reached the conductor on one side. Find the cause.",
    Status.UNFIT: "Soaked through. Not to be energised.",
    Status.NOT_JUDGED: "an input is missing",
    Status.NOT_APPLICABLE: "the criterion is not for this",
    Status.INVALID_TEST: "conditions were not met",
}


@ROUTER.get("/pieces", name="pieces")
def pieces(request: Request) -> HTMLResponse:
    """Show every component."""
    fault_shown = fault(
        "“1,500 V” can be read two ways.",
        given="1,500 V",
        allowed="1.5 V or 1500 V",
        remedy="Write the one you mean.",
    )
    return page(
        request,
        "pieces.html",
        title="Pieces",
        current="pieces",
        ladder=[(status, said) for status, said in _SAID.items() if status.rung >= 0],
        beside=[(status, said) for status, said in _SAID.items() if status.rung < 0],
        counts={"sound": 3, "watch": 1, "investigate": 1, "not judged": 1, "not applicable": 1},
        figures=[
            (
                "Insulation resistance",
                "1 min, at 40\u00a0°C",
                view.Figure("", "622", "MΩ", "19"),
                "at least 100\u00a0MΩ",
            ),
            ("Polarization index", "10 min over 1 min", view.Figure("", "1.61", "", "0.01"), "at least 2.0"),
            ("Insulation resistance", "1 min", view.figure(2e11, "resistance"), ""),
            ("Current", "1 min", view.figure(6.82e-6, "current"), ""),
        ],
        fault=fault_shown,
        charts=[drawn(request, plot) for plot in _plots()],
    )


@cache
def _plots() -> list[Plot]:
    from soakage.app.evaluate import evaluate
    from soakage.demo.make import demo_files
    from soakage.importers.reading import read_bytes
    from soakage.report.plots import plots

    text = demo_files()[_RECORD]
    (record,) = evaluate(list(read_bytes(text.encode(), _RECORD))).records
    return plots(record)
