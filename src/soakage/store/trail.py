"""The entries of the journal as they stand on the disk, and whether their chains hold: one pass, little memory."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping

from sqlalchemy import ColumnElement, Connection, and_, or_, select

from soakage.app.journal import HERE, START, Entry, TrailFault, entry_faults
from soakage.store import schema
from soakage.store.asking import rows, streamed
from soakage.store.writing import BEGUN, entry_of

Chains = dict[str, tuple[int, str]]


def entries(connection: Connection, *, shared_only: bool = False) -> Iterator[Entry]:
    """Yield every entry, chain by chain in order.

    Parameters
    ----------
    connection : Connection
        Reading.
    shared_only : bool
        Leave out the chains that stay in their store.
    """
    query = select(schema.entry).order_by(schema.entry.c.store, schema.entry.c.number, schema.entry.c.hash)
    if shared_only:
        query = query.where(schema.entry.c.store.not_like(f"%{HERE}"))
    for row in streamed(connection, query):
        yield entry_of(row)


def told(connection: Connection, condition: ColumnElement[bool] | None = None) -> Iterator[Entry]:
    """Yield entries in the order in which they were made.

    Parameters
    ----------
    connection : Connection
        Reading.
    condition : ColumnElement, optional
        On the table of entries; all of them unless given.
    """
    query = select(schema.entry).order_by(schema.entry.c.at, schema.entry.c.hash)
    if condition is not None:
        query = query.where(condition)
    for row in streamed(connection, query):
        yield entry_of(row)


def of_asset(asset: str) -> ColumnElement[bool]:
    """Return what picks the entries on an asset and on its tests and visits."""
    entry = schema.entry.c
    tests = select(schema.test.c.id).where(schema.test.c.asset == asset)
    visits = select(schema.visit.c.id).where(schema.visit.c.asset == asset)
    return or_(
        and_(entry.kind == "asset", entry.subject == asset),
        and_(entry.kind == "test", entry.subject.in_(tests)),
        and_(entry.kind == "visit", entry.subject.in_(visits)),
    )


def of_subject(kind: str, subject: str) -> ColumnElement[bool]:
    """Return what picks the entries on one subject."""
    return and_(schema.entry.c.kind == kind, schema.entry.c.subject == subject)


def own_chains(connection: Connection) -> Chains:
    """Return the chains this store writes: number of their entries and hash of the last, by name."""
    return {row["store"]: (row["number"], row["head"]) for row in rows(connection, select(schema.chain))}


def owed_chains(connection: Connection) -> Chains:
    """Return chains that must be whole up to an entry: this store's own, and those it wrote before."""
    owed: Chains = {}
    query = select(schema.entry.c.body).where(
        schema.entry.c.action == BEGUN, schema.entry.c.kind == "setting", schema.entry.c.body.is_not(None)
    )
    for row in rows(connection, query):
        for name, (number, head) in json.loads(row["body"]).get("chains", {}).items():
            owed[name] = max(owed.get(name, (0, START)), (number, head))
    return owed | own_chains(connection)


class ChainsHeld:
    """Verifies chains while their entries go by, ordered by chain and by number.

    Parameters
    ----------
    owed : mapping
        Chains that must be whole: number and hash of the last entry owed, by name. Of any other chain a part may
        have been brought; the entries before it that are not here are counted as gaps.
    own : iterable of str
        Chains that nobody else may have written to, so that nothing stands behind the last entry owed.
    """

    def __init__(self, owed: Mapping[str, tuple[int, str]], own: Iterable[str] = ()) -> None:
        self._owed, self._own = dict(owed), set(own)
        self._store: str | None = None
        self._number = 0
        self._here: dict[str, int] = {}  # time by hash of the entries at this place of the chain
        self._before: dict[str, int] = {}
        self._reached: set[str] = set()
        self.entries = self.gaps = self.forks = 0

    def faults(self, found: Iterable[Entry]) -> Iterator[TrailFault]:
        """Yield what does not hold.

        Parameters
        ----------
        found : iterable of Entry
            All entries, ordered by chain and by number.
        """
        for entry in found:
            yield from self.feed(entry)
        yield from self.missing()

    def feed(self, entry: Entry) -> Iterator[TrailFault]:
        """Yield what is wrong with the next entry."""
        self.entries += 1
        for problem in entry_faults(entry):
            yield TrailFault(entry.store, entry.number, entry.hash, problem)
        if entry.store != self._store:
            self._store, self._before, self._here = entry.store, {}, {}
        elif entry.number != self._number:
            self._before = self._here if entry.number == self._number + 1 else {}
            self._here = {}
        else:
            self.forks += 1  # two stores wrote one chain: a copy of the file was used
        self._number = entry.number
        self._here[entry.hash] = entry.at
        problem = self._place(entry)
        if problem:
            yield TrailFault(entry.store, entry.number, entry.hash, problem)
        if self._owed.get(entry.store) == (entry.number, entry.hash):
            self._reached.add(entry.store)

    def _place(self, entry: Entry) -> str:
        number, _ = self._owed.get(entry.store, (0, ""))
        if entry.number == 1:
            return "" if entry.previous == START else "It is the first and names one before it."
        if entry.store in self._own and entry.number > number:
            return "It stands behind the last entry that this store wrote."
        if entry.previous in self._before:
            early = self._before[entry.previous] > entry.at
            return "It is older than the entry before it." if early else ""
        if self._before:
            return "It does not follow the entry before it."
        if entry.number <= number:
            return "The entry before it is missing."
        self.gaps += 1
        return ""

    def missing(self) -> Iterator[TrailFault]:
        """Yield the chains whose last entry did not come by."""
        for name, (number, head) in sorted(self._owed.items()):
            if number and name not in self._reached:
                yield TrailFault(
                    name, number, head, "The last entry of this chain is missing, or another is there."
                )
