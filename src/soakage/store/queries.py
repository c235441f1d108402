"""Lists of assets and tests, searched on indexes: what one asset costs does not grow with the store."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, exists, func, or_, select

from soakage.store import schema
from soakage.store.asking import rows

Row = dict[str, Any]
_HEX = frozenset("0123456789abcdef")
SHORTEST = 8  # signs of an id that may stand for all of it


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a list is to hold; what is not given does not matter.

    Parameters
    ----------
    text : str
        Part of an asset's name, tag, serial number or site, whatever its case; or the beginning of a test's id.
    site, asset_class, status, section : str, optional
        Exactly. The status is that of a test's verdict; of an asset, that of its newest visit.
    since, until : str, optional
        First and last day, ISO.
    unsigned : bool
        Only tests that nobody signed, and assets that have such.
    withdrawn : bool
        Withdrawn tests too.
    """

    text: str = ""
    site: str | None = None
    asset_class: str | None = None
    status: str | None = None
    section: str | None = None
    since: str | None = None
    until: str | None = None
    unsigned: bool = False
    withdrawn: bool = False


def listed_assets(
    connection: Connection, wanted: Wanted, *, limit: int | None = None, offset: int = 0
) -> list[Row]:
    """Return assets with where they stand, by site and name.

    Parameters
    ----------
    connection : Connection
        Reading.
    wanted : Wanted
        Which.
    limit, offset : int
        Which part of the list.

    Returns
    -------
    list of dict
        id, site, asset, tag, serial, class, retired, tests, last_day, status.
    """
    asset, standing = schema.asset, schema.standing
    query = (
        select(
            asset.c.id, asset.c.site, asset.c.name.label("asset"), asset.c.tag, asset.c.serial,
            asset.c["class"], asset.c.retired, func.coalesce(standing.c.tests, 0).label("tests"),
            standing.c.day.label("last_day"), standing.c.status,
        )
        .outerjoin(standing, standing.c.asset == asset.c.id)
        .where(*of_assets_standing(wanted))
    )  # fmt: skip
    # engines differ in where they put what is not stated: it comes first
    order = (
        column.asc().nulls_first() for column in (asset.c.site, asset.c.name, asset.c.tag, asset.c.serial)
    )
    return list(rows(connection, query.order_by(*order, asset.c.id).limit(limit).offset(offset)))


def listed_tests(
    connection: Connection, wanted: Wanted, *, limit: int | None = None, offset: int = 0
) -> list[Row]:
    """Return tests with the verdict that stands, the newest first.

    Parameters
    ----------
    connection : Connection
        Reading.
    wanted : Wanted
        Which.
    limit, offset : int
        Which part of the list.

    Returns
    -------
    list of dict
        id, site, asset, asset_id, section, method, day, status, sentence, state, review, revision.
    """
    test, asset = schema.test, schema.asset
    query = _tests().where(*_of_tests(wanted))
    if wanted.status is not None:
        query = query.where(test.c.status == wanted.status)
    conditions = _of_assets(wanted)
    if conditions:
        inside = test.c.asset.in_(select(asset.c.id).where(*conditions))
        own = None if wanted.site or wanted.asset_class else beginning(wanted.text)
        query = query.where(inside if own is None else or_(inside, own))
    return list(
        rows(
            connection, query.order_by(test.c.day.desc().nulls_last(), test.c.id).limit(limit).offset(offset)
        )
    )


def _tests() -> Select[Any]:
    test, asset = schema.test, schema.asset
    return select(
        test.c.id, asset.c.site, asset.c.name.label("asset"), test.c.asset.label("asset_id"), test.c.section,
        test.c.method, test.c.day, test.c.status, test.c.sentence, test.c.state, test.c.review, test.c.revision,
    ).outerjoin(asset, asset.c.id == test.c.asset)  # fmt: skip


def of_assets_standing(wanted: Wanted) -> list[ColumnElement[bool]]:
    """Return what assets that are joined with where they stand have to fulfil."""
    asset, standing = schema.asset, schema.standing
    conditions = _of_assets(wanted)
    if wanted.status is not None:
        conditions.append(standing.c.status == wanted.status)
    if wanted.since and not (wanted.section or wanted.until or wanted.unsigned or wanted.withdrawn):
        # the newest of its tests: the others need not be opened
        conditions.append(standing.c.day >= wanted.since)
    elif wanted.section or wanted.since or wanted.until or (wanted.unsigned and wanted.withdrawn):
        conditions.append(exists().where(schema.test.c.asset == asset.c.id, *_of_tests(wanted)))
    elif wanted.unsigned:
        conditions.append(standing.c.unsigned > 0)
    return conditions


def _of_tests(wanted: Wanted) -> list[ColumnElement[bool]]:
    test = schema.test
    conditions: list[ColumnElement[bool]] = []
    if not wanted.withdrawn:
        conditions.append(test.c.state == "current")
    if wanted.section is not None:
        conditions.append(test.c.section == wanted.section)
    if wanted.since is not None:
        conditions.append(test.c.day >= wanted.since)
    if wanted.until is not None:
        conditions.append(test.c.day <= wanted.until)
    if wanted.unsigned:
        conditions.append(test.c.review != "signed")
    return conditions


def _of_assets(wanted: Wanted) -> list[ColumnElement[bool]]:
    asset = schema.asset
    conditions: list[ColumnElement[bool]] = []
    if wanted.site is not None:
        conditions.append(asset.c.site == wanted.site)
    if wanted.asset_class is not None:
        conditions.append(asset.c["class"] == wanted.asset_class)
    if wanted.text:
        part = wanted.text.lower()
        columns = (asset.c.name, asset.c.tag, asset.c.serial, asset.c.site)
        conditions.append(or_(*(func.lower(column).contains(part, autoescape=True) for column in columns)))
    return conditions


def beginning(text: str) -> ColumnElement[bool] | None:
    """Return the condition that a test's id begins so; None where the text is no beginning of an id."""
    begin = text.lower()
    if len(begin) < SHORTEST or not set(begin) <= _HEX:
        return None
    return schema.test.c.id.between(begin, begin + "g")
