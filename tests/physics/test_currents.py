"""Currents against quadrature, the published traps, and their own laws of scale."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from soakage.errors import UsageError
from soakage.physics.currents import power_law_ramp_current, ramp_current, staircase_current, step_current
from soakage.physics.linearity import voltage_dependence
from soakage.physics.responses import Branches, PowerLaw, power_law_ladder
from soakage.physics.steps import step_table

# 2 uA per kV at one minute with n 0.8.
PERFECT = PowerLaw(2e-9 * 60**0.8, 0.8, offset=0.0)
TIME = np.array([0.5, 3.0, 20.0, 75.0, 300.0])
EXPONENTS = st.floats(0.2, 1.5)


@pytest.mark.parametrize("n", (0.5, 0.8, 1.0, 1.2))
@pytest.mark.parametrize("seconds", (2.0, 60.0, 900.0))
def test_the_ramp_is_the_integral_of_the_step(n: float, seconds: float) -> None:
    law = PowerLaw(1e-9, n, 1e-11, 1e6, 0.25e-6)

    def answer(since: float) -> float:
        return float(law.step(np.array([since]))[0])

    # Piece by piece: the charging current and the start of the power law are over in the first second.
    pieces = [0.0, *np.geomspace(1e-3, seconds, 13)]
    integral = sum(quad(answer, a, b, epsrel=1e-11)[0] for a, b in itertools.pairwise(pieces))
    assert ramp_current(law, seconds, 33.3) == pytest.approx(33.3 * integral, rel=1e-7)


def test_the_ramp_without_offset_exists_only_below_an_exponent_of_one() -> None:
    below = power_law_ramp_current(900.0, 33.0, 1e-9, 0.8, offset=0.0)
    assert below == pytest.approx(33.0 * 1e-9 * 900**0.2 / 0.2, rel=1e-9)
    assert np.isnan(power_law_ramp_current(900.0, 33.0, 1e-9, 1.0, offset=0.0))


def test_the_ramp_near_an_exponent_of_one_passes_into_its_logarithm() -> None:
    near = power_law_ramp_current(900.0, 1.0, 1.0, 1.0 + 1e-9)
    assert power_law_ramp_current(900.0, 1.0, 1.0, 1.0) == pytest.approx(np.log(900.01 / 0.01), rel=1e-12)
    assert near == pytest.approx(np.log(900.01 / 0.01), rel=1e-6)


@given(EXPONENTS, st.floats(0.0, 1e-9), st.floats(0.1, 50.0))
def test_currents_scale_with_voltage_and_with_the_size_of_the_winding(
    n: float, g: float, scale: float
) -> None:
    edges, levels = [0.0, 30.0, 90.0], np.array([1e3, 2e3, 0.0])
    one = staircase_current(PowerLaw(1e-9, n, g), TIME, edges, levels)
    np.testing.assert_allclose(
        staircase_current(PowerLaw(1e-9, n, g), TIME, edges, scale * levels),
        scale * one,
        rtol=1e-10,
        atol=1e-30,
    )
    larger = staircase_current(PowerLaw(scale * 1e-9, n, scale * g), TIME, edges, levels)
    np.testing.assert_allclose(larger, scale * one, rtol=1e-10, atol=1e-30)


def test_a_batch_equals_its_records_one_by_one() -> None:
    a, n, g = np.array([1e-9, 3e-9, 0.0]), np.array([0.5, 0.8, 1.0]), np.array([1e-11, 0.0, 1e-9])
    r, c = np.array([1e6, 0.0, 5e5]), np.array([1e-7, 1e-7, 0.0])
    edges, levels = [0.0, 60.0, 120.0], [500.0, 1000.0, 0.0]
    batch = staircase_current(PowerLaw(a, n, g, r, c), TIME, edges, levels)
    ramp = ramp_current(PowerLaw(a, n, g, r, c), TIME, [10.0, 20.0, 30.0], until=100.0)
    for k in range(3):
        law = PowerLaw(a[k], n[k], g[k], r[k], c[k])
        np.testing.assert_allclose(batch[k], staircase_current(law, TIME, edges, levels), rtol=1e-13)
        np.testing.assert_allclose(ramp[k], ramp_current(law, TIME, 10.0 * (k + 1), until=100.0), rtol=1e-13)
        assert step_current(75.0, 100.0, a[k], n[k], g[k]) == pytest.approx(
            step_current([75.0, 80.0], 100.0, a[k], n[k], g[k])[0]
        )


def test_a_batch_of_branches_equals_its_records_one_by_one() -> None:
    r, c = np.array([[1e9, 1e10], [2e9, 3e9]]), np.array([[1e-9, 2e-9], [4e-9, 1e-9]])
    g = np.array([1e-11, 0.0])
    batch = staircase_current(Branches(r, c, g), TIME, [0.0, 60.0], [1e3, 0.0], edge_duration=0.5)
    for k in range(2):
        one = staircase_current(Branches(r[k], c[k], g[k]), TIME, [0.0, 60.0], [1e3, 0.0], edge_duration=0.5)
        np.testing.assert_allclose(batch[k], one, rtol=1e-13)


def test_a_sample_at_an_edge_belongs_to_the_level_before() -> None:
    law = PowerLaw(0.0, 0.8, 1e-9)
    current = staircase_current(law, [0.0, 1.0, 60.0, 60.001], [0.0, 60.0], [1e3, 2e3])
    np.testing.assert_allclose(current, [0.0, 1e-6, 1e-6, 2e-6])


def test_a_step_that_takes_no_time_is_the_limit_of_one_that_does() -> None:
    jump = staircase_current(PERFECT, [30.0, 90.0], [0.0, 60.0], [1e3, 2e3])
    slope = staircase_current(PERFECT, [30.0, 90.0], [0.0, 60.0], [1e3, 2e3], edge_duration=1e-3)
    np.testing.assert_allclose(slope, jump, rtol=1e-4)


def test_edges_and_levels_must_be_equally_many() -> None:
    with pytest.raises(UsageError, match="one level per edge"):
        staircase_current(PERFECT, TIME, [0.0, 60.0], [1e3])


def end_of_hold_rise(n: float, share: float, steps: int = 5, hold: float = 60.0) -> float:
    edges = np.arange(steps) * hold
    law = PowerLaw((1 - share) * 60.0**n, n, share, offset=0.0)
    time = edges + hold
    table = step_table(
        time, np.arange(1.0, steps + 1), staircase_current(law, time, edges, np.arange(1.0, steps + 1))
    )
    assert table.equal_holds
    return 1.0 - float(voltage_dependence(table.resistance[0], table.resistance[-1]))


@pytest.mark.parametrize(
    ("n", "share", "rise"),
    (
        (0.6, 0.0, 1.67), (0.6, 0.2, 1.47), (0.6, 0.6, 1.19),
        (0.8, 0.0, 1.93), (0.8, 0.2, 1.62), (0.8, 0.6, 1.24),
        (1.0, 0.0, 2.19), (1.0, 0.2, 1.77), (1.0, 0.6, 1.28),
    ),
)  # fmt: skip
def test_a_linear_winding_seems_to_rise_over_five_equal_steps(n: float, share: float, rise: float) -> None:
    # Table of end-of-step resistance relative to the first step (derived).
    assert end_of_hold_rise(n, share) == pytest.approx(rise, abs=0.006)


@pytest.mark.parametrize(
    ("n", "part", "holds"),
    (
        (0.301, 0.1, (2.192, 1.857, 1.659)),
        (0.602, 0.1, (2.548, 2.174, 1.955)),
        (0.800, 0.1, (2.782, 2.391, 2.163)),
        (0.301, 0.2, (3.235, 2.696, 2.358)),
        (0.602, 0.2, (3.610, 3.048, 2.695)),
        (0.800, 0.2, (3.849, 3.281, 2.924)),
    ),
)
def test_graded_times_keep_absorption_in_proportion_to_the_voltage(
    n: float, part: float, holds: tuple[float, ...]
) -> None:
    # Printed durations in minutes after a first step of 10 minutes (derived).
    edges = np.concatenate([[0.0, 600.0], 600.0 + 60.0 * np.cumsum(holds[:-1])])
    ends = np.concatenate([[600.0], 600.0 + 60.0 * np.cumsum(holds)])
    levels = 1.0 + part * np.arange(len(holds) + 1)
    current = staircase_current(PowerLaw(1.0, n, offset=0.0), ends, edges, levels)
    np.testing.assert_allclose(current / levels, current[0], rtol=3e-4)


@pytest.mark.parametrize(
    ("per_decade", "n", "worst"),
    ((1, 0.6, 5.18e-2), (1, 0.8, 8.13e-2), (1, 1.0, 11.6e-2), (2, 0.8, 0.143e-2), (2, 1.0, 0.224e-2)),
)
def test_a_ladder_departs_from_its_power_law_as_predicted(per_decade: int, n: float, worst: float) -> None:
    t = np.geomspace(1.0, 1e4, 600)
    ladder = power_law_ladder(1.0, n, 1.0, 1e4, per_decade)
    departure = np.abs(ladder.branches.step(t) / t**-n - 1.0).max()
    assert departure == pytest.approx(worst, rel=0.08)
    assert departure == pytest.approx(ladder.ripple, rel=0.1)


def test_a_held_ramp_settles_to_conduction() -> None:
    law = Branches([1e6], [1e-6], 1e-9)
    current = ramp_current(law, [-1.0, 50.0, 1000.0], 10.0, until=100.0)
    np.testing.assert_allclose(current, [0.0, 10.5e-6, 1e-6], rtol=1e-9)
