"""A test beside earlier ones and its sister sections: one chart, one table, the reader chooses which."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from soakage.app.ports import KnownTest
from soakage.errors import UsageError
from soakage.methods import method
from soakage.methods.base import Shape
from soakage.report.drawn import drawn_points, magnitude
from soakage.report.figures import DASH, dimension_of, printed
from soakage.report.tables import name_of
from soakage.store.memory import StoreMemory
from soakage.units import format_quantity
from soakage.web.chart_data import Plot
from soakage.web.test_view_figures import value_of, view_day

Row = Mapping[str, Any]
MOST = 6  # lines on one chart
_LEAST = 2


def choices(page: Row, beside: Sequence[str] | None) -> list[dict[str, Any]]:
    """Return the tests this one can be compared with, and which are.

    Parameters
    ----------
    page : mapping
        From :func:`soakage.web.test_view.found_page`.
    beside : sequence of str or None
        Ids chosen; unless given, its sister sections and the test before it.
    """
    sisters, earlier = page["sisters"], page["earlier"]
    chosen = {row["id"] for row in (*sisters, *earlier[:1])} if beside is None else set(beside)
    found = []
    for kind, rows in (("sister", sisters), ("earlier", earlier)):
        for row in rows:
            name = row["section"] if kind == "sister" else view_day(row["day"])
            found.append(
                {"id": row["id"], "kind": kind, "name": name, "status": row["status"], "row": row}
                | {"chosen": row["id"] in chosen}
            )
    kept = [one["id"] for one in found if one["chosen"]][:MOST]
    return [one | {"chosen": one["id"] in kept} for one in found]


def table(page: Row, chosen: Iterable[Row]) -> list[dict[str, Any]]:
    """Return the quantities of this test beside those of the tests chosen; a dash where one has none."""
    shown = [one["row"]["figures"] for one in chosen]
    own = page["result"]["quantities"] if page["result"] else {}
    names = _order(page["test"]["method"], own, shown)
    return [
        {
            "id": name,
            "name": name_of(name),
            "cells": [_cell(name, own.get(name)), *(_cell(name, f.get(name)) for f in shown)],
        }
        for name in names
    ]


def _order(method_id: str, own: Row, others: Sequence[Row]) -> list[str]:
    try:
        first = method(method_id).quantities
    except UsageError:
        first = ()
    there = {name for figures in others for name in figures}
    return [name for name in dict.fromkeys((*first, *sorted(there))) if name in own and name in there]


def _cell(name: str, quantity: Row | None) -> str:
    return DASH if quantity is None else printed(value_of(name, quantity)).with_uncertainty


def plot(memory: StoreMemory, test: str, chosen: Sequence[Row]) -> Plot | None:
    """Return the curves of a test and of those chosen on one chart; None where they have none.

    Parameters
    ----------
    memory : StoreMemory
        Holds the readings.
    test : str
        Id of the test.
    chosen : sequence of mapping
        From :func:`choices`, those that are compared.
    """
    if not chosen:
        return None
    records = {known.id: known for known in memory.tests(ids=[test, *(one["id"] for one in chosen)])}
    shape = method(records[test].record.test.method or "").shape
    x, y = (
        ("voltage", "current")
        if shape is Shape.RAMP
        else ("time", "current" if shape is Shape.STEPS else "resistance")
    )
    log = shape not in (Shape.RAMP, Shape.STEPS)
    lines = []
    for one in chosen:
        points = _points(records[one["id"]], x, y, log=log) if one["id"] in records else []
        if len(points) >= _LEAST:
            lines.append({"role": "beside", "points": points, "text": one["name"], "short": one["name"]})
    own = _points(records[test], x, y, log=log)
    if len(own) < _LEAST or not lines:
        return None
    last = own[-1]
    return {
        "kind": "compared",
        "title": f"{y.capitalize()} against {x}, with {', '.join(str(line['text']) for line in lines)}",
        "alt": f"{len(lines) + 1} curves. This test ends at {format_quantity(last[1], y)}; "
        + "; ".join(f"{line['text']} at {format_quantity(line['points'][-1][1], y)}" for line in lines)
        + ".",
        "x": {"dimension": x, "log": log},
        "y": {"dimension": y, "log": log},
        "lines": [*lines, {"role": "measured", "points": own}],
        "labels": [[*last, format_quantity(last[1], y)]],
        "rings": [], "bounds": [], "limits": [], "needs": [],
    }  # fmt: skip


def _points(test: KnownTest, x: str, y: str, *, log: bool) -> list[list[float]]:
    readings, end = test.record.readings, test.record.test.discharge_started
    kept = readings.bound == 0
    if end is not None:
        kept &= ~(readings.time >= end)
    across, up = getattr(readings, x)[kept], getattr(readings, y)[kept]
    return drawn_points(magnitude(across), np.abs(up) if log else magnitude(up), log=log)


def json_of(page: Row, found: Sequence[Row], chart: Plot | None) -> dict[str, Any]:
    """Return the comparison as the API gives it: SI, ids as in the contract."""
    chosen = [one for one in found if one["chosen"]]
    own = page["result"]["quantities"] if page["result"] else {}
    return {
        "test": page["test"]["id"],
        "choices": [
            {name: one[name] for name in ("id", "kind", "name", "status", "chosen")}
            | {"day": one["row"]["day"], "section": one["row"]["section"]}
            for one in found
        ],
        "quantities": [
            {"id": name, "dimension": dimension_of(name), "own": own[name]["value"],
             "beside": {one["id"]: one["row"]["figures"].get(name, {}).get("value") for one in chosen}}
            for name in _order(page["test"]["method"], own, [one["row"]["figures"] for one in chosen])
        ],
        "chart": None if chart is None else {"title": chart["title"], "alt": chart["alt"]},
    }  # fmt: skip
