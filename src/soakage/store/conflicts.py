"""The conflicts of a store, each with what a person calls the thing it is about."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy import Connection, select

from soakage.app.exchange import Conflict
from soakage.app.folding import Claim
from soakage.app.register import title_of
from soakage.store import schema
from soakage.store.asking import batches, rows


def conflicts(connection: Connection) -> list[Conflict]:
    """Return every conflict that nobody settled yet, by kind, name and field."""
    table = schema.conflict
    found = list(rows(connection, select(table).order_by(table.c.kind, table.c.subject, table.c.field)))
    names: dict[tuple[str, str], tuple[str, tuple[str, ...]]] = {}
    for kind in {row["kind"] for row in found}:
        wanted = [row["subject"] for row in found if row["kind"] == kind]
        names |= {(kind, subject): said for subject, said in _names(connection, kind, wanted).items()}
    told = []
    for row in found:
        claims = tuple(Claim(**claim) for claim in json.loads(row["claims"]))
        title, also = names.get((row["kind"], row["subject"]), (row["subject"][:12], ()))
        if row["field"] in ("asset", "name", "tag", "serial"):  # its names are what is in conflict
            also += tuple(str(claim.value) for claim in claims if claim.value is not None)
        told.append(Conflict(row["kind"], row["subject"], title, row["field"], claims, also))
    return sorted(told, key=lambda one: (one.kind, one.title, one.subject, one.field))


def _names(
    connection: Connection, kind: str, subjects: Iterable[str]
) -> dict[str, tuple[str, tuple[str, ...]]]:
    found: dict[str, tuple[str, tuple[str, ...]]] = {}
    table = schema.metadata.tables[kind]
    for part in batches(subjects):
        if kind in ("test", "visit"):
            asset = schema.asset
            query = (
                select(table, asset.c.fields.label("plate"))
                .outerjoin(asset, asset.c.id == table.c.asset)
                .where(table.c.id.in_(part))
            )
        else:
            query = select(table).where(table.c.id.in_(part))
        found |= {row["id"]: _name(kind, row) for row in rows(connection, query)}
    return found


def _name(kind: str, row: Mapping[str, Any]) -> tuple[str, tuple[str, ...]]:
    if kind == "asset":
        values = json.loads(row["fields"])
        return title_of(values), tuple(
            str(values[key]) for key in ("asset", "tag", "serial") if values.get(key)
        )
    if kind in ("test", "visit"):
        asset = title_of(json.loads(row["plate"])) if row["plate"] else None
        parts = (asset, row["section"], row["day"]) if kind == "test" else (asset, row["name"])
        return ", ".join(str(part) for part in parts if part), ()
    serial = row.get("serial")
    return str(row.get("name") or serial or row["id"][:12]), (str(serial),) if serial else ()
