"""What a recipe makes of single cells, and what it refuses: each fault with its line and column."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from importing import codes
from recipes import MACHINE, MARKS, book, facts, read, refused, resistances
from soakage.importers.reading import read_bytes, read_files
from soakage.importers.recipe import CellRule, ColumnRule, Dates, Empty, Kind, Layout, Recipe
from soakage.importers.recipe_preview import preview
from soakage.importers.recipe_read import attempt
from soakage.model.record import Record

HEAD = "Date,Asset,R60s (MΩ),R10min (MΩ),Temp (°C),PI\n"
LONG = Recipe(
    "long",
    Kind.CSV,
    Layout.GROUP,
    columns=(
        ColumnRule("Asset", key="asset", fill_down=True),
        ColumnRule("Day", key="started"),
        ColumnRule("t", reading="time"),
        ColumnRule("R", reading="resistance", unit="MOhm"),
        ColumnRule("Note", key="notes", optional=True),
    ),
    group_by=("asset", "started"),
    constants=MACHINE,
)


def one(cells: str, recipe: Recipe = MARKS) -> Record:
    (record,) = read(recipe, HEAD + cells + "\n")
    return record


@pytest.mark.parametrize(
    ("cell", "value", "bound"),
    (
        ("> 10 GΩ", 10e9, 1), (">200", 200e6, 1), ("< 0.1", 0.1e6, -1), ("0.00", 0.01e6, -1), ("2.5 GΩ", 2.5e9, 0),
        ("1e3", 1e9, 0), ("980 kOhm", 980e3, 0),
    ),
)  # fmt: skip
def test_cells_with_bounds_and_units_of_their_own(cell: str, value: float, bound: int) -> None:
    record = one(f"2021-04-03,M,{cell},,20,")
    assert resistances(record) == {60: pytest.approx(value)}
    assert record.readings.bound.tolist() == [bound]


@pytest.mark.parametrize(
    "cell", ("inf", "OL", "open", "∞", "-5", "#DIV/0!", "1.2.3", "5 V", "2.5G", '"1,200"')
)
def test_cells_that_are_no_resistance_are_faults_with_their_place(cell: str) -> None:
    (fault,) = refused(MARKS, HEAD + f"2021-04-03,M,5,,20,\n2021-04-04,M,{cell},7,20,\n")
    assert (fault.row, fault.field) == (3, "R60s (MΩ)")


def test_over_range_is_a_bound_where_the_range_is_stated() -> None:
    recipe = replace(MARKS, constants=MACHINE | {"accuracy": '[{range = "20 GOhm", reading = "5 %"}]'})
    record = one("2021-04-03,M,OL,,20,", recipe)
    assert (resistances(record), record.readings.bound.tolist()) == ({60: 20e9}, [1])


def test_every_fault_of_a_file_is_said_by_row_and_column() -> None:
    text = HEAD + "03/04/2021,M,x,7,20,\n2021-04-04,M,5,7,warm,\n2021-04-05,M,,,20,\n2021-13-05,M,1,2,20,,7\n"
    said = {(fault.row, fault.field) for fault in refused(MARKS, text)}
    assert said == {
        (2, "Date (started)"), (2, "R60s (MΩ)"), (3, "Temp (°C) (winding_temperature)"), (4, ""), (5, ""),
    }  # fmt: skip


def test_a_preview_shows_good_rows_beside_the_faults_of_others() -> None:
    shown = preview(MARKS, (HEAD + "2021-04-03,M,5,,20,\n2021-04-04,M,x,,20,\n").encode(), "a.csv")
    assert shown["count"] == 1
    assert [fault["row"] for fault in shown["faults"]] == [3]
    (record,) = shown["records"]
    assert record["keys"]["winding_temperature"] == "20 degC"
    assert record["readings"] == [
        {"time": 60.0, "voltage": None, "current": None, "resistance": 5e6, "bound": None}
    ]


@pytest.mark.parametrize(
    ("given", "expected"),
    (
        ("2.00", []), ("2.05", []), ("2", []), ("3.1", ["ratio_differs"]), ("#DIV/0!", ["ratio_not_checked"]),
        ("", []), ("-", []),
    ),
)  # fmt: skip
def test_a_ratio_in_the_file_is_compared(given: str, expected: list[str]) -> None:
    record = one(f"2021-04-03,M,500,1000,20,{given}")
    assert [code for code in codes(record) if code.startswith("ratio")] == expected


def test_a_ratio_without_its_marks_or_with_a_bound_is_not_compared() -> None:
    assert "ratio_not_checked" in codes(one("2021-04-03,M,500,,20,2.0"))
    assert "ratio_not_checked" in codes(one("2021-04-03,M,500,> 900,20,2.0"))


def test_rows_without_a_reading_are_faults_or_passed_over() -> None:
    text = HEAD + "2021-04-03,M,,,20,\n2021-04-04,M,5,,20,\n"
    assert [fault.row for fault in refused(MARKS, text)] == [2]
    recipe = replace(MARKS, without_reading=Empty.SKIP)
    done = attempt(recipe, text.encode(), "a.csv")
    assert (len(done.records), done.passed_over) == (1, [("a.csv", 2, "no reading")])


def test_class_and_constants_are_named_as_the_recipe_has_them() -> None:
    row = HEAD + "2021-04-03,M,5,,20,\n2021-04-04,M,5,,20,\n"
    (fault,) = refused(replace(MARKS, constants={}), row)
    assert (fault.row, fault.field) == (None, "constants.class")
    (fault,) = refused(replace(MARKS, constants=MACHINE | {"test_voltage": "high"}), row)
    assert (fault.row, fault.field) == (None, "constants.test_voltage")
    assert len(read(replace(MARKS, constants={}), row, **{"class": "cable"})) == 2


def test_an_option_wins_over_file_and_recipe() -> None:
    (record,) = read(MARKS, HEAD + "2021-04-03,M,5,,20,\n", asset="N", site="S")
    assert (record.asset.name, record.asset.site) == ("N", "S")
    assert "key_overridden" in codes(record)


def test_a_constant_stands_where_the_cell_is_empty() -> None:
    recipe = replace(MARKS, constants=MACHINE | {"asset": "Spare"})
    assert [r.asset.name for r in read(recipe, HEAD + "2021-04-03,,5,,,\n2021-04-04,M,5,,,\n")] == [
        "Spare",
        "M",
    ]


def test_a_missing_column_a_double_heading_and_another_unit() -> None:
    (fault,) = refused(MARKS, HEAD.replace("Asset", "Machine") + "2021-04-03,M,5,,20,\n")
    assert (fault.row, fault.field) == (1, "Asset")
    (fault,) = refused(MARKS, HEAD.replace("PI", "Asset") + "2021-04-03,M,5,,20,\n")
    assert "2 times" in fault.problem
    recipe = replace(
        MARKS, columns=(*MARKS.columns[:2], ColumnRule(place=3, reading="resistance", at="60 s", unit="GOhm"))
    )
    (fault,) = refused(recipe, HEAD + "2021-04-03,M,5,,20,\n")
    assert "MΩ and as GOhm" in fault.problem
    moved = replace(
        MARKS, columns=(*MARKS.columns[:2], ColumnRule("R60s (MΩ)", 4, reading="resistance", at="60 s"))
    )
    assert "another heading" in refused(moved, HEAD + "2021-04-03,M,5,,20,\n")[0].problem


def test_headings_are_found_where_they_stand_or_said_to_be_elsewhere() -> None:
    text = "Title\n\n" + HEAD + "2021-04-03,M,5,,20,\n" + HEAD + "2021-04-04,M,6,,20,\n"
    assert [r.origin.row for r in read(replace(MARKS, header_row="find"), text)] == [4, 6]
    assert "Line 3 holds" in refused(MARKS, text)[0].problem
    assert "No line" in refused(replace(MARKS, header_row="find"), "a,b\n1,2\n")[0].problem


def test_a_table_without_headings_is_read_by_place() -> None:
    columns = (ColumnRule(place=1, key="asset"), ColumnRule(place=2, reading="resistance", unit="MOhm"))
    recipe = Recipe("bare", Kind.CSV, Layout.ROW, columns, constants=MACHINE, header_row="none")
    assert [resistances(record) for record in read(recipe, "M,5\nN,6\n")] == [{None: 5e6}, {None: 6e6}]


def test_a_file_cut_short_and_an_unclosed_quote() -> None:
    assert "cut short" in refused(MARKS, HEAD + "2021-04-03,M,5,,20,2\n2021-04-04,M,5")[-1].problem
    text = HEAD + '2021-04-03,"M,5,,20,\n' + "2021-04-04,M,5,,20,\n" * 200
    assert "told apart" in refused(MARKS, text)[0].problem


def test_a_long_table_fills_down_joins_notes_and_groups_apart_rows() -> None:
    text = (
        "Asset,Day,t,R,Note\nM,2021-04-03,15,5,warm\n,2021-04-03,60,7,fan on\n"
        "N,2021-04-03,1:00,9,\nM,2021-04-03,600,8,\n"
    )
    records = read(LONG, text)
    assert facts(records)[0] == ("M", None, "2021-04-03", "polarization-index", 2)
    assert resistances(records[0]) == {15: 5e6, 60: 7e6, 600: 8e6}
    assert records[0].paper.notes == "warm; fan on"
    assert resistances(records[1]) == {60: 9e6}


def test_a_long_table_says_which_rows_do_not_belong() -> None:
    recipe = replace(
        LONG, columns=(ColumnRule("Asset", key="asset"), *LONG.columns[1:], ColumnRule("S", key="section"))
    )
    text = (
        "Asset,Day,t,R,Note,S\nM,2021-04-03,15,5,,U\nM,2021-04-03,60,7,,V\n,,5,5,,\n"
        "M,2021-04-04,60,7,,\nM,2021-04-04,15,7,,\n"
    )
    said = {(fault.row, fault.field) for fault in refused(recipe, text)}
    assert said == {(3, "S (section)"), (4, "Asset, Day"), (6, "time")}


def test_date_and_time_of_day_in_two_columns() -> None:
    columns = (ColumnRule("Date", key="started"), ColumnRule("At", key="started"), *MARKS.columns[1:])
    recipe = replace(MARKS, columns=columns, dates=Dates.DAY_FIRST)
    text = HEAD.replace("Date,", "Date,At,") + "03.04.2021,9:20,M,5,,20,\n"
    assert str(read(recipe, text)[0].test.started) == "2021-04-03 09:20:00"


def test_a_time_of_day_of_a_workbook() -> None:
    from datetime import date, time

    columns = (ColumnRule("Date", key="started"), ColumnRule("At", key="started"), *MARKS.columns[1:3])
    recipe = replace(MARKS, kind=Kind.XLSX, columns=columns)
    data = book(
        {"A": (("Date", "At", "Asset", "R60s (MΩ)"), (date(2021, 4, 3), time(9, 20), "M", 5))},
        {"B2": "h:mm:ss"},
    )
    assert str(read(recipe, data, "a.xlsx")[0].test.started) == "2021-04-03 09:20:00"


def test_cells_above_the_table_and_a_sheet_title() -> None:
    recipe = Recipe(
        "sheet", Kind.XLSX, Layout.SHEET,
        columns=(ColumnRule("t", reading="time", unit="min"), ColumnRule("R", reading="resistance", unit="MOhm")),
        cells=(CellRule("B1", "asset"), CellRule("B2", "test_voltage", "kV"), CellRule("B3", "started")),
        sheet_key="section", constants=MACHINE, header_row=5, dates=Dates.DAY_FIRST,
    )  # fmt: skip
    rows = (("Motor", 12), ("Voltage", 2.5), ("Date", "3.4.2021"), (), ("t", "R"), (1, 5), (10, 6))
    records = read(recipe, book({"U": rows, "V": rows}), "m.xlsx")
    assert [r.asset.section for r in records] == ["U", "V"]
    assert (records[0].asset.name, records[0].test.test_voltage, str(records[0].day)) == (
        "12",
        2500,
        "2021-04-03",
    )
    wrong = (("Motor", 12), ("Voltage", "some"), *rows[2:])
    assert ("B2 (test_voltage)", 2) in {
        (f.field, f.row) for f in refused(recipe, book({"U": wrong}), "m.xlsx")
    }
    assert "no such sheet" in refused(replace(recipe, sheets=("W",)), book({"U": rows}), "m.xlsx")[0].problem
    assert (
        "several sheets"
        in refused(replace(recipe, layout=Layout.FILE), book({"U": rows, "V": rows}), "m.xlsx")[0].problem
    )


def test_numbers_of_a_workbook_keep_their_point_under_a_decimal_comma() -> None:
    recipe = replace(MARKS, kind=Kind.XLSX, decimal=",")
    data = book({"A": (HEAD.strip().split(","), ("2021-04-03", "M", 1.234, "2,468", 20.125, 2.0))})
    record = read(recipe, data, "a.xlsx")[0]
    assert resistances(record) == {60: 1.234e6, 600: 2.468e6}
    assert record.conditions.winding_temperature == pytest.approx(293.275)


def test_merged_cells_count_only_where_they_fill_down(tmp_path: Path) -> None:
    made = openpyxl.Workbook()
    sheet = made.worksheets[0]
    for row in (("Asset", "Day", "t", "R"), ("M", "2021-04-03", 15, 5), (None, "2021-04-03", 60, 6)):
        sheet.append(list(row))
    sheet.merge_cells("A2:A3")
    made.save(tmp_path / "m.xlsx")
    data = (tmp_path / "m.xlsx").read_bytes()
    recipe = replace(LONG, kind=Kind.XLSX)
    assert resistances(read(recipe, data, "m.xlsx")[0]) == {15: 5e6, 60: 6e6}
    plain = replace(recipe, columns=(ColumnRule("Asset", key="asset"), *LONG.columns[1:]))
    assert "merged" in refused(plain, data, "m.xlsx")[0].problem


def test_formulas_never_calculated_are_refused_where_they_are_read() -> None:
    row = ("2021-04-03", "M", 5, 6, 20, "=D2/C2")
    recipe = replace(MARKS, kind=Kind.XLSX)
    assert (
        "never calculated"
        in refused(recipe, book({"A": (HEAD.strip().split(","), row)}), "a.xlsx")[0].problem
    )
    ignored = replace(recipe, columns=(*MARKS.columns[:5], ColumnRule("PI", ignore=True)))
    assert len(read(ignored, book({"A": (HEAD.strip().split(","), row)}), "a.xlsx")) == 1


def test_another_kind_of_file_an_empty_one_and_a_broken_recipe() -> None:
    assert "for csv files" in refused(MARKS, book({"A": ((1,),)}), "a.xlsx")[0].problem
    assert "empty" in refused(MARKS, " ")[0].problem
    assert "no record" in refused(MARKS, HEAD)[0].problem
    assert refused(replace(MARKS, decimal="x"), HEAD)[0].field == "decimal"


def test_cells_never_become_more_than_text() -> None:
    # a cell that looks like a header value or a formula stays the text it is
    text = HEAD + '2021-04-03,"""=1+1""",5,,20,\n2021-04-04,[a],5,,20,\n'
    assert [record.asset.name for record in read(MARKS, text)] == ['"=1+1"', "[a]"]


def test_the_readers_take_a_recipe(tmp_path: Path) -> None:
    text = HEAD + "2021-04-03,M,5,,20,\n"
    (tmp_path / "a.csv").write_text(text, encoding="utf-8")
    result = read_files([tmp_path / "a.csv", tmp_path / "no.csv"], {}, MARKS)
    assert (len(result.records), len(result.errors)) == (1, 1)
    assert read_bytes(text.encode(), str(tmp_path / "a.csv"), None, MARKS) == result.records
