"""Column headings: which quantity a column holds and in which unit."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from soakage.errors import QuantityError
from soakage.importers.base import Notes, shown
from soakage.units import Unit, unit

TIME, VOLTAGE, CURRENT, RESISTANCE = "time", "voltage", "current", "resistance"
CIRCUIT, BETWEEN, NOTE = "circuit", "between", "note"
READINGS = (TIME, VOLTAGE, CURRENT, RESISTANCE)
WORDS = (CIRCUIT, BETWEEN, NOTE)

_NAMES = {
    "time": TIME, "t": TIME, "elapsed": TIME, "elapsed time": TIME, "test time": TIME, "mark": TIME,
    "voltage": VOLTAGE, "v": VOLTAGE, "u": VOLTAGE, "test voltage": VOLTAGE, "volts": VOLTAGE,
    "current": CURRENT, "i": CURRENT, "leakage current": CURRENT, "total current": CURRENT,
    "resistance": RESISTANCE, "r": RESISTANCE, "ir": RESISTANCE, "insulation resistance": RESISTANCE,
    "circuit": CIRCUIT, "between": BETWEEN, "conductors": BETWEEN, "note": NOTE, "notes": NOTE,
    "remark": NOTE, "remarks": NOTE,
}  # fmt: skip
_HEADING = re.compile(r"([^\[(/,]{1,40}+)(?:[\[(]([^\])]{0,40}+)[\])]|[/,] *+(.{1,40}+))?\s*+")
ALLOWED = "columns time [s], voltage [V], current [uA], resistance [MOhm] in any order"


@dataclass(frozen=True, slots=True)
class Column:
    """One column that is read: its place in the row, and the unit of its heading where it has one."""

    name: str
    index: int
    unit: Unit | None = None


@lru_cache(maxsize=1024)
def split_heading(cell: str) -> tuple[str, str | None] | None:
    """Return (column, unit as typed or None) of a heading, or None where it names no column of ours.

    Parameters
    ----------
    cell : str
        ``time [s]``, ``U (kV)``, ``I / uA``, ``Resistance``.

    Returns
    -------
    tuple or None
        Standard column name and the text of the unit.
    """
    match = _HEADING.fullmatch(cell.strip())
    if match is None:
        return None
    name = _NAMES.get(" ".join(match[1].replace("_", " ").split()).lower())
    if name is None:
        return None
    unit_text = (match[2] or match[3] or "").strip()
    return name, unit_text or None


def recognised(cells: Sequence[str]) -> int:
    """Return how many different columns of ours these headings name."""
    return len({found[0] for cell in cells if (found := split_heading(cell))})


def read_columns(cells: Sequence[str], row: int, notes: Notes) -> dict[str, Column]:
    """Return the columns of a table by name.

    Parameters
    ----------
    cells : sequence of str
        Headings.
    row : int
        Their line, for messages.
    notes : Notes
        Takes the faults: a unit that does not fit, a column named twice; columns of other names are
        passed over with a finding.

    Returns
    -------
    dict
        Columns by standard name.
    """
    columns: dict[str, Column] = {}
    for index, cell in enumerate(cells):
        if not cell.strip():
            continue
        found = split_heading(cell)
        if found is None:
            notes.finding("unknown_column", f"The column {shown(cell)!r} is not read.")
            continue
        name, unit_text = found
        if name in columns:
            notes.fault(
                row, name, cell, "This column is there twice.", "each column once", "Delete one of them."
            )
            continue
        measured_in = None
        if unit_text and name in READINGS:
            try:
                measured_in = unit(unit_text, name)
            except QuantityError as error:
                notes.fault(
                    row, name, cell, error.problem, error.allowed, "Write the unit in brackets: time [s]."
                )
        columns[name] = Column(name, index, measured_in)
    return columns
