"""Robust lines: against scipy, against every order of the readings, and where bounds leave things open."""

from __future__ import annotations

import itertools
import math
import warnings

import numpy as np
import pytest
import scipy.stats as st
from hypothesis import given, settings
from hypothesis import strategies as draw

from soakage.errors import UsageError
from soakage.physics.slope import crossing, mann_kendall, theil_sen

# Hollander and Wolfe, example 9.1, data as in the R package NSM3.
YEARS, RATIOS = [1, 2, 3, 4, 5], [1.26, 1.27, 1.12, 1.16, 1.03]
# Example of ci.theil in the R package statpsych: ties in time.
HOURS = [67, 28, 30, 28, 52, 40, 25, 37, 44, 10, 14, 20, 28, 40, 51]
MARKS = [21, 4, 9, 12, 35, 18, 10, 22, 24, 1, 6, 8, 13, 16, 19]


def series(seed: int, count: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    return np.sort(rng.uniform(0, 12, count)), rng.normal(size=count)


# ------------------------------------------------------------------------------------------- the slope
@pytest.mark.parametrize("count", (5, 6, 7, 9, 12, 20, 40, 61, 90))
def test_slope_and_interval_are_those_of_scipy(count: int) -> None:
    t, y = series(count, count)
    ours, theirs = theil_sen(t, y), st.theilslopes(y, t, 0.95)
    assert ours.slope == pytest.approx(theirs.slope, rel=1e-12)
    ordered = np.sort([(y[j] - y[i]) / (t[j] - t[i]) for i, j in itertools.combinations(range(count), 2)])
    # scipy rounds a normal approximation; ours is counted: they differ by one place of the ordered slopes at most.
    for own, other in ((ours.lower, theirs.low_slope), (ours.upper, theirs.high_slope)):
        assert abs(np.searchsorted(ordered, own - 1e-12) - np.searchsorted(ordered, other - 1e-12)) <= 1


def test_the_slope_of_the_textbook() -> None:
    assert theil_sen(YEARS, RATIOS).slope == pytest.approx(-0.05625)


@pytest.mark.parametrize(("count", "finite"), ((2, False), (3, False), (4, False), (5, True), (6, True)))
def test_five_readings_are_the_fewest_with_a_95_percent_interval(count: int, finite: bool) -> None:
    t, y = series(1, count)
    line = theil_sen(t, y)
    assert np.isfinite(line.slope)
    assert bool(np.isfinite(line.lower) & np.isfinite(line.upper)) is finite


def test_with_five_the_interval_runs_over_all_slopes_and_holds_59_of_60_orders() -> None:
    slopes = [(RATIOS[j] - RATIOS[i]) / (j - i) for i, j in itertools.combinations(range(5), 2)]
    line = theil_sen(YEARS, RATIOS)
    assert line.lower == pytest.approx(min(slopes))
    assert line.upper == pytest.approx(max(slopes))
    missed = 0
    for order in itertools.permutations(range(5)):
        found = theil_sen(YEARS, order)
        missed += not found.lower <= 0 <= found.upper
    assert missed == 2


@pytest.mark.parametrize("confidence", (0.5, 0.8, 0.9, 0.99))
def test_a_surer_interval_is_no_narrower(confidence: float) -> None:
    t, y = series(3, 12)
    wide, narrow = theil_sen(t, y, confidence=0.995), theil_sen(t, y, confidence=confidence)
    assert wide.lower <= narrow.lower <= narrow.slope <= narrow.upper <= wide.upper


def test_an_exact_line_is_found_exactly_and_one_slip_moves_it_little() -> None:
    t = np.arange(12.0)
    y = 21.0 - 0.1 * t
    assert theil_sen(t, y).slope == pytest.approx(-0.1)
    y[7] += math.log(1000)
    line = theil_sen(t, y)
    assert line.slope == pytest.approx(-0.1)
    assert line.level + line.slope * (t[0] - line.time) == pytest.approx(21.0)


def test_ties_in_time_make_no_slope() -> None:
    line = theil_sen([1, 1, 1], [1.0, 2.0, 3.0])
    assert np.isnan(line.slope)
    assert np.isnan(line.lower)


def test_a_confidence_beyond_one_is_refused() -> None:
    with pytest.raises(UsageError, match=r"Given: 95"):
        theil_sen(YEARS, RATIOS, confidence=95)


@settings(max_examples=40, deadline=None)
@given(
    draw.lists(draw.floats(-5, 5), min_size=5, max_size=14),
    draw.floats(-3, 3),
    draw.floats(0.1, 10),
    draw.integers(0, 99),
)
def test_shift_scale_and_order_carry_over(values: list[float], add: float, times: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    t = np.cumsum(rng.uniform(0.2, 2, len(values)))
    y = np.array(values)
    plain, moved = theil_sen(t, y), theil_sen(t + 7, times * y + add)
    np.testing.assert_allclose(moved.slope, times * plain.slope, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(moved.upper, times * plain.upper, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(moved.level, times * plain.level + add, rtol=1e-9, atol=1e-9)
    shuffled = rng.permutation(len(y))
    np.testing.assert_allclose(theil_sen(t[shuffled], y[shuffled]).slope, plain.slope, rtol=1e-12)
    mirrored = theil_sen(t, -y)
    np.testing.assert_allclose([mirrored.lower, mirrored.upper], [-plain.upper, -plain.lower], atol=1e-12)


def test_a_batch_is_its_members_and_nan_is_no_reading() -> None:
    rng = np.random.default_rng(5)
    t, y = np.sort(rng.uniform(0, 9, (3, 2, 11)), axis=-1), rng.normal(size=(3, 2, 11))
    y[0, 1, 4] = y[2, 0, 0] = np.nan
    bound = (rng.random(y.shape) < 0.2).astype(np.int8)
    whole, ranks = theil_sen(t, y, bound), mann_kendall(t, y, bound)
    assert whole.slope.shape == (3, 2)
    for place in np.ndindex(3, 2):
        keep = np.isfinite(y[place])
        alone = theil_sen(t[place][keep], y[place][keep], bound[place][keep])
        np.testing.assert_allclose([part[place] for part in whole], alone, rtol=1e-12)
        assert ranks.p[place] == mann_kendall(t[place][keep], y[place][keep], bound[place][keep]).p


def test_nothing_is_nothing_and_warns_of_nothing() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for values in ([], [1.0], [np.nan, np.nan]):
            times = np.arange(len(values))
            assert np.isnan(theil_sen(times, values).slope)
            assert np.isnan(mann_kendall(times, values).p)


# --------------------------------------------------------------------------------------------- bounds
def test_bounds_that_decide_no_pair_leave_the_slope_open() -> None:
    line = theil_sen(np.arange(6.0), np.full(6, 2.0), np.ones(6, np.int8))
    assert not np.isfinite(line.slope)
    assert line.lower == -np.inf
    assert line.upper == np.inf


def test_a_bound_pulls_as_far_as_it_goes_and_no_further() -> None:
    """The first reading was over range: the truth is above, so the line falls at least as fast."""
    t, y = np.arange(8.0), np.array([2.0, 1.8, 1.7, 1.4, 1.3, 1.1, 0.9, 0.8])
    bound = np.zeros(8, np.int8)
    bound[0] = 1
    held = theil_sen(t, y, bound)
    for truth in (2.0, 3.0, 50.0):
        y[0] = truth
        exact = theil_sen(t, y)
        assert held.lower <= exact.slope <= held.upper
    assert held.slope <= theil_sen(t, np.r_[2.0, y[1:]]).slope


@pytest.mark.parametrize("share", (0.2, 0.5, 0.8))
def test_with_bounds_of_either_kind_the_interval_still_holds_the_truth(share: float) -> None:
    """Theory: at least 95 %, since open pairs only take decisions away."""
    rng = np.random.default_rng(31)
    t = np.sort(rng.uniform(0, 10, (1500, 9)), axis=-1)
    truth = 0.3 * rng.normal(size=t.shape) - 0.2 * t
    bound = (np.sign(rng.normal(size=t.shape)) * (rng.random(t.shape) < share)).astype(np.int8)
    held = theil_sen(t, truth - bound * rng.uniform(0, 1, t.shape), bound)
    assert ((held.lower <= -0.2) & (held.upper >= -0.2)).mean() >= 0.95


# ---------------------------------------------------------------------------------------- Mann-Kendall
@pytest.mark.parametrize("count", (3, 4, 5, 8, 13, 25, 60))
def test_the_exact_chance_is_that_of_scipy(count: int) -> None:
    t, y = series(100 + count, count)
    y = y - 0.2 * t
    ours, theirs = mann_kendall(t, y), st.kendalltau(t, y, method="exact")
    assert bool(ours.exact)
    assert ours.p == pytest.approx(theirs.pvalue, rel=1e-9)
    assert ours.tau == pytest.approx(theirs.statistic, rel=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_with_ties_the_variance_is_that_of_scipy(seed: int) -> None:
    """scipy has no continuity correction: its z times (|S| - 1) / |S| is ours."""
    rng = np.random.default_rng(seed)
    t, y = rng.integers(0, 8, 20), rng.integers(0, 5, 20) + np.arange(20) // 4
    ours, theirs = mann_kendall(t, y), st.kendalltau(t, y, method="asymptotic")
    assert not ours.exact
    assert ours.tau == pytest.approx(theirs.statistic, rel=1e-12)
    if abs(ours.score) >= 1:
        z = st.norm.isf(theirs.pvalue / 2) * (abs(ours.score) - 1) / abs(ours.score)
        assert ours.p == pytest.approx(min(1.0, 2 * st.norm.sf(z)), rel=1e-9)


def test_every_order_of_six_gives_the_chance() -> None:
    scores = np.array([mann_kendall(range(6), order).score for order in itertools.permutations(range(6))])
    for order in itertools.islice(itertools.permutations(range(6)), 0, 720, 37):
        test = mann_kendall(range(6), order)
        assert test.p == pytest.approx((np.abs(scores) >= abs(test.score)).mean())


def test_pairs_left_open_by_bounds_score_nothing() -> None:
    """> 2 then 1: certainly lower. > 2 then 3: open."""
    bound = [1, 0, 0]
    assert mann_kendall([0, 1, 2], [2.0, 1.0, 0.5], bound).score == -3
    assert mann_kendall([0, 1, 2], [2.0, 3.0, 4.0], bound).score == 1
    assert np.isnan(mann_kendall([0, 1, 2], [2.0, 2.0, 2.0], [1, 1, 1]).p)


def test_bounded_variance_is_that_of_all_orders() -> None:
    """Permutation variance, over all orders of six readings, two of them bounds."""
    values, bounds = np.array([1.0, 2.0, 3.0, 4.0, 2.5, 1.5]), np.array([0, 1, 0, 0, 1, 0])
    orders = [list(order) for order in itertools.permutations(range(6))]
    scores = np.array([mann_kendall(range(6), values[o], bounds[o]).score for o in orders])
    here = mann_kendall(range(6), values, bounds)
    z = max(abs(float(here.score)) - 1, 0) / scores.std()
    assert here.p == pytest.approx(min(1.0, 2 * st.norm.sf(z)))


# -------------------------------------------------------------------------------------------- crossing
def test_a_line_without_scatter_meets_a_level_where_the_figures_say() -> None:
    """ln R = 21 - 0.2 t meets ln R = 18 at t = 15 (derived)."""
    t = np.arange(8.0)
    met = crossing(theil_sen(t, 21 - 0.2 * t), 18.0)
    assert (met.time, met.earliest, met.latest) == pytest.approx((15.0, 15.0, 15.0), abs=1e-6)


@pytest.mark.parametrize("level", (15.0, 18.0, 19.9, 20.3, 25.0))
def test_the_interval_is_where_the_band_meets_the_level(level: float) -> None:
    t = np.arange(10.0)
    line = theil_sen(t, 21 - 0.2 * t + 0.1 * np.random.default_rng(4).normal(size=10))
    met = crossing(line, level)
    assert met.earliest < met.time < met.latest
    for at, sign in ((met.earliest, -1), (met.latest, 1)):
        x = float(at - line.time)
        width = (line.upper - line.slope) if sign * x > 0 else (line.slope - line.lower)
        band = line.level + line.slope * x + sign * math.hypot(line.level_uncertainty, width * x)
        assert band == pytest.approx(level)


def test_an_uncertain_direction_meets_nothing() -> None:
    t, y = series(9, 9)
    line = theil_sen(t, y)
    assert line.lower < 0 < line.upper
    assert np.isnan(crossing(line, -30.0)).all()


def test_a_rising_line_is_the_mirror_of_a_falling_one() -> None:
    t = np.arange(10.0)
    y = -0.2 * t + 0.1 * np.random.default_rng(4).normal(size=10)
    down, up = crossing(theil_sen(t, y), -4.0), crossing(theil_sen(t, -y), 4.0)
    np.testing.assert_allclose(down, up)


def test_the_date_is_held_nineteen_times_in_twenty() -> None:
    rng = np.random.default_rng(12)
    t = np.arange(10.0) + rng.uniform(-0.3, 0.3, (800, 10))
    met = crossing(theil_sen(t, -0.3 * t + 0.2 * rng.normal(size=t.shape)), -0.3 * 14)
    good = np.isfinite(met.time)
    assert good.mean() > 0.98
    assert 0.92 <= ((met.earliest <= 14) & (met.latest >= 14))[good].mean() <= 0.98
