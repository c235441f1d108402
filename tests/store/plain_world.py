"""Invented assets, visits, tests and figures as plain rows: put into a store, and kept beside it for plain loops.

The rows are made at random from a seed and hold what real stores hold seldom: no site, no day, no visit, no
verdict, bounds, withdrawn tests, names with signs that a search could misread.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, insert

from soakage.model.stated import digest
from soakage.store import schema
from soakage.store.standing import refresh
from soakage.store.store import Store

Row = dict[str, Any]
STATUSES = ("unfit", "investigate", "invalid test", "not judged", "watch", "sound", "not applicable")
QUANTITIES = (
    "insulation_resistance_60s_corrected",
    "insulation_resistance_60s",
    "polarization_index",
    "insulation_resistance_corrected",
)
SITES = (None, "mill", "harbour", "mill annex")
CLASSES = (None, "rotating-machine", "cable", "transformer")
SECTIONS = ("phase u", "phase v", "hv to earth")
INSULATIONS = (None, "epoxy-mica", "asphalt-mica", "paper of an own kind")
VOLTAGES = (None, 400.0, 3300.0, 6600.0, 7000.0, 11000.0)
DAYS = (None, "2011-05-02", "2011-05-03", "2019-12-31", "2020-01-01", "2026-03-14")
TAGS = (None, "p_1", "p%1", "p1", "P1", "öl-1", "\\x")


@dataclass
class World:
    """Rows by table, as they stand in the store."""

    assets: list[Row] = field(default_factory=list)
    tests: list[Row] = field(default_factory=list)
    figures: list[Row] = field(default_factory=list)
    entries: list[Row] = field(default_factory=list)
    verdicts: list[Row] = field(default_factory=list)

    def asset(self, name: str | None) -> Row | None:
        return next((row for row in self.assets if row["id"] == name), None)

    def tests_of(self, asset: str, *, withdrawn: bool = False) -> list[Row]:
        return [
            row for row in self.tests if row["asset"] == asset and (withdrawn or row["state"] == "current")
        ]

    def figures_of(self, test: str) -> dict[str, Row]:
        return {row["quantity"]: row for row in self.figures if row["test"] == test}


def world(seed: int, assets: int = 24, most: int = 12) -> World:
    """Make a world; the same for the same seed."""
    chance = random.Random(seed)  # noqa: S311 - no secret
    made = World()
    for number in range(assets):
        name = digest(f"asset {seed} {number}")[:32]
        values: Row = {
            "site": chance.choice(SITES),
            "name": chance.choice((None, f"pump {number:02}", f"pump {number % 5:02}")),
            "tag": chance.choice(TAGS),
            "serial": chance.choice((None, f"s-{number}")),
            "class": chance.choice(CLASSES),
            "rated_voltage": chance.choice(VOLTAGES),
            "insulation": chance.choice(INSULATIONS),
            "year": chance.choice((None, 1970, 2004)),
        }
        made.assets.append(
            {"id": name, **values, "retired": chance.random() < 0.15, "fields": json.dumps(values)}
        )
        for place in range(chance.randint(0, most)):
            _test(made, chance, name, f"{seed} {number} {place}")
    for place in range(3):
        _test(made, chance, None, f"{seed} loose {place}")
    return made


def _test(made: World, chance: random.Random, asset: str | None, what: str) -> None:
    name = digest(f"test {what}")[:32]
    day = chance.choice(DAYS)
    visit = None if asset is None or day is None else digest(f"{asset} {day}")[:32]
    received, judged = digest(f"received {what}"), digest(f"judged {what}")
    status = chance.choice((None, *STATUSES))
    stated = {
        "tested_by": chance.choice((None, "N. Invented")),
        "purpose": chance.choice((None, "acceptance")),
    }
    at = 1_000_000 * len(made.entries)
    for own, action, body in (
        (received, "received", {"record": {"stated": {k: v for k, v in stated.items() if v}}}),
        (judged, "judged", {}),
    ):
        made.entries.append(
            {"hash": own, "store": "invented", "number": len(made.entries) + 1, "previous": digest("before"), "at": at,
             "person": "N. Invented", "identity": "stated", "kind": "test", "subject": name, "action": action,
             "parents": "[]", "reason": "", "body_sha256": digest("body"), "body": json.dumps(body)}
        )  # fmt: skip
    made.tests.append(
        {"id": name, "asset": asset, "section": chance.choice(SECTIONS), "visit": visit, "instrument": None,
         "method": chance.choice(("polarization-index", "insulation-resistance")),
         "test_voltage": chance.choice((None, 500.0, 5000.0)), "day": day,
         "started": day and f"{day}T{chance.randint(10, 12)}:00:00+00:00", "content": digest(f"content {what}")[:32],
         "revision": chance.randint(1, 3), "received": received, "readings": digest("readings"), "file": "a.csv",
         "file_sha256": None, "row": None, "state": "withdrawn" if chance.random() < 0.2 else "current",
         "status": status, "sentence": status and f"It is {status}.", "verdict": status and judged,
         "review": chance.choice(("draft", "reviewed", "signed")), "reviewer": None, "reviewed_at": None}
    )  # fmt: skip
    if status is None:
        return
    made.verdicts.append(
        {"entry": judged, "test": name, "content": digest("content")[:32], "profile": "default",
         "profile_sha256": digest("p"), "criteria_sha256": digest("c"), "version": "1", "status": status,
         "sentence": "", "result": digest(f"result {what}"), "at": at, "person": "N. Invented", "reason": ""}
    )  # fmt: skip
    for quantity in QUANTITIES:
        if chance.random() < 0.6:
            made.figures.append(
                {"test": name, "quantity": quantity, "value": chance.choice((0.0, 1.5, 2e6, 5e8, 3.25e9)),
                 "bound": chance.choice((None, None, "lower", "upper")), "uncertainty": chance.choice((None, 0.1)),
                 "rule": chance.choice((None, "ten-degree")), "base_temperature": chance.choice((None, 313.15))}
            )  # fmt: skip


def lay(made: World, connection: Connection) -> None:
    """Put a world into an empty store, and let the store find where each asset stands."""
    tables = (
        (schema.asset, made.assets), (schema.entry, made.entries), (schema.test, made.tests),
        (schema.verdict, made.verdicts), (schema.figure, made.figures),
    )  # fmt: skip
    for table, rows in tables:
        connection.execute(insert(table), rows)
    refresh(connection, [row["id"] for row in made.assets])


def filled_with(made: World, store: Store) -> Store:
    """Put a world into a store."""
    with store.writing("N. Invented") as writer:
        lay(made, writer.connection)
    return store


def empty_first(key: Callable[[Row], tuple[Any, ...]]) -> Callable[[Row], list[tuple[bool, Any]]]:
    """A key for sorting in which what is not there comes first."""
    return lambda row: [(value is not None, value if value is not None else 0) for value in key(row)]


def pages(size: int, count: int) -> Iterator[tuple[int, int]]:
    """Limits and offsets that make up a list of so many rows, and one page more."""
    for start in range(0, count + size + 1, size):
        yield size, start
