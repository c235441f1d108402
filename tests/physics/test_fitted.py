"""Resistance and ratios read off the fitted curve, with their uncertainty."""

from __future__ import annotations

import numpy as np
import pytest

from simulated import TIME, Noise, noisy, power_law
from soakage.physics.absorption import absorption_ratio_model
from soakage.physics.fit import fit_current
from soakage.physics.fitted import fitted_index, fitted_ratio, fitted_resistance


# The whole table of the closed form: index at n and conduction share (derived).
@pytest.mark.parametrize(
    ("n", "row"),
    (
        (0.5, (3.16, 3.03, 2.85, 2.60, 2.21, 1.70, 1.26)),
        (0.8, (6.31, 5.70, 4.99, 4.12, 3.06, 2.02, 1.34)),
        (1.0, (10.0, 8.47, 6.90, 5.26, 3.57, 2.17, 1.37)),
    ),
)
def test_the_fitted_index_is_that_of_the_table(n: float, row: tuple[float, ...]) -> None:
    shares = np.array([0.0, 0.02, 0.05, 0.1, 0.2, 0.4, 0.7])
    np.testing.assert_allclose(fitted_index((1 - shares) * 60**n, n, shares), row, rtol=3e-3)
    fit = fit_current(TIME, power_law(TIME, np.full(7, n), shares))
    np.testing.assert_allclose(fitted_ratio(fit)[0], row, rtol=4e-3)


def test_other_ratios_agree_with_the_model_of_the_shares() -> None:
    fit = fit_current(TIME, power_law(TIME, 0.7, 0.1)[0])
    for later, earlier in ((60.0, 30.0), (60.0, 15.0), (600.0, 60.0)):
        expected = absorption_ratio_model(0.7, 0.1, later, earlier)
        assert fitted_ratio(fit, later, earlier)[0] == pytest.approx(expected, rel=1e-5)


def test_no_current_gives_no_index() -> None:
    assert np.isnan(fitted_index(-1.0, 0.8, 0.0))
    assert np.isnan(fitted_index(0.0, 0.8, 0.0))


def test_resistance_is_voltage_over_the_fitted_current() -> None:
    fit = fit_current(TIME, 1e-6 * power_law(TIME, 0.8, 0.2), 5000.0)
    for time in (60.0, 600.0):
        value, deviation = fitted_resistance(fit, time)
        current = 1e-6 * power_law(np.array([time]), 0.8, 0.2)[0, 0]
        assert value[0] == pytest.approx(5000.0 / current, rel=1e-6)
        assert deviation[0] < 1e-4


def test_nothing_is_said_of_times_the_record_does_not_reach() -> None:
    short = TIME <= 300.0
    fit = fit_current(TIME[short], power_law(TIME[short], 0.8, 0.2)[0])
    assert np.isnan(fitted_ratio(fit)).all()
    assert np.isnan(fitted_resistance(fit, 600.0)).all()
    assert np.isfinite(fitted_ratio(fit, 300.0, 60.0)).all()


def test_uncertainty_is_propagated_as_by_monte_carlo() -> None:
    # JCGM 101: draws of the three parameters from their covariance.
    rng = np.random.default_rng(21)
    fit = fit_current(TIME, noisy(rng, power_law(TIME, 0.8, 0.2), Noise(0.02))[0], 1.0)
    mean = [fit.absorption_coefficient, fit.absorption_exponent, fit.conductance]
    drawn = rng.multivariate_normal(np.array(mean, dtype=float), fit.covariance, 40000)
    ratio = fitted_index(*drawn.T)
    assert fitted_ratio(fit)[1] == pytest.approx(np.std(np.log(ratio)), rel=0.03)
    resistance = 1.0 / (drawn[:, 0] * 60.0 ** -drawn[:, 1] + drawn[:, 2])
    assert fitted_resistance(fit, 60.0)[1] == pytest.approx(np.std(np.log(resistance)), rel=0.03)


@pytest.mark.parametrize(
    "noise", (Noise(0.01), Noise(0.05), Noise(0.01, lasting=0.5), Noise(0.01, mains=0.1))
)
def test_the_interval_of_the_fitted_index_holds(noise: Noise) -> None:
    rng = np.random.default_rng(22)
    n, s = rng.uniform(0.5, 1.1, 240), rng.uniform(0.02, 0.6, 240)
    fit = fit_current(TIME, noisy(rng, power_law(TIME, n, s), noise))
    ratio, deviation = fitted_ratio(fit)
    off = np.abs(np.log(ratio / absorption_ratio_model(n, s)))[fit.follows_model]
    inside = np.mean(off <= 1.645 * deviation[fit.follows_model])
    assert 0.85 <= inside <= (1.0 if noise.mains else 0.97)


def test_the_fitted_index_scatters_far_less_than_two_readings_do() -> None:
    # 0.13 % against 1.4 % at 1 % of reading noise (derived).
    rng = np.random.default_rng(23)
    read = noisy(rng, power_law(TIME, np.full(150, 0.8), 0.2), Noise(0.01))
    ratio, _ = fitted_ratio(fit_current(TIME, read))
    two = read[:, np.searchsorted(TIME, 60.0)] / read[:, -1]
    assert np.std(np.log(ratio)) == pytest.approx(0.0013, rel=0.3)
    assert np.std(np.log(two)) == pytest.approx(0.014, rel=0.3)


def test_fits_of_any_shape_give_ratios_of_that_shape() -> None:
    fit = fit_current(TIME, np.tile(power_law(TIME, 0.8, 0.2), (2, 3, 1)))
    value, deviation = fitted_ratio(fit)
    assert value.shape == deviation.shape == (2, 3)
