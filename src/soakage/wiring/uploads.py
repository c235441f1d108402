"""What a file somebody brought is, and what is in it; called in a process of its own (:mod:`soakage.wiring.apart`)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soakage.errors import Fault, InputError
from soakage.importers.reading import HEAD, pick, read_bytes
from soakage.importers.recipe import Guess, Recipe
from soakage.importers.recipe_file import read_recipe
from soakage.importers.recipe_guess import guess
from soakage.importers.recipe_headings import plain
from soakage.importers.recipe_preview import preview
from soakage.importers.recipe_read import read_with
from soakage.importers.text import LARGEST
from soakage.model.record import Record

MAY_BE_TABLES = ("table", "xlsx")  # importers of files that a recipe may read where they cannot
KINDS = {
    "record-file": "record file", "schedule": "schedule", "xlsx": "workbook of record sheets",
    "json": "records in JSON", "parquet": "records in Parquet", "table": "table of readings",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Looked:
    """What a file was found to be.

    Parameters
    ----------
    kind : str
        What it is, in words; ``table`` where a recipe is needed, ``not readable`` where nothing reads it.
    records : int
        How many records it holds, where it is read as it is.
    titles : tuple of str
        What the first of them are of.
    guess : Guess or None
        The recipe guessed for a table.
    recipe : str
        Name of a kept recipe whose headings are those of the table; empty where there is none.
    faults : tuple of Fault
        Why it cannot be read.
    """

    kind: str
    records: int = 0
    titles: tuple[str, ...] = ()
    guess: Guess | None = None
    recipe: str = ""
    faults: tuple[Fault, ...] = ()

    @property
    def is_table(self) -> bool:
        """Whether a recipe reads it."""
        return self.guess is not None


def looked_at(path: Path, name: str, kept: Sequence[tuple[str, str]] = ()) -> Looked:
    """Return what a file is.

    Parameters
    ----------
    path : Path
        Where its bytes are.
    name : str
        What it was called.
    kept : sequence of (name, TOML)
        Recipes that may fit it.

    Returns
    -------
    Looked
    """
    data = content(path, name)
    importer = pick(data[:HEAD], name)
    if importer is not None:
        try:
            records = importer.read(data, name, {})
        except InputError as problem:
            if importer.id not in MAY_BE_TABLES:
                return Looked(KINDS.get(importer.id, importer.title), faults=tuple(problem.faults))
            first = tuple(problem.faults)
        else:
            titles = tuple(dict.fromkeys(record.title for record in records[:200] if record.title))
            kind = KINDS.get(importer.id, importer.title)
            return Looked(kind, len(records), titles[:5])
    else:
        first = ()
    try:
        made = guess(data, name)
    except InputError as problem:
        return Looked("not readable", faults=first or tuple(problem.faults))
    return Looked("table", guess=made, recipe=_fitting(made, kept))


def _fitting(made: Guess, kept: Sequence[tuple[str, str]]) -> str:
    """Return the name of the kept recipe that knows all its columns and all of whose columns are there."""
    there = {plain(note.title) for note in made.notes if note.title}
    for name, text in kept:
        try:
            recipe = read_recipe(text.encode(), name)
        except InputError:
            continue  # of a newer Soakage
        known = {plain(rule.heading) for rule in recipe.columns if rule.heading}
        needed = {plain(rule.heading) for rule in recipe.columns if rule.heading and not rule.optional}
        if recipe.kind is made.recipe.kind and known and there <= known and needed <= there:
            return name
    return ""


def records_of(path: Path, name: str, recipe: Recipe | None, given: Mapping[str, str]) -> tuple[Record, ...]:
    """Return the records of a file, read by a recipe where there is one.

    Raises
    ------
    InputError
        If it cannot be read; holds every fault.
    """
    data = content(path, name)
    return read_bytes(data, name, given) if recipe is None else read_with(recipe, data, name, given)


def tried(recipe: Recipe, path: Path, name: str, most: int) -> dict[str, Any]:
    """Return what a recipe makes of a file, as :func:`soakage.importers.recipe_preview.preview` gives it."""
    return preview(recipe, content(path, name), name, most=most)


def content(path: Path, name: str) -> bytes:
    """Return the bytes of a file.

    Raises
    ------
    InputError
        If it is too large to be read.
    """
    with path.open("rb") as file:
        data = file.read(LARGEST + 1)
    if len(data) > LARGEST:
        most = f"at most {LARGEST >> 20} MiB"
        raise InputError([Fault(name, None, "", "", "The file is too large.", most, "Split it.")])
    return data
