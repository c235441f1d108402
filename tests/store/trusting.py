"""Ground for the tests of trust: stores with few but real tests, and hands that spoil them."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from itertools import count
from pathlib import Path

from sqlalchemy import Connection, Executable

from keeping import all_files, incoming, lay_down, own_folder
from soakage.app.intake import take_in
from soakage.app.journal import STATED_IDENTITY, Entry, made_entry
from soakage.app.rules import default_rules
from soakage.store import schema
from soakage.store.address import address
from soakage.store.engine import engine_of
from soakage.store.memory import StoreMemory
from soakage.store.store import Store

PERSON = "N. Invented"
START_OF_TIME = 1_700_000_000_000_000


def clock(start: int = START_OF_TIME) -> Callable[[], int]:
    """Return a clock that goes on by a second each time it is looked at."""
    ticks = count(start, 1_000_000)
    return lambda: next(ticks)


@cache
def ready(files: int, skip: int) -> Path:
    """A file with some tests of the invented history; made once, gone with the process."""
    path = own_folder() / "ready.sqlite"
    with Store(address(str(path))) as store:
        chosen = dict(list(all_files().items())[skip : skip + files])
        take_in(StoreMemory(store, PERSON), incoming(chosen), default_rules())
    return path


@contextmanager
def kept(place: str, files: int = 3, skip: int = 0) -> Iterator[Store]:
    """A store with some tests of the invented history in it; two of the same tests are copies, with one name."""
    lay_down(ready(files, skip), place)
    with Store(address(place)) as store:
        yield store


def spoil(place: str, *statements: Executable) -> None:
    """Change rows behind the back of the store."""
    engine = engine_of(address(place))
    with engine.connect().execution_options(writing=True) as connection:
        if connection.dialect.name == "sqlite":
            connection.exec_driver_sql("pragma foreign_keys = off")
            connection.rollback()
        with connection.begin():
            for statement in statements:
                connection.execute(statement)
    engine.dispose()


def everything(connection: Connection) -> dict[str, list[tuple[object, ...]]]:
    """Return all rows of all tables."""
    return {
        name: sorted((tuple(row) for row in connection.execute(table.select())), key=repr)
        for name, table in schema.metadata.tables.items()
    }


def entry(
    number: int = 1,
    *,
    store: str = "a" * 32,
    previous: str = "0" * 64,
    at: int | None = None,
    person: str = PERSON,
    kind: str = "asset",
    subject: str = "s" * 32,
    action: str = "stated",
    parents: tuple[str, ...] = (),
    reason: str = "",
    body: dict[str, object] | None = None,
) -> Entry:
    """Return an entry with its hashes."""
    return made_entry(
        store=store,
        number=number,
        previous=previous,
        at=START_OF_TIME + number if at is None else at,
        person=person,
        identity=STATED_IDENTITY,
        kind=kind,
        subject=subject,
        action=action,
        parents=parents,
        reason=reason,
        body=body or {},
    )


def raw(place: str) -> sqlite3.Connection:
    """Return the driver's connection to a file, without anything of ours set."""
    return sqlite3.connect(place, isolation_level=None)
