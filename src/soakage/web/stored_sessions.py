"""Sessions of accounts in the store: a browser stays logged in when the server is started again."""

from __future__ import annotations

import time
from collections.abc import Callable

from sqlalchemy import ColumnElement, delete, select, update

from soakage.app.journal import ACCOUNT_IDENTITY
from soakage.store import schema
from soakage.store.asking import rows
from soakage.store.store import Store
from soakage.web.accounts import Role
from soakage.web.sessions import IDLE, LONGEST, Person, Sessions, key_of, new_id

_SECOND = 1_000_000
_NOTED = 300 * _SECOND  # how exactly it is kept when a session was used last


class StoreSessions(Sessions):
    """Sessions in a store; only a hash of each id is kept.

    Parameters
    ----------
    store : Store
        Where.
    clock : callable
        Seconds since 1970 UTC: they go on while no server runs.
    """

    def __init__(self, store: Store, clock: Callable[[], float] = time.time) -> None:
        super().__init__(clock)
        self._store = store

    def begin(self, person: Person) -> str:
        """Return the id of a new session; those that have ended are removed."""
        session_id, now = new_id(), self._now()
        table = schema.session
        over = (table.c.used < now - int(IDLE * _SECOND)) | (table.c.made < now - int(LONGEST * _SECOND))
        with self._store.writing(person.name, ACCOUNT_IDENTITY) as writer:
            writer.connection.execute(delete(table).where(over))
            values = {"key": key_of(session_id).hex(), "account": person.name, "made": now, "used": now}
            writer.connection.execute(table.insert().values(**values))
        return session_id

    def person(self, session_id: str) -> Person | None:
        """Return whose session it is; None where there is none, or it or the account has ended."""
        if self._store.where.missing:
            return None
        table, account, now = schema.session, schema.account, self._now()
        key = key_of(session_id).hex()
        query = (
            select(table.c.made, table.c.used, account.c.name, account.c.role)
            .join(account, account.c.name == table.c.account)
            .where(table.c.key == key, account.c.closed.is_(False))
        )
        with self._store.reading() as connection:
            row = next(rows(connection, query), None)
        if row is None or now - row["used"] > IDLE * _SECOND or now - row["made"] > LONGEST * _SECOND:
            return None
        if now - row["used"] > _NOTED:
            with self._store.writing(row["name"], ACCOUNT_IDENTITY) as writer:
                writer.connection.execute(update(table).where(table.c.key == key).values(used=now))
        return Person(row["name"], Role(row["role"]), authenticated=True)

    def end(self, session_id: str) -> None:
        """End a session."""
        self._remove(schema.session.c.key == key_of(session_id).hex())

    def end_all(self, name: str) -> None:
        """End every session of a person, when the account changes."""
        self._remove(schema.session.c.account == name)

    def _remove(self, which: ColumnElement[bool]) -> None:
        if self._store.where.missing:
            return
        with self._store.writing("sessions", ACCOUNT_IDENTITY) as writer:
            writer.connection.execute(delete(schema.session).where(which))

    def _now(self) -> int:
        return int(self._clock() * _SECOND)
