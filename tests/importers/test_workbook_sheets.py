"""Workbooks: cells of every type, and what is refused. Files are made here with openpyxl."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from datetime import date, datetime, time, timedelta

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from importing import FULL, MINIMAL, TABLE, codes, faults_of, only_fault, read_all, read_one, without_origin
from soakage.importers import workbook as workbook_module
from soakage.importers.workbook import cell_row, read_package
from soakage.importers.xlsx import cell_text


def book(*fills: Callable[[Worksheet], None], titles: tuple[str, ...] = ("Motor", "Spare", "Notes")) -> bytes:
    made = openpyxl.Workbook()
    del made[made.sheetnames[0]]
    for fill, title in zip(fills, titles, strict=False):
        fill(made.create_sheet(title))
    target = io.BytesIO()
    made.save(target)
    return target.getvalue()


def cells(text: str, *, two: bool = False, hashes: bool = True) -> Callable[[Worksheet], None]:
    def fill(sheet: Worksheet) -> None:
        for line in text.splitlines():
            if line.startswith("#"):
                whole = line if hashes else line.lstrip("# ")
                key, _, value = whole.partition(" = ")
                sheet.append([key, value.strip('"') if value.count('"') == 2 else value] if two else [whole])
            else:
                sheet.append([number(cell) for cell in line.split(",")])

    return fill


def number(cell: str) -> str | float:
    try:
        return float(cell)
    except ValueError:
        return cell


def rewritten(data: bytes, old: bytes, new: bytes) -> bytes:
    """Return a workbook with a piece of its first sheet's stored form replaced."""
    target = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as source,
        zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as copy,
    ):
        for member in source.infolist():
            content = source.read(member)
            if member.filename == "xl/worksheets/sheet1.xml":
                assert old in content
                content = content.replace(old, new)
            copy.writestr(member, content)
    return target.getvalue()


@pytest.mark.parametrize(("two", "hashes"), ((False, True), (True, True), (True, False)))
def test_a_sheet_gives_the_record_of_its_text(two: bool, hashes: bool) -> None:
    expected = without_origin(read_one(FULL + TABLE))
    record = read_one(book(cells(FULL + TABLE, two=two, hashes=hashes)), "test.xlsx")
    assert without_origin(record) == expected
    assert record.origin.file == "test.xlsx"


def test_lists_over_several_cells() -> None:
    def fill(sheet: Worksheet) -> None:
        for row in (
            ["# soakage", 1],
            ["# class", "cable"],
            ["# method", "cable-core"],
            ["# tested", "U", "V", "W"],
        ):
            sheet.append(row)
        sheet.append(["resistance [MOhm]"])
        sheet.append([300])

    assert read_one(book(fill), "a.xlsx").test.tested == ("U", "V", "W")


def test_one_record_per_sheet_in_their_order() -> None:
    other = (MINIMAL + TABLE).replace("polarization-index", "insulation-resistance")
    data = book(cells(MINIMAL + TABLE), cells(other), cells("just,words\nmore,words"))
    records = read_all(data, "two.xlsx")
    assert [record.origin.file for record in records] == ["two.xlsx [Motor]", "two.xlsx [Spare]"]
    assert [record.test.method for record in records] == ["polarization-index", "insulation-resistance"]
    assert all("sheet_not_read" in codes(record) for record in records)


def test_faults_of_every_sheet_at_once() -> None:
    bad = MINIMAL + TABLE.replace("22.1", "x")
    faults = faults_of(book(cells(bad), cells(bad)), "two.xlsx")
    assert [(fault.file, fault.row) for fault in faults] == [("two.xlsx [Motor]", 6), ("two.xlsx [Spare]", 6)]


def test_schedule_and_bare_table() -> None:
    schedule = "circuit,between,voltage [V],resistance [MOhm]\nA,L-PE,500,100\nA,N-PE,500,> 200"
    records = read_all(book(cells(schedule)), "s.xlsx")
    assert [record.origin.row for record in records] == [2, 3]
    record = read_one(book(cells(TABLE)), "t.xlsx", **{"class": "cable"})
    assert codes(record) == ["method_assumed"]
    assert "--class" in only_fault(book(cells(TABLE)), "t.xlsx").remedy


def test_a_table_that_does_not_begin_in_the_first_column() -> None:
    def fill(sheet: Worksheet) -> None:
        sheet["B3"], sheet["C3"] = "time [s]", "resistance [MOhm]"
        sheet["B4"], sheet["C4"] = 60, 300

    record = read_one(book(fill), "a.xlsx", **{"class": "cable"})
    assert record.readings.time.tolist() == [60]
    assert record.readings.resistance.tolist() == [300e6]


@pytest.mark.parametrize(
    ("value", "shape", "text"),
    (
        (15, "General", "15"),
        (15.0, "General", "15"),
        (31.8, "0.00", "31.8"),
        (0, "0.00", "0.00"),
        (0.0, "#,##0.0", "0.0"),
        (0, "General", "0"),
        (0.55, "0%", "55 %"),
        (0.055, "0.0%", "5.5 %"),
        (None, "General", ""),
        ("  > 10 TΩ ", "General", "> 10 TΩ"),
        (True, "General", "true"),
        (timedelta(minutes=10), "[mm]:ss", "600"),
        (timedelta(hours=30), "[h]:mm:ss", "108000"),
        (time(0, 1, 30), "h:mm:ss", "90"),
        (time(0, 1, 30, 500000), "mm:ss.0", "90.5"),
        (time(1, 30), "h:mm", "1:30"),
        (timedelta(minutes=90), "h:mm", "1:30"),
        (datetime(2026, 3, 14), "yyyy-mm-dd", "2026-03-14"),  # noqa: DTZ001 - cells have no zone
        (datetime(2026, 3, 14, 9, 20), "yyyy-mm-dd h:mm", "2026-03-14T09:20:00"),  # noqa: DTZ001 - cells have no zone
        (datetime(2026, 3, 14), "dd/mm/yyyy hh:mm", "2026-03-14T00:00:00"),  # noqa: DTZ001 - cells have no zone
        (date(2026, 3, 14), "General", "2026-03-14"),
    ),
)
def test_cells_as_text(value: object, shape: str, text: str) -> None:
    assert cell_text(value, shape) == text


def test_elapsed_times_dates_and_percentages_from_cells() -> None:
    def fill(sheet: Worksheet) -> None:
        rows = (
            ["soakage", 1],
            ["class", "cable"],
            ["method", "polarization-index"],
            ["started", date(2026, 3, 14)],
            ["relative_humidity", 0.55],
            ["year", 2004],
            ["time", "voltage [V]", "current [uA]"],
            [time(0, 1), 5000, 2],
            [timedelta(minutes=10), 5000, 1],
        )
        for row in rows:
            sheet.append(row)
        sheet["B5"].number_format = "0%"
        sheet["A8"].number_format = "h:mm:ss"
        sheet["A9"].number_format = "[mm]:ss"

    record = read_one(book(fill), "a.xlsx")
    assert record.readings.time.tolist() == [60, 600]
    assert record.day == date(2026, 3, 14)
    assert record.conditions.relative_humidity == 0.55
    assert record.asset.year == 2004


def test_formula_never_calculated_names_its_cell() -> None:
    def fill(sheet: Worksheet) -> None:
        cells(MINIMAL + TABLE)(sheet)
        sheet["C6"] = "=C5-1"

    fault = only_fault(book(fill), "f.xlsx")
    assert (fault.row, fault.field) == (6, "C6")
    assert "calculate" in fault.remedy


def test_formulas_all_stored_as_zero_were_never_calculated() -> None:
    data = book(cells(MINIMAL + TABLE))
    old = b'<c r="C6" t="n"><v>22.1</v></c>'
    assert only_fault(rewritten(data, old, b'<c r="C6"><f>C5-1</f><v>0</v></c>'), "f.xlsx").field == "C6"
    record = read_one(rewritten(data, old, b'<c r="C6"><f>C5-9.7</f><v>22.1</v></c>'), "f.xlsx")
    assert record.readings.current[1] == 22.1e-6


def test_error_cells_are_no_figures() -> None:
    data = rewritten(
        book(cells(MINIMAL + TABLE)),
        b'<c r="C6" t="n"><v>22.1</v></c>',
        b'<c r="C6" t="e"><v>#DIV/0!</v></c>',
    )
    assert only_fault(data, "f.xlsx").given == "#DIV/0!"


def test_merged_cells_inside_the_table() -> None:
    def fill(sheet: Worksheet) -> None:
        cells(MINIMAL + TABLE)(sheet)
        sheet.merge_cells("B5:B6")

    fault = only_fault(book(fill), "m.xlsx")
    assert (fault.row, fault.field) == (5, "B5:B6")
    assert "Unmerge" in fault.remedy


def test_merged_cells_above_the_table_do_no_harm() -> None:
    def fill(sheet: Worksheet) -> None:
        cells(MINIMAL + TABLE)(sheet)
        sheet.merge_cells("A1:C1")

    assert len(read_one(book(fill), "m.xlsx").readings) == 4


def test_far_cells_are_refused_quickly() -> None:
    def right(sheet: Worksheet) -> None:
        cells(MINIMAL + TABLE)(sheet)
        sheet["XFD7"] = 1

    def below(sheet: Worksheet) -> None:
        cells(MINIMAL + TABLE)(sheet)
        sheet["A1048576"] = 1

    assert only_fault(book(right), "far.xlsx").field == "XFD7"
    assert "far below" in only_fault(book(below), "far.xlsx").problem


def test_a_cell_beside_the_table() -> None:
    def fill(sheet: Worksheet) -> None:
        cells(MINIMAL + TABLE)(sheet)
        sheet["F6"] = "mean"

    fault = only_fault(book(fill), "b.xlsx")
    assert (fault.row, fault.given) == (6, "mean")


@pytest.mark.parametrize("data", (b"no zip", b"PK\x03\x04 not really", b"", b"PK\x05\x06" + b"\0" * 18))
def test_no_workbook(data: bytes) -> None:
    fault = only_fault(data, "x.xlsx")
    assert "workbook" in fault.problem


def test_workbook_cut_short() -> None:
    data = book(cells(MINIMAL + TABLE))
    for length in (len(data) // 3, len(data) // 2, len(data) - 1):
        assert faults_of(data[:length], "x.xlsx")


def test_empty_workbook() -> None:
    assert "empty" in only_fault(book(lambda _sheet: None), "x.xlsx").problem


def test_sheet_without_columns() -> None:
    assert any("no table" in fault.problem for fault in faults_of(book(cells(MINIMAL)), "x.xlsx"))


def test_unpacked_size_is_looked_at_before_opening(monkeypatch: pytest.MonkeyPatch) -> None:
    assert workbook_module.LARGEST_UNPACKED == 128 * 2**20
    monkeypatch.setattr(workbook_module, "LARGEST_UNPACKED", 1000)
    assert "too large" in only_fault(book(cells(MINIMAL + TABLE)), "x.xlsx").problem


def test_what_the_stored_form_tells() -> None:
    def fill(sheet: Worksheet) -> None:
        sheet["A1"] = "=1+1"
        sheet["B2"] = 5
        sheet.merge_cells("C3:D4")

    found = read_package(book(fill), "x.xlsx")["Motor"]
    assert found.formulas == (("A1", ""),)
    assert found.merged == ("C3:D4",)
    assert found.far_cells == ()
    assert cell_row("XFD1048576") == 1048576
