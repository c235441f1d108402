"""A store, opened: where writing begins and ends, and the entries and blobs in it."""

from __future__ import annotations

import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, Self

from sqlalchemy import Connection, Engine, select
from sqlalchemy.exc import SQLAlchemyError

from soakage.app.journal import STATED_IDENTITY
from soakage.errors import StoreError
from soakage.model.stated import digest
from soakage.store import schema
from soakage.store.address import Address
from soakage.store.asking import rows
from soakage.store.engine import empty_engine, engine_of, said
from soakage.store.migrating import brought_up_to_date
from soakage.store.writing import Writer, unpacked


def microseconds() -> int:
    """Return the time now in microseconds since 1970 UTC."""
    return time.time_ns() // 1000


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
        name: Callable[[], str] = lambda: uuid.uuid4().hex,
    ) -> None:
        self.where = where
        self._now, self._name = now, name
        self._engine: Engine | None = None
        self._empty: Engine | None = None

    def close(self) -> None:
        """Let go of the database."""
        for engine in (self._engine, self._empty):
            if engine is not None:
                engine.dispose()
        self._engine = self._empty = None

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
            store = (
                connection.execute(select(schema.chain.c.store).order_by(schema.chain.c.store))
                .scalars()
                .first()
            )
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
            options: dict[str, Any] = {"writing": True} if writing else {}
            if engine.dialect.name == "postgresql" and not writing:
                options = {"isolation_level": "REPEATABLE READ"}
            with engine.connect().execution_options(**options) as connection, connection.begin():
                yield connection
        except SQLAlchemyError as problem:
            raise said(problem, self.where) from problem

    def _opened(self, *, writing: bool) -> Engine:
        if self._engine is not None:
            return self._engine
        if self.where.missing:
            if not writing:
                if self._empty is None:
                    self._empty = empty_engine()
                    brought_up_to_date(self._empty, self.where, "")
                return self._empty
            self._make_folder()
        engine = engine_of(self.where)
        brought_up_to_date(engine, self.where, self._name())
        self._engine = engine
        return engine

    def _make_folder(self) -> None:
        folder = self.where.path.parent if self.where.path is not None else None
        if folder is not None:
            try:
                folder.mkdir(parents=True, exist_ok=True)
            except OSError as problem:
                raise StoreError(
                    f"{folder}: the folder cannot be made: {problem.strerror or problem}. "
                    "Choose another place with --store."
                ) from None
