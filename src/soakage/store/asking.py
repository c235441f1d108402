"""Questions to the database: rows as plain dicts, long lists of values in parts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from sqlalchemy import Connection, Executable

BATCH = 400  # values in one statement; SQLite takes 32,766, a plan with fewer is found sooner


def rows(connection: Connection, query: Executable) -> Iterator[dict[str, Any]]:
    """Yield the rows of a query by the names of their columns."""
    for row in connection.execute(query).mappings():
        yield {str(name): value for name, value in row.items()}


def batches(values: Iterable[str]) -> Iterator[list[str]]:
    """Yield values, each once, in parts that one statement can take."""
    unique = list(dict.fromkeys(values))
    for start in range(0, len(unique), BATCH):
        yield unique[start : start + BATCH]
