"""An asset without its tests, and its tests a part at a time: what a page costs does not grow with the history."""

from __future__ import annotations

import json
from typing import Any

from sqlalchemy import Connection, func, select

from soakage.store import schema
from soakage.store.asking import rows
from soakage.store.pages import conflicts, remarks

Row = dict[str, Any]
_TEST, _FIGURE = schema.test, schema.figure
_COLUMNS = ("id", "section", "visit", "method", "test_voltage", "day", "started", "state", "status", "sentence",
            "review", "reviewer", "revision")  # fmt: skip


def asset_head(connection: Connection, asset: str) -> Row | None:
    """Return what is known of an asset beside its tests, or None where there is no such asset.

    Parameters
    ----------
    connection : Connection
        Reading.
    asset : str
        Its id.

    Returns
    -------
    dict or None
        values (plain value by key, sections with them), standing, notes, events, attachments, conflicts.
    """
    fields = connection.execute(
        select(schema.asset.c.fields).where(schema.asset.c.id == asset)
    ).scalar_one_or_none()
    if fields is None:
        return None
    standing = next(rows(connection, select(schema.standing).where(schema.standing.c.asset == asset)), None)
    return {
        "values": json.loads(fields),
        "standing": standing,
        **remarks(connection, "asset", asset),
        "conflicts": conflicts(connection, "asset", asset),
    }


def asset_tests(connection: Connection, asset: str, limit: int, offset: int = 0) -> tuple[int, list[Row]]:
    """Return how many tests an asset has, and a part of them with their figures, the newest first.

    Parameters
    ----------
    connection : Connection
        Reading.
    asset : str
        Its id.
    limit, offset : int
        Which part.

    Returns
    -------
    int
        Withdrawn ones counted too.
    list of dict
        id, section, visit, method, test_voltage [V], day, started, state, status, sentence, review, reviewer,
        revision, tester, figures (by quantity: value, bound, uncertainty).
    """
    of = _TEST.c.asset == asset
    count = connection.execute(select(func.count()).select_from(_TEST).where(of)).scalar_one()
    query = (
        select(*(_TEST.c[name] for name in _COLUMNS), schema.entry.c.body)
        .join(schema.entry, schema.entry.c.hash == _TEST.c.received)
        .where(of)
        .order_by(
            _TEST.c.day.desc().nulls_last(),
            _TEST.c.visit.asc().nulls_first(),
            _TEST.c.section,
            _TEST.c.started.asc().nulls_first(),
            _TEST.c.id,
        )
        .limit(limit)
        .offset(offset)
    )
    found = []
    for row in rows(connection, query):
        stated = json.loads(row.pop("body"))["record"]["stated"]
        found.append(row | {"tester": stated.get("tested_by"), "figures": {}})
    _add_figures(connection, found)
    return count, found


def newest_tests(connection: Connection, asset: str) -> list[Row]:
    """Return the current tests of an asset's newest visit with their figures, in order of section."""
    standing = next(rows(connection, select(schema.standing).where(schema.standing.c.asset == asset)), None)
    if standing is None:
        return []
    of = [_TEST.c.asset == asset, _TEST.c.state == "current"]
    of.append(_TEST.c.visit == standing["visit"] if standing["visit"] else _TEST.c.day == standing["day"])
    query = select(*(_TEST.c[name] for name in _COLUMNS)).where(*of).order_by(_TEST.c.section, _TEST.c.id)
    found = [row | {"figures": {}} for row in rows(connection, query)]
    _add_figures(connection, found)
    return found


def _add_figures(connection: Connection, tests: list[Row]) -> None:
    by_id = {test["id"]: test for test in tests}
    for row in rows(connection, select(_FIGURE).where(_FIGURE.c.test.in_(list(by_id)))):
        kept = {name: row[name] for name in ("value", "bound", "uncertainty", "rule", "base_temperature")}
        by_id[row["test"]]["figures"][row["quantity"]] = kept
