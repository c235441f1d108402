"""Questions to the database: rows as plain dicts, long lists of values in parts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from sqlalchemy import Connection, Executable

STREAM = 500  # rows fetched at a time
BATCH = 400  # values in one statement; SQLite takes 32,766, a plan with fewer is found sooner


def rows(connection: Connection, query: Executable) -> Iterator[dict[str, Any]]:
    """Yield the rows of a query by the names of their columns."""
    for row in connection.execute(query).mappings():
        yield {str(name): value for name, value in row.items()}


def streamed(connection: Connection, query: Executable, part: int = STREAM) -> Iterator[dict[str, Any]]:
    """Yield the rows of a query that may have very many, so many at a time on both engines."""
    result = connection.execute(query, execution_options={"yield_per": part})
    try:
        for row in result.mappings():
            yield {str(name): value for name, value in row.items()}
    finally:
        result.close()


def batches(values: Iterable[str]) -> Iterator[list[str]]:
    """Yield values, each once, in parts that one statement can take."""
    unique = list(dict.fromkeys(values))
    for start in range(0, len(unique), BATCH):
        yield unique[start : start + BATCH]
