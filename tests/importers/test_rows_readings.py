"""What a table becomes: bounds, signs, what may be missing, what follows from what."""

from __future__ import annotations

import time

import numpy as np
import pytest

from importing import MINIMAL, TABLE, codes, faults_of, only_fault, read_one
from soakage.importers.base import Notes
from soakage.importers.cells import _careful_cells, plain_cells
from soakage.importers.columns import read_columns
from soakage.importers.layout import take_apart
from soakage.model.readings import LOWER, UPPER, VALUE, Readings

AT_5_KV = "# test_voltage = 5 kV\n"


def readings(
    rows: str, *, columns: str = "time [s],voltage [V],resistance [MOhm]", header: str = ""
) -> Readings:
    return read_one(f"{MINIMAL}{header}{columns}\n{rows}\n").readings


def test_plain_rows() -> None:
    got = read_one(MINIMAL + TABLE).readings
    assert got.time.tolist() == [15, 30, 60, 600]
    assert got.voltage.tolist() == [5003, 5002, 5001, 5001]
    assert got.current.tolist() == [31.8e-6, 22.1e-6, 14.9e-6, 4.1e-6]
    np.testing.assert_array_equal(got.resistance, got.voltage / got.current)
    assert got.bound.tolist() == [VALUE] * 4
    assert (got.voltage_assumed, got.current_derived, got.resistance_given) == (False, False, False)


@pytest.mark.parametrize(
    ("cell", "value", "bound"),
    (
        ("> 10 TΩ", 10e12, LOWER),
        (">10000000", 10e12, LOWER),
        ("≥ 2 GOhm", 2e9, LOWER),
        ("< 0.1 MΩ", 0.1e6, UPPER),
        ("< 0.1", 0.1e6, UPPER),
        ("0.00", 0.01e6, UPPER),
        ("0.0 MΩ", 0.1e6, UPPER),
        ("0", 1e6, UPPER),
        ("0 kOhm", 1e3, UPPER),
        ("2.5 GΩ", 2.5e9, VALUE),
        ("312.5", 312.5e6, VALUE),
        ("1e3", 1e9, VALUE),
    ),
)
def test_bounds_and_zeros_of_a_resistance(cell: str, value: float, bound: int) -> None:
    got = readings(f"60,5000,{cell}")
    assert got.resistance[0] == value
    assert got.bound[0] == bound
    assert got.resistance_given


@pytest.mark.parametrize(
    ("cell", "resistance", "bound"),
    (("< 0.01", 5000 / 0.01e-6, LOWER), ("> 5 mA", 5000 / 5e-3, UPPER), ("2", 5000 / 2e-6, VALUE)),
)
def test_bound_on_the_current_is_the_opposite_on_the_resistance(
    cell: str, resistance: float, bound: int
) -> None:
    got = readings(f"60,5000,{cell}", columns="time [s],voltage [V],current [uA]")
    assert got.resistance[0] == pytest.approx(resistance, rel=1e-15)
    assert got.bound[0] == bound


@pytest.mark.parametrize("cell", ("0", "0.00", "-3.1", "-3.1 nA"))
def test_current_at_or_below_zero_is_kept_and_forms_nothing(cell: str) -> None:
    got = readings(f"15,5000,2\n60,5000,{cell}", columns="time [s],voltage [V],current [uA]")
    assert got.current[1] <= 0
    assert np.isnan(got.resistance[1])
    assert got.resistance[0] == 5000 / 2e-6


def test_both_signs_reversed_is_a_test_of_negative_polarity() -> None:
    got = readings("60,-5000,-2", columns="time [s],voltage [V],current [uA]")
    assert got.resistance[0] == 2.5e9


def test_no_voltage_no_resistance() -> None:
    got = readings("0,0,0\n15,5000,2", columns="time [s],voltage [V],current [uA]")
    assert np.isnan(got.resistance[0])


def test_over_range_without_its_range_is_a_fault_and_with_it_a_bound() -> None:
    fault = only_fault(f"{MINIMAL}time [s],voltage [V],resistance [MOhm]\n60,5000,OL\n")
    assert fault.row == 5
    assert fault.field == "resistance"
    assert ">" in fault.remedy
    accuracy = '# accuracy = [{range = "1 GOhm"}, {range = "10 TOhm", reading = "5 %"}]\n'
    got = readings("60,5000,OL", header=accuracy)
    assert (got.resistance[0], got.bound[0]) == (10e12, LOWER)


def test_over_range_of_the_current_by_its_limit() -> None:
    got = readings(
        "60,5000,OL", columns="time [s],voltage [V],current [uA]", header="# current_limit = 5 mA\n"
    )
    assert (got.resistance[0], got.bound[0]) == (1e6, UPPER)


@pytest.mark.parametrize("cell", ("nan", "NaN", "inf", "-inf", "Infinity", "#DIV/0!", "#N/A"))
def test_no_figures(cell: str) -> None:
    for columns in ("time [s],voltage [V],current [uA]", "time [s],voltage [V],resistance [MOhm]"):
        fault = only_fault(f"{MINIMAL}{columns}\n15,5000,1\n60,5000,{cell}\n")
        assert fault.row == 6
        assert fault.given == cell
        assert "empty" in fault.remedy


@pytest.mark.parametrize(
    ("cell", "word"),
    (
        ("-300", "negative"),
        ("-2.5 GOhm", "negative"),
        ("abc", "figure"),
        ("300 V", "measures voltage"),
        ("300 furlongs", "furlongs"),
        ("1.2.3", "1.2.3"),
        ("3 0 0", "3 0 0"),
    ),
)
def test_bad_resistances(cell: str, word: str) -> None:
    fault = only_fault(f"{MINIMAL}time [s],voltage [V],resistance [MOhm]\n15,5000,200\n60,5000,{cell}\n")
    assert (fault.row, fault.field) == (6, "resistance")
    assert word in str(fault)


def test_column_without_a_unit_needs_it_in_every_cell() -> None:
    got = readings("15,5 kV,31.8 uA\n60,5 kV,14.9 uA", columns="time,voltage,current")
    assert got.time.tolist() == [15, 60]
    assert got.voltage.tolist() == [5000, 5000]
    faults = faults_of(f"{MINIMAL}time,voltage,current\n15,5 kV,31.8\n60,5000,14.9 uA\n")
    assert [(fault.row, fault.field) for fault in faults] == [(5, "current"), (6, "voltage")]
    assert all("Unit missing" in fault.problem for fault in faults)


@pytest.mark.parametrize(
    ("columns", "cells"),
    (
        ("time", ("15", "1:00", "10:00", "1:00:00")),
        ("time [s]", ("0:15", "60", "600 s", "1 h")),
        ("time [min]", ("0.25", "1", "10", "60")),
        ("t [h]", ("15 s", "1 min", "0:10:00", "1")),
    ),
)
def test_times(columns: str, cells: tuple[str, ...]) -> None:
    rows = "\n".join(f"{cell},5000,{30 - place}" for place, cell in enumerate(cells))
    assert readings(rows, columns=f"{columns},voltage [V],current [uA]").time.tolist() == [15, 60, 600, 3600]


def test_duplicated_and_reversed_times_name_their_rows() -> None:
    faults = faults_of(MINIMAL + TABLE + "600,5001,4\n300,5001,5\n900,5001,4\n")
    assert [(fault.row, fault.field) for fault in faults] == [(9, "time"), (10, "time")]
    assert "twice" in faults[0].problem
    assert "line 8" in faults[0].given
    assert "backwards" in faults[1].problem


def test_times_are_checked_even_where_a_cell_is_bad() -> None:
    faults = faults_of(f"{MINIMAL}time [s],voltage [V],current [uA]\n15,5000,x\n15,5000,2\n")
    assert [fault.field for fault in faults] == ["current", "time"]


def test_time_before_the_voltage() -> None:
    assert (
        "before the voltage" in only_fault(f"{MINIMAL}time [s],voltage [V],current [uA]\n-5,5000,2\n").problem
    )


def test_row_without_a_time_among_others() -> None:
    fault = only_fault(f"{MINIMAL}time [s],voltage [V],current [uA]\n15,5000,2\n,5000,1\n")
    assert (fault.row, fault.field) == (6, "time")


def test_several_rows_and_no_times() -> None:
    fault = only_fault(f"{MINIMAL}voltage [V],current [uA]\n5000,2\n5000,1\n")
    assert fault.field == "time"
    assert "hold" in fault.remedy


def test_bounds_stand_for_no_time_and_no_voltage() -> None:
    faults = faults_of(f"{MINIMAL}time [s],voltage [V],current [uA]\n> 15,5000,2\n60,< 5000,2\n")
    assert [fault.field for fault in faults] == ["time", "voltage"]


def test_empty_is_no_reading() -> None:
    got = readings(
        "15,5000,2\n30,5000,\n60,5000,-\n90,5000,n/a\n", columns="time [s],voltage [V],current [uA]"
    )
    assert np.isnan(got.current).tolist() == [False, True, True, True]
    assert np.isnan(got.resistance).tolist() == [False, True, True, True]


def test_a_sheet_that_waits_for_its_readings() -> None:
    fault = only_fault(f"{MINIMAL}time [s],voltage [V],current [uA]\n15,,\n30,,\n60,,\n")
    assert "no readings yet" in fault.problem
    assert "Fill in" in fault.remedy
    assert "no readings yet" in only_fault(f"{MINIMAL}time [s],voltage [V],current [uA]\n").problem


def test_columns_that_give_nothing_to_judge() -> None:
    fault = only_fault(f"{MINIMAL}time [s],voltage [V],temperature [degC]\n15,5000,20\n")
    assert fault.field == "columns"
    assert "temperature [degC]" in fault.given
    assert "current [uA]" in fault.allowed


def test_voltage_column_missing_test_voltage_stands_in_and_is_marked() -> None:
    record = read_one(f"{MINIMAL}{AT_5_KV}time [s],current [uA]\n15,2\n60,1\n")
    assert record.readings.voltage.tolist() == [5000, 5000]
    assert record.readings.voltage_assumed
    assert record.readings.resistance.tolist() == [2.5e9, 5e9]
    assert codes(record) == ["voltage_assumed"]
    empty = read_one(f"{MINIMAL}{AT_5_KV}time [s],voltage [V],current [uA]\n15,,2\n60,,1\n")
    assert empty.readings == record.readings


def test_no_voltage_at_all() -> None:
    record = read_one(f"{MINIMAL}time [s],current [uA]\n15,2\n")
    assert np.isnan(record.readings.voltage).all()
    assert np.isnan(record.readings.resistance).all()
    assert codes(record) == ["voltage_not_stated"]


def test_one_row_record_is_whole() -> None:
    for table in (
        "resistance\n312 MOhm\n",
        "resistance [MOhm]\n312\n",
        "time [s],resistance [GOhm]\n,0.312\n",
    ):
        record = read_one(MINIMAL + "# winding_temperature = 20 degC\n" + table)
        assert record.readings.resistance.tolist() == [312e6]
        assert np.isnan(record.readings.time).all()
        assert np.isnan(record.readings.current).all()
        assert not record.readings.current_derived


def test_resistance_without_current() -> None:
    record = read_one(f"{MINIMAL}time [s],voltage [V],resistance [MOhm]\n15,5000,250\n60,5000,> 500\n")
    assert record.readings.current.tolist() == [5000 / 250e6, 5000 / 500e6]
    assert record.readings.bound.tolist() == [VALUE, LOWER]
    assert record.readings.current_derived
    assert record.readings.resistance_given
    assert codes(record) == ["current_derived"]


def test_resistance_and_current_that_agree() -> None:
    record = read_one(
        f"{MINIMAL}time [s],voltage [V],current [uA],resistance [GOhm]\n15,5000,2,2.6\n60,5000,1,5\n"
    )
    assert codes(record) == []
    assert record.readings.resistance.tolist() == [2.6e9, 5e9]
    assert record.readings.current.tolist() == [2e-6, 1e-6]


def test_resistance_and_current_that_disagree() -> None:
    record = read_one(
        f"{MINIMAL}time [s],voltage [V],current [uA],resistance [GOhm]\n15,5000,2,2.7\n60,5000,1,5\n"
    )
    assert codes(record) == ["resistance_current_disagree"]
    assert "1 of 2" in record.findings[0].sentence
    assert "line 5" in record.findings[0].sentence


def test_a_missing_resistance_follows_from_its_current() -> None:
    table = "time [s],voltage [V],current [uA],resistance [GOhm]\n15,5000,2,\n60,5000,< 0.1,\n90,5000,,5\n"
    got = read_one(MINIMAL + table).readings
    assert got.resistance.tolist() == [2.5e9, 5000 / 0.1e-6, 5e9]
    assert got.bound.tolist() == [VALUE, LOWER, VALUE]
    assert np.isnan(got.current[2])


def test_after_the_discharge_began_no_resistance_is_formed() -> None:
    header = MINIMAL.replace("polarization-index", "dielectric-discharge") + "# discharge_started = 1800 s\n"
    table = "time [s],voltage [V],current [uA]\n60,500,5\n1800,500,1\n1810,0,-9\n1860,0,-0.4\n1870,1,1\n"
    got = read_one(header + table).readings
    assert np.isnan(got.resistance).tolist() == [False, False, True, True, True]
    assert got.current.tolist() == [5e-6, 1e-6, -9e-6, -0.4e-6, 1e-6]


def test_assumed_voltage_ends_where_the_discharge_begins() -> None:
    header = MINIMAL + "# discharge_started = 1800 s\n# test_voltage = 500 V\n"
    got = read_one(header + "time [s],current [uA]\n60,5\n1800,1\n1860,-0.4\n").readings
    assert got.voltage.tolist() == [500, 500, 0]


def test_resistances_given_after_the_discharge_began_are_left_out_and_said() -> None:
    record = read_one(
        MINIMAL
        + "# discharge_started = 60 s\ntime [s],voltage [V],resistance [MOhm]\n60,500,100\n120,0,0.00\n"
    )
    assert codes(record) == ["resistance_after_discharge", "current_derived"]
    assert np.isnan(record.readings.resistance[1])
    assert record.readings.bound.tolist() == [VALUE, VALUE]


def test_ramp_needs_its_voltages() -> None:
    header = MINIMAL.replace("polarization-index", "ramp") + "# ramp_rate = 1 kV/min\n" + AT_5_KV
    fault = only_fault(header + "time [s],current [uA]\n60,2\n120,3\n")
    assert fault.field == "voltage"


def test_step_test_without_a_voltage_column() -> None:
    header = MINIMAL.replace("polarization-index", "step-voltage") + AT_5_KV
    fault = only_fault(header + "time [s],current [uA]\n60,2\n120,3\n")
    assert "steps" in fault.allowed
    steps = '# steps = [{at = "0 s", voltage = "1 kV"}, {at = "60 s", voltage = "2 kV"}]\n'
    record = read_one(header + steps + "time [s],current [uA]\n0,9\n30,3\n60,2\n61,6\n120,4\n")
    assert record.readings.voltage.tolist() == [1000, 1000, 1000, 2000, 2000]
    assert record.readings.voltage_assumed
    assert codes(record) == ["voltage_assumed"]


def test_hold_is_for_rows_without_times() -> None:
    header = MINIMAL.replace("polarization-index", "step-voltage") + "# hold = 60 s\n"
    record = read_one(header + "voltage [kV],current [uA]\n1,1\n2,2\n3,3\n")
    assert record.readings.time.tolist() == [60, 120, 180]
    assert codes(record) == ["times_from_hold"]
    timed = read_one(header + "time [s],voltage [kV],current [uA]\n50,1,1\n130,2,2\n")
    assert timed.readings.time.tolist() == [50, 130]
    assert codes(timed) == []


@pytest.mark.parametrize("unit", ("uA", "nA", "A", "mA"))
def test_the_fast_and_the_careful_way_agree_to_the_last_bit(unit: str) -> None:
    rng = np.random.default_rng(7)
    rows = "".join(f"{t},{5000 + rng.normal():.3f},{rng.lognormal():.6g}\n" for t in range(1, 301))
    table = take_apart(f"{MINIMAL}time [s],voltage [V],current [{unit}]\n{rows}", Notes("x")).table
    assert table is not None
    columns = read_columns(table.headings, table.row, Notes("x"))
    fast, careful = plain_cells(table, columns), _careful_cells(table, columns, Notes("x"), {})
    assert fast is not None
    assert list(fast.lines) == list(careful.lines)
    for name in columns:
        np.testing.assert_array_equal(fast.value(name), careful.value(name))


@pytest.mark.parametrize(
    "row",
    (
        "60,5000,1_0",
        "60,5000,٣",
        "60,5000,nan",
        "60,5000,",
        '60,5000,"1"',
        "60,5000",
        "-1,5000,1",
        "60,5 kV,1",
        "60,5000,1e-6",
    ),
)
def test_anything_unusual_is_left_to_the_careful_way(row: str) -> None:
    table = take_apart(f"{MINIMAL}time [s],voltage [V],current [uA]\n15,5000,2\n{row}\n", Notes("x")).table
    assert table is not None
    assert plain_cells(table, read_columns(table.headings, table.row, Notes("x"))) is None


def test_six_hundred_rows_are_read_in_a_few_milliseconds() -> None:
    rows = "".join(f"{t},5001,{31.8 / t**0.5:.4f}\n" for t in range(1, 601))
    data = f"{MINIMAL}time [s],voltage [V],current [uA]\n{rows}".encode()
    best = float("inf")
    for _ in range(5):
        start = time.perf_counter()
        read_one(data)
        best = min(best, time.perf_counter() - start)
    assert best < 0.01  # 0.7 ms on a free core
