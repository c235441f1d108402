"""Files of many records written: whole or not at all, nothing that calculates, and never more than can be read."""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from importing import FULL, MINIMAL, TABLE, read_all, read_one
from soakage.errors import UsageError
from soakage.importers import whole, write_xlsx
from soakage.importers.exchange import batches, plain
from soakage.importers.reading import read_files
from soakage.importers.whole import whole_file
from soakage.importers.write_json import json_text, write_json
from soakage.importers.write_parquet import write_parquet
from soakage.importers.write_record import record_text
from soakage.model.record import Record

Write = Callable[[Path, Iterator[Record]], None]
WRITERS: dict[str, Write] = {
    ".json": write_json,
    ".parquet": write_parquet,
    ".xlsx": write_xlsx.write_xlsx,
}
endings = pytest.mark.parametrize("ending", WRITERS)
DANGEROUS = ("=1+1", "+1", "-1", "@SUM(A1)", "=HYPERLINK(1)", "\t=1", "=", "-", '="quoted"')


def record(header: str = "", table: str = TABLE) -> Record:
    return read_one(f"{MINIMAL}{header}{table}")


def long_record(rows: int) -> Record:
    lines = [f"{t},5000,{1 + 1 / t:.6f}" for t in range(1, rows + 1)]
    return record(table="time [s],voltage [V],current [uA]\n" + "\n".join(lines) + "\n")


@endings
def test_a_file_that_was_there_is_replaced_whole(ending: str, tmp_path: Path) -> None:
    file = tmp_path / f"a{ending}"
    for count in (3, 1):
        WRITERS[ending](file, iter([record()] * count))
        assert len(read_files([file]).records) == count
    assert list(tmp_path.iterdir()) == [file]


@endings
def test_what_breaks_off_leaves_what_was_there(ending: str, tmp_path: Path) -> None:
    file = tmp_path / f"a{ending}"
    file.write_bytes(b"as it was")

    def broken() -> Iterator[Record]:
        yield record()
        raise RuntimeError("the records ended badly")

    with pytest.raises(RuntimeError, match="ended badly"):
        WRITERS[ending](file, broken())
    assert file.read_bytes() == b"as it was"
    assert list(tmp_path.iterdir()) == [file]


@endings
def test_a_folder_that_is_not_there_is_told(ending: str, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="Choose a folder"):
        WRITERS[ending](tmp_path / "none" / f"a{ending}", iter([record()]))


@endings
def test_a_folder_where_the_file_should_be_is_told(ending: str, tmp_path: Path) -> None:
    (tmp_path / f"a{ending}").mkdir()
    with pytest.raises(UsageError, match="Choose a folder"):
        WRITERS[ending](tmp_path / f"a{ending}", iter([record()]))
    assert [file.name for file in tmp_path.iterdir()] == [f"a{ending}"]


@endings
def test_what_could_not_be_read_again_is_not_written(
    ending: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(whole, "LARGEST", 1000)
    with pytest.raises(UsageError, match="fewer records"):
        WRITERS[ending](tmp_path / f"a{ending}", iter([read_one(FULL + TABLE)] * 9))
    assert list(tmp_path.iterdir()) == []


def test_two_writers_of_one_file_do_not_mix(tmp_path: Path) -> None:
    file = tmp_path / "a"
    with whole_file(file) as first, whole_file(file) as second:
        first.write_text("first", encoding="utf-8")
        second.write_text("second", encoding="utf-8")
    assert file.read_text(encoding="utf-8") == "first"  # the one that ended last
    assert list(tmp_path.iterdir()) == [file]


def test_records_are_split_so_that_each_file_can_be_read() -> None:
    one, long = record(), long_record(50)
    assert [len(batch) for batch in batches([one] * 7, most_records=3)] == [3, 3, 1]
    assert [len(batch) for batch in batches([one, long, one, one], most_readings=54)] == [2, 2]
    assert [len(batch) for batch in batches([long, long, one], most_readings=10)] == [1, 1, 1]
    assert list(batches([])) == []
    assert [record for batch in batches([one, long] * 3, 2) for record in batch] == [one, long] * 3


def test_order_and_number_are_kept_over_many(tmp_path: Path) -> None:
    many = [record(f"# asset = no. {n}\n") for n in range(1203)]
    for ending in (".json", ".parquet"):
        file = tmp_path / f"many{ending}"
        WRITERS[ending](file, iter(many))
        assert [again.asset.name for again in read_files([file]).records] == [one.asset.name for one in many]


def test_json_is_what_any_program_reads() -> None:
    text = "".join(json_text([read_one(FULL + TABLE), record(table="resistance [MOhm]\n> 300\n")]))
    loaded = json.loads(text)
    assert loaded["soakage"] == 1
    first, second = loaded["records"]
    assert first["tested"] == ["U", "V", "W"]
    assert first["voltage_found"] == {"dc": "0 V", "ac": "12 V", "frequency": "50 Hz"}
    assert first["extra"] == {"works_number": "A 7"}
    assert first["readings"]["time [s]"] == [15, 30, 60, 600]
    assert "resistance [Ohm]" not in first["readings"]
    assert second["readings"] == {"resistance [Ohm]": [300e6], "bound": [1]}
    assert "".join(json_text([])) == '{"soakage": 1, "records": [\n]}\n'


def test_what_follows_is_not_written() -> None:
    assert set(plain(record(table="time [s],resistance [MOhm]\n60,2\n")).readings) == {
        "time [s]",
        "resistance [Ohm]",
    }
    assumed = record("# test_voltage = 5 kV\n", "time [s],current [uA]\n60,2\n")
    assert set(plain(assumed).readings) == {"time [s]", "current [A]"}


# ----------------------------------------------------------------------------------------- workbooks


def book_of(records: list[Record], folder: Path) -> bytes:
    file = folder / "book.xlsx"
    write_xlsx.write_xlsx(file, records)
    return file.read_bytes()


def sheets_of(data: bytes) -> str:
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        names = [name for name in package.namelist() if "worksheets/sheet" in name]
        return "".join(package.read(name).decode() for name in names)


@pytest.mark.parametrize("text", DANGEROUS)
def test_no_text_becomes_a_formula(text: str, tmp_path: Path) -> None:
    escaped = text.replace('"', '\\"').replace("\t", "\\t")
    dangerous = record(
        f'# notes = "{escaped}"\n# asset = "{escaped}"\n# {text.strip()[:1].strip("=")}x = "{escaped}"\n'
    )
    data = book_of([dangerous], tmp_path)
    assert "<f" not in sheets_of(data)
    (sheet,) = openpyxl.load_workbook(io.BytesIO(data)).worksheets
    kinds = {cell.data_type for row in sheet.iter_rows() for cell in row}
    assert kinds == {"s", "n"}
    (again,) = read_all(data, "book.xlsx")
    assert (again.paper.notes, again.asset.name) == (dangerous.paper.notes, dangerous.asset.name)
    assert again.extra == dangerous.extra


def test_cells_of_text_stay_text_when_they_are_typed_over(tmp_path: Path) -> None:
    table = "time [s],voltage [V],current [uA]\n15,-5003.000000000001,-31.80000000000001\n60,-5000,> 2\n"
    data = book_of([record(table=table.replace("> 2", "-2"))], tmp_path)
    (sheet,) = openpyxl.load_workbook(io.BytesIO(data)).worksheets
    texts = [cell for row in sheet.iter_rows() for cell in row if cell.data_type == "s"]
    assert texts
    assert all(cell.quotePrefix for cell in texts)


def test_figures_are_figures_where_a_cell_can_hold_them(tmp_path: Path) -> None:
    table = "time [s],voltage [V],current [uA]\n15,5003,31.8\n60,5000.000000000001,0.30000000000000004\n"
    one = record(table=table)
    data = book_of([one], tmp_path)
    (sheet,) = openpyxl.load_workbook(io.BytesIO(data)).worksheets
    rows = [[cell.value for cell in row] for row in sheet.iter_rows()][-2:]
    assert rows[0] == [15, 5003, 31.8]
    assert rows[1][0] == 60
    assert rows[1][2] == "0.30000000000000004"
    (again,) = read_all(data, "book.xlsx")
    assert np.array_equal(again.readings.current, one.readings.current)
    assert np.array_equal(again.readings.voltage, one.readings.voltage)


def test_a_sheet_holds_what_a_record_file_does(tmp_path: Path) -> None:
    one = read_one(FULL + TABLE)
    (sheet,) = openpyxl.load_workbook(io.BytesIO(book_of([one], tmp_path))).worksheets
    column = [str(row[0].value) for row in sheet.iter_rows()]
    header = [line for line in record_text(one).splitlines() if line.startswith("#")]
    assert column[: len(header) + 1] == [*header, "time [s]"]


@pytest.mark.parametrize(
    "name",
    ("[a]:*?/\\'", "x" * 60, "History", "Pump 3 motor", "\N{GREEK CAPITAL LETTER OMEGA} \u2028 \u00e9", "  "),
)
def test_sheets_have_names_that_workbooks_allow(name: str, tmp_path: Path) -> None:
    shown = name.replace("\\", "\\\\")
    data = book_of([record(f'# asset = "{shown}"\n')] * 3, tmp_path)
    titles = openpyxl.load_workbook(io.BytesIO(data)).sheetnames
    assert [title.partition(" ")[0] for title in titles] == ["1", "2", "3"]
    for title in titles:
        assert len(title) <= 31
        assert not re.search(r"[\[\]:*?/\\']", title)
    assert len(read_all(data, "book.xlsx")) == 3


def test_what_fits_no_cell_is_refused_and_not_cut(tmp_path: Path) -> None:
    long = record(f'# notes = "{"x" * 40_000}"\n')
    with pytest.raises(UsageError, match=r"does not fit a sheet.*Parquet, JSON or a record file"):
        book_of([long], tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_more_rows_than_a_sheet_has_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(write_xlsx, "_MOST_ROWS", 20)
    book_of([long_record(10)], tmp_path)
    with pytest.raises(UsageError, match="24 rows"):
        book_of([long_record(20)], tmp_path)


def test_a_workbook_without_records_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="no records"):
        book_of([], tmp_path)


def test_a_full_workbook_is_far_from_what_cannot_be_read(tmp_path: Path) -> None:
    tenth = [long_record(600)] * (write_xlsx.MOST_READINGS // 600 // 10)
    size = len(book_of(tenth, tmp_path))
    assert 10 * size < 16 * 2**20
    assert read_files([tmp_path / "book.xlsx"]).records[-1].readings == tenth[-1].readings
