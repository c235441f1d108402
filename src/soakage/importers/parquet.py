"""Many records in one Parquet file, with the names of the record file: a row per record, readings as lists."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

from soakage.importers.base import Importer
from soakage.importers.columns import READINGS, split_heading
from soakage.importers.exchange import Plain, records_of
from soakage.importers.exchange_readings import BOUND
from soakage.importers.parquet_columns import engine
from soakage.importers.text import LARGEST, MOST_ROWS, refuse
from soakage.model.keys import KEYS
from soakage.model.record import Record

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

_MAGIC = b"PAR1"
_LARGEST_UNPACKED = 512 * 2**20
_MOST_VALUES = 50_000_000
_AT_ONCE = 64
_ALLOWED = "a Parquet file with a row per record and the columns soakage, class, method, time [s], ..."


def recognises(head: bytes, name: str) -> int:
    """Return 100 for what begins as Parquet does, 50 for anything else of that name: it is said what is wrong."""
    return 100 if head.startswith(_MAGIC) else 50 * (Path(name).suffix.lower() == ".parquet")


def read(data: bytes, name: str, overrides: Mapping[str, str]) -> tuple[Record, ...]:
    """Read records from Parquet; see :class:`soakage.importers.base.Importer`."""
    import duckdb

    if len(data) > LARGEST:
        given = f"{len(data) / 2**20:.0f} MiB"
        raise refuse(
            name, None, given, "The file is too large.", f"at most {LARGEST // 2**20} MiB", "Split it."
        )
    with tempfile.TemporaryDirectory(prefix="soakage-") as folder:
        # the engine reads files only
        file = Path(folder) / "records.parquet"
        file.write_bytes(data)
        try:
            with engine(file) as connection:
                count = _sized(connection, file, name)
                plains = _rows(connection, file, name)
                return records_of(plains, name, overrides, sha256(data).hexdigest(), count=count)
        except duckdb.OutOfMemoryException as error:
            raise refuse(name, None, "", "The file unpacks to too much.", _ALLOWED, "Split it.") from error
        except (duckdb.Error, RuntimeError, UnicodeDecodeError) as error:
            # the engine's own words name its temporary file, which says nothing to anyone
            reason = str(error).replace(str(file), name).splitlines()[0] if str(error) else ""
            raise refuse(
                name,
                None,
                reason,
                "This is no Parquet file, or it is damaged.",
                _ALLOWED,
                "Copy or write it again.",
            ) from error


def _sized(connection: DuckDBPyConnection, file: Path, name: str) -> int:
    """Return how many records a file says it has; what is too large is refused before it is unpacked."""
    rows, unpacked, values = connection.execute(
        "SELECT (SELECT sum(num_rows) FROM parquet_file_metadata($1)), "
        "sum(total_uncompressed_size), sum(num_values) FROM parquet_metadata($1)",
        [str(file)],
    ).fetchall()[0]
    for figure, most, what in (
        (rows or 0, MOST_ROWS, "rows"),
        (unpacked or 0, _LARGEST_UNPACKED, "bytes unpacked"),
        (values or 0, _MOST_VALUES, "values"),
    ):
        if not 0 <= figure <= most:
            raise refuse(
                name,
                None,
                f"{figure} {what}",
                "The file is too large.",
                f"at most {most} {what}",
                "Split it.",
            )
    return int(rows or 0)


def _rows(connection: DuckDBPyConnection, file: Path, name: str) -> Iterator[Plain]:
    result = connection.execute("SELECT * FROM read_parquet($1)", [str(file)])
    names = [str(column[0]) for column in result.description or ()]
    for key in ("soakage", "class", "method"):
        if key not in names:
            raise refuse(
                name, None, ", ".join(names), f"The column {key} is missing.", _ALLOWED, "Add the column."
            )
    left = _MOST_VALUES
    while rows := result.fetchmany(_AT_ONCE):
        for row in rows:
            one = _plain(dict(zip(names, row, strict=True)))
            left -= sum(len(column) for column in one.readings.values() if isinstance(column, list))
            if left < 0:
                raise refuse(name, None, "", "The file unpacks to too much.", _ALLOWED, "Split it.")
            yield one


def _plain(row: Mapping[str, Any]) -> Plain:
    readings = {name: value for name, value in row.items() if _is_reading(name)}
    return Plain({name: value for name, value in row.items() if name not in readings}, readings)


def _is_reading(name: str) -> bool:
    if name in KEYS:
        return False  # `current` is the kind of machine
    found = split_heading(name)
    return name == BOUND or (found is not None and found[0] in READINGS)


IMPORTER = Importer("parquet", "Records as Parquet, one a row", (".parquet",), recognises, read)
