"""Engines for both databases, set so that what is acknowledged is on the disk and writers wait for one another."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.pool import NullPool, StaticPool

from soakage.errors import UsageError
from soakage.store.address import Address

BUSY_SECONDS = 30
_PRAGMAS = (
    "foreign_keys = on",
    "synchronous = full",
    "cell_size_check = on",
    "temp_store = file",
    "cache_size = -65536",
)


def engine_of(where: Address, *, making: bool = True) -> Engine:
    """Return the engine of an address; nothing is opened yet.

    Parameters
    ----------
    where : Address
        Its place.
    making : bool
        Whether a file that does not exist is made when it is opened.

    Returns
    -------
    Engine

    Raises
    ------
    UsageError
        If the packages for PostgreSQL are not installed.
    """
    if where.path is not None:
        path = where.path
        return _sqlite(lambda: opened(path, making=making), NullPool)
    try:
        return create_engine(where.server or "", pool_pre_ping=True, isolation_level="READ COMMITTED")
    except ModuleNotFoundError:
        raise UsageError(
            "A PostgreSQL store needs its driver. Install it with: pip install 'soakage[office]'"
        ) from None


def empty_engine() -> Engine:
    """Return an engine on an empty store that lives in memory: what a store is before it exists."""
    from soakage.store.schema import metadata

    engine = _sqlite(lambda: _set(sqlite3.connect(":memory:", check_same_thread=False)), StaticPool)
    metadata.create_all(engine)
    return engine


def resting_engine(path: Path) -> Engine:
    """Return an engine on a file that nobody writes to: it is read as it lies, and nothing is made beside it."""
    uri = f"file:{quote(str(path.absolute()))}?mode=ro&immutable=1"
    return _sqlite(lambda: _set(sqlite3.connect(uri, uri=True, check_same_thread=False)), NullPool)


def opened(path: Path, *, making: bool = False, reading: bool = False) -> sqlite3.Connection:
    """Return a connection to a file; what may only be read is opened so.

    Parameters
    ----------
    path : Path
        The file.
    making : bool
        Whether it is made where it does not exist.
    reading : bool
        Leave the file as it lies, and make nothing beside it.

    Returns
    -------
    sqlite3.Connection
        That begins nothing by itself.

    Raises
    ------
    sqlite3.Error
        If it cannot be opened, or is no database.
    """
    writable = not reading and _writable(path)
    mode = ("rwc" if making else "rw") if writable else "ro"
    uri = f"file:{quote(str(path.absolute()))}?mode={mode}"
    log = path.with_name(f"{path.name}-wal")
    if not writable and not (log.exists() and log.stat().st_size):
        uri += "&immutable=1"  # no lock and no log can be made there, and nobody writes
    connection = sqlite3.connect(uri, uri=True, timeout=BUSY_SECONDS, check_same_thread=False)
    try:
        _set(connection)
        if writable:
            connection.execute("pragma journal_mode = wal")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def _writable(path: Path) -> bool:
    own = os.access in os.supports_effective_ids
    return all(
        os.access(there, os.W_OK, effective_ids=own) for there in (path.parent, path) if there.exists()
    )


def _set(connection: sqlite3.Connection) -> sqlite3.Connection:
    # The driver begins nothing by itself: `begin` below does, so that schema changes are in transactions too.
    connection.isolation_level = None
    # its own knows only the letters of English; PostgreSQL knows those of the locale of its database
    connection.create_function("lower", 1, _lower, deterministic=True)
    for pragma in _PRAGMAS:
        connection.execute(f"pragma {pragma}")
    return connection


def _lower(text: str | None) -> str | None:
    return None if text is None else text.lower()


def _sqlite(creator: Any, pool: Any) -> Engine:  # noqa: ANN401 - a callable and a class of SQLAlchemy's
    engine = create_engine("sqlite://", creator=creator, poolclass=pool)

    @event.listens_for(engine, "begin")
    def _begin(connection: Any) -> None:  # noqa: ANN401
        # One writer: it asks for the lock before it reads, or two would read the same head of the chain.
        writing = connection.get_execution_options().get("writing", False)
        connection.exec_driver_sql("begin immediate" if writing else "begin")

    return engine
