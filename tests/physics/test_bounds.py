"""Bounds: whatever the hidden truth, the statement that comes out must hold for it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from soakage.physics import bounds
from soakage.physics.bounds import Bounded, bounded
from soakage.physics.spread import phase_spread_bounded

KINDS = st.sampled_from((-1, 0, 1))
SIZES = st.floats(1e-3, 1e3)
# How far the truth lies from the reading, as a factor above or below it.
HIDDEN = st.floats(1.0, 1e3)


def truth(value: float, kind: int, hidden: float) -> float:
    return value * hidden**kind


def holds(statement: Bounded, fact: float) -> bool:
    value, kind = float(statement.value), int(statement.bound)
    if np.isnan(value):
        return True
    slack = 1e-9 * abs(fact)
    if kind == 0:
        return abs(value - fact) <= slack
    return bool(fact >= value - slack) if kind > 0 else bool(fact <= value + slack)


PAIRWISE: tuple[tuple[Callable[[Bounded, Bounded], Bounded], Callable[[float, float], float]], ...] = (
    (bounds.ratio, lambda a, b: a / b),
    (bounds.product, lambda a, b: a * b),
    (bounds.total, lambda a, b: a + b),
)


@pytest.mark.parametrize(("operation", "plain"), PAIRWISE)
@given(a=SIZES, b=SIZES, ka=KINDS, kb=KINDS, ha=HIDDEN, hb=HIDDEN)
def test_what_is_said_of_a_pair_is_true(
    operation: Callable[[Bounded, Bounded], Bounded], plain: Callable[[float, float], float],
    a: float, b: float, ka: int, kb: int, ha: float, hb: float,
) -> None:  # fmt: skip
    said = operation(bounded(a, ka), bounded(b, kb))
    assert holds(said, plain(truth(a, ka, ha), truth(b, kb, hb)))
    if ka or kb:
        # Never a number that looks measured.
        assert said.bound != 0 or np.isnan(said.value)
    else:
        assert said.bound == 0
        assert said.value == plain(a, b)


READINGS = st.lists(st.tuples(SIZES, KINDS, HIDDEN), min_size=1, max_size=5)


@pytest.mark.parametrize(("operation", "plain"), ((bounds.smallest, min), (bounds.largest, max)))
@given(readings=READINGS)
def test_what_is_said_of_an_extreme_is_true(
    operation: Callable[[Bounded], Bounded], plain: Callable[[list[float]], float],
    readings: list[tuple[float, int, float]],
) -> None:  # fmt: skip
    said = operation(bounded([r[0] for r in readings], [r[1] for r in readings]))
    assert holds(said, plain([truth(*r) for r in readings]))
    assert not np.isnan(said.value)


@given(readings=st.lists(st.tuples(SIZES, KINDS, HIDDEN), min_size=2, max_size=4))
def test_what_is_said_of_a_phase_spread_is_true(readings: list[tuple[float, int, float]]) -> None:
    said = phase_spread_bounded([r[0] for r in readings], [r[1] for r in readings])
    facts = [truth(*r) for r in readings]
    assert holds(said, max(facts) / min(facts))


@given(SIZES, KINDS, HIDDEN, st.floats(-100.0, 100.0))
def test_scaling_by_a_known_factor(value: float, kind: int, hidden: float, factor: float) -> None:
    assume(abs(factor) > 1e-6)
    assert holds(bounds.scale(bounded(value, kind), factor), factor * truth(value, kind, hidden))


@given(SIZES, KINDS, HIDDEN)
def test_the_reciprocal(value: float, kind: int, hidden: float) -> None:
    assert holds(bounds.reciprocal(bounded(value, kind)), 1.0 / truth(value, kind, hidden))


@pytest.mark.parametrize("operation", (bounds.ratio, bounds.product))
def test_a_bound_that_meets_a_negative_value_says_nothing(
    operation: Callable[[Bounded, Bounded], Bounded],
) -> None:
    assert np.isnan(operation(bounded(-1.0, 1), bounded(2.0)).value)
    assert np.isnan(operation(bounded(1.0, 1), bounded(-2.0)).value)
    assert not np.isnan(operation(bounded(-1.0), bounded(2.0)).value)


def test_a_missing_reading_leaves_nothing_and_no_bound() -> None:
    for said in (
        bounds.smallest(bounded([1.0, np.nan], [1, 1])),
        bounds.ratio(bounded(np.nan, 1), bounded(2.0)),
        bounds.ratio(bounded(1.0), bounded(0.0)),
        bounds.total(bounded(1.0, 1), bounded(1.0, -1)),
    ):
        assert np.isnan(said.value)
        assert said.bound == 0


def test_division_of_a_lower_bound_by_a_value_and_of_a_value_by_it() -> None:
    over = bounded(10e12, 1)
    up, down = bounds.ratio(over, bounded(5e12)), bounds.ratio(bounded(5e12), over)
    assert (float(up.value), int(up.bound)) == (2.0, bounds.LOWER)
    assert (float(down.value), int(down.bound)) == (0.5, bounds.UPPER)
    assert np.isnan(bounds.ratio(over, over).value)
