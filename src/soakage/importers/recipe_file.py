"""A recipe as a small TOML file, written and read back without loss."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, fields
from difflib import get_close_matches
from enum import StrEnum
from typing import Any

from soakage.errors import UsageError
from soakage.importers.base import Notes, printable
from soakage.importers.recipe import VERSION, CellRule, ColumnRule, Dates, Empty, Kind, Layout, Recipe
from soakage.importers.recipe_check import recipe_faults
from soakage.importers.text import decode
from soakage.importers.values import quoted

HEADER = "soakage-recipe"
LARGEST = 2**20
_ENUMS: dict[str, type[StrEnum]] = {"kind": Kind, "layout": Layout, "dates": Dates, "without_reading": Empty}
_TABLES = {"columns": ("column", ColumnRule), "cells": ("cell", CellRule)}
_LISTS = ("group_by", "sheets", "pass_over")
_INTEGERS = ("unit_row", "first_row", "first_year", "place")
_FLAGS = ("ignore", "optional", "fill_down")
_LINE = re.compile(r"line ([0-9]+)")
_BARE = re.compile(r"[A-Za-z0-9_-]+")


def recipe_parts(recipe: Recipe) -> dict[str, Any]:
    """Return a recipe as plain values, the way its file has them; :func:`read_parts` gives it back.

    Parameters
    ----------
    recipe : Recipe
        Any.

    Returns
    -------
    dict
        Texts, whole numbers, flags, lists and tables; what has its usual value is left out.
    """
    parts: dict[str, Any] = _settings(recipe, skip=("columns", "cells", "constants"))
    if recipe.constants:
        parts["constants"] = dict(recipe.constants)
    for field_name, (table, _) in _TABLES.items():
        rules = [_settings(rule) for rule in getattr(recipe, field_name)]
        if rules:
            parts[table] = rules
    return parts


def recipe_text(recipe: Recipe, remarks: Iterable[str] = ()) -> str:
    """Return a recipe as TOML; :func:`read_recipe` gives the same back.

    Parameters
    ----------
    recipe : Recipe
        One that fits together.
    remarks : iterable of str
        Comments for its first lines; they are not read back.

    Returns
    -------
    str
        Lines ended by a line feed; what has its usual value is left out.

    Raises
    ------
    UsageError
        If the recipe does not fit together.
    """
    wrong = recipe_faults(recipe)
    if wrong:
        raise UsageError("\n".join(map(str, wrong)))
    parts = recipe_parts(recipe)
    tables = {name: parts.pop(name) for name in ("constants", "column", "cell") if name in parts}
    lines = [f"# {printable(' '.join(remark.split()))}" for remark in remarks]
    lines += [f"{HEADER} = {VERSION}", *_lines(parts)]
    if "constants" in tables:
        lines += ["", "[constants]", *_lines(tables.pop("constants"))]
    for table, rules in tables.items():
        for rule in rules:
            lines += ["", f"[[{table}]]", *_lines(rule)]
    return "\n".join(lines) + "\n"


def _settings(value: Any, skip: Iterable[str] = ()) -> dict[str, Any]:  # noqa: ANN401 - a recipe or a rule of it
    found = {}
    for part in fields(value):
        given = getattr(value, part.name)
        if part.name not in skip and given != part.default:
            found[part.name] = list(given) if isinstance(given, tuple) else given
            if isinstance(given, StrEnum):
                found[part.name] = given.value
    return found


def _lines(parts: Mapping[str, Any]) -> list[str]:
    return [f"{_name(name)} = {_written(value)}" for name, value in parts.items()]


def _written(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, list):
        return "[" + ", ".join(quoted(str(item)) for item in value) + "]"
    return quoted(str(value))


def _name(text: str) -> str:
    return text if _BARE.fullmatch(text) else quoted(text)


def read_recipe(data: bytes, file: str = "") -> Recipe:
    """Read a recipe.

    Parameters
    ----------
    data : bytes
        The TOML file.
    file : str
        Its name, for messages.

    Returns
    -------
    Recipe
        One that fits together.

    Raises
    ------
    InputError
        If it is no recipe, of another version, or does not fit together; holds every fault.
    """
    notes = Notes(file)
    if len(data) > LARGEST:
        notes.fault(
            None, "", f"{len(data)} bytes", "This is too large for a recipe.", f"{LARGEST} bytes", "Check it."
        )
        notes.settle()
    try:
        given = tomllib.loads(decode(data, file))
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        line = _LINE.search(str(error))
        notes.fault(
            int(line[1]) if line else None, "", "", f"This is no TOML: {error}.", "a recipe file",
            "Look at quotes and brackets of this line.",
        )  # fmt: skip
        notes.settle()
        raise
    version = given.pop(HEADER, None)
    if version != VERSION or isinstance(version, bool):
        notes.fault(
            None,
            HEADER,
            "" if version is None else str(version),
            "The file does not say that it is a recipe." if version is None else "This version is not known.",
            f"{HEADER} = {VERSION}",
            "Write it as the first line."
            if version is None
            else "Read it with the release of Soakage that wrote it, or a later one.",
        )
        notes.settle()
    return read_parts(given, file)


def read_parts(given: Mapping[str, Any], file: str = "") -> Recipe:
    """Return the recipe that plain values make, as :func:`recipe_parts` gives them.

    Parameters
    ----------
    given : mapping
        Settings by name.
    file : str
        Name of the file, for messages.

    Returns
    -------
    Recipe
        One that fits together.

    Raises
    ------
    InputError
        If it does not; holds every fault.
    """
    notes = Notes(file)
    parts = _recipe_parts(given, notes)
    notes.settle()
    recipe = Recipe(**parts)
    notes.faults += recipe_faults(recipe, file)
    notes.settle()
    return recipe


def _recipe_parts(given: Mapping[str, Any], notes: Notes) -> dict[str, Any]:
    plain = {name: value for name, value in given.items() if name not in ("column", "cell", "constants")}
    parts = _parts(Recipe, plain, "", notes, without=("columns", "cells", "constants"))
    for field_name, (table, kind) in _TABLES.items():
        rows = given.get(table, [])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            _kind(notes, table, rows, f"[[{table}]] tables")
            continue
        made = [_parts(kind, row, f"{table} {place}", notes) for place, row in enumerate(rows, 1)]
        if not notes.faults:
            parts[field_name] = tuple(kind(**row) for row in made)
    constants = given.get("constants", {})
    if isinstance(constants, dict) and all(isinstance(text, str) for text in constants.values()):
        parts["constants"] = constants
    else:
        _kind(notes, "constants", constants, "texts in quotes, as in a record file")
    return parts


def _parts(
    kind: type, given: Mapping[str, Any], where: str, notes: Notes, without: Iterable[str] = ()
) -> dict[str, Any]:
    """Return the settings of one table by name, each of its kind; what is wrong is noted."""
    known = {part.name: part for part in fields(kind) if part.name not in without}
    parts: dict[str, Any] = {}
    for name, value in given.items():
        place = f"{where}: {name}" if where else name
        if name not in known:
            near = next(iter(get_close_matches(name[:60], known, 1)), "")
            remedy = f"Did you mean {near}?" if near else "Take it away."
            notes.fault(None, place, "", "A recipe has no such setting.", ", ".join(known), remedy)
            continue
        wanted = _wanted(name, value)
        if wanted:
            _kind(notes, place, value, wanted)
        elif name in _ENUMS:
            parts[name] = _ENUMS[name](value)
        else:
            parts[name] = tuple(value) if name in _LISTS else value
    for name, part in known.items():
        if part.default is MISSING and part.default_factory is MISSING and name not in given:
            allowed = ", ".join(_ENUMS[name]) if name in _ENUMS else "a text"
            place = f"{where}: {name}" if where else name
            notes.fault(None, place, "", "This setting is missing.", allowed, "Add it.")
    return parts


def _wanted(name: str, value: object) -> str:
    """Return what a setting must be where the value is not; empty where it is."""
    if name in _ENUMS:
        return "" if value in list(_ENUMS[name]) else ", ".join(_ENUMS[name])
    if name in _FLAGS:
        return "" if isinstance(value, bool) else "true or false"
    if name in _LISTS:
        fits = isinstance(value, list) and all(isinstance(item, str) for item in value)
        return "" if fits else "a list of texts"
    whole = isinstance(value, int) and not isinstance(value, bool)
    if name in _INTEGERS:
        return "" if whole else "a whole number"
    if name == "header_row":
        return "" if whole or isinstance(value, str) else "a line number, find, none"
    return "" if isinstance(value, str) else "a text in quotes"


def _kind(notes: Notes, where: str, value: object, allowed: str) -> None:
    notes.fault(None, where, str(value), "This setting is of the wrong kind.", allowed, "Correct it.")
