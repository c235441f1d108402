"""From the columns of a table to readings: what may be missing, what follows, what is refused."""

from __future__ import annotations

import numpy as np

from soakage.importers.base import NBSP, Notes
from soakage.importers.cells import Cells, read_cells
from soakage.importers.columns import ALLOWED, CURRENT, RESISTANCE, TIME, VOLTAGE, Column, read_columns
from soakage.importers.layout import Table
from soakage.importers.nameplate import Plate
from soakage.model.readings import Bounds, Floats, Readings

_DISAGREE = 0.05  # ours, practice: beyond it the two columns were not read at one time


def read_rows(table: Table, plate: Plate, notes: Notes) -> Readings | None:
    """Read a table into readings.

    Parameters
    ----------
    table : Table
        The table as laid out.
    plate : Plate
        What is stated; test voltage, steps, hold and the start of a discharge are used.
    notes : Notes
        Takes faults and findings.

    Returns
    -------
    Readings or None
        None where a fault leaves none.
    """
    columns = read_columns(table.headings, table.row, notes)
    if CURRENT not in columns and RESISTANCE not in columns:
        found = ", ".join(heading for heading in table.headings if heading) or "none"
        notes.fault(
            table.row,
            "columns",
            found,
            "No column holds a current or a resistance.",
            ALLOWED,
            "Name the columns in the first line of the table.",
        )
        return None
    faults = len(notes.faults)
    cells = read_cells(table, columns, notes, over_range(plate))
    if len(notes.faults) > faults:
        _check_times(cells, notes)
        return None
    return form(cells, columns, plate, notes, table.row)


def over_range(plate: Plate) -> dict[str, float | None]:
    """Return, by column, the SI value at which the stated instrument goes over range."""
    ranges = [row.range for row in plate.stated.get("accuracy", ()) if row.range is not None]
    return {RESISTANCE: max(ranges, default=None), CURRENT: plate.stated.get("current_limit")}


def form(
    cells: Cells, columns: dict[str, Column], plate: Plate, notes: Notes, heading: int
) -> Readings | None:
    """Form readings from columns in SI.

    Parameters
    ----------
    cells : Cells
        The columns.
    columns : dict
        Which were there.
    plate : Plate
        What is stated.
    notes : Notes
        Takes faults and findings.
    heading : int
        Line of the column names, for faults of the whole table.

    Returns
    -------
    Readings or None
        None where a fault leaves none.
    """
    count = len(cells.lines)
    current, resistance = cells.value(CURRENT), cells.value(RESISTANCE)
    has_current, has_resistance = not np.isnan(current).all(), not np.isnan(resistance).all()
    if count == 0 or not (has_current or has_resistance):
        notes.fault(
            heading,
            "",
            f"{count} rows",
            "There are no readings yet: no row holds a current or a resistance.",
            "at least one reading",
            "Fill in the readings and read the file again.",
        )
        return None
    faults = len(notes.faults)
    time = _times(cells, columns, plate, notes, heading)
    voltage, assumed = _voltages(cells, time, plate, notes, heading)
    if len(notes.faults) > faults:
        return None
    discharge = plate.stated.get("discharge_started")
    discharging = time > discharge if discharge is not None else np.zeros(count, bool)
    bound = cells.bound(RESISTANCE)
    if has_resistance and (discharging & ~np.isnan(resistance)).any():
        notes.finding(
            "resistance_after_discharge", "Resistances given after the discharge began are left out."
        )
        resistance = np.where(discharging, np.nan, resistance)
        bound = np.where(discharging, np.int8(0), bound)
    derived = False
    with np.errstate(divide="ignore", over="ignore", under="ignore", invalid="ignore"):
        ratio = voltage / current
        # same sign: a test of negative polarity may be written with both signs reversed
        formed = np.where((voltage * current > 0) & np.isfinite(ratio) & ~discharging, ratio, np.nan)
        if not has_resistance:
            resistance, bound = formed, np.where(np.isnan(formed), np.int8(0), -cells.bound(CURRENT))
        elif has_current:
            missing = np.isnan(resistance) & ~np.isnan(formed)
            _compare(resistance, formed, bound, cells, notes)
            resistance = np.where(missing, formed, resistance)
            bound = np.where(missing, -cells.bound(CURRENT), bound)
        else:
            follows = voltage / resistance
            current = np.where(np.isfinite(follows) & ~discharging, follows, np.nan)
            derived = not np.isnan(current).all()
    if derived:
        notes.finding("current_derived", "No current was given; it follows from voltage and resistance.")
    return Readings(
        time,
        voltage,
        current,
        resistance,
        bound.astype(np.int8),
        assumed,
        derived,
        resistance_given=has_resistance,
    )


def _times(cells: Cells, columns: dict[str, Column], plate: Plate, notes: Notes, heading: int) -> Floats:
    time = cells.value(TIME)
    missing = np.isnan(time)
    count = len(time)
    if not missing.any():
        _check_times(cells, notes)
    elif not missing.all():
        for at in np.flatnonzero(missing).tolist():
            notes.fault(
                cells.lines[at],
                TIME,
                "",
                "This row has no time, others have.",
                "a time in every row",
                "Give the time, or delete the row.",
            )
    elif count > 1:
        hold = plate.stated.get("hold")
        if hold is not None:
            notes.finding(
                "times_from_hold", f"The rows state no times; each hold is taken as {hold:g}{NBSP}s."
            )
            return np.arange(1, count + 1, dtype=np.float64) * float(hold)
        notes.fault(
            heading,
            TIME,
            ", ".join(columns),
            "Several rows and no times.",
            "a time column; for a step test hold; or one row",
            "Add the column time [s], or state hold.",
        )
    return time


def _check_times(cells: Cells, notes: Notes) -> None:
    """Note every row whose time is not later than that of the row before it."""
    time = cells.values.get(TIME)
    if time is None or len(time) < 2:
        return
    known = np.flatnonzero(~np.isnan(time))
    for place in np.flatnonzero(np.diff(time[known]) <= 0).tolist():
        before, at = int(known[place]), int(known[place + 1])
        same = time[at] == time[before]
        notes.fault(
            cells.lines[at],
            TIME,
            f"{time[at]:g} s after {time[before]:g} s in line {cells.lines[before]}",
            "This time is there twice." if same else "Times run backwards here.",
            "times that rise from row to row",
            "Correct the times, or split the file into one per test.",
        )


def _voltages(cells: Cells, time: Floats, plate: Plate, notes: Notes, heading: int) -> tuple[Floats, bool]:
    """Return the voltages and whether they are assumed because none was read."""
    voltage = cells.value(VOLTAGE)
    if not np.isnan(voltage).all():
        return voltage, False
    method, steps = plate.stated.get("method"), plate.stated.get("steps", ())
    test_voltage = plate.stated.get("test_voltage")
    if method == "ramp":
        notes.fault(
            heading,
            VOLTAGE,
            "",
            "A ramp needs its voltages.",
            "a column voltage [V]",
            "Add the voltage of every row.",
        )
        return voltage, False
    if steps and not np.isnan(time).any():
        # a row at an edge is the end of the hold before it
        place = np.searchsorted([step.at for step in steps], time, side="left") - 1
        voltage = np.array([step.voltage for step in steps])[np.maximum(place, 0)]
        said = "steps"
    elif method == "step-voltage":
        notes.fault(
            heading,
            VOLTAGE,
            "",
            "A step test needs its voltages.",
            "a column voltage [V], or steps",
            'Add the column, or state steps = [{at = "0 s", voltage = "1 kV"}, ...].',
        )
        return voltage, False
    elif test_voltage is None:
        notes.finding(
            "voltage_not_stated", "Neither a voltage column nor test_voltage is given.", "State test_voltage."
        )
        return voltage, False
    else:
        voltage, said = np.full(len(time), float(test_voltage)), "test_voltage"
    discharge = plate.stated.get("discharge_started")
    if discharge is not None:
        voltage = np.where(time > discharge, 0.0, voltage)
    notes.finding(
        "voltage_assumed",
        f"No voltage was read; {said} stands in for it.",
        "Read the voltage with the current.",
    )
    return voltage, True


def _compare(resistance: Floats, formed: Floats, bound: Bounds, cells: Cells, notes: Notes) -> None:
    """Note rows whose resistance is not the voltage over the current."""
    apart = (
        (np.abs(resistance - formed) > _DISAGREE * resistance) & (bound == 0) & (cells.bound(CURRENT) == 0)
    )
    lines = [str(cells.lines[at]) for at in np.flatnonzero(apart).tolist()]
    if lines:
        named = ", ".join(lines[:10]) + (", ..." if len(lines) > 10 else "")
        notes.finding(
            "resistance_current_disagree",
            f"Resistance and voltage over current differ by more than 5{NBSP}% in {len(lines)} of "
            f"{len(formed)} rows "
            f"(line {named}); the resistance is used.",
            "Check units, and that both were read at one time.",
        )
