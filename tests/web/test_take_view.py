"""What a sheet shows, worked out without a server: times, calls, ratios, questions, the plot; what plans ask for."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any
from xml.etree import ElementTree as ET

import pytest

from soakage.app.capture import MICROSECONDS, Sheet, SheetMark
from soakage.app.capture_sheets import sheets_of
from soakage.app.plan import plan
from soakage.errors import InputError
from soakage.model.asset import Asset
from soakage.model.keys import CLASSES
from soakage.store.drafts import DraftRow, KeptDraft
from soakage.web.plan_view import at_text, box
from soakage.web.planning import Asked, asked_of, methods_for
from soakage.web.taking_page import UNITS, ledger
from soakage.web.taking_plot import NARROW, WIDE, Axes, drawing, plotted
from soakage.web.taking_view import (
    calls,
    clock,
    first_open,
    needs,
    ratios,
    sheet_state,
    state,
    time_text,
    volts,
)
from soakage.wiring.sheets import HEADER, files_of, header_checked, standing

MOTOR = Asset(name="Mill 2 motor", asset_class="rotating-machine", rated_voltage=6600.0, winding="form-wound",
              insulation="epoxy-mica", thermal_class="155", year=2010, neutral="opened")  # fmt: skip
BEGUN = 1_764_000_000 * MICROSECONDS
NBSP = "\u00a0"
TEN = ((15.0, 378e6), (30.0, 641e6), (60.0, 1.08e9), (190.0, 2.2e9), (300.0, 3.1e9), (600.0, 4.6e9))


def draft(*events: dict[str, Any], methods: Sequence[str] = ()) -> KeptDraft:
    """A sheet of the motor to which these things happened."""
    sheets = [sheet.as_json() for sheet in sheets_of(plan(MOTOR, methods=methods))]
    fields = {
        "title": "Mill 2 motor",
        "plate": {},
        "methods": [],
        "sheets": sheets,
        "header": {},
        "ticks": {},
    }
    rows = [
        DraftRow(number, BEGUN, {"key": f"key-{number:05d}", "sheet": 0, **event})
        for number, event in enumerate(events, start=1)
    ]
    return KeptDraft("a" * 32, "N. Invented", None, BEGUN, BEGUN, fields, tuple(rows))


FOUND = {"kind": "found", "dc": 0.0, "ac": 0.0, "apply": 5000.0}
STARTED = {"kind": "started", "at": BEGUN}
ENDED = {"kind": "ended", "how": "complete", "time": 601.0, "voltage": None}


def reading(
    time: float, value: float, quantity: str = "resistance", bound: str | None = None
) -> dict[str, Any]:
    return {
        "kind": "reading", "mark": time, "time": time, "text": f"{value:g}", "quantity": quantity, "value": value,
        "bound": bound,
    }  # fmt: skip


def one(*events: dict[str, Any], methods: Sequence[str] = (), now: float = 700.0) -> dict[str, Any]:
    kept = draft(*events, methods=methods)
    return sheet_state(standing(kept), 0, BEGUN + round(now * MICROSECONDS), 1.0)


@pytest.mark.parametrize(
    ("seconds", "shown"),
    (
        (0, "0:00"),
        (9.9, "0:09"),
        (60, "1:00"),
        (161, "2:41"),
        (600, "10:00"),
        (3599, "59:59"),
        (3725, "1:02:05"),
    ),
)
def test_the_clock(seconds: float, shown: str) -> None:
    assert clock(seconds) == shown


@pytest.mark.parametrize(
    ("seconds", "shown"),
    (
        (15, f"15{NBSP}s"),
        (60, f"1{NBSP}min"),
        (190, "3:10"),
        (600, f"10{NBSP}min"),
        (1860, f"31{NBSP}min"),
        (90, "1:30"),
    ),
)
def test_a_mark_is_named_as_it_is_said(seconds: float, shown: str) -> None:
    assert time_text(seconds) == shown


def test_a_voltage_that_is_not_stated_is_said() -> None:
    assert volts(None) == "voltage not stated"
    assert volts(2500.0) == f"2.5{NBSP}kV"


def test_each_mark_is_called_in_order() -> None:
    found = calls(sheets_of(plan(MOTOR))[0])
    assert [call["time"] for call in found] == [time for time, _ in TEN]
    assert found[3]["say"] == "Read at 3:10"
    assert [call["required"] for call in found] == [False, False, True, False, False, True]
    assert all(call["read"] for call in found)


def test_on_steps_the_call_says_what_is_raised_to_and_what_stands() -> None:
    sheet = next(s for s in sheets_of(plan(MOTOR, methods=("step-voltage",))) if s.method == "step-voltage")
    found = calls(sheet)
    levels = [volts(mark.voltage) for mark in sheet.marks]
    assert [call["on"] for call in found] == levels
    for call, higher in zip(found, levels[1:], strict=False):
        assert call["say"].endswith(f"then raise to {higher}")
    assert "raise" not in found[-1]["say"]


def test_on_a_ramp_the_call_says_at_which_voltage() -> None:
    sheet = next(s for s in sheets_of(plan(MOTOR, methods=("ramp",))) if s.method == "ramp")
    for call, mark in zip(calls(sheet)[:-1], sheet.marks, strict=False):
        assert call["say"].endswith(volts(mark.voltage))
        assert "raise" not in call["say"]


def test_the_short_circuit_is_called_and_is_no_reading() -> None:
    found = calls(sheets_of(plan(MOTOR, methods=("dielectric-discharge",)))[0])
    assert [(call["time"], call["read"]) for call in found] == [
        (60, True),
        (600, True),
        (1800, False),
        (1860, True),
    ]
    assert "short it through the instrument" in found[2]["say"]


def test_the_ratios_are_those_of_the_method_and_follow_the_readings() -> None:
    stands = standing(draft(FOUND, STARTED, *(reading(*point) for point in TEN)))
    found = {entry["quantity"]: entry for entry in ratios(stands[0])}
    # 60/30 and 60/15 s, common practice; 600/60 s, IEEE Std 43-2013 cl. 5.4 (as reported)
    assert found["dielectric_absorption_ratio"]["value"] == pytest.approx(1080 / 641)
    assert found["absorption_ratio_60_15"]["value"] == pytest.approx(1080 / 378)
    assert found["polarization_index"]["value"] == pytest.approx(4600 / 1080)
    assert found["polarization_index"]["shown"] == "4.26"
    assert found["polarization_index"]["called"] == "Polarization index 10 min / 1 min"


@pytest.mark.parametrize("bound", ("lower", "upper"))
def test_no_ratio_is_formed_with_a_bound(bound: str) -> None:
    stands = standing(draft(FOUND, STARTED, reading(60.0, 1.08e9), reading(600.0, 4.6e9, bound=bound)))
    assert ratios(stands[0]) == []


def test_no_ratio_is_formed_on_steps() -> None:
    kept = draft(methods=("step-voltage",))
    place = next(k for k, stand in enumerate(standing(kept)) if stand.sheet.stepped)
    assert ratios(standing(kept)[place]) == []


def test_what_the_index_needs_follows_from_one_minute() -> None:
    stand = standing(draft(FOUND, STARTED, reading(60.0, 1.08e9)))[0]
    limit, level = needs(stand) or (0.0, 0.0)
    assert limit == 2.0  # thermal class 155: IEEE Std 43-2013 cl. 12.2 (as reported)
    assert level == pytest.approx(2.16e9)
    assert needs(standing(draft(FOUND, STARTED))[0]) is None


def test_the_sheet_tells_how_much_earth_it_needs() -> None:
    for elapsed in (30.0, 161.0, 600.0):
        assert one(FOUND, STARTED, now=elapsed)["earthing"]["time"] == pytest.approx(4 * elapsed)
    assert one(FOUND, STARTED, ENDED, now=9999.0)["earthing"]["time"] == pytest.approx(4 * 601.0)


def test_a_question_names_the_slip_in_the_unit_that_was_read() -> None:
    asked = one(FOUND, STARTED, reading(30.0, 7.8e-6, "current"), reading(60.0, 0.46e-6, "current"))[
        "readings"
    ][1]
    assert asked["shown"] == f"460{NBSP}nA"
    assert asked["question"]["slip"] == f"4.6{NBSP}µA"
    assert "It makes 10.9" in asked["question"]["because"]


def test_the_whole_tells_what_a_page_needs_to_go_on() -> None:
    kept = draft(FOUND, STARTED, reading(15.0, 378e6))
    told = state(kept, BEGUN + 20 * MICROSECONDS)
    assert (told["next"], told["keys"]) == (4, ["key-00001", "key-00002", "key-00003"])
    assert told["now"] == BEGUN // 1000 + 20_000
    assert told["sheets"][0]["started"] == BEGUN // 1000
    assert told["sheets"][0]["elapsed"] == pytest.approx(20.0)
    assert told["earthing_multiple"] == 4.0
    assert told["most_found"] == {"dc": 50.0, "ac": 25.0}


def test_the_sheet_under_voltage_is_shown_first() -> None:
    stands = standing(draft(FOUND, STARTED, ENDED))
    assert first_open(stands) == 0  # still to be earthed
    earthed = {"kind": "earthed", "at": BEGUN}
    assert first_open(standing(draft(FOUND, STARTED, ENDED, earthed))) == 1
    assert first_open(standing(draft(FOUND, STARTED))) == 0
    assert first_open(stands[:1]) == 0


def test_the_ledger_holds_every_mark_and_what_was_read_between() -> None:
    between = reading(41.0, 800e6) | {"mark": None}
    rows = ledger(one(FOUND, STARTED, reading(15.0, 378e6), between))
    assert [row["time"] for row in rows] == [15.0, 30.0, 41.0, 60.0, 190.0, 300.0, 600.0]
    assert [bool(row["reading"]) for row in rows] == [True, False, True, False, False, False, False]
    assert [row["mark"] for row in rows][2] is None


# The plot -----------------------------------------------------------------------------------------------------


def drawn(
    *events: dict[str, Any], size: tuple[float, float] = WIDE, methods: Sequence[str] = ()
) -> ET.Element:
    kept = draft(*events, methods=methods)
    stand = standing(kept)[0]
    told = sheet_state(standing(kept), 0, BEGUN + 20 * MICROSECONDS, 1.0)
    return ET.fromstring(drawing(stand, told, size, needs(stand)))  # noqa: S314 - our own drawing


@pytest.mark.parametrize("size", (WIDE, NARROW))
def test_a_reading_stands_straight_below_its_mark(size: tuple[float, float]) -> None:
    svg = drawn(FOUND, STARTED, *(reading(*point) for point in TEN[:4]), size=size)
    dots = [(float(dot.attrib["cx"]), float(dot.attrib["cy"])) for dot in svg.iter("circle")]
    marks = {
        float(path.attrib["data-call"]): float(re.findall(r"[\d.]+", path.attrib["d"])[0])
        for path in svg.iter("path")
        if "data-call" in path.attrib
    }
    assert [x for x, _ in dots] == pytest.approx([marks[time] for time, _ in TEN[:4]], abs=0.1)
    assert [y for _, y in dots] == sorted((y for _, y in dots), reverse=True)  # more resistance stands higher
    assert list(marks) == [time for time, _ in TEN]
    assert all(0 <= x <= size[0] for x in marks.values())


def test_marks_that_were_read_are_told_apart() -> None:
    svg = drawn(FOUND, STARTED, reading(15.0, 378e6))
    kinds = [path.attrib["class"] for path in svg.iter("path") if "data-call" in path.attrib]
    assert kinds == ["call read", *["call to-come"] * 5]


def test_the_band_is_named_and_the_limit_is_hatched() -> None:
    svg = drawn(FOUND, STARTED, *(reading(*point) for point in TEN[:3]))
    assert [one.attrib["class"] for one in svg.iter("polygon")] == ["band-ahead"]
    words = [text.text for text in svg.iter("text")]
    assert "if nothing changes" in words
    assert f"index 2.0 needs 2.16{NBSP}GΩ" in words
    assert "the last 1.08" in svg.attrib["aria-label"]
    assert "If nothing changes" in svg.attrib["aria-label"]


@pytest.mark.parametrize(("bound", "up"), (("lower", True), ("upper", False)))
def test_a_bound_has_its_arrow_to_the_open_side(bound: str, up: bool) -> None:
    svg = drawn(FOUND, STARTED, reading(15.0, 378e6, bound=bound))
    (arrow,) = (path for path in svg.iter("path") if path.attrib.get("class") == "arrow")
    assert ("v-14" in arrow.attrib["d"]) is up


def test_before_the_first_reading_the_marks_stand_there() -> None:
    svg = drawn()
    assert svg.attrib["aria-label"].startswith("No reading yet")
    assert list(svg.iter("circle")) == []


def test_a_ramp_draws_its_current_and_a_schedule_nothing() -> None:
    kept = draft(methods=("ramp",))
    place = next(k for k, stand in enumerate(standing(kept)) if stand.sheet.method == "ramp")
    assert plotted(standing(kept)[place])[0] == "current"
    sheet = Sheet("L-PE", "circuit", {}, ())
    assert calls(sheet) == []


@pytest.mark.parametrize("value", (1e6, 378e6, 4.6e9, 1e12))
def test_the_axes_are_logarithmic(value: float) -> None:
    axes = Axes(10.0, 1000.0, 1e6, 1e12, 500.0, 300.0)
    assert axes.x(100.0) == pytest.approx((axes.x(10.0) + axes.x(1000.0)) / 2)
    assert axes.x(1.0) == axes.x(10.0)
    assert axes.y(value) == pytest.approx(
        axes.y(1e6) + (axes.y(1e12) - axes.y(1e6)) * math.log10(value / 1e6) / 6
    )


# What is asked for ----------------------------------------------------------------------------------------------


def test_an_address_says_what_was_asked_for() -> None:
    asked = Asked("a" * 32, {"purpose": "maintenance"}, ("polarization-index", "step-voltage"))
    assert asked.address(".pdf", draft="b").startswith(
        f"/assets/{'a' * 32}/plan.pdf?purpose=maintenance&method="
    )
    assert asked.address().count("method=") == 2
    assert Asked(None).address() == "/plan"


@pytest.mark.parametrize(
    ("values", "methods", "field"),
    (
        ({"colour": "red"}, (), "colour"),
        ({"test_voltage": "5 kV"}, (), "test_voltage"),
        ({}, ("fast-test",), "method"),
    ),
)
def test_what_a_plan_does_not_ask_for_is_refused(
    values: dict[str, str], methods: tuple[str, ...], field: str
) -> None:
    with pytest.raises(InputError) as problem:
        asked_of(Asked(None, values, methods))
    assert problem.value.faults[0].field == field


def test_empty_fields_ask_for_nothing() -> None:
    assert asked_of(Asked(None, {"purpose": " ", "class": " cable "})).values == {"class": "cable"}


@pytest.mark.parametrize("asset_class", CLASSES)
def test_only_tests_made_on_the_class_are_offered(asset_class: str) -> None:
    offered = methods_for(asset_class)
    assert offered
    assert all(asset_class in method.classes for method in offered)
    assert len(methods_for(None)) > len(offered)


@pytest.mark.parametrize(("key", "words"), (("class", 6), ("purpose", 5), ("surface", 3), ("permit", 0)))
def test_a_field_offers_the_words_of_its_key(key: str, words: int) -> None:
    assert len(box(key, "")["words"]) == words


def test_the_time_of_a_tick_is_that_of_this_place() -> None:
    assert re.search(r"\d{4}, \d\d:\d\d$", at_text(BEGUN))


@pytest.mark.parametrize("key", HEADER)
def test_every_key_of_the_header_may_be_left_empty(key: str) -> None:
    assert header_checked({key: " "}) == {key: ""}


def test_every_unit_of_the_keypad_is_read() -> None:
    from soakage.app.capture import read_value

    assert {read_value(f"2.2 {unit}")[0] for unit in UNITS} == {"resistance", "current"}


def test_a_file_of_a_sheet_is_read_back_before_it_is_received() -> None:
    (incoming,) = files_of(draft(FOUND, STARTED, *(reading(*point) for point in TEN), ENDED))
    assert incoming.data.startswith(b"# soakage = 1\n")
    (record,) = incoming.records
    assert record.readings.resistance.tolist() == [value for _, value in TEN]
    assert record.test.started is not None
    assert record.origin.file == incoming.file


def test_a_reading_without_marks_has_no_time() -> None:
    sheet = Sheet("L-PE", "circuit", {}, (SheetMark(60.0),))
    assert calls(sheet)[0]["label"] == f"1{NBSP}min"
