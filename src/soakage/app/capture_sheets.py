"""The sheets of a visit out of its plan; one that was filled in as header and rows of a record file; pure."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from soakage.app.capture import Progress, Sheet, SheetMark
from soakage.app.plan import Plan
from soakage.app.plan_sheet import SCHEDULE, sheet_values
from soakage.errors import UsageError
from soakage.methods.base import Shape
from soakage.model.keys import KEYS
from soakage.units import Measured, format_exact

STEADY = 60.0
LEVELS = 10
"""Into how many equal parts a ramp is read by hand."""
_TABLE = ("time [s]", "voltage [V]", "current [A]", "resistance [Ohm]")
_PLACE = {"current": 2, "resistance": 3}


@dataclass(frozen=True, slots=True)
class Written:
    """A sheet as a record file: header, headings, rows of cells."""

    values: Mapping[str, Any]
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def sheets_of(plan: Plan, chosen: Iterable[int] = ()) -> tuple[Sheet, ...]:
    """Return the sheets of a plan.

    Parameters
    ----------
    plan : Plan
        The plan.
    chosen : iterable of int
        Places of the connections to be made; all of them where empty.

    Returns
    -------
    tuple of Sheet
        In the order of the plan.

    Raises
    ------
    UsageError
        If nothing is planned, or there is no such connection.
    """
    if plan.refusal:
        raise UsageError(plan.refusal)
    wanted = sorted(set(chosen)) or list(range(len(plan.connections)))
    return tuple(_sheet(plan, place) for place in wanted)


def _sheet(plan: Plan, place: int) -> Sheet:
    values, times, columns = sheet_values(plan, place)
    connection = plan.connections[place]
    made_by = plan.method(connection.methods[0]).method
    rising = next((one for one in plan.rising if one.method == made_by.id), None)
    discharge = None
    if columns == SCHEDULE:
        values = values | {"between": f"{connection.tested[0]}-{connection.earthed[0]}"}
        marks: tuple[SheetMark, ...] = ()
    elif made_by.shape is Shape.RAMP and rising is not None and rising.rate:
        top = rising.voltage.value
        levels = [top * (k + 1) / LEVELS for k in range(LEVELS)]
        marks = tuple(SheetMark(round(volts / rising.rate, 3), volts) for volts in levels)
    elif made_by.shape is Shape.STEPS and rising is not None:
        marks = _steps(times, rising.steps)
    else:
        required = {mark.time for mark in made_by.marks if mark.required and not mark.after_discharge}
        after = sorted(mark.time for mark in made_by.marks if mark.after_discharge)
        discharge = times[-len(after)] - after[0] if after else None
        shorted = math.inf if discharge is None else discharge
        marks = tuple(
            SheetMark(t, None, t in required or t > shorted, t > shorted) for t in times or (STEADY,)
        )
    # Where the record leaves several limits open, as with a thermal class not stated, the strictest is drawn.
    index = max(
        (e.limit.lower for e in plan.criteria
         if e.quantity == "polarization_index" and e.limit is not None and e.limit.lower
         and (not e.for_what or connection.title in e.for_what)),
        default=None,
    )  # fmt: skip
    conditions = rising.conditions if rising is not None else ()
    return Sheet(
        connection.title, made_by.id, values, marks, connection.voltage, discharge, conditions, index
    )


def _steps(times: tuple[float, ...], levels: tuple[float, ...]) -> tuple[SheetMark, ...]:
    """Return a mark at the end of each hold; those before the first end belong to its level."""
    ends = sorted(times)[-len(levels) :]
    found = []
    for time in sorted(times):
        level = next(volts for end, volts in zip(ends, levels, strict=True) if time <= end)
        found.append(SheetMark(time, level, time in ends))
    return tuple(found)


def written(stand: Progress, header: Mapping[str, str], started: datetime) -> Written:
    """Return a sheet as the header and the rows of a record file.

    Parameters
    ----------
    stand : Progress
        Where it stands.
    header : mapping of str to str
        Conditions, instrument and people, as typed; what the plan left open is filled from it.
    started : datetime
        When voltage was applied, with its zone.

    Returns
    -------
    Written

    Raises
    ------
    UsageError
        If nothing was read.
    """
    sheet = stand.sheet
    if not stand.readings:
        raise UsageError(f"{sheet.title}: there are no readings yet. Take one, or leave this section out.")
    values = {name: value for name, value in sheet.values.items() if value not in ("", [], {})}
    values |= {name: text for name, text in header.items() if text}
    values["started"] = started.isoformat(timespec="seconds")
    if not sheet.stepped and stand.voltage:
        values["test_voltage"] = format_exact(stand.voltage, "voltage")
    if stand.found is not None:
        found = {"dc": stand.found.dc, "ac": stand.found.ac}
        values["voltage_found"] = {name: format_exact(value, "voltage") for name, value in found.items()}
    if sheet.discharge_at is not None and not any(
        t.time and t.time > sheet.discharge_at for t in stand.readings
    ):
        values.pop("discharge_started", None)
    values |= _ending(stand)
    values = {name: values[name] for name in KEYS if name in values}
    if sheet.method == "circuit":
        return _schedule(stand, values)
    rows = [_row(stand, taken.time, taken.quantity, taken.value) for taken in stand.readings]
    used = [k for k in range(len(_TABLE)) if any(row[k] for row in rows)]
    if not sheet.stepped and sheet.discharge_at is None and 1 in used:
        used.remove(1)  # one voltage is held: the header states it
    return Written(values, tuple(_TABLE[k] for k in used), tuple(tuple(row[k] for k in used) for row in rows))


def _ending(stand: Progress) -> dict[str, str]:
    if stand.ended is None:
        return {}
    said = {"ended": stand.ended.how, "ended_at": format_exact(round(stand.ended.time, 1), "time")}
    if stand.ended.voltage is not None:
        said["ended_voltage"] = format_exact(stand.ended.voltage, "voltage")
    return said


def _row(stand: Progress, time: float | None, quantity: str, value: Measured) -> list[str]:
    row = ["", "", "", ""]
    volts = stand.level(time)
    row[0] = "" if time is None else f"{time:g}"
    row[1] = "" if volts is None else f"{volts:g}"
    row[_PLACE[quantity]] = _cell(value, quantity)
    return row


def _cell(value: Measured, quantity: str) -> str:
    if value.value == 0 and value.bound is None:
        return "0"
    return format_exact(value, quantity)


def _schedule(stand: Progress, values: dict[str, Any]) -> Written:
    between = str(values.pop("between", ""))
    circuit = str(values.get("circuit", "") or stand.sheet.title)
    last = stand.readings[-1]
    resistance = stand.resistance(last)
    if resistance is None:
        raise UsageError(
            f"{stand.sheet.title}: no resistance can be formed of {last.text}. Read the resistance."
        )
    row = (circuit, between, f"{stand.voltage:g}" if stand.voltage else "", _cell(resistance, "resistance"))
    return Written(values, ("circuit", "between", "voltage [V]", "resistance [Ohm]"), (row,))
