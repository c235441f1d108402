from __future__ import annotations

import pytest

from importing import MINIMAL, TABLE, codes, faults_of, only_fault, read_one
from soakage.importers.base import Notes
from soakage.importers.columns import read_columns, recognised, split_heading
from soakage.importers.layout import take_apart


@pytest.mark.parametrize("delimiter", (",", ";", "\t"))
def test_delimiter_is_told_by_the_column_line(delimiter: str) -> None:
    table = take_apart(MINIMAL + TABLE.replace(",", delimiter), Notes("x")).table
    assert table is not None
    assert table.delimiter == delimiter
    assert table.headings == ("time [s]", "voltage [V]", "current [uA]")
    assert table.row == 4


def test_one_column_needs_no_delimiter() -> None:
    record = read_one(MINIMAL + "# test_voltage = 5 kV\nresistance [MOhm]\n312,5\n")
    assert record.readings.resistance[0] == 312.5e6


def test_delimiter_that_cannot_be_told_names_what_was_tried() -> None:
    fault = only_fault(MINIMAL + "time [s],voltage [V];current [uA]\n15,5003;31\n")
    assert fault.row == 4
    assert "comma (1 column known)" in fault.problem
    assert "semicolon (1 column known)" in fault.problem
    assert "one delimiter" in fault.remedy


def test_nothing_known_under_any_delimiter() -> None:
    fault = only_fault(MINIMAL + "alpha;beta,gamma\tdelta\n1;2,3\t4\n")
    assert all(word in fault.problem for word in ("comma", "semicolon", "tab"))


def test_decimal_comma_needs_another_delimiter() -> None:
    faults = faults_of(MINIMAL + "time [s],voltage [V],current [uA]\n15,5003,31,8\n30,5002,22,1\n")
    assert [fault.row for fault in faults] == [5, 6]
    assert "4 cells" in faults[0].problem
    assert "decimal mark" in faults[0].remedy


@pytest.mark.parametrize("delimiter", (";", "\t"))
def test_decimal_comma_with_semicolon_and_tab(delimiter: str) -> None:
    text = MINIMAL + "time [s]|voltage [kV]|current [uA]\n15|5,003|31,8\n30|5,002|1,500\n".replace(
        "|", delimiter
    )
    readings = read_one(text).readings
    assert readings.voltage.tolist() == [5003.0, 5002.0]
    assert readings.current.tolist() == [31.8e-6, 1.5e-6]


def test_decimal_comma_in_quotes_between_commas() -> None:
    readings = read_one(MINIMAL + 'time [s],voltage [V],current [uA]\n15,5003,"31,8"\n').readings
    assert readings.current.tolist() == [31.8e-6]


def test_grouping_comma_in_quotes_is_refused_with_both_readings() -> None:
    fault = only_fault(MINIMAL + 'time [s],voltage [V],current [uA]\n15,"5,003",31.8\n')
    assert fault.row == 5
    assert fault.field == "voltage"
    assert "5003" in fault.problem
    assert "5.003" in fault.problem


def test_mixed_decimal_marks() -> None:
    fault = only_fault(MINIMAL + "time [s];voltage [V];current [uA]\n15;5003;31,8\n30;5002;22.1\n")
    assert "mixes" in fault.problem
    assert fault.row == 6
    assert "line 5" in fault.remedy


def test_blank_lines_and_blank_rows_are_passed_over_and_lines_still_counted() -> None:
    text = f"\n{MINIMAL}\n;;;\ntime [s];voltage [V];current [uA]\n\n15;5003;31.8\n;;\n30;5002;x\n"
    fault = only_fault(text)
    assert fault.row == 11
    assert fault.field == "current"


def test_row_with_too_many_cells() -> None:
    fault = only_fault(MINIMAL + TABLE + "700,5000,4,extra\n")
    assert fault.row == 9
    assert "4 cells" in fault.problem


def test_rows_cut_short_at_the_end_of_the_file() -> None:
    fault = only_fault(MINIMAL + TABLE + "700,50")
    assert fault.row == 9
    assert "cut short" in fault.problem


def test_a_short_row_inside_is_an_empty_cell() -> None:
    readings = read_one(
        MINIMAL + "time [s],voltage [V],current [uA]\n15,5003,31.8\n30,5002\n60,5000,20\n"
    ).readings
    assert readings.current[1] != readings.current[1]
    assert len(readings) == 3


def test_header_without_a_table() -> None:
    assert "no table" in only_fault(MINIMAL).problem
    assert "no table" in only_fault("# soakage = 1\n# class = cable\n# method = cable-core").problem


def test_header_line_below_the_table() -> None:
    fault = only_fault(MINIMAL + TABLE + "# notes = too late\n")
    assert fault.row == 9
    assert "above" in fault.remedy


def test_unclosed_quote_does_not_swallow_the_file() -> None:
    faults = faults_of(MINIMAL + '"# notes = open\n' + TABLE)
    assert any("no table" in fault.problem for fault in faults)


def test_remark_in_the_header_is_shown_and_a_key_without_value_is_a_fault() -> None:
    assert codes(read_one(MINIMAL + "# measured after rain\n" + TABLE)) == ["remark_in_header"]
    fault = only_fault(MINIMAL + "# rated_voltage 6.6 kV\n" + TABLE)
    assert fault.row == 4
    assert fault.field == "rated_voltage"


@pytest.mark.parametrize(
    ("heading", "expected"),
    (
        ("time [s]", ("time", "s")),
        ("Time (s)", ("time", "s")),
        ("t [min]", ("time", "min")),
        ("TIME", ("time", None)),
        ("Elapsed time (min)", ("time", "min")),
        ("U [kV]", ("voltage", "kV")),
        ("V", ("voltage", None)),
        ("test_voltage [V]", ("voltage", "V")),
        ("I [uA]", ("current", "uA")),
        ("I / uA", ("current", "uA")),
        ("Current, nA", ("current", "nA")),
        ("IR [MOhm]", ("resistance", "MOhm")),
        ("R", ("resistance", None)),
        ("Insulation resistance (GΩ)", ("resistance", "GΩ")),
        (" resistance  [ MOhm ] ", ("resistance", "MOhm")),
        ("resistance []", ("resistance", None)),
        ("between", ("between", None)),
        ("Remarks", ("note", None)),
        ("temperature [degC]", None),
        ("", None),
        ("time [s] extra", None),
        ("15", None),
    ),
)
def test_headings(heading: str, expected: tuple[str, str | None] | None) -> None:
    assert split_heading(heading) == expected


def test_columns_in_any_order() -> None:
    record = read_one(MINIMAL + "I [uA],t [min],U [kV]\n31.8,0.25,5.003\n")
    assert record.readings.time.tolist() == [15.0]
    assert record.readings.voltage.tolist() == [5003.0]
    assert record.readings.current.tolist() == [31.8e-6]


def test_column_of_another_name_is_said_and_passed_over() -> None:
    record = read_one(MINIMAL + "time [s],voltage [V],mood,current [uA]\n15,5003,good,31.8\n")
    assert codes(record) == ["unknown_column"]
    assert "mood" in record.findings[0].sentence


def test_column_twice_and_wrong_unit_are_both_reported() -> None:
    notes = Notes("x")
    read_columns(["time [s]", "t [min]", "current [V]", "voltage [furlong]"], 7, notes)
    assert [fault.field for fault in notes.faults] == ["time", "current", "voltage"]
    assert all(fault.row == 7 for fault in notes.faults)
    assert "measures voltage" in notes.faults[1].problem


def test_recognised_counts_each_column_once() -> None:
    assert recognised(["time [s]", "t", "current [A]", "x"]) == 2
