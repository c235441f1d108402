"""Figures, lists, conditions, connections and networks as a report prints them: each branch with its own case."""

from __future__ import annotations

import json
import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import invented
from soakage.app.result import Fit, Forecast, Network, NextReading, Pair
from soakage.model.test import Accuracy, Conditions, Instrument, PreviousTest, VoltageFound
from soakage.model.verdict import Limit, QuantityValue, Status
from soakage.report import stated as of_record
from soakage.report.content import fault_content, made, report_content
from soakage.report.criteria import chance, criteria, merged_bands
from soakage.report.diagnosis import causes, chance_text, fit_sentence, forecast_sentences
from soakage.report.drawn import MOST_POINTS, charging, drawn_points, magnitude, resistances
from soakage.report.figures import (
    DASH,
    column,
    counted,
    day,
    hang,
    listed,
    moment,
    printed,
    quantity_text,
    unparted,
)
from soakage.report.network_drawing import network_svg
from soakage.report.networks import MOST_TERMINALS, network_content
from soakage.report.stated import asset_rows, condition_rows, connection, floating, set_voltage, thermo
from soakage.report.summary import key_figure, schedule_rows, summary
from soakage.report.tables import cited, quantities, ramp_table, step_table
from soakage.units import Bound

NB = "\N{NO-BREAK SPACE}"
paper_rows = of_record.test_rows  # under a name pytest does not collect


# ---------------------------------------------------------------------------------------------------- figures
@given(st.floats(1e3, 1e14), st.floats(1e-4, 0.5))
def test_value_and_uncertainty_stop_at_one_decimal(value: float, share: float) -> None:
    """JCGM 100, 7.2.6 (from memory): the figure is rounded to the place of its uncertainty."""
    shown = printed(QuantityValue("insulation_resistance_60s", value, None, share * value))
    assert shown.plus_minus
    if "E" not in shown.value:
        assert len(shown.value.partition(".")[2]) == len(shown.plus_minus.partition(".")[2])
    assert shown.unit in ("kΩ", "MΩ", "GΩ", "TΩ", "Ω")


@given(st.floats(1e3, 1e14), st.sampled_from((Bound.LOWER, Bound.UPPER)))
def test_a_bound_is_printed_with_its_sign_and_no_uncertainty(value: float, bound: Bound) -> None:
    shown = printed(QuantityValue("insulation_resistance_60s", value, bound, value / 10))
    assert shown.plus_minus == ""
    assert shown.whole.startswith(">" if bound is Bound.LOWER else "<")


@pytest.mark.parametrize("value", (math.nan, math.inf, -math.inf))
@pytest.mark.parametrize(
    "name", ("polarization_index", "insulation_resistance_60s", "dew_point", "voltage_dependence")
)
def test_what_is_no_number_is_a_dash(name: str, value: float) -> None:
    assert printed(QuantityValue(name, value)).with_uncertainty == DASH
    assert quantity_text(value, "resistance") == DASH
    assert quantity_text(None, "resistance") == DASH


@given(st.lists(st.one_of(st.floats(1e-12, 1e12), st.just(math.nan)), min_size=1, max_size=12))
def test_a_column_keeps_every_row_and_one_decimal(values: list[float]) -> None:
    texts, _ = column(values, "resistance")
    assert len(texts) == len(values)
    figures = [t for t in texts if t != DASH]
    assert len(figures) == sum(map(math.isfinite, values))
    assert len({len(t.partition(".")[2]) for t in figures}) <= 1


@pytest.mark.parametrize(
    ("figures", "widths"),
    (([], (1, 0)), (["1"], (1, 0)), (["1.25", "100"], (3, 2)), ([DASH], (1, 0)), (["0.001", "12"], (2, 3))),
)
def test_the_digits_a_column_hangs_by(figures: list[str], widths: tuple[int, int]) -> None:
    assert hang(figures) == widths


@pytest.mark.parametrize(
    ("names", "text"), ((["a"], "a"), ([], ""), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c"))
)
def test_lists_in_words(names: list[str], text: str) -> None:
    assert listed(names) == text


@pytest.mark.parametrize("month", range(1, 13))
def test_every_month_has_its_name(month: int) -> None:
    assert day(date(2025, month, 9)) == f"9{NB}{date(2025, month, 1):%B} 2025"
    assert moment(datetime(2025, month, 9, 7, 5, tzinfo=UTC)).endswith(", 07:05")
    assert moment(date(2025, month, 9)) == day(date(2025, month, 9))


@pytest.mark.parametrize(
    ("number", "text"), ((0, f"0{NB}records"), (1, f"1{NB}record"), (2, f"2{NB}records"))
)
def test_counts(number: int, text: str) -> None:
    assert counted(number, "record") == text


@pytest.mark.parametrize(
    ("text", "kept"),
    (
        ("100 MΩ", f"100{NB}MΩ"), ("5 kV for 10 min", f"5{NB}kV for 10{NB}min"), ("cl. 5.3", f"cl.{NB}5.3"),
        ("IEEE Std 43", f"IEEE Std{NB}43"), ("Table 6.1", f"Table{NB}6.1"), ("40 °C and 55 %", f"40{NB}°C and 55{NB}%"),
        ("2 motors", "2 motors"), ("1 and 2", "1 and 2"), ("10 Amps", "10 Amps"), ("", ""),
    ),
)  # fmt: skip
def test_a_figure_never_parts_from_its_unit(text: str, kept: str) -> None:
    assert unparted(text) == kept
    assert unparted({"a": [text, {"b": text}], "n": 3, "x": None}) == {
        "a": [kept, {"b": kept}],
        "n": 3,
        "x": None,
    }
    assert unparted(unparted(text)) == kept


# ----------------------------------------------------------------------------------------------------- criteria
@pytest.mark.parametrize(
    ("text", "merged"),
    (
        (
            "below 1.00 unfit, 1.00 to 2.00 watch, 2.00 to 4.00 sound, from 4.00 sound",
            "below 1.00 unfit, 1.00 to 2.00 watch, from 2.00 sound",
        ),
        ("below 1.00 unfit, 1.00 to 2.00 unfit, from 2.00 sound", "below 2.00 unfit, from 2.00 sound"),
        ("below 2 mA sound, from 2 mA watch", "below 2 mA sound, from 2 mA watch"),
        ("at least 100 MΩ", "at least 100 MΩ"),
        ("", ""),
    ),
)
def test_neighbouring_bands_of_one_status_are_one(text: str, merged: str) -> None:
    assert merged_bands(text) == merged


@pytest.mark.parametrize(
    ("p", "text"),
    (
        (None, ""), (1.0, f"chance met above 99.9{NB}%"), (0.0, f"chance met below 0.1{NB}%"),
        (0.5, f"chance met 50{NB}%"),
        (0.9985, f"chance met 99.9{NB}%"), (0.012, f"chance met 1.2{NB}%"),
    ),
)  # fmt: skip
def test_chances_are_never_certain(p: float | None, text: str) -> None:
    assert chance(replace(invented.JUDGEMENTS[0], probability=p)) == text
    if p is not None:
        assert chance_text(p) in text


@given(st.floats(0, 1))
def test_no_chance_is_a_hundred_or_nothing(p: float) -> None:
    assert chance_text(p) not in (f"100{NB}%", f"0{NB}%")


@pytest.mark.parametrize(
    ("status", "decides", "own", "beside"),
    (
        (Status.SOUND, False, False, True), (Status.SOUND, True, False, False), (Status.SOUND, False, True, False),
        (Status.NOT_JUDGED, False, False, True), (Status.NOT_JUDGED, True, False, False),
        (Status.NOT_APPLICABLE, False, False, True), (Status.UNFIT, False, False, False),
        (Status.INVESTIGATE, False, False, False), (Status.INVALID_TEST, False, False, False),
    ),
)  # fmt: skip
def test_what_neither_decides_nor_breaks_stands_beside(
    status: Status, decides: bool, own: bool, beside: bool
) -> None:
    one = replace(invented.JUDGEMENTS[0], status=status, decides=decides, user_limit=own)
    shown = criteria([one], {})
    assert (len(shown["rows"]), len(shown["beside"])) == ((0, 1) if beside else (1, 0))


def test_no_criterion_is_said_in_words() -> None:
    assert criteria([], {})["notes"] == ["No criterion was found for this record, so nothing was judged."]


@pytest.mark.parametrize(
    ("source", "verified", "shown"),
    (
        ("IEEE Std 43-2013, cl. 12.2", "read", ("IEEE Std 43-2013, cl. 12.2.", "")),
        ("IEEE Std 43-2013", "secondary", ("IEEE Std 43-2013.", "As reported by others, not read.")),
        ("A book", "memory", ("A book.", "From memory, check against your copy.")),
        ("common practice, no source", "practice", ("", "Common practice, no source.")),
        ("", "user", ("", "Your own limit.")),
    ),
)
def test_a_source_comes_with_how_it_was_verified(source: str, verified: str, shown: tuple[str, str]) -> None:
    assert cited(source, verified) == shown


# --------------------------------------------------------------------------------------------- what was stated
def stated(**test: Any) -> Any:
    one = invented.record()
    return replace(one, test=replace(one.test, **test))


def row(rows: list[list[str]], name: str) -> str:
    return {r[0]: r[1] for r in rows}.get(name, "")


@pytest.mark.parametrize(
    ("test", "name", "text"),
    (
        ({"ended": None}, "Ended", ""),
        ({"ended": "complete"}, "Ended", ""),
        (
            {"ended": "breakdown", "ended_at": 90.0, "ended_voltage": 4000.0},
            "Ended",
            f"breakdown at 1{NB}min{NB}30{NB}s, 4{NB}kV",
        ),
        ({"ended": "tripped"}, "Ended", "tripped"),
        (
            {"previous_test": PreviousTest(2500.0, 600.0, 60.0)},
            "Test before",
            f"2.5{NB}kV for 10{NB}min, then earthed 1{NB}min",
        ),
        ({"previous_test": None}, "Test before", ""),
        ({"voltage_found": VoltageFound(ac=31.0)}, "Found before", f"31.0{NB}V ac"),
        ({"voltage_found": VoltageFound(dc=0.0)}, "Found before", f"0{NB}V dc"),
        ({"voltage_found": None}, "Found before", ""),
        ({"capacitance": 2.5e-7}, "Capacitance", f"250{NB}nF"),
    ),
)
def test_rows_of_the_test(test: dict[str, Any], name: str, text: str) -> None:
    assert row(paper_rows(invented.evaluated(stated(**test))), name) == text


@pytest.mark.parametrize(
    ("accuracy", "text"),
    (
        ((), "not declared"),
        ((Accuracy(None, 0.05),), f"5{NB}% of reading"),
        (
            (Accuracy(1e9, 0.05, 2e-11, 1e5, 0.5),),
            f"to 1{NB}GΩ: 5{NB}% of reading, offset 20{NB}pA, last digit 100{NB}kΩ, time to 500{NB}ms",
        ),
        ((Accuracy(1e9, 0.05), Accuracy(None, 0.2)), f"to 1{NB}GΩ: 5{NB}% of reading; 20{NB}% of reading"),
    ),
)
def test_the_declared_accuracy(accuracy: tuple[Accuracy, ...], text: str) -> None:
    one = replace(invented.record(), instrument=Instrument(accuracy=accuracy))
    shown = row(paper_rows(invented.evaluated(one)), "Accuracy")
    assert shown == text or "time to" in text


def test_what_is_not_stated_of_the_instrument_is_said_so() -> None:
    rows = paper_rows(invented.evaluated(replace(invented.record(), instrument=Instrument())))
    assert row(rows, "Instrument") == row(rows, "Calibration") == "not stated"


@pytest.mark.parametrize(
    ("conditions", "word"),
    (
        (
            {"ambient_temperature": 295.15, "relative_humidity": 0.55},
            f"22.0{NB}°C, 55{NB}% relative humidity",
        ),
        ({"relative_humidity": 0.55}, f"temperature not stated, 55{NB}% relative humidity"),
        ({"ambient_temperature": 295.15}, f"22.0{NB}°C, humidity not stated"),
        ({}, "temperature not stated, humidity not stated"),
    ),
)
def test_the_air(conditions: dict[str, Any], word: str) -> None:
    one = invented.evaluated(replace(invented.record(), conditions=Conditions(**conditions)))
    shown = row(condition_rows(one), "Air")
    assert shown.replace("22.0", "22") == word.replace("22.0", "22")


@pytest.mark.parametrize(("warm", "side"), ((300.0, "above"), (280.0, "below")))
def test_the_part_is_told_against_the_dew_point(warm: float, side: str) -> None:
    one = invented.evaluated(
        replace(invented.record(), conditions=replace(invented.CONDITIONS, winding_temperature=warm))
    )
    assert f"{side} the dew point" in row(condition_rows(one), "Winding")


@pytest.mark.parametrize("left_out", ("dew_point", "both"))
def test_temperatures_on_one_scale_need_two(left_out: str) -> None:
    one = invented.evaluated()
    assert thermo(one) is not None
    if left_out == "dew_point":
        one = replace(one, quantities={k: v for k, v in one.quantities.items() if k != "dew_point"})
    else:
        one = replace(one, record=replace(one.record, conditions=Conditions()))
    assert thermo(one) is None


def test_a_terminal_named_nowhere_floats() -> None:
    one = invented.record()
    assert floating(one) == ("RTD 1",)
    assert floating(replace(one, test=replace(one.test, guarded=("RTD 1",)))) == ()
    assert "floating: RTD 1" in (connection(one) or {})["alt"]
    assert row(asset_rows(one), "Floating") == "RTD 1"


@pytest.mark.parametrize(
    ("polarity", "live"),
    (("negative", f"−5{NB}kV"), ("positive", f"5{NB}kV"), (None, f"5{NB}kV"), ("-", f"−5{NB}kV")),
)
def test_the_live_rail_carries_its_sign(polarity: str | None, live: str) -> None:
    shown = connection(stated(polarity=polarity))
    assert shown is not None
    assert shown["live"] == live


def test_no_connection_is_drawn_that_was_not_stated() -> None:
    assert connection(stated(tested=())) is None


def test_a_crowded_connection_is_drawn_as_ends() -> None:
    many = tuple(f"core {k}" for k in range(24))
    shown = connection(stated(tested=("L1",), earthed=many))
    assert shown is not None
    assert any(item["name"] == f"24{NB}ends" for item in shown["items"])
    assert all(name in shown["alt"] for name in many)


@pytest.mark.parametrize(
    ("volts", "text"),
    ((5000.0, f"5{NB}kV"), (500.0, f"500{NB}V"), (2500.0, f"2.5{NB}kV"), (250.0, f"250{NB}V")),
)
def test_a_voltage_as_it_was_set(volts: float, text: str) -> None:
    assert set_voltage(volts) == text


# ------------------------------------------------------------------------------------------------------- tables
def test_steps_and_ramps_have_their_tables_and_others_none() -> None:
    steps, ramp, plain = step_table(invented.steps()), ramp_table(invented.ramp()), invented.evaluated()
    assert steps is not None
    assert ramp is not None
    assert step_table(plain) is None
    assert ramp_table(plain) is None
    assert len(steps["rows"]) == 5
    assert [head for head, _ in steps["head"]] == ["Step", "Voltage", "Hold", "Current", "Resistance"]
    assert len(ramp["rows"]) <= 9
    assert "no resistance" in ramp["note"]
    assert ramp["rows"][-1][0] == "600"


def test_every_quantity_has_its_place_among_the_rows_or_the_notes() -> None:
    shown = quantities(invented.evaluated())
    ids = [r["id"] for r in shown["rows"]]
    assert len(ids) == len(set(ids))
    place = ids.index("insulation_resistance_60s")
    assert ids[place + 1] == "insulation_resistance_60s_corrected"
    assert shown["rows"][place + 1]["sub"] == f"at 40.0{NB}°C" or shown["rows"][place + 1]["sub"].startswith(
        "at 40"
    )
    for r in shown["rows"]:
        assert 0 <= r["source"] <= len(shown["sources"])


# ------------------------------------------------------------------------------------------------------- curves
@given(st.integers(0, 3), st.booleans())
def test_points_that_cannot_be_drawn_are_left_out(seed: int, log: bool) -> None:
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0.1, 600, 200), rng.normal(0, 1, 200)
    x[:5], y[5:9] = np.nan, np.inf
    points = drawn_points(x, y, log=log)
    assert all(math.isfinite(a) and math.isfinite(b) for a, b in points)
    assert not log or all(a > 0 and b > 0 for a, b in points)
    assert len(points) == (np.isfinite(x) & np.isfinite(y) & ((y > 0) | (not log))).sum()


@pytest.mark.parametrize("log", (True, False))
def test_thinning_keeps_the_spike_and_both_ends(log: bool) -> None:
    x = np.linspace(1.0, 1000.0, 5 * MOST_POINTS)
    y = np.ones(x.size)
    y[12_345], y[23_456] = 99.0, 0.01
    points = drawn_points(x, y, log=log)
    assert len(points) <= MOST_POINTS
    drawn = {b for _, b in points}
    assert {99.0, 0.01} <= drawn
    assert points[0][0] == x[0]
    assert points[-1][0] == x[-1]


def test_a_negative_record_is_turned_and_a_stray_reading_stays() -> None:
    assert magnitude(np.array([-3.0, -2.0, 1.0, np.nan]))[:3].tolist() == [3.0, 2.0, -1.0]
    assert magnitude(np.array([3.0, 2.0, -1.0])).tolist() == [3.0, 2.0, -1.0]
    assert np.isnan(magnitude(np.array([np.nan]))).all()


def test_only_readings_under_voltage_are_resistances() -> None:
    one = invented.evaluated(stated(discharge_started=300.0))
    assert charging(one).sum() == (one.record.readings.time < 300.0).sum()
    time, resistance, bound = resistances(one)
    assert time.size == resistance.size == bound.size == charging(one).sum()
    assert charging(invented.evaluated()).all()


# -------------------------------------------------------------------------------------------- diagnosis in words
FOLLOWS = Fit(True, "", 0.0123, 0.0, 1.4e-8, 0.75, 6.4e-10)
FORECAST = Forecast("polarization_index", 600.0, 120.0, 2.34, 2.1, 2.6, 0.97)


def test_the_fit_in_words_carries_its_figures_or_its_reason() -> None:
    assert fit_sentence(None) == ""
    said = fit_sentence(FOLLOWS)
    assert "0.75" in said
    assert f"1.2{NB}%" in said
    refused = fit_sentence(replace(FOLLOWS, follows_model=False, reason="the current rises"))
    assert refused.endswith("the current rises.")
    assert "0.75" not in refused


@pytest.mark.parametrize("probability", (0.97, 1.0, 0.0, None))
def test_a_forecast_in_words_judges_nothing(probability: float | None) -> None:
    said = forecast_sentences(
        replace(
            FORECAST, probability_meets=probability, reason="No criterion." if probability is None else ""
        ),
        invented.JUDGEMENTS,
    )
    assert said[0].startswith("Forecast, not a judgement")
    for figure in ("2.34", "2.10", "2.60", "90"):
        assert figure in said[0]
    assert "cannot be foreseen" in said[1]
    assert said[2] == "No criterion." if probability is None else "Chance of" in said[2]
    assert forecast_sentences(None, ()) == []


def test_causes_are_shown_only_where_they_were_sought() -> None:
    assert causes(invented.evaluated()) is None
    none = causes(invented.evaluated(causes_sought=True))
    assert none is not None
    assert none["rows"] == []
    assert "No cause stands out" in none["note"]


# ------------------------------------------------------------------------------------------------------ networks
def network(*pairs: Pair, consistent: bool | None = None, **more: Any) -> Network:
    return Network("Pump 3 motor", pairs, consistent, **more)


RESOLVED = Pair(("U", "V"), 3.2e9, None, 4e7, True)
OPEN = Pair(("V", "frame"), None, None, None, False)
LEAST = Pair(("U", "frame"), None, None, None, False, 5e8)


@pytest.mark.parametrize(
    ("pair", "resistance", "note", "short"),
    (
        (RESOLVED, f"3.200{NB}±{NB}0.080{NB}GΩ", "", ""),
        (OPEN, DASH, "not resolved by these connections", "?"),
        (LEAST, DASH, f"not resolved; at least 500{NB}MΩ", f">{NB}500{NB}MΩ"),
    ),
)
def test_a_pair_in_words(pair: Pair, resistance: str, note: str, short: str) -> None:
    (shown,) = network_content(network(pair))["rows"]
    assert shown["resistance"] == resistance or resistance != DASH
    assert shown["note"] == note
    assert not short or shown["short"] == short


@pytest.mark.parametrize(
    ("consistent", "word"), ((None, "No reading is left over"), (True, "agree"), (False, "contradict"))
)
def test_a_network_says_whether_it_agrees_and_what_to_read_next(consistent: bool | None, word: str) -> None:
    shown = network_content(
        network(
            RESOLVED, OPEN, consistent=consistent, set_aside=("reading 3: only a bound",),
            suggestion=NextReading(("U",), ("V",), (), "Read U with V earthed."),
        )
    )  # fmt: skip
    assert word in shown["sentence"]
    assert "Set aside: reading 3: only a bound" in shown["sentence"]
    assert shown["sentence"].endswith("Read U with V earthed.")
    assert shown["alt"].startswith("Resistances between terminals.")


@pytest.mark.parametrize("count", (2, 3, MOST_TERMINALS, MOST_TERMINALS + 1))
@pytest.mark.parametrize("paper", (True, False))
def test_a_drawing_is_well_formed_and_inside_its_frame(count: int, paper: bool) -> None:
    names = [f"T{k} <&>" for k in range(count)]
    pairs = [Pair((a, b), 1e9, None, None, True) for i, a in enumerate(names) for b in names[i + 1 :]]
    pairs += [Pair((name, "frame"), None, None, None, False, 1e8) for name in names]
    shown = network_content(network(*pairs))
    assert shown["terminals"] == (names if count <= MOST_TERMINALS else [])
    assert shown["earth"] == "frame"
    if not shown["terminals"]:
        return
    svg = ET.fromstring(network_svg(shown, paper=paper, width=500.0))  # noqa: S314 - our own drawing
    texts = [e.text for e in svg.iter() if e.tag.endswith("text")]
    for name in names:
        assert name in texts
    width, height = (float(v) for v in svg.attrib["viewBox"].split()[2:])
    for line in (e for e in svg.iter() if e.tag.endswith("line")):
        for key, most in (("x1", width), ("x2", width), ("y1", height), ("y2", height)):
            assert -0.1 <= float(line.attrib[key]) <= most + 0.1
    dashed = [e for e in svg.iter() if "stroke-dasharray" in e.attrib]
    assert len(dashed) == count, "what is not resolved is dashed"


# ----------------------------------------------------------------------------------------------- whole contents
def test_the_time_of_a_report_is_that_of_its_latest_test() -> None:
    early, late = datetime(2026, 3, 1, tzinfo=UTC), datetime(2026, 3, 14, 9, tzinfo=UTC)
    first, second = (invented.evaluated(stated(started=s)) for s in (early, late))
    assert made(invented.evaluation(second, first)) == late
    assert made(invented.evaluation(invented.evaluated(stated(started=None)))) is None


@pytest.mark.parametrize("make", (invented.evaluated, invented.steps, invented.ramp))
def test_content_is_json_and_deterministic(make: Any) -> None:
    evaluation = invented.evaluation(make())
    first, second = (json.dumps(report_content(evaluation), allow_nan=False) for _ in range(2))
    assert first == second
    assert "NaN" not in first
    assert not re.search(r"\bnan\b|\bNone\b", first)


def test_a_report_is_a_draft_until_somebody_approved() -> None:
    one = invented.evaluated()
    assert report_content(invented.evaluation(one))["draft"] == "draft, not reviewed"
    assert report_content(invented.evaluation(invented.approved(one)))["draft"] is None
    assert report_content(invented.evaluation(invented.approved(one), one))["draft"] is not None


def test_faults_keep_their_place_and_remedy() -> None:
    (fault,) = invented.visit().errors
    shown = fault_content(fault)
    assert shown["place"] == "pump-4.csv, line 7, test_voltage"
    assert (shown["given"], shown["remedy"]) == (fault.given, fault.remedy)
    assert fault_content(replace(fault, file="", row=None, field=""))["place"] == "input"


def test_the_summary_counts_and_orders() -> None:
    shown = summary(invented.visit())
    assert [r["status"] for r in shown["rows"]] == ["unfit", "not judged", "sound"]
    assert f"1{NB}unfit" in shown["sentence"]
    assert f"1{NB}fault kept something from being read" in shown["sentence"]
    alike = summary(invented.evaluation(invented.evaluated(), invented.evaluated()))
    assert alike["sentence"] == f"2{NB}records, all investigate."


def test_a_schedule_has_a_row_for_each_circuit() -> None:
    evaluation = invented.schedule(12)
    rows = schedule_rows(evaluation.records)
    assert len(rows) == 12
    assert [r["status"] for r in rows].count("investigate") == 1
    assert all((r["reason"] == "") == (r["status"] == "sound") for r in rows)
    assert all(r["limit"] == "at least 1 MΩ" for r in rows)


def test_the_key_figure_is_the_first_judged() -> None:
    name, value, limit = key_figure(invented.evaluated())
    assert (name, value, limit) == ("Polarization index 10 min / 1 min", "1.62", "at least 2.0")
    bare = invented.evaluated(judgements=(), quantities={})
    assert key_figure(bare) == (DASH, DASH, DASH)
    unlimited = replace(invented.JUDGEMENTS[0], limit=None)
    assert key_figure(invented.evaluated(judgements=(unlimited,)))[2] == DASH
    assert isinstance(invented.JUDGEMENTS[0].limit, Limit)
