"""The tables of a card to write in: one column per connection, one row per mark or level."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from soakage.app.plan import Plan
from soakage.app.plan_charging import STEPS
from soakage.app.plan_connections import Connection
from soakage.methods.base import Mark, Shape
from soakage.quantities import lookup, ratio_marks
from soakage.units import format_quantity

ACROSS = 4  # columns to write in that fit beside the times
CIRCUITS = 10  # empty rows of a schedule
_BEFORE, _SHORT, _AFTER = "Voltage on at", "Shorted at", ("Earthed at", "Lift not before")


def tables(plan: Plan) -> list[dict[str, Any]]:
    """Return the tables to write in, in the order of the connections.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of dict
        ``columns`` (headings) and ``rows`` (label, weight, one flag per column: True is a cell to write in).
    """
    found = []
    numbered = [(n, c) for n, c in enumerate(plan.connections, start=1) if "circuit" not in c.methods]
    for _, group in groupby(numbered, key=lambda entry: _rising_method(plan, entry[1])):
        members = list(group)
        labels = _levels(plan, members[0][1])
        found += [
            _table(plan, members[start : start + ACROSS], labels) for start in range(0, len(members), ACROSS)
        ]
    return found


def schedule(plan: Plan) -> dict[str, Any] | None:
    """Return the empty schedule of a low-voltage installation, or None for other plans."""
    pairs = [f"{c.tested[0]}–{c.earthed[0]}" for c in plan.connections if "circuit" in c.methods]
    if not pairs:
        return None
    first = plan.asset.circuit or ""
    return {"columns": pairs, "rows": [first] + [""] * (CIRCUITS - 1)}


def _rising_method(plan: Plan, connection: Connection) -> str:
    return next((entry.method for entry in plan.rising if entry.method in connection.methods), "")


def _levels(plan: Plan, connection: Connection) -> list[str] | None:
    """Return the labels of the levels of a step test or ramp; None for a test at one voltage."""
    for entry in plan.rising:
        if entry.method not in connection.methods:
            continue
        if entry.graded is not None:
            # the clock as the record file reads it, since all holds run on one clock
            ends = [f"{int(end) // 60}:{int(end) % 60:02d}" for end in entry.graded.ends]
            return [f"{end}  {_volts(v)}" for end, v in zip(ends, entry.graded.voltages, strict=True)]
        top = connection.voltage or 0.0
        shown = entry.steps or tuple(top * k / STEPS for k in range(1, STEPS + 1))
        return [f"{'End of' if entry.steps else 'At'} {_volts(v)}" for v in shown]
    return None


def _volts(value: float) -> str:
    return format_quantity(value, "voltage", trim=True)


def _table(plan: Plan, members: list[tuple[int, Connection]], levels: list[str] | None) -> dict[str, Any]:
    columns = [f"{number}: {connection.title}" for number, connection in members]
    everywhere = [True] * len(members)
    rows = [{"label": _BEFORE, "cells": everywhere, "strong": False}]
    if levels is not None:
        rows += [{"label": label, "cells": everywhere, "strong": False} for label in levels]
    else:
        rows += _marks(plan, members)
    rows += [{"label": label, "cells": everywhere, "strong": False} for label in _AFTER]
    method = members[0][1].methods[0] if levels is not None else ""
    return {"columns": columns, "unit": "µA" if method else "µA or MΩ", "rows": rows, "rising": method}


def _marks(plan: Plan, members: list[tuple[int, Connection]]) -> list[dict[str, Any]]:
    """Return the union of the marks of these connections; a mark not asked of a connection has no cell."""
    sets: list[set[Mark]] = []
    ratios: list[set[str]] = []
    for _, connection in members:
        methods = [plan.method(name).method for name in connection.methods]
        sets.append({mark for method in methods for mark in method.marks if method.shape is not Shape.STEPS})
        ratios.append({q for method in methods for q in method.quantities if ratio_marks(q)})
    times = sorted({(mark.after_discharge, mark.time) for marks in sets for mark in marks})
    rows: list[dict[str, Any]] = []
    shorted = [any(mark.after_discharge for mark in marks) for marks in sets]
    for after, time in times:
        if after and any(shorted) and not any(row["label"] == _SHORT for row in rows):
            rows.append({"label": _SHORT, "cells": shorted, "strong": True})
        here = [[m for m in marks if (m.after_discharge, m.time) == (after, time)] for marks in sets]
        label = format_quantity(time, "time") + (" of discharge" if after else "")
        strong = any(mark.required for marks in here for mark in marks)
        rows.append({"label": label, "cells": [bool(marks) for marks in here], "strong": strong})
    for ratio in sorted({q for names in ratios for q in names}, key=_longest):
        later, earlier = ratio_marks(ratio) or (0.0, 0.0)
        label = f"{format_quantity(later, 'time')} / {format_quantity(earlier, 'time')}"
        if ratio == "polarization_index":
            label = lookup(ratio).symbol + " " + label
        rows.append({"label": label, "cells": [ratio in names for names in ratios], "strong": False})
    return rows


def _longest(ratio: str) -> tuple[float, float]:
    return ratio_marks(ratio) or (0.0, 0.0)
