"""Sums of exponentials; the certified figures of NIST stand in tests/references/nist-*.toml."""

from __future__ import annotations

import numpy as np
import pytest

from soakage.errors import UsageError
from soakage.physics.exponentials import exponential_sum
from soakage.physics.responses import Branches

TIME = np.arange(1.0, 400.0)


def test_a_depolarization_current_gives_its_branches_back() -> None:
    # R = 1/g, C = tau/R: a series branch answers a step with exp(-t/RC)/R.
    resistance, tau = np.array([1e9, 5e9]), np.array([8.0, 120.0])
    current = Branches(resistance, tau / resistance, 2e-11).step(TIME)
    found = exponential_sum(TIME, current, 2, constant=True)
    np.testing.assert_allclose(1 / found.rate[::-1], tau, rtol=1e-6)
    np.testing.assert_allclose(1 / found.amplitude[::-1], resistance, rtol=1e-6)
    assert found.constant == pytest.approx(2e-11, rel=1e-6)


def test_amplitudes_take_either_sign_and_rates_rise() -> None:
    signal = 3 * np.exp(-TIME / 100) - 2 * np.exp(-TIME / 15)
    found = exponential_sum(TIME, signal, 2)
    np.testing.assert_allclose(found.amplitude, [3.0, -2.0], rtol=1e-7)
    np.testing.assert_allclose(found.rate, [1 / 100, 1 / 15], rtol=1e-7)
    assert found.constant == 0.0


def test_the_unit_of_the_signal_does_not_matter() -> None:
    signal = 1e-9 * (3 * np.exp(-TIME / 100) + np.exp(-TIME / 15))
    np.testing.assert_allclose(exponential_sum(TIME, signal, 2).amplitude, [3e-9, 1e-9], rtol=1e-6)


def test_weights_leave_a_bad_stretch_out() -> None:
    signal = np.exp(-TIME / 50)
    signal[200:] += 0.2
    found = exponential_sum(TIME, signal, 1, weights=np.where(np.arange(TIME.size) < 200, 1.0, 0.0))
    np.testing.assert_allclose(found.rate, [0.02], rtol=1e-7)


def test_deviations_are_those_seen_when_the_noise_is_drawn_again() -> None:
    rng = np.random.default_rng(31)
    clean = 2 * np.exp(-TIME / 80) + 0.5
    fits = [
        exponential_sum(TIME, clean + 0.01 * rng.normal(size=TIME.size), 1, constant=True) for _ in range(150)
    ]
    seen = np.std([[f.amplitude[0], f.rate[0], f.constant] for f in fits], axis=0)
    np.testing.assert_allclose(np.mean([f.deviation for f in fits], axis=0), seen, rtol=0.2)
    assert np.mean([f.sum_of_squares for f in fits]) == pytest.approx(1e-4 * (TIME.size - 3), rel=0.05)


def test_as_many_readings_as_unknowns_leave_no_deviation() -> None:
    found = exponential_sum([0.0, 1.0], [2.0, 1.0], 1)
    assert found.rate[0] == pytest.approx(np.log(2.0), rel=1e-6)
    assert np.isnan(found.deviation).all()


def test_too_few_readings_are_refused() -> None:
    with pytest.raises(UsageError, match=r"at least 7 readings\. Given: 6"):
        exponential_sum(np.arange(6.0), np.ones(6), 3, constant=True)
