"""One change of the store: entries are chained, blobs kept, rows made, all in one transaction or not at all."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import fields
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from soakage.app.folding import Folded, fold
from soakage.app.journal import HERE, START, Entry, entry_faults, made_entry
from soakage.errors import StoreError
from soakage.model.record import Record
from soakage.model.stated import digest
from soakage.store import schema
from soakage.store.asking import batches, rows
from soakage.store.packing import packed
from soakage.store.purging import purge
from soakage.store.rows import KINDS, Row, rows_of
from soakage.store.seal import seal
from soakage.store.standing import refresh

_FIELDS = tuple(part.name for part in fields(Entry))
Subject = tuple[str, str]
BEGUN = "begun"  # what a store notes when it begins new chains: where the old ones ended


def entry_of(row: Mapping[str, Any]) -> Entry:
    """Return an entry from its row."""
    values = {name: row[name] for name in _FIELDS}
    values["parents"] = tuple(json.loads(values["parents"]))
    return Entry(**values)


def row_of(entry: Entry) -> Row:
    """Return the row of an entry."""
    values = {name: getattr(entry, name) for name in _FIELDS}
    values["parents"] = json.dumps(list(entry.parents))
    return values


def entries_on(connection: Connection, subjects: Iterable[Subject]) -> dict[Subject, list[Entry]]:
    """Return the entries on subjects, by kind and id."""
    found: dict[Subject, list[Entry]] = {}
    by_kind: dict[str, list[str]] = {}
    for kind, subject in subjects:
        by_kind.setdefault(kind, []).append(subject)
    for kind, names in by_kind.items():
        for part in batches(names):
            query = select(schema.entry).where(schema.entry.c.kind == kind, schema.entry.c.subject.in_(part))
            for row in rows(connection, query):
                found.setdefault((kind, row["subject"]), []).append(entry_of(row))
    return found


class Writer:
    """Collects the entries of one transaction and writes them when it is done.

    Parameters
    ----------
    connection : Connection
        In a transaction that holds the lock of the one writer.
    store : str
        Id of this store.
    person : str
        Who makes the change.
    identity : str
        How far that name can be trusted.
    now : callable
        Returns microseconds since 1970 UTC.
    """

    def __init__(
        self, connection: Connection, store: str, person: str, identity: str, now: Callable[[], int]
    ) -> None:
        self.connection = connection
        self._store, self._person, self._identity, self._now = store, person, identity, now
        lock = select(schema.chain).order_by(schema.chain.c.store).with_for_update()
        self._chains = {row["store"]: row for row in rows(connection, lock)}
        self._new: list[Entry] = []
        self._by_subject: dict[Subject, list[Entry]] = {}
        self._fresh: set[Subject] = set()  # subjects that had no entry before
        self._known: dict[Subject, list[Entry]] = {}
        self._blobs: dict[str, bytes] = {}
        self._forget: set[Subject] = set()

    def entries(self, kind: str, subject: str) -> list[Entry]:
        """Return the entries on a subject, those of this change included."""
        key = (kind, subject)
        if key not in self._known:
            self._known[key] = entries_on(self.connection, [key]).get(key, [])
            if not self._known[key]:
                self._fresh.add(key)
        return self._known[key] + self._by_subject.get(key, [])

    def look_up(self, subjects: Iterable[Subject]) -> None:
        """Load the entries on many subjects at once, before they are changed one by one."""
        wanted = [key for key in dict.fromkeys(subjects) if key not in self._known]
        found = entries_on(self.connection, wanted)
        for key in wanted:
            self._known[key] = found.get(key, [])
            if key not in found:
                self._fresh.add(key)

    def folded(self, kind: str, subject: str) -> Folded:
        """Return the state of a subject, this change included."""
        return fold(self.entries(kind, subject))

    @property
    def store(self) -> str:
        """Id of the store that is written."""
        return self._store

    def add(
        self,
        kind: str,
        subject: str,
        action: str,
        body: Mapping[str, Any],
        *,
        reason: str = "",
        shared: bool = True,
    ) -> Entry:
        """Add one entry; its parents are the heads of the subject as they stand.

        Parameters
        ----------
        kind, subject, action : str
            What is changed and how.
        body : mapping
            Plain values; ``set`` holds the fields it sets.
        reason : str
            Why.
        shared : bool
            False for what stays in this store: settings, exchanges, backups.

        Returns
        -------
        Entry
        """
        chain = self._chains[self._store if shared else self._store + HERE]
        before = self.entries(kind, subject)
        seen = {parent for entry in before for parent in entry.parents}
        entry = made_entry(
            store=chain["store"],
            number=chain["number"] + 1,
            previous=chain["head"],
            at=max(self._now(), chain["at"] + 1),
            person=self._person,
            identity=self._identity,
            kind=kind,
            subject=subject,
            action=action,
            parents=[entry.hash for entry in before if entry.hash not in seen],
            reason=reason,
            body=body,
        )
        chain["number"], chain["head"], chain["at"] = entry.number, entry.hash, entry.at
        self._new.append(entry)
        self._by_subject.setdefault((kind, subject), []).append(entry)
        return entry

    def state(
        self, kind: str, subject: str, values: Mapping[str, Any], *, reason: str = "", shared: bool = True
    ) -> Entry | None:
        """Set fields of a subject; only those that change, with what they were. None where nothing changes.

        A field in conflict is settled by naming it, even with the value that is shown.
        """
        now = self.folded(kind, subject)
        changed = {
            name: value
            for name, value in values.items()
            if now.values.get(name) != value or name in now.conflicts
        }
        if not changed:
            return None
        body: dict[str, Any] = {"set": changed}
        was = {name: now.values[name] for name in changed if name in now.values}
        if was:
            body["was"] = was
        return self.add(kind, subject, "stated", body, reason=reason, shared=shared)

    def blob(self, content: bytes) -> str:
        """Keep bytes; return their hash. The same bytes are kept once."""
        name = digest(content)
        self._blobs[name] = content
        return name

    def readings(self, record: Record) -> str:
        """Keep the readings of a record, sealed; return their hash."""
        return self.blob(seal(record.readings))

    def adopt(self, entries: Sequence[Entry]) -> int:
        """Take entries of other stores as they are; return how many were not known here.

        Raises
        ------
        StoreError
            If one is not what its store wrote, or is of a kind this Soakage does not know; nothing is taken.
        """
        brought = {entry.hash: entry for entry in entries}
        for entry in brought.values():
            if problems := entry_faults(entry):
                raise StoreError(
                    f"Entry {entry.number} of the store {entry.store[:12]} cannot be taken. {problems[0]} "
                    "Nothing of it was kept. Let it be sent again."
                )
            if entry.kind not in KINDS:
                raise StoreError(
                    f"This holds entries of the kind {entry.kind!r}; this Soakage knows {', '.join(KINDS)}. "
                    "Nothing of it was kept. Use a newer Soakage."
                )
        known: dict[str, bool] = {}
        for part in batches(brought):
            query = select(schema.entry.c.hash, schema.entry.c.body.is_(None)).where(
                schema.entry.c.hash.in_(part)
            )
            known.update((row[0], bool(row[1])) for row in self.connection.execute(query))
        fresh = [entry for entry in brought.values() if entry.hash not in known]
        self.look_up((entry.kind, entry.subject) for entry in brought.values())
        for entry in fresh:
            self._new.append(entry)
            self._by_subject.setdefault((entry.kind, entry.subject), []).append(entry)
        for entry in brought.values():
            if known.get(entry.hash) and entry.body is not None:
                self._fill(entry)
        return len(fresh)

    def _fill(self, entry: Entry) -> None:
        """Keep the content of an entry that came without it before, unless it was purged here."""
        key = (entry.kind, entry.subject)
        if any(other.action == "purged" for other in self.entries(*key)):
            return
        change = update(schema.entry).where(schema.entry.c.hash == entry.hash).values(body=entry.body)
        self.connection.execute(change)
        self._known[key] = [entry if other.hash == entry.hash else other for other in self._known[key]]
        self._forget.add(key)

    def begin_chains(self, name: str) -> None:
        """Write on new chains from here on; the old ones stay as those of another store, whole as they are.

        For a store that was restored, or that meets entries of its own which it does not know: it is a copy, and
        to write on would put two entries in one place of a chain.
        """
        ends = {own: [chain["number"], chain["head"]] for own, chain in self._chains.items()}
        at = max(chain["at"] for chain in self._chains.values())  # time goes on, whatever the clock here says
        fresh: list[Row] = [
            {"store": own, "number": 0, "head": START, "at": at} for own in (name, name + HERE)
        ]
        self.connection.execute(delete(schema.chain))
        self.connection.execute(insert(schema.chain), fresh)
        self._store, self._chains = name, {row["store"]: dict(row) for row in fresh}
        self.add("setting", "store", BEGUN, {"chains": ends}, shared=False)

    def rebuild(self, subjects: Iterable[Subject]) -> None:
        """Make the rows of subjects anew from their entries when this change is written."""
        for key in subjects:
            self._forget.add(key)

    def flush(self) -> list[Entry]:
        """Write what was collected; return the new entries. The caller commits."""
        touched = dict.fromkeys([*self._by_subject, *self._forget])
        purged = {key for key in touched if any(entry.action == "purged" for entry in self.entries(*key))}
        if self._new:
            written = [row_of(entry) for entry in self._new]
            for row in written:
                if (row["kind"], row["subject"]) in purged and row["action"] != "purged":
                    row["body"] = None
            self.connection.execute(insert(schema.entry), written)
        self.write_blobs()
        purge(self.connection, {key: self.entries(*key) for key in purged})
        made: dict[str, list[Row]] = {}
        assets = self._assets_of([name for kind, name in touched if kind == "test"])
        clear(self.connection, [key for key in touched if key not in self._fresh])
        for key in touched:
            for name, found in rows_of(*key, self.entries(*key)).items():
                made.setdefault(name, []).extend(found)
        for table in schema.FOLLOWS:
            if table.name in made:
                self.connection.execute(insert(table), made[table.name])
        assets |= {row["asset"] for row in made.get("test", ()) if row["asset"]}
        refresh(self.connection, assets)
        for chain in self._chains.values():
            self.connection.execute(
                update(schema.chain)
                .where(schema.chain.c.store == chain["store"])
                .values(number=chain["number"], head=chain["head"], at=chain["at"])
            )
        new = self._new
        self._new, self._by_subject, self._known = [], {}, {}
        self._fresh, self._forget = set(), set()
        return new

    def _assets_of(self, tests: list[str]) -> set[str]:
        """Return the assets that tests stand under now."""
        old = [name for name in tests if ("test", name) not in self._fresh]
        found: set[str] = set()
        for part in batches(old):
            query = select(schema.test.c.asset).where(schema.test.c.id.in_(part))
            found.update(name for name in self.connection.execute(query).scalars() if name)
        return found

    def write_blobs(self) -> None:
        """Write the blobs collected so far, so that they need no more memory; they are kept when the change is."""
        names = list(self._blobs)
        known: set[str] = set()
        for part in batches(names):
            query = select(schema.blob.c.sha256).where(schema.blob.c.sha256.in_(part))
            known.update(self.connection.execute(query).scalars())
        fresh = [packed(name, self._blobs[name]) for name in names if name not in known]
        if fresh:
            self.connection.execute(insert(schema.blob), fresh)
        self._blobs = {}


def clear(connection: Connection, subjects: Iterable[Subject]) -> None:
    """Remove the rows of subjects from the tables that follow; their standing is made anew by itself."""
    by_kind: dict[str, list[str]] = {}
    for kind, subject in subjects:
        by_kind.setdefault(kind, []).append(subject)
    for kind, names in by_kind.items():
        own = schema.metadata.tables[kind]
        for part in batches(names):
            if kind == "test":  # children first, or each row is looked for once more
                for child in (schema.figure, schema.finding, schema.verdict, schema.revision):
                    connection.execute(delete(child).where(child.c.test.in_(part)))
            connection.execute(delete(own).where(own.c.id.in_(part)))
            for other in (schema.remark, schema.conflict, schema.purged):
                connection.execute(delete(other).where(other.c.kind == kind, other.c.subject.in_(part)))
