"""Whole files of every layout, invented: guessed, answered, read; what comes out was worked by hand."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from recipes import MACHINE, asked, book, facts, guessed, read, resistances, sample, settled
from soakage.importers.recipe import Dates, Empty, Layout
from soakage.importers.recipe_file import read_recipe, recipe_text

MARKS_BOOK = (
    ("Switchroom 2, invented", None, None, None, None),
    ("Date", "Asset", "R 15 s", "R 60 s", "Temperature"),
    (None, None, "MΩ", "MΩ", "°C"),
    (datetime(2021, 4, 3), "Motor 1", 200, 350.5, 20),  # noqa: DTZ001 - a cell has no zone
    (datetime(2022, 4, 3), "Motor 1", 190, None, 22.5),  # noqa: DTZ001
    ("Total", None, 390, 350.5, None),
)


def test_one_row_per_test_with_a_column_for_each_mark() -> None:
    data = sample("motors-marks.csv")
    assert asked(guessed(data)) == {"constants.class"}
    recipe = settled(data, constants__class="rotating-machine")
    assert (recipe.layout, recipe.header_row, recipe.dates) == (Layout.ROW, 4, Dates.MONTH_FIRST)
    records = read(recipe, data, "motors-marks.csv")
    assert facts(records) == [
        ("Pump 1", "U", "2021-03-04", "polarization-index", 5),
        ("Pump 1", "V", "2021-03-04", "polarization-index", 6),
        ("Pump 1", "W", "2021-03-04", "polarization-index", 7),
        ("Pump 2", "U", "2022-09-28", "insulation-resistance", 8),
    ]
    assert resistances(records[0]) == {15: 210e6, 30: 340e6, 60: 520e6, 600: 1.30e9}
    assert records[2].readings.bound.tolist() == [0, 0, 0, 1]
    assert resistances(records[2])[600] == 10e9
    assert resistances(records[3]) == {60: 95.5e6}
    assert records[0].test.test_voltage == 1000
    assert records[0].conditions.winding_temperature == pytest.approx(294.65)
    assert not any(f.code.startswith("ratio") for record in records for f in record.findings)


def test_hand_kept_history_with_decimal_commas() -> None:
    data = sample("hand-kept-german.csv")
    made = guessed(data)
    assert asked(made) == {"constants.class"}
    assert (made.recipe.delimiter, made.recipe.decimal, made.recipe.unit_row) == (";", ",", 3)
    assert made.recipe.pass_over == ("Mittelwert",)
    records = read(settled(data, constants__class="rotating-machine"), data)
    assert [record.test.started for record in records] == [
        date(1999, 2, 13), date(2001, 3, 5), date(2004, 4, 2)
    ]  # fmt: skip
    assert [resistances(record) for record in records] == [{None: 1250.5e6}, {None: 2400e6}, {None: 980.25e6}]
    assert {record.test.method for record in records} == {"insulation-resistance"}
    assert [record.paper.notes for record in records] == ["vor Reinigung", None, "nass"]
    assert [record.test.test_voltage for record in records] == [500, 500, 500]


def test_a_long_table_grouped_by_asset_date_and_section() -> None:
    data = sample("long-table.txt")
    recipe = settled(data, constants__class="cable")
    assert (recipe.layout, recipe.delimiter) == (Layout.GROUP, "\t")
    assert set(recipe.group_by) == {"asset", "started", "section"}
    records = read(recipe, data)
    assert facts(records) == [
        ("Cable 7", "L1", "2020-05-06", "polarization-index", 2),
        ("Cable 7", "L2", "2020-05-06", "timed-insulation-resistance", 5),
        ("Cable 7", "L1", "2021-05-06", "insulation-resistance", 7),
    ]
    assert records[0].readings.current.tolist() == pytest.approx([3.1e-6, 1.9e-6, 0.8e-6])
    assert records[0].readings.voltage.tolist() == [5000, 5000, 5000]
    assert not records[0].readings.resistance_given


def test_one_record_per_file_with_a_line_of_units() -> None:
    data = sample("one-record.csv")
    recipe = settled(
        data, constants__class="transformer", constants__asset="T 4", constants__test_voltage="5 kV"
    )
    assert recipe.layout is Layout.FILE
    (record,) = read(recipe, data)
    assert resistances(record) == {15: 0.42e9, 30: 0.61e9, 60: 0.9e9, 600: 2.7e9}
    assert (record.asset.name, record.test.test_voltage, record.origin.row) == ("T 4", 5000, None)


def test_one_record_per_sheet_named_by_its_title() -> None:
    rows = (("Time [s]", "Resistance [MΩ]"), (15, 100), (60, 150.5))
    data = book({"Fan 1": rows, "Fan 2": rows[:2], "Remarks": (("Nothing here",),)})
    recipe = settled(data, "fans.xlsx", constants__class="rotating-machine")
    assert (recipe.layout, recipe.sheets, recipe.sheet_key) == (Layout.SHEET, ("Fan 1", "Fan 2"), "asset")
    records = read(recipe, data, "fans.xlsx")
    assert [record.asset.name for record in records] == ["Fan 1", "Fan 2"]
    assert [record.origin.file for record in records] == ["fans.xlsx [Fan 1]", "fans.xlsx [Fan 2]"]
    assert resistances(records[0]) == {15: 100e6, 60: 150.5e6}


def test_a_workbook_with_title_units_dates_and_totals() -> None:
    data = book({"History": MARKS_BOOK})
    made = guessed(data, "history.xlsx")
    assert (made.recipe.header_row, made.recipe.unit_row, made.recipe.pass_over) == (2, 3, ("Total",))
    records = read(settled(data, "history.xlsx", constants__class="rotating-machine"), data, "history.xlsx")
    assert facts(records) == [
        ("Motor 1", None, "2021-04-03", "timed-insulation-resistance", 4),
        ("Motor 1", None, "2022-04-03", "insulation-resistance", 5),
    ]
    assert resistances(records[1]) == {15: 190e6}


def test_dates_kept_as_counts_of_days() -> None:
    # 2021-04-03 is day 44289 of the spreadsheets that count from 1900: ISO date less 1899-12-30, worked by hand
    data = book({"A": (("Date", "Asset", "R60s (MΩ)"), (44289, "M1", 5), (44290, "M1", 6))})
    recipe = settled(data, "serial.xlsx", constants__class="rotating-machine")
    assert recipe.dates is Dates.SERIAL
    assert [str(record.day) for record in read(recipe, data, "serial.xlsx")] == ["2021-04-03", "2021-04-04"]


def test_three_phases_in_one_row_make_three_records() -> None:
    data = "Date;Motor;U-PE (MΩ);V-PE (MΩ);W-PE (MΩ)\n2020-01-31;M 3;100;110;\n2021-01-31;M 3;90;95;> 200\n"
    recipe = settled(data, constants__class="rotating-machine")
    assert recipe.without_reading is Empty.FAULT
    records = read(settled(data, constants__class="rotating-machine", without_reading="skip"), data)
    assert [(r.asset.section, str(r.day), r.readings.resistance[0]) for r in records] == [
        ("U-PE", "2020-01-31", 100e6), ("V-PE", "2020-01-31", 110e6),
        ("U-PE", "2021-01-31", 90e6), ("V-PE", "2021-01-31", 95e6), ("W-PE", "2021-01-31", 200e6),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "name", ("motors-marks.csv", "hand-kept-german.csv", "long-table.txt", "one-record.csv")
)
def test_the_recipe_written_and_read_back_reads_the_same(name: str) -> None:
    recipe = settled(sample(name), constants__class=MACHINE["class"], constants__asset="A")
    again = read_recipe(recipe_text(recipe, ["shared with others"]).encode())
    assert again == recipe
    assert read(again, sample(name)) == read(recipe, sample(name))
