"""Drying: its shape recognised, its level foreseen as often as said, against simulated courses and by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from soakage.errors import UsageError
from soakage.physics.dry_out import (
    AT_MINIMUM,
    FALLING,
    FALLING_AGAIN,
    FEWEST_FOR_FIT,
    LEVELLING,
    RISING,
    STEADY,
    TOO_FEW,
    drying_course,
    exponential_approach,
)

HOUR = 3600.0
HOLD, TOLERANCE = 5 * HOUR, 0.05


def course(hours: np.ndarray, tau: float = 8.0, rise: float = 2.0) -> np.ndarray:
    """A fall with warming to a minimum at 4 h, then ln R rises exponentially to that of 1 GOhm; invented."""
    after = -rise * np.exp(-np.maximum(hours - 4.0, 0.0) / tau)
    before = 0.4 * np.maximum(4.0 - hours, 0.0)
    return np.asarray(1e9 * np.exp(after + before))


def level_from(tau: float, rise: float, hold: float, tolerance: float) -> float:
    """When rise exp(-t/tau)(1 - exp(-hold/tau)) has come down to ln(1 + tolerance), found by bisection."""
    low, high = 0.0, 100.0 * tau
    for _ in range(200):
        middle = (low + high) / 2
        change = rise * (math.exp(-middle / tau) - math.exp(-(middle + hold) / tau))
        low, high = (middle, high) if change > math.log1p(tolerance) else (low, middle)
    return low


@pytest.mark.parametrize(
    ("hours", "stage"),
    (
        ((0, 2), TOO_FEW),
        ((0, 1, 2, 3), FALLING),
        ((0, 2, 4, 6, 8, 10), RISING),
        (tuple(range(0, 24, 2)), RISING),
        (tuple(range(0, 61, 2)), STEADY),
    ),
)
def test_the_stages_come_in_their_order(hours: tuple[int, ...], stage: str) -> None:
    t = np.array(hours, dtype=float)
    assert drying_course(t * HOUR, course(t), HOLD, TOLERANCE).stage == stage


def test_a_pause_shorter_than_the_hold_is_levelling_off() -> None:
    t = np.arange(0, 61, 2.0)
    found = drying_course(t * HOUR, course(t), 48 * HOUR, TOLERANCE)
    assert found.stage == LEVELLING
    assert 12 * HOUR < found.steady_for < 48 * HOUR


def test_the_flat_bottom_is_a_minimum_never_steady() -> None:
    t = np.arange(0, 30, 3.0)
    r = np.where(t < 6, 4e8 - 4e7 * t, 1.6e8)
    found = drying_course(t * HOUR, r, HOLD, TOLERANCE)
    assert found.stage == AT_MINIMUM
    assert found.fell
    assert not found.rose
    assert found.steady_for >= 20 * HOUR


def test_insulation_that_was_dry_is_steady_without_a_rise() -> None:
    t = np.arange(0, 30, 3.0)
    found = drying_course(t * HOUR, np.full(10, 2e9), HOLD, TOLERANCE)
    assert found.stage == STEADY
    assert not found.fell
    assert not found.rose


def test_a_second_fall_is_seen() -> None:
    t = np.arange(0, 40, 2.0)
    r = course(t)
    r[-2:] *= (0.7, 0.5)
    assert drying_course(t * HOUR, r, HOLD, TOLERANCE).stage == FALLING_AGAIN


@pytest.mark.parametrize("noise", (0.01, 0.03))
def test_scatter_is_not_taken_for_a_shape(noise: float) -> None:
    rng, t = np.random.default_rng(5), np.arange(0, 80, 2.0)
    stages = [
        drying_course(
            t * HOUR, course(t) * np.exp(noise * rng.standard_normal(len(t))), HOLD, TOLERANCE
        ).stage
        for _ in range(200)
    ]
    assert stages.count(FALLING_AGAIN) <= 4
    assert stages.count(STEADY) >= 150


def test_an_exact_course_gives_its_constants_back() -> None:
    t = np.arange(0, 30, 2.0)
    found = exponential_approach(t * HOUR, course(t), HOLD, TOLERANCE)
    assert found.start == 4 * HOUR
    assert found.time_constant == pytest.approx(8 * HOUR, rel=1e-2)
    assert found.level == pytest.approx(1e9, rel=1e-2)
    assert found.levels_at == pytest.approx(4 * HOUR + HOUR * level_from(8.0, 2.0, 5.0, TOLERANCE), rel=1e-2)


def test_least_squares_of_an_outside_library_agree() -> None:
    from scipy.optimize import curve_fit

    rng, t = np.random.default_rng(11), np.arange(0, 26, 2.0)
    y = np.log(1e9) - 2.5 * np.exp(-t / 7.0) + 0.01 * rng.uniform(-1, 1, len(t))
    found = exponential_approach(t, np.exp(y), 5.0, TOLERANCE)
    best, covariance = curve_fit(lambda x, c, a, k: c - a * np.exp(-x / k), t, y, (20.0, 2.0, 5.0))
    # The weights of the robust fit move it by a part of the standard error at most.
    assert found.time_constant == pytest.approx(best[2], abs=1.5 * math.sqrt(covariance[2, 2]))
    width = found.time_constant_high - found.time_constant_low
    assert width == pytest.approx(2 * 1.81 * math.sqrt(covariance[2, 2]), rel=0.6)


@pytest.mark.parametrize(("count", "noise"), ((8, 0.02), (12, 0.02), (12, 0.05)))
def test_intervals_cover_as_often_as_they_say(count: int, noise: float) -> None:
    # Nominal 90 %; rises of e^1.5 to e^3.5, time constants of 4 to 12 h, read every 2 h: drawn anew each time.
    rng, inside, runs = np.random.default_rng(count), 0, 300
    for _ in range(runs):
        tau, rise, t = rng.uniform(4, 12), rng.uniform(1.5, 3.5), np.arange(count) * 2.0
        r = 1e9 * np.exp(-rise * np.exp(-t / tau) + noise * rng.standard_normal(count))
        found = exponential_approach(t, r, 5.0, TOLERANCE)
        inside += found.earliest <= level_from(tau, rise, 5.0, TOLERANCE) <= found.latest
    assert 0.82 <= inside / runs <= 0.97


def test_one_wild_reading_does_not_carry_the_fit() -> None:
    t = np.arange(0, 40, 2.0)
    rng = np.random.default_rng(2)
    r = course(t) * np.exp(0.01 * rng.standard_normal(len(t)))
    clean = exponential_approach(t * HOUR, r, HOLD, TOLERANCE)
    r[10] *= 0.5
    wild = exponential_approach(t * HOUR, r, HOLD, TOLERANCE)
    assert wild.time_constant == pytest.approx(clean.time_constant, rel=0.1)


def test_a_rise_that_does_not_bend_yet_has_no_latest() -> None:
    t, rng = np.arange(0, 12, 2.0), np.random.default_rng(4)
    r = 1e8 * np.exp(0.1 * t + 0.02 * rng.standard_normal(len(t)))
    found = exponential_approach(t * HOUR, r, HOLD, TOLERANCE)
    assert math.isinf(found.latest) or math.isnan(found.latest)


@pytest.mark.parametrize("count", (0, 2, FEWEST_FOR_FIT - 1))
def test_with_few_readings_nothing_is_estimated(count: int) -> None:
    t = np.arange(count) * 2.0
    assert math.isnan(exponential_approach(t, course(t + 4), 5.0, TOLERANCE).time_constant)


@pytest.mark.parametrize(
    ("time", "resistance"),
    (
        ([0.0, 2.0, 1.0], [1e9] * 3),
        ([0.0, 1.0], [1e9, -1.0]),
        ([0.0, 1.0], [1e9]),
        ([0.0, 1.0], [1e9, np.nan]),
    ),
)
def test_what_is_no_record_is_refused(time: list[float], resistance: list[float]) -> None:
    with pytest.raises(UsageError, match="rising times"):
        drying_course(time, resistance, HOLD, TOLERANCE)
    with pytest.raises(UsageError, match="rising times"):
        exponential_approach(time, resistance, HOLD, TOLERANCE)
