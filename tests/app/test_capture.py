"""A sheet taken by hand: what its events come to, how a reading is read, what may not happen."""

from __future__ import annotations

import math
from typing import Any

import pytest

from sheets import BEGUN, CABLE, PANEL, Hand
from soakage.app.capture import (
    ENDINGS,
    MICROSECONDS,
    Progress,
    Sheet,
    SheetMark,
    progress,
    read_value,
    sheet_of,
)
from soakage.app.capture_rules import Moment, found_above, happened, thresholds
from soakage.errors import QuantityError, UsageError
from soakage.standards.library import library
from soakage.units import Bound

READ = (  # as engineers write, and what it is in SI
    ("2.2 GΩ", "resistance", 2.2e9, None),
    ("2,2 GΩ", "resistance", 2.2e9, None),
    ("2.2 GOhm", "resistance", 2.2e9, None),
    ("2.2G", "resistance", 2.2e9, None),
    ("> 10 GΩ", "resistance", 10e9, Bound.LOWER),
    (">10 TOhm", "resistance", 10e12, Bound.LOWER),
    ("< 0.1 MΩ", "resistance", 1e5, Bound.UPPER),
    ("0.00 MΩ", "resistance", 1e4, Bound.UPPER),
    ("1 500 MΩ", "resistance", 1.5e9, None),
    ("900 kΩ", "resistance", 9e5, None),
    ("31.8 uA", "current", 31.8e-6, None),
    ("31,8 µA", "current", 31.8e-6, None),
    ("4.7 nA", "current", 4.7e-9, None),
    ("< 1 nA", "current", 1e-9, Bound.UPPER),
    ("1.2e9 ohm", "resistance", 1.2e9, None),
)


@pytest.mark.parametrize(("text", "quantity", "value", "bound"), READ)
def test_a_reading_is_read_in_any_unit(text: str, quantity: str, value: float, bound: Bound | None) -> None:
    found, measured = read_value(text)
    assert found == quantity
    assert measured.value == pytest.approx(value, rel=1e-12)
    assert measured.bound is bound


@pytest.mark.parametrize(
    ("text", "said"),
    (
        ("2.2", "Unit missing"),
        ("", "No figure"),
        ("1,500 GΩ", "1.5"),
        ("2.2 mΩ x", ""),
        ("-3 MΩ", "below zero"),
        ("5 kV", ""),
        ("2.2 mohm", "M is mega"),
        ("641 mΩ", "M is mega"),
        ("x nA", "No figure"),
    ),
)
def test_what_cannot_be_read_is_refused_and_never_guessed(text: str, said: str) -> None:
    with pytest.raises(QuantityError) as problem:
        read_value(text)
    assert said in str(problem.value)


def test_the_marks_of_ten_minutes() -> None:
    # IEEE Std 43-2013, cl. 5.4 and 12.2, as reported: 1 and 10 min make the index; the others are of practice.
    sheet = Hand().sheets[0]
    assert [mark.time for mark in sheet.marks] == [15.0, 30.0, 60.0, 190.0, 300.0, 600.0]
    assert [mark.time for mark in sheet.marks if mark.required] == [60.0, 600.0]
    assert not sheet.stepped
    assert sheet.voltage == 5000.0


def test_each_section_is_a_sheet() -> None:
    assert [sheet.title for sheet in Hand().sheets] == ["U", "V", "W"]
    assert [sheet.values["tested"] for sheet in Hand().sheets] == [["U"], ["V"], ["W"]]


def test_a_sheet_is_the_same_after_it_was_kept() -> None:
    for method in ("polarization-index", "step-voltage", "dielectric-discharge", "ramp"):
        for sheet in Hand(methods=(method,)).sheets:
            assert sheet_of(sheet.as_json()) == sheet


def test_steps_carry_their_levels_and_stand_from_zero() -> None:
    hand = Hand(methods=("step-voltage",))
    sheet = next(sheet for sheet in hand.sheets if sheet.method == "step-voltage")
    levels = [mark.voltage for mark in sheet.marks]
    assert [mark.time for mark in sheet.marks] == [60.0, 120.0, 180.0, 240.0, 300.0]
    assert levels == sorted(levels, key=lambda v: v or 0.0)
    stand = Progress(sheet)
    assert stand.level(1.0) == levels[0]
    assert stand.level(60.0) == levels[0]
    assert stand.level(60.5) == levels[1]
    assert stand.level(1000.0) == levels[-1]


def test_a_ramp_is_read_at_equal_parts_of_its_top() -> None:
    sheet = next(s for s in Hand(methods=("ramp",)).sheets if s.method == "ramp")
    assert len(sheet.marks) == 10
    top = sheet.marks[-1].voltage
    assert top is not None
    for k, mark in enumerate(sheet.marks, start=1):
        assert mark.voltage == pytest.approx(top * k / 10)
        assert mark.time == pytest.approx((mark.voltage or 0.0) / (1000 / 60), abs=1e-3)  # 1 kV/min


def test_a_discharge_has_its_mark_after_the_short_circuit() -> None:
    sheet = Hand(methods=("dielectric-discharge",)).sheets[0]
    assert sheet.discharge_at == 1800.0
    assert [(m.time, m.after_discharge) for m in sheet.marks] == [
        (60.0, False),
        (600.0, False),
        (1860.0, True),
    ]
    assert [m.required for m in sheet.marks] == [False, False, True]
    assert Progress(sheet).level(1860.0) == 0.0
    assert Progress(sheet).level(1800.0) == 5000.0


def test_a_method_without_marks_is_read_at_one_minute_and_a_schedule_when_steady() -> None:
    assert [mark.time for mark in Hand(CABLE).sheets[0].marks] == [60.0]
    assert all(sheet.marks == () for sheet in Hand(PANEL).sheets)


def test_a_plan_that_is_refused_has_no_sheet() -> None:
    with pytest.raises(UsageError, match="gas-free"):
        Hand(hazardous_area="yes")


# What happens -----------------------------------------------------------------------------------------


def test_a_sheet_goes_through_its_states() -> None:
    hand = Hand()
    seen = [hand.stands[0].state]
    hand.do("found", dc="0 V", ac="0 V", apply="5 kV")
    seen.append(hand.stands[0].state)
    hand.do("started")
    seen.append(hand.stands[0].state)
    hand.at(62)
    hand.do("ended", how="stopped", voltage="")
    seen.append(hand.stands[0].state)
    hand.do("earthed")
    seen.append(hand.stands[0].state)
    assert seen == ["waiting", "ready", "live", "ended", "earthed"]


def test_the_clock_is_a_start_time_and_no_counter() -> None:
    hand = Hand()
    hand.begin()
    assert hand.stands[0].started == BEGUN
    for seconds in (0.0, 41.0, 600.0, 86_400.0):
        assert hand.stands[0].elapsed(BEGUN + round(seconds * MICROSECONDS)) == pytest.approx(seconds)
    assert hand.stands[0].elapsed(BEGUN - MICROSECONDS) == 0.0
    assert hand.stands[1].elapsed(BEGUN + MICROSECONDS) == 0.0


def test_a_start_sent_late_stands_at_its_own_time() -> None:
    hand = Hand()
    hand.do("found", dc="0", ac="0", apply="5 kV")
    hand.now = BEGUN + 90 * MICROSECONDS
    hand.do("started", ago=90.0)
    assert hand.stands[0].started == BEGUN


def test_nothing_happens_in_the_time_to_come() -> None:
    assert Moment(BEGUN, -5.0).at == BEGUN
    assert Moment(BEGUN, 2.0).at == BEGUN - 2 * MICROSECONDS


def test_the_time_stands_still_once_it_ended() -> None:
    hand = Hand()
    hand.begin()
    hand.at(125)
    hand.do("ended", how="tripped", voltage="4.2 kV")
    stand = hand.stands[0]
    assert stand.elapsed(BEGUN + 10**9) == pytest.approx(125.0)
    assert stand.ended is not None
    assert (stand.ended.how, stand.ended.voltage) == ("tripped", 4200.0)


def test_how_it_ended_can_be_said_better_while_its_time_stays() -> None:
    hand = Hand()
    hand.begin()
    hand.at(125)
    hand.do("ended", how="stopped", voltage="")
    hand.at(700)
    hand.do("ended", how="breakdown", voltage="3.9 kV")
    ended = hand.stands[0].ended
    assert ended is not None
    assert (ended.how, ended.voltage) == ("breakdown", 3900.0)
    assert ended.time == pytest.approx(125.0)


def test_readings_stand_in_order_of_their_time() -> None:
    hand = Hand()
    hand.begin()
    hand.read(30, "641 MΩ")
    hand.read(15, "378 MΩ")
    hand.at(45)
    hand.do("reading", mark=None, time=44.0, text="0.9 GΩ")
    assert [taken.time for taken in hand.stands[0].readings] == [15.0, 30.0, 44.0]
    assert hand.stands[0].at_mark(30.0) is not None
    assert hand.stands[0].at_mark(60.0) is None


def test_a_changed_reading_keeps_what_it_was_and_its_time() -> None:
    hand = Hand()
    hand.begin()
    number = hand.read(60, "14.5 GΩ")
    hand.do("changed", of=number, text="1.45 GΩ")
    hand.do("changed", of=number, text="1.44 GΩ")
    taken = hand.stands[0].readings[0]
    assert taken.was == ("14.5 GΩ", "1.45 GΩ")
    assert (taken.time, taken.mark, taken.number) == (60.0, 60.0, number)
    assert taken.value.value == pytest.approx(1.44e9)


def test_an_undone_reading_leaves_its_mark_open() -> None:
    hand = Hand()
    hand.begin()
    number = hand.read(60, "1.08 GΩ")
    hand.do("undone", of=number)
    assert hand.stands[0].at_mark(60.0) is None
    again = hand.read(60, "1.09 GΩ")
    assert [taken.number for taken in hand.stands[0].readings] == [again] != [number]


def test_who_says_that_a_reading_stands_is_believed() -> None:
    hand = Hand()
    hand.begin()
    number = hand.read(60, "14.5 GΩ")
    hand.do("answered", of=number)
    assert hand.stands[0].readings[0].stands


@pytest.mark.parametrize(
    ("text", "resistance", "bound"),
    (
        ("5 uA", 1e9, None),
        ("< 5 nA", 1e12, Bound.LOWER),
        ("> 5 mA", 1e6, Bound.UPPER),
        ("2 GΩ", 2e9, None),
    ),
)
def test_a_current_gives_its_resistance_with_the_opposite_bound(
    text: str, resistance: float, bound: Bound | None
) -> None:
    hand = Hand()
    hand.begin()
    hand.read(60, text)
    found = hand.stands[0].resistance(hand.stands[0].readings[0])
    assert found is not None
    assert math.isclose(found.value, resistance)
    assert found.bound is bound


def test_no_current_makes_no_resistance() -> None:
    hand = Hand()
    hand.begin()
    hand.read(60, "0 nA")
    assert hand.stands[0].resistance(hand.stands[0].readings[0]) is None


def test_the_voltage_that_was_applied_counts_and_not_the_planned_one() -> None:
    hand = Hand()
    hand.begin(apply="2.5 kV")
    hand.read(60, "5 uA")
    found = hand.stands[0].resistance(hand.stands[0].readings[0])
    assert found is not None
    assert found.value == pytest.approx(0.5e9)


def test_events_of_one_sheet_leave_the_others_alone() -> None:
    hand = Hand()
    hand.begin(0)
    hand.read(60, "1 GΩ", 0)
    hand.do("ended", how="complete", voltage="")
    hand.begin(1)
    hand.read(60, "2 GΩ", 1)
    assert [len(stand.readings) for stand in hand.stands] == [1, 1, 0]
    assert hand.stands[2].state == "waiting"


def test_the_state_is_what_the_events_come_to_however_often_it_is_worked_out() -> None:
    hand = Hand()
    hand.begin()
    for time, text in ((15, "378 MΩ"), (30, "641 MΩ"), (60, "1.08 GΩ")):
        hand.read(time, text)
    assert progress(hand.sheets, hand.events) == hand.stands


# What may not happen --------------------------------------------------------------------------------------


def test_the_lines_are_the_stricter_of_two_published_ones() -> None:
    # EN 50191:2010 touch voltage 25 V ac (as the facts note it); NFPA 70E-2021 50 V dc: facts/apparatus, section 11.
    assert thresholds(library()) == (50.0, 25.0)


@pytest.mark.parametrize(
    ("dc", "ac", "word"),
    (
        ("50.1 V", "0 V", "dc"),
        ("60", "0", "dc"),
        ("-60 V", "0", "dc"),
        ("0.06 kV", "0", "dc"),
        ("0 V", "25.5 V", "ac"),
        ("0 V", "230", "ac"),
        ("400 V", "230 V", "dc"),
    ),
)
def test_the_clock_does_not_start_with_voltage_on_the_terminals(dc: str, ac: str, word: str) -> None:
    hand = Hand()
    hand.do("found", dc=dc, ac=ac, apply="5 kV")
    assert f"{word} found" in found_above(hand.stands[0], library())
    with pytest.raises(UsageError, match="Find where it comes from first"):
        hand.do("started")
    assert hand.stands[0].started is None


@pytest.mark.parametrize(("dc", "ac"), (("50 V", "25 V"), ("0", "0"), ("49,9 V", "24,9 V"), ("3 V", "0.4 V")))
def test_at_or_below_the_lines_it_starts(dc: str, ac: str) -> None:
    hand = Hand()
    hand.begin(dc=dc, ac=ac)
    assert hand.stands[0].state == "live"


def test_found_can_be_measured_again_until_the_clock_runs() -> None:
    hand = Hand()
    hand.do("found", dc="80 V", ac="0", apply="5 kV")
    hand.do("found", dc="2 V", ac="0", apply="5 kV")
    hand.do("started")
    with pytest.raises(UsageError, match="has begun"):
        hand.do("found", dc="0", ac="0", apply="5 kV")


REFUSED: tuple[tuple[str, list[str], tuple[str, dict[str, Any]], str], ...] = (
    ("started before anything was measured", [], ("started", {}), "not stated"),
    ("a reading before the clock", ["found"], ("reading", {"mark": 60.0, "time": 60.0, "text": "1 GΩ"}), "clock"),
    ("ended before it began", ["found"], ("ended", {"how": "stopped"}), "not begun"),
    ("earthed while live", ["found", "started"], ("earthed", {}), "still on"),
    ("started twice", ["found", "started"], ("started", {}), "runs already"),
    ("no such mark", ["found", "started"], ("reading", {"mark": 45.0, "time": 45.0, "text": "1 GΩ"}), "no mark"),
    ("without its time", ["found", "started"], ("reading", {"mark": None, "time": None, "text": "1 GΩ"}), "its time"),
    ("in the time to come", ["found", "started"], ("reading", {"mark": 600.0, "time": 600.0, "text": "1 G"}), "no t"),
    ("no such reading", ["found", "started"], ("changed", {"of": 99, "text": "1 GΩ"}), "undone"),
    ("undone what is not there", ["found", "started"], ("undone", {"of": 99}), "not on the sheet"),
    ("ended in no way known", ["found", "started"], ("ended", {"how": "well"}), "Allowed: complete"),
    ("nothing called so", ["found"], ("energised", {}), "Nothing is called"),
)  # fmt: skip


@pytest.mark.parametrize(
    ("before", "what", "said"), [case[1:] for case in REFUSED], ids=[case[0] for case in REFUSED]
)
def test_what_cannot_happen_is_refused_with_its_reason(
    before: list[str], what: tuple[str, dict[str, Any]], said: str
) -> None:
    hand = Hand()
    for kind in before:
        body: dict[str, Any] = {"dc": "0", "ac": "0", "apply": "5 kV"} if kind == "found" else {}
        hand.do(kind, **body)
    hand.at(62)
    events = list(hand.events)
    with pytest.raises(UsageError, match=said):
        hand.do(what[0], **what[1])
    assert hand.events == events


@pytest.mark.parametrize("place", (-1, 3, 200))
def test_a_sheet_that_is_not_there(place: int) -> None:
    hand = Hand()
    with pytest.raises(UsageError, match="Allowed: 1 to 3"):
        hand.do("started", place)


@pytest.mark.parametrize(
    ("body", "said"),
    (
        ({"dc": "", "ac": "0", "apply": "5 kV"}, "dc: nothing was written"),
        ({"dc": "0", "ac": "  ", "apply": "5 kV"}, "ac: nothing was written"),
        ({"dc": "0", "ac": "0", "apply": "-5 kV"}, "above 0 V"),
    ),
)
def test_the_voltage_found_is_written_out(body: dict[str, Any], said: str) -> None:
    with pytest.raises(UsageError, match=said):
        Hand().do("found", **body)


@pytest.mark.parametrize("text", ("5 A", "five volts", "> 3 V"))
def test_a_voltage_found_is_a_voltage(text: str) -> None:
    with pytest.raises(QuantityError):
        Hand().do("found", dc=text, ac="0", apply="5 kV")


def test_one_section_is_under_voltage_at_a_time() -> None:
    hand = Hand()
    hand.begin(0)
    hand.do("found", 1, dc="0", ac="0", apply="5 kV")
    with pytest.raises(UsageError, match="Voltage is on U"):
        hand.do("started", 1)
    hand.at(60)
    hand.do("ended", 0, how="stopped", voltage="")
    hand.do("started", 1)
    assert hand.stands[1].state == "live"


def test_a_mark_is_read_once() -> None:
    hand = Hand()
    hand.begin()
    hand.read(60, "1 GΩ")
    with pytest.raises(UsageError, match="read already"):
        hand.read(60, "2 GΩ")


def test_voltage_above_that_of_the_rating_waits_for_what_must_stand_in_writing() -> None:
    hand = Hand(methods=("step-voltage",))
    place = next(k for k, sheet in enumerate(hand.sheets) if sheet.method == "step-voltage")
    conditions = hand.sheets[place].conditions
    assert len(conditions) == 4
    hand.do("found", place, dc="0", ac="0", apply="")
    for text in conditions:
        with pytest.raises(UsageError, match="in writing"):
            hand.do("started", place)
        hand.ticks[text] = {"at": BEGUN, "person": "N. Invented"}
    hand.do("started", place)
    assert hand.stands[place].state == "live"


def test_a_voltage_that_nobody_stated_is_asked_for() -> None:
    sheet = Sheet("T", "insulation-resistance", {}, (SheetMark(60.0),))
    found = (1, {"sheet": 0, "kind": "found", "dc": 0.0, "ac": 0.0, "apply": None})
    stands = progress([sheet], [found])
    with pytest.raises(UsageError, match="test voltage is not stated"):
        happened(stands, {"sheet": 0, "kind": "started"}, Moment(BEGUN), library(), {})


@pytest.mark.parametrize("how", ENDINGS)
def test_every_ending_of_the_record_file_can_be_said(how: str) -> None:
    hand = Hand()
    hand.begin()
    hand.at(30)
    hand.do("ended", how=how, voltage="")
    ended = hand.stands[0].ended
    assert ended is not None
    assert ended.how == how


def test_a_clock_that_tests_run_faster_counts_seconds_of_the_sheet() -> None:
    hand = Hand()
    hand.begin()
    later = BEGUN + 3 * MICROSECONDS
    assert hand.stands[0].elapsed(later, 20.0) == pytest.approx(60.0)
    event = happened(
        hand.stands, {"sheet": 0, "kind": "ended", "how": "stopped"}, Moment(later, 0.0, 20.0), library(), {}
    )
    assert event["time"] == pytest.approx(60.0)
