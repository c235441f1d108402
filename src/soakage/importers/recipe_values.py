"""Cells of a recipe's columns to values: figures of readings in SI, keys as a record file would type them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from soakage.errors import QuantityError
from soakage.importers.base import Notes
from soakage.importers.cells import read_cells
from soakage.importers.columns import Column
from soakage.importers.layout import Entry, Table
from soakage.importers.recipe import CellRule, Recipe
from soakage.importers.recipe_check import dimension
from soakage.importers.recipe_dates import iso_date
from soakage.importers.recipe_grid import Clock, Grid, Number
from soakage.importers.recipe_table import Laid, Placed
from soakage.importers.values import quoted
from soakage.importers.workbook import cell_column, cell_row
from soakage.model.keys import KEYS, Kind
from soakage.model.readings import Bounds, Floats
from soakage.units import Unit, format_exact, parse, parse_cell, unit

_DATED = (Kind.WHEN, Kind.DATE)


@dataclass(slots=True)
class Figures:
    """What stood in the columns of readings, by column: shape (rows,), SI, NaN where empty.

    `broken` holds the rows in which a figure could not be read.
    """

    values: dict[int, Floats] = field(default_factory=dict)
    bounds: dict[int, Bounds] = field(default_factory=dict)
    broken: set[int] = field(default_factory=set)


def read_figures(recipe: Recipe, laid: Laid, full_scale: Mapping[str, float | None], notes: Notes) -> Figures:
    """Read every column of readings.

    Parameters
    ----------
    recipe : Recipe
        Says the decimal mark.
    laid : Laid
        The table.
    full_scale : mapping of str to float
        By reading, the SI value at which an over-range mark is a lower bound.
    notes : Notes
        Takes the faults, each with its line and the column's heading.

    Returns
    -------
    Figures
        By place in ``laid.placed``.
    """
    figures = Figures()
    places = {line: at for at, (line, _) in enumerate(laid.rows)}
    for number, place in enumerate(laid.placed):
        name = place.rule.reading
        if not name:
            continue
        own = Notes(notes.file)
        filled = tuple(
            (line, [_marked(row[place.index], recipe)]) for line, row in laid.rows if row[place.index]
        )
        cells = read_cells(
            Table((place.title,), laid.heading, cells=filled),
            {name: Column(name, 0, place.unit)},
            own,
            full_scale,
            decimal_comma=recipe.decimal_comma,
        )
        values, bounds = np.full(len(laid.rows), np.nan), np.zeros(len(laid.rows), np.int8)
        at = [places[line] for line in cells.lines]
        values[at], bounds[at] = cells.value(name), cells.bound(name)
        figures.values[number], figures.bounds[number] = values, bounds
        for fault in own.faults:
            figures.broken.add(places.get(fault.row or 0, -1))
        take(notes, own, lambda fault, title=place.title: replace(fault, field=title))
    return figures


def take(notes: Notes, own: Notes, renamed: object = None) -> None:
    """Move the faults of one notebook to another, each renamed, none twice, and no more than are said."""
    for fault in own.faults:
        said = renamed(fault) if callable(renamed) else fault
        if said not in notes.faults:
            notes.fault(said.row, said.field, said.given, said.problem, said.allowed, said.remedy)
    notes.unsaid += own.unsaid


def _marked(text: str, recipe: Recipe) -> str:
    """Return a workbook's own number with the decimal mark that the recipe states."""
    return text.replace(".", ",") if isinstance(text, Number) and recipe.decimal == "," else text


def key_text(key: str, text: str, measured_in: Unit | None, recipe: Recipe) -> str:
    """Return what a cell says of a key as a record file would type it.

    Parameters
    ----------
    key : str
        Key of the record file, or one it does not know.
    text : str
        The cell.
    measured_in : Unit or None
        Unit of a figure without one.
    recipe : Recipe
        Says decimal mark and order of dates.

    Returns
    -------
    str
        Empty where the cell states nothing.

    Raises
    ------
    QuantityError
        If the cell cannot be read, or in two ways.
    """
    known = KEYS.get(key)
    if known is None or known.kind is Kind.TEXT:
        return quoted(text)
    if known.kind in _DATED:
        return iso_date(text, recipe.dates, recipe.first_year)
    if known.kind is Kind.NUMBER:
        marked, comma = _marked(text, recipe), recipe.decimal_comma
        if measured_in is None:
            bare = "h" if key == "hours_out_of_service" else None
            figure = parse(marked, known.dimension, default_unit=bare, decimal_comma=comma)
            return format_exact(figure, known.dimension)
        cell = parse_cell(marked, measured_in, decimal_comma=comma)
        return "" if cell is None else format_exact(cell, known.dimension)
    return text


def cell_entries(recipe: Recipe, grid: Grid, notes: Notes) -> dict[str, Entry]:
    """Return the keys that stand in cells of their own, and the one the sheet's title states."""
    found: dict[str, Entry] = {}
    rows = dict(grid.rows)
    for rule in recipe.cells:
        row, index = rows.get(cell_row(rule.cell), []), cell_column(rule.cell) - 1
        text = row[index] if index < len(row) else ""
        entry = _entry(rule, text, recipe, notes)
        if entry is not None:
            found[rule.key] = entry
    if recipe.sheet_key and grid.title:
        found.setdefault(recipe.sheet_key, Entry(recipe.sheet_key, quoted(grid.title), None))
    return found


def _entry(rule: CellRule, text: str, recipe: Recipe, notes: Notes) -> Entry | None:
    if not text:
        return None
    measured = dimension(rule.key, "")
    try:
        default = _unit(rule.unit, measured)
        said = key_text(rule.key, text, default, recipe)
    except QuantityError as error:
        notes.quantity_fault(cell_row(rule.cell), f"{rule.cell} ({rule.key})", error)
        return None
    return Entry(rule.key, said, cell_row(rule.cell)) if said else None


def _unit(text: str, measured: str) -> Unit | None:
    return unit(text, measured) if text and measured else None


def column_entries(
    recipe: Recipe, laid: Laid, rows: Sequence[int], notes: Notes
) -> dict[str, tuple[Entry, str]]:
    """Return what the columns say of each key for the rows of one record.

    Parameters
    ----------
    recipe : Recipe
        Says decimal mark and order of dates.
    laid : Laid
        The table.
    rows : sequence of int
        Places of the record's rows.
    notes : Notes
        Takes the faults, each with its line and the column's heading.

    Returns
    -------
    dict
        By key, the entry and the heading of its column.
    """
    columns: dict[str, list[Placed]] = {}
    for place in laid.placed:
        if place.rule.key:
            columns.setdefault(place.rule.key, []).append(place)
    found: dict[str, tuple[Entry, str]] = {}
    for key, places in columns.items():
        title = places[0].title
        said: dict[str, int] = {}
        for at in rows:
            line, row = laid.rows[at]
            text = _joined(key, [row[place.index] for place in places])
            if not text:
                continue
            try:
                value = key_text(key, text, places[0].unit, recipe)
            except QuantityError as error:
                notes.quantity_fault(line, f"{title} ({key})", error)
            else:
                if value:
                    said.setdefault(value, line)
        if len(said) > 1 and key == "notes":
            texts = [_joined(key, [laid.rows[at][1][place.index] for place in places]) for at in rows]
            whole = "; ".join(dict.fromkeys(filter(None, texts)))
            said = {quoted(whole): min(said.values())}
        if len(said) > 1:
            (first, _), (other, line) = list(said.items())[:2]
            notes.fault(
                line, f"{title} ({key})", other, f"The rows of one record disagree: line {said[first]} says {first}.",
                "one value for all rows of a record", "Correct the file, or add the key to group_by.",
            )  # fmt: skip
        elif said:
            value, line = next(iter(said.items()))
            found[key] = Entry(key, value, line), title
    return found


def _joined(key: str, cells: Sequence[str]) -> str:
    filled = [cell for cell in cells if cell]
    known = KEYS.get(key)
    if len(filled) == 1 and isinstance(filled[0], Number):
        return filled[0]  # still known to be a workbook's own number
    if known and known.kind in _DATED:
        filled = [cell.of_day if isinstance(cell, Clock) else cell for cell in filled]
    return " ".join(filled)
