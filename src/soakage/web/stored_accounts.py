"""Accounts in the store: they belong to this place, and are in no bundle."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from sqlalchemy import delete, func, select, update

from soakage.app.journal import STATED_IDENTITY
from soakage.store import schema
from soakage.store.asking import rows
from soakage.store.store import Store, microseconds
from soakage.web.account_audit import CHANGED, CLOSED, OPENED, account_noted
from soakage.web.accounts import Account, Role

FRESH = 2.0
"""Seconds: a server sees within this time that an account was opened or closed by another program."""


@dataclass(frozen=True, slots=True)
class Listed:
    """An account as it is listed: without its hash."""

    name: str
    role: Role
    closed: bool


class StoreAccounts:
    """Accounts in a store.

    Parameters
    ----------
    store : Store
        Where they are kept.
    person : str
        Who changes them.
    clock : callable
        Seconds that only go up.
    """

    def __init__(
        self, store: Store, person: str = "accounts", clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._store, self._person, self._clock = store, person, clock
        self._seen: dict[str, tuple[float, Account | None]] = {}
        self._some: tuple[float, bool] | None = None

    def get(self, name: str) -> Account | None:
        """Return the account of a name, unless it is closed."""
        seen = self._seen.get(name)
        if seen is not None and self._clock() - seen[0] < FRESH:
            return seen[1]
        row = None
        if not self._store.where.missing:
            query = select(schema.account).where(
                schema.account.c.name == name, schema.account.c.closed.is_(False)
            )
            with self._store.reading() as connection:
                row = next(rows(connection, query), None)
        found = Account(row["name"], row["hash"], Role(row["role"])) if row else None
        if len(self._seen) > 1000:  # names that were guessed
            self._seen.clear()
        self._seen[name] = (self._clock(), found)
        return found

    def any(self) -> bool:
        """Return whether there is one that is not closed."""
        if self._some is None or self._clock() - self._some[0] >= FRESH:
            count = 0
            if not self._store.where.missing:
                query = select(func.count()).where(schema.account.c.closed.is_(False))
                with self._store.reading() as connection:
                    count = connection.execute(query).scalar_one()
            self._some = (self._clock(), count > 0)
        return self._some[1]

    def keep(self, account: Account) -> None:
        """Keep an account, new or changed; one that was closed is open again."""
        now = microseconds()
        values = {"hash": account.hash, "role": account.role.value, "closed": False, "changed": now}
        with self._store.writing(self._person, STATED_IDENTITY) as writer:
            changed = writer.connection.execute(
                update(schema.account).where(schema.account.c.name == account.name).values(**values)
            )
            account_noted(writer, CHANGED if changed.rowcount else OPENED, account.name, account.role.value)
            if not changed.rowcount:
                writer.connection.execute(
                    schema.account.insert().values(name=account.name, made=now, **values)
                )
        self.forget()

    def close(self, name: str) -> bool:
        """Close an account; its sessions end.  Return whether there was one.

        Parameters
        ----------
        name : str
            As it was given when it was made.
        """
        with self._store.writing(self._person, STATED_IDENTITY) as writer:
            closed = writer.connection.execute(
                update(schema.account)
                .where(schema.account.c.name == name, schema.account.c.closed.is_(False))
                .values(closed=True, changed=microseconds())
            )
            writer.connection.execute(delete(schema.session).where(schema.session.c.account == name))
            if closed.rowcount:
                account_noted(writer, CLOSED, name)
        self.forget()
        return bool(closed.rowcount)

    def listed(self) -> list[Listed]:
        """Return every account, by name."""
        if self._store.where.missing:
            return []
        columns = (schema.account.c.name, schema.account.c.role, schema.account.c.closed)
        with self._store.reading() as connection:
            found = rows(connection, select(*columns).order_by(schema.account.c.name))
            return [Listed(row["name"], Role(row["role"]), bool(row["closed"])) for row in found]

    def forget(self) -> None:
        """Look again: somebody else changed them."""
        self._seen.clear()
        self._some = None
