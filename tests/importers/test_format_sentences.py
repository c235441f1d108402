"""The format sentence by sentence: time, voltage, steps, ramps, discharges, endings and schedules."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from importing import codes, faults_of, only_fault, read_all, read_one, without_origin
from soakage.importers.write_record import record_text
from soakage.model.record import Record
from soakage.model.test import Step

TOP = "# soakage = 1\n# class = rotating-machine\n"
STEPS = (
    '# steps = [{at = "0 s", voltage = "1 kV"}, {at = "60 s", voltage = "2 kV"}, '
    '{at = "180 s", voltage = "3 kV"}]\n'
)
SCHEDULE = (
    "# soakage = 1\n# class = low-voltage-installation\n# method = circuit\n# nominal_voltage = 230 V\n"
)


def read(method: str, table: str, *keys: str) -> Record:
    return read_one(f"{TOP}# method = {method}\n" + "".join(f"# {key}\n" for key in keys) + table)


# ---- what is required -------------------------------------------------------------------------------------
@pytest.mark.parametrize("missing", ("soakage", "class", "method"))
def test_no_key_but_three_is_required(missing: str) -> None:
    lines = {"soakage": "# soakage = 1", "class": "# class = cable", "method": "# method = cable-core"}
    text = "\n".join(line for key, line in lines.items() if key != missing)
    fault = only_fault(f"{text}\ntime [s],resistance [MOhm]\n60,5\n")
    assert fault.field == missing
    assert fault.allowed
    assert fault.given == ""


def test_what_is_not_stated_is_none_and_costs_nothing_here() -> None:
    record = read("insulation-resistance", "time [s],resistance [MOhm]\n60,5\n")
    assert record.asset.rated_voltage is None
    assert record.conditions.winding_temperature is None
    assert record.asset.year is None
    assert list(record.stated()) == ["class", "method"]


def test_unknown_keys_are_kept_and_shown() -> None:
    record = read(
        "ramp", "time [s],voltage [V],current [uA]\n60,5,1\n", "colour = blue", "ratedvoltage = 6 kV"
    )
    assert dict(record.extra) == {"colour": "blue", "ratedvoltage": "6 kV"}
    sentences = [f.sentence for f in record.findings if f.code == "unknown_key"]
    assert len(sentences) == 2
    assert "colour" in sentences[0]
    assert "rated_voltage" in sentences[1], "the nearest known key is named"


# ---- history kept as a megohm and a temperature -----------------------------------------------------------
@pytest.mark.parametrize("table", ("resistance [MOhm]\n250\n", "time [s],resistance [MOhm]\n60,250\n"))
def test_a_record_of_one_row_is_whole(table: str) -> None:
    record = read("insulation-resistance", table, "winding_temperature = 25 degC")
    assert record.readings.resistance.tolist() == [250e6]
    assert len(record.readings) == 1
    assert np.isnan(record.readings.time[0]) == ("time" not in table)


# ---- the voltage ------------------------------------------------------------------------------------------
def test_one_voltage_held_may_stand_in_the_header_and_is_marked() -> None:
    record = read("polarization-index", "time [s],current [uA]\n60,10\n600,4\n", "test_voltage = 5 kV")
    assert record.readings.voltage.tolist() == [5000.0, 5000.0]
    assert record.readings.voltage_assumed
    assert "voltage_assumed" in codes(record)
    assert record.readings.resistance.tolist() == pytest.approx([5e8, 1.25e9])


def test_a_voltage_that_was_read_is_not_marked() -> None:
    table = "time [s],voltage [V],current [uA]\n60,5001,10\n600,5000,4\n"
    record = read("polarization-index", table, "test_voltage = 5 kV")
    assert record.readings.voltage.tolist() == [5001.0, 5000.0]
    assert not record.readings.voltage_assumed
    assert "voltage_assumed" not in codes(record)


def test_with_resistance_and_no_current_the_current_follows_and_is_marked() -> None:
    record = read(
        "polarization-index", "time [s],resistance [MOhm]\n60,500\n600,1250\n", "test_voltage = 5 kV"
    )
    assert record.readings.current_derived
    assert "current_derived" in codes(record)
    assert record.readings.current.tolist() == pytest.approx([1e-5, 4e-6])
    assert record.readings.resistance_given


@pytest.mark.parametrize("keys", ((), ("test_voltage = 5 kV",), ("ramp_rate = 1 kV/min",)))
def test_a_ramp_without_voltages_is_an_error(keys: tuple[str, ...]) -> None:
    text = (
        f"{TOP}# method = ramp\n"
        + "".join(f"# {key}\n" for key in keys)
        + "time [s],current [uA]\n60,1\n120,2\n"
    )
    fault = only_fault(text)
    assert fault.field == "voltage"
    assert "ramp" in fault.problem


def test_the_rate_of_a_ramp_is_kept_as_a_statement() -> None:
    table = "time [s],voltage [V],current [uA]\n0,0,0\n60,900,1\n120,1800,2\n"
    record = read("ramp", table, "ramp_rate = 1 kV/min")
    assert record.test.ramp_rate == pytest.approx(1000 / 60)
    assert record.readings.voltage.tolist() == [0.0, 900.0, 1800.0], "what was read stays as it was read"


# ---- steps ------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("time", "volts"),
    ((1.0, 1e3), (59.9, 1e3), (60.0, 1e3), (60.1, 2e3), (180.0, 2e3), (180.1, 3e3), (500.0, 3e3)),
)
def test_a_step_record_without_voltages_takes_its_steps(time: float, volts: float) -> None:
    # A row at an edge belongs to the level before: end-of-hold rows are read as the voltage is raised.
    record = read_one(f"{TOP}# method = step-voltage\n{STEPS}time [s],current [uA]\n{time},1\n")
    assert record.readings.voltage.tolist() == [volts]
    assert record.readings.voltage_assumed


def test_a_step_record_without_voltages_or_steps_is_an_error() -> None:
    fault = only_fault(
        f"{TOP}# method = step-voltage\n# test_voltage = 5 kV\ntime [s],current [uA]\n60,1\n120,2\n"
    )
    assert fault.field == "voltage"
    assert "steps" in fault.allowed
    assert "at =" in fault.remedy


def test_steps_are_kept_as_stated() -> None:
    record = read_one(f"{TOP}# method = step-voltage\n{STEPS}time [s],current [uA]\n60,1\n180,2\n240,3\n")
    assert record.test.steps == (Step(0.0, 1000.0), Step(60.0, 2000.0), Step(180.0, 3000.0))


@given(st.integers(1, 20), st.integers(5, 600))
def test_a_hold_is_only_for_rows_without_times(count: int, hold: int) -> None:
    rows = "".join(f"{1000 * (k + 1)},1\n" for k in range(count))
    keys = f"# method = step-voltage\n# hold = {hold} s\n"
    without = read_one(f"{TOP}{keys}voltage [V],current [uA]\n{rows}")
    expected = [hold * (k + 1.0) for k in range(count)]
    if count > 1:
        assert without.readings.time.tolist() == expected
        assert "times_from_hold" in codes(without)
    timed = "".join(f"{7 * (k + 1)},{1000 * (k + 1)},1\n" for k in range(count))
    with_times = read_one(f"{TOP}{keys}time [s],voltage [V],current [uA]\n{timed}")
    assert with_times.readings.time.tolist() == [7.0 * (k + 1) for k in range(count)]
    assert "times_from_hold" not in codes(with_times)


# ---- discharge --------------------------------------------------------------------------------------------
DISCHARGE = "time [s],voltage [V],current [uA]\n60,500,2\n1800,500,1\n1830,0,-0.2\n1860,0,-0.1\n"


def test_after_the_discharge_began_no_resistance_is_formed() -> None:
    record = read("dielectric-discharge", DISCHARGE, "discharge_started = 1800 s")
    assert record.readings.resistance[:2].tolist() == pytest.approx([2.5e8, 5e8])
    assert np.isnan(record.readings.resistance[2:]).all()
    assert record.readings.current.tolist() == pytest.approx([2e-6, 1e-6, -2e-7, -1e-7])


def test_an_assumed_voltage_is_off_after_the_discharge_began() -> None:
    table = "time [s],current [uA]\n60,2\n1800,1\n1830,-0.2\n"
    record = read("dielectric-discharge", table, "discharge_started = 30 min", "test_voltage = 500 V")
    assert record.readings.voltage.tolist() == [500.0, 500.0, 0.0]


@pytest.mark.parametrize("current", ("0", "-0.5", "0.0", "-1e-9"))
def test_a_current_at_or_below_nought_forms_no_resistance_and_is_kept(current: str) -> None:
    table = f"time [s],voltage [V],current [uA]\n30,500,2\n60,500,{current}\n600,500,1\n"
    record = read("polarization-index", table)
    assert record.readings.current[1] == pytest.approx(float(current) * 1e-6)
    assert math.isnan(record.readings.resistance[1])
    assert record.readings.bound[1] == 0


# ---- how it ended -----------------------------------------------------------------------------------------
@pytest.mark.parametrize("word", ("complete", "stopped", "tripped", "breakdown", "flashover"))
def test_how_a_test_ended(word: str) -> None:
    record = read(
        "step-voltage",
        "time [s],voltage [V],current [uA]\n60,1000,1\n120,2000,2\n",
        f"ended = {word}",
        "ended_at = 130 s",
        "ended_voltage = 2.4 kV",
    )
    assert (record.test.ended, record.test.ended_at, record.test.ended_voltage) == (word, 130.0, 2400.0)


def test_not_said_means_complete() -> None:
    record = read("step-voltage", "time [s],voltage [V],current [uA]\n60,1000,1\n120,2000,2\n")
    assert record.test.ended in (None, "complete")


# ---- empty cells ------------------------------------------------------------------------------------------
@pytest.mark.parametrize("column", (1, 2))
def test_an_empty_cell_is_no_reading(column: int) -> None:
    rows = [["30", "500", "2"], ["60", "500", "1"], ["600", "500", "0.5"]]
    rows[1][column] = ""
    table = "time [s],voltage [V],current [uA]\n" + "\n".join(map(",".join, rows)) + "\n"
    record = read("polarization-index", table)
    assert np.isnan(record.readings.resistance).tolist() == [False, True, False]
    assert len(record.readings) == 3, "the row keeps its place"


@given(st.sets(st.integers(0, 5), max_size=5))
def test_any_empty_currents_cost_their_own_rows_only(empty: set[int]) -> None:
    rows = [f"{30 * (k + 1)},500,{'' if k in empty else k + 1}" for k in range(6)]
    record = read("polarization-index", "time [s],voltage [V],current [uA]\n" + "\n".join(rows) + "\n")
    assert set(np.flatnonzero(np.isnan(record.readings.resistance)).tolist()) == empty


# ---- schedules --------------------------------------------------------------------------------------------
@pytest.mark.parametrize("pair", ("L-PE", "N-PE", "L-N", "L1-L2", "L2-L3", "L1-PE"))
def test_a_row_of_a_schedule_is_a_record(pair: str) -> None:
    text = f"{SCHEDULE}circuit,between,voltage [V],resistance [MOhm],note\nKitchen,{pair},500,120,ok\n"
    (record,) = read_all(text)
    assert (record.asset.circuit, record.asset.between) == ("Kitchen", pair)
    assert record.readings.voltage.tolist() == [500.0]
    assert record.readings.resistance.tolist() == [120e6]
    assert np.isnan(record.readings.time[0]), "no time mark"
    assert record.paper.notes == "ok"
    assert record.origin.row == 6


@given(
    st.lists(st.tuples(st.sampled_from(("A", "B", "C 3")), st.floats(0.01, 999.0)), min_size=1, max_size=9)
)
def test_a_schedule_has_as_many_records_as_rows(rows: list[tuple[str, float]]) -> None:
    body = "".join(f"{name},L-PE,500,{megohms:.6g}\n" for name, megohms in rows)
    records = read_all(f"{SCHEDULE}circuit,between,voltage [V],resistance [MOhm]\n{body}")
    assert [record.asset.circuit for record in records] == [name for name, _ in rows]
    assert [record.readings.resistance[0] for record in records] == pytest.approx(
        [m * 1e6 for _, m in rows], rel=1e-5
    )
    assert len({record.origin.sha256 for record in records}) == 1
    assert [record.origin.row for record in records] == list(range(6, 6 + len(rows)))


@pytest.mark.parametrize(
    ("cell", "ohms", "bound"),
    (
        ("> 500", 5e8, 1),
        (">999", 9.99e8, 1),
        ("0.00", 1e4, -1),
        ("< 0.05", 5e4, -1),
        ("0", 1e6, -1),
        ("1.0", 1e6, 0),
    ),
)
def test_bounds_in_a_schedule(cell: str, ohms: float, bound: int) -> None:
    text = f"{SCHEDULE}circuit,between,voltage [V],resistance [MOhm]\nKitchen,L-PE,500,{cell}\n"
    (record,) = read_all(text)
    assert record.readings.resistance[0] == pytest.approx(ohms)
    assert record.readings.bound[0] == bound


@pytest.mark.parametrize(
    ("row", "field", "problem"),
    (
        (",L-PE,500,120", "circuit", "names no circuit"),
        ("Kitchen,L-PE,500,-1", "resistance", "negative"),
        ("Kitchen,L-PE,500,wet", "resistance", ""),
        ("Kitchen,L-PE,> 500,120", "voltage", "bound"),
    ),
)
def test_a_bad_row_of_a_schedule_names_its_line(row: str, field: str, problem: str) -> None:
    good = "Hall,L-PE,500,99\n"
    text = f"{SCHEDULE}circuit,between,voltage [V],resistance [MOhm]\n{good}{row}\n{good}"
    (fault,) = faults_of(text)
    assert (fault.row, fault.field) == (7, field)
    assert problem in fault.problem


@pytest.mark.parametrize("key", ("class = cable", "method = cable-core"))
def test_a_schedule_under_another_class_or_method_is_refused(key: str) -> None:
    name = key.split(" ", maxsplit=1)[0]
    lines = [line for line in SCHEDULE.splitlines() if f"# {name} =" not in line]
    text = "\n".join([*lines, f"# {key}"]) + "\ncircuit,between,voltage [V],resistance [MOhm]\nA,L-PE,500,1\n"
    assert any(fault.field == name for fault in faults_of(text))


# ---- reading and writing round-trip -----------------------------------------------------------------------
RECORDS = (
    (
        f"{TOP}# method = step-voltage\n{STEPS}time [s],current [uA]\n60,1\n180,2\n240,3\n",
        "steps without voltages",
    ),
    (f"{TOP}# method = dielectric-discharge\n# discharge_started = 1800 s\n{DISCHARGE}", "discharge"),
    (f"{TOP}# method = insulation-resistance\nresistance\n> 10 TOhm\n", "one bound"),
    (f"{TOP}# method = insulation-resistance\nresistance [MOhm]\n0.00\n", "shorted"),
    (
        f"{TOP}# method = polarization-index\n# test_voltage = 5 kV\ntime,resistance [GOhm]\n1:00,1\n10:00,4\n",
        "colons",
    ),
    (
        f'{TOP}# method = ramp\n# notes = "ü, \\"x\\"; y"\ntime [s],voltage [V],current [uA]\n1,9,1\n2,18,2\n',
        "ramp",
    ),
)


@pytest.mark.parametrize(("text", "what"), RECORDS, ids=[what for _, what in RECORDS])
@pytest.mark.parametrize(("delimiter", "comma"), ((",", False), (";", False), (";", True), ("\t", True)))
def test_a_record_is_written_and_read_to_the_same(
    text: str, what: str, delimiter: str, *, comma: bool
) -> None:
    first = read_one(text)
    written = record_text(first, delimiter=delimiter, decimal_comma=comma)
    second = read_one(written)
    assert second.readings == first.readings, what
    assert second.stated() == first.stated()
    again = read_one(record_text(second, delimiter=delimiter, decimal_comma=comma))
    assert without_origin(again) == without_origin(second)
