"""The history of one asset, and the newest figures of its peers, found by indexes."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from soakage.app.history import HistoryPoint
from soakage.app.peers import Kin
from soakage.app.ports import PastTest
from soakage.model.keys import insulation_family
from soakage.store import schema
from soakage.store.asking import rows
from soakage.units import Bound

MOST_PEERS = 4000  # figures; beyond, a percentile changes no more
_FIGURE = ("value", "bound", "uncertainty", "rule", "base_temperature")


def history(connection: Connection, asset: str) -> list[PastTest]:
    """Return the current tests of an asset, in order of day."""
    test, entry, verdict, figure = schema.test, schema.entry, schema.verdict, schema.figure
    found: dict[str, dict[str, dict[str, Any]]] = {}
    mine = (test.c.asset == asset, test.c.state == "current")
    figures = select(figure).join(test, test.c.id == figure.c.test).where(*mine)
    for row in rows(connection, figures):
        found.setdefault(row["test"], {})[row["quantity"]] = {name: row[name] for name in _FIGURE}
    query = (
        select(
            test.c.id, test.c.section, test.c.day, test.c.status, test.c.visit, entry.c.body, verdict.c.result
        )
        .join(entry, entry.c.hash == test.c.received)
        .outerjoin(verdict, verdict.c.entry == test.c.verdict)
        .where(*mine)
        .order_by(test.c.day.asc().nulls_first(), test.c.id)
    )
    return [
        PastTest(
            id=row["id"],
            section=row["section"],
            day=row["day"],
            stated=json.loads(row["body"])["record"]["stated"],
            status=row["status"],
            result=row["result"],
            figures=found.get(row["id"], {}),
            visit=row["visit"],
        )
        for row in rows(connection, query)
    ]


def peer_points(
    connection: Connection, kin: Kin, quantities: Iterable[str], but: str, ratio: float
) -> Iterator[tuple[str, Kin, HistoryPoint]]:
    """Yield the figures of the newest visit of assets of one kind.

    Parameters
    ----------
    connection : Connection
        Reading.
    kin : Kin
        What makes them peers: class and, where it is stated, a rated voltage within a factor.
    quantities : iterable of str
        Wanted ids.
    but : str
        Asset left out.
    ratio : float
        Largest ratio of the rated voltages.

    Yields
    ------
    asset, kin, point
        At most `MOST_PEERS` of them, by id of the asset.
    """
    test, figure, asset, standing = schema.test, schema.figure, schema.asset, schema.standing
    query = (
        select(
            asset.c.id.label("asset"), asset.c["class"].label("asset_class"), asset.c.rated_voltage,
            asset.c.insulation, asset.c.year, test.c.id, test.c.section, test.c.method, test.c.test_voltage,
            test.c.day, test.c.visit, test.c.status, figure.c.quantity, *(figure.c[name] for name in _FIGURE),
        )
        .join(standing, standing.c.asset == asset.c.id)
        .join(test, test.c.visit == standing.c.visit)
        .join(figure, figure.c.test == test.c.id)
        .where(asset.c["class"] == kin.asset_class, asset.c.id != but, test.c.state == "current")
        .where(figure.c.quantity.in_(list(quantities)), test.c.day.is_not(None))
        .order_by(asset.c.id)
        .limit(MOST_PEERS)
    )  # fmt: skip
    if kin.rated_voltage:
        least, most = kin.rated_voltage / ratio, kin.rated_voltage * ratio
        query = query.where(asset.c.rated_voltage.between(least * (1 - 1e-9), most * (1 + 1e-9)))
    for row in rows(connection, query):
        family = insulation_family(row["insulation"]) if row["insulation"] else None
        point = HistoryPoint(
            test=row["id"],
            at=date.fromisoformat(row["day"]),
            section=row["section"],
            quantity=row["quantity"],
            value=row["value"],
            bound=Bound(row["bound"]) if row["bound"] else None,
            uncertainty=row["uncertainty"],
            rule=row["rule"],
            base_temperature=row["base_temperature"],
            method=row["method"],
            test_voltage=row["test_voltage"],
            status=row["status"] or "not judged",
            visit=row["visit"],
        )
        yield row["asset"], Kin(row["asset_class"], row["rated_voltage"], family, row["year"]), point


def remarks(connection: Connection, kind: str, subject: str) -> list[dict[str, Any]]:
    """Return what was added to a subject, in order of time: action, person, at, fields."""
    table = schema.remark
    query = (
        select(table)
        .where(table.c.kind == kind, table.c.subject == subject)
        .order_by(table.c.at, table.c.entry)
    )
    return [row | {"fields": json.loads(row["fields"])} for row in rows(connection, query)]
