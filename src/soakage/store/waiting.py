"""What waits for somebody: verdicts nobody decided on, conflicts, unfinished sheets, tests by their turn."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Float,
    Integer,
    case,
    cast,
    exists,
    func,
    literal,
    or_,
    select,
)

from soakage.model.verdict import Status
from soakage.store import schema
from soakage.store.asking import rows
from soakage.store.pages import moment
from soakage.store.plant import worst_first

Row = dict[str, Any]
_DECIDE = (str(Status.UNFIT), str(Status.INVESTIGATE))
_ASSET, _STANDING, _TEST = schema.asset, schema.standing, schema.test
_NAME = func.coalesce(_ASSET.c.name, _ASSET.c.tag, _ASSET.c.serial).label("asset")


def held(connection: Connection) -> Row:
    """Return how much the store holds: assets, and those of them that were never tested."""
    tested = exists().where(_STANDING.c.asset == _ASSET.c.id)
    assets = connection.execute(select(func.count()).select_from(_ASSET)).scalar_one()
    untested = select(func.count()).select_from(_ASSET).where(_ASSET.c.retired.is_(False), ~tested)
    return {"assets": assets, "untested": connection.execute(untested).scalar_one()}


def to_decide(connection: Connection, limit: int) -> tuple[int, list[Row]]:
    """Return assets whose newest visit is unfit or to be investigated and has such a test that nobody signed.

    Parameters
    ----------
    connection : Connection
        Reading.
    limit : int
        How many are told in full.

    Returns
    -------
    int
        How many there are.
    list of dict
        The worst of them, then the newest: asset_id, asset, site, status, day, and of the test that is worst: test,
        section, sentence.
    """
    own = or_(
        _TEST.c.visit == _STANDING.c.visit, _STANDING.c.visit.is_(None) & (_TEST.c.day == _STANDING.c.day)
    )
    unsigned = (
        exists()
        .where(_TEST.c.asset == _STANDING.c.asset, own, _TEST.c.status == _STANDING.c.status)
        .where(_TEST.c.state == "current", _TEST.c.review != "signed")
    )
    query = (
        select(_STANDING.c.asset.label("asset_id"), _NAME, _ASSET.c.site, _STANDING.c.status,
               _STANDING.c.day, _STANDING.c.visit, func.count().over().label("all"))
        .join(_ASSET, _ASSET.c.id == _STANDING.c.asset)
        .where(_STANDING.c.status.in_(_DECIDE), _STANDING.c.unsigned > 0, _ASSET.c.retired.is_(False), unsigned)
        .order_by(worst_first(), _STANDING.c.day.desc().nulls_last(), _STANDING.c.asset)
        .limit(limit)
    )  # fmt: skip
    found = list(rows(connection, query))
    return (found[0]["all"] if found else 0), [row | _worst(connection, row) for row in found]


def _worst(connection: Connection, row: Mapping[str, Any]) -> Row:
    """Return the test of an asset's newest visit that has its status and is not signed."""
    query = select(_TEST.c.id.label("test"), _TEST.c.section, _TEST.c.sentence).where(
        _TEST.c.asset == row["asset_id"],
        _TEST.c.visit == row["visit"] if row["visit"] else _TEST.c.day == row["day"],
        _TEST.c.status == row["status"],
        _TEST.c.state == "current",
        _TEST.c.review != "signed",
    )
    return next(rows(connection, query.order_by(_TEST.c.section, _TEST.c.id).limit(1)))


def conflicts(connection: Connection, limit: int) -> tuple[int, list[Row]]:
    """Return how many fields two people changed without seeing each other, and the first of them.

    Parameters
    ----------
    connection : Connection
        Reading.
    limit : int
        How many are told in full.

    Returns
    -------
    int
        How many there are.
    list of dict
        kind, subject, field, claims, asset_id and asset where it is an asset's or of a test of one.
    """
    table = schema.conflict
    count = connection.execute(select(func.count()).select_from(table)).scalar_one()
    own = case((table.c.kind == "asset", table.c.subject), else_=_TEST.c.asset)
    query = (
        select(table, own.label("asset_id"), _NAME)
        .outerjoin(_TEST, (table.c.kind == literal("test")) & (_TEST.c.id == table.c.subject))
        .outerjoin(_ASSET, _ASSET.c.id == own)
        .order_by(table.c.kind, table.c.subject, table.c.field)
        .limit(limit)
    )
    return count, [row | {"claims": json.loads(row["claims"])} for row in rows(connection, query)]


def unfinished(connection: Connection, limit: int) -> list[Row]:
    """Return the sheets that were begun and not finished, the newest first.

    Parameters
    ----------
    connection : Connection
        Reading.
    limit : int
        At most so many.

    Returns
    -------
    list of dict
        id, person, asset_id, asset, begun, changed (ISO), readings (how many), fields.
    """
    draft, row_ = schema.draft, schema.draft_row
    # a sheet keeps other things that happened too: the start, how it ended
    read = row_.c.fields.contains('"kind":"reading"')
    readings = select(func.count()).where(row_.c.draft == draft.c.id, read).scalar_subquery()
    query = (
        select(draft.c.id, draft.c.person, draft.c.asset.label("asset_id"), _NAME, draft.c.begun, draft.c.changed,
               draft.c.fields, readings.label("readings"))
        .outerjoin(_ASSET, _ASSET.c.id == draft.c.asset)
        .order_by(draft.c.changed.desc(), draft.c.id)
        .limit(limit)
    )  # fmt: skip
    return [
        row | {"begun": moment(row["begun"]), "changed": moment(row["changed"]), "fields": json.loads(row["fields"])}
        for row in rows(connection, query)
    ]  # fmt: skip


def by_turn(
    connection: Connection,
    years: Mapping[str, float],
    otherwise: float,
    *,
    limit: int,
    site: str | None = None,
    asset_class: str | None = None,
) -> tuple[int, list[Row]]:
    """Return assets in service by when their turn comes if only the interval after their status counted.

    Parameters
    ----------
    connection : Connection
        Reading.
    years : mapping of str to float
        Interval after each status.
    otherwise : float
        Interval after any other status.
    limit : int
        At most so many.
    site, asset_class : str, optional
        Only these.

    Returns
    -------
    int
        How many assets in service have a dated test.
    list of dict
        asset_id, asset, status, day, turn (a year with its fraction); the earliest first.
    """

    def part(start: int, length: int) -> Any:  # noqa: ANN401 - an expression
        return cast(func.substr(_STANDING.c.day, start, length), Integer)

    interval = case(dict(years), value=_STANDING.c.status, else_=otherwise)
    turn = cast(part(1, 4), Float) + (part(6, 2) - 1) / 12.0 + (part(9, 2) - 1) / 372.0 + interval
    of: list[ColumnElement[bool]] = [_ASSET.c.retired.is_(False), _STANDING.c.day.is_not(None)]
    of += [_ASSET.c.site == site] if site else []
    of += [_ASSET.c["class"] == asset_class] if asset_class else []
    query = (
        select(_STANDING.c.asset.label("asset_id"), _NAME, _STANDING.c.status, _STANDING.c.day,
               turn.label("turn"), func.count().over().label("all"))
        .join(_ASSET, _ASSET.c.id == _STANDING.c.asset)
        .where(*of)
        .order_by(turn, _STANDING.c.asset)
        .limit(limit)
    )  # fmt: skip
    found = list(rows(connection, query))
    return (found[0]["all"] if found else 0), found
