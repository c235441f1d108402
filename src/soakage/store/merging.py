"""Taking what another store holds: parcel by parcel, each in one transaction, each whole or not at all.

An interruption leaves the parcels taken so far; the same merge again takes the rest.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection, select, tuple_

from soakage.app.exchange import (
    Merged,
    Parcel,
    Subject,
    Together,
    by_subject,
    hashes_in,
    look,
    misplaced,
    purged,
    refusals,
    visits_of,
)
from soakage.app.folding import body_of
from soakage.app.holdings import holdings_plain
from soakage.app.journal import STATED_IDENTITY, Entry
from soakage.errors import StoreError
from soakage.store import schema
from soakage.store.asking import batches, rows
from soakage.store.holding import holdings
from soakage.store.purging import blobs_named
from soakage.store.rows import KINDS
from soakage.store.store import Store
from soakage.store.writing import Writer, entries_on, entry_of

EXCHANGES = ("setting", "exchange")  # what the entries of merges are on; they stay in this store
_HELD = 16 << 20  # bytes of blobs that are collected before they are written
_MOST_SPANS = 2000  # told in the log; where a store holds more pieces, the log does not say which


class Merging:
    """One merge into a store.

    Parameters
    ----------
    store : Store
        Into which.
    person : str
        Who merges.
    source : str
        Id of the store it comes from.
    identity : str
        How far the name of the person can be trusted.
    dry_run : bool
        Say what would come of it and keep nothing.
    name : callable, optional
        Gives a new id, should this store have been written on elsewhere.
    """

    def __init__(
        self,
        store: Store,
        person: str,
        source: str = "",
        identity: str = STATED_IDENTITY,
        *,
        dry_run: bool = False,
        name: Callable[[], str] = lambda: uuid.uuid4().hex,
    ) -> None:
        self._store, self._person, self._identity, self._name = store, person, identity, name
        self._begun: set[str] = set()  # visits that this merge brought first
        self.merged = Merged(source, dry_run=dry_run)

    def take(self, parcel: Parcel) -> None:
        """Take one parcel.

        Parameters
        ----------
        parcel : Parcel
            All entries on its subjects, in any order.

        Raises
        ------
        StoreError
            If something in it is not what was written, or builds on what is missing; nothing of it is kept.
        """
        groups = by_subject(parcel.entries)
        with self._store.reading() as connection:
            known = entries_on(connection, groups)
            if self.merged.dry_run:
                self._tell(connection, groups, known, self._checked(connection, groups, known))
                return
        if not _fresh(groups, known):
            self.merged.known += len(parcel.entries)
            return
        with self._store.writing(self._person, self._identity) as writer:
            known = entries_on(writer.connection, groups)
            fresh = self._checked(writer.connection, groups, known)
            self._tell(writer.connection, groups, known, fresh)
            self._keep(writer, parcel, fresh)

    def close(self, file: str = "") -> Merged:
        """Note in the store's own log what was merged, and return it.

        Parameters
        ----------
        file : str
            Name of the bundle it came in, where it came in one.

        Returns
        -------
        Merged
        """
        if self.merged.entries and not self.merged.dry_run:
            with self._store.reading() as connection:
                held = holdings(connection, marks=False)
            few = sum(map(len, held.values())) <= _MOST_SPANS
            body = {
                "from": self.merged.source,
                "file": file,
                "entries": self.merged.entries,
                "counts": dict(self.merged.counts),
                "conflicts": len(self.merged.conflicts),
                "holds": holdings_plain(held, marks=False) if few else None,
            }
            with self._store.writing(self._person, self._identity) as writer:
                writer.add(*EXCHANGES, "merged", body, shared=False)
        return self.merged

    def _checked(
        self,
        connection: Connection,
        groups: Mapping[Subject, Sequence[Entry]],
        known: Mapping[Subject, Sequence[Entry]],
    ) -> dict[Subject, list[Entry]]:
        """Return the entries that are new here; raise if any cannot be taken."""
        fresh: dict[Subject, list[Entry]] = {}
        for key, group in groups.items():
            before = known.get(key, ())
            for problem in refusals(group, before, KINDS):
                raise _refused(group[0], problem)
            if new := _fresh({key: group}, known):
                gone = purged((*group, *before))
                fresh[key] = [replace(entry, body=None) if _dropped(entry, gone) else entry for entry in new]
        new = [entry for group in fresh.values() for entry in group]
        for entry in misplaced(new, _around(connection, new)):
            raise _refused(entry, "It does not follow the entry it names.")
        return fresh

    def _tell(
        self,
        connection: Connection,
        groups: Mapping[Subject, Sequence[Entry]],
        known: Mapping[Subject, Sequence[Entry]],
        fresh: Mapping[Subject, Sequence[Entry]],
    ) -> None:
        count = sum(map(len, groups.values()))
        self.merged.known += count - sum(map(len, fresh.values()))
        visits: dict[str, set[str]] = {}
        for key, group in fresh.items():
            look(self.merged, key, known.get(key, ()), group)
            if key[0] == "test":
                for visit in visits_of(group):
                    visits.setdefault(visit, set()).add(key[1])
        self._bring_together(connection, visits)

    def _bring_together(self, connection: Connection, visits: Mapping[str, Collection[str]]) -> None:
        """Note the visits of new tests that had other tests here before this merge."""
        test, asset, visit = schema.test, schema.asset, schema.visit
        met: dict[str, Together] = {}
        for part in batches(visits):
            query = (
                select(test.c.id, test.c.visit, test.c.day, test.c.asset, asset.c.name, visit.c.name.label("called"))
                .outerjoin(asset, asset.c.id == test.c.asset)
                .outerjoin(visit, visit.c.id == test.c.visit)
                .where(test.c.visit.in_(part), test.c.state == "current")
                .order_by(test.c.id)
            )  # fmt: skip
            for row in rows(connection, query):
                if row["id"] not in visits[row["visit"]] and row["visit"] not in self._begun:
                    title = f"{row['name'] or row['asset']}, {row['called'] or row['day']}"
                    met[row["visit"]] = Together(row["visit"], row["asset"], title, row["day"])
        self._begun.update(set(visits) - met.keys())
        there = {together.visit for together in self.merged.together}
        self.merged.together += [together for name, together in met.items() if name not in there]

    def _keep(self, writer: Writer, parcel: Parcel, fresh: Mapping[Subject, Sequence[Entry]]) -> None:
        new = [entry for group in fresh.values() for entry in group]
        wanted = hashes_in(new)
        came: set[str] = set()
        held = 0
        for name, content in parcel.blobs:
            if name not in wanted or name in came:
                continue
            if writer.blob(content) != name:
                raise _refused(new[0], f"The content {name[:12]} is not what its hash says.")
            came.add(name)
            held += len(content)
            if held > _HELD:
                writer.write_blobs()
                held = 0
        owed = {name for entry in new for name in blobs_named(body_of(entry))} - came
        for part in batches(owed):
            owed -= set(
                writer.connection.execute(
                    select(schema.blob.c.sha256).where(schema.blob.c.sha256.in_(part))
                ).scalars()
            )
        if owed:
            raise _refused(new[0], f"The content {min(owed)[:12]} that it needs is missing.")
        if any(entry.store == writer.store for entry in new):
            writer.begin_chains(self._name())
        writer.adopt(new)
        try:
            writer.flush()
        except (KeyError, TypeError, ValueError, AttributeError, StopIteration) as problem:
            raise _refused(
                new[0], f"It cannot be understood ({type(problem).__name__}: {problem})."
            ) from None


def _fresh(
    groups: Mapping[Subject, Sequence[Entry]], known: Mapping[Subject, Sequence[Entry]]
) -> list[Entry]:
    there = {entry.hash for group in known.values() for entry in group}
    found = {entry.hash: entry for group in groups.values() for entry in group if entry.hash not in there}
    return list(found.values())


def _dropped(entry: Entry, gone: bool) -> bool:  # noqa: FBT001
    return gone and entry.action != "purged"


def _around(connection: Connection, new: Sequence[Entry]) -> list[Entry]:
    """Return the entries here that stand before or after new ones on their chains; contents left out."""
    entry = schema.entry
    columns = [column for column in entry.c if column.name != "body"]
    found: dict[str, Entry] = {}
    for part in batches(one.previous for one in new):
        for row in rows(connection, select(*columns).where(entry.c.hash.in_(part))):
            found[row["hash"]] = entry_of(row | {"body": None})
    after = [(one.store, one.number + 1) for one in new]
    for start in range(0, len(after), 200):
        places = tuple_(entry.c.store, entry.c.number).in_(after[start : start + 200])
        for row in rows(connection, select(*columns).where(places)):
            found[row["hash"]] = entry_of(row | {"body": None})
    return list(found.values())


def _refused(entry: Entry, problem: str) -> StoreError:
    return StoreError(
        f"Entry {entry.number} of the store {entry.store[:12]}, on a {entry.kind} ({entry.subject[:12]}), is refused. "
        f"{problem} Nothing that came with it was kept. Have it made or sent again."
    )


def merge(
    store: Store, person: str, parcels: Iterable[Parcel], *, source: str = "", dry_run: bool = False, file: str = "",
    progress: Callable[[int], None] | None = None, **more: Any,  # noqa: ANN401 - of Merging
) -> Merged:  # fmt: skip
    """Take all parcels of a stream.

    Parameters
    ----------
    store : Store
        Into which.
    person : str
        Who merges.
    parcels : iterable of Parcel
        As they come: out of a bundle, or from another store.
    source, file : str
        Where they come from.
    dry_run : bool
        Say what would come of it and keep nothing.
    progress : callable, optional
        Called with the number of entries looked at, once they are kept.
    **more
        Further parameters of :class:`Merging`.

    Returns
    -------
    Merged

    Raises
    ------
    StoreError
        If a parcel cannot be taken; those before it are kept, and the log says so.
    """
    merging = Merging(store, person, source, dry_run=dry_run, **more)
    done = 0
    try:
        for parcel in parcels:
            merging.take(parcel)
            done += len(parcel.entries)
            if progress is not None:
                progress(done)
    except StoreError:
        with suppress(StoreError):
            merging.close(file)
        raise
    return merging.close(file)
