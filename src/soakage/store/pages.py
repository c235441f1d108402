"""Everything the store knows of one asset, or of one test: found by indexes, whatever else it holds."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, Connection, select

from soakage.model.readings import Readings
from soakage.store import schema
from soakage.store.asking import batches, rows
from soakage.store.seal import unseal
from soakage.store.store import Store

Row = dict[str, Any]
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_GROUPS = {
    "noted": "notes", "happened": "events", "attached": "attachments", "reviewed": "reviews", "signed": "reviews",
    "calibrated": "calibrations",
}  # fmt: skip
_TEST = (
    "id", "section", "visit", "instrument", "method", "test_voltage", "day", "started", "content",
    "revision", "state", "status", "sentence", "review", "reviewer",
)  # fmt: skip
_COLUMNS = ("time", "voltage", "current", "resistance")


def moment(at: int) -> str:
    """Return microseconds since 1970 as ISO text in UTC."""
    return (_EPOCH + timedelta(microseconds=at)).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def asset_page(connection: Connection, asset: str) -> Row:
    """Return all that is known of an asset.

    Parameters
    ----------
    connection : Connection
        Reading.
    asset : str
        Its id; it is there.

    Returns
    -------
    dict
        asset, sections, standing, tests with their figures, notes, events, attachments, reviews, conflicts,
        instruments.
    """
    row = next(rows(connection, select(schema.asset).where(schema.asset.c.id == asset)))
    values = json.loads(row["fields"])
    plate = {name: value for name, value in values.items() if not name.startswith("section:")}
    sections = [
        {"name": name.removeprefix("section:"), **(value if isinstance(value, dict) else {})}
        for name, value in sorted(values.items())
        if name.startswith("section:")
    ]
    standing = next(rows(connection, select(schema.standing).where(schema.standing.c.asset == asset)), None)
    tests = _tests(connection, schema.test.c.asset == asset)
    page: Row = {
        "asset": {"id": asset, **plate},
        "sections": sections,
        "standing": None if standing is None else {k: v for k, v in standing.items() if k != "asset"},
        "tests": tests,
    }
    page |= remarks(connection, "asset", asset)
    page["conflicts"] = conflicts(connection, "asset", asset)
    page["instruments"] = instruments(
        connection, [test["instrument"] for test in tests if test["instrument"]]
    )
    return page


def _tests(connection: Connection, condition: ColumnElement[bool]) -> list[Row]:
    """Return tests in order of day, each with the figures of the verdict that stands."""
    test, figure = schema.test, schema.figure
    figures: dict[str, Row] = {}
    query = select(figure).join(test, test.c.id == figure.c.test).where(condition)
    for row in rows(connection, query):
        kept = {k: row[k] for k in ("value", "bound", "uncertainty", "rule", "base_temperature")}
        figures.setdefault(row["test"], {})[row["quantity"]] = kept
    order = (test.c.day.asc().nulls_first(), test.c.started.asc().nulls_first(), test.c.section, test.c.id)
    found = rows(connection, select(test).where(condition).order_by(*order))
    return [_plain(row) | {"figures": figures.get(row["id"], {})} for row in found]


def _plain(row: Row) -> Row:
    return {name: row[name] for name in _TEST} | {"asset_id": row["asset"]}


def remarks(connection: Connection, kind: str, subject: str) -> Row:
    """Return what was added to a subject, by what it is: notes, events, attachments, reviews, calibrations."""
    table = schema.remark
    found: Row = {name: [] for name in dict.fromkeys(_GROUPS.values())}
    query = (
        select(table)
        .where(table.c.kind == kind, table.c.subject == subject)
        .order_by(table.c.at, table.c.entry)
    )
    for row in rows(connection, query):
        said = {"entry": row["entry"], "person": row["person"], "said_at": moment(row["at"])}
        fields = json.loads(row["fields"])
        if _GROUPS[row["action"]] == "reviews":
            fields["action"] = row["action"]
        found[_GROUPS[row["action"]]].append(said | fields)
    return found


def conflicts(connection: Connection, kind: str, subject: str) -> list[Row]:
    """Return the fields of a subject that two people changed without seeing each other."""
    table = schema.conflict
    query = select(table).where(table.c.kind == kind, table.c.subject == subject).order_by(table.c.field)
    return [
        {
            "field": row["field"],
            "claims": [claim | {"at": moment(claim["at"])} for claim in json.loads(row["claims"])],
        }
        for row in rows(connection, query)
    ]


def instruments(connection: Connection, ids: list[str]) -> list[Row]:
    """Return instruments with all that is stated of them."""
    table = schema.instrument
    return [
        {"id": row["id"], **json.loads(row["fields"])}
        for part in batches(ids)
        for row in rows(connection, select(table).where(table.c.id.in_(part)).order_by(table.c.id))
    ]


def test_page(store: Store, connection: Connection, test: str) -> Row:
    """Return all that is known of a test.

    Parameters
    ----------
    store : Store
        Gives the bytes kept.
    connection : Connection
        Reading.
    test : str
        Its id; it is there.

    Returns
    -------
    dict
        test, asset, record (stated, extra, readings), result (as of judge --json), revisions, verdicts, reviews,
        notes, attachments, conflicts, instruments, origin.
    """
    row = next(rows(connection, select(schema.test).where(schema.test.c.id == test)))
    body = connection.execute(
        select(schema.entry.c.body).where(schema.entry.c.hash == row["received"])
    ).scalar_one()
    kept = json.loads(body)["record"]
    verdicts = _verdicts(connection, test)
    stands = next((given for given in verdicts if given["entry"] == row["verdict"]), None)
    page: Row = {
        "test": _plain(row),
        "asset": _asset(connection, row["asset"]),
        "record": {
            "stated": kept["stated"],
            "extra": kept["extra"],
            "findings": kept["findings"],
            "readings": readings_plain(unseal(store.blob(connection, row["readings"]))),
        },
        "result": None if stands is None else json.loads(store.blob(connection, stands["result"])),
        "revisions": [
            {"number": one["number"], "content": one["content"], "reason": one["reason"], "person": one["person"],
             "at": moment(one["at"])}
            for one in rows(
                connection,
                select(schema.revision).where(schema.revision.c.test == test).order_by(schema.revision.c.number),
            )
        ],
        "verdicts": [given | {"stands": given is stands} for given in verdicts],
    }  # fmt: skip
    page |= remarks(connection, "test", test)
    page["conflicts"] = conflicts(connection, "test", test)
    page["instruments"] = instruments(connection, [row["instrument"]] if row["instrument"] else [])
    page["origin"] = {
        "file": kept["file"], "sha256": kept["sha256"], "row": kept["row"], "kept": kept["file_sha256"] is not None,
    }  # fmt: skip
    return page


def _asset(connection: Connection, asset: str | None) -> Row | None:
    if asset is None:
        return None
    found = next(rows(connection, select(schema.asset).where(schema.asset.c.id == asset)), None)
    if found is None:
        return {"id": asset, "site": None, "asset": None, "tag": None, "serial": None}
    return {
        "id": asset,
        "site": found["site"],
        "asset": found["name"],
        "tag": found["tag"],
        "serial": found["serial"],
    }


def _verdicts(connection: Connection, test: str) -> list[Row]:
    table = schema.verdict
    query = select(table).where(table.c.test == test).order_by(table.c.at, table.c.entry)
    return [row | {"at": moment(row["at"])} for row in rows(connection, query)]


def readings_plain(readings: Readings) -> Row:
    """Return readings as lists by column in SI; None where nothing was read."""
    columns: Row = {
        name: [None if value != value else value for value in getattr(readings, name).tolist()]  # noqa: PLR0124 - NaN
        for name in _COLUMNS
    }
    return columns | {"bound": readings.bound.tolist()}
