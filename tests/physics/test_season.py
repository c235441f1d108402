"""A yearly course: found where it is, and not found where nothing or only one month was read."""

from __future__ import annotations

import numpy as np
import pytest

from soakage.physics.season import yearly_season


@pytest.mark.parametrize("peak", (0.0, 0.2, 0.55, 0.9))
@pytest.mark.parametrize("amplitude", (0.1, 0.7))
def test_a_pure_course_comes_back(peak: float, amplitude: float) -> None:
    t = np.sort(np.random.default_rng(2).uniform(0, 10, 14))
    found = yearly_season(t, amplitude * np.cos(2 * np.pi * (t - peak)))
    assert found.amplitude == pytest.approx(amplitude)
    assert (float(found.peak) - peak + 0.5) % 1 == pytest.approx(0.5)
    assert found.p < 0.01
    assert found.readings == 14


def test_without_a_season_it_is_told_one_time_in_twenty() -> None:
    rng = np.random.default_rng(7)
    t = np.sort(rng.uniform(0, 12, (3000, 14)), axis=-1)
    told = yearly_season(t, rng.normal(size=t.shape)).p <= 0.05
    # As departures it would have lost two figures to the line: without, the test is a little cautious.
    assert 0.02 <= told.mean() <= 0.06


def test_a_slip_does_not_make_a_season() -> None:
    t = np.arange(0, 6, 0.5) + 0.02 * np.random.default_rng(1).normal(size=12)
    away = 0.01 * np.random.default_rng(5).normal(size=12)
    away[4] = np.log(1000)
    assert yearly_season(t, away).p > 0.05


def test_tests_in_one_month_show_no_season() -> None:
    t = np.arange(12) + np.random.default_rng(3).uniform(0, 0.08, 12)
    found = yearly_season(t, np.random.default_rng(4).normal(size=12))
    assert np.isnan(found.p)
    assert np.isnan(found.amplitude)


def test_summer_and_winter_alone_still_show_the_difference() -> None:
    t = np.arange(12) / 2
    found = yearly_season(t, np.where(np.arange(12) % 2, -0.3, 0.3))
    assert found.amplitude == pytest.approx(0.3)
    assert (float(found.peak) + 0.5) % 1 == pytest.approx(0.5)
    assert found.p < 0.01


def test_missing_readings_and_batches() -> None:
    rng = np.random.default_rng(8)
    t, y = np.sort(rng.uniform(0, 9, (2, 2, 13)), axis=-1), rng.normal(size=(2, 2, 13))
    y[1, 0, 3] = np.nan
    whole = yearly_season(t, y)
    for place in np.ndindex(2, 2):
        keep = np.isfinite(y[place])
        alone = yearly_season(t[place][keep], y[place][keep])
        np.testing.assert_allclose([part[place] for part in whole], alone, rtol=1e-9)


@pytest.mark.parametrize("count", (0, 1, 4))
def test_too_few_say_nothing(count: int) -> None:
    found = yearly_season(np.linspace(0, 3, count), np.arange(float(count)))
    assert np.isnan(found.p)
