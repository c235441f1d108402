"""A bend that a slow relaxation explains is told from one that only a dependence on voltage explains."""

from __future__ import annotations

import numpy as np
import pytest

from soakage.physics.currents import ramp_current
from soakage.physics.ramp_relaxation import relaxation_explains
from soakage.physics.responses import Branches, PowerLaw

RATE, TOP = 1e3 / 60, 20e3
TIME = np.arange(5.0, TOP / RATE + 1, 5.0)
VOLTAGE = RATE * TIME
HEALTHY = PowerLaw(60**0.8 / 1.5e9, 0.8, 1 / 9e9, 1e5, 0.4e-6)


def noisy(current: np.ndarray, seed: int, sigma: float = 0.005) -> np.ndarray:
    return current * (1 + sigma * np.random.default_rng(seed).standard_normal(current.size))


@pytest.mark.parametrize("tau", (60.0, 120.0, 300.0))
@pytest.mark.parametrize("seed", range(4))
def test_a_branch_beside_a_healthy_winding_is_a_relaxation(tau: float, seed: int) -> None:
    branch = Branches([tau / 0.35e-6], [0.35e-6], 0.0)
    current = ramp_current(HEALTHY, TIME, RATE) + ramp_current(branch, TIME, RATE)
    assert relaxation_explains(TIME, VOLTAGE, noisy(current, seed, 0.002))


@pytest.mark.parametrize("onset", (0.5, 0.65, 0.8))
@pytest.mark.parametrize("seed", range(4))
def test_a_knee_is_none(onset: float, seed: int) -> None:
    current = ramp_current(HEALTHY, TIME, RATE)
    excess = np.maximum(VOLTAGE / (onset * TOP) - 1, 0) * VOLTAGE * 2e-9
    assert not relaxation_explains(TIME, VOLTAGE, noisy(current + excess, seed))


@pytest.mark.parametrize("seed", range(3))
def test_an_exponential_knee_is_none(seed: int) -> None:
    current = ramp_current(HEALTHY, TIME, RATE)
    excess = 0.02 * current[-1] * np.expm1(np.maximum(VOLTAGE / TOP - 0.7, 0) / 0.06)
    assert not relaxation_explains(TIME, VOLTAGE, noisy(current + excess, seed))


def test_too_few_readings_tell_nothing() -> None:
    assert not relaxation_explains(TIME[:8], VOLTAGE[:8], ramp_current(HEALTHY, TIME[:8], RATE))


def test_the_scale_of_the_current_does_not_matter() -> None:
    branch = Branches([120 / 0.35e-6], [0.35e-6], 0.0)
    current = noisy(ramp_current(HEALTHY, TIME, RATE) + ramp_current(branch, TIME, RATE), 1, 0.002)
    assert relaxation_explains(TIME, VOLTAGE, current) == relaxation_explains(TIME, VOLTAGE, 1e-3 * current)
