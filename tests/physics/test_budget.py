"""Budgets against the whole-reading formulas of the house, an outside propagator, and drawn noise."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from soakage.physics.budget import (
    FEWEST_READINGS,
    Budget,
    combined,
    local_scatter,
    ratio_budget,
    reading_budget,
)
from soakage.physics.uncertainty import reading_uncertainty
from soakage.physics.uncertainty_ratio import resistance_ratio_uncertainty

ROOT3 = math.sqrt(3.0)
LIMITS = st.fixed_dictionaries(
    {
        "of_reading": st.floats(0, 0.2),
        "resolution": st.floats(0, 1e7),
        "current_offset": st.floats(0, 1e-9),
        "timing": st.floats(0, 2),
    }
)


@given(r=st.floats(1e7, 1e12), limits=LIMITS, n=st.floats(0, 1))
def test_the_parts_make_up_the_whole_reading(r: float, limits: dict[str, float], n: float) -> None:
    budget = reading_budget(r, test_voltage=5000.0, time=60.0, local_slope=n, **limits)
    whole = reading_uncertainty(r, test_voltage=5000.0, time=60.0, local_slope=n, **limits)
    assert float(combined(budget)) * r == pytest.approx(float(whole), rel=1e-9, abs=1e-12)


@given(r=st.floats(1e8, 1e10), index=st.floats(1, 8), p=st.floats(0, 0.2), offset=st.floats(0, 1e-9),
       slip=st.floats(0, 2))  # fmt: skip
def test_the_parts_make_up_the_whole_ratio(
    r: float, index: float, p: float, offset: float, slip: float
) -> None:
    marks = ((r * index, 600.0, 0.3), (r, 60.0, 0.8))
    later, earlier = (
        reading_budget(value, p, offset, 0.0, slip, test_voltage=5000.0, time=t, local_slope=n)
        for value, t, n in marks
    )
    for common in (0.0, 1.0):
        budget = ratio_budget(later, earlier, later.offset, earlier.offset, common)
        whole = resistance_ratio_uncertainty(
            r * index, r, of_reading=p, common_gain=common, current_offset=offset, test_voltage=5000.0,
            timing=slip, slope_later=0.3, slope_earlier=0.8,
        )  # fmt: skip
        assert float(combined(budget)) == pytest.approx(float(whole), rel=1e-9, abs=1e-15)


def test_gain_cancels_and_of_the_offset_the_difference_stays() -> None:
    gain, zero = ufloat(1.0, 0.05 / ROOT3), ufloat(0.0, 1e-9 / ROOT3)
    volts, first, last = 1000.0, 1e9, 4e9
    expected = (volts / (volts / last * gain + zero)) / (volts / (volts / first * gain + zero))
    later, earlier = (reading_budget(r, 0.05, 1e-9, test_voltage=volts) for r in (last, first))
    budget = ratio_budget(later, earlier, later.offset, earlier.offset, 1.0)
    assert float(budget.gain) == 0.0
    assert float(combined(budget)) * 4.0 == pytest.approx(expected.std_dev, rel=1e-9)


def test_a_batch_is_its_readings_one_by_one() -> None:
    r = np.array([[1e8, 1e9], [1e10, -1.0]])
    budget = reading_budget(r, 0.05, 1e-10, 1e6, 1.0, 0.01, 5000.0, 60.0, 0.5)
    whole = combined(budget)
    assert whole.shape == r.shape
    assert np.isnan(whole[1, 1])
    one = combined(reading_budget(1e9, 0.05, 1e-10, 1e6, 1.0, 0.01, 5000.0, 60.0, 0.5))
    assert whole[0, 1] == pytest.approx(float(one))
    assert combined(Budget(*[np.zeros(3)] * 5)).tolist() == [0.0] * 3


@pytest.mark.parametrize("noise", (0.001, 0.01, 0.05))
def test_scatter_is_found_under_a_trend(noise: float) -> None:
    rng, t = np.random.default_rng(3), np.arange(1.0, 601.0)
    found = []
    for _ in range(50):
        r = 1e9 * (t / 60) ** 0.5 * (1 + noise * rng.standard_normal(len(t)))
        found.append(local_scatter(t, r, 60.0))
    assert np.mean(found) == pytest.approx(noise, rel=0.05)


def test_the_bend_of_a_quiet_record_is_no_scatter() -> None:
    t = np.arange(1.0, 601.0)
    assert local_scatter(t, 1e9 / ((t / 60) ** -0.8 + 0.15), 60.0) < 1e-3


def test_few_readings_say_nothing_of_scatter() -> None:
    t = np.linspace(45.0, 80.0, FEWEST_READINGS - 1)
    assert math.isnan(local_scatter(t, np.full(len(t), 1e9), 60.0))
    holes = np.full(len(t) + 5, np.nan)
    assert math.isnan(local_scatter(np.linspace(45.0, 80.0, len(holes)), holes, 60.0))
