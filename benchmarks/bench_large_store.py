"""A large store, filled quickly: the rows that real imports made of one asset, written again for many.

One asset with its tests is taken in through the front door; its rows are then copied under other ids for as many
assets as are wanted, test by test over all assets, so that an asset's rows lie as far apart as years put them.
Readings, results and files are shared among the copies: nothing that is measured here reads more than one of each.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from sqlalchemy import Connection, Table, insert, select

from soakage.app.intake import Incoming, take_in
from soakage.app.rules import default_rules
from soakage.importers.reading import read_bytes
from soakage.store import schema
from soakage.store.memory import StoreMemory

TESTS = 40
_SHARED = ("readings", "file_sha256", "result", "criteria_sha256", "profile_sha256", "body_sha256")
_TABLES = ("entry", "asset", "visit", "test", "revision", "verdict", "figure", "finding", "standing")
_MIX = 0x9E3779B1  # the golden ratio in 32 bits: spreads consecutive numbers evenly
_AT_ONCE = 20_000
Row = dict[str, Any]


def record_text(number: int) -> str:
    """Return one invented test of ten years, four phases and tests of a visit a quarter apart."""
    year, quarter = 2016 + number // 4, number % 4
    lines = [
        "# soakage = 1", '# invented = "yes"', '# asset = "Bench motor"', '# site = "Bench works (invented)"',
        '# class = "rotating-machine"', '# rated_voltage = "6.6 kV"', '# winding = "form-wound"',
        '# insulation = "thermosetting"', '# thermal_class = "155"', "# year = 2004",
        '# method = "polarization-index"', '# test_voltage = "5 kV"',
        f"# started = {year}-{3 * quarter + 1:02d}-14T09:20:00+01:00",
        f'# winding_temperature = "{20 + number % 7}.5 degC"', '# tested = ["U", "V", "W"]', '# earthed = ["frame"]',
        "time [s],voltage [V],current [uA]",
    ]  # fmt: skip
    rows = [f"{t},5000,{2.0 + 0.02 * number + 300.0 / t:.4f}" for t in (15, 30, 60, 120, 180, 300, 420, 600)]
    return "\n".join([*lines, *rows]) + "\n"


def template(memory: StoreMemory) -> dict[str, list[Row]]:
    """Take in one asset and return its rows by table."""
    files = [(f"{n:02d}.csv", record_text(n).encode()) for n in range(TESTS)]
    take_in(memory, (Incoming(name, data, read_bytes(data, name)) for name, data in files), default_rules())
    with memory.store.reading() as connection:
        return {name: list(_rows(connection, schema.metadata.tables[name])) for name in _TABLES}


def _rows(connection: Connection, table: Table) -> Iterator[Row]:
    for row in connection.execute(select(table)).mappings():
        yield {str(name): value for name, value in row.items()}


def fill(memory: StoreMemory, rows: dict[str, list[Row]], first: int, last: int) -> None:
    """Write the rows of assets numbered from `first` to before `last`; the asset itself is number 0.

    Parameters
    ----------
    memory : StoreMemory
        The store that `template` was taken in to.
    rows : dict
        What `template` returned.
    first, last : int
        Numbers of the copies.
    """
    ids = _ids(rows)
    with memory.store.writing("bench") as writer:
        for name in _TABLES:
            table = schema.metadata.tables[name]
            indexes = sorted(table.indexes, key=lambda index: str(index.name))
            for index in indexes:  # made anew below: quicker than row by row
                index.drop(writer.connection)
            for part in _parts(_copies(rows[name], ids, range(first, last), name)):
                writer.connection.execute(insert(table), part)
            for index in indexes:
                index.create(writer.connection)


def _ids(rows: dict[str, list[Row]]) -> set[str]:
    """Return every id and hash that is of this asset, its visits, tests and entries."""
    found = {row["id"] for name in ("asset", "visit", "test") for row in rows[name]}
    found |= {row["content"] for row in rows["test"]}
    return found | {row["hash"] for row in rows["entry"]}


def _copies(rows: Sequence[Row], ids: set[str], numbers: Iterable[int], name: str) -> Iterator[Row]:
    for row in rows:
        own = [
            key
            for key, value in row.items()
            if key not in _SHARED and isinstance(value, str) and value in ids
        ]
        for number in numbers:
            copy = dict(row)
            for key in own:
                copy[key] = other_id(row[key], number)
            if name == "asset":
                copy |= {"name": f"Bench motor {number}", "site": f"Bench works {number % 200} (invented)"}
            if name == "entry":
                copy["number"] = row["number"] + number * 1000
            yield copy


def other_id(value: str, number: int) -> str:
    """Return the id that stands for another in the copy of this number: another beginning, spread over all."""
    mixed = (int(value[:8], 16) ^ (number * _MIX)) & 0xFFFFFFFF
    return f"{mixed:08x}{value[8:]}"


def _parts(rows: Iterable[Row]) -> Iterator[list[Row]]:
    part: list[Row] = []
    for row in rows:
        part.append(row)
        if len(part) == _AT_ONCE:
            yield part
            part = []
    if part:
        yield part
