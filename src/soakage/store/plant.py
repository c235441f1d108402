"""All plant at once, from where each asset stands: ranked, counted by class, spread; no test is opened for it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Literal

from sqlalchemy import ColumnElement, Connection, Select, case, func, select

from soakage.model.verdict import Status
from soakage.store import schema
from soakage.store.asking import rows
from soakage.store.queries import Wanted, of_assets_standing

Row = dict[str, Any]
By = Literal["condition", "fall", "name"]
# What has to be looked at first; an asset without a test comes last.
WORST_FIRST = (
    Status.UNFIT, Status.INVESTIGATE, Status.INVALID_TEST, Status.NOT_JUDGED, Status.WATCH, Status.SOUND,
    Status.NOT_APPLICABLE,
)  # fmt: skip
_RANK = {str(status): place for place, status in enumerate(WORST_FIRST)}
_ASSET, _STANDING = schema.asset, schema.standing


def ranked(
    connection: Connection, wanted: Wanted, *, by: By = "condition", limit: int | None = None, offset: int = 0
) -> list[Row]:
    """Return assets in service, the neediest first.

    Parameters
    ----------
    connection : Connection
        Reading.
    wanted : Wanted
        Which.
    by : str
        ``condition``: by status, then by fall; ``fall``: by fall alone; ``name``: by site and name.
    limit, offset : int
        Which part of the list.

    Returns
    -------
    list of dict
        id, site, asset, tag, serial, class, rated_voltage, retired, tests, last_day, status, unsigned, resistance
        [ohm], index, fall (ln of the newest visit's resistance over the one before, None where nothing compares).
    """
    query = _joined(
        wanted, _ASSET.c.id, _ASSET.c.site, _ASSET.c.name.label("asset"), _ASSET.c.tag, _ASSET.c.serial,
        _ASSET.c["class"], _ASSET.c.rated_voltage, _ASSET.c.retired,
        func.coalesce(_STANDING.c.tests, 0).label("tests"), _STANDING.c.day.label("last_day"),
        _STANDING.c.status, func.coalesce(_STANDING.c.unsigned, 0).label("unsigned"), _STANDING.c.resistance,
        _STANDING.c["index"], _STANDING.c.fall,
    )  # fmt: skip
    return list(rows(connection, query.order_by(*_order(by)).limit(limit).offset(offset)))


def counted(connection: Connection, wanted: Wanted) -> list[Row]:
    """Return how many assets in service there are of each class and status: class, status, count.

    The status is None where an asset has no test.
    """
    query = _joined(wanted, _ASSET.c["class"], _STANDING.c.status, func.count().label("count"))
    return list(rows(connection, query.group_by(_ASSET.c["class"], _STANDING.c.status)))


def marks(connection: Connection, wanted: Wanted, limit: int) -> list[Row]:
    """Return at most so many assets in service with class and status, worst first: id, asset, class, status."""
    name = func.coalesce(_ASSET.c.name, _ASSET.c.tag, _ASSET.c.serial).label("asset")
    query = _joined(wanted, _ASSET.c.id, name, _ASSET.c["class"], _STANDING.c.status)
    return list(rows(connection, query.order_by(*_order("condition")).limit(limit)))


def spread(connection: Connection, wanted: Wanted) -> list[Row]:
    """Return the resistance of the newest visit of each asset that has one: id, asset, class, rated_voltage,
    resistance [ohm], status.
    """  # noqa: D205 - one sentence
    name = func.coalesce(_ASSET.c.name, _ASSET.c.tag, _ASSET.c.serial).label("asset")
    query = _joined(
        wanted, _ASSET.c.id, name, _ASSET.c["class"], _ASSET.c.rated_voltage, _STANDING.c.resistance,
        _STANDING.c.status,
    )  # fmt: skip
    return list(rows(connection, query.where(_STANDING.c.resistance > 0)))


def sites(connection: Connection) -> list[str]:
    """Return the names of the sites that assets are at, in order."""
    query = select(_ASSET.c.site).where(_ASSET.c.site.is_not(None)).distinct().order_by(_ASSET.c.site)
    return list(connection.execute(query).scalars())


def named(connection: Connection, assets: Iterable[str]) -> dict[str, str]:
    """Return what a few assets are called, by id."""
    name = func.coalesce(_ASSET.c.name, _ASSET.c.tag, _ASSET.c.serial).label("asset")
    query = select(_ASSET.c.id, name).where(_ASSET.c.id.in_(list(assets)))
    return {row["id"]: row["asset"] for row in rows(connection, query)}


def _joined(wanted: Wanted, *columns: ColumnElement[Any]) -> Select[Any]:
    return (
        select(*columns)
        .select_from(_ASSET)
        .outerjoin(_STANDING, _STANDING.c.asset == _ASSET.c.id)
        .where(_ASSET.c.retired.is_(False), *of_assets_standing(wanted))
    )


def worst_first() -> ColumnElement[Any]:
    """Return what sorts standings by status, the worst first."""
    return case(_RANK, value=_STANDING.c.status, else_=len(_RANK))


def _order(by: By) -> list[ColumnElement[Any]]:
    names: list[ColumnElement[Any]] = [
        _ASSET.c.site.asc().nulls_first(), _ASSET.c.name.asc().nulls_first(), _ASSET.c.id,
    ]  # fmt: skip
    fall = _STANDING.c.fall.asc().nulls_last()
    if by == "name":
        return names
    return [fall, *names] if by == "fall" else [worst_first(), fall, *names]
