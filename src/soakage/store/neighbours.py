"""What a test stands beside: sister sections of its visit, earlier tests alike, and its withdrawals."""

from __future__ import annotations

import json
from typing import Any

from sqlalchemy import Connection, select

from soakage.store import schema
from soakage.store.asking import rows
from soakage.store.pages import moment

Row = dict[str, Any]
MOST_EARLIER = 8
_TURNS = ("withdrawn", "reinstated", "revised")
_COLUMNS = ("id", "section", "day", "started", "method", "test_voltage", "status", "visit")


def neighbours(connection: Connection, test: str) -> tuple[list[Row], list[Row]]:
    """Return the tests that a test is compared with, each with the figures of its verdict.

    Parameters
    ----------
    connection : Connection
        Reading.
    test : str
        Its id; it is there.

    Returns
    -------
    sisters : list of dict
        Current tests of other sections of the same visit, by the same method, in order of section.
    earlier : list of dict
        Current tests of the same section by the same method before it, the newest first.
    """
    table = schema.test
    own = next(rows(connection, select(table).where(table.c.id == test)))
    if own["asset"] is None:
        return [], []
    alike = (
        table.c.asset == own["asset"], table.c.method == own["method"], table.c.state == "current",
        table.c.id != test,
    )  # fmt: skip
    columns = [table.c[name] for name in _COLUMNS]
    sisters: list[Row] = []
    if own["visit"]:
        query = (
            select(*columns)
            .where(table.c.visit == own["visit"], *alike)
            .order_by(table.c.section, table.c.id)
        )
        sisters = list(rows(connection, query))
    earlier: list[Row] = []
    if own["day"]:
        before = (table.c.section == own["section"], table.c.day < own["day"])
        order = (table.c.day.desc(), table.c.id)
        earlier = list(
            rows(connection, select(*columns).where(*alike, *before).order_by(*order).limit(MOST_EARLIER))
        )
    _add_figures(connection, [*sisters, *earlier])
    return sisters, earlier


def _add_figures(connection: Connection, tests: list[Row]) -> None:
    figure = schema.figure
    by_test: dict[str, Row] = {row["id"]: row.setdefault("figures", {}) for row in tests}
    for row in rows(connection, select(figure).where(figure.c.test.in_(by_test))) if by_test else ():
        by_test[row["test"]][row["quantity"]] = {
            name: row[name] for name in ("value", "bound", "uncertainty", "rule", "base_temperature")
        }


def withdrawals(connection: Connection, test: str) -> list[Row]:
    """Return when a test was withdrawn and taken back, by whom and why, in order of time."""
    table = schema.entry
    query = (
        select(table.c.at, table.c.person, table.c.action, table.c.reason, table.c.body)
        .where(table.c.kind == "test", table.c.subject == test, table.c.action.in_(_TURNS))
        .order_by(table.c.at, table.c.hash)
    )
    return [
        {"at": moment(row["at"]), "person": row["person"], "back": back, "reason": row["reason"]}
        for row in rows(connection, query)
        if (back := _back(row["body"])) is not None
    ]


def _back(body: str | None) -> bool | None:
    """Return whether an entry takes a withdrawal back; None where it is of something else."""
    # a signed test is withdrawn by a revision
    withdrawn = json.loads(body or "{}").get("set", {}).get("withdrawn")
    return None if withdrawn is None else not withdrawn
