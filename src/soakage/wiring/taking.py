"""Files and folders on their way into a store: found, read one at a time, taken in."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from soakage.app.intake import Incoming, Intake, take_in
from soakage.app.ports import Memory
from soakage.app.rules import Rules
from soakage.errors import Fault, InputError, UsageError
from soakage.importers.reading import importers, read_bytes
from soakage.importers.text import LARGEST
from soakage.model.record import Record
from soakage.store.memory import StoreMemory
from soakage.wiring.recipes import recipe_named

Read = Callable[[bytes, str], tuple[Record, ...]]
Seen = Callable[[int], None]


def files_in(paths: Iterable[str | Path], endings: Iterable[str] = ()) -> list[str]:
    """Return the files that paths name, each once: files as they are, folders with all below them.

    Parameters
    ----------
    paths : iterable of str or Path
        In the order they are to be read.
    endings : iterable of str, optional
        Endings of the files taken from a folder; those that an importer reads unless given.

    Returns
    -------
    list of str
        A folder's files sorted by path; hidden ones, and those that nothing reads, are passed over.

    Raises
    ------
    UsageError
        If a folder cannot be listed, or holds no such file.
    """
    wanted = set(endings) or {suffix for known in importers().values() for suffix in known.suffixes}
    found: dict[str, None] = {}
    for path in paths:
        if not Path(path).is_dir():
            found[str(path)] = None
            continue
        inside = sorted(_below(Path(path), wanted))
        if not inside:
            raise UsageError(
                f"{path}: the folder holds no file that can be read. Files end in {', '.join(sorted(wanted))}."
            )
        found |= dict.fromkeys(inside)
    return list(found)


def _below(folder: Path, wanted: set[str]) -> Iterator[str]:
    def told(problem: OSError) -> None:
        raise UsageError(
            f"{problem.filename}: {problem.strerror or problem}. Give folders that may be read."
        ) from problem

    for place, folders, names in os.walk(folder, onerror=told):
        folders[:] = [name for name in folders if not name.startswith(".")]
        for name in names:
            if not name.startswith((".", "~$")) and Path(name).suffix.lower() in wanted:
                yield str(Path(place) / name)


def read_incoming(files: Iterable[str], read: Read, stopped: Callable[[], bool]) -> Iterator[Incoming]:
    """Yield files as read, one at a time.

    Parameters
    ----------
    files : iterable of str
        Their paths.
    read : callable
        From bytes and name to records.
    stopped : callable
        Asked before each file; once it says so no more are read.
    """
    for name in files:
        if stopped():
            return
        try:
            with Path(name).open("rb") as file:
                data = file.read(LARGEST + 1)
        except OSError as problem:
            fault = Fault(
                name,
                None,
                "",
                "",
                f"The file cannot be opened: {problem.strerror or type(problem).__name__}.",
                "a readable file",
                "Check its name.",
            )
            yield Incoming(name, b"", faults=(fault,))
            continue
        try:
            yield Incoming(name, data, read(data, name))
        except InputError as problem:
            yield Incoming(name, b"", faults=tuple(problem.faults))


def recipe_reader(
    memory: StoreMemory, recipe: str | None, overrides: Mapping[str, str]
) -> tuple[Read, tuple[str, ...]]:
    """Return what reads files, and the endings it takes from folders (none: those of every importer).

    Parameters
    ----------
    memory : StoreMemory
        Keeps recipes by name.
    recipe : str or None
        File or name of a recipe; each file's own importer where there is none.
    overrides : mapping of str to str
        Keys given as options, as typed, for every file.

    Raises
    ------
    InputError, UsageError
        If the recipe cannot be had.
    """
    given = dict(overrides)
    if recipe is None:
        return (lambda data, name: read_bytes(data, name, given)), ()
    from soakage.importers.recipe import Kind
    from soakage.importers.recipe_read import read_with

    chosen = recipe_named(memory, recipe)
    endings = (".xlsx", ".xlsm") if chosen.kind is Kind.XLSX else (".csv", ".txt", ".tsv")
    return (lambda data, name: read_with(chosen, data, name, given)), endings


def import_files(
    memory: Memory,
    files: Sequence[str],
    rules: Rules,
    *,
    read: Read | None = None,
    dry_run: bool = False,
    seen: Seen | None = None,
    kept: Seen | None = None,
    stopped: Callable[[], bool] = lambda: False,
    outcome: Intake | None = None,
) -> Intake:
    """Import files into a store.

    Parameters
    ----------
    memory : Memory
        The store in somebody's hands.
    files : sequence of str
        As `files_in` finds them.
    rules : Rules
        What judges.
    read : callable, optional
        From bytes and name to records; each file's own importer unless given.
    dry_run : bool
        Say what would come of it and keep nothing.
    seen, kept : callable, optional
        Called with the number of files read, and of those that are on the disk.
    stopped : callable, optional
        Asked before each file; once it says so the files read so far are kept and no more are read.
    outcome : Intake, optional
        Filled as the import goes on.

    Returns
    -------
    Intake
    """
    chosen = read or read_bytes

    def counted() -> Iterator[Incoming]:
        for number, file in enumerate(read_incoming(files, chosen, stopped), start=1):
            if seen is not None:
                seen(number)
            yield file

    return take_in(memory, counted(), rules, dry_run=dry_run, progress=kept, outcome=outcome)
