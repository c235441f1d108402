"""A backup while others work: one file of SQLite, the same for both engines, verified before it has its name."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection
from sqlalchemy.exc import SQLAlchemyError

from soakage.app.journal import STATED_IDENTITY
from soakage.errors import StoreError, UsageError
from soakage.store.address import Address
from soakage.store.checking import check_connection
from soakage.store.checkup import Checkup
from soakage.store.copying import copy_tables, driver, extent
from soakage.store.engine import engine_of, resting_engine
from soakage.store.migrating import brought_up_to_date
from soakage.store.saying import said
from soakage.store.store import Store
from soakage.store.trail import Chains

LOG = ("setting", "store")  # kind and subject of what is noted about the store itself


@dataclass(frozen=True, slots=True)
class Backup:
    """A backup that was written.

    Parameters
    ----------
    path : Path
        The file.
    size : int
        Bytes.
    counts : dict of str to int
        Rows by table.
    chains : dict
        Number and hash of the last entry of each chain of the store.
    checkup : Checkup
        What its check found: nothing, where the store itself is whole.
    noted : bool
        Whether the store could note that it was backed up.
    """

    path: Path
    size: int
    counts: dict[str, int]
    chains: Chains
    checkup: Checkup
    noted: bool


def back_up(
    store: Store, path: Path, person: str, *, identity: str = STATED_IDENTITY, force: bool = False
) -> Backup:
    """Write a backup; others may read and write meanwhile.

    Parameters
    ----------
    store : Store
        What is backed up, as it is at one moment.
    path : Path
        File to write.
    person, identity : str
        Who does it, and how far that name can be trusted.
    force : bool
        Replace a file of that name, once the new one is verified and whole.

    Returns
    -------
    Backup

    Raises
    ------
    UsageError
        If there is no store, or a file of that name.
    StoreError
        If it cannot be written, or is not what the store is.
    """
    if store.where.missing:
        raise UsageError(f"{store.where}: there is no store yet, so nothing was backed up.")
    if store.where.path is not None and path.absolute() == store.where.path.absolute():
        raise UsageError(f"{path}: that is the store itself. Give the backup another name.")
    if path.exists() and not force:
        raise UsageError(
            f"{path}: a file of that name is there. Give another name, or --force to replace it."
        )
    part = path.with_name(f".{path.name}.part")
    try:
        part.unlink(missing_ok=True)
        part.touch(0o600)  # it holds what the store holds, hashes of passwords too
        with store.reading() as connection:
            counts, chains = extent(connection)
            try:
                _write(connection, part)
            except (SQLAlchemyError, sqlite3.Error) as problem:  # the backup's, not the store's
                raise said(problem, Address(path=path)) from problem
        checkup = _verified(part, counts, chains)
        if not checkup.whole and path.exists():
            raise StoreError(
                f"{path}: the store is damaged, so the backup that is there was kept. Run 'soakage check', and give "
                "another name to back up the store as it is."
            )
        _settle(part, path)
    except (SQLAlchemyError, sqlite3.Error) as problem:
        raise said(problem, Address(path=path)) from problem
    except OSError as problem:
        raise StoreError(f"{path}: {problem.strerror or problem}. No backup was written.") from problem
    finally:
        for name in (part, part.with_name(f"{part.name}-journal")):
            name.unlink(missing_ok=True)
    body = {"file": path.name, "chains": {name: list(end) for name, end in chains.items()}}
    try:
        with store.writing(person, identity) as writer:
            writer.add(*LOG, "backed_up", body, shared=False)
    except StoreError:
        noted = False  # a store that may only be read can still be backed up
    else:
        noted = True
    return Backup(path, path.stat().st_size, counts, chains, checkup, noted)


def _write(connection: Connection, part: Path) -> None:
    if connection.dialect.name == "sqlite":
        with closing(sqlite3.connect(part, isolation_level=None)) as file:
            driver(connection).backup(file)
            _alone(file)
        return
    where = Address(path=part)
    engine = engine_of(where)
    try:
        brought_up_to_date(engine, where, "")
        with engine.connect().execution_options(writing=True) as target, target.begin():
            copy_tables(connection, target)
    finally:
        engine.dispose()
    with closing(sqlite3.connect(part, isolation_level=None)) as last:
        _alone(last)


def _alone(target: sqlite3.Connection) -> None:
    """Leave one file that stands alone: no sessions in it, no log beside it."""
    target.execute("pragma secure_delete = on")
    target.execute("pragma foreign_keys = on")
    target.execute("delete from session")
    target.execute("pragma journal_mode = delete")


def _verified(part: Path, counts: dict[str, int], chains: Chains) -> Checkup:
    """Return the check of a backup.

    Raises
    ------
    StoreError
        If it is not what the store was.
    """
    engine = resting_engine(part)
    try:
        with engine.connect() as connection, connection.begin():
            if extent(connection) != (counts, chains):
                raise StoreError(
                    f"{part.name}: the backup is not what the store is. It was removed. Try again."
                )
            return check_connection(connection)
    finally:
        engine.dispose()


def _settle(part: Path, path: Path) -> None:
    """Give a file its name once it is on the disk."""
    with part.open("rb+") as file:
        os.fsync(file.fileno())
    part.replace(path)
    if hasattr(os, "O_DIRECTORY"):
        folder = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
