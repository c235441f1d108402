"""A record file opened in a spreadsheet and saved there gives the same record.

How spreadsheets write CSV: RFC 4180 (read: fields with delimiters, quotes or line breaks are put in
quotes and inner quotes doubled; every row of a block has as many delimiters as its widest). Trailing
delimiters, Unicode text with tabs and dropped blanks at block ends: common practice, no source.
"""

from __future__ import annotations

import csv
import io

import pytest

from importing import FULL, TABLE, read_one, without_origin
from soakage.importers.base import Notes
from soakage.importers.cells import plain_cells
from soakage.importers.columns import read_columns
from soakage.importers.layout import take_apart
from soakage.model.record import Record

COMMA = FULL + TABLE
SEMICOLON = FULL + TABLE.replace(",", ";").replace(".", ",")
TAB = FULL + TABLE.replace(",", "\t")


def opened(text: str, delimiter: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text), delimiter=delimiter))


def saved(
    rows: list[list[str]],
    delimiter: str,
    *,
    pad: int = 0,
    ending: str = "\r\n",
    quoting: int = csv.QUOTE_MINIMAL,
) -> str:
    width = max(len(row) for row in rows) + pad
    target = io.StringIO()
    writer = csv.writer(target, delimiter=delimiter, lineterminator=ending, quoting=quoting)  # type: ignore[arg-type]
    writer.writerows([row + [""] * (width - len(row)) for row in rows])
    return target.getvalue()


@pytest.fixture(scope="module")
def expected() -> Record:
    return without_origin(read_one(COMMA))


@pytest.mark.parametrize(("text", "delimiter"), ((COMMA, ","), (SEMICOLON, ";"), (TAB, "\t")))
@pytest.mark.parametrize("pad", (0, 3))
@pytest.mark.parametrize("ending", ("\r\n", "\n", "\r"))
def test_opened_and_saved_with_its_delimiter(
    text: str, delimiter: str, pad: int, ending: str, expected: Record
) -> None:
    again = saved(opened(text, delimiter), delimiter, pad=pad, ending=ending)
    assert '""' in again  # doubled quotes are what this is about
    assert without_origin(read_one(again)) == expected


@pytest.mark.parametrize(("text", "delimiter"), ((COMMA, ","), (SEMICOLON, ";"), (TAB, "\t")))
def test_saved_twice_is_as_good_as_once(text: str, delimiter: str, expected: Record) -> None:
    once = saved(opened(text, delimiter), delimiter)
    assert without_origin(read_one(saved(opened(once, delimiter), delimiter))) == expected


@pytest.mark.parametrize(("text", "delimiter"), ((COMMA, ","), (SEMICOLON, ";")))
def test_every_cell_quoted(text: str, delimiter: str, expected: Record) -> None:
    again = saved(opened(text, delimiter), delimiter, quoting=csv.QUOTE_ALL)
    assert without_origin(read_one(again)) == expected


def test_comma_file_opened_where_the_semicolon_rules(expected: Record) -> None:
    # every line stays in one cell; only lines with quotes or semicolons are quoted on saving
    again = saved(opened(COMMA, ";"), ";")
    assert '"# asset = ""Pump 3 motor"""' in again
    kept = "\n".join(line.rstrip(";") for line in again.splitlines())
    assert without_origin(read_one(kept)) == expected


def test_semicolon_file_opened_where_the_comma_rules(expected: Record) -> None:
    rows = opened(SEMICOLON, ",")
    # cells split at the decimal comma come back joined by it
    again = saved(rows, ",", ending="\n")
    lines = [line.rstrip(",") for line in again.splitlines()]
    assert without_origin(read_one("\n".join(lines))) == expected


def test_unicode_text_with_tabs(expected: Record) -> None:
    again = saved(opened(TAB, "\t"), "\t")
    assert without_origin(read_one(again.encode("utf-16"), "test.txt")) == expected
    assert without_origin(read_one(again.encode("utf-16-le"), "test.txt")) == expected
    assert without_origin(read_one(again.encode("utf-16-be"), "test.txt")) == expected


def test_utf8_with_its_mark(expected: Record) -> None:
    assert without_origin(read_one(saved(opened(COMMA, ","), ",").encode("utf-8-sig"))) == expected


def test_header_in_two_cells(expected: Record) -> None:
    rows = []
    for line in FULL.splitlines():
        key, _, value = line.partition(" = ")
        rows.append([key, value.strip('"') if value.count('"') == 2 and value[0] == '"' else value])
    rows += opened(TABLE, ",")
    assert without_origin(read_one(saved(rows, ","))) == expected
    with_equals = [[f"{row[0]} =", row[1]] if row[0].startswith("#") else row for row in rows]
    assert without_origin(read_one(saved(with_equals, ","))) == expected


def test_unquoted_texts_and_comma_lists(expected: Record) -> None:
    typed = FULL.replace('["U", "V", "W", "frame"]', "U,V,W,frame").replace('["U", "V", "W"]', "U, V, W")
    typed = typed.replace('["frame"]', "frame")
    plain = "\n".join(line.replace('"', "") if "{" not in line else line for line in typed.splitlines())
    assert without_origin(read_one(f"{plain}\n{TABLE}")) == expected
    assert without_origin(read_one(saved(opened(f"{plain}\n{TABLE}", ","), ","))) == expected


def test_quotes_dropped_inside_lists_and_tables(expected: Record) -> None:
    # without blanks after the commas a spreadsheet takes the quotes of the inner items for its own
    tight = COMMA.replace('", "', '","').replace(', "', ',"')
    again = saved(opened(tight, ","), ",")
    assert "V,W" in again
    assert without_origin(read_one(again)) == expected


def test_delimiters_missing_at_the_end_of_a_block(expected: Record) -> None:
    again = saved(opened(COMMA, ","), ",", pad=4)
    lines = again.splitlines()
    ragged = [line.rstrip(",") if number < 16 else line for number, line in enumerate(lines)]
    assert without_origin(read_one("\r\n".join(ragged) + "\r\n")) == expected


def test_saved_tables_are_still_read_the_fast_way() -> None:
    notes = Notes("")
    table = take_apart(saved(opened(COMMA, ","), ",", ending="\n"), notes).table
    assert table is not None
    cells = plain_cells(table, read_columns(table.headings, table.row, notes))
    assert cells is not None
    assert len(cells.lines) == 4


def test_multi_line_note_of_a_spreadsheet_cell() -> None:
    text = "# soakage,1,\n# class,cable,\n# method,insulation-resistance,\n"
    text += '# notes,"first line\nsecond ""line""",\n'
    record = read_one(text + "time [s],voltage [V],current [uA]\n60,1000,2\n")
    assert record.paper.notes == 'first line\nsecond "line"'


def test_line_ends_of_the_other_locale_are_taken_off(expected: Record) -> None:
    again = saved(opened(COMMA, ";"), ";", ending="\n")
    assert "15,5003,31.8;\n" in again
    assert without_origin(read_one(again)) == expected


@pytest.mark.parametrize("delimiter", (",", ";", "\t"))
def test_a_list_over_cells_in_each_delimiter(delimiter: str) -> None:
    lines = (
        "# soakage|1",
        "# class|cable",
        "# method|cable-core",
        "# tested|L1|L2|L3",
        "resistance|",
        "300 MOhm|",
    )
    assert read_one("\n".join(lines).replace("|", delimiter)).test.tested == ("L1", "L2", "L3")
