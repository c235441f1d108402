"""Cells of a table to numbers: a fast way for plain figures, a careful one for everything else."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import repeat

import numpy as np

from soakage.errors import QuantityError
from soakage.importers.base import Notes
from soakage.importers.columns import READINGS, RESISTANCE, TIME, WORDS, Column
from soakage.importers.layout import Table
from soakage.model.readings import LOWER, UPPER, VALUE, Bounds, Floats
from soakage.units import Bound, Measured, parse, parse_cell, unit

_NO_FIGURE = re.compile(r"[<>=≤≥ ]*[+-]?(?:nan|inf|infinity|∞)\b.*|#.*", re.IGNORECASE | re.DOTALL)
_BOUNDS = {None: VALUE, Bound.LOWER: LOWER, Bound.UPPER: UPPER}
_SECOND = unit("s", "time")


@dataclass(frozen=True, slots=True)
class Cells:
    """What stood in the columns of a table, in SI.

    Parameters
    ----------
    lines : sequence of int
        Line of each row.
    values : mapping of str to ndarray
        Shape (rows,) by column; NaN where the cell was empty.
    bounds : mapping of str to ndarray of int8
        On the column's own figure: 0 a value, 1 a lower bound, -1 an upper bound; columns without a
        bound are missing.
    words : mapping of str to list of str
        Text columns.
    """

    lines: Sequence[int]
    values: Mapping[str, Floats]
    bounds: Mapping[str, Bounds] = field(default_factory=dict)
    words: Mapping[str, list[str]] = field(default_factory=dict)

    def value(self, name: str) -> Floats:
        """Return a column, or as many NaN where the table does not have it."""
        found = self.values.get(name)
        return np.full(len(self.lines), np.nan) if found is None else found

    def bound(self, name: str) -> Bounds:
        """Return the bounds of a column; zeros where it has none."""
        found = self.bounds.get(name)
        return np.zeros(len(self.lines), np.int8) if found is None else found


def read_cells(
    table: Table,
    columns: Mapping[str, Column],
    notes: Notes,
    full_scale: Mapping[str, float | None] | None = None,
    *,
    decimal_comma: bool | None = None,
) -> Cells:
    """Read every column of a table.

    Parameters
    ----------
    table : Table
        The table as laid out.
    columns : mapping of str to Column
        Its columns.
    notes : Notes
        Takes every fault with its line.
    full_scale : mapping of str to float, optional
        By column, the SI value at which an over-range mark is a lower bound.
    decimal_comma : bool, optional
        The decimal mark of a table whose cells are taken apart already, where it is known.

    Returns
    -------
    Cells
        Numbers in SI.
    """
    plain = plain_cells(table, columns)
    return plain or _careful_cells(table, columns, notes, full_scale or {}, decimal_comma)


def plain_cells(table: Table, columns: Mapping[str, Column]) -> Cells | None:
    """Read a table that holds nothing but plain figures, all at once; None where it holds anything else.

    Parameters
    ----------
    table : Table
        The table as laid out.
    columns : mapping of str to Column
        Its columns.

    Returns
    -------
    Cells or None
        The same as the careful way gives, sooner.
    """
    body, delimiter = table.body.rstrip("\n"), table.delimiter
    if not body or not body.isascii() or "_" in body or '"' in body or any(n in columns for n in WORDS):
        return None
    if delimiter != "," and "," in body:
        if "." in body:
            return None
        body = body.replace(",", ".")
    lines = body.split("\n")
    if delimiter:
        counts = set(map(str.count, lines, repeat(delimiter)))
        wide = counts.pop()
        if counts or wide + 1 < len(table.headings):
            return None
        parts = body.replace("\n", delimiter).split(delimiter)
        width = wide + 1
        if any(any(parts[extra::width]) for extra in range(len(table.headings), width)):
            return None
    else:
        parts, width = lines, 1
    values: dict[str, Floats] = {}
    for name, column in columns.items():
        measured_in = column.unit or (_SECOND if name == TIME else None)
        suffix = measured_in.suffix if measured_in else None
        if suffix is None:
            return None
        cells = parts[column.index :: width]
        try:
            if suffix != "e0":  # the unit's power of ten goes behind each figure: rounded once
                cells = (f"{suffix}\n".join(cells) + suffix).split("\n")
            array = np.array(list(map(float, cells)))
        except ValueError:
            return None
        lowest = array.min()
        if (
            not np.isfinite(array).all()
            or (name == TIME and lowest < 0)
            or (name == RESISTANCE and lowest <= 0)
        ):
            return None
        values[name] = array
    return Cells(range(table.row + 1, table.row + 1 + len(lines)), values)


def _careful_cells(
    table: Table,
    columns: Mapping[str, Column],
    notes: Notes,
    full_scale: Mapping[str, float | None],
    known_comma: bool | None = None,  # noqa: FBT001 - three answers
) -> Cells:
    rows = [
        (line, cells)
        for line, cells in table.rows(notes)
        if any(column.index < len(cells) and cells[column.index] for column in columns.values())
    ]
    figures = {name: column for name, column in columns.items() if name in READINGS}
    comma = known_comma if known_comma is not None else _decimal_comma(table, rows, figures, notes)
    values = {name: np.full(len(rows), np.nan) for name in figures}
    bounds: dict[str, Bounds] = {}
    for at, (line, cells) in enumerate(rows):
        for name, column in figures.items():
            text = cells[column.index] if column.index < len(cells) else ""
            if not text:
                continue
            measured = _measured(text, column, line, comma, full_scale.get(name), notes)
            if measured is None:
                continue
            values[name][at] = measured.value
            if measured.bound is not None:
                bounds.setdefault(name, np.zeros(len(rows), np.int8))[at] = _BOUNDS[measured.bound]
    words = {
        name: [cells[column.index] if column.index < len(cells) else "" for _, cells in rows]
        for name, column in columns.items()
        if name in WORDS
    }
    return Cells([line for line, _ in rows], values, bounds, words)


def _measured(
    text: str,
    column: Column,
    line: int,
    comma: bool | None,  # noqa: FBT001 - three answers
    full_scale: float | None,
    notes: Notes,
) -> Measured | None:
    name = column.name
    if _NO_FIGURE.fullmatch(text):
        notes.fault(
            line,
            name,
            text,
            "This is no figure.",
            "a figure, a bound such as > 10 TOhm, or an empty cell",
            "Leave the cell empty where nothing was read.",
        )
        return None
    measured_in = column.unit or (_SECOND if name == TIME else None)
    try:
        if measured_in is not None:
            measured = parse_cell(text, measured_in, decimal_comma=comma, full_scale=full_scale)
        else:
            measured = parse(text, name, decimal_comma=comma, full_scale=full_scale)
    except QuantityError as error:
        notes.quantity_fault(line, name, error)
        return None
    if measured is None:
        return None
    if name == RESISTANCE and measured.value < 0:
        notes.fault(
            line,
            name,
            text,
            "A resistance cannot be negative.",
            "zero or above",
            "Check connection and sign; a current may be given instead.",
        )
        return None
    if name == TIME and measured.value < 0:
        notes.fault(
            line,
            name,
            text,
            "A time lies before the voltage.",
            "0 s or later",
            "Count from when voltage was applied.",
        )
        return None
    if measured.bound is not None and name not in ("current", RESISTANCE):
        notes.fault(line, name, text, f"A bound cannot stand for a {name}.", "a figure", "Give the value.")
        return None
    return measured


def _decimal_comma(
    table: Table, rows: Sequence[tuple[int, list[str]]], figures: Mapping[str, Column], notes: Notes
) -> bool | None:
    """Return whether the comma is the decimal mark; None where that is told cell by cell."""
    if table.delimiter in ("", ",") or not table.body:
        return None
    marks: dict[str, tuple[int, str, str]] = {}
    for line, cells in rows:
        for name, column in figures.items():
            cell = cells[column.index]
            for mark, other in ((",", "."), (".", ",")):
                if (
                    mark in cell
                    and other not in cell
                    and mark not in marks
                    and any(c.isdigit() for c in cell)
                ):
                    marks[mark] = (line, name, cell)
    if len(marks) == 2:
        line, name, cell = max(marks.values())
        notes.fault(
            line,
            name,
            cell,
            "The table mixes decimal points and decimal commas.",
            "one decimal mark in the whole table",
            f"Compare with line {min(marks.values())[0]}.",
        )
        return None
    return True if "," in marks else None
