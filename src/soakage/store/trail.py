"""The entries of the journal as they stand on the disk."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import Connection, select

from soakage.app.journal import Entry
from soakage.store import schema
from soakage.store.asking import rows
from soakage.store.writing import entry_of


def entries(connection: Connection, *, shared_only: bool = False) -> Iterator[Entry]:
    """Yield every entry, chain by chain in order.

    Parameters
    ----------
    connection : Connection
        Reading.
    shared_only : bool
        Leave out the chains that stay in their store.
    """
    query = select(schema.entry).order_by(schema.entry.c.store, schema.entry.c.number, schema.entry.c.hash)
    if shared_only:
        query = query.where(schema.entry.c.store.not_like("%.here"))
    for row in rows(connection, query):
        yield entry_of(row)


def own_chains(connection: Connection) -> dict[str, tuple[int, str]]:
    """Return the chains this store writes: number of their entries and hash of the last, by name."""
    query = select(schema.chain)
    return {row["store"]: (row["number"], row["head"]) for row in rows(connection, query)}
