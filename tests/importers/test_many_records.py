"""Many records in one file: Parquet, JSON, a workbook. What is written reads back to the same records."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from any_records import any_records, bare
from importing import FULL, MINIMAL, TABLE, read_all, read_one
from soakage.importers.write_json import write_json
from soakage.importers.write_parquet import write_parquet
from soakage.importers.write_xlsx import write_xlsx
from soakage.model.record import Record

Write = Callable[[Path, list[Record]], None]
WRITERS: dict[str, Write] = {".json": write_json, ".parquet": write_parquet, ".xlsx": write_xlsx}
endings = pytest.mark.parametrize("ending", WRITERS)


def through(records: list[Record], ending: str, folder: Path) -> tuple[Record, ...]:
    """Write records to a file and read them again."""
    file = folder / f"many{ending}"
    WRITERS[ending](file, records)
    assert [other.name for other in folder.iterdir()] == [file.name]
    return read_all(file.read_bytes(), file.name)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("many")


def same(folder: Path, ending: str, records: list[Record]) -> None:
    for file in folder.iterdir():
        file.unlink()
    again = through(records, ending, folder)
    assert [bare(record) for record in again] == [bare(record) for record in records]


@settings(max_examples=100, deadline=None)
@given(records=st.lists(any_records, min_size=1, max_size=3))
def test_any_records_read_back_from_json(records: list[Record], folder: Path) -> None:
    same(folder, ".json", records)


@settings(max_examples=60, deadline=None)
@given(records=st.lists(any_records, min_size=1, max_size=3))
def test_any_records_read_back_from_parquet(records: list[Record], folder: Path) -> None:
    same(folder, ".parquet", records)


@settings(max_examples=60, deadline=None)
@given(records=st.lists(any_records, min_size=1, max_size=3))
def test_any_records_read_back_from_a_workbook(records: list[Record], folder: Path) -> None:
    same(folder, ".xlsx", records)


@endings
@pytest.mark.parametrize(
    "table",
    (
        "time [s],current [uA]\n15,2\n60,\n",
        "time [s],resistance [MOhm]\n15,0.00\n60,> 10 TOhm\n",
        "resistance [MOhm]\n300\n",
        "time [s],voltage [V],current [uA]\n15,5000,< 0.01\n60,5000,-1\n",
        "time [s],voltage [V],current [uA],resistance [GOhm]\n15,5000,2,\n60,,1,5\n90,5000,,> 7\n",
        "time [s],voltage [V],current [uA]\n15,-5000,-2\n",
    ),
)
@pytest.mark.parametrize(
    "header", ("", "# test_voltage = 5 kV\n", "# test_voltage = 5 kV\n# discharge_started = 50 s\n")
)
def test_marks_and_gaps_come_back(header: str, table: str, ending: str, tmp_path: Path) -> None:
    same(tmp_path, ending, [read_one(MINIMAL + header + table), read_one(FULL + TABLE)])
