"""Any test written as a row of somebody's table, and read with the recipe for it, is the same test."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recipes import book, read
from soakage.importers.reading import read_bytes
from soakage.importers.recipe import ColumnRule, Dates, Kind, Layout, Recipe
from soakage.model.record import Origin, Record

MARKS = (15, 30, 60, 600)
NAME = st.text(st.characters(categories=("L", "N"), max_codepoint=0x17F), min_size=1, max_size=12)
HEADS = ("Asset", "Section", "Date", "Volts", "Temp °C", *(f"R {mark} s [MΩ]" for mark in MARKS), "Note")
COLUMNS = (
    ColumnRule("Asset", key="asset"), ColumnRule("Section", key="section"), ColumnRule("Date", key="started"),
    ColumnRule("Volts", key="test_voltage", unit="V"), ColumnRule("Temp °C", key="winding_temperature"),
    *(ColumnRule(f"R {mark} s [MΩ]", reading="resistance", at=f"{mark} s") for mark in MARKS),
    ColumnRule("Note", key="notes"),
)  # fmt: skip
RECIPE = Recipe(
    "trip",
    Kind.CSV,
    Layout.ROW,
    COLUMNS,
    header_row="find",
    constants={"class": "rotating-machine", "method": "timed-insulation-resistance"},
)


@st.composite
def drawn(draw: st.DrawFn) -> dict[str, object]:
    """Return one test: figures as somebody would type them, at some of the marks."""
    figures = st.tuples(st.sampled_from(("", "> ", "< ")), st.integers(1, 99999), st.integers(0, 3))
    return {
        "asset": draw(NAME),
        "section": draw(st.sampled_from(("U", "V", "L1-PE"))),
        "day": draw(st.dates(date(1950, 1, 1), date(2049, 12, 31))),
        "volts": draw(st.sampled_from((500, 1000, 2500))),
        "degC": draw(st.integers(-200, 900)) / 10,
        "note": draw(st.sampled_from(("", "fan off", "dry; calm"))),
        "read": draw(st.dictionaries(st.sampled_from(MARKS), figures, min_size=1)),
    }


def figure(parts: tuple[str, int, int]) -> str:
    sign, digits, places = parts
    return f"{sign}{digits / 10**places:.{places}f}"


def as_record(test: dict) -> Record:  # type: ignore[type-arg]
    """Return what the record file of the same test reads to."""
    lines = [
        "# soakage = 1", "# class = rotating-machine", "# method = timed-insulation-resistance",
        f"# asset = {test['asset']}", f"# section = {test['section']}", f"# started = {test['day']}",
        f"# test_voltage = {test['volts']} V", f"# winding_temperature = {test['degC']} degC",
        f'# notes = "{test["note"]}"', "time [s],resistance [MOhm]",
        *(f"{mark},{figure(test['read'][mark])}" for mark in MARKS if mark in test["read"]),
    ]  # fmt: skip
    (record,) = read_bytes("\n".join([*lines, ""]).encode(), "a.csv")
    return plain(record)


def plain(record: Record) -> Record:
    return replace(record, origin=Origin())


def row(test: dict, date_shape: str, comma: bool) -> list[str]:  # type: ignore[type-arg]
    cells = [figure(test["read"][mark]) if mark in test["read"] else "" for mark in MARKS]
    numbers = [str(test["degC"]), *cells]
    numbers = [text.replace(".", ",") for text in numbers] if comma else numbers
    return [
        test["asset"],
        test["section"],
        test["day"].strftime(date_shape),
        str(test["volts"]),
        *numbers,
        test["note"],
    ]


def written(rows: Sequence[Sequence[str]], mark: str) -> str:
    return "".join(mark.join(f'"{cell}"' if mark in cell else cell for cell in line) + "\n" for line in rows)


@pytest.mark.parametrize(
    ("mark", "comma", "shape", "dates"),
    (
        (",", False, "%m/%d/%Y", Dates.MONTH_FIRST), (";", True, "%d.%m.%Y", Dates.DAY_FIRST),
        ("\t", False, "%Y-%m-%d", None), (",", True, "%d-%m-%Y", Dates.DAY_FIRST),
    ),
)  # fmt: skip
@settings(max_examples=40)
@given(made=st.lists(drawn(), min_size=1, max_size=5))
def test_rows_of_text_are_the_records_they_were_written_from(
    mark: str, comma: bool, shape: str, dates: Dates | None, made: list[dict[str, object]]
) -> None:
    rows = [["Invented works"], [], HEADS, *(row(test, shape, comma) for test in made)]
    recipe = replace(RECIPE, delimiter=mark, decimal="," if comma else ".", dates=dates)
    assert [plain(record) for record in read(recipe, written(rows, mark))] == [
        as_record(test) for test in made
    ]


@settings(max_examples=25)
@given(made=st.lists(drawn(), min_size=1, max_size=4), serial=st.booleans())
def test_rows_of_a_workbook_are_the_records_they_were_written_from(
    made: list[dict[str, object]], serial: bool
) -> None:
    def number(text: str) -> object:
        return text if text.startswith(("<", ">")) or not text else float(text)

    rows: list[Sequence[object]] = [("Invented works",), HEADS]
    for test in made:
        cells = row(test, "%Y-%m-%d", comma=False)
        day = test["day"]
        assert isinstance(day, date)
        shown = (day - date(1899, 12, 30)).days if serial else day
        rows.append((*cells[:2], shown, int(cells[3]), *map(number, cells[4:-1]), cells[-1]))
    recipe = replace(RECIPE, kind=Kind.XLSX, dates=Dates.SERIAL if serial else None)
    data = book({"Sheet": rows}, {f"E{line}": "0.0" for line in range(3, 3 + len(made))})
    assert [plain(record) for record in read(recipe, data, "a.xlsx")] == [as_record(test) for test in made]
