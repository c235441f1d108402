"""Every verdict of a test, tests that stand under no asset, tests that were purged."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields

from sqlalchemy import Connection, select

from soakage.app.ports import GivenVerdict
from soakage.store import schema
from soakage.store.asking import batches, rows

_NAMES = tuple(part.name for part in fields(GivenVerdict))


def verdicts(connection: Connection, tests: Iterable[str]) -> dict[str, list[GivenVerdict]]:
    """Return the verdicts of tests by the test's id, each list in order of time."""
    table = schema.verdict
    found: dict[str, list[GivenVerdict]] = {}
    for part in batches(tests):
        query = select(*(table.c[name] for name in _NAMES)).where(table.c.test.in_(part))
        for row in rows(connection, query.order_by(table.c.at, table.c.entry)):
            found.setdefault(row["test"], []).append(GivenVerdict(**row))
    return found


def without_asset(connection: Connection, after: str, most: int) -> list[str]:
    """Return ids of tests that name no asset, in order of id, from beyond one on.

    Parameters
    ----------
    connection : Connection
        Reading.
    after : str
        Only ids beyond this one; empty for the first.
    most : int
        How many at most.
    """
    table = schema.test
    query = (
        select(table.c.id).where(table.c.asset.is_(None), table.c.id > after).order_by(table.c.id).limit(most)
    )
    return list(connection.execute(query).scalars())


def purged_tests(connection: Connection, tests: Iterable[str]) -> dict[str, str]:
    """Return, for each of these tests that was purged, the entry that purged it."""
    table = schema.purged
    return {
        row.subject: row.entry
        for part in batches(tests)
        for row in connection.execute(
            select(table.c.subject, table.c.entry).where(table.c.kind == "test", table.c.subject.in_(part))
        )
    }
