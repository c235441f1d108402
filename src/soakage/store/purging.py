"""Removing for good: the bodies of a subject's entries, and the blobs that no other entry names."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, delete, select, update

from soakage.app.folding import body_of
from soakage.app.journal import Entry
from soakage.store import schema
from soakage.store.asking import batches, streamed

_HASH = re.compile(r'"([0-9a-f]{64})"')


def blobs_named(body: Mapping[str, Any]) -> set[str]:
    """Return the hashes of the blobs that the body of an entry needs: readings, the file, a result, an attachment."""
    record = body.get("record") or {}
    attached = body.get("sha256") if "media_type" in body else None
    named = {record.get("readings"), record.get("file_sha256"), body.get("result"), attached}
    return {name for name in named if isinstance(name, str)}


def purge(connection: Connection, subjects: Mapping[tuple[str, str], Sequence[Entry]]) -> None:
    """Drop what purged subjects held; the entries stay, so that their chains hold.

    Parameters
    ----------
    connection : Connection
        Writing; the new entries and blobs are in the database already.
    subjects : mapping
        Entries by kind and id of the purged subjects, with the bodies they had.
    """
    candidates: set[str] = set()
    for (kind, subject), entries in subjects.items():
        candidates |= {name for entry in entries for name in blobs_named(body_of(entry))}
        table = schema.entry
        connection.execute(
            update(table)
            .where(table.c.kind == kind, table.c.subject == subject, table.c.action != "purged")
            .values(body=None)
        )
    if candidates:
        for part in batches(candidates - _still_named(connection, candidates)):
            connection.execute(delete(schema.blob).where(schema.blob.c.sha256.in_(part)))


def _still_named(connection: Connection, names: Iterable[str]) -> set[str]:
    """Return which hashes stand anywhere in a body that is kept; one pass over the journal, for a rare step."""
    left = set(names)
    found: set[str] = set()
    for row in streamed(connection, select(schema.entry.c.body).where(schema.entry.c.body.is_not(None))):
        here = left.intersection(_HASH.findall(row["body"]))
        found |= here
        left -= here
        if not left:
            break
    return found
