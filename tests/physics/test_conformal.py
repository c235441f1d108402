"""Intervals rescaled by an archive hold on average, whatever they held before."""

from __future__ import annotations

import numpy as np
import pytest

from simulated import TIME, Noise, noisy, population
from soakage.errors import UsageError
from soakage.physics.conformal import archive_scale
from soakage.physics.forecast import Forecast, forecast_index


def stated(estimate: float, half: float) -> Forecast:
    """A forecast with an interval even in ln; nothing else of it counts here."""
    none = np.empty(0)
    ends = estimate * np.exp([-half, half])
    return Forecast(600.0, 120.0, 0.9, estimate, ends[0], ends[1], none, none, none, none, none, 0.0, 0.0)


@pytest.mark.parametrize(("tests", "rank"), ((20, 19), (29, 27), (50, 46), (199, 180)))
def test_the_rank_is_that_of_split_conformal_prediction(tests: int, rank: int) -> None:
    # k = ceil((m + 1) 0.9): theorempath.com, conformalprediction.net (read).
    scores = np.linspace(0.05, 2.0, tests)
    archive = archive_scale([stated(3.0, 0.1)] * tests, 3.0 * np.exp(0.1 * scores))
    assert archive.rank == rank
    assert archive.tests == tests
    assert archive.scale == pytest.approx(scores[rank - 1])
    assert archive.covered == pytest.approx(np.mean(scores <= 1.0), abs=1 / tests)


def test_both_sides_count() -> None:
    made = [stated(2.0, 0.2)] * 40
    off = np.tile([0.1, -0.4], 20)
    assert archive_scale(made, 2.0 * np.exp(off)).scale == pytest.approx(2.0)
    assert archive_scale(made, 2.0 * np.exp(off)).covered == pytest.approx(0.5)


@pytest.mark.parametrize("spread", (0.03, 0.1, 0.3))
def test_a_new_test_of_the_same_kind_is_covered(spread: float) -> None:
    # However wrong the stated half width is; on average over archives, as the method promises.
    rng = np.random.default_rng(61)
    covered = []
    for _ in range(300):
        off = spread * rng.standard_t(4, size=21)
        archive = archive_scale([stated(3.0, 0.1)] * 20, 3.0 * np.exp(off[:20]))
        covered.append(abs(off[20]) <= archive.scale * 0.1)
    assert 0.86 <= np.mean(covered) <= 0.94


def test_too_small_an_archive_is_refused() -> None:
    with pytest.raises(UsageError, match=r"at least 20 complete tests.*Given: 19 forecasts, 19 indices"):
        archive_scale([stated(2.0, 0.1)] * 19, np.full(19, 2.0))


def test_one_index_belongs_to_each_forecast() -> None:
    with pytest.raises(UsageError, match="Given: 30 forecasts, 25 indices"):
        archive_scale([stated(2.0, 0.1)] * 30, np.full(25, 2.0))


def test_an_archive_of_like_tests_narrows_the_interval() -> None:
    rng = np.random.default_rng(62)
    drawn = population(rng, 60, "power")
    read, seen = noisy(rng, drawn.current, Noise(0.01)), TIME <= 120.0
    made = [forecast_index(TIME[seen], row[seen]) for row in read]
    archive = archive_scale(made[:50], drawn.polarization_index[:50])
    assert archive.covered > 0.9
    assert archive.scale < 1.0
    new = [forecast_index(TIME[seen], row[seen], scale=archive.scale) for row in read[50:]]
    assert all(one.upper / one.lower < old.upper / old.lower for one, old in zip(new, made[50:], strict=True))
    width = [(one.upper - one.lower) / one.estimate for one in new]
    assert np.median(width) <= 0.23
