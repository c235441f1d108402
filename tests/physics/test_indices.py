"""Ratios of a power law, and the three-point decomposition with what noise does to it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.physics.absorption import absorption_ratio_model
from soakage.physics.indices import dielectric_discharge, resistance_ratio
from soakage.physics.linearity import nonlinearity_coefficient, voltage_dependence
from soakage.physics.resistance import at_mark
from soakage.physics.spread import leakage_spread_of_least, leakage_spread_of_mean, phase_spread
from soakage.physics.three_point import MARKS, REASONS, absorption_coefficient, three_point

N = st.floats(0.3, 1.3)
SHARE = st.floats(0.0, 1.0)
SIZE = st.floats(1e-3, 1e3)


@given(N, SHARE, SIZE)
def test_three_readings_of_a_power_law_give_its_three_unknowns(n: float, share: float, size: float) -> None:
    conduction, first = size * share, size * (1 - 0.9 * share)
    current = [conduction + first * (mark / 60.0) ** -n for mark in MARKS]
    parts = three_point(current[0], current[1], current[2])
    assert parts.reason == 0
    assert parts.conduction_current == pytest.approx(conduction, rel=1e-6, abs=1e-7 * size)
    assert parts.absorption_exponent == pytest.approx(n, rel=1e-6)
    assert parts.absorption_decade_ratio == pytest.approx(10**n, rel=1e-6)
    coefficient = absorption_coefficient(current[0], current[1], current[2], 5000.0)
    assert coefficient == pytest.approx(first * 60**n / 5000.0, rel=1e-4)


@pytest.mark.parametrize(
    ("n", "share", "gain"),
    (
        (0.8, 0.05, 23.0),
        (0.8, 0.3, 5.9),
        (0.8, 0.7, 4.0),
        (0.5, 0.05, 84.0),
        (0.5, 0.3, 17.0),
        (0.5, 0.7, 9.7),
    ),
)
def test_noise_is_multiplied_as_stated(n: float, share: float, gain: float) -> None:
    # Standard deviation of the conduction current in units of the reading noise (derived, to 2 digits).
    current = np.array([(1 - share) * (mark / 60.0) ** -n + share for mark in MARKS])
    plain = float(three_point(*current).conduction_current)
    moved = []
    for k in range(3):
        shifted = current.copy()
        shifted[k] *= 1 + 1e-7
        moved.append((float(three_point(*shifted).conduction_current) / plain - 1) / 1e-7)
    assert float(np.linalg.norm(moved)) == pytest.approx(gain, rel=0.03)


def test_reading_at_three_minutes_in_place_of_3_16_biases_the_conduction() -> None:
    # I = 10 t^-0.8 + 1.5 uA with t in minutes (derived): 1.500 becomes 1.075 uA.
    def current(minutes: float) -> float:
        return float(10.0 * minutes**-0.8 + 1.5)

    late = three_point(current(1.0), current(3.0), current(10.0))
    assert late.conduction_current == pytest.approx(1.075, abs=1e-3)
    # Read on log-log axes from a record of whole minutes, most of the bias goes.
    minutes = np.arange(1.0, 11.0)
    read = at_mark(60.0 * minutes, 10.0 * minutes**-0.8 + 1.5, MARKS).value
    assert three_point(*read).conduction_current == pytest.approx(1.5, abs=0.02)


@pytest.mark.parametrize(
    ("currents", "words"),
    (
        ((2.0, 2.0, 2.0), "ever more slowly"),
        ((3.0, 2.0, 1.0), "ever more slowly"),
        ((1.0, 2.0, 3.0), "ever more slowly"),
        ((3.0, 1.0, 2.0), "ever more slowly"),
        ((10.0, 5.0, 1.0), "negative conduction"),
        ((10.0, np.nan, 1.0), "missing"),
    ),
)
def test_what_is_no_decaying_power_law_gives_nothing_and_says_why(
    currents: tuple[float, float, float], words: str
) -> None:
    parts = three_point(*currents)
    assert words in REASONS[int(parts.reason)]
    assert np.isnan(parts.conduction_current)
    assert np.isnan(parts.absorption_exponent)


def test_a_batch_of_triples_equals_one_by_one() -> None:
    first, second, third = (
        np.array([11.5, 3.0, 10.0]),
        np.array([5.481072, 2.0, 5.0]),
        np.array([3.084893, 1.0, 1.0]),
    )
    batch = three_point(first, second, third)
    for k in range(3):
        one = three_point(first[k], second[k], third[k])
        np.testing.assert_array_equal(batch.conduction_current[k], one.conduction_current)
        assert batch.reason[k] == one.reason


@given(N, SHARE)
def test_an_index_lies_between_one_and_its_power_law(n: float, share: float) -> None:
    index = float(absorption_ratio_model(n, share))
    assert 1 - 1e-12 <= index <= 10**n * (1 + 1e-12)
    assert index == pytest.approx(1 / ((1 - share) * 10**-n + share), rel=1e-12)


@pytest.mark.parametrize(
    ("n", "share"), ((0.5, 0.27), (0.6, 0.33), (0.7, 0.375), (0.8, 0.41), (0.9, 0.43), (1.0, 0.44))
)
def test_an_index_of_two_goes_with_its_share_of_leakage(n: float, share: float) -> None:
    assert absorption_ratio_model(n, share) == pytest.approx(2.0, abs=0.025)


def test_ratios_to_30_and_to_15_seconds_are_not_interchangeable() -> None:
    share = 1.5 / 11.5
    assert absorption_ratio_model(0.8, share, 60.0, 30.0) == pytest.approx(1.64, abs=0.005)
    assert absorption_ratio_model(0.8, share, 60.0, 15.0) == pytest.approx(2.77, abs=0.005)


@given(SIZE, SIZE, st.floats(1e-6, 1e6))
def test_ratios_do_not_depend_on_the_size_of_the_winding(a: float, b: float, scale: float) -> None:
    assert resistance_ratio(scale * a, scale * b) == pytest.approx(float(resistance_ratio(a, b)), rel=1e-12)
    assert voltage_dependence(scale * a, scale * b) == pytest.approx(
        float(voltage_dependence(a, b)), rel=1e-9, abs=1e-12
    )


@given(st.lists(SIZE, min_size=2, max_size=6))
def test_spreads_of_one_set_hang_together(values: list[float]) -> None:
    least = float(leakage_spread_of_least(values))
    assert phase_spread(values) == pytest.approx(1 + least, rel=1e-12)
    assert leakage_spread_of_mean(values) <= least * (1 + 1e-12)
    assert phase_spread([values[0]] * 3) == 1.0


def test_the_floor_of_the_non_linearity_coefficient_hides_small_currents() -> None:
    assert nonlinearity_coefficient(12e-6, 15e3, 2e-6, 5e3) == pytest.approx(2.0)
    assert nonlinearity_coefficient(8e-6, 15e3, 2e-6, 5e3, 10e-6) == pytest.approx(1 / 3)
    # Conductance that does not change gives 1 whatever the voltages.
    assert nonlinearity_coefficient(15e-6, 15e3, 5e-6, 5e3) == pytest.approx(1.0)


@given(st.floats(1e-12, 1e-6), SIZE, st.floats(1e-9, 1e-5))
def test_dielectric_discharge_has_no_size_and_no_sign(current: float, voltage: float, c: float) -> None:
    value = float(dielectric_discharge(current, voltage, c))
    assert dielectric_discharge(-2 * current, voltage, 2 * c) == pytest.approx(value, rel=1e-12)
    assert np.isnan(dielectric_discharge(current, voltage, 0.0))
