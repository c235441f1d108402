"""The delta of resistances: solved back exactly, and silent where the readings cannot tell."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from uncertainties import ufloat

from soakage.errors import UsageError
from soakage.physics.network import (
    THREE_WINDING_PAIRS,
    THREE_WINDING_READINGS,
    three_winding_network,
    two_winding_network,
)

PAIR = st.floats(1e8, 1e10)


def two_readings(hl: float, he: float, le: float) -> list[float]:
    return [1 / (1 / hl + 1 / he), 1 / (1 / hl + 1 / le), 1 / (1 / he + 1 / le)]


def three_readings(pairs: np.ndarray) -> np.ndarray:
    """What stands between the joined terminals and all the rest: the pairs with one end on each side."""
    conductance = 1 / pairs
    readings = []
    for joined in THREE_WINDING_READINGS:
        crossing = [((pair[0] in joined) != (pair[1] in joined)) for pair in THREE_WINDING_PAIRS]
        readings.append(1 / (conductance * crossing).sum())
    return np.array(readings)


@given(PAIR, PAIR, PAIR)
def test_two_windings_are_solved_back(hl: float, he: float, le: float) -> None:
    solved = two_winding_network(two_readings(hl, he, le))
    np.testing.assert_allclose(solved.resistance, [hl, he, le], rtol=1e-6)
    assert solved.resolved.all()
    assert solved.consistent
    assert np.isnan(solved.uncertainty).all()


@given(arrays(np.float64, 6, elements=PAIR))
def test_three_windings_are_solved_back_and_the_check_closes(pairs: np.ndarray) -> None:
    readings = three_readings(pairs)
    solved = three_winding_network(readings)
    np.testing.assert_allclose(solved.resistance, pairs, rtol=1e-6)
    assert abs(solved.check) < 1e-9 / readings.min()
    assert solved.consistent


def test_uncertainty_agrees_with_an_outside_propagator() -> None:
    readings = two_readings(4e9, 2e9, 1e9)
    noise = [0.01 * r for r in readings]
    g = [1 / ufloat(r, u) for r, u in zip(readings, noise, strict=True)]
    expected = [2 / (g[0] + g[1] - g[2]), 2 / (g[0] + g[2] - g[1]), 2 / (g[1] + g[2] - g[0])]
    solved = two_winding_network(readings, noise)
    np.testing.assert_allclose(solved.uncertainty, [e.std_dev for e in expected], rtol=1e-9)
    np.testing.assert_allclose(solved.resistance, [e.nominal_value for e in expected], rtol=1e-9)


def test_a_small_conductance_between_large_ones_is_not_resolved() -> None:
    readings = two_readings(1e12, 1e9, 1e9)
    noise = [0.01 * r for r in readings]
    solved = two_winding_network(readings, noise)
    assert solved.resolved.tolist() == [False, True, True]
    assert np.isnan(solved.resistance[0])
    assert np.isnan(solved.uncertainty[0])
    # With readings that are exact it is.
    assert two_winding_network(readings).resolved.all()


def test_a_negative_solution_is_never_a_negative_resistance() -> None:
    solved = two_winding_network([1e9, 1e9, 0.4e9])
    assert solved.conductance[0] < 0
    assert np.isnan(solved.resistance[0])
    assert not solved.resolved[0]


def test_rounding_resolves_nothing() -> None:
    # H and L as good as apart: both readings are the two earth paths, to the last digits.
    solved = two_winding_network(two_readings(1e30, 1e9, 1e9))
    assert not solved.resolved[0]


@pytest.mark.parametrize(
    ("bound", "kinds"),
    (
        # A reading over range: its conductance is at most this, so what is added falls and what is
        # subtracted rises.
        ((1, 0, 0), (1, 1, -1)),
        ((0, 0, 1), (-1, 1, 1)),
        ((0, 0, -1), (1, -1, -1)),
    ),
)
def test_a_bound_among_the_readings_bounds_the_pairs(bound: tuple[int, ...], kinds: tuple[int, ...]) -> None:
    solved = two_winding_network(two_readings(4e9, 2e9, 1e9), bound=bound)
    assert solved.bound.tolist() == list(kinds)


def test_bounds_that_pull_apart_resolve_nothing() -> None:
    solved = two_winding_network(two_readings(4e9, 2e9, 1e9), bound=(1, 0, 1))
    # HL = (G1 + G2 - G3)/2 is pushed both ways, HE and LE as well or one.
    assert solved.resolved.tolist() == [False, True, False]


def test_a_check_reading_that_misses_its_sum_is_seen() -> None:
    readings = three_readings(np.full(6, 1e9))
    readings[6] *= 1.2
    assert not three_winding_network(readings).consistent
    assert three_winding_network(readings, 0.2 * readings).consistent
    assert not three_winding_network(readings, 0.01 * readings).consistent


def test_the_check_reading_may_be_missing() -> None:
    readings = three_readings(np.array([1e9, 2e9, 3e9, 4e9, 5e9, 6e9]))
    readings[6] = np.nan
    solved = three_winding_network(readings)
    np.testing.assert_allclose(solved.resistance, [1e9, 2e9, 3e9, 4e9, 5e9, 6e9], rtol=1e-6)
    assert np.isnan(solved.check)
    assert solved.consistent


def test_a_batch_equals_its_sets_one_by_one() -> None:
    sets = np.array([two_readings(4e9, 2e9, 1e9), two_readings(1e9, 8e9, 3e9), [1e9, 1e9, 0.4e9]])
    both = two_winding_network(sets, 0.01 * sets)
    for k in range(3):
        one = two_winding_network(sets[k], 0.01 * sets[k])
        np.testing.assert_allclose(both.resistance[k], one.resistance)
        np.testing.assert_allclose(both.uncertainty[k], one.uncertainty)


def test_the_wrong_number_of_readings_is_refused() -> None:
    with pytest.raises(UsageError, match="H, L, HL"):
        two_winding_network([1e9, 1e9])
    with pytest.raises(UsageError, match="H, L, T, HL, HT, LT, HLT"):
        three_winding_network([1e9] * 6)
