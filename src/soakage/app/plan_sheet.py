"""What a sheet to fill in holds: the header as far as it is known, and the rows still empty."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from soakage.app.plan import Plan
from soakage.app.plan_charging import HOLD, time_under_voltage
from soakage.app.plan_facts import record_to_be
from soakage.errors import UsageError
from soakage.methods.base import Shape
from soakage.model.keys import KEYS, Kind
from soakage.model.record import Record
from soakage.model.test import Step
from soakage.standards.library import Library, library
from soakage.units import format_exact

COLUMNS = ("time [s]", "voltage [V]", "current [uA]", "resistance [MOhm]")
SCHEDULE = ("circuit", "between", "voltage [V]", "resistance [MOhm]", "note")
OPEN = (
    "permit", "tested_by", "witnessed_by", "started", "ambient_temperature", "relative_humidity", "surface",
    "instrument", "instrument_serial", "calibration_due",
)  # fmt: skip
_POLARITY, _SET = "negative", "terminal-set"


def sheet_values(
    plan: Plan, index: int, criteria: Library | None = None
) -> tuple[dict[str, Any], tuple[float, ...], tuple[str, ...]]:
    """Return the header, the times and the columns of the sheet of one connection.

    Parameters
    ----------
    plan : Plan
        The plan.
    index : int
        Place of the connection in :attr:`Plan.connections`.
    criteria : Library or None
        Holds the charging time of a discharge test; the files that come with Soakage where None.

    Returns
    -------
    values : dict
        Keys of the record file as texts, lists and tables; an empty text waits to be written.
    marks : tuple of float
        Times of the rows [s]; empty for a schedule, see :func:`schedule_rows`.
    columns : tuple of str
        Headings of the table.

    Raises
    ------
    UsageError
        If nothing is planned or there is no such connection.
    """
    if plan.refusal:
        raise UsageError(plan.refusal)
    if not 0 <= index < len(plan.connections):
        raise UsageError(f"The plan has no connection {index + 1}. Allowed: 1 to {len(plan.connections)}.")
    connection = plan.connections[index]
    method = plan.method(connection.methods[0]).method
    # Ten minutes on a connection of the set stay a member of the set: its ratios are computed all the same.
    named = _SET if _SET in connection.methods else method.id
    record = replace(record_to_be(plan.asset, named, connection), paper=plan.paper)
    if method.id == "circuit":
        record = replace(record, test=replace(record.test, tested=(), earthed=()))
        return _values(record), (), SCHEDULE
    charge = time_under_voltage(method, criteria or library(), connection.voltage)
    marks = [mark.time + (charge if mark.after_discharge else 0.0) for mark in method.marks]
    capacitance = plan.charging.capacitance if plan.charging else None
    test = replace(record.test, polarity=_POLARITY, capacitance=capacitance)
    rising = next((entry for entry in plan.rising if entry.method == method.id), None)
    if rising is not None and rising.graded is not None:
        times = rising.graded
        test = replace(test, steps=tuple(map(Step, times.starts, times.voltages)))
        # the first hold gives the index too
        marks = [*marks, *times.ends]
    elif rising is not None and rising.steps:
        test = replace(test, steps=tuple(Step(HOLD * k, volts) for k, volts in enumerate(rising.steps)))
        marks = [HOLD * (k + 1) for k in range(len(rising.steps))]
    elif rising is not None:
        test = replace(test, ramp_rate=rising.rate)
    if method.shape is Shape.DISCHARGE:
        test = replace(test, discharge_started=charge)
    return _values(replace(record, test=test)), tuple(sorted(marks)), COLUMNS


def _values(record: Record) -> dict[str, Any]:
    """Return the stated keys as the record file writes them, and those that wait to be written."""
    values = {name: _plain(name, value) for name, value in record.stated().items()}
    machine = record.asset.asset_class == "rotating-machine"
    temperature = "winding_temperature" if machine else "insulation_temperature"
    return values | {name: "" for name in (*OPEN, temperature) if name not in values}


def _plain(name: str, value: Any) -> Any:  # noqa: ANN401 - one value of any kind
    key = KEYS[name]
    if key.kind is Kind.NUMBER:
        return format_exact(value, key.dimension)
    if key.kind is Kind.NUMBERS and isinstance(value, Mapping):
        return {part: format_exact(figure, key.dimension) for part, figure in value.items()}
    if key.kind is Kind.STEPS:
        return [
            {"at": format_exact(s.at, "time"), "voltage": format_exact(s.voltage, "voltage")} for s in value
        ]
    return list(value) if key.kind is Kind.LIST else str(value)


def schedule_rows(plan: Plan) -> tuple[tuple[str, ...], ...]:
    """Return the rows of a schedule under :data:`SCHEDULE`, the reading and the note still empty.

    Parameters
    ----------
    plan : Plan
        A plan of the method ``circuit``.

    Returns
    -------
    tuple of tuple of str
        One per connection; empty for other plans.
    """
    return tuple(
        (
            plan.asset.circuit or "",
            f"{c.tested[0]}-{c.earthed[0]}",
            f"{c.voltage:g}" if c.voltage else "",
            "",
            "",
        )
        for c in plan.connections
        if "circuit" in c.methods
    )


def sheet_names(plan: Plan, name: str) -> tuple[str, ...]:
    """Return the file name of each connection's sheet.

    Parameters
    ----------
    plan : Plan
        The plan.
    name : str
        Name asked for, for example ``sheet.csv``.

    Returns
    -------
    tuple of str
        The name itself for one connection or a schedule; else one per connection, the live parts and, where
        several tests share them, the method before the ending.
    """
    if len(plan.connections) == 1 or schedule_rows(plan):
        return (name,)
    stem, dot, ending = name.rpartition(".")
    stem = stem or ending
    titles = [c.title.replace(" + ", "+").replace("/", "-") for c in plan.connections]
    names = []
    for connection, title in zip(plan.connections, titles, strict=True):
        extra = f"-{connection.methods[0]}" if titles.count(title) > 1 else ""
        names.append(f"{stem}-{title}{extra}{dot}{ending if dot else ''}")
    return tuple(names)
