"""Bringing files in: looked at, read by recipes, tried, taken; the page and the API do it through these."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import replace
from functools import partial

from fastapi import HTTPException
from starlette.datastructures import UploadFile

from soakage.app.intake import Incoming, Intake, take_in
from soakage.errors import Fault, InputError, UsageError
from soakage.importers.recipe import ColumnRule, Recipe
from soakage.importers.recipe_answers import answered
from soakage.importers.recipe_file import read_recipe
from soakage.store.memory import StoreMemory
from soakage.web.batches import MOST_FILES, Batch, Batches, Brought, Table, lost, name_of
from soakage.web.house import House
from soakage.web.jobs import Job
from soakage.web.sessions import Person
from soakage.web.shapes import fault
from soakage.wiring.apart import Apart, LostError
from soakage.wiring.house_rules import rules_in_use
from soakage.wiring.recipes import keep_recipe_text, kept_recipes, kept_text
from soakage.wiring.uploads import content, looked_at, records_of, tried

SHOWN = 8  # records of a preview
_LONGEST_ANSWER = 400
USES = ("reading", "key", "ratio")


def brought(shared: House, person: Person, files: Sequence[UploadFile]) -> Batch:
    """Keep files that somebody chose, piece by piece.

    Raises
    ------
    InputError
        If none was chosen, or too many.
    """
    with ExitStack() as passing:
        for file in files:
            passing.enter_context(file.file)
        return _brought(shared, person, [file for file in files if file.filename])


def _brought(shared: House, person: Person, chosen: Sequence[UploadFile]) -> Batch:
    if not chosen:
        raise InputError(
            [fault("No file was chosen.", field="files", remedy="Choose files, then look at them.")]
        )
    if len(chosen) > MOST_FILES:
        given, allowed = f"{len(chosen)} files", f"{MOST_FILES} at a time"
        raise InputError([fault("Too many files.", field="files", given=given, allowed=allowed)])
    batch = shared.batches.new(person.name)
    for file in chosen:
        batch.add(file.filename, file.file)
    return batch


def batch_of(shared: House, person: Person, batch_id: str) -> Batch:
    """Return a batch of whoever asks.

    Raises
    ------
    HTTPException
        404 where it is no longer remembered.
    """
    found = shared.batches.get(batch_id, person.name)
    if found is None:
        raise HTTPException(404, "These files are no longer at hand. Choose them again.")
    return found


def table_of(batch: Batch, number: int) -> Table:
    """Return a table of a batch.

    Raises
    ------
    HTTPException
        404 where it has none of that number.
    """
    found = batch.table(number)
    if found is None:
        raise HTTPException(404, "None of these files is a table of that number.")
    return found


def look(memory: StoreMemory, batch: Batch, job: Job) -> None:
    """Find out what each file is; what dies or is slow costs only its file."""
    kept = [(str(row["name"]), str(row["text"])) for row in kept_recipes(memory)]
    of = len(batch.files)
    with Apart() as apart:
        for file in batch.files:
            step = partial(job.tell, f"Looking at {file.name}, {file.number} of {of}", file.number - 1, of)
            step()
            try:
                file.looked = apart.ask(looked_at, file.path, file.name, kept, meanwhile=step)
            except LostError as problem:
                file.trouble = str(problem)
    _gather(memory, batch)


def _gather(memory: StoreMemory, batch: Batch) -> None:
    """Put files of the same columns under one recipe."""
    found: dict[object, Table] = {}
    for file in batch.files:
        if file.looked is None or file.looked.guess is None:
            continue
        made = file.looked.guess
        key = (replace(made.recipe, name=""), tuple(note.title for note in made.notes))
        settings = tuple(question.setting for question in made.questions)
        whole = (repr(key), settings)
        if whole in found:
            found[whole].files.append(file)
            continue
        table = Table([file], made.recipe, made.notes, made.remarks, made.questions)
        if name := file.looked.recipe:
            table.read_by(read_recipe(kept_text(memory, name).encode(), name), kept=name)
        found[whole] = table
    batch.tables = list(found.values())


def answer(table: Table, answers: Mapping[str, str]) -> None:
    """Answer questions of a table and correct its recipe; what was answered is open no more.

    Raises
    ------
    InputError, UsageError
        If a value cannot be, or the recipe no longer fits together.
    """
    given = {name: text.strip() for name, text in answers.items()}
    for name, text in given.items():
        if len(text) > _LONGEST_ANSWER:
            raise UsageError(f"{name[:60]}: {len(text)} signs; at most {_LONGEST_ANSWER} are read.")
    try:
        recipe = answered(table.recipe, given)
    except InputError as problem:
        raise InputError([replace(one, file="") for one in problem.faults]) from None
    left = [question for question in table.questions if not given.get(question.setting)]
    gone = {f"column.{place}." for place, rule in enumerate(recipe.columns, 1) if rule.ignore}
    left = [question for question in left if not any(question.setting.startswith(one) for one in gone)]
    if recipe != table.recipe or len(left) != len(table.questions):
        table.read_by(recipe, left, table.kept if recipe == table.recipe else "")


def use_kept(memory: StoreMemory, table: Table, name: str) -> None:
    """Read a table by a recipe that is kept.

    Raises
    ------
    UsageError
        If there is none of that name.
    """
    if not name:
        raise UsageError("No recipe was chosen. Choose one that is kept, or a file.")
    table.read_by(read_recipe(kept_text(memory, name).encode(), name), kept=name)


def use_text(table: Table, name: str | None, data: bytes) -> None:
    """Read a table by a recipe that somebody brought.

    Raises
    ------
    InputError
        If it is none.
    """
    table.read_by(read_recipe(data, name_of(name, "recipe.toml")))


def keep(memory: StoreMemory, table: Table, name: str) -> str:
    """Keep the recipe of a table under a name; return it.

    Raises
    ------
    InputError
        If it has no name, or a question is open.
    """
    if table.open:
        problem = "The recipe is kept once nothing is open."
        raise InputError([fault(problem, field=table.open[0].setting, remedy=table.open[0].sentence)])
    wanted = " ".join(name.split())[:120]
    if not wanted:
        raise InputError(
            [fault("The recipe needs a name.", field="name", remedy="Call it after where it is from.")]
        )
    table.recipe = replace(table.recipe, name=wanted)
    keep_recipe_text(memory, table.text, wanted)
    table.kept = wanted
    return wanted


def try_table(batches: Batches, table: Table) -> None:
    """Find out what the recipe makes of the first file, where nothing is open and it was not tried yet."""
    if table.open or table.tried is not None:
        return
    first = table.files[0]
    try:
        table.tried = batches.apart.ask(tried, table.recipe, first.path, first.name, SHOWN)
    except LostError as problem:
        told = lost(first.name, str(problem))
        table.tried = {"count": 0, "records": [], "faults": [_plain(told)], "passed_over": []}


def _plain(one: Fault) -> dict[str, object]:
    return {name: getattr(one, name) for name in Fault.__slots__}


def use_of(rule: ColumnRule) -> str:
    """Return what a column is read as, as one word of a form: ``reading:voltage``, ``key:asset``, ``ignore``."""
    return next((f"{use}:{value}" for use in USES if (value := getattr(rule, use))), "ignore")


def corrections(recipe: Recipe, form: Mapping[str, str]) -> dict[str, str]:
    """Return what a form says of the columns otherwise than a recipe, as answers.

    Parameters
    ----------
    recipe : Recipe
        As it stands.
    form : mapping of str to str
        ``use-N``, ``at-N``, ``unit-N`` of column N, counted from 1.
    """
    found: dict[str, str] = {}
    for place, rule in enumerate(recipe.columns, 1):
        use = form.get(f"use-{place}", "").strip()
        if use and use != use_of(rule):
            kind, _, value = use.partition(":")
            found[f"column.{place}.{kind}"] = "true" if kind == "ignore" else value
            if kind == "ignore":
                found |= {
                    f"column.{place}.{name}": "" for name in ("unit", "fill_down") if getattr(rule, name)
                }
        kind = (use or use_of(rule)).partition(":")[0]
        for name in ("at", "unit"):
            typed = form.get(f"{name}-{place}")
            fits = kind == "reading" or (name == "unit" and kind == "key")
            if typed is not None and fits and typed.strip() != getattr(rule, name):
                found[f"column.{place}.{name}"] = typed.strip()
    return found


def run(memory: StoreMemory, batch: Batch, job: Job, *, dry_run: bool) -> None:
    """Take in the files of a batch, or see what would come of it; what went wrong stands in its outcome.

    Raises
    ------
    InputError
        If a table waits for an answer.
    """
    outcome = Intake(dry_run=dry_run)
    batch.outcome = outcome
    verb = "Trying" if dry_run else "Taking in"
    with Apart() as apart:

        def each() -> Iterator[Incoming]:
            for file in batch.files:
                said = f"{verb} {file.name}, {file.number} of {len(batch.files)}"
                job.tell(said, file.number - 1, len(batch.files))
                yield _read(apart, batch, file, job, said)

        take_in(memory, each(), rules_in_use(memory), dry_run=dry_run, outcome=outcome)


def ready(batch: Batch) -> None:
    """Refuse a batch that was not looked at, or in which a table waits for an answer.

    Raises
    ------
    HTTPException
        409 for both.
    """
    if not batch.looked_at:
        raise HTTPException(409, "These files were not looked at yet. Wait until that has ended.")
    if batch.waiting:
        names = ", ".join(table.files[0].name for table in batch.waiting)
        raise HTTPException(409, f"A question is open: {names}. Answer it first, then go on.")


def _read(apart: Apart, batch: Batch, file: Brought, job: Job, said: str) -> Incoming:
    if file.trouble or (file.looked is not None and file.looked.faults):
        return Incoming(file.name, b"", faults=file.faults)
    try:
        found = apart.ask(
            records_of, file.path, file.name, batch.recipe_of(file), {},
            meanwhile=lambda: job.tell(said, file.number - 1, len(batch.files)),
        )  # fmt: skip
        return Incoming(file.name, content(file.path, file.name), found)
    except InputError as problem:
        return Incoming(file.name, b"", faults=tuple(problem.faults))
    except LostError as problem:
        return Incoming(file.name, b"", faults=(lost(file.name, str(problem)),))
