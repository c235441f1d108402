"""The charts of a test: framed on its page at once, drawn from the record evaluated when each is asked for."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from fastapi import HTTPException, Request

from soakage.app.judge_kept import Judged, judge_kept
from soakage.app.ports import KnownTest
from soakage.app.result import Evaluation
from soakage.app.rules import Rules
from soakage.methods import method
from soakage.methods.base import Shape
from soakage.report import typeface
from soakage.report.looks import look as ink
from soakage.report.network_drawing import network_svg
from soakage.report.networks import network_content
from soakage.report.plots import plots
from soakage.store.memory import StoreMemory
from soakage.units import format_quantity
from soakage.web.chart_data import Plot
from soakage.web.charts import WIDE, Drawn, drawn, framed, with_typeface
from soakage.web.house import house
from soakage.web.test_rules import rules_of
from soakage.web.test_view import judgement_of

Row = Mapping[str, Any]
_TITLES = {
    "resistance": "Resistance against time since voltage on",
    "current": "Current against time, with its parts where the curve shows them",
    "steps": "Current against time; rings: end of each hold",
    "step-conductance": "Conductance, memory removed",
    "step-resistance": "Resistance at the end of each hold",
    "ramp": "Current against voltage",
}
_LEAST = 2
_NETWORK_WIDTH = 720.0
_BESIDE, _STRIP, _BESIDE_STRIP, _NARROW_STRIP = (680, 340), (1000, 160), (680, 160), (350, 160)


def frames(request: Request, page: Row, *, beside: bool = False) -> list[Drawn]:
    """Return the charts of a test without drawing or evaluating any: the readings stand beside as a table.

    Parameters
    ----------
    request : Request
        For whom.
    page : mapping
        From :func:`soakage.web.test_view.found_page`.
    beside : bool
        Whether something stands beside them, so that they have less room.
    """
    result, test = page["result"], page["test"]
    if result is None:
        return []
    shape = method(test["method"]).shape
    readings = page["record"]["readings"]
    if shape is Shape.RAMP:
        found = [_plot("ramp", "voltage", "current", _pairs(readings, "voltage", "current"))]
    elif shape is Shape.STEPS:
        found = _step_frames(result, readings)
    else:
        found = _hold_frames(page)
    at = f"/tests/{test['id']}/charts"
    wide, strip = (_BESIDE, _BESIDE_STRIP) if beside else (WIDE, _STRIP)
    shown = [
        framed(request, f"{at}/{plot['kind']}", plot, wide=wide)
        for plot in found
        if len(_all(plot)) >= _LEAST
    ]
    apart = residuals(page)
    return [*shown, drawn(request, apart, wide=strip, narrow=_NARROW_STRIP)] if apart and shown else shown


def residuals(page: Row) -> Plot | None:
    """Return how far each reading of the current lies from the fitted model; None where it does not follow it.

    Parameters
    ----------
    page : mapping
        From :func:`soakage.web.test_view.found_page`.
    """
    result, stated = page["result"], page["record"]["stated"]
    values = result["quantities"]
    fitted = [
        values.get(f"{name}_fitted")
        for name in ("absorption_coefficient", "absorption_exponent", "conductance")
    ]
    if not result.get("fit", {}).get("follows_model") or not all(fitted):
        return None
    absorbed, exponent, steady = (one["value"] for one in fitted if one)
    until, readings = stated.get("discharge_started"), page["record"]["readings"]
    points = []
    for t, v, i, side in zip(
        *(readings[name] for name in ("time", "voltage", "current", "bound")), strict=True
    ):
        if None in (t, v, i) or side or t <= 0 or v == 0 or (until is not None and t >= until):
            continue
        model = abs(v) * (absorbed * t**-exponent + steady)
        points.append([t, abs(i) / model - 1.0])
    if len(points) < _LEAST or not all(math.isfinite(y) for _, y in points):
        return None
    largest = max(points, key=lambda point: abs(point[1]))
    most = f"{format_quantity(largest[1], 'fraction', digits=2)} at {format_quantity(largest[0], 'time')}"
    return {
        "kind": "residuals", "title": "Current, measured less model", "alt": f"Largest departure {most}.",
        "x": {"dimension": "time", "log": True}, "y": {"dimension": "fraction", "log": False},
        "lines": [
            {"role": "constant", "points": [[points[0][0], 0.0], [points[-1][0], 0.0]]},
            {"role": "measured", "points": points},
        ],
        "rings": [], "labels": [], "bounds": [], "limits": [], "needs": [],
    }  # fmt: skip


def _hold_frames(page: Row) -> list[Plot]:
    readings, end = page["record"]["readings"], page["record"]["stated"].get("discharge_started")
    found = []
    resistances = _pairs(readings, "time", "resistance", until=end, bounds=True)
    if len(resistances) >= _LEAST:
        found.append(_plot("resistance", "time", "resistance", resistances, log=True))
        currents = _pairs(readings, "time", "current", until=end)
        if sum(side == 0 for _, _, side in currents) >= _LEAST:
            found.append(_plot("current", "time", "current", currents, log=True))
    return found


def _step_frames(result: Row, readings: Row) -> list[Plot]:
    steps = result.get("steps", [])
    found = []
    times = [t for t in readings["time"] if t is not None]
    if len(times) > len(steps) + 1 and all(step["hold"] is not None for step in steps):
        found.append(_plot("steps", "time", "current", _pairs(readings, "time", "current")))
    rows = [
        (abs(s["voltage"]), s["conductance"], 0)
        for s in result.get("step_conductances", [])
        if s["conductance"] is not None and s["uncertainty"] is not None
    ]
    if len(rows) >= _LEAST:
        found.append(_plot("step-conductance", "voltage", "conductance", rows))
    else:
        sides = {"lower": 1, "upper": -1, None: 0}
        rows = [
            (abs(s["voltage"]), abs(s["resistance"]), sides[s["bound"]])
            for s in steps
            if s["resistance"] is not None
        ]
        found.append(_plot("step-resistance", "voltage", "resistance", rows))
    return found


def _pairs(
    readings: Row, x: str, y: str, *, until: float | None = None, bounds: bool = False
) -> list[tuple[float, float, int]]:
    """Return the readings that can be drawn: magnitudes, with the side of a bound."""
    found = []
    for t, a, b, side in zip(readings["time"], readings[x], readings[y], readings["bound"], strict=True):
        if a is None or b is None or (until is not None and t is not None and t >= until):
            continue
        if (x, y) == ("time", "resistance") and (a <= 0 or b == 0):
            continue
        found.append((abs(a), abs(b), side if bounds else -side if y == "current" else 0))
    return found


def _all(plot: Plot) -> list[list[float]]:
    return [*plot["lines"][0]["points"], *plot["bounds"]]


def _plot(kind: str, x: str, y: str, points: list[tuple[float, float, int]], *, log: bool = False) -> Plot:
    """Return a plot that holds the numbers only: what it looks like comes from the record evaluated."""
    plain = [[a, b] for a, b, side in points if side == 0]
    return {
        "kind": kind,
        "title": _TITLES[kind],
        "alt": _alt(plain or [[a, b] for a, b, _ in points], x, y),
        "x": {"dimension": x, "log": log},
        "y": {"dimension": y, "log": log},
        "lines": [{"role": "measured", "points": plain}],
        "bounds": [[a, b, side] for a, b, side in points if side != 0],
        "rings": [],
    }


def _alt(points: list[list[float]], x: str, y: str) -> str:
    if not points:
        return ""
    (x0, y0), (x1, y1) = points[0], points[-1]
    return (
        f"{y.capitalize()} from {format_quantity(y0, y)} at {format_quantity(x0, x)} to "
        f"{format_quantity(y1, y)} at {format_quantity(x1, x)}."
    )


def kept_test(memory: StoreMemory, test: str) -> KnownTest:
    """Return a test of the store.

    Raises
    ------
    HTTPException
        404 where there is none.
    """
    found = memory.tests(ids=[test])
    if not found:
        raise HTTPException(404, f"No test has the id {test[:40]}.")
    return found[0]


def evaluated(
    memory: StoreMemory, test: KnownTest, by: Rules | None = None
) -> tuple[Evaluation, list[Judged]]:
    """Return a test evaluated with the other tests of its visit; it comes first.

    Parameters
    ----------
    memory : StoreMemory
        The store.
    test : KnownTest
        Which.
    by : Rules, optional
        What judges; the rules of the verdict that stands unless given.
    """
    others = memory.tests(visits=[test.visit]) if test.visit else []
    tests = [test, *(other for other in others if other.id != test.id and not other.withdrawn)]
    evaluation, judged = judge_kept(memory, tests, by or rules_of(memory, test))
    return evaluation, judged


def plots_of(request: Request, memory: StoreMemory, test: KnownTest) -> list[Plot]:
    """Return the plots of a test as its report has them, the network of its visit last; worked out once.

    Parameters
    ----------
    request : Request
        Knows the shelf where they are kept.
    memory : StoreMemory
        The store.
    test : KnownTest
        Which.
    """

    def draw() -> bytes:
        evaluation, judged = evaluated(memory, test)
        shown = judged[0].evaluated
        if test.result is not None:
            # the limits drawn are those of the verdict that stands, whatever judges now
            rows = json.loads(memory.blob(test.result))["judgements"]
            shown = replace(shown, judgements=tuple(judgement_of(row) for row in rows))
        found = plots(shown)
        found += [
            {"kind": "network", **network_content(network)}
            for network in evaluation.networks
            if method(test.record.test.method or "").id == "terminal-set"
        ]
        return json.dumps(found).encode()

    name = ("plots", test.id, test.content, test.result)
    found: list[Plot] = json.loads(house(request).shelf.drawing(name, draw))
    return found


def plot_of(request: Request, memory: StoreMemory, test: str, kind: str) -> Plot:
    """Return one plot of a test.

    Raises
    ------
    HTTPException
        404 where its readings give nothing to draw of that kind.
    """
    known = kept_test(memory, test)
    found = next((plot for plot in plots_of(request, memory, known) if plot["kind"] == kind), None)
    if found is None:
        raise HTTPException(
            404, f"There is no chart {kind[:40]!r} of this test: its readings give nothing to draw."
        )
    return found


def network_picture(content: Row, look: str) -> bytes:
    """Return the drawing of a network as a file that a page shows as a picture.

    Parameters
    ----------
    content : mapping
        From :func:`soakage.report.networks.network_content`.
    look : str
        As in :mod:`soakage.report.looks`.
    """
    inks = ink(look)
    svg = network_svg(content, paper=False, width=_NETWORK_WIDTH)
    svg = svg.replace("currentColor", inks.ink).replace("var(--ground)", inks.ground)
    if "xmlns=" not in svg:
        svg = svg.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1)
    # a picture has none of the styles of its page
    svg = svg.replace("<text", f'<text font-family="{typeface.FAMILY}"')
    return with_typeface(svg)
