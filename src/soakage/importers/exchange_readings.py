"""Readings given as plain lists of figures: what they may be, and what no reading can be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np

from soakage.errors import QuantityError
from soakage.importers.base import Notes, shown
from soakage.importers.cells import Cells
from soakage.importers.columns import ALLOWED, CURRENT, RESISTANCE, TIME, VOLTAGE, Column, read_columns
from soakage.importers.nameplate import Plate
from soakage.importers.rows import form
from soakage.model.readings import LOWER, UPPER, VALUE, Bounds, Floats, Readings
from soakage.units import Unit, parse_cell, unit

COLUMNS = {TIME: "time [s]", VOLTAGE: "voltage [V]", CURRENT: "current [A]", RESISTANCE: "resistance [Ohm]"}
BOUND = "bound"
_SECOND = unit("s", TIME)


def read_lists(given: Mapping[str, Any], plate: Plate, notes: Notes) -> Readings | None:
    """Read columns of plain figures into readings.

    Parameters
    ----------
    given : mapping
        List by heading, as long as each other; None where there is no such column. ``bound`` is on the
        resistance: 0 a value, 1 a lower bound, -1 an upper bound; the current's is the opposite.
    plate : Plate
        What is stated; test voltage, steps, hold and the start of a discharge are used.
    notes : Notes
        Takes faults and findings; the row of a fault is the number of the reading.

    Returns
    -------
    Readings or None
        None where a fault leaves none.
    """
    lists = {heading: column for heading, column in given.items() if column is not None}
    bounds = lists.pop(BOUND, None)
    found = read_columns(tuple(lists), 1, notes)
    notes.faults = [replace(fault, row=None) if fault.row == 1 else fault for fault in notes.faults]
    columns = {name: column for name, column in found.items() if name in COLUMNS}
    if CURRENT not in columns and RESISTANCE not in columns:
        named = ", ".join(lists) or "none"
        remedy = "Give the readings as lists of figures under these names."
        notes.fault(None, "readings", named, "No column holds a current or a resistance.", ALLOWED, remedy)
        return None
    headings = list(lists)
    values = {
        name: _figures(lists[headings[c.index]], headings[c.index], c, notes) for name, c in columns.items()
    }
    lengths = {
        headings[columns[name].index]: len(column) for name, column in values.items() if column is not None
    }
    if bounds is not None:
        lengths[BOUND] = len(bounds) if isinstance(bounds, Sequence) else 0
    if len(set(lengths.values())) > 1:
        told = ", ".join(f"{heading}: {length}" for heading, length in lengths.items())
        notes.fault(
            None, "readings", told, "The columns are not equally long.", "a figure or null for each reading",
            "Fill in null where nothing was read.",
        )  # fmt: skip
    if notes.faults:
        return None
    known = {name: column for name, column in values.items() if column is not None}
    count = next(iter(lengths.values()))
    rows = range(1, count + 1)
    base = RESISTANCE if RESISTANCE in known and not np.isnan(known[RESISTANCE]).all() else CURRENT
    bound = _bounds(bounds, count, notes)
    cells = Cells(rows, known, {base: bound if base == RESISTANCE else -bound})
    _check(cells, bound, base, notes)
    if notes.faults:
        return None
    formed = form(cells, columns, plate, notes, 0)
    notes.faults = [replace(fault, row=fault.row or None) for fault in notes.faults]
    return formed


def _figures(column: object, heading: str, found: Column, notes: Notes) -> Floats | None:
    """Return a column in SI, or None with its faults."""
    if not isinstance(column, Sequence) or isinstance(column, (str, bytes)):
        notes.fault(
            None, heading, shown(str(column)), "This is no list of figures.", "a list with one figure per reading",
            "Write one record with all its readings as lists.",
        )  # fmt: skip
        return None
    measured_in = found.unit or (_SECOND if found.name == TIME else None)
    if measured_in is None:
        remedy = f"Name it {COLUMNS[found.name]}."
        notes.fault(None, heading, heading, "The column's name says no unit.", COLUMNS[found.name], remedy)
        return None
    if measured_in.suffix == "e0" and set(map(type, column)) <= {float, type(None)}:
        # the usual column, all at once; None becomes NaN
        usual = np.array(column, dtype=np.float64)
        if not np.isinf(usual).any():
            return usual
    values = np.full(len(column), np.nan)
    for at, value in enumerate(column):
        if value is None:
            continue
        if isinstance(value, bool) or not isinstance(value, (int, float, Decimal)):
            remedy = "Write a number; null where nothing was read."
            notes.fault(at + 1, heading, str(value)[:200], "This is no figure.", "a number or null", remedy)
            continue
        try:
            values[at] = _si(value, measured_in)
        except (OverflowError, QuantityError):
            values[at] = np.inf
        if np.isinf(values[at]):
            notes.fault(at + 1, heading, str(value)[:200], "This is no finite figure.", "a number or null",
                        "Give a bound where the instrument was over its range.")  # fmt: skip
    return values


def _si(value: float | Decimal, measured_in: Unit) -> float:
    # NaN is no reading; a bare 0, which a typed table reads as a bound, is here just that
    if measured_in.suffix == "e0" or value == 0 or value != value:  # noqa: PLR0124
        return float(value)
    measured = parse_cell(str(value), measured_in, decimal_comma=False)
    return np.nan if measured is None else measured.value


def _bounds(given: object, count: int, notes: Notes) -> Bounds:
    bounds = np.zeros(count, np.int8)
    if given is None or not isinstance(given, Sequence):
        return bounds
    for at, value in enumerate(given):
        if value is None:
            continue
        if isinstance(value, bool) or value not in (VALUE, LOWER, UPPER):
            notes.fault(at + 1, BOUND, str(value)[:80], "This is no bound.", "0 a value, 1 a lower bound, -1 an upper",
                        "Correct it.")  # fmt: skip
            continue
        bounds[at] = int(value)
    return bounds


def _check(cells: Cells, bound: Bounds, base: str, notes: Notes) -> None:
    """Note figures that no reading can have."""
    time, resistance = cells.value(TIME), cells.value(RESISTANCE)
    for wrong, heading, column, problem, allowed, remedy in (
        (time < 0, TIME, time, "A time lies before the voltage.", "0 s or later",
         "Count from when voltage was applied."),
        (resistance < 0, RESISTANCE, resistance, "A resistance cannot be negative.", "above zero",
         "Check connection and sign; a current may be given instead."),
        ((resistance == 0) & (bound == 0), RESISTANCE, resistance, "A resistance of zero is not told from a small one.",
         "what it is below, with bound -1", "Give one unit of the last digit, and bound -1."),
        ((bound != 0) & np.isnan(cells.value(base)), BOUND, bound, "A bound stands where nothing was read.",
         "0 where there is no reading", "Give the figure, or take the bound away."),
    ):  # fmt: skip
        for at in np.flatnonzero(wrong).tolist():
            notes.fault(at + 1, heading, f"{column[at]:g}", problem, allowed, remedy)
