"""A store copied whole, from any engine to any: table by table, or page by page between files."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

from sqlalchemy import Connection, Table, func, insert, select
from sqlalchemy.pool import PoolProxiedConnection

from soakage.store import schema
from soakage.store.asking import STREAM, streamed
from soakage.store.trail import Chains, own_chains

_BLOBS = 16  # at a time: one may be a file of many megabytes
COPIED: tuple[Table, ...] = tuple(
    table for table in schema.metadata.sorted_tables if table is not schema.session
)


def copy_tables(source: Connection, target: Connection) -> None:
    """Copy every row but the sessions into empty tables.

    Parameters
    ----------
    source : Connection
        Reading one state throughout.
    target : Connection
        Writing; the caller commits.
    """
    for table in COPIED:
        size = _BLOBS if table is schema.blob else STREAM
        part: list[dict[str, object]] = []
        for row in streamed(source, select(table), part=size):
            part.append(row)
            if len(part) == size:
                target.execute(insert(table), part)
                part = []
        if part:
            target.execute(insert(table), part)


def driver(connection: Connection) -> sqlite3.Connection:
    """Return the driver's own connection to a file."""
    proxied: PoolProxiedConnection = connection.connection
    raw = proxied.driver_connection
    if not isinstance(raw, sqlite3.Connection):
        raise TypeError("Only a file can be copied page by page.")
    return raw


def extent(connection: Connection, tables: Iterable[Table] = COPIED) -> tuple[dict[str, int], Chains]:
    """Return how many rows each table has, and where the chains of this store end."""
    counts = {
        table.name: int(connection.execute(select(func.count()).select_from(table)).scalar_one())
        for table in tables
    }
    return counts, own_chains(connection)
