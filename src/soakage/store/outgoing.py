"""What leaves a store as open files: tests batch by batch, with all that belongs to them."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, Table, select

from soakage.app.keeping import kept_record
from soakage.model.record import Record
from soakage.store import schema
from soakage.store.asking import batches, rows
from soakage.store.pages import moment
from soakage.store.seal import unseal
from soakage.store.store import Store

Row = dict[str, Any]
BATCH = 200
TABLES = {
    "site": schema.site,
    "person": schema.person,
    "instrument": schema.instrument,
    "asset": schema.asset,
}


@dataclass(frozen=True, slots=True)
class Chosen:
    """What is to leave; all of it unless said.

    Parameters
    ----------
    site : str, optional
        Only assets of this site and their tests.
    assets : tuple of str, optional
        Only these assets, by id, and their tests.
    since : str, optional
        Only tests from this day on, ISO.
    tests : tuple of str, optional
        Only these tests, by id.
    """

    site: str | None = None
    assets: tuple[str, ...] | None = None
    since: str | None = None
    tests: tuple[str, ...] | None = None

    @property
    def everything(self) -> bool:
        """Whether nothing was chosen."""
        return (self.site, self.assets, self.since, self.tests) == (None, None, None, None)


@dataclass(frozen=True, slots=True)
class Version:
    """One revision of a test: its record as received, and who brought it, when and why."""

    number: int
    content: str
    reason: str
    person: str
    at: str
    record: Record
    file_sha256: str | None


def test_batches(connection: Connection, chosen: Chosen) -> Iterator[list[Row]]:
    """Yield the rows of the tests chosen, some hundred at a time, in order of their ids."""
    test, last = schema.test, ""
    while True:
        query = select(test).where(test.c.id > last, *_conditions(chosen)).order_by(test.c.id).limit(BATCH)
        batch = list(rows(connection, query))
        if not batch:
            return
        yield batch
        last = batch[-1]["id"]


def _conditions(chosen: Chosen) -> list[ColumnElement[bool]]:
    test, asset = schema.test, schema.asset
    conditions: list[ColumnElement[bool]] = []
    if chosen.site is not None:
        conditions.append(test.c.asset.in_(select(asset.c.id).where(asset.c.site == chosen.site)))
    if chosen.assets is not None:
        conditions.append(test.c.asset.in_(chosen.assets))
    if chosen.since is not None:
        conditions.append(test.c.day >= chosen.since)
    if chosen.tests is not None:
        conditions.append(test.c.id.in_(chosen.tests))
    return conditions


def versions_of(store: Store, connection: Connection, tests: Iterable[str]) -> dict[str, list[Version]]:
    """Return the revisions of tests in order, those whose content was purged left out."""
    revision, entry = schema.revision, schema.entry
    found: dict[str, list[Version]] = {}
    for part in batches(tests):
        query = (
            select(revision, entry.c.body)
            .join(entry, entry.c.hash == revision.c.entry)
            .where(revision.c.test.in_(part), entry.c.body.is_not(None))
            .order_by(revision.c.test, revision.c.number)
        )
        for row in rows(connection, query):
            kept = json.loads(row["body"])["record"]
            record = kept_record(kept, unseal(store.blob(connection, kept["readings"])))
            found.setdefault(row["test"], []).append(
                Version(
                    row["number"], row["content"], row["reason"], row["person"], moment(row["at"]), record,
                    kept["file_sha256"],
                )
            )  # fmt: skip
    return found


def withdrawals(connection: Connection, tests: Iterable[str]) -> dict[str, str]:
    """Return why tests were withdrawn, by test; the last reason of each."""
    entry, found = schema.entry, {}
    for part in batches(tests):
        query = (
            select(entry.c.subject, entry.c.reason)
            .where(
                entry.c.kind == "test",
                entry.c.subject.in_(part),
                entry.c.action.in_(("withdrawn", "revised")),
            )
            .order_by(entry.c.at, entry.c.hash)
        )
        for row in rows(connection, query):
            found[row["subject"]] = row["reason"]
    return found


def verdicts_of(store: Store, connection: Connection, tests: Iterable[str]) -> Iterator[Row]:
    """Yield every verdict of tests with its result as ``judge --json`` gives it."""
    table = schema.verdict
    for part in batches(tests):
        query = select(table).where(table.c.test.in_(part)).order_by(table.c.test, table.c.at, table.c.entry)
        for row in rows(connection, query):
            result = json.loads(store.blob(connection, row["result"]))
            yield row | {"at": moment(row["at"]), "result_sha256": row["result"], "result": result}


def subjects(connection: Connection, kind: str, chosen: Chosen) -> list[Row]:
    """Return sites, people, instruments or assets with all that is stated of them, in order of their ids."""
    table: Table = TABLES[kind]
    query = select(table.c.id, table.c.fields).order_by(table.c.id)
    if not chosen.everything:
        query = query.where(*_belonging(kind, chosen))
    return [{"id": row["id"], "fields": json.loads(row["fields"])} for row in rows(connection, query)]


def _belonging(kind: str, chosen: Chosen) -> list[ColumnElement[bool]]:
    asset, test = schema.asset, schema.test
    tested = select(test.c.asset).where(test.c.asset.is_not(None), *_conditions(chosen))
    mine: list[ColumnElement[bool]] = []
    if chosen.site is not None:
        mine.append(asset.c.site == chosen.site)
    if chosen.assets is not None:
        mine.append(asset.c.id.in_(chosen.assets))
    if not mine:
        mine.append(asset.c.id.in_(tested))
    if kind == "asset":
        return mine
    if kind == "site":
        return [schema.site.c.name.in_(select(asset.c.site).where(*mine))]
    if kind == "instrument":
        return [schema.instrument.c.id.in_(select(test.c.instrument).where(*_conditions(chosen)))]
    return [schema.person.c.id.is_(None)]  # nobody is of a site


def visits(connection: Connection, assets: Iterable[str]) -> list[Row]:
    """Return the visits to assets."""
    table = schema.visit
    return [
        row
        for part in batches(assets)
        for row in rows(connection, select(table).where(table.c.asset.in_(part)).order_by(table.c.id))
    ]


def added(connection: Connection, kind: str, ids: Iterable[str]) -> Iterator[Row]:
    """Yield what was added to subjects: action, person, time and fields of each remark."""
    table = schema.remark
    for part in batches(ids):
        query = (
            select(table)
            .where(table.c.kind == kind, table.c.subject.in_(part))
            .order_by(table.c.subject, table.c.at, table.c.entry)
        )
        for row in rows(connection, query):
            yield {
                "kind": kind,
                "subject": row["subject"],
                "action": row["action"],
                "person": row["person"],
                "at": moment(row["at"]),
                "fields": json.loads(row["fields"]),
            }
