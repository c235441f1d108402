"""What is written reads back to the same record, whatever its values."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from any_records import any_records, bare
from importing import FULL, MINIMAL, TABLE, only_fault, read_all, read_one, without_origin
from soakage.errors import UsageError
from soakage.importers.values import Value
from soakage.importers.write_record import (
    header_line,
    header_values,
    record_text,
    schedule_text,
    sheet_text,
)
from soakage.model.record import Record

FORMS = ((",", False), (";", False), (";", True), ("\t", False), ("\t", True))


@settings(max_examples=150, deadline=None)
@given(any_records, st.sampled_from(FORMS))
def test_any_record_reads_back(record: Record, form: tuple[str, bool]) -> None:
    written = record_text(record, delimiter=form[0], decimal_comma=form[1])
    again = read_one(written)
    assert bare(again) == bare(record)
    assert record_text(again, delimiter=form[0], decimal_comma=form[1]) == written


@pytest.mark.parametrize(("delimiter", "comma"), FORMS)
def test_the_example_reads_back(delimiter: str, comma: bool) -> None:
    record = read_one(FULL + TABLE)
    again = read_one(record_text(record, delimiter=delimiter, decimal_comma=comma))
    assert without_origin(again) == without_origin(record)


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
def test_marks_and_gaps_read_back(header: str, table: str) -> None:
    record = read_one(MINIMAL + header + table)
    assert bare(read_one(record_text(record))) == bare(record)


def test_steps_and_holds_read_back() -> None:
    header = MINIMAL.replace("polarization-index", "step-voltage")
    for table in (
        "# hold = 60 s\nvoltage [kV],current [uA]\n1,1\n2,2.5\n",
        (
            '# steps = [{at = "0 s", voltage = "1 kV"}, {at = "60 s", voltage = "2 kV"}]\n'
            "time [s],current [uA]\n60,1\n120,2\n"
        ),
    ):
        record = read_one(header + table)
        assert bare(read_one(record_text(record))) == bare(record)


def test_figures_are_written_short() -> None:
    text = record_text(read_one(FULL + TABLE))
    assert "time [s],voltage [V],current [uA]\n15,5003,31.8\n30,5002,22.1\n" in text
    assert '# rated_voltage = "6.6 kV"\n' in text
    assert "# started = 2026-03-14T09:20:00+02:00\n" in text
    assert '# tested = ["U", "V", "W"]\n' in text


@pytest.mark.parametrize(("delimiter", "comma"), ((",", True), ("|", False), ("", False)))
def test_delimiters_that_cannot_be(delimiter: str, comma: bool) -> None:
    with pytest.raises(UsageError, match="semicolon"):
        record_text(read_one(MINIMAL + TABLE), delimiter=delimiter, decimal_comma=comma)


def test_unknown_keys_are_written_back() -> None:
    assert header_values(read_one(f'{MINIMAL}# works number = "A = 7"\n{TABLE}'))["works number"] == "A = 7"
    assert header_line("works number", "A = 7") == '# works number = "A = 7"'


def test_a_sheet_to_fill_in() -> None:
    stated_keys: dict[str, Value] = {
        "class": "rotating-machine",
        "method": "polarization-index",
        "asset": "",
        "tested": ["U", "V"],
    }
    text = sheet_text(stated_keys, [15, 30, 60, 600])
    assert text.startswith("# soakage = 1\n")
    assert "# asset =\n" in text
    assert text.endswith("time [s],voltage [V],current [uA]\n15,,\n30,,\n60,,\n600,,\n")
    assert "no readings yet" in only_fault(text).problem
    filled = text.replace("15,,", "15,5000,3").replace("60,,", "60,5000,2")
    record = read_one(filled)
    assert record.readings.resistance[0] == 5000 / 3e-6
    assert np.isnan(record.readings.resistance).tolist() == [False, True, False, True]
    assert record.test.tested == ("U", "V")


def test_a_sheet_for_a_spreadsheet_of_the_semicolon() -> None:
    text = sheet_text(
        {"class": "cable", "method": "cable-core"}, [60], ["time [s]", "resistance [MOhm]"], delimiter=";"
    )
    assert text.endswith("time [s];resistance [MOhm]\n60;\n")
    with pytest.raises(UsageError):
        sheet_text({}, [60], delimiter="/")


def test_a_schedule_to_fill_in_reads_back_with_delimiters_in_its_names() -> None:
    keys: dict[str, Value] = {
        "class": "low-voltage-installation",
        "method": "circuit",
        "test_voltage": "500 V",
    }
    rows = [["Hall, north", "L-PE", "> 200"], ["Oven; grill", "N-PE", "12.5"]]
    for delimiter in (",", ";", "\t"):
        text = schedule_text(keys, rows, ["circuit", "between", "resistance [MOhm]"], delimiter=delimiter)
        records = read_all(text)
        assert [record.asset.circuit for record in records] == ["Hall, north", "Oven; grill"]
        assert [record.readings.resistance[0] for record in records] == [200e6, 12.5e6]
