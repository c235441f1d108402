"""Temperature rules as rules: range, base, flag, and the slope their uncertainty needs."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.standards.criterion import TemperatureRule
from soakage.standards.library import library
from soakage.standards.temperature import factor, sensitivity

RULES = library().temperature_rules
THERMOSETTING, HALVING = RULES["ieee-43-2013.thermosetting"], RULES["ieee-43-2013.thermoplastic"]
OIL, SOLID = RULES["neta-100-14-1.oil"], RULES["neta-100-14-1.solid"]


def ends(rule: TemperatureRule) -> tuple[float, float]:
    starts = [p.start if p.start is not None else min(p.temperatures, default=-40.0) for p in rule.pieces]
    stops = [p.to if p.to is not None else max(p.temperatures, default=120.0) for p in rule.pieces]
    return min(starts), max(stops)


def base_of(rule: TemperatureRule) -> float:
    return rule.base if rule.base is not None else rule.examples[0][1]


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.id)
def test_each_example_of_each_rule(rule: TemperatureRule) -> None:
    for temperature, base, expected in rule.examples:
        assert factor(rule, temperature, base).value == pytest.approx(expected, rel=1e-3), temperature


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.id)
def test_a_warmer_reading_is_never_referred_lower(rule: TemperatureRule) -> None:
    low, high = ends(rule)
    factors = [factor(rule, low + k * (high - low) / 200, base_of(rule)).value for k in range(201)]
    known = [value for value in factors if value is not None]
    assert len(known) > 190
    assert known == sorted(known)
    assert all(value > 0 for value in known)


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.id)
def test_a_reading_at_the_base_is_left_as_it_is(rule: TemperatureRule) -> None:
    at_base = factor(rule, base_of(rule), base_of(rule)).value
    assert at_base == pytest.approx(1.0, abs=2e-3)


@pytest.mark.parametrize(
    ("rule", "temperature"),
    (
        (THERMOSETTING, 9.99),
        (THERMOSETTING, 85.01),
        (OIL, -10.01),
        (OIL, 110.01),
        (SOLID, -10.5),
        (SOLID, 111.0),
    ),
)
def test_beyond_its_range_a_rule_gives_nothing_and_says_its_range(
    rule: TemperatureRule, temperature: float
) -> None:
    result = factor(rule, temperature, base_of(rule))
    assert result.value is None
    assert "outside the range" in result.reason
    assert "no value is made up" in result.reason


@pytest.mark.parametrize(
    ("rule", "temperature"), ((THERMOSETTING, 10.0), (THERMOSETTING, 85.0), (OIL, -10.0), (OIL, 110.0))
)
def test_the_ends_belong_to_the_range_whatever_the_last_digit(
    rule: TemperatureRule, temperature: float
) -> None:
    for typed in (temperature, temperature + 273.15 - 273.15):
        assert factor(rule, typed, base_of(rule)).value is not None


def test_a_rule_of_one_base_refuses_another() -> None:
    result = factor(THERMOSETTING, 30.0, 20.0)
    assert result.value is None
    assert "20" in result.reason
    assert "40" in result.reason
    assert factor(HALVING, 30.0, 20.0).value == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("temperature", "flagged"), ((10.0, False), (9.9, True), (70.0, False), (70.1, True))
)
def test_the_halving_is_flagged_beyond_30_kelvin_and_still_used(temperature: float, flagged: bool) -> None:
    result = factor(HALVING, temperature, 40.0)
    assert result.value is not None
    assert bool(result.flag) == flagged


@given(st.floats(-10.0, 110.0), st.floats(-10.0, 110.0))
def test_the_halving_chains_to_any_base(a: float, b: float) -> None:
    # R at b, from a by way of 40 degC or at once (derived)
    there = factor(HALVING, a, 40.0).value or 0.0
    back = factor(HALVING, b, 40.0).value or 0.0
    assert factor(HALVING, a, b).value == pytest.approx(there / back, rel=1e-9)


@given(st.floats(-9.9, 109.9))
def test_tables_run_through_their_rows_without_a_jump(temperature: float) -> None:
    for rule in (OIL, SOLID):
        a, b = (factor(rule, temperature + d, 20.0).value or 0.0 for d in (-0.01, 0.01))
        assert 1.0 <= b / a < 1.01


def test_the_slope_of_a_halving_is_that_of_the_uncertainty_example() -> None:
    # 49 (derived): ln 2 / 10 per kelvin; 5 % and 2 K give 14.74 %
    slope = sensitivity(HALVING, 25.0, 40.0)
    assert slope == pytest.approx(math.log(2) / 10, rel=1e-6)
    assert math.hypot(0.05, (slope or 0.0) * 2.0) == pytest.approx(0.1474, abs=1e-4)


def test_outside_its_range_a_rule_has_no_slope() -> None:
    assert sensitivity(THERMOSETTING, 5.0, 40.0) is None
