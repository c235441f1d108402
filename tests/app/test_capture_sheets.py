"""A sheet that was filled in is a record file: what it says is what was written, and the reader takes it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest

from sheets import CABLE, MOTOR, PANEL, Hand
from soakage.app.capture_sheets import Written, sheets_of, written
from soakage.errors import UsageError
from soakage.importers.reading import read_bytes
from soakage.importers.write_record import schedule_text
from soakage.model.keys import KEYS
from soakage.model.record import Record
from soakage.units import parse

STARTED = datetime(2026, 11, 25, 9, 20, tzinfo=timezone(timedelta(hours=1)))
HEADER = {
    "tested_by": "N. Invented", "winding_temperature": "27,5 degC", "relative_humidity": "55 %", "surface": "dry",
    "instrument": "Meter 4", "instrument_serial": "M4-0031", "calibration_due": "2027-03-01",
}  # fmt: skip


def record_of(made: Written) -> Record:
    (record,) = read_bytes(schedule_text(made.values, made.rows, made.columns).encode(), "sheet.csv")
    return record


def filled(hand: Hand, readings: dict[float, str], sheet: int = 0, **begin: Any) -> Hand:
    hand.begin(sheet, **begin)
    for time, text in readings.items():
        hand.read(time, text, sheet)
    hand.do("ended", sheet, how="complete", voltage="")
    return hand


TEN_MINUTES = {
    15.0: "378 MΩ",
    30.0: "641 MΩ",
    60.0: "1.08 GΩ",
    190.0: "2.2 GΩ",
    300.0: "3,1 GΩ",
    600.0: "> 4 GΩ",
}


def test_a_sheet_becomes_the_record_that_was_read() -> None:
    hand = filled(Hand(), TEN_MINUTES)
    record = record_of(written(hand.stands[0], HEADER, STARTED))
    assert record.readings.time.tolist() == list(TEN_MINUTES)
    assert record.readings.resistance.tolist() == [
        parse(text, "resistance").value for text in TEN_MINUTES.values()
    ]
    assert record.readings.bound.tolist() == [0, 0, 0, 0, 0, 1]
    assert record.readings.resistance_given
    assert record.test.method == "polarization-index"
    assert record.test.test_voltage == 5000.0
    assert record.test.started == STARTED
    assert record.test.tested == ("U",)
    assert record.test.earthed == ("V", "W", "frame")
    assert record.test.ended == "complete"
    assert record.test.ended_at == pytest.approx(601.0)
    assert record.test.voltage_found is not None
    assert (record.test.voltage_found.dc, record.test.voltage_found.ac) == (3.0, 0.0)
    assert record.conditions.winding_temperature == pytest.approx(300.65)
    assert record.conditions.relative_humidity == pytest.approx(0.55)
    assert record.paper.tested_by == "N. Invented"
    assert record.instrument.serial == "M4-0031"
    assert record.asset == MOTOR


def test_the_header_stands_in_the_order_of_the_keys_and_holds_nothing_empty() -> None:
    made = written(filled(Hand(), TEN_MINUTES).stands[0], HEADER, STARTED)
    order = list(KEYS)
    assert sorted(made.values, key=order.index) == list(made.values)
    assert all(value not in ("", [], {}) for value in made.values.values())


def test_a_visit_of_three_sections_is_three_records_of_one_asset() -> None:
    hand = Hand()
    for place in range(3):
        filled(hand, TEN_MINUTES, place)
    records = [record_of(written(stand, HEADER, STARTED)) for stand in hand.stands]
    assert [record.test.tested for record in records] == [("U",), ("V",), ("W",)]
    assert {record.asset.name for record in records} == {MOTOR.name}
    assert {record.day for record in records} == {STARTED.date()}


def test_currents_and_resistances_may_stand_in_one_sheet() -> None:
    hand = filled(Hand(), {15.0: "13.2 uA", 30.0: "641 MΩ", 60.0: "4.63 µA"})
    made = written(hand.stands[0], HEADER, STARTED)
    assert made.columns == ("time [s]", "current [A]", "resistance [Ohm]")
    record = record_of(made)
    assert record.readings.current[0] == pytest.approx(13.2e-6)
    assert record.readings.resistance[1] == pytest.approx(641e6)
    assert record.readings.resistance[2] == pytest.approx(5000 / 4.63e-6)


def test_what_was_applied_is_what_the_record_states() -> None:
    hand = filled(Hand(), {60.0: "1 GΩ"}, apply="2.5 kV")
    assert record_of(written(hand.stands[0], {}, STARTED)).test.test_voltage == 2500.0


def test_steps_are_written_with_the_level_of_each() -> None:
    hand = Hand(methods=("step-voltage",))
    place = next(k for k, sheet in enumerate(hand.sheets) if sheet.method == "step-voltage")
    hand.ticks = {text: {"at": 0, "person": "N. Invented"} for text in hand.sheets[place].conditions}
    readings = {60.0: "3.1 GΩ", 120.0: "3.4 GΩ", 180.0: "3.6 GΩ", 240.0: "3.5 GΩ", 300.0: "3.3 GΩ"}
    filled(hand, readings, place, apply="")
    record = record_of(written(hand.stands[place], HEADER, STARTED))
    levels = [mark.voltage for mark in hand.sheets[place].marks]
    assert record.readings.voltage.tolist() == pytest.approx(levels)
    assert [step.voltage for step in record.test.steps] == pytest.approx(levels)
    assert [step.at for step in record.test.steps] == [0.0, 60.0, 120.0, 180.0, 240.0]


def test_a_discharge_runs_on_at_no_voltage() -> None:
    hand = filled(Hand(methods=("dielectric-discharge",)), {60.0: "1 GΩ", 600.0: "4 GΩ", 1860.0: "12 nA"})
    record = record_of(written(hand.stands[0], HEADER, STARTED))
    assert record.test.discharge_started == 1800.0
    assert record.readings.voltage.tolist() == [5000.0, 5000.0, 0.0]
    assert record.readings.current[2] == pytest.approx(12e-9)


def test_a_discharge_that_was_broken_off_states_no_short_circuit() -> None:
    hand = filled(Hand(methods=("dielectric-discharge",)), {60.0: "1 GΩ", 600.0: "4 GΩ"})
    assert record_of(written(hand.stands[0], HEADER, STARTED)).test.discharge_started is None


def test_a_ramp_is_written_with_its_voltages() -> None:
    hand = Hand(methods=("ramp",))
    place = next(k for k, sheet in enumerate(hand.sheets) if sheet.method == "ramp")
    hand.ticks = {text: {"at": 0, "person": "N. Invented"} for text in hand.sheets[place].conditions}
    marks = hand.sheets[place].marks
    filled(hand, {mark.time: f"{1.5 + k / 10} uA" for k, mark in enumerate(marks)}, place, apply="")
    record = record_of(written(hand.stands[place], HEADER, STARTED))
    assert record.readings.voltage.tolist() == pytest.approx([mark.voltage for mark in marks])
    assert record.test.ramp_rate == pytest.approx(1000 / 60)


@pytest.mark.parametrize("how", ("tripped", "breakdown", "flashover"))
def test_how_it_ended_is_stated_with_time_and_voltage(how: str) -> None:
    hand = Hand()
    hand.begin()
    hand.read(60, "1 GΩ")
    hand.at(97)
    hand.do("ended", how=how, voltage="4.4 kV")
    test = record_of(written(hand.stands[0], HEADER, STARTED)).test
    assert (test.ended, test.ended_at, test.ended_voltage) == (how, 97.0, 4400.0)


def test_a_circuit_is_one_row_of_a_schedule() -> None:
    hand = Hand(PANEL)
    hand.begin(0, apply="500 V")
    hand.at(20)
    hand.do("reading", 0, mark=None, time=None, text="> 200 MΩ")
    hand.do("ended", 0, how="complete", voltage="")
    made = written(hand.stands[0], {"tested_by": "N. Invented"}, STARTED)
    assert made.columns == ("circuit", "between", "voltage [V]", "resistance [Ohm]")
    record = record_of(made)
    assert record.asset.circuit == "C1"
    assert record.asset.between == "L-PE"
    assert record.readings.bound.tolist() == [1]
    assert record.readings.resistance.tolist() == [200e6]


def test_a_cable_takes_its_temperature_under_its_own_name() -> None:
    hand = filled(Hand(CABLE), {60.0: "12 GΩ"})
    record = record_of(written(hand.stands[0], {"insulation_temperature": "15 degC"}, STARTED))
    assert record.conditions.winding_temperature == pytest.approx(288.15)


def test_zero_is_a_bound_and_no_division() -> None:
    record = record_of(written(filled(Hand(), {60.0: "0.00 MΩ"}).stands[0], {}, STARTED))
    assert record.readings.bound.tolist() == [-1]
    assert record.readings.resistance.tolist() == [1e4]


def test_a_sheet_without_readings_is_no_record() -> None:
    hand = Hand()
    hand.begin()
    with pytest.raises(UsageError, match="no readings yet"):
        written(hand.stands[0], HEADER, STARTED)


@pytest.mark.parametrize(
    ("chosen", "titles"), (((), ["U", "V", "W"]), ((1,), ["V"]), ((2, 0, 2), ["U", "W"]))
)
def test_only_what_was_chosen_is_taken(chosen: tuple[int, ...], titles: list[str]) -> None:
    assert [sheet.title for sheet in sheets_of(Hand().plan, chosen)] == titles


def test_a_connection_that_is_not_there_is_refused() -> None:
    with pytest.raises(UsageError, match="Allowed: 1 to 3"):
        sheets_of(Hand().plan, (7,))


def test_the_moment_is_written_with_its_zone() -> None:
    hand = filled(Hand(), {60.0: "1 GΩ"})
    for started in (STARTED, datetime(2026, 11, 25, 8, 20, tzinfo=UTC)):
        assert record_of(written(hand.stands[0], {}, started)).test.started == started
