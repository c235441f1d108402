"""What the cells of a file tell of its conventions: dates, decimal mark, headings, units.  Nothing is decided alone."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from soakage.importers.recipe import Dates
from soakage.importers.recipe_grid import Grid, Number
from soakage.importers.recipe_headings import meaning, plain
from soakage.unit_table import find
from soakage.units import DIMENSIONS

_LOOK = 60
_FIGURE = re.compile(r"[-+<>=≤≥ ]*[0-9][0-9.,' ]*")
_DATE = re.compile(r"([0-9]{1,2})[./-]([0-9]{1,2})[./-]([0-9]{4}|[0-9]{2})(?![0-9])")
_YEAR_FIRST = re.compile(r"[0-9]{4}[./-]")
_ONE_MARK = re.compile(r"[1-9][0-9]{0,2}([.,])[0-9]{3}")
_SERIAL = re.compile(r"[2-7][0-9]{4}(?:[.,][0-9]+)?")
_OVER = re.compile(r" *(?:[>+] *)?(?:o\.?l|over|inf|∞)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Headings:
    """A line that looks like headings: its place among the rows, how many cells say what they are."""

    at: int
    line: int
    cells: tuple[str, ...]
    score: int


def headings(grid: Grid) -> Headings:
    """Return the line that looks most like headings, the first of equals.

    Parameters
    ----------
    grid : Grid
        One sheet or file.

    Returns
    -------
    Headings
        With a score of 0 or less where no line says anything.
    """
    best = Headings(0, 0, (), 0)
    for at, (line, cells) in enumerate(grid.rows[:_LOOK]):
        found = {told for cell in cells if not is_figure(cell) and (told := meaning(cell)) is not None}
        figures = sum(is_figure(cell) or bool(_DATE.match(cell)) for cell in cells)
        readings = any(told.reading for told in found)
        score = 2 * len(found) + readings - 3 * figures if len(grid.rows) > at + 1 else 0
        if score > best.score:
            best = Headings(at, line, tuple(cells), score)
    return best


def is_figure(cell: str) -> bool:
    """Return True for a cell that is a bare figure."""
    return isinstance(cell, Number) or _FIGURE.fullmatch(cell) is not None


def has_figure(cell: str) -> bool:
    """Return True for a cell that holds a figure or an over-range mark."""
    return any(letter.isdigit() for letter in cell) or _OVER.match(cell) is not None


def is_units(cells: Sequence[str]) -> bool:
    """Return True for a line that holds units and nothing else."""
    filled = [cell.strip().strip("[]()").strip() for cell in cells if cell.strip(" -")]
    return bool(filled) and all(
        text and not text.isdigit() and any(find(text, name) for name in DIMENSIONS) for text in filled
    )


def date_order(cells: Iterable[str]) -> tuple[set[Dates], bool, bool]:
    """Return the orders that the dates of a column allow, whether one is told, and whether years are short.

    Parameters
    ----------
    cells : iterable of str
        Filled cells of a column of dates.

    Returns
    -------
    tuple
        Orders left (both where nothing tells them apart, none where two rows contradict each other,
        `Dates.SERIAL` for counts of days); whether any date needs an order; whether a year has two figures.
    """
    left = {Dates.DAY_FIRST, Dates.MONTH_FIRST}
    needed = short = serial = False
    for cell in cells:
        if _YEAR_FIRST.match(cell):
            continue
        if _SERIAL.fullmatch(cell):
            serial = True
            continue
        match = _DATE.match(cell)
        if match is None:
            continue
        needed = True
        first, second = int(match[1]), int(match[2])
        short = short or len(match[3]) == 2
        if first > 12:
            left.discard(Dates.MONTH_FIRST)
        if second > 12:
            left.discard(Dates.DAY_FIRST)
    if serial:
        return ({Dates.SERIAL} if not needed else set()), True, short
    return left, needed, short


def decimal_mark(cells: Iterable[str]) -> tuple[set[str], bool]:
    """Return the decimal marks that figures allow, and whether any figure needs one to be known.

    Parameters
    ----------
    cells : iterable of str
        Cells of columns of figures, as text.

    Returns
    -------
    tuple
        Both marks where nothing tells them apart, none where figures contradict each other; whether a figure
        such as ``1,500`` can be read in two ways.
    """
    left, needed = {".", ","}, False
    for cell in cells:
        if isinstance(cell, Number):
            continue
        match = _FIGURE.match(cell)
        text = match[0].strip(" <>=≤≥+-") if match else ""
        marks = [letter for letter in text if letter in ".,"]
        if not marks:
            continue
        if len(set(marks)) == 2:
            left &= {marks[-1]}
        elif len(marks) > 1:
            left -= {marks[0]}
        elif _ONE_MARK.fullmatch(text):
            needed = True
        else:
            left &= {marks[0]}
    return left, needed


def alike(one: Sequence[str], other: Sequence[str]) -> bool:
    """Return True where two lines hold the same headings."""
    return [plain(cell) for cell in one if cell] == [plain(cell) for cell in other if cell]
