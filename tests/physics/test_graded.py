"""Graded steps: the printed tables stand in the references; here what the plan is for."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.errors import UsageError
from soakage.physics.currents import staircase_current
from soakage.physics.graded_schedule import (
    graded_hold,
    graded_levels,
    graded_schedule,
    straight_line,
)
from soakage.physics.responses import PowerLaw


def ends(schedule_exponent: float, exponent: float, leakage: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    plan = graded_schedule(graded_levels(30e3), schedule_exponent)
    law = PowerLaw(1e-9, exponent, leakage, offset=0.0)
    return plan.voltage, staircase_current(law, plan.start + plan.hold, plan.start, plan.voltage)


@given(st.floats(0.2, 1.4), st.floats(0.1, 0.6), st.integers(1, 12))
def test_absorption_is_in_proportion_to_the_voltage_at_every_end(n: float, first: float, steps: int) -> None:
    plan = graded_schedule(graded_levels(10e3, first, steps), n)
    law = PowerLaw(1.0, n, 1e-3, offset=0.0)
    current = staircase_current(law, plan.start + plan.hold, plan.start, plan.voltage)
    np.testing.assert_allclose(current / plan.voltage, current[0] / plan.voltage[0], rtol=1e-9)


def test_the_printed_length_of_the_whole_test() -> None:
    # 35.2 min for a third of the top voltage and ten equal parts, n 0.8 (derived).
    assert graded_schedule(graded_levels(30e3), 0.8).hold.sum() / 60 == pytest.approx(35.2, abs=0.05)


@pytest.mark.parametrize(("n", "bend"), ((0.6, -0.06), (1.0, 0.11)))
def test_a_schedule_for_another_exponent_bends_the_line_as_printed(n: float, bend: float) -> None:
    voltage, current = ends(0.8, n)
    assert current[-1] / voltage[-1] / (current[0] / voltage[0]) - 1 == pytest.approx(bend, abs=0.006)


@pytest.mark.parametrize("true", (0.6, 1.0))
def test_planning_anew_with_the_fitted_exponent_takes_the_bend_away(true: float) -> None:
    levels = graded_levels(30e3)
    planned = graded_schedule(levels, 0.8)
    # The first three holds were made as planned before the exponent was known.
    again = graded_schedule(levels, true, held=planned.hold[:3])
    np.testing.assert_array_equal(again.hold[:3], planned.hold[:3])
    law = PowerLaw(1e-9, true, offset=0.0)
    current = staircase_current(law, again.start + again.hold, again.start, levels)
    np.testing.assert_allclose(current[3:] / levels[3:], current[0] / levels[0], rtol=1e-9)


def test_a_straight_line_is_straight_and_a_rise_at_the_top_is_not() -> None:
    voltage, current = ends(0.8, 0.8, 1e-12)
    noisy = current * (1 + 0.01 * np.array([1, -1, 0.5, -0.5, 1, -1, 0.5, -0.5, 1, -1, 0.4]))
    healthy = straight_line(voltage, noisy)
    assert healthy.straight
    assert healthy.lower < healthy.departure < healthy.upper
    noisy[-1] *= 1.1
    risen = straight_line(voltage, noisy)
    assert not risen.straight
    assert risen.lower > 0
    assert risen.departure == pytest.approx(0.10, abs=0.02)


def test_the_interval_of_the_line_holds_nine_times_in_ten() -> None:
    random = np.random.default_rng(4)
    voltage = np.arange(1.0, 7.0)
    inside = [
        straight_line(voltage, voltage * (1 + 0.02 * random.normal(size=6))).straight for _ in range(1000)
    ]
    assert np.mean(inside) == pytest.approx(0.90, abs=0.03)


def test_wrong_plans_are_refused() -> None:
    assert np.isnan(graded_hold(0.8, 2.0, 1.0))
    with pytest.raises(UsageError, match="rising levels"):
        graded_schedule([1.0, 1.0], 0.8)
    with pytest.raises(UsageError, match="at most as many"):
        graded_schedule([1.0, 2.0], 0.8, held=[600.0, 10.0, 10.0])
    with pytest.raises(UsageError, match="at least one step"):
        graded_levels(30e3, 0.3, 0)
    with pytest.raises(UsageError, match="three readings"):
        straight_line([1.0, 2.0], [1.0, 2.0])
