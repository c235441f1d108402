"""Relaxation spectra of simulated ladders, whose branches are known."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import gamma

from soakage.errors import UsageError
from soakage.physics.responses import Branches, power_law_ladder
from soakage.physics.spectrum import Spectrum, relaxation_spectrum

TIME = np.concatenate([np.arange(1.0, 60.0), np.arange(60.0, 1801.0, 2.0)])
RESISTANCE, TAU = np.array([1e10, 3e10, 8e10]), np.array([3.0, 30.0, 400.0])
LADDER = Branches(RESISTANCE, TAU / RESISTANCE, 2e-12)


def near(found: Spectrum, tau: float) -> tuple[float, float]:
    """The conductance around one time constant and its mean place."""
    close = np.abs(np.log(found.time_constant / tau)) < np.log(3.3)
    size = found.branch_conductance[close]
    return float(size.sum()), float(np.exp(size @ np.log(found.time_constant[close]) / size.sum()))


@pytest.mark.parametrize("noise", (0.0, 1e-3, 1e-2))
def test_three_branches_and_a_conductance_come_back(noise: float) -> None:
    drawn = np.random.default_rng(41).normal(size=TIME.size)
    found = relaxation_spectrum(TIME, 500.0 * LADDER.step(TIME) * (1 + noise * drawn), 500.0)
    for resistance, tau in zip(RESISTANCE, TAU, strict=True):
        size, place = near(found, tau)
        assert size == pytest.approx(1 / resistance, rel=0.06)
        assert place == pytest.approx(tau, rel=0.12)
    assert found.conductance == pytest.approx(2e-12, rel=0.05)
    assert found.scatter == pytest.approx(noise, abs=2e-3)


def test_nothing_is_negative_and_the_lattice_is_even_in_ln() -> None:
    found = relaxation_spectrum(TIME, LADDER.step(TIME))
    assert (found.branch_conductance >= 0).all()
    assert found.conductance >= 0
    np.testing.assert_allclose(np.diff(np.log10(found.time_constant)), 1 / 8)
    assert found.time_constant[0] < TIME[0]
    assert found.time_constant[-1] > TIME[-1]


def test_a_power_law_is_spread_evenly_as_its_gamma_integral_says() -> None:
    # A t^-n = A/Gamma(n) times the integral of tau^-n exp(-t/tau) over ln tau.
    ladder = power_law_ladder(1e-9, 0.8, 1.0, 1800.0, 2).branches
    drawn = np.random.default_rng(42).normal(size=TIME.size)
    found = relaxation_spectrum(TIME, (ladder.step(TIME) + 2e-12) * (1 + 0.01 * drawn))
    expected = 1e-9 * np.log(10.0) / 8 * found.time_constant**-0.8 / gamma(0.8)
    inner = (found.time_constant > 5.0) & (found.time_constant < 400.0)
    np.testing.assert_allclose(found.branch_conductance[inner], expected[inner], rtol=0.25)


def test_the_fitted_current_is_the_spectrum_s_own() -> None:
    found = relaxation_spectrum(TIME, LADDER.step(TIME))
    again = np.exp(-TIME[:, None] / found.time_constant) @ found.branch_conductance + found.conductance
    np.testing.assert_allclose(again, LADDER.step(TIME), rtol=6e-3)


def test_missing_readings_are_left_out_and_too_few_are_refused() -> None:
    current = LADDER.step(TIME)
    current[::3] = np.nan
    assert near(relaxation_spectrum(TIME, current), 30.0)[0] == pytest.approx(1 / 3e10, rel=0.05)
    with pytest.raises(UsageError, match=r"at least 12 readings\. Given: 4"):
        relaxation_spectrum(TIME[:5], current[1:6] * 0 + 1.0)
