"""A backup brought back: verified before it replaces anything, and with a chain of its own from there on."""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import delete, select

from soakage.app.journal import STATED_IDENTITY
from soakage.errors import StoreError, UsageError
from soakage.store import schema
from soakage.store.address import Address
from soakage.store.backup import LOG, back_up
from soakage.store.checking import checked, repair
from soakage.store.checkup import LEFT, TABLES
from soakage.store.copying import copy_tables, extent
from soakage.store.engine import BUSY_SECONDS, opened
from soakage.store.saying import LOCKED, is_damage, said
from soakage.store.store import Store, new_name

_PAUSE = 0.25  # seconds between two tries while another program writes


@dataclass(frozen=True, slots=True)
class Restored:
    """What came of it.

    Parameters
    ----------
    store : str
        Id the store has now: a new one, so that two copies never write one chain.
    was : str
        Id of the store that was backed up.
    counts : dict of str to int
        Rows by table.
    kept : Path or None
        Backup of what was there before, or the file itself where it was damaged.
    rebuilt : bool
        Whether tables that follow from the journal had to be made anew.
    """

    store: str
    was: str
    counts: dict[str, int]
    kept: Path | None
    rebuilt: bool


def restore(
    path: Path,
    store: Store,
    person: str,
    *,
    identity: str = STATED_IDENTITY,
    force: bool = False,
    keep: Path | None = None,
    now: Callable[[], datetime] = lambda: datetime.now(UTC),
) -> Restored:
    """Bring a backup back into an empty store, or in place of what is there.

    Parameters
    ----------
    path : Path
        The backup, of either engine.
    store : Store
        Where it goes.
    person, identity : str
        Who does it, and how far that name can be trusted.
    force : bool
        Replace a store that holds something; it is backed up first.
    keep : Path, optional
        Name of that backup.
    now : callable, optional
        The clock that names it.

    Returns
    -------
    Restored

    Raises
    ------
    UsageError
        If there is no such file, or the store holds something and is not to be replaced.
    StoreError
        If the backup is damaged, or cannot be written; what was there is unchanged.
    """
    if not path.is_file():
        raise UsageError(f"{path}: there is no such file. Give the backup to bring back.")
    there = store.where.path
    if there is not None and there.exists() and there.samefile(path):
        raise UsageError(f"{path}: that is the store itself. Give a backup.")
    broken = _broken(store)
    if (broken or _holds(store)) and not force:
        raise UsageError(
            f"{store.where}: this store holds something. Give --force to replace it; it is backed up first."
        )
    beside = Path.cwd() if there is None else there.parent
    name = f"{there.stem if there else 'store'}-before-{now():%Y%m%d-%H%M%S}.sqlite"
    try:
        beside.mkdir(parents=True, exist_ok=True)
        with (
            tempfile.TemporaryDirectory(prefix=".soakage-", dir=None if there is None else beside) as folder,
            Store(Address(path=Path(folder) / "restored.sqlite")) as ready,
        ):
            was, rebuilt = _prepare(path, ready, person, identity)
            kept = None
            if broken or _holds(store):
                kept = _keep(store, keep or beside / name, person, identity)
            _replace(ready, store, person)
            counts = _same(ready, store)
    except OSError as problem:
        raise StoreError(f"{store.where}: {problem.strerror or problem}. Nothing was changed.") from problem
    return Restored(store.id, was, counts, kept, rebuilt)


def _broken(store: Store) -> bool:
    """Return whether there is a file that cannot even be opened as a store."""
    if store.where.path is None or store.where.missing:
        return False
    try:
        with store.reading() as connection:
            connection.execute(select(schema.chain.c.store)).first()
    except StoreError as problem:
        if is_damage(problem):
            return True
        raise
    return False


def _holds(store: Store) -> bool:
    """Return whether a store that can be read holds anything that would be lost."""
    if store.where.missing:
        return False
    with store.reading() as connection:
        return any(connection.execute(select(table)).first() for table in (schema.entry, *schema.LOCAL))


def _keep(store: Store, kept: Path, person: str, identity: str) -> Path:
    """Back up what is there; a file too damaged for that is set aside as it is."""
    try:
        back_up(store, kept, person, identity=identity)
    except StoreError as problem:
        if store.where.path is None or not is_damage(problem):
            raise
        if kept.exists():
            raise UsageError(
                f"{kept}: a file of that name is there. Give another name with --keep."
            ) from None
        for ending in ("", "-wal", "-shm"):
            with suppress(FileNotFoundError):
                store.where.path.with_name(store.where.path.name + ending).rename(
                    kept.with_name(kept.name + ending)
                )
    return kept


def _prepare(path: Path, ready: Store, person: str, identity: str) -> tuple[str, bool]:
    """Copy a backup, bring its schema up to date, check it, and give it a chain of its own."""
    try:
        with (
            closing(opened(path, reading=True)) as source,
            closing(sqlite3.connect(str(ready.where.path))) as target,
        ):
            source.backup(target)
    except sqlite3.Error as problem:
        raise said(problem, Address(path=path)) from problem
    try:
        checkup = checked(ready)
    except StoreError as problem:
        raise StoreError(f"{path}: it cannot be brought back. {_without_place(problem, ready)}") from problem
    broken = [flaw for flaw in checkup.flaws if flaw.part not in (TABLES, LEFT)]
    if broken:
        raise StoreError(
            f"{path}: this backup is damaged ({broken[0].place}: {broken[0].problem}). Nothing was changed. "
            "Bring another one back."
        )
    rebuilt = bool(checkup.found[TABLES])
    was = ready.id
    with ready.writing(person, identity) as writer:
        writer.begin_chains(new_name())
        if rebuilt:
            repair(writer)
        writer.add(*LOG, "restored", {"file": path.name}, shared=False)
    return was, rebuilt


def _without_place(problem: StoreError, store: Store) -> str:
    return str(problem).removeprefix(f"{store.where}: ")


def _replace(ready: Store, store: Store, person: str) -> None:
    """Put a store in the place of another, in one transaction."""
    place = store.where.path
    if place is None:
        with ready.reading() as source, store.writing(person) as writer:
            for table in reversed(schema.metadata.sorted_tables):
                writer.connection.execute(delete(table))
            copy_tables(source, writer.connection)
        return
    waited = 0.0

    def wait(_status: int, _left: int, _pages: int) -> None:
        nonlocal waited
        waited += _PAUSE
        if waited > BUSY_SECONDS:
            raise StoreError(f"{store.where}: {LOCKED}")

    try:
        with (
            closing(opened(ready.where.path or place)) as made,
            closing(opened(place, making=True)) as file,
        ):
            made.backup(file, progress=wait, sleep=_PAUSE)
    except sqlite3.Error as problem:
        raise said(problem, store.where) from problem


def _same(ready: Store, store: Store) -> dict[str, int]:
    """Return how many rows a store has, once it is held against the one it was made from."""
    with ready.reading() as made, store.reading() as there:
        counts = extent(there)
        if counts != extent(made):
            raise StoreError(f"{store.where}: it is not what the backup is. Run 'soakage check'.")
    return counts[0]
