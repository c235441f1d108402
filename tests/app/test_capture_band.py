"""What a hold is heading for, and which reading is asked about: held against curves whose law is known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheets import Hand
from soakage.app.capture_band import DERIVED, FORECAST, expected, odd, outlook, points
from soakage.units import format_exact

MARKS = (15.0, 30.0, 60.0, 190.0, 300.0, 600.0)


def resistance(time: float, coefficient: float, exponent: float, conductance: float) -> float:
    """Resistance of absorption and leakage together: V / I of I = V (A t^-n + G), as the model of the house has it."""
    return float(1.0 / (coefficient * time**-exponent + conductance))


def taken(values: dict[float, float], upto: float = math.inf) -> Hand:
    hand = Hand()
    hand.begin()
    for time, value in values.items():
        if time <= upto:
            hand.read(time, format_exact(float(f"{value:.4g}"), "resistance"))
    return hand


def curve(coefficient: float, exponent: float, conductance: float) -> dict[float, float]:
    return {time: resistance(time, coefficient, exponent, conductance) for time in MARKS}


@settings(max_examples=150, deadline=None)
@given(
    exponent=st.floats(0.3, 1.1),
    leak=st.floats(1e-3, 30.0),  # leakage over absorption at one minute
    size=st.floats(6.0, 12.0),
    upto=st.sampled_from(MARKS[1:-1]),
)
def test_a_curve_of_absorption_and_leakage_stays_between_its_bounds(
    exponent: float, leak: float, size: float, upto: float
) -> None:
    # I = A t^-n + G bends one way only on logarithmic axes (derived): exact readings never leave the bounds.
    coefficient = 10.0**-size
    values = curve(coefficient, exponent, leak * coefficient * 60.0**-exponent)
    past = [(time, value) for time, value in values.items() if time <= upto]
    for time, value in values.items():
        if time > upto:
            low, high = expected(past, time) or (math.nan, math.nan)
            assert low <= value <= high


@settings(max_examples=60, deadline=None)
@given(exponent=st.floats(0.3, 1.0), leak=st.floats(0.01, 10.0), seed=st.integers(0, 10_000))
def test_readings_of_such_a_curve_with_scatter_are_not_asked_about(
    exponent: float, leak: float, seed: int
) -> None:
    scatter = np.random.default_rng(seed).normal(1.0, 0.03, len(MARKS))
    values = curve(1e-9, exponent, leak * 1e-9 * 60.0**-exponent)
    hand = taken(
        {time: value * max(k, 0.9) for (time, value), k in zip(values.items(), scatter, strict=True)}
    )
    stand = hand.stands[0]
    assert [odd(stand, one) for one in stand.readings] == [None] * len(MARKS)


@pytest.mark.parametrize("factor", (10.0, 100.0, 1000.0, 0.1, 0.01))
@pytest.mark.parametrize("mark", (60.0, 190.0, 600.0))
def test_a_slip_of_the_unit_or_the_point_is_asked_about_and_named(mark: float, factor: float) -> None:
    values = curve(1e-7, 0.8, 1e-10)
    hand = taken(values | {mark: values[mark] * factor}, upto=mark)
    stand = hand.stands[0]
    found = odd(stand, stand.readings[-1])
    assert found is not None
    assert found.why == "band"
    assert found.slip == pytest.approx(1 / factor)
    assert found.low < values[mark] < found.high


def test_a_reading_that_stands_is_asked_about_once() -> None:
    values = curve(1e-7, 0.8, 1e-10)
    hand = taken(values | {60.0: values[60.0] * 10}, upto=60.0)
    hand.do("answered", of=hand.stands[0].readings[-1].number)
    stand = hand.stands[0]
    assert odd(stand, stand.readings[-1]) is None


def test_nothing_is_concluded_from_a_reading_that_is_asked_about() -> None:
    values = curve(1e-7, 0.8, 1e-10)
    hand = taken(values | {190.0: values[190.0] * 10}, upto=190.0)
    assert [time for time, _ in points(hand.stands[0])] == [15.0, 30.0, 60.0]
    before, after = outlook(taken(values, upto=60.0).stands[0]), outlook(hand.stands[0])
    assert before is not None
    assert after is not None
    assert after.index == pytest.approx(before.index)
    hand.do("answered", of=hand.stands[0].readings[-1].number)
    assert [time for time, _ in points(hand.stands[0])] == [15.0, 30.0, 60.0, 190.0]


@pytest.mark.parametrize(
    ("text", "asked"),
    (("> 0.5 GΩ", False), ("> 100 GΩ", True), ("< 100 GΩ", False), ("< 1 MΩ", True)),
)
def test_a_bound_is_asked_about_only_where_it_leaves_the_band(text: str, asked: bool) -> None:
    hand = taken({15.0: 378e6, 30.0: 641e6})
    hand.read(60.0, text)
    stand = hand.stands[0]
    found = odd(stand, stand.readings[-1])
    assert (found is not None) is asked
    assert found is None or found.slip is None


@pytest.mark.parametrize(
    ("second", "asked"), (("2 GΩ", False), ("9 GΩ", False), ("30 GΩ", True), ("40 MΩ", True))
)
def test_a_section_unlike_its_sisters_is_asked_about(second: str, asked: bool) -> None:
    hand = Hand()
    hand.begin(0)
    hand.read(60, "1 GΩ", 0)
    hand.do("ended", how="complete", voltage="")
    hand.begin(1)
    hand.read(60, second, 1)
    stands = hand.stands
    found = odd(stands[1], stands[1].readings[0], [stands[0], stands[2]])
    assert (found is not None) is asked
    assert found is None or found.why == "sister"


def test_the_first_reading_has_nothing_to_be_odd_against() -> None:
    hand = taken({15.0: 378e6})
    assert odd(hand.stands[0], hand.stands[0].readings[0]) is None
    assert expected([], 60.0) is None


@settings(max_examples=60, deadline=None)
@given(exponent=st.floats(0.3, 1.0), leak=st.floats(0.01, 10.0), upto=st.sampled_from((60.0, 190.0, 300.0)))
def test_the_index_it_comes_to_lies_in_the_outlook(exponent: float, leak: float, upto: float) -> None:
    values = curve(1e-8, exponent, leak * 1e-8 * 60.0**-exponent)
    found = outlook(taken(values, upto=upto).stands[0])
    assert found is not None
    assert found.source == DERIVED
    assert found.index is not None
    assert found.index[0] <= values[600.0] / values[60.0] <= found.index[1]
    assert [time for time, _, _ in found.band] == sorted(time for time, _, _ in found.band)
    assert found.band[0][0] == pytest.approx(upto)
    assert found.band[-1][0] == pytest.approx(600.0)


def test_the_outlook_narrows_as_readings_come() -> None:
    values = curve(1e-8, 0.7, 2e-10)
    spans = []
    for upto in (60.0, 190.0, 300.0):
        found = outlook(taken(values, upto=upto).stands[0])
        assert found is not None
        assert found.index is not None
        spans.append(found.index[1] / found.index[0])
    assert spans == sorted(spans, reverse=True)


def test_with_readings_enough_the_forecast_of_the_house_is_used() -> None:
    times = [float(t) for t in range(10, 130, 8)]
    hand = Hand(methods=("polarization-index",))
    hand.begin()
    rng = np.random.default_rng(7)
    for time in times:
        value = resistance(time, 1e-8, 0.7, 2e-10) * rng.normal(1, 0.002)
        hand.read(time, format_exact(float(f"{value:.5g}"), "resistance"), marked=False)
    found = outlook(hand.stands[0])
    assert found is not None
    assert found.source == FORECAST
    assert found.estimate is not None
    assert found.index is not None
    truth = resistance(600.0, 1e-8, 0.7, 2e-10) / resistance(60.0, 1e-8, 0.7, 2e-10)
    assert found.index[0] < found.estimate < found.index[1]
    assert found.estimate == pytest.approx(truth, rel=0.15)


@pytest.mark.parametrize(
    ("values", "why"),
    (
        ({15.0: 378e6}, "one reading"),
        (dict.fromkeys(MARKS, 1e9), "all of them"),
    ),
)
def test_there_is_no_outlook_with_too_few_readings_or_after_the_last(
    values: dict[float, float], why: str
) -> None:
    assert outlook(taken(values).stands[0]) is None, why


def test_there_is_no_outlook_once_it_ended_and_none_on_steps() -> None:
    hand = taken({15.0: 378e6, 30.0: 641e6, 60.0: 1.08e9})
    assert outlook(hand.stands[0]) is not None
    hand.do("ended", how="stopped", voltage="")
    assert outlook(hand.stands[0]) is None
    steps = Hand(methods=("step-voltage",))
    place = next(k for k, sheet in enumerate(steps.sheets) if sheet.method == "step-voltage")
    assert outlook(steps.stands[place]) is None


def test_after_the_short_circuit_nothing_counts_as_resistance() -> None:
    hand = Hand(methods=("dielectric-discharge",))
    hand.begin()
    for time, text in ((60.0, "1 GΩ"), (600.0, "4 GΩ")):
        hand.read(time, text)
    hand.read(1860.0, "12 nA")
    assert [time for time, _ in points(hand.stands[0])] == [60.0, 600.0]
    last = hand.stands[0].readings[-1]
    assert hand.stands[0].resistance(last) is None
    assert odd(hand.stands[0], last) is None
