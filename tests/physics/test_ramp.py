"""Ramps: the rate in the readings, not the one stated; a capacitance that is only ever an upper bound."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.errors import UsageError
from soakage.physics.currents import ramp_current
from soakage.physics.ramp import (
    apparent_capacitance,
    current_at_voltage,
    fitted_ramp,
    ramp_capacitance_bound,
    ramp_rate,
)
from soakage.physics.responses import PowerLaw

TIME = np.arange(5.0, 905.0, 5.0)
# 2 kV/min on 0.25 uF, the sizes of a large winding.
RATE = 2000.0 / 60.0


@given(st.floats(1.0, 100.0), st.floats(-500.0, 500.0), st.integers(0, 179))
def test_the_rate_is_that_of_the_readings_whatever_one_of_them_says(
    rate: float, start: float, bad: int
) -> None:
    voltage = start + rate * TIME
    np.testing.assert_allclose(ramp_rate(TIME, voltage), rate, rtol=1e-9)
    voltage[bad] += 0.5 * rate * 900.0
    fit = fitted_ramp(TIME, voltage)
    np.testing.assert_allclose(fit.rate, rate, rtol=0.02)


def test_least_squares_agrees_with_numpy_on_noisy_readings() -> None:
    noise = np.sin(np.arange(180) * 1.7) + np.cos(np.arange(180) * 0.31)
    voltage = 40.0 + RATE * TIME + noise
    slope, start = np.polyfit(TIME, voltage, 1)
    fit = fitted_ramp(TIME, voltage)
    assert fit.rate == pytest.approx(slope, rel=1e-12)
    assert fit.start_voltage == pytest.approx(start, rel=1e-9)
    assert fit.wobble == pytest.approx(np.std(voltage - start - slope * TIME), rel=1e-9)


def test_missing_readings_and_batches() -> None:
    voltage = np.stack([RATE * TIME, 2 * RATE * TIME + 3.0])
    voltage[0, 7:20] = np.nan
    np.testing.assert_allclose(ramp_rate(TIME, voltage), [RATE, 2 * RATE], rtol=1e-12)
    assert np.isnan(ramp_rate([0.0, 60.0], [1e3, np.nan]))


@pytest.mark.parametrize(("n", "share"), ((0.6, 0.0), (0.8, 0.3), (1.0, 0.1)))
def test_the_capacitance_of_a_ramp_is_a_tight_upper_bound(n: float, share: float) -> None:
    total = 1 / 5e9
    law = PowerLaw((1 - share) * total * 60**n, n, share * total, 1e6, 0.25e-6)
    current = ramp_current(law, TIME, RATE)
    bound = ramp_capacitance_bound(RATE * TIME, current, ramp_rate(TIME, RATE * TIME))
    assert bound.bound == -1
    # Least tight for an exponent of 1, whose absorption is a third of the current.
    assert 0.25e-6 <= bound.value < 0.25e-6 * 1.4
    settled = np.greater_equal(TIME, 0.04 * TIME[-1])
    assert bool((apparent_capacitance(current[settled], RATE) >= bound.value).all())


def test_a_ramp_without_current_bounds_nothing() -> None:
    bound = ramp_capacitance_bound(RATE * TIME, np.zeros(180), RATE)
    assert np.isnan(bound.value)
    assert bound.bound == 0


def test_current_is_read_at_round_voltages_through_the_wobble_of_single_readings() -> None:
    voltage = RATE * TIME + 20.0 * np.sin(TIME)
    current = 1e-9 * RATE * TIME
    read = current_at_voltage(TIME, voltage, current, [1e3, 10e3, 31e3])
    np.testing.assert_allclose(read[:2], [1e-6, 10e-6], rtol=5e-3)
    assert np.isnan(read[2])


def test_a_voltage_that_does_not_rise_is_refused() -> None:
    with pytest.raises(UsageError, match="does not rise"):
        current_at_voltage([0.0, 60.0], [1e3, 1e3], [1e-6, 1e-6], [1e3])


def test_absorption_on_a_ramp_is_concave_not_straight() -> None:
    # r A t^(1-n)/(1-n): the straight line often drawn is wrong (derived).
    current = ramp_current(PowerLaw(1e-9, 0.8), TIME, RATE)
    assert (np.diff(current, 2) < 0).all()
