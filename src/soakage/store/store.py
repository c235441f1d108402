"""A store, opened: where writing begins and ends, and the entries and blobs in it."""

from __future__ import annotations

import sqlite3
import time
import uuid
import weakref
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Lock
from typing import Any, Self

from sqlalchemy import Connection, Engine, select
from sqlalchemy.exc import SQLAlchemyError

from soakage.app.journal import STATED_IDENTITY
from soakage.errors import StoreError
from soakage.model.stated import digest
from soakage.store import schema
from soakage.store.address import Address
from soakage.store.asking import rows
from soakage.store.engine import empty_engine, engine_of
from soakage.store.migrating import brought_up_to_date
from soakage.store.packing import unpacked
from soakage.store.saying import said
from soakage.store.writing import Writer


def microseconds() -> int:
    """Return the time now in microseconds since 1970 UTC."""
    return time.time_ns() // 1000


def new_name() -> str:
    """Return an id that no other store has."""
    return uuid.uuid4().hex


class Store:
    """One store, at one address.

    Parameters
    ----------
    where : Address
        Its place. A file that does not exist is an empty store; it is made when first written to.
    now : callable, optional
        The clock: microseconds since 1970 UTC.
    name : callable, optional
        Gives the id of a store that is made.
    """

    def __init__(
        self,
        where: Address,
        now: Callable[[], int] = microseconds,
        name: Callable[[], str] = new_name,
    ) -> None:
        self.where = where
        self._now, self._name = now, name
        self._engine: Engine | None = None
        self._let_go: weakref.finalize[[], Store] | None = None
        self._opening = Lock()

    def close(self) -> None:
        """Let go of the database."""
        with self._opening:
            if self._let_go is not None:
                self._let_go()
            self._engine = self._let_go = None

    def __enter__(self) -> Self:
        """Return itself; it is closed at the end."""
        return self

    def __exit__(self, *_problem: object) -> None:
        """Close it."""
        self.close()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one state of the store throughout.

        Raises
        ------
        StoreError
            If it cannot be opened or read.
        """
        with self._begun(writing=False) as connection:
            yield connection

    @contextmanager
    def writing(self, person: str, identity: str = STATED_IDENTITY) -> Iterator[Writer]:
        """Give a writer; what it collected is on the disk when the block ends, or nothing of it after an error.

        Parameters
        ----------
        person : str
            Who makes the change.
        identity : str
            How far that name can be trusted.

        Raises
        ------
        StoreError
            If it cannot be opened or written.
        """
        with self._begun(writing=True) as connection:
            # one writer at a time: whoever holds these rows; always locked in the same order
            names = select(schema.chain.c.store).order_by(schema.chain.c.store).with_for_update()
            store = connection.execute(names).scalars().first()
            # on a server those rows may have been replaced while we waited for them: by a restore
            store = store or connection.execute(names).scalars().first()
            if store is None:
                raise StoreError(f"{self.where}: the store has lost its own name. Run 'soakage check'.")
            writer = Writer(connection, store, person, identity, self._now)
            yield writer
            writer.flush()

    def blob(self, connection: Connection, sha256: str) -> bytes:
        """Return the bytes kept under a hash.

        Raises
        ------
        StoreError
            If there are none, or they are not what was kept.
        """
        row = next(rows(connection, select(schema.blob).where(schema.blob.c.sha256 == sha256)), None)
        if row is None:
            raise StoreError(f"{self.where}: the content {sha256[:12]} is not here. Run 'soakage check'.")
        content = unpacked(row)
        if digest(content) != sha256:
            raise StoreError(f"{self.where}: the content {sha256[:12]} is damaged. Run 'soakage check'.")
        return content

    @property
    def id(self) -> str:
        """Id of this store; empty while it does not exist."""
        with self.reading() as connection:
            names = connection.execute(select(schema.chain.c.store).order_by(schema.chain.c.store))
            return names.scalars().first() or ""

    @contextmanager
    def _begun(self, *, writing: bool) -> Iterator[Connection]:
        try:
            engine = self._opened(writing=writing)
            passing = engine is None
            engine = engine or empty_engine()
            options: dict[str, Any] = {"writing": True} if writing else {}
            if engine.dialect.name == "postgresql" and not writing:
                options = {"isolation_level": "REPEATABLE READ"}
            try:
                with engine.connect().execution_options(**options) as connection, connection.begin():
                    yield connection
            finally:
                if passing:
                    engine.dispose()
        except (SQLAlchemyError, sqlite3.Error) as problem:
            raise said(problem, self.where) from problem

    def _opened(self, *, writing: bool) -> Engine | None:
        """Return the engine; None while the store does not exist and is only read."""
        with self._opening:
            if self._engine is not None:
                return self._engine
            try:
                missing = self.where.missing
                if missing and not writing:
                    return None
                if missing and self.where.path is not None:
                    self.where.path.parent.mkdir(parents=True, exist_ok=True)
            except OSError as problem:
                raise StoreError(
                    f"{self.where}: {problem.strerror or problem}. Nothing was changed. "
                    "Choose another place with --store."
                ) from None
            if missing:
                self._make()
            # from here on a file that is gone is a fault, and no empty store
            engine = engine_of(self.where, making=False)
            try:
                brought_up_to_date(engine, self.where, self._name())
            except BaseException:
                engine.dispose()
                raise
            # also where nobody closes it: a server holds a place for each connection
            self._engine, self._let_go = engine, weakref.finalize(self, engine.dispose)
            return engine

    def _make(self) -> None:
        engine = engine_of(self.where)
        try:
            brought_up_to_date(engine, self.where, self._name())
        finally:
            engine.dispose()
