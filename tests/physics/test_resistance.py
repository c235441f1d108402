"""Marks are read, never guessed: samples, log-log between them, nothing outside, bounds kept."""

from __future__ import annotations

import time as clock

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from soakage.errors import UsageError
from soakage.physics.indices import resistance_ratio
from soakage.physics.resistance import at_mark, insulation_resistance

RECORD = np.arange(1.0, 601.0)
MARKS = np.array([15.0, 30.0, 60.0, 189.74, 600.0])


@given(st.floats(0.2, 1.5), st.floats(1e-9, 1e-3), st.lists(st.floats(5.0, 600.0), min_size=2, max_size=9))
def test_a_power_law_is_read_without_error(n: float, size: float, times: list[float]) -> None:
    t = np.array(sorted({*times, 1.0, 700.0}))
    read = at_mark(t, size * t**-n, MARKS)
    np.testing.assert_allclose(read.value, size * MARKS**-n, rtol=1e-9)
    assert (read.bound == 0).all()


def test_a_sample_at_the_mark_is_used_as_it_is() -> None:
    value = np.where(RECORD == 60.0, 7.0, RECORD)
    assert at_mark(RECORD, value, 60.0).value == 7.0
    # A sample that is no resistance is read, too: what it means is for others to say.
    assert at_mark(RECORD, np.where(RECORD == 60.0, -2.0, RECORD), 60.0).value == -2.0


def test_nothing_is_read_outside_the_record() -> None:
    read = at_mark([30.0, 60.0], [1.0, 2.0], [29.9, 30.0, 60.0, 60.1])
    assert np.isnan(read.value).tolist() == [True, False, False, True]


def test_a_missing_sample_counts_as_not_taken() -> None:
    t = np.array([20.0, 60.0, 180.0])
    read = at_mark(t, [2.0, np.nan, 18.0], 60.0)
    assert read.value == pytest.approx(6.0)
    assert np.isnan(at_mark(t, [np.nan, np.nan, 18.0], 60.0).value)
    assert np.isnan(at_mark(t, [2.0, np.nan, np.nan], 60.0).value)


@pytest.mark.parametrize("neighbour", (0.0, -1.0))
def test_no_value_comes_from_a_neighbour_that_has_no_logarithm(neighbour: float) -> None:
    assert np.isnan(at_mark([30.0, 90.0], [neighbour, 4.0], 60.0).value)
    assert np.isnan(at_mark([30.0, 90.0], [4.0, neighbour], 60.0).value)
    assert np.isnan(at_mark([0.0, 90.0], [4.0, 4.0], 60.0).value)


@pytest.mark.parametrize(
    ("kinds", "bound", "known"),
    (
        ((1, 1), 1, True),
        ((-1, -1), -1, True),
        ((0, 1), 1, True),
        ((1, 0), 1, True),
        ((0, -1), -1, True),
        ((1, -1), 0, False),
        ((0, 0), 0, True),
    ),
)
def test_a_bound_stays_a_bound_or_leaves_nothing(kinds: tuple[int, int], bound: int, known: bool) -> None:
    read = at_mark([30.0, 120.0], [1e9, 4e9], 60.0, kinds)
    assert read.bound == bound
    assert np.isfinite(read.value) == known
    if known:
        assert read.value == pytest.approx(2e9)


def test_of_two_samples_at_the_mark_the_last_is_read() -> None:
    assert at_mark([30.0, 60.0, 60.0, 90.0], [1.0, 2.0, 3.0, 4.0], 60.0).value == 3.0
    assert at_mark([30.0, 60.0, 60.0, np.nan], [1.0, 2.0, 3.0, np.nan], 60.0).value == 3.0


def test_times_that_fall_are_refused() -> None:
    with pytest.raises(UsageError, match="never fall"):
        at_mark([60.0, 30.0], [1.0, 2.0], 45.0)


@given(
    arrays(np.float64, (3, 12), elements=st.floats(1.0, 1e12) | st.just(np.nan)),
    arrays(np.int8, (3, 12), elements=st.integers(-1, 1)),
    st.booleans(),
)
def test_a_batch_equals_its_records_one_by_one(
    values: np.ndarray, kinds: np.ndarray, own_times: bool
) -> None:
    t = np.linspace(10.0, 700.0, 12)
    times = np.stack([t, t + 1.5, t * 1.1]) if own_times else t
    batch = at_mark(times, values, MARKS, kinds)
    for row in range(3):
        one = at_mark(times[row] if own_times else t, values[row], MARKS, kinds[row])
        np.testing.assert_array_equal(batch.value[row], one.value)
        np.testing.assert_array_equal(batch.bound[row], one.bound)


@given(arrays(np.float64, (2, 8), elements=st.floats(1e3, 1e12)))
def test_both_ways_of_finding_the_neighbours_agree(values: np.ndarray) -> None:
    t = np.geomspace(5.0, 900.0, 8)
    shared = at_mark(t, values, MARKS)
    own = at_mark(np.stack([t, t]), values, MARKS)
    np.testing.assert_array_equal(shared.value, own.value)


@given(st.floats(1e3, 1e13), st.floats(50.0, 1e4))
def test_a_purely_resistive_load_has_ratios_of_exactly_one(resistance: float, voltage: float) -> None:
    current = np.full(RECORD.shape, voltage / resistance)
    read = at_mark(RECORD, insulation_resistance(voltage, current), MARKS).value
    assert (resistance_ratio(read[1:], read[:-1]) == 1.0).all()


def test_one_record_is_read_in_tens_of_microseconds() -> None:
    value = 1e9 * RECORD**0.8
    best = np.inf
    for _ in range(200):
        begun = clock.perf_counter()
        at_mark(RECORD, value, MARKS)
        best = min(best, clock.perf_counter() - begun)
    # Four times the figure measured on the reference machine (28 us).
    assert best < 120e-6
