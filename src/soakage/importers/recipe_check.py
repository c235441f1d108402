"""Whether a recipe fits together: said before any file is read with it."""

from __future__ import annotations

import re
from collections.abc import Callable

from soakage.errors import Fault, QuantityError
from soakage.importers.base import Notes
from soakage.importers.columns import CURRENT, READINGS, RESISTANCE, TIME
from soakage.importers.layout import DELIMITERS
from soakage.importers.recipe import FIND, MOST_COLUMNS, MOST_ROWS, NONE, ColumnRule, Kind, Layout, Recipe
from soakage.importers.values import plain_key
from soakage.model.keys import KEYS
from soakage.model.keys import Kind as KeyKind
from soakage.units import parse, unit

_CELL = re.compile(r"[A-Z]{1,2}[1-9][0-9]{0,6}")
_DO = "Correct the recipe."
_YEARS = (1850, 2100)


def recipe_faults(recipe: Recipe, file: str = "") -> tuple[Fault, ...]:
    """Return everything in a recipe that does not fit together.

    Parameters
    ----------
    recipe : Recipe
        Any.
    file : str
        Name of its file, for the messages.

    Returns
    -------
    tuple of Fault
        Empty where it can be used; `field` names the setting.
    """
    notes = Notes(file)
    _whole(recipe, notes)
    _lines(recipe, notes)
    for place, rule in enumerate(recipe.columns, 1):
        _column(rule, f"column {place} ({rule.title})", recipe, notes)
    _together(recipe, notes)
    for cell in recipe.cells:
        if not _CELL.fullmatch(cell.cell):
            _wrong(notes, "cell", cell.cell, "This names no cell.", "such as B2")
        _key(cell.key, f"cell {cell.cell}", notes)
        _unit(cell.unit, cell.key, "", f"cell {cell.cell}", notes)
    for name in recipe.constants:
        _key(name, "constants", notes)
    return tuple(notes.faults)


def _wrong(notes: Notes, where: str, given: str, problem: str, allowed: str, remedy: str = _DO) -> None:
    notes.fault(None, where, given, problem, allowed, remedy)


def _whole(recipe: Recipe, notes: Notes) -> None:
    if recipe.kind is Kind.CSV and recipe.delimiter not in DELIMITERS:
        _wrong(notes, "delimiter", recipe.delimiter, "Not a delimiter.", "comma, semicolon or tab")
    if recipe.decimal not in ("", ".", ","):
        _wrong(notes, "decimal", recipe.decimal, "Not a decimal mark.", 'point, comma, or "" to tell by cell')
    if recipe.kind is Kind.CSV and (recipe.sheets or recipe.sheet_key):
        _wrong(notes, "sheets", ", ".join(recipe.sheets), "A text file has no sheets.", 'kind = "xlsx"')
    if recipe.kind is Kind.CSV and recipe.layout is Layout.SHEET:
        _wrong(notes, "layout", "sheet", "A text file has no sheets.", "file, row, group")
    if recipe.first_year is not None and not _YEARS[0] <= recipe.first_year <= _YEARS[1]:
        _wrong(notes, "first_year", str(recipe.first_year), "Not a year.", "1850 to 2100")
    if recipe.sheet_key:
        _key(recipe.sheet_key, "sheet_key", notes)
    if not all(word.strip() for word in recipe.pass_over):
        _wrong(notes, "pass_over", "", "An empty word would pass over every row.", "words such as Total")


def _lines(recipe: Recipe, notes: Notes) -> None:
    header = recipe.header_row
    if isinstance(header, str):
        if header not in (FIND, NONE):
            _wrong(notes, "header_row", header, "Not a row of headings.", "a line number, find, none")
        if recipe.unit_row is not None:
            _wrong(notes, "unit_row", str(recipe.unit_row), "Units need a row of headings.", "a header_row")
    lines = [("header_row", header), ("unit_row", recipe.unit_row), ("first_row", recipe.first_row)]
    last = 0
    for name, line in lines:
        if isinstance(line, int):
            if not last < line <= MOST_ROWS:
                _wrong(notes, name, str(line), "This line cannot be.", f"{last + 1} or below it")
            last = line


def _column(rule: ColumnRule, where: str, recipe: Recipe, notes: Notes) -> None:
    uses = [bool(rule.key), bool(rule.reading), bool(rule.ratio), rule.ignore]
    if sum(uses) != 1:
        _wrong(notes, where, "", "A column needs one use.", "one of key, reading, ratio, ignore")
    if not rule.heading and rule.place is None:
        _wrong(notes, where, "", "The column is not named.", "heading, or place counted from 1")
    if rule.place is not None and not 1 <= rule.place <= MOST_COLUMNS:
        _wrong(notes, where, str(rule.place), "No such place.", f"1 to {MOST_COLUMNS}")
    if recipe.header_row == NONE and rule.place is None:
        _wrong(notes, where, rule.heading, "Without headings a column is told by its place.", "place")
    if rule.key:
        _key(rule.key, where, notes)
    if rule.reading and rule.reading not in READINGS:
        _wrong(notes, where, rule.reading, "Not a reading.", ", ".join(READINGS))
    if rule.at and (not rule.reading or rule.reading == TIME):
        _wrong(
            notes, where, rule.at, "A mark belongs to a reading.", "reading = resistance, current, voltage"
        )
    if rule.section and not (rule.reading or rule.ratio):
        _wrong(
            notes, where, rule.section, "A section belongs to a reading.", "a column with reading or ratio"
        )
    _tried(notes, where, rule.at, lambda: mark(rule.at))
    _tried(notes, where, rule.ratio, lambda: marks_of_ratio(rule.ratio))
    _unit(rule.unit, rule.key, rule.reading, where, notes)


def _tried(notes: Notes, where: str, text: str, read: Callable[[], object]) -> None:
    if text:
        try:
            read()
        except QuantityError as error:
            notes.quantity_fault(None, where, error)


def mark(text: str) -> float:
    """Return a time mark in seconds.

    Raises
    ------
    QuantityError
        If it is no time, or lies before the voltage.
    """
    seconds = parse(text, "time")
    if seconds.bound is not None or seconds.value < 0:
        raise QuantityError(text, "Not a time mark.", "a time such as 60 s or 10 min", _DO)
    return seconds.value


def marks_of_ratio(text: str) -> tuple[float, float]:
    """Return the later and the earlier mark of a ratio in seconds.

    Raises
    ------
    QuantityError
        If it is not two marks with a stroke, the later first.
    """
    later, stroke, earlier = text.partition("/")
    if not stroke or not mark(later) > mark(earlier) > 0:
        raise QuantityError(text, "Not a ratio of two marks.", "the later first: 600 s/60 s", _DO)
    return mark(later), mark(earlier)


def _key(name: str, where: str, notes: Notes) -> None:
    if name in KEYS:
        return
    if plain_key(name) in KEYS or plain_key(name) == "soakage" or not name.strip():
        _wrong(notes, where, name, "Not a key.", plain_key(name) or "a key of the record file")


def dimension(key: str, reading: str) -> str:
    """Return the dimension of what a column holds; empty where it is no figure with a unit."""
    if reading:
        return reading
    found = KEYS.get(key)
    return found.dimension if found and found.kind is KeyKind.NUMBER else ""


def _unit(text: str, key: str, reading: str, where: str, notes: Notes) -> None:
    if not text or reading not in ("", *READINGS):
        return
    measured = dimension(key, reading)
    if not measured:
        _wrong(notes, where, text, "A unit belongs to a figure.", "a key or reading that has one")
        return
    _tried(notes, where, text, lambda: unit(text, measured))


def _together(recipe: Recipe, notes: Notes) -> None:
    seen: set[tuple[object, ...]] = set()
    for rule in recipe.columns:
        names: list[tuple[object, ...]] = [(" ".join(rule.heading.split()).lower(), rule.place)]
        if rule.reading:
            names.append((rule.reading, "at", rule.at, rule.section))
        for used in names:
            if used in seen:
                what = "column" if used == names[0] else "reading"
                _wrong(notes, rule.title, "", f"This {what} is there twice.", f"each {what} once")
            seen.add(used)
    read = [rule for rule in recipe.columns if rule.reading]
    figures = [rule for rule in read if rule.reading in (CURRENT, RESISTANCE)]
    if not figures:
        _wrong(notes, "column", "", "No column holds a current or a resistance.", "reading = resistance")
    marked = {bool(rule.at) for rule in figures}
    if len(marked) == 2:
        _wrong(notes, "at", "", "Some readings have a mark, some have none.", "a mark for all, or for none")
    if True in marked and any(rule.reading == TIME for rule in read):
        _wrong(notes, "at", "", "Marks and a column of times exclude each other.", "one of them")
    _keys(recipe, read, notes)


def _keys(recipe: Recipe, read: list[ColumnRule], notes: Notes) -> None:
    keys = {rule.key for rule in recipe.columns if rule.key}
    if "section" in keys and any(rule.section for rule in read):
        _wrong(notes, "section", "", "The section has a column, and columns have sections.", "one of them")
    if recipe.layout is Layout.GROUP and not recipe.group_by:
        _wrong(notes, "group_by", "", "Nothing tells the records apart.", "keys that have a column")
    if recipe.layout is not Layout.GROUP and recipe.group_by:
        _wrong(notes, "group_by", "", "Only a long table is grouped.", 'layout = "group"')
    for name in recipe.group_by:
        if name not in keys:
            _wrong(notes, "group_by", name, "No column holds this key.", ", ".join(sorted(keys)) or "a key")
