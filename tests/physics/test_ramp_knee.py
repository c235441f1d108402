"""Knees and other signs on simulated ramps; the statistic against plain least squares."""

from __future__ import annotations

import numpy as np
import pytest

from soakage.errors import UsageError
from soakage.physics.currents import ramp_current
from soakage.physics.ramp_knee import ramp_knee
from soakage.physics.ramp_parts import ramp_parts
from soakage.physics.ramp_signs import break_in_slope, rising_current, snaking
from soakage.physics.ramp_watch import ONSETS, RATIOS, RampWatch
from soakage.physics.responses import PowerLaw

COUNT = 180
TIME = 5.0 * np.arange(1, COUNT + 1)
SHARE = TIME / TIME[-1]
TOP = 30e3
VOLTAGE = TOP * SHARE


def healthy(random: np.random.Generator, count: int) -> np.ndarray:
    """Capacitance, absorption and conduction in any proportion, per unit of the last current."""
    n = random.uniform(0.5, 1.1, count)[:, None]
    absorbed = ((TIME + 0.5) ** (1 - n) - 0.5 ** (1 - n)) / (1 - n)
    current = random.uniform(0.2, 1.0, count)[:, None]
    current = current + random.uniform(0.1, 1.0, count)[:, None] * absorbed / absorbed[:, -1:]
    current = current + 10 ** random.uniform(-2, 0.3, count)[:, None] * SHARE
    shown: np.ndarray = current / current[:, -1:]
    return shown


def knee(onset: float, size: float = 0.01) -> np.ndarray:
    excess: np.ndarray = size * np.expm1(np.maximum(SHARE - onset, 0.0) / 0.04)
    return excess


def noise(random: np.random.Generator, count: int, size: float, half: bool) -> np.ndarray:
    white = random.normal(size=(count, COUNT))
    if not half:
        plain: np.ndarray = 1 + size * white
        return plain
    slow, keep = np.empty((count, COUNT)), np.exp(-5.0 / 20.0)
    slow[:, 0] = random.normal(size=count)
    for k in range(1, COUNT):
        slow[:, k] = keep * slow[:, k - 1] + np.sqrt(1 - keep**2) * random.normal(size=count)
    mixed: np.ndarray = 1 + size * np.sqrt(0.5) * (white + slow)
    return mixed


@pytest.mark.parametrize(("size", "half"), ((0.001, False), (0.02, False), (0.005, True)))
def test_healthy_ramps_stay_silent(size: float, half: bool) -> None:
    random = np.random.default_rng(21)
    found = ramp_knee(TIME, VOLTAGE, 1e-5 * healthy(random, 300) * noise(random, 300, size, half))
    # At most 1 % of healthy ramps alarm; of 300 that is 3, and 8 would be three deviations off.
    assert found.found.sum() <= 8
    assert np.isnan(found.knee_voltage[~found.found]).all()
    assert np.median(found.confidence) < 0.9


@pytest.mark.parametrize(
    ("size", "half", "delay"),
    ((0.001, False, 0.018), (0.005, False, 0.040), (0.02, False, 0.084), (0.005, True, 0.057)),
)
def test_an_exponential_knee_is_found_soon_and_placed_well(size: float, half: bool, delay: float) -> None:
    # Median delays of the hinge on {1, ln V, sqrt V, V} (derived): 1.7, 3.9, 8.3 % and 5.6 % of the top.
    random = np.random.default_rng(22)
    found = ramp_knee(TIME, VOLTAGE, (healthy(random, 200) + knee(0.7)) * noise(random, 200, size, half))
    good = found.found & (found.detected_voltage >= 0.7 * TOP)
    assert good.mean() >= 0.97
    assert np.median(found.detected_voltage[good] / TOP - 0.7) <= delay
    assert np.median(np.abs(found.knee_voltage[good] / TOP - 0.7)) <= 0.03
    assert (found.excess_share[good] > 0).all()
    assert (found.confidence[good] > 0.98).all()


def test_the_statistic_is_that_of_least_squares_when_noise_is_taken_as_white(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("soakage.physics.ramp_watch.RATIOS", np.zeros_like(RATIOS))
    monkeypatch.setattr("soakage.physics.ramp_watch._MISFIT", 0.0)
    random = np.random.default_rng(5)
    current = healthy(random, 1)[0] * (1 + 0.01 * random.normal(size=COUNT))
    watch, seen, last = RampWatch(1.0), [], None
    for t, v, i in zip(TIME, SHARE, current, strict=True):
        last = watch.add(t, v, i) or last
        seen += [(v, i)] if v >= 0.04 else []
    assert last is not None
    v, i = np.array(seen).T
    reference = [i[0]]
    for value in i[1:]:
        reference.append(reference[-1] + 0.3 * (value - reference[-1]))
    base = np.stack([np.ones_like(v), np.log(v), np.sqrt(v), v], axis=1)
    best = 0.0
    for onset in ONSETS[v[-1] - ONSETS > 0.012]:
        x = np.column_stack([base, np.maximum(v - onset, 0)]) / np.array(reference)[:, None]
        y = i / np.array(reference)
        solution, left, _, _ = np.linalg.lstsq(x, y, rcond=None)
        spread = left[0] / (v.size - 5) * np.linalg.inv(x.T @ x)[-1, -1]
        best = max(best, solution[-1] / np.sqrt(spread))
    assert last.statistic == pytest.approx(best, rel=1e-5)


def test_reading_by_reading_is_the_whole_record_and_one_is_many() -> None:
    random = np.random.default_rng(23)
    current = (healthy(random, 3) + knee(0.7)) * noise(random, 3, 0.005, True)
    whole = ramp_knee(TIME, VOLTAGE, current)
    watch = RampWatch(TOP)
    for k in range(COUNT):
        look = watch.add(TIME[k], VOLTAGE[k], current[1, k])
        if look is not None and look.found:
            break
    assert look is not None
    assert look.voltage == whole.detected_voltage[1]
    assert look.onset == pytest.approx(whole.knee_voltage[1], rel=1e-9)
    alone = ramp_knee(TIME, VOLTAGE, current[1])
    assert alone.excess_share == pytest.approx(whole.excess_share[1], rel=1e-6)


def test_ten_readings_for_one_tell_the_same() -> None:
    random = np.random.default_rng(24)
    law = PowerLaw(3e-9, 0.8, 2e-10, 1e6, 0.25e-6)
    t = np.arange(0.5, 900.1, 0.5)
    current = ramp_current(law, t, TOP / 900.0) + 3e-5 * 0.01 * np.expm1(np.maximum(t / 900 - 0.7, 0) / 0.04)
    found = ramp_knee(t, TOP / 900.0 * t, current * (1 + 0.015 * random.normal(size=t.size)))
    assert found.found
    looks = len(found.looks)
    assert looks < 200
    assert 0.70 < found.detected_voltage / TOP < 0.78


def test_a_ramp_that_is_too_short_tells_nothing() -> None:
    found = ramp_knee(TIME[:20], VOLTAGE[:20], np.ones(20), TOP)
    assert not found.found
    assert found.looks == ()
    with pytest.raises(UsageError, match="above 0"):
        RampWatch(0.0)


def test_a_break_in_slope_is_found() -> None:
    random = np.random.default_rng(25)
    base = healthy(random, 100)
    broken = (base + 2.0 * np.maximum(SHARE - 0.7, 0)) * noise(random, 100, 0.005, False)
    sign = break_in_slope(VOLTAGE, broken)
    assert sign.found.mean() > 0.95
    assert np.median(sign.voltage / TOP) == pytest.approx(0.73, abs=0.02)
    assert break_in_slope(VOLTAGE, base * noise(random, 100, 0.01, True)).found.sum() <= 4
    assert np.isnan(break_in_slope(VOLTAGE[:30], base[:, :30]).statistic).all()


def test_a_wandering_current_is_snaking_and_a_knee_is_not() -> None:
    random = np.random.default_rng(26)
    base = healthy(random, 100)
    wander = 1 + 0.04 * np.where(SHARE > 0.7, np.sin(2 * np.pi * (SHARE - 0.7) / 0.06), 0.0)
    sign = snaking(VOLTAGE, base * wander * noise(random, 100, 0.005, True))
    assert sign.found.mean() > 0.95
    assert (sign.voltage[sign.found] > 0.7 * TOP).mean() > 0.95
    assert snaking(VOLTAGE, base * noise(random, 100, 0.01, True)).found.sum() <= 4
    assert snaking(VOLTAGE, (base + knee(0.7)) * noise(random, 100, 0.005, False)).found.mean() < 0.1
    assert np.isnan(snaking(VOLTAGE[:40], base[:, :40]).statistic).all()


@pytest.mark.parametrize(("per_minute", "rises"), ((0.0, False), (0.15, True), (-0.15, False)))
def test_a_current_that_rises_while_held_is_told_from_one_that_falls(per_minute: float, rises: bool) -> None:
    random = np.random.default_rng(27)
    t = np.arange(1.0, 121.0)
    told = [
        rising_current(
            t, (0.2 * (t / 60) ** -0.8 + 1 + per_minute * t / 60) * (1 + 0.005 * random.normal(size=120))
        )
        for _ in range(20)
    ]
    assert sum(one.found for one in told) == (20 if rises else 0)
    assert all(one.uncertainty > 0 for one in told)
    with pytest.raises(UsageError, match="10 readings"):
        rising_current(t[:12], np.ones(12))


@pytest.mark.parametrize(("n", "share"), ((0.6, 0.3), (0.8, 0.3), (0.95, 0.1)))
def test_the_parts_of_a_ramp_come_back(n: float, share: float) -> None:
    # 0.25 uF and 5 GOhm at 2 kV/min to 30 kV: a geometric current of 8.3 uA (derived).
    total, rate = 1 / 5e9, 2000.0 / 60.0
    law = PowerLaw((1 - share) * total * 60**n, n, share * total, 1e6, 0.25e-6)
    current = ramp_current(law, TIME, rate)
    assert rate * 0.25e-6 == pytest.approx(8.3e-6, abs=0.05e-6)
    parts = ramp_parts(TIME, rate * TIME, current, capacitance=0.25e-6, capacitance_uncertainty=1e-9)
    assert parts.capacitance == pytest.approx(0.25e-6, rel=2e-3)
    assert parts.absorption_exponent == pytest.approx(n, abs=0.01)
    assert parts.conductance == pytest.approx(share * total, rel=0.02)
    assert parts.shares.sum() == pytest.approx(1.0)
    np.testing.assert_allclose(parts.predicted, current, rtol=2e-3)
    random = np.random.default_rng(28)
    for _ in range(5):
        noisy = ramp_parts(TIME, rate * TIME, current * (1 + 0.005 * random.normal(size=COUNT)))
        assert abs(noisy.capacitance - 0.25e-6) < 4 * noisy.capacitance_uncertainty
        assert abs(noisy.conductance - share * total) < 4 * noisy.conductance_uncertainty


def test_a_ramp_is_separated_below_its_knee() -> None:
    rate = 2000.0 / 60.0
    law = PowerLaw(1e-9 * 60**0.8 * 0.2, 0.8, 5e-11, 1e6, 0.25e-6)
    current = ramp_current(law, TIME, rate) + 1e-5 * knee(0.7)
    below = ramp_parts(TIME, rate * TIME, current, until=0.69 * TOP, capacitance=0.25e-6)
    assert below.conductance == pytest.approx(5e-11, rel=0.05)
    with pytest.raises(UsageError, match="12 readings"):
        ramp_parts(TIME, rate * TIME, current, until=0.05 * TOP)
    with pytest.raises(UsageError, match="does not rise"):
        ramp_parts(TIME, -rate * TIME, current)
