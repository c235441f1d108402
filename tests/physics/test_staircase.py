"""Staircase records as they are typed and as they are logged."""

from __future__ import annotations

import numpy as np
import pytest

from soakage.errors import UsageError
from soakage.physics.currents import staircase_current
from soakage.physics.linearity import voltage_dependence
from soakage.physics.responses import PowerLaw
from soakage.physics.steps import equal_holds, step_table

LEVELS = np.arange(1, 6) * 1e3
EDGES = np.arange(5) * 60.0
PERFECT = PowerLaw(2e-9 * 60**0.8, 0.8, offset=0.0)


def logged() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """One reading a second, a small wobble on the voltage."""
    t = np.arange(1.0, 301.0)
    level = LEVELS[np.searchsorted(EDGES, t, side="left") - 1]
    return t, level * (1 + 0.002 * np.sin(t)), staircase_current(PERFECT, t, EDGES, LEVELS)


def test_typed_rows_and_a_logged_record_give_one_table() -> None:
    t, v, i = logged()
    full = step_table(t, v, i)
    typed = step_table(EDGES + 60.0, LEVELS, i[59::60])
    assert full.voltage == pytest.approx(LEVELS, rel=2e-3)
    np.testing.assert_allclose(full.start, EDGES)
    np.testing.assert_allclose(full.hold, 60.0)
    np.testing.assert_allclose(typed.hold, 60.0)
    np.testing.assert_array_equal(full.current, typed.current)
    assert full.equal_holds
    assert typed.equal_holds
    # Printed currents of the trap (derived): 2.000, 3.149, 3.979, ..., 5.191 uA.
    np.testing.assert_allclose(
        typed.current[[0, 1, 2, 4]], [2.000e-6, 3.149e-6, 3.979e-6, 5.191e-6], rtol=2e-4
    )
    # A perfect winding seems to rise: its fall is negative.
    assert voltage_dependence(typed.resistance[0], typed.resistance[-1]) == pytest.approx(-0.926, abs=1e-3)


def test_known_edges_overrule_what_the_rows_show() -> None:
    t, v, i = logged()
    seldom = slice(49, None, 60)
    table = step_table(t[seldom], v[seldom], i[seldom], edges=EDGES)
    np.testing.assert_allclose(table.start, EDGES)
    np.testing.assert_allclose(table.hold, [60.0, 60.0, 60.0, 60.0, 50.0])
    assert not table.equal_holds
    # Without them the first hold would seem ten seconds short.
    assert step_table(t[seldom], v[seldom], i[seldom]).hold[0] == 50.0


def test_a_row_at_the_edge_belongs_to_the_level_before() -> None:
    table = step_table([60.0, 120.0], [1e3, 2e3], [1e-6, 2e-6], edges=[0.0, 60.0])
    np.testing.assert_allclose(table.voltage, [1e3, 2e3])


def test_a_row_caught_while_the_voltage_rises_is_no_level() -> None:
    t, v, i = logged()
    v = np.where(t == 61.0, 1500.0, v)
    table = step_table(t, v, i)
    assert table.voltage.size == 5
    assert table.start[1] == 60.0
    assert table.equal_holds


def test_rows_without_voltage_and_after_the_short_circuit_belong_to_no_level() -> None:
    t, v, i = logged()
    v = np.where(t == 100.0, np.nan, v)
    t = np.append(np.insert(t, 0, 0.0), [301.0, 302.0])
    v = np.append(np.insert(v, 0, 0.0), [0.0, 0.0])
    i = np.append(np.insert(i, 0, 0.0), [-1e-6, -5e-7])
    table = step_table(t, v, i)
    assert table.voltage.size == 5
    np.testing.assert_allclose(table.hold, 60.0)


def test_the_last_current_read_in_the_hold_counts_and_bounds_turn_over() -> None:
    current = np.array([[2e-6, np.nan, 4e-6, 1e-9], [1e-6, 1e-6, -2e-6, np.nan]])
    kinds = np.array([[0, 0, 0, -1], [1, 1, 0, 0]], np.int8)
    table = step_table([30.0, 60.0, 90.0, 120.0], [1e3, 1e3, 2e3, 2e3], current, current_bound=kinds)
    np.testing.assert_allclose(table.current, [[2e-6, 1e-9], [1e-6, -2e-6]])
    np.testing.assert_allclose(table.resistance, [[5e8, 2e12], [1e9, np.nan]])
    # A current below 1 nA is a resistance above 2 TOhm; one above 1 uA a resistance below 1 GOhm.
    np.testing.assert_array_equal(table.bound, [[0, 1], [-1, 0]])


def test_a_batch_equals_its_records_one_by_one() -> None:
    t, v, i = logged()
    both = step_table(t, v, np.stack([i, 3 * i]))
    for k in range(2):
        one = step_table(t, v, (1 + 2 * k) * i)
        np.testing.assert_array_equal(both.resistance[k], one.resistance)


def test_unequal_holds_make_a_false_fall_and_are_seen() -> None:
    # 10 kV held ten minutes, then 1-kV steps of one minute, nothing wrong (derived): 29 % at once.
    edges = np.concatenate([[0.0], 600.0 + 60.0 * np.arange(10)])
    levels = 10e3 + 1e3 * np.arange(11)
    ends = np.append(edges[1:], edges[-1] + 60.0)
    table = step_table(ends, levels, staircase_current(PERFECT, ends, edges, levels))
    fall = voltage_dependence(table.resistance[0], table.resistance)
    assert fall[1] == pytest.approx(0.29, abs=5e-3)
    assert np.max(fall) == pytest.approx(0.37, abs=5e-3)
    assert not table.equal_holds


@pytest.mark.parametrize(
    ("holds", "alike"),
    (([60, 60, 60], True), ([60, 63, 60], True), ([60, 64, 60], False), ([60, np.nan], False)),
)
def test_holds_are_alike_within_a_twentieth(holds: list[float], alike: bool) -> None:
    assert equal_holds(holds) is alike


def test_a_record_that_is_no_staircase_is_refused() -> None:
    with pytest.raises(UsageError, match="do not rise"):
        step_table([60.0, 60.0], [1e3, 2e3], [1e-6, 1e-6])
    with pytest.raises(UsageError, match="No row"):
        step_table([60.0, 120.0], [0.0, np.nan], [1e-6, 1e-6])
