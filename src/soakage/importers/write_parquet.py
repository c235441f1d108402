"""Records written as Parquet: what :mod:`soakage.importers.parquet` reads back to the same records."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from soakage.errors import UsageError
from soakage.importers.exchange import EXTRA, Plain, batches, plain
from soakage.importers.kinds import PARTS
from soakage.importers.parquet_columns import column_types, engine, name_in_sql
from soakage.importers.whole import whole_file
from soakage.model.keys import KEYS, Kind
from soakage.model.record import Record

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

_AT_ONCE = 500
_MAPS = {EXTRA, *(key.name for key in KEYS.values() if key.kind is Kind.NUMBERS)}


def write_parquet(path: Path, records: Iterable[Record]) -> None:
    """Write records to a Parquet file, whole or not at all; one row a record, all columns always there.

    Parameters
    ----------
    path : Path
        The file.
    records : iterable of Record
        In the order to be written; :func:`soakage.importers.exchange.batches` keeps files readable.

    Raises
    ------
    UsageError
        If the folder cannot be written, or the records are too many for one file.
    """
    import duckdb

    types = column_types()
    columns = ", ".join(f"{name_in_sql(name)} {kind}" for name, kind in types.items())
    with whole_file(path) as part, engine(part) as connection:
        try:
            connection.execute(f"CREATE TABLE records ({columns})")
            for batch in batches(records, _AT_ONCE):
                _add(connection, [plain(record) for record in batch], types)
            connection.table("records").to_parquet(str(part), compression="zstd")
        except duckdb.OutOfMemoryException:
            raise UsageError(f"{path}: too many readings for one file. Write fewer records to it.") from None
        except duckdb.IOException as problem:
            reason = str(problem).partition(": ")[2].replace(str(part), path.name)
            raise UsageError(f"{path}: {reason}. Choose a folder that can be written.") from None


def _add(connection: DuckDBPyConnection, plains: Sequence[Plain], types: dict[str, str]) -> None:
    """Add rows; values go in as columns of objects, and no value is ever part of a statement."""
    given: dict[str, list[Any]] = {}
    for name in types:
        column = [one.readings.get(name, one.header.get(name)) for one in plains]
        if any(value is not None for value in column):
            given[name] = [_shaped(name, value) for value in column]
    places = {name: f"c{place}" for place, name in enumerate(given)}
    connection.register("given", {places[name]: _objects(column) for name, column in given.items()})
    names = ", ".join(map(name_in_sql, given))
    values = ", ".join(f"CAST({place} AS {types[name]})" for name, place in places.items())
    connection.execute(f"INSERT INTO records ({names}) SELECT {values} FROM given")  # noqa: S608 - our own names
    connection.unregister("given")


def _shaped(name: str, value: Any) -> Any:  # noqa: ANN401 - one value of any kind
    """Return a value so that the engine sees the same type whatever stands in it."""
    if name in _MAPS and value is not None:
        return {"key": list(value), "value": list(value.values())}
    if name in PARTS and value is not None:
        if isinstance(value, list):
            return [{part: row.get(part) for part in PARTS[name]} for row in value]
        return {part: value.get(part) for part in PARTS[name]}
    return value


def _objects(column: list[Any]) -> np.ndarray[Any, np.dtype[np.object_]]:
    made = np.empty(len(column), dtype=object)
    made[:] = column
    return made
