"""The columns of a Parquet file of records, and a database engine that is shut in with one file."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from soakage.importers.exchange import EXTRA
from soakage.importers.exchange_readings import BOUND, COLUMNS
from soakage.importers.kinds import PARTS
from soakage.model.keys import KEYS, Key, Kind

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

MEMORY = "512MB"
_TEXT, _TEXTS, _TABLE = "VARCHAR", "VARCHAR[]", "MAP(VARCHAR, VARCHAR)"
_KINDS = {Kind.LIST: _TEXTS, Kind.NUMBERS: _TABLE, Kind.YEAR: "INTEGER"}
_ROWS = (Kind.STEPS, Kind.ACCURACY)


def name_in_sql(name: str) -> str:
    """Return a column's name as it stands in a statement, whatever signs it holds."""
    return '"' + name.replace('"', '""') + '"'


def column_types() -> dict[str, str]:
    """Return every column of a file of records with its type: keys first, then the readings.

    Returns
    -------
    dict
        Type by name; ``current`` is the kind of machine, ``current [A]`` the readings.
    """
    return {
        "soakage": "INTEGER",
        **{key.name: _type(key) for key in KEYS.values() if key.name != "insulation_temperature"},
        EXTRA: _TABLE,
        **dict.fromkeys(COLUMNS.values(), "DOUBLE[]"),
        BOUND: "TINYINT[]",
    }


def _type(key: Key) -> str:
    if key.name in PARTS:
        parts = ", ".join(f"{name_in_sql(part)} {_TEXT}" for part in PARTS[key.name])
        return f"STRUCT({parts})" + ("[]" if key.kind in _ROWS else "")
    return _KINDS.get(key.kind, _TEXT)


@contextmanager
def engine(allowed: Path) -> Iterator[DuckDBPyConnection]:
    """Give a database engine in memory that reaches one file and nothing else, and fetches nothing.

    Parameters
    ----------
    allowed : Path
        The file it may read or write.

    Yields
    ------
    DuckDBPyConnection
        With bounded memory; closed at the end.
    """
    import duckdb

    settings: dict[str, str | bool | int | float | list[str]] = {
        # it would try to download what it does not know
        "autoinstall_known_extensions": False,
        "autoload_known_extensions": False,
        "allow_community_extensions": False,
        "memory_limit": MEMORY,
        "threads": 1,
        "temp_directory": "",
    }
    connection = duckdb.connect(config=settings)
    try:
        connection.execute("SET allowed_paths = [?]", [str(allowed)])
        connection.execute("SET enable_external_access = false")
        connection.execute("SET lock_configuration = true")
        yield connection
    finally:
        connection.close()
