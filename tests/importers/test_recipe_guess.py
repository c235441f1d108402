"""What a recipe is guessed to be: what the file tells is taken, what it leaves open is asked."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recipes import MACHINE, asked, book, guessed, read, resistances, settled
from soakage.errors import InputError
from soakage.importers.recipe import Dates, Empty, Layout
from soakage.importers.recipe_answers import answered
from soakage.importers.recipe_guess import guess
from soakage.importers.recipe_headings import mark_in, meaning, ratio_in, unit_in
from soakage.importers.recipe_preview import guess_json

HEAD = ("Date", "Asset", "Phase", "R60s (MΩ)", "R10min (MΩ)", "Temp (°C)")
TITLES = (("Works East, invented",), ("Report", "7"), ("Insulation", "", "2021"), ("Remark: dry",))
ROW = ("2021-04-13", "Motor 1", "U", "100", "250", "20.5")


def table(*rows: tuple[str, ...], mark: str = ",") -> str:
    return "".join(mark.join(row) + "\n" for row in rows)


@pytest.mark.parametrize(
    ("heading", "expected"),
    (
        ("R15s (MΩ)", ("", "resistance", "15 s", "")), ("R 10 min [GOhm]", ("", "resistance", "10 min", "")),
        ("1 min", ("", "resistance", "1 min", "")), ("R60", ("", "resistance", "60 s", "")),
        ("R10", ("", "resistance", "10 min", "")), ("IR 1 min MΩ", ("", "resistance", "1 min", "")),
        ("I 60 s [uA]", ("", "current", "60 s", "")), ("Current (µA)", ("", "current", "", "")),
        ("Megohms", ("", "resistance", "", "")), ("MΩ", ("", "resistance", "", "")), ("Time [s]", ("", "time", "", "")),
        ("Isolationswiderstand in MΩ", ("", "resistance", "", "")), ("Datum", ("started", "", "", "")),
        ("Temperatur in °C", ("winding_temperature", "", "", "")), ("Prüfspannung V", ("test_voltage", "", "", "")),
        ("Ambient temp", ("ambient_temperature", "", "", "")), ("PI", ("", "", "", "600 s/60 s")),
        ("DAR", ("", "", "", "60 s/30 s")), ("PI (10min/1min)", ("", "", "", "10 min/1 min")),
        ("R600/R60", ("", "", "", "600 s/60 s")), ("rated_voltage", ("rated_voltage", "", "", "")),
        ("Rated kV", ("rated_voltage", "", "", "")), ("Test V", ("test_voltage", "", "", "")),
        ("Nominal (kV)", ("nominal_voltage", "", "", "")), ("Test U [kV]", ("test_voltage", "", "", "")),
        ("U [kV]", ("", "voltage", "", "")), ("Test date", ("started", "", "", "")),
        ("Tested by", ("tested_by", "", "", "")), ("RH %", ("relative_humidity", "", "", "")),
    ),
)  # fmt: skip
def test_what_headings_say(heading: str, expected: tuple[str, ...]) -> None:
    told = meaning(heading)
    assert told is not None
    assert (told.key, told.reading, told.at, told.ratio) == expected


@pytest.mark.parametrize(
    "heading", ("IR corrected to 40 °C (MΩ)", "R60 at 40 °C", "Min. required (MΩ)", "R60s @20°C")
)
def test_a_corrected_or_required_figure_is_never_a_reading(heading: str) -> None:
    told = meaning(heading)
    assert told is not None
    assert told.worked_out
    made = guessed(table((*HEAD, heading), (*ROW, "80")))
    assert made.notes[-1].confidence == "not read"
    assert made.recipe.columns[-1].ignore


@pytest.mark.parametrize("heading", ("", "Colour", "42", "   "))
def test_other_headings_say_nothing(heading: str) -> None:
    assert meaning(heading) is None


@given(st.text(max_size=40))
def test_any_heading_can_be_looked_at(heading: str) -> None:
    meaning(heading)
    mark_in(heading)
    ratio_in(heading)
    unit_in(heading, "resistance")


@settings(max_examples=60)
@given(
    st.lists(st.sampled_from(TITLES), max_size=6),
    st.permutations(range(len(HEAD))),
    st.integers(0, 3),
    st.sampled_from(",;\t"),
)  # fmt: skip
def test_the_headings_are_found_under_any_titles(
    titles: list[tuple[str, ...]], order: list[int], blanks: int, mark: str
) -> None:
    def arranged(row: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(row[place] for place in order)

    text = (
        table(*titles, mark=mark)
        + "\n" * blanks
        + table(arranged(HEAD), arranged(ROW), arranged(ROW), mark=mark)
    )
    made = guessed(text)
    assert made.recipe.header_row == len(titles) + blanks + 1
    assert made.recipe.delimiter == mark
    assert {rule.key for rule in made.recipe.columns if rule.key} == {
        "started", "asset", "section", "winding_temperature"
    }  # fmt: skip
    recipe = answered(made.recipe, {"constants.class": "rotating-machine"})
    assert [resistances(record) for record in read(recipe, text)] == [{60: 100e6, 600: 250e6}] * 2


def dated(*days: str) -> str:
    return table(HEAD, *((day, *ROW[1:]) for day in days))


@pytest.mark.parametrize(
    ("days", "dates", "open_settings"),
    (
        (("03/04/2021", "05/06/2021"), None, {"dates"}), (("03/04/2021", "25/06/2021"), Dates.DAY_FIRST, set()),
        (("03/04/2021", "06/25/2021"), Dates.MONTH_FIRST, set()), (("25/06/2021", "06/25/2021"), None, {"dates"}),
        (("2021-04-03",), None, set()), (("03/04/21",), None, {"dates", "first_year"}),
        (("44289", "44290"), Dates.SERIAL, set()),
    ),
)  # fmt: skip
def test_dates_are_asked_for_unless_a_row_decides(
    days: tuple[str, ...], dates: Dates | None, open_settings: set[str]
) -> None:
    made = guessed(dated(*days))
    assert made.recipe.dates == dates
    assert asked(made) - {"constants.class"} == open_settings


def test_an_open_date_is_a_fault_until_it_is_answered() -> None:
    text = dated("03/04/2021")
    recipe = answered(guessed(text).recipe, {"constants.class": "cable"})
    with pytest.raises(InputError, match="2021-04-03 or 2021-03-04"):
        read(recipe, text)
    assert str(read(answered(recipe, {"dates": "month-day-year"}), text)[0].day) == "2021-03-04"


@pytest.mark.parametrize(
    ("cells", "decimal", "asks"),
    (
        (("1,5", "2"), ",", False), (("1.5", "2"), ".", False), (("1.250,5", "7"), ",", False),
        (("1,250", "7"), "", True), (("1,250", "1,5"), ",", False), (("1,250", "1.5"), ".", False),
        (("1,250,000", "7"), ".", False), (("12", "7"), "", False),
    ),
)  # fmt: skip
def test_the_decimal_mark_is_asked_for_where_figures_leave_it_open(
    cells: tuple[str, ...], decimal: str, asks: bool
) -> None:
    made = guessed(table(HEAD, *((*ROW[:3], cell, "", "20") for cell in cells), mark=";"))
    assert made.recipe.decimal == decimal
    assert ("decimal" in asked(made)) == asks


def test_units_not_stated_are_asked_for_column_by_column() -> None:
    made = guessed(table(("Date", "Asset", "R60s", "R10min", "Temp"), ("2021-04-13", "M", "5", "2 GΩ", "20")))
    assert asked(made) == {"constants.class", "column.3.unit", "column.5.unit"}
    given = {"constants.class": "cable", "column.3.unit": "GOhm", "column.5.unit": "degF"}
    (record,) = read(
        answered(made.recipe, given),
        table(("Date", "Asset", "R60s", "R10min", "Temp"), ("2021-04-13", "M", "5", "2 GΩ", "50")),
    )
    assert resistances(record) == {60: 5e9, 600: 2e9}
    assert record.conditions.winding_temperature == pytest.approx(283.15)


def test_what_a_file_lacks_is_asked_for() -> None:
    made = guessed("R60s (MΩ)\n5\n6\n")
    assert asked(made) == {"constants.class", "constants.asset"}
    assert {question.setting for question in made.questions} > {"constants.test_voltage"}


def test_gaps_in_names_are_asked_about() -> None:
    text = table(HEAD, ROW, ("", "", "V", "90", "200", "20"))
    assert asked(guessed(text)) == {"constants.class", "column.1.fill_down", "column.2.fill_down"}
    recipe = settled(text, constants__class="cable", column__1__fill_down="true", column__2__fill_down="true")
    assert [record.asset.name for record in read(recipe, text)] == ["Motor 1", "Motor 1"]


def test_columns_of_words_and_doubles_are_not_read() -> None:
    heads = (*HEAD, "Class", "Insulation resistance ok", "R60s (MΩ)", "Colour")
    made = guessed(table(heads, (*ROW, "good", "yes", "100", "red")))
    assert [note.confidence for note in made.notes[6:]] == ["not read"] * 4
    assert [rule.place for rule in made.recipe.columns if rule.heading == "R60s (MΩ)"] == [4, 9]


def test_rows_without_a_reading_and_totals_are_remarked() -> None:
    made = guessed(
        table(HEAD, ROW, ("2021-04-14", "Motor 2", "U", "", "", "20"), ("Average", "", "", "100", "", ""))
    )
    assert made.recipe.without_reading is Empty.SKIP
    assert made.recipe.pass_over == ("Average",)
    assert any("passed over: 1, the first in line 3" in remark for remark in made.remarks)


def test_dates_kept_both_ways_in_a_workbook_are_remarked() -> None:
    from datetime import date

    data = book({"A": (HEAD, (date(2021, 4, 3), *ROW[1:3], 5, 6, 20), ("25/04/2021", *ROW[1:3], 5, 6, 20))})
    made = guessed(data, "a.xlsx")
    assert made.recipe.dates is Dates.DAY_FIRST
    assert any("exchanged" in remark for remark in made.remarks)


def test_a_sheet_of_other_headings_is_left_out() -> None:
    data = book({"A": (HEAD, ROW), "B": (HEAD, ROW), "Staff": (("Name", "Room"), ("X", "1"))})
    made = guessed(data, "a.xlsx")
    assert made.recipe.sheets == ("A", "B")
    assert made.recipe.layout is Layout.ROW
    assert len(read(answered(made.recipe, {"constants.class": "cable"}), data, "a.xlsx")) == 2


@pytest.mark.parametrize("text", ("a,b\n1,2\n", "Date,Asset\n2021-04-03,M\n", "7\n8\n"))
def test_a_file_that_says_nothing_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="by hand"):
        guessed(text)


def test_a_delimiter_may_be_given() -> None:
    assert guess(table(HEAD, ROW, mark=";").encode(), "a.csv", ";").recipe.delimiter == ";"


def test_a_guess_is_fit_for_json() -> None:
    shown = json.loads(json.dumps(guess_json(guessed(dated("03/04/2021"))), allow_nan=False))
    assert list(shown) == ["recipe", "columns", "remarks", "questions", "rows"]
    assert shown["recipe"]["layout"] == "row"
    assert shown["rows"][0] == {"row": 1, "cells": list(HEAD)}
    assert {choice["value"] for q in shown["questions"] if q["setting"] == "dates" for choice in q["choices"]} == {
        "day-month-year", "month-day-year"
    }  # fmt: skip
    assert MACHINE["class"] in {c["value"] for q in shown["questions"] for c in q["choices"]}


@settings(max_examples=60)
@given(st.binary(max_size=300))
def test_any_bytes_are_guessed_or_refused(data: bytes) -> None:
    for name in ("a.csv", "a.xlsx"):
        try:
            found = bool(guess(data, name).recipe.columns)
        except InputError as error:
            found = bool(error.faults)
        assert found
