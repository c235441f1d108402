"""What a sheet to fill in holds: the header as far as it is known, and the rows still empty."""

from __future__ import annotations

from dataclasses import replace

from soakage.app.plan import Plan
from soakage.app.plan_charging import HOLD, time_under_voltage
from soakage.app.plan_facts import record_to_be
from soakage.errors import UsageError
from soakage.methods.base import Shape
from soakage.model.test import Step
from soakage.standards.library import Library, library

COLUMNS = ("time [s]", "voltage [V]", "current [uA]", "resistance [MOhm]")
SCHEDULE = ("circuit", "between", "voltage [V]", "resistance [MOhm]", "note")
_POLARITY = "negative"


def sheet_values(
    plan: Plan, index: int, criteria: Library | None = None
) -> tuple[dict[str, object], tuple[float, ...], tuple[str, ...]]:
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
    values : dict of str to object
        Keys of the record file with values in SI, in the order of the keys.
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
        raise UsageError(
            f"The plan has no connection {index + 1}. Allowed: 1 to {len(plan.connections)}."
        )
    connection = plan.connections[index]
    method = plan.method(connection.methods[0]).method
    record = record_to_be(plan.asset, method.id, connection)
    rising = next((entry for entry in plan.rising if entry.method == method.id), None)
    test = replace(
        record.test,
        polarity=_POLARITY,
        capacitance=plan.charging.capacitance if plan.charging else None,
    )
    charge = time_under_voltage(method, criteria or library(), connection.voltage)
    marks = [mark.time + (charge if mark.after_discharge else 0.0) for mark in method.marks]
    if rising is not None and rising.steps:
        edges = tuple(Step(HOLD * k, volts) for k, volts in enumerate(rising.steps))
        test = replace(test, steps=edges)
        marks = [HOLD * (k + 1) for k in range(len(edges))]
    elif rising is not None:
        test = replace(test, ramp_rate=rising.rate)
    if method.shape is Shape.DISCHARGE:
        test = replace(test, discharge_started=charge)
    if method.id == "circuit":
        whole = replace(record, test=replace(test, tested=(), earthed=()), paper=plan.paper)
        return whole.stated(), (), SCHEDULE
    return replace(record, test=test, paper=plan.paper).stated(), tuple(sorted(marks)), COLUMNS


def schedule_rows(plan: Plan) -> tuple[tuple[str, str, float | None], ...]:
    """Return the rows of a schedule: circuit, between which conductors, test voltage [V].

    Parameters
    ----------
    plan : Plan
        A plan of the method ``circuit``.

    Returns
    -------
    tuple of (str, str, float or None)
        One per connection; empty for other plans.
    """
    return tuple(
        (plan.asset.circuit or "", f"{c.tested[0]}-{c.earthed[0]}", c.voltage)
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
