"""Several stores at work for a test: what people do on each, and how one reaches another."""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Iterator
from functools import cache
from itertools import count
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from soakage.app.exchange import Parcel, Scope
from soakage.app.folding import body_of
from soakage.app.holdings import Holdings
from soakage.app.journal import HERE, START, Entry, trail_faults
from soakage.app.keep_subjects import keep_asset, keep_instrument, keep_visit
from soakage.app.keeping import received_body
from soakage.app.register import named, new_asset
from soakage.app.visits import section_name
from soakage.importers.reading import read_bytes
from soakage.model.record import Record
from soakage.model.stated import content_id, digest
from soakage.store import schema
from soakage.store.address import address
from soakage.store.asking import rows
from soakage.store.bundle import Head, write_bundle
from soakage.store.checking import check_connection
from soakage.store.holding import changed_subjects, held_by_both, holdings
from soakage.store.merging import Merging
from soakage.store.parcels import parcels
from soakage.store.rows import rows_of
from soakage.store.store import Store
from soakage.store.trail import entries, own_chains
from soakage.store.unbundle import BundleReader
from soakage.store.writing import Writer

ROWS = schema.FOLLOWS
HEADER = """\
# soakage = 1
# site = "{site}"
# asset = "{asset}"
# class = "rotating-machine"
# rated_voltage = "6.6 kV"
# section = "{section}"
# method = "insulation-resistance"
# test_voltage = "5 kV"
# started = 2026-03-1{day}T09:20:00+02:00
# instrument = "Invented tester"
# instrument_serial = "T-{serial}"
# tested = ["{section}"]
# earthed = ["frame"]
time [s],voltage [V],current [uA]
60,5000,{current}
"""


@cache
def record(asset: int = 0, section: str = "U", day: int = 0, current: float = 10.0) -> Record:
    """One small invented record."""
    text = HEADER.format(
        site=f"Site {asset % 2}",
        asset=f"Pump {asset}",
        section=section,
        day=day,
        serial=asset,
        current=current,
    )
    (found,) = read_bytes(text.encode(), f"pump-{asset}-{section}-{day}.csv")
    return found


def id_of_test(asset: int = 0, section: str = "U", day: int = 0) -> str:
    return content_id(record(asset, section, day))[:32]


def asset_id(asset: int) -> str:
    return new_asset(named(record(asset).asset), record(asset)).id


class Desk:
    """One store with a person at it."""

    def __init__(self, where: str, person: str, clock: Callable[[], int]) -> None:
        self.store = Store(address(where), now=clock)
        self.person = person

    def clear(self, name: str) -> None:
        """Make the store an empty one of this name."""
        with self.store.writing(self.person) as writer:
            for table in reversed(schema.metadata.sorted_tables):
                writer.connection.execute(delete(table))
            fresh = [{"store": own, "number": 0, "head": START, "at": 0} for own in (name, name + HERE)]
            writer.connection.execute(insert(schema.chain), fresh)
            writer._chains = {}

    def copy(self, other: Desk) -> None:
        """Become a copy of another store, its name included, as when its file is copied."""
        with other.store.reading() as connection:
            whole = {table: list(rows(connection, select(table))) for table in schema.metadata.sorted_tables}
        with self.store.writing(self.person) as writer:
            for table in reversed(schema.metadata.sorted_tables):
                writer.connection.execute(delete(table))
            for table, found in whole.items():
                if found:
                    writer.connection.execute(insert(table), found)
            writer._chains = {}

    # What people do

    def receive(self, asset: int, section: str = "U", day: int = 0) -> None:
        one = record(asset, section, day)
        with self.store.writing(self.person) as change:
            known = new_asset(named(one.asset), one)
            keep_asset(change, known, section_name(one))
            keep_visit(change, known.id, one)
            keep_instrument(change, one)
            if not [
                e for e in change.entries("test", id_of_test(asset, section, day)) if e.action == "received"
            ]:
                file = change.blob(f"file of {asset} {section} {day} brought by {self.person}".encode() * 9)
                change.add(
                    "test",
                    id_of_test(asset, section, day),
                    "received",
                    self._body(change, one, known.id, file),
                )

    @staticmethod
    def _body(change: Writer, one: Record, asset: str, file: str) -> dict[str, Any]:
        return received_body(
            one, content=content_id(one), asset=asset, readings=change.readings(one), file_sha256=file
        )

    def revise(self, asset: int, section: str, day: int, current: float) -> None:
        one = record(asset, section, day, current)
        with self.store.writing(self.person) as change:
            file = change.blob(f"revised to {current}".encode())
            body = self._body(change, one, asset_id(asset), file)
            change.add(
                "test", id_of_test(asset, section, day), "revised", body, reason="The range was misread."
            )

    def edit(self, asset: int, values: dict[str, Any]) -> None:
        with self.store.writing(self.person) as change:
            change.state("asset", asset_id(asset), values)

    def mark(self, test: str, action: str, body: dict[str, Any]) -> None:
        with self.store.writing(self.person) as change:
            change.add("test", test, action, body, reason="" if action == "judged" else "Because.")

    def judge(self, test: str, status: str) -> None:
        with self.store.writing(self.person) as change:
            content = change.folded("test", test).values["content"]
            result = change.blob(f'{{"status":"{status}","content":"{content}"}}'.encode() * 4)
            figure = {
                "quantity": "insulation_resistance_60s", "value": float(len(status)), "bound": None,
                "uncertainty": None, "rule": None, "base_temperature": None,
            }  # fmt: skip
            body = {
                "content": content, "profile": "default", "profile_sha256": digest("p"),
                "criteria_sha256": digest("c"), "version": "1", "status": status, "sentence": status, "result": result,
                "figures": [figure], "findings": [{"code": "spot", "sentence": "s", "status": None}],
            }  # fmt: skip
            change.add("test", test, "judged", body)

    def sign(self, test: str) -> None:
        with self.store.writing(self.person) as change:
            now = change.folded("test", test)
            if "content" in now.conflicts or now.values.get("withdrawn"):
                return
            body = {"content": now.values["content"], "status": "sound", "tool_status": "sound", "text": ""}
            change.add("test", test, "signed", body)

    def attach(self, asset: int, content: bytes) -> None:
        with self.store.writing(self.person) as change:
            name = change.blob(content)
            body = {"name": "photo.png", "media_type": "image/png", "sha256": name, "size": len(content)}
            change.add("asset", asset_id(asset), "attached", body)

    def note(self, asset: int, text: str) -> None:
        with self.store.writing(self.person) as change:
            change.add("asset", asset_id(asset), "noted", {"text": text})

    def settle(self, take: int) -> None:
        """Settle the first conflict there is."""
        with self.store.writing(self.person) as change:
            row = next(
                rows(change.connection, select(schema.conflict).order_by(*schema.conflict.primary_key)), None
            )
            if row is not None:
                claims = json.loads(row["claims"])
                chosen = claims[take % len(claims)]["value"]
                change.state(
                    row["kind"], row["subject"], {row["field"]: chosen}, reason="Looked at the plate."
                )

    # What is there

    def tests(self) -> list[str]:
        with self.store.reading() as connection:
            return list(connection.execute(select(schema.test.c.id).order_by(schema.test.c.id)).scalars())

    def assets(self) -> list[str]:
        with self.store.reading() as connection:
            return list(connection.execute(select(schema.asset.c.id).order_by(schema.asset.c.id)).scalars())

    def shared(self) -> dict[str, Entry]:
        with self.store.reading() as connection:
            return {entry.hash: entry for entry in entries(connection, shared_only=True)}

    def everything(self) -> dict[str, Any]:
        """All shared entries, all rows that follow, all bytes."""
        with self.store.reading() as connection:
            found: dict[str, Any] = {
                "entries": sorted((e.hash, e.body or "") for e in entries(connection, shared_only=True))
            }
            for table in ROWS:
                found[table.name] = _rows(connection, table)
            found["blob"] = sorted(connection.execute(select(schema.blob.c.sha256)).scalars())
        return found

    def faults(self) -> list[Any]:
        """What is wrong with the trail, and rows that are not what the entries give."""
        with self.store.reading() as connection:
            whole = list(entries(connection))
            faults: list[Any] = list(trail_faults(whole, own_chains(connection))[0])
            groups: dict[tuple[str, str], list[Entry]] = {}
            for entry in whole:
                groups.setdefault((entry.kind, entry.subject), []).append(entry)
            made: dict[str, list[Any]] = {}
            for key, group in groups.items():
                for name, found in rows_of(*key, group).items():
                    made.setdefault(name, []).extend(found)
            for table in ROWS:
                if table.name == "standing":
                    continue
                wanted = sorted(json.dumps(row, sort_keys=True) for row in made.get(table.name, ()))
                if wanted != _rows(connection, table):
                    faults.append(table.name)
            faults += [str(flaw) for flaw in check_connection(connection).flaws]
            for entry in whole:
                owed = {
                    body_of(entry).get("result"),
                    (body_of(entry).get("record") or {}).get("readings"),
                } - {None}
                there = select(schema.blob.c.sha256).where(schema.blob.c.sha256.in_(owed))
                if len(connection.execute(there).all()) != len(owed):
                    faults.append(entry)
        return faults

    # How one reaches another

    def holds(self) -> Holdings:
        with self.store.reading() as connection:
            return holdings(connection)

    def bundle(self, scope: Scope | None = None, since: Holdings | None = None) -> bytes:
        stream = io.BytesIO()
        with self.store.reading() as connection:
            changed = None if since is None else changed_subjects(connection, held_by_both(connection, since))
            head = Head(self.store.id, 1, self.person, "", holdings(connection))
            write_bundle(stream, head, parcels(connection, scope, changed))
        return stream.getvalue()

    def take(self, bundle: bytes, most: int | None = None) -> Merging:
        """Merge a bundle; only its first parcels where it is broken off."""
        reader = BundleReader(io.BytesIO(bundle), "a.bundle")
        merging = Merging(self.store, self.person, reader.head.store, name=lambda: f"again{next(_AGAIN)}")
        for place, parcel in enumerate(reader.parcels()):
            if place == most:
                return merging
            merging.take(parcel)
        merging.close("a.bundle")
        return merging


_AGAIN = count()


def _rows(connection: Connection, table: Any) -> list[str]:
    return sorted(json.dumps(row, sort_keys=True) for row in rows(connection, select(table)))


def small_parcels(bundle: bytes) -> Iterator[Parcel]:
    yield from BundleReader(io.BytesIO(bundle), "a.bundle").parcels()


def meet(desks: list[Desk]) -> None:
    """Let everybody hear of everything: all into the first, the first into all."""
    for desk in desks[1:]:
        desks[0].take(desk.bundle(since=desks[0].holds()))
    for desk in desks[1:]:
        desk.take(desks[0].bundle(since=desk.holds()))
