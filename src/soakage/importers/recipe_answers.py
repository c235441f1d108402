"""Answers to a guess's questions, and any other correction of a recipe, by the name of its setting."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping

from soakage.errors import UsageError
from soakage.importers.recipe import Recipe
from soakage.importers.recipe_file import read_parts, recipe_parts

_COLUMN = re.compile(r"column\.([0-9]{1,3})\.([a-z_]+)")


def answered(recipe: Recipe, answers: Mapping[str, str]) -> Recipe:
    """Return a recipe with settings answered or corrected.

    Parameters
    ----------
    recipe : Recipe
        As guessed.
    answers : mapping of str to str
        Value by setting as in :class:`soakage.importers.recipe.Question`: ``dates``, ``constants.class``,
        ``column.4.unit``; an empty value takes the setting back. A list is written as in TOML.

    Returns
    -------
    Recipe

    Raises
    ------
    UsageError
        If there is no such setting or column, or the value is of another kind.
    InputError
        If the recipe no longer fits together.
    """
    constants = dict(recipe.constants)
    columns = list(recipe_parts(recipe).get("column", []))
    parts = recipe_parts(recipe)
    for setting, text in answers.items():
        column = _COLUMN.fullmatch(setting)
        if setting.startswith("constants."):
            _set(constants, setting.removeprefix("constants."), text)
        elif column:
            if not 1 <= int(column[1]) <= len(columns):
                raise UsageError(f"{setting}: the recipe has {len(columns)} columns. Count them from 1.")
            _use(columns[int(column[1]) - 1], column[2], text)
        else:
            _set(parts, setting, _value(text))
    return read_parts(parts | {"column": columns, "constants": constants}, recipe.name)


_USES = ("key", "reading", "ratio", "ignore")


def _use(column: dict[str, object], setting: str, text: str) -> None:
    """Set one setting of a column; a new use takes the place of the old one."""
    if setting in _USES and text:
        for use in (*_USES, *(("at", "section") if setting != "reading" else ())):
            column.pop(use, None)
    _set(column, setting, _value(text))


def _set(table: dict[str, object] | dict[str, str], name: str, value: object) -> None:
    if value == "":
        table.pop(name, None)
    else:
        table[name] = value  # type: ignore[assignment]


def _value(text: str) -> object:
    """Return a flag, a whole number or a list as such, anything else as text."""
    plain = text.strip()
    if plain in ("true", "false") or plain.isdecimal() or plain.startswith("["):
        try:
            return tomllib.loads(f"value = {plain}")["value"]
        except tomllib.TOMLDecodeError:
            return text
    return text
