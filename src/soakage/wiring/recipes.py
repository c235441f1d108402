"""Recipes kept in a store, or in a file: found by name, saved, listed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sqlalchemy import select

from soakage.app.register import identity
from soakage.errors import UsageError
from soakage.importers.recipe import Recipe
from soakage.importers.recipe_file import read_recipe, recipe_text
from soakage.store import schema
from soakage.store.asking import rows
from soakage.store.memory import StoreMemory


def recipe_named(memory: StoreMemory, text: str) -> Recipe:
    """Return the recipe of a file, or the one kept under a name.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    text : str
        As typed; a file that exists wins.

    Returns
    -------
    Recipe

    Raises
    ------
    InputError
        If it is no recipe.
    UsageError
        If there is no such file and no such name.
    """
    path = Path(text)
    if path.is_file() or path.suffix.lower() == ".toml":
        return read_recipe(_content(path), text)
    return read_recipe(kept_text(memory, text).encode(), text)


def kept_text(memory: StoreMemory, name: str) -> str:
    """Return the text of the recipe kept under a name.

    Raises
    ------
    UsageError
        If there is none.
    """
    known = {row["name"]: row["text"] for row in kept_recipes(memory)}
    if name not in known:
        there = ", ".join(known) or "none yet"
        raise UsageError(
            f"{name}: no such file, and no recipe of this name is kept. Kept: {there}. Keep one with "
            "'soakage recipe save FILE'."
        )
    return str(known[name])


def kept_recipes(memory: StoreMemory) -> list[dict[str, Any]]:
    """Return the recipes of a store, by name: id, name, text."""
    with memory.store.reading() as connection:
        return list(
            rows(connection, select(schema.recipe).order_by(schema.recipe.c.name, schema.recipe.c.id))
        )


def keep_recipe(memory: StoreMemory, path: Path, name: str | None = None) -> tuple[str, bool]:
    """Keep the recipe of a file under a name; one that is there under it is changed, and its history kept.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    path : Path
        The recipe's file.
    name : str, optional
        What to keep it under; its own name, else that of its file, unless given.

    Returns
    -------
    name : str
    changed : bool
        False where the very same was there.

    Raises
    ------
    InputError
        If it is no recipe.
    """
    recipe = read_recipe(_content(path), str(path))
    return keep_recipe_text(memory, recipe_text(recipe), name or recipe.name or path.stem)


def keep_recipe_text(memory: StoreMemory, text: str, name: str) -> tuple[str, bool]:
    """Keep a recipe under a name; see :func:`keep_recipe`.

    Raises
    ------
    InputError
        If it is no recipe.
    """
    recipe = read_recipe(text.encode(), name)
    wanted = " ".join(name.split())
    with memory.changing() as change:
        values = {"name": wanted, "text": recipe_text(recipe)}
        entry = change.state("recipe", identity("recipe", wanted), values)
    return wanted, entry is not None


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as problem:
        raise UsageError(f"{path}: {problem.strerror or problem}. Give a file that can be read.") from None
