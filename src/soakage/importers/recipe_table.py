"""A grid under a recipe: the headings found, each rule at its column, the rows that count."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from soakage.errors import QuantityError
from soakage.importers.base import Notes, shown
from soakage.importers.recipe import FIND, NONE, ColumnRule, Recipe
from soakage.importers.recipe_check import dimension
from soakage.importers.recipe_grid import Grid
from soakage.importers.recipe_headings import plain, unit_alone, unit_in
from soakage.importers.workbook import cell_column
from soakage.importers.xlsx import check_stored
from soakage.units import Unit, unit

_LOOK = 200  # lines in which headings are looked for
_BEHIND = re.compile(r"[\W\d_]+$")


@dataclass(frozen=True, slots=True)
class Placed:
    """One rule at its column: index from 0, what to call it, and the unit its figures are in."""

    rule: ColumnRule
    index: int
    title: str
    unit: Unit | None


@dataclass(frozen=True, slots=True)
class Laid:
    """The table of one grid.

    Parameters
    ----------
    heading : int
        Line of the headings; 0 where there is none.
    placed : tuple of Placed
        Rules whose column is there, in the order of the recipe.
    rows : list of (int, list of str)
        Rows that count.
    passed_over : list of (int, str)
        Lines below the headings that are not read, and why.
    """

    heading: int
    placed: tuple[Placed, ...]
    rows: list[tuple[int, list[str]]]
    passed_over: list[tuple[int, str]]


def lay(recipe: Recipe, grid: Grid, notes: Notes) -> Laid | None:
    """Lay a recipe over a grid.

    Parameters
    ----------
    recipe : Recipe
        One that fits together.
    grid : Grid
        One sheet or file.
    notes : Notes
        Takes faults, and findings that every record of the grid carries.

    Returns
    -------
    Laid or None
        None where the headings cannot be found.
    """
    heading, cells = _headings(recipe, grid, notes)
    if heading is None:
        return None
    units = next((row for line, row in grid.rows if line == recipe.unit_row), [])
    placed = []
    for rule in recipe.columns:
        index = _index(rule, cells, heading, notes)
        if index is not None:
            title = rule.heading or (cells[index] if index < len(cells) and cells[index] else rule.title)
            placed.append(Placed(rule, index, title, _unit(rule, title, cells, units, index, recipe, notes)))
    known = {place.index for place in placed}
    for index, cell in enumerate(cells):
        if cell and index not in known:
            notes.finding("unknown_column", f"The column {shown(cell)!r} is not read.")
    laid = Laid(heading, tuple(placed), [], [])
    _rows(recipe, grid, cells, laid, notes)
    _stored(grid, laid, notes)
    return laid


def _headings(recipe: Recipe, grid: Grid, notes: Notes) -> tuple[int | None, list[str]]:
    if recipe.header_row == NONE:
        return 0, []
    wanted = {plain(rule.heading) for rule in recipe.columns if rule.heading and not rule.optional}
    counts = [
        (len(wanted & {plain(cell) for cell in cells}), line, cells) for line, cells in grid.rows[:_LOOK]
    ]
    best = max(counts, key=lambda row: (row[0], -row[1]), default=(0, 0, []))
    if recipe.header_row == FIND:
        chosen = best if best[0] else None
    else:
        chosen = next((row for row in counts if row[1] == recipe.header_row), None)
        chosen = chosen if chosen and (chosen[0] or not wanted) else None
    if chosen is None:
        line = recipe.header_row if isinstance(recipe.header_row, int) else None
        elsewhere = f"Line {best[1]} holds {best[0]} of them." if best[0] else "No line holds any of them."
        notes.fault(
            line, "header_row", "", f"The headings of the recipe are not there. {elsewhere}",
            ", ".join(rule.heading for rule in recipe.columns if rule.heading),
            "Take another recipe, or correct header_row.",
        )  # fmt: skip
        return None, []
    return chosen[1], chosen[2]


def _index(rule: ColumnRule, cells: Sequence[str], heading: int, notes: Notes) -> int | None:
    if rule.place is not None:
        index = rule.place - 1
        there = cells[index] if index < len(cells) else ""
        if rule.heading and plain(there) != plain(rule.heading):
            notes.fault(
                heading, rule.title, there, f"Column {rule.place} has another heading.", rule.heading,
                "Correct place or heading in the recipe.",
            )  # fmt: skip
            return None
        return index
    found = [index for index, cell in enumerate(cells) if plain(cell) == plain(rule.heading)]
    if len(found) == 1:
        return found[0]
    if found or not rule.optional:
        notes.fault(
            heading,
            rule.heading,
            ", ".join(filter(None, cells)),
            f"This heading is there {len(found)} times." if found else "This column is missing.",
            "each heading once, or told apart by place" if found else rule.heading,
            "Add place to the column's rule." if found else "Correct the heading, or set optional = true.",
        )
    return None


def _unit(
    rule: ColumnRule,
    title: str,
    cells: Sequence[str],
    units: Sequence[str],
    index: int,
    recipe: Recipe,
    notes: Notes,
) -> Unit | None:
    measured = dimension(rule.key, rule.reading)
    if not measured:
        return None
    stated = unit_in(cells[index], measured) if index < len(cells) else ""
    line = recipe.header_row if isinstance(recipe.header_row, int) else None
    if index < len(units) and units[index]:
        below = unit_alone(units[index], measured)
        if stated and below and unit(stated, measured) != unit(below, measured):
            _apart(notes, recipe.unit_row, title, below, stated)
        stated, line = (below, recipe.unit_row) if below else (stated, line)
    try:
        own = unit(rule.unit, measured) if rule.unit else None
    except QuantityError as error:
        notes.quantity_fault(None, title, error)
        return None
    found = unit(stated, measured) if stated else None
    if own and found and (own.factor, own.shift) != (found.factor, found.shift):
        _apart(notes, line, title, stated, rule.unit)
    return found or own


def _apart(notes: Notes, line: int | None, title: str, there: str, said: str) -> None:
    notes.fault(
        line, title, there, f"The unit of this column is stated as {there} and as {said}.", "one unit",
        "Correct the file or the recipe.",
    )  # fmt: skip


def _rows(recipe: Recipe, grid: Grid, cells: Sequence[str], laid: Laid, notes: Notes) -> None:
    first = recipe.first_row or max(laid.heading, recipe.unit_row or 0) + 1
    words = {plain(word) for word in recipe.pass_over}
    last = grid.rows[-1][0] if grid.rows else 0
    above = [""] * (1 + max((place.index for place in laid.placed), default=0))
    fill = [place.index for place in laid.placed if place.rule.fill_down]
    same = [plain(cell) for cell in cells]
    for line, row in grid.rows:
        if line < first:
            continue
        begins = plain(next(filter(None, row)))
        if words and (begins in words or _BEHIND.sub("", begins) in words):
            laid.passed_over.append((line, f"begins with {shown(begins)}"))
            continue
        if same and [plain(cell) for cell in row] == same:
            laid.passed_over.append((line, "the headings again"))
            continue
        if cells and any(row[len(cells) :]):
            notes.fault(
                line, "", next(filter(None, row[len(cells) :])),
                f"This row has {len(row)} cells, the table {len(cells)} columns.", "one cell for every column",
                "Look for a comma used both as decimal mark and as delimiter, or for a note beside the table.",
            )  # fmt: skip
            continue
        if line == last and not grid.whole and len(row) < len(cells):
            notes.fault(
                line, "", "", f"The last row ends after {len(row)} of {len(cells)} cells: the file is cut short.",
                "a cell for every column", "Save or copy the file again.",
            )  # fmt: skip
            continue
        filled = row + [""] * (len(above) - len(row))
        for index in fill:
            above[index] = filled[index] = filled[index] or above[index]
        laid.rows.append((line, filled))


def _stored(grid: Grid, laid: Laid, notes: Notes) -> None:
    """Note what a workbook stores that would be read wrongly in the columns that are read."""
    if grid.xml is None:
        return
    read = {place.index for place in laid.placed if not place.rule.ignore}
    down = {place.index for place in laid.placed if place.rule.fill_down}
    lines = {line for line, _ in laid.rows}

    def counts(cell: str) -> bool:
        return cell_column(cell) - 1 in read and int(cell.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")) in lines

    def filled_down(merged: str) -> bool:
        start, _, end = merged.partition(":")
        return cell_column(start) == cell_column(end or start) and cell_column(start) - 1 in down

    check_stored(grid.xml, laid.heading or 1, notes, counts, filled_down)
