"""The index forecast from the beginning of a record: how often its interval holds, and what it cannot know.

Small populations here; the full measurement is benchmarks/validate_forecast.py.
"""

from __future__ import annotations

import time as clock
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from simulated import TIME, Noise, lasting_noise, noisy, population, power_law
from soakage.errors import UsageError
from soakage.physics.absorption import absorption_ratio_model
from soakage.physics.forecast import Departure, Forecast, forecast_index, leaves_band
from soakage.physics.forecast_shape import outlook


def forecasts(
    rng: np.random.Generator, count: int, shape: str, noise: Noise, look: float
) -> tuple[list[Forecast], Any]:
    drawn = population(rng, count, shape)
    read, seen = noisy(rng, drawn.current, noise), look >= TIME
    return [forecast_index(TIME[seen], row[seen]) for row in read], drawn.polarization_index


def widths(made: list[Forecast]) -> np.ndarray:
    return np.array([one.upper / one.estimate - one.lower / one.estimate for one in made], dtype=float)


def one_record(seed: int = 51, noise: Noise = Noise(0.01)) -> np.ndarray:  # noqa: B008 - an immutable tuple
    read: np.ndarray = noisy(np.random.default_rng(seed), power_law(TIME, 0.8, 0.1), noise)[0]
    return read


SEEN = TIME <= 120.0


@pytest.mark.parametrize(
    ("shape", "noise"),
    (
        ("power", Noise(0.01)), ("curved", Noise(0.01)), ("drift", Noise(0.02)),
        ("power", Noise(0.02, lasting=0.5)), ("power", Noise(0.01, mains=0.1)),
    ),
)  # fmt: skip
@pytest.mark.parametrize("look", (60.0, 180.0))
def test_the_interval_holds(shape: str, noise: Noise, look: float) -> None:
    made, truth = forecasts(np.random.default_rng(52), 40, shape, noise, look)
    inside = [one.lower <= index <= one.upper for one, index in zip(made, truth, strict=True)]
    assert np.mean(inside) >= 0.83


def test_the_median_is_near_the_truth() -> None:
    made, truth = forecasts(np.random.default_rng(53), 40, "power", Noise(0.01), 120.0)
    assert np.median(np.abs(np.array([one.estimate for one in made]) / truth - 1)) < 0.03


def test_the_width_follows_the_noise_and_the_time_seen() -> None:
    fine, _ = forecasts(np.random.default_rng(54), 20, "power", Noise(0.005), 120.0)
    coarse, _ = forecasts(np.random.default_rng(54), 20, "power", Noise(0.04), 120.0)
    longer, _ = forecasts(np.random.default_rng(54), 20, "power", Noise(0.005), 240.0)
    assert np.median(widths(fine)) <= 0.5 * np.median(widths(coarse))
    assert np.median(widths(longer)) <= 0.6 * np.median(widths(fine))


def test_the_parts_of_a_forecast_agree() -> None:
    made = forecast_index(TIME[SEEN], one_record()[SEEN])
    assert made.seen_until == 120.0
    assert made.mark == 600.0
    assert made.lower < made.estimate < made.upper
    assert made.probability(made.estimate) == pytest.approx(0.5, abs=0.01)
    assert made.probability(made.lower) == pytest.approx(0.95, abs=0.01)
    assert made.probability(made.upper) == pytest.approx(0.05, abs=0.01)
    assert made.probability(1e-3) == pytest.approx(1.0, abs=1e-6)
    assert made.probability(1e3) == pytest.approx(0.0, abs=1e-6)
    limits = [made.probability(limit) for limit in (1.5, 2.0, 3.0, 4.0)]
    assert limits == sorted(limits, reverse=True)
    assert made.lower < absorption_ratio_model(0.8, 0.1) < made.upper


def test_a_wider_level_gives_a_wider_interval() -> None:
    read = one_record()[SEEN]
    usual, wide = forecast_index(TIME[SEEN], read), forecast_index(TIME[SEEN], read, level=0.99)
    assert wide.lower < usual.lower < usual.upper < wide.upper
    assert wide.estimate == usual.estimate


def test_a_scale_stretches_the_whole_distribution_about_its_median() -> None:
    read = one_record()[SEEN]
    usual, half = forecast_index(TIME[SEEN], read), forecast_index(TIME[SEEN], read, scale=0.5)
    assert half.estimate == pytest.approx(usual.estimate, rel=1e-12)
    assert np.log(half.upper / half.estimate) == pytest.approx(0.5 * np.log(usual.upper / usual.estimate))
    assert abs(half.probability(4.2) - 0.5) >= abs(usual.probability(4.2) - 0.5)


def test_unit_and_polarity_do_not_matter() -> None:
    read = one_record()[SEEN]
    usual, mirrored = forecast_index(TIME[SEEN], read), forecast_index(TIME[SEEN], -3e-7 * read)
    assert mirrored.estimate == pytest.approx(usual.estimate, rel=1e-9)
    np.testing.assert_allclose(mirrored.band()[0], 3e-7 * usual.band()[0], rtol=1e-9)


def test_bounds_and_gaps_are_left_out() -> None:
    read, bound = one_record()[SEEN], np.zeros(int(SEEN.sum()), dtype=np.int8)
    usual = forecast_index(TIME[SEEN], read)
    read[:4], bound[:4] = 1e-3, 1
    read[50:55] = np.nan
    made = forecast_index(TIME[SEEN], read, bound)
    assert made.estimate == pytest.approx(usual.estimate, rel=0.05)


def test_the_same_readings_give_the_same_forecast() -> None:
    first, second = (forecast_index(TIME[SEEN], one_record()[SEEN]) for _ in range(2))
    assert first.lower == second.lower
    assert first.upper == second.upper


@pytest.mark.parametrize(
    ("time", "given"),
    (
        (TIME[TIME <= 55.0], "Given: 51 up to 55 s"),
        (TIME, "Given: 596 up to 600 s"),
        (np.arange(30.0, 121.0, 30.0), "Given: 4 up to 120 s"),
        (TIME[:0], "Given: 0 up to 0 s"),
    ),
)
def test_too_early_too_late_and_too_few_are_refused(time: np.ndarray, given: str) -> None:
    with pytest.raises(UsageError, match=given):
        forecast_index(time, power_law(time, 0.8, 0.1)[0])


def test_no_current_gives_no_forecast() -> None:
    with pytest.raises(UsageError, match="readings of 0 A"):
        forecast_index(TIME[SEEN], np.zeros(int(SEEN.sum())))


def test_readings_by_hand_are_enough() -> None:
    time = np.array(
        [15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0, 70.0, 80.0, 90.0, 100.0, 120.0]
    )
    made = forecast_index(time, power_law(time, 0.8, 0.1)[0])
    assert made.lower < absorption_ratio_model(0.8, 0.1) < made.upper


def test_a_forecast_of_another_mark() -> None:
    made = forecast_index(TIME[SEEN], one_record()[SEEN], mark=300.0)
    assert made.mark == 300.0
    assert made.lower < absorption_ratio_model(0.8, 0.1, 300.0) < made.upper
    assert made.upper / made.lower < forecast_index(TIME[SEEN], one_record()[SEEN]).upper / made.lower


def test_a_live_update_costs_at_most_20_ms() -> None:
    read, seen = one_record(), TIME <= 240.0
    forecast_index(TIME[seen], read[seen])
    spent = []
    for _ in range(15):
        # The time this process computes: what others do on the machine is none of its cost.
        began = clock.thread_time()
        forecast_index(TIME[seen], read[seen])
        spent.append(clock.thread_time() - began)
    assert np.median(spent) <= 0.020


def test_the_band_holds_the_current_that_comes() -> None:
    rng = np.random.default_rng(55)
    inside = []
    for row in range(30):
        truth = power_law(TIME, rng.uniform(0.5, 1.1), rng.uniform(0, 0.6))[0]
        read = noisy(rng, truth[None], Noise(0.01))[0]
        made = forecast_index(TIME[SEEN], read[SEEN])
        low, high = made.band()
        came = np.interp(made.time, TIME, truth)
        inside.append(np.mean((low <= came) & (came <= high)))
        assert made.time[0] == 120.0, row
        assert made.time[-1] == pytest.approx(600.0)
        assert (low < high).all()
    assert np.mean(inside) >= 0.85


def test_without_a_discrepancy_or_noise_the_outlook_is_the_power_law() -> None:
    found = outlook(TIME[SEEN], power_law(TIME[SEEN], 0.8, 0.1)[0], np.array([120.0, 300.0, 600.0]))
    assert found.weight.sum() == pytest.approx(1.0)
    mean = found.weight @ found.log_current
    expected = np.log(power_law(np.array([120.0, 300.0, 600.0]), 0.8, 0.1)[0])
    np.testing.assert_allclose(mean, expected, atol=0.02)
    assert (np.diff(found.weight @ found.log_variance) > 0).all()
    # A clean record has no noise but the least that is assumed, and its index is that of the closed form.
    assert found.scatter < 1e-3
    assert np.exp(found.weight @ found.log_ratio) == pytest.approx(
        float(absorption_ratio_model(0.8, 0.1)), rel=0.02
    )


def test_healthy_readings_stay_in_the_band() -> None:
    rng = np.random.default_rng(56)
    drawn = population(rng, 40, "power")
    read = noisy(rng, drawn.current, Noise(0.01))
    left = [
        leaves_band(forecast_index(TIME[SEEN], row[SEEN]), TIME[~SEEN], row[~SEEN]) is not None
        for row in read
    ]
    assert np.mean(left) <= 0.05


@pytest.mark.parametrize("size", (0.5, -0.4))
def test_a_step_after_the_look_leaves_the_band_and_is_said_to(size: float) -> None:
    rng = np.random.default_rng(57)
    found = []
    for _ in range(20):
        truth = power_law(TIME, rng.uniform(0.6, 1.0), rng.uniform(0.05, 0.4))[0]
        truth[TIME > 250.0] += size * np.interp(250.0, TIME, truth)
        read = noisy(rng, truth[None], Noise(0.01))[0]
        departure = leaves_band(forecast_index(TIME[SEEN], read[SEEN]), TIME[~SEEN], read[~SEEN])
        if departure is not None:
            found.append(departure)
    assert len(found) >= 19
    assert all(one.above == (size > 0) for one in found)
    assert np.median([one.at for one in found]) == pytest.approx(260.0, abs=15.0)
    assert np.sign(np.median([one.share for one in found])) == np.sign(size)


def test_a_change_after_the_look_is_not_foreseen() -> None:
    # Said beside the band: if nothing changes.
    rng = np.random.default_rng(58)
    truth = power_law(TIME, np.full(20, 0.8), 0.1)
    truth[:, TIME > 250.0] += 0.5 * truth[:, np.searchsorted(TIME, 250.0)][:, None]
    read = noisy(rng, truth, Noise(0.01))
    made = [forecast_index(TIME[SEEN], row[SEEN]) for row in read]
    assert np.mean([one.lower <= 1 / truth[0, -1] <= one.upper for one in made]) < 0.2


def test_only_what_arrives_after_the_forecast_is_compared() -> None:
    read = one_record()
    made = forecast_index(TIME[SEEN], read[SEEN])
    assert leaves_band(made, TIME[SEEN], 5 * read[SEEN]) is None
    assert leaves_band(made, TIME[117:118], 5 * read[117:118]) is None
    assert leaves_band(made, TIME[~SEEN], np.full(int((~SEEN).sum()), np.nan)) is None
    departure = leaves_band(made, TIME[~SEEN], 5 * read[~SEEN])
    assert isinstance(departure, Departure)
    assert departure.above
    assert departure.share == pytest.approx(4.0, rel=0.1)


def test_a_departure_of_a_mirrored_record_is_the_same() -> None:
    read = one_record()
    made = forecast_index(TIME[SEEN], -read[SEEN])
    assert leaves_band(made, TIME[~SEEN], -read[~SEEN]) is None
    departure = leaves_band(made, TIME[~SEEN], -2 * read[~SEEN])
    assert departure is not None
    assert departure.above


def test_lasting_noise_widens_the_interval() -> None:
    rng = np.random.default_rng(59)
    clean = power_law(TIME, np.full(15, 0.8), 0.1)
    white = [forecast_index(TIME[SEEN], row[SEEN]) for row in noisy(rng, clean, Noise(0.01))]
    lasts = clean * (1 + 0.01 * rng.normal(size=clean.shape) + 0.02 * lasting_noise(rng, 15, TIME.size))
    slow = [forecast_index(TIME[SEEN], row[SEEN]) for row in lasts]
    assert np.median(widths(slow)) > 1.5 * np.median(widths(white))
    assert np.median([one.lasting for one in slow]) > 3 * np.median([one.lasting for one in white])


def test_the_distribution_is_close_to_a_normal_one_in_ln() -> None:
    made = forecast_index(TIME[SEEN], one_record()[SEEN])
    deviation = np.log(made.upper / made.lower) / (2 * norm.ppf(0.95))
    inner = np.abs(made.log_index - np.log(made.estimate)) < 2 * deviation
    expected = norm.cdf((made.log_index[inner] - np.log(made.estimate)) / deviation)
    np.testing.assert_allclose(made.cumulative[inner], expected, atol=0.08)
