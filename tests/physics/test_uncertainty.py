"""Uncertainty and conformity against JCGM examples, an outside propagator, and the normal distribution."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats
from uncertainties import correlated_values, ufloat, umath

from soakage.physics.conformity import (
    conformity_probability,
    guard_band,
    normal_probability,
    resistance_conformity_probability,
)
from soakage.physics.temperature import halving_factor
from soakage.physics.uncertainty import (
    corrected_uncertainty,
    product_uncertainty,
    ratio_uncertainty,
    reading_uncertainty,
)
from soakage.physics.uncertainty_ratio import resistance_ratio_uncertainty

SMALL = st.floats(1e-4, 0.2)
ROOT3 = math.sqrt(3.0)


def test_jcgm_100_h_4() -> None:
    # JCGM 100, H.4, activity of radon: product and ratio of independent inputs (inputs from memory).
    standard, mass_s, mass_x, ratio = (0.1368, 0.0018), (5.0192, 0.0050), (5.0571, 0.0010), (3.170, 0.046)
    activity = standard[0] * mass_s[0] / mass_x[0] * ratio[0]
    product = product_uncertainty(standard[1] / standard[0], mass_s[1] / mass_s[0])
    product = product_uncertainty(product, ratio[1] / ratio[0])
    relative = ratio_uncertainty(product, mass_x[1] / mass_x[0])
    assert activity == pytest.approx(0.4304, abs=5e-5)
    assert activity * relative == pytest.approx(0.0084, abs=5e-5)


@given(SMALL, SMALL, st.floats(-0.99, 0.99))
def test_ratio_and_product_agree_with_uncertainties(a: float, b: float, r: float) -> None:
    covariance = [[(2 * a) ** 2, r * 2 * a * 5 * b], [r * 2 * a * 5 * b, (5 * b) ** 2]]
    x, y = correlated_values([2.0, 5.0], covariance)
    assert ratio_uncertainty(a, b, r) * 2 / 5 == pytest.approx((x / y).std_dev, rel=1e-6)
    assert product_uncertainty(a, b, r) * 10 == pytest.approx((x * y).std_dev, rel=1e-6)


@given(
    r=st.floats(1e6, 1e12), percent=SMALL, digit=st.floats(1.0, 1e8), offset=st.floats(1e-13, 1e-10),
    slip=st.floats(1e-3, 2.0), n=st.floats(0.0, 1.0),
)  # fmt: skip
def test_a_reading_agrees_with_uncertainties(
    r: float, percent: float, digit: float, offset: float, slip: float, n: float
) -> None:
    volts, at = 5000.0, 60.0
    current = volts / r + ufloat(0.0, offset / ROOT3)
    when = ufloat(at, slip / ROOT3)
    model = volts / current * ufloat(1.0, percent / ROOT3) * (when / at) ** n + ufloat(0.0, digit / 2 / ROOT3)
    mine = reading_uncertainty(r, percent, digit, offset, volts, slip, at, n)
    assert mine == pytest.approx(model.std_dev, rel=1e-9)


@given(st.floats(1e8, 1e11), st.floats(1.0, 8.0), SMALL, st.floats(1e-14, 1e-10), st.floats(1e-3, 1.0))
def test_a_ratio_of_two_marks_agrees_with_uncertainties(
    r1: float, index: float, percent: float, offset: float, slip: float
) -> None:
    volts, n1, n2 = 5000.0, 0.75, 0.4
    gain, zero = ufloat(1.0, percent / ROOT3), ufloat(0.0, offset / ROOT3)
    early = volts / (volts / r1 + zero) * gain * (ufloat(60.0, slip / ROOT3) / 60.0) ** n1
    late = volts / (volts / (index * r1) + zero) * gain * (ufloat(600.0, slip / ROOT3) / 600.0) ** n2
    model = late / early
    mine = resistance_ratio_uncertainty(
        index * r1, r1, of_reading=percent, current_offset=offset, test_voltage=volts, timing=slip,
        slope_later=n2, slope_earlier=n1,
    )  # fmt: skip
    assert mine == pytest.approx(model.std_dev / model.nominal_value, rel=1e-9, abs=1e-12)


def test_the_gain_of_the_instrument_cancels_in_an_index_and_stays_after_a_change_of_range() -> None:
    assert resistance_ratio_uncertainty(4e9, 1e9, of_reading=0.3) == 0.0
    apart = resistance_ratio_uncertainty(4e9, 1e9, of_reading=0.3, common_gain=0.0)
    assert apart == pytest.approx(0.3 * math.sqrt(2 / 3))


def test_an_offset_grows_with_the_index() -> None:
    # Relative error I0 (PI - 1)/I60 (derived).
    low = resistance_ratio_uncertainty(2e9, 1e9, current_offset=1e-11, test_voltage=1e3)
    high = resistance_ratio_uncertainty(5e9, 1e9, current_offset=1e-11, test_voltage=1e3)
    assert high == pytest.approx(4 * low)


def test_correction_agrees_with_uncertainties() -> None:
    reading, temperature = ufloat(100.0, 5.0), ufloat(30.0, 2.0)
    corrected = reading * umath.exp((temperature - 40.0) * math.log(2.0) / 10.0)
    relative = corrected.std_dev / corrected.nominal_value
    assert corrected.nominal_value == pytest.approx(100 * float(halving_factor(30.0)))
    assert corrected_uncertainty(0.05, 2.0) == pytest.approx(relative, rel=1e-9)
    assert corrected_uncertainty(0.05, 2.0) == pytest.approx(0.1474, abs=5e-5)


@given(st.floats(-8.0, 8.0))
def test_the_normal_distribution_is_scipy_s(z: float) -> None:
    assert normal_probability(z) == pytest.approx(stats.norm.cdf(z), rel=1e-12)


@given(st.floats(-5.0, 5.0), st.floats(0.1, 3.0), st.floats(-5.0, 5.0), st.floats(0.0, 5.0))
def test_conformity_between_two_limits_is_scipy_s(y: float, u: float, low: float, width: float) -> None:
    mine = conformity_probability(y, u, low, low + width)
    expected = stats.norm.cdf(low + width, y, u) - stats.norm.cdf(low, y, u)
    assert mine == pytest.approx(expected, abs=1e-12)
    below, above = conformity_probability(y, u, upper=low), conformity_probability(y, u, lower=low)
    assert below + above == pytest.approx(1.0)


def test_far_from_both_limits_the_small_probability_keeps_its_digits() -> None:
    assert conformity_probability(0.0, 1.0, lower=10.0) == pytest.approx(stats.norm.sf(10.0), rel=1e-9)
    assert conformity_probability(0.0, 1.0, 10.0, 11.0) == pytest.approx(
        stats.norm.sf(10.0) - stats.norm.sf(11.0), rel=1e-9
    )


@given(st.floats(1e6, 1e12), st.floats(0.01, 0.5), st.floats(0.55, 0.999))
def test_a_reading_a_guard_band_above_its_limit_meets_it_as_surely_as_wanted(
    limit: float, relative: float, wanted: float
) -> None:
    accepted = limit * math.exp(float(guard_band(relative, wanted)))
    assert resistance_conformity_probability(accepted, relative, limit) == pytest.approx(wanted, abs=1e-9)


@given(st.floats(0.01, 5.0), st.floats(0.01, 0.99))
def test_the_guard_band_is_scipy_s_quantile(u: float, p: float) -> None:
    assume(abs(p - 0.5) > 1e-3)
    assert guard_band(u, p) == pytest.approx(u * stats.norm.ppf(p), rel=1e-9)


def test_no_uncertainty_no_probability() -> None:
    assert np.isnan(conformity_probability(1.0, 0.0, 0.5))
    assert np.isnan(ratio_uncertainty(0.1, 0.1, 1.5))
    assert np.isnan(reading_uncertainty(0.0, 0.05))
    assert np.isnan(resistance_ratio_uncertainty(-1.0, 1.0))
