"""Engines for both databases, set so that what is acknowledged is on the disk and writers wait for one another."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.pool import NullPool, StaticPool

from soakage.errors import StoreError, UsageError
from soakage.store.address import Address

BUSY_SECONDS = 30


def engine_of(where: Address) -> Engine:
    """Return the engine of an address; nothing is opened yet.

    Parameters
    ----------
    where : Address
        A file that does not exist yet is made when it is first written to.

    Returns
    -------
    Engine

    Raises
    ------
    UsageError
        If the packages for PostgreSQL are not installed.
    """
    if where.server is not None:
        try:
            return create_engine(where.server, pool_pre_ping=True, isolation_level="READ COMMITTED")
        except ModuleNotFoundError:
            raise UsageError(
                "A PostgreSQL store needs its driver. Install it with: pip install 'soakage[office]'"
            ) from None
    return _sqlite(str(where.path))


def empty_engine() -> Engine:
    """Return an engine on an empty store that lives in memory: what a store is before it exists."""
    return _sqlite(":memory:")


def _sqlite(path: str) -> Engine:
    pool: Any = StaticPool if path == ":memory:" else NullPool
    engine = create_engine(
        "sqlite://" if path == ":memory:" else f"sqlite:///{path}",
        connect_args={"timeout": BUSY_SECONDS, "check_same_thread": False},
        poolclass=pool,
    )

    @event.listens_for(engine, "connect")
    def _set(connection: Any, _record: Any) -> None:  # noqa: ANN401
        # The driver begins nothing by itself: `begin` below does, so that schema changes are in transactions too.
        connection.isolation_level = None
        # its own knows only the letters of English; PostgreSQL knows them all
        connection.create_function("lower", 1, _lower, deterministic=True)
        cursor = connection.cursor()
        for pragma in (
            f"busy_timeout = {BUSY_SECONDS * 1000}",
            "foreign_keys = on",
            "journal_mode = wal",
            "synchronous = full",
            "temp_store = memory",
            "cache_size = -65536",
            "mmap_size = 268435456",
        ):
            cursor.execute(f"pragma {pragma}")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Any) -> None:  # noqa: ANN401
        # One writer: it asks for the lock before it reads, or two would read the same head of the chain.
        writing = connection.get_execution_options().get("writing", False)
        connection.exec_driver_sql("begin immediate" if writing else "begin")

    return engine


def _lower(text: str | None) -> str | None:
    return None if text is None else text.lower()


def said(problem: BaseException, where: Address) -> StoreError:
    """Return what went wrong with a database, in words of the user's."""
    text = str(getattr(problem, "orig", None) or problem).strip()
    low = text.lower()
    for sign, sentence in _SAID:
        if sign in low:
            return StoreError(f"{where}: {sentence}")
    return StoreError(f"{where}: the store cannot be used. The database says: {text}")


_SAID = (
    ("readonly", "the store may only be read. Nothing was changed. Copy it to a folder that can be written."),
    (
        "read-only",
        "the store may only be read. Nothing was changed. Copy it to a folder that can be written.",
    ),
    (
        "disk is full",
        "the disk is full. Nothing of this step was kept, all before it was. Make room and repeat it.",
    ),
    (
        "no space left",
        "the disk is full. Nothing of this step was kept, all before it was. Make room and repeat it.",
    ),
    (
        "disk i/o",
        "the disk does not take or give the data. All that was acknowledged before is kept. Check the disk.",
    ),
    (
        "locked",
        f"another program has been writing for {BUSY_SECONDS} s. Nothing was changed. Try again when it is done.",
    ),
    ("malformed", "the store is damaged. Run 'soakage check', or restore a backup with 'soakage restore'."),
    ("not a database", "this file is no store of Soakage. Choose another file with --store."),
    ("unable to open", "the file cannot be opened or made. Check that its folder exists and may be written."),
    (
        "connection",
        "the server does not answer or was lost. What was acknowledged is kept. Repeat when it is back.",
    ),
    ("server closed", "the server was lost. What was acknowledged is kept. Repeat when it is back."),
    ("terminating", "the server was stopped. What was acknowledged is kept. Repeat when it is back."),
    ("does not exist", "no such database, or no such user. Check the address."),
    ("authentication", "the server does not accept this user or password. Check the address."),
)
