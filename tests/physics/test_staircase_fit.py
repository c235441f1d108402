"""Staircases without their memory: what was put in comes back, healthy ones stay silent, risen ones do not."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lfilter

from soakage.errors import UsageError
from soakage.physics.correlated import averaged_fit, bin_means, slow_covariance
from soakage.physics.currents import staircase_current
from soakage.physics.linearity import voltage_dependence
from soakage.physics.responses import PowerLaw
from soakage.physics.staircase_fit import REASONS, StaircaseFit, staircase_fit
from soakage.physics.steps import step_levels, step_table

UNIT = 1e-9
FIVE = (60.0,) * 5


def slow(random: np.random.Generator, count: int, correlation: float = 20.0) -> np.ndarray:
    a = np.exp(-1.0 / correlation)
    e = random.normal(size=count) * np.sqrt(1 - a * a)
    e[0] = random.normal()
    return np.asarray(lfilter([1.0], [1.0, -a], e))


def record(
    holds: tuple[float, ...] = FIVE,
    n: float = 0.8,
    share: float = 0.2,
    rise: tuple[float, float] = (1.0, 1.0),
    noise: float = 0.0,
    half: bool = False,
    seed: int = 0,
    late: float = 0.0,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """One reading a second; each level after the first begins ``late`` after a row."""
    random = np.random.default_rng(seed)
    edges = np.concatenate([[0.0], np.cumsum(holds)[:-1] + late])
    levels = 1e3 * np.arange(1, len(holds) + 1)
    t = np.arange(1.0, sum(holds) + 0.5)
    level = np.searchsorted(edges, t, side="left") - 1
    absorbed = staircase_current(PowerLaw((1 - share) * 60**n * UNIT, n), t, edges, levels)
    factor = np.ones(len(holds))
    factor[-2:] = rise
    current = absorbed + share * UNIT * factor[level] * levels[level]
    z = random.normal(size=t.size)
    if half:
        z = np.sqrt(0.5) * z + np.sqrt(0.5) * slow(random, t.size)
    return t, levels[level], current * (1 + noise * z)


@pytest.mark.parametrize(
    "holds", (FIVE, (600.0, 60.0, 60.0, 60.0), (45.0, 180.0, 30.0, 90.0), (60.0, 60.0, 20.0))
)
@pytest.mark.parametrize(("n", "share"), ((0.5, 0.02), (0.8, 0.2), (1.1, 0.7)))
def test_a_staircase_without_noise_gives_back_its_winding(
    holds: tuple[float, ...], n: float, share: float
) -> None:
    fit = staircase_fit(*record(holds, n, share, late=0.3))
    assert fit.absorption_exponent == pytest.approx(n, abs=3e-3)
    assert fit.absorption_coefficient == pytest.approx((1 - share) * 60**n * UNIT, rel=0.02)
    np.testing.assert_allclose(fit.conductance, share * UNIT, rtol=0.01, atol=4e-3 * UNIT)
    assert abs(fit.excess_current_share) < 2e-3
    assert not fit.excess_found
    t, _, current = record(holds, n, share, late=0.3)
    steady = (t % 1.0 == 0) & (np.abs(fit.predicted / current - 1) < 0.5)
    assert np.median(np.abs(fit.predicted[steady] / current[steady] - 1)) < 1e-3


def test_edges_are_found_within_their_gaps() -> None:
    fit = staircase_fit(*record(late=0.7, noise=1e-5))
    np.testing.assert_allclose(fit.edge[1:], np.cumsum(FIVE)[:-1] + 0.7, atol=0.05)
    assert (fit.edge_uncertainty[1:] < 0.2).all()
    known = staircase_fit(
        *record(late=0.7, noise=1e-5), edges=np.concatenate([[0.0], np.cumsum(FIVE)[:-1] + 0.7])
    )
    assert (known.edge_uncertainty < 1e-4).all()
    assert known.exponent_uncertainty < fit.exponent_uncertainty


@pytest.mark.parametrize(
    ("share", "rise", "excess", "raw"),
    (
        (0.05, (1.25, 1.5), 0.043, 1.78), (0.2, (1.25, 1.5), 0.138, 1.41), (0.5, (1.25, 1.5), 0.247, 1.00),
        (0.05, (1.5, 2.5), 0.119, 1.64), (0.2, (1.5, 2.5), 0.325, 1.11), (0.5, (1.5, 2.5), 0.495, 0.67),
    ),
)  # fmt: skip
def test_the_excess_current_share_of_the_table(
    share: float, rise: tuple[float, float], excess: float, raw: float
) -> None:
    # Five steps of 60 s, n 0.8 (derived): the plain ratio of resistances hides what has risen.
    t, v, i = record(share=share, rise=rise)
    fit = staircase_fit(t, v, i)
    assert fit.excess_current_share == pytest.approx(excess, abs=3e-3)
    assert fit.excess_found
    table = step_table(t, v, i)
    assert 1 - voltage_dependence(table.resistance[0], table.resistance[-1]) == pytest.approx(raw, abs=0.03)


def test_a_perfect_winding_in_unequal_steps_seems_to_fall_and_is_not_told() -> None:
    t, v, i = record((600.0, 60.0, 60.0, 60.0), share=0.0, noise=0.01, seed=3)
    table = step_table(t, v, i)
    assert np.nanmax(voltage_dependence(table.resistance[0], table.resistance)) > 0.25
    assert not staircase_fit(t, v, i).excess_found


@pytest.mark.parametrize("half", (False, True))
@pytest.mark.parametrize("holds", (FIVE, (600.0, 60.0, 60.0, 60.0), (60.0, 60.0, 60.0, 25.0)))
def test_healthy_staircases_stay_silent_and_risen_ones_do_not(holds: tuple[float, ...], half: bool) -> None:
    def told(share: float, rise: tuple[float, float]) -> list[StaircaseFit]:
        return [
            staircase_fit(*record(holds, 0.8, share, rise, 0.01, half, seed, late=(seed % 7) / 7))
            for seed in range(15)
        ]

    assert sum(fit.excess_found for fit in told(0.3, (1.0, 1.0))) == 0
    assert sum(fit.excess_found for fit in told(0.125, (1.25, 1.5))) >= 14


@pytest.mark.parametrize("half", (False, True))
def test_intervals_cover_under_white_and_slow_noise(half: bool) -> None:
    fits = [staircase_fit(*record(noise=0.01, half=half, seed=100 + k)) for k in range(60)]
    inside = sum(fit.excess_lower <= 0 <= fit.excess_upper for fit in fits)
    # 54 expected; three standard deviations of that count are 7.
    assert inside >= 47
    assert np.median([fit.scatter for fit in fits]) == pytest.approx(0.01, rel=0.15)
    assert (np.median([fit.correlation for fit in fits]) > 0.3) == half


def test_the_fit_does_not_depend_on_units_or_size() -> None:
    t, v, i = record(noise=0.01, seed=5)
    one, other = staircase_fit(t, v, i), staircase_fit(t, 7.0 * v, 1e3 * i)
    assert other.excess_current_share == pytest.approx(one.excess_current_share, rel=1e-6)
    np.testing.assert_allclose(other.conductance, one.conductance * 1e3 / 7, rtol=1e-6)


def test_missing_currents_are_left_out() -> None:
    t, v, i = record(noise=0.001)
    i[::7] = np.nan
    assert abs(staircase_fit(t, v, i).excess_current_share) < 0.01


def test_records_without_a_fit_say_why() -> None:
    t, v, i = record()
    reasons = [
        staircase_fit(t[:50], v[:50], i[:50]),
        staircase_fit(t[59::60], v[59::60], i[59::60]),
        staircase_fit(t, v, -i),
    ]
    said = [REASONS[fit.reason] for fit in reasons]
    assert said[0].startswith("fewer than two")
    assert said[1].startswith("a level has fewer")
    assert said[2].startswith("the current is not")
    assert all(np.isnan(fit.excess_current_share) and not fit.excess_found for fit in reasons)
    with pytest.raises(UsageError, match="do not rise"):
        staircase_fit([1.0, 1.0], [1e3, 1e3], [1e-6, 1e-6])


@pytest.mark.parametrize("correlation", (8.0, 50.0))
def test_the_covariance_of_bins_is_that_of_their_readings(correlation: float) -> None:
    t = np.sort(np.random.default_rng(1).uniform(0, 300, 60))
    bins = np.repeat(np.arange(12), 5)
    full = np.exp(-np.abs(t[:, None] - t) / correlation)
    expected = bin_means(bin_means(full, bins).T, bins)
    np.testing.assert_allclose(slow_covariance(t, bins, correlation), expected, rtol=1e-12)


def test_white_noise_alone_is_least_squares() -> None:
    random = np.random.default_rng(2)
    t = np.arange(400.0)
    y = 3.0 + 0.01 * t + random.normal(size=400)
    bins = np.repeat(np.arange(40), 10)
    design = np.stack([np.ones(400), t])
    fit = averaged_fit(
        bin_means(design, bins).T, bin_means(y, bins), np.zeros(2), t, bins, np.diff(y), np.diff(t)
    )
    plain = np.linalg.lstsq(design.T, y, rcond=None)[0]
    np.testing.assert_allclose(fit.estimate, plain, rtol=0.05)
    assert fit.scatter == pytest.approx(1.0, rel=0.1)
    assert fit.share < 0.3


def test_levels_stand_from_the_row_before_them() -> None:
    label, start = step_levels([0.0, 1.0, 60.0, 61.0, 120.0, 121.0], [0.0, 1e3, 1e3, 2e3, 2e3, 0.0])
    np.testing.assert_array_equal(label, [-1, 0, 0, 1, 1, -1])
    np.testing.assert_array_equal(start, [0.0, 60.0])
    known, given = step_levels([1.0, 60.0, 61.0], [1e3, 1e3, 2e3], [0.0, 60.5])
    np.testing.assert_array_equal(known, [0, 0, 1])
    np.testing.assert_array_equal(given, [0.0, 60.5])
