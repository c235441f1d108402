"""The store as the use cases see it: :class:`soakage.app.ports.Memory` over tables."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from sqlalchemy import ColumnElement, Connection, func, or_, select

from soakage.app.evaluate import References
from soakage.app.history import HistoryPoint
from soakage.app.journal import STATED_IDENTITY
from soakage.app.keeping import kept_record
from soakage.app.peers import Kin
from soakage.app.ports import GivenVerdict, KnownAsset, KnownTest, PastTest
from soakage.standards.library import library
from soakage.store import histories, schema
from soakage.store.asking import batches, rows
from soakage.store.packing import unpacked
from soakage.store.seal import unseal
from soakage.store.store import Store
from soakage.store.verdicts import purged_tests, verdicts
from soakage.store.writing import Writer

PAGE = 500


class StoreMemory:
    """A store in the hands of one person.

    Parameters
    ----------
    store : Store
        Opened.
    person : str
        Who works here.
    identity : str
        How far that name can be trusted.
    """

    def __init__(self, store: Store, person: str, identity: str = STATED_IDENTITY) -> None:
        self.store, self.person, self.identity = store, person, identity

    @contextmanager
    def changing(self) -> Iterator[Writer]:
        """Begin a change; see :meth:`soakage.app.ports.Memory.changing`."""
        with self.store.writing(self.person, self.identity) as writer:
            yield writer

    def assets_like(
        self, names: Iterable[str], tags: Iterable[str], serials: Iterable[str]
    ) -> list[KnownAsset]:
        """Return the assets that have one of these names, tags or serial numbers."""
        columns = ((schema.asset.c.name, names), (schema.asset.c.tag, tags), (schema.asset.c.serial, serials))
        found: dict[str, KnownAsset] = {}
        with self.store.reading() as connection:
            for column, wanted in columns:
                for part in batches(wanted):
                    for asset in _assets(connection, column.in_(part)):
                        found[asset.id] = asset
        return list(found.values())

    def assets_nearly(self, names: Iterable[str]) -> list[KnownAsset]:
        """Return the assets whose name, tag or serial number is one of these, blanks and capitals apart."""
        table, found = schema.asset, {}
        with self.store.reading() as connection:
            for part in batches(names):
                plain = [func.lower(func.replace(table.c[key], " ", "")) for key in ("name", "tag", "serial")]
                for asset in _assets(connection, or_(*(column.in_(part) for column in plain))):
                    found[asset.id] = asset
        return list(found.values())

    def assets(self, ids: Iterable[str]) -> dict[str, KnownAsset]:
        """Return assets by id."""
        with self.store.reading() as connection:
            return {
                asset.id: asset
                for part in batches(ids)
                for asset in _assets(connection, schema.asset.c.id.in_(part))
            }

    def register(self, *, site: str | None = None, asset_class: str | None = None) -> Iterator[KnownAsset]:
        """Yield the assets of the register, all or those of one site or class, in order of their id."""
        table, last = schema.asset, ""
        while True:
            query = (
                select(table.c.id, table.c.fields).where(table.c.id > last).order_by(table.c.id).limit(PAGE)
            )
            if site is not None:
                query = query.where(table.c.site == site)
            if asset_class is not None:
                query = query.where(table.c["class"] == asset_class)
            with self.store.reading() as connection:
                page = list(rows(connection, query))
            if not page:
                return
            for row in page:
                yield KnownAsset(row["id"], json.loads(row["fields"]))
            last = page[-1]["id"]

    def instruments(self, ids: Iterable[str]) -> dict[str, Mapping[str, Any]]:
        """Return instruments as plain values by id."""
        table = schema.instrument
        with self.store.reading() as connection:
            return {
                row["id"]: json.loads(row["fields"])
                for part in batches(ids)
                for row in rows(connection, select(table).where(table.c.id.in_(part)))
            }

    def known_contents(self, contents: Iterable[str]) -> dict[str, str]:
        """Return, for each content id that any revision has, the id of its test."""
        table = schema.revision
        with self.store.reading() as connection:
            return {
                row.content: row.test
                for part in batches(contents)
                for row in connection.execute(
                    select(table.c.content, table.c.test).where(table.c.content.in_(part))
                )
            }

    def tests(
        self, *, ids: Iterable[str] = (), visits: Iterable[str] = (), assets: Iterable[str] = ()
    ) -> list[KnownTest]:
        """Return tests by their id, visit or asset, withdrawn ones included, in order of day."""
        columns = ((schema.test.c.id, ids), (schema.test.c.visit, visits), (schema.test.c.asset, assets))
        found: dict[str, KnownTest] = {}
        with self.store.reading() as connection:
            for column, wanted in columns:
                for part in batches(wanted):
                    for test in known_tests(connection, column.in_(part)):
                        found[test.id] = test
        return sorted(found.values(), key=lambda test: (str(test.record.day or ""), test.id))

    def tests_beginning(self, start: str) -> list[KnownTest]:
        """Return the tests whose id begins so; at most a few, to tell which are meant."""
        low = start.lower()
        with self.store.reading() as connection:
            query = (
                select(schema.test.c.id).where(schema.test.c.id >= low, schema.test.c.id < low + "g").limit(5)
            )
            ids = list(connection.execute(query).scalars())
        return self.tests(ids=ids)

    def blob(self, sha256: str) -> bytes:
        """Return bytes kept under a hash."""
        with self.store.reading() as connection:
            return self.store.blob(connection, sha256)

    def purged(self, tests: Iterable[str]) -> dict[str, str]:
        """Return, for each of these tests that was purged, the entry that purged it."""
        with self.store.reading() as connection:
            return purged_tests(connection, tests)

    def verdicts(self, tests: Iterable[str]) -> dict[str, list[GivenVerdict]]:
        """Return every verdict of tests by the test's id, in order of time."""
        with self.store.reading() as connection:
            return verdicts(connection, tests)

    def history(self, asset: str) -> list[PastTest]:
        """Return the current tests of an asset with their figures, in order of day."""
        with self.store.reading() as connection:
            return histories.history(connection, asset)

    def remarks(self, kind: str, subject: str) -> list[dict[str, Any]]:
        """Return what was added to a subject, in order of time."""
        with self.store.reading() as connection:
            return histories.remarks(connection, kind, subject)

    def peer_points(
        self, kin: Kin, quantities: Iterable[str], but: str
    ) -> list[tuple[str, Kin, HistoryPoint]]:
        """Return the newest figures of assets of one kind, one asset left out."""
        ratio = library().thresholds["trends.peer-voltage-ratio"].value
        with self.store.reading() as connection:
            return list(histories.peer_points(connection, kin, quantities, but, ratio))

    def figures_before(self, tests: Iterable[KnownTest]) -> list[References]:
        """Return, for each test, figures of earlier ones alike by (factory, first or last; quantity)."""
        wanted = list(tests)
        assets = {test.asset for test in wanted if test.asset and test.record.day}
        if not assets:
            return [{} for _ in wanted]
        with self.store.reading() as connection:
            history = _history(connection, assets)
        return [_before(test, history.get(test.asset or "", ())) for test in wanted]


def _assets(connection: Connection, condition: ColumnElement[bool]) -> Iterator[KnownAsset]:
    query = select(schema.asset.c.id, schema.asset.c.fields).where(condition)
    for row in connection.execute(query):
        yield KnownAsset(row.id, json.loads(row.fields))


def known_tests(connection: Connection, condition: ColumnElement[bool]) -> Iterator[KnownTest]:
    """Yield tests with their records, in no special order."""
    test, entry, blob, verdict = schema.test, schema.entry, schema.blob, schema.verdict
    query = (
        select(test, entry.c.body, blob.c.packing, blob.c.content.label("bytes"), verdict.c.result)
        .join(entry, entry.c.hash == test.c.received)
        .join(blob, blob.c.sha256 == test.c.readings)
        .outerjoin(verdict, verdict.c.entry == test.c.verdict)
        .where(condition)
    )
    for row in rows(connection, query):
        readings = unseal(unpacked({"packing": row["packing"], "content": row["bytes"]}))
        yield KnownTest(
            id=row["id"],
            content=row["content"],
            record=kept_record(json.loads(row["body"])["record"], readings),
            asset=row["asset"],
            visit=row["visit"],
            instrument=row["instrument"],
            section=row["section"],
            withdrawn=row["state"] == "withdrawn",
            review=row["review"],
            status=row["status"],
            result=row["result"],
        )


def _history(connection: Connection, assets: Iterable[str]) -> dict[str, list[dict[str, Any]]]:
    """Return the figures of the tests of assets, each test with its figures by quantity, in order of day."""
    test, figure, entry = schema.test, schema.figure, schema.entry
    found: dict[str, dict[str, dict[str, Any]]] = {}
    for part in batches(assets):
        query = (
            select(
                test.c.asset, test.c.id, test.c.section, test.c.method, test.c.test_voltage, test.c.day,
                figure.c.quantity, figure.c.value, entry.c.body,
            )
            .join(figure, figure.c.test == test.c.id)
            .join(entry, entry.c.hash == test.c.received)
            .where(test.c.asset.in_(part), test.c.state == "current", test.c.day.is_not(None))
            .where(or_(figure.c.bound.is_(None), figure.c.bound == ""))
            .order_by(test.c.day, test.c.id)
        )  # fmt: skip
        for row in rows(connection, query):
            tests = found.setdefault(row["asset"], {})
            if row["id"] not in tests:
                purpose = json.loads(row["body"])["record"]["stated"].get("purpose")
                tests[row["id"]] = row | {"figures": {}, "purpose": purpose}
            tests[row["id"]]["figures"][row["quantity"]] = row["value"]
    return {asset: list(tests.values()) for asset, tests in found.items()}


def _before(test: KnownTest, history: Sequence[Mapping[str, Any]]) -> dict[tuple[str, str], float]:
    figures: dict[tuple[str, str], float] = {}
    day = test.record.day.isoformat() if test.record.day else ""
    stated = test.record.test
    for past in history:
        if past["id"] == test.id or past["day"] >= day:
            continue
        if (past["section"], past["method"], past["test_voltage"]) != (
            test.section,
            stated.method,
            stated.test_voltage,
        ):
            continue
        for quantity, value in past["figures"].items():
            figures.setdefault(("first", quantity), value)
            figures["last", quantity] = value
            if past["purpose"] == "acceptance":
                figures.setdefault(("factory", quantity), value)
    return figures
