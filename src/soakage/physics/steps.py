"""A staircase record as a table: one line per level, read at the end of each hold.

A new level stands from the row before the first row that shows it, and from 0 for the first level.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Bounds, Floats, Indices, floats
from soakage.physics.resistance import insulation_resistance

# Rows within this fraction of one another stand at one level: wide enough for a sagging source, and far
# below any step that is used.  Ours, practice.
SAME_LEVEL = 0.05
# A lone row between two levels is the voltage on its way when its hold is this short against the others.
ON_ITS_WAY = 0.1
# Holds this alike are equal for the 25 % rule: of R ~ t^0.8 it is worth 4 %.  Ours, practice.
EQUAL_HOLDS = 0.05


class StepTable(NamedTuple):
    """End-of-hold values of a staircase of k levels.

    Parameters
    ----------
    voltage : ndarray of float, shape (k,)
        Level, the median of its rows [V].
    start : ndarray of float, shape (k,)
        When the level began to stand [s].
    hold : ndarray of float, shape (k,)
        From there to the reading at its end [s].
    current : ndarray of float, shape (..., k)
        Last current read in the hold [A]; NaN where none was.
    resistance : ndarray of float, shape (..., k)
        Voltage over current at that reading [ohm]; NaN where the current is not positive.
    bound : ndarray of int8, shape (..., k)
        Bound of the resistance: 0, +1 lower, -1 upper.
    equal_holds : bool
        Whether all holds are alike, so that the ends may be compared.
    """

    voltage: Floats
    start: Floats
    hold: Floats
    current: Floats
    resistance: Floats
    bound: Bounds
    equal_holds: bool


def step_table(
    time: ArrayLike,
    voltage: ArrayLike,
    current: ArrayLike,
    *,
    edges: ArrayLike | None = None,
    current_bound: ArrayLike | None = None,
) -> StepTable:
    """Tabulate a staircase record at the ends of its holds.

    Parameters
    ----------
    time : array_like, shape (n,)
        Time since the first voltage [s], rising.
    voltage : array_like, shape (n,)
        Voltage of each row [V]; rows at 0 V or without a voltage belong to no level.
    current : array_like, shape (..., n)
        Current of each row [A].
    edges : array_like, shape (k,), optional
        When each level began [s], where it is known; else the edges are found in the voltage.
    current_bound : array_like of int, shape (..., n), optional
        0 a value, +1 a lower bound, -1 an upper bound of the current.

    Returns
    -------
    StepTable

    Raises
    ------
    UsageError
        When times fall or stand still, or no row carries a voltage.

    References
    ----------
    The house's reading of step records (practice); false fall of a perfect winding (derived).
    """
    t, v, i = floats(time), floats(voltage), floats(current)
    if (np.diff(t) <= 0).any():
        raise UsageError("The times of a step record do not rise everywhere. Sort the rows and drop doubles.")
    labels, start = step_levels(t, v, edges)
    if not start.size:
        raise UsageError("No row of the step record carries a voltage above 0. Give the column voltage [V].")
    rows = [np.flatnonzero(labels == level) for level in range(start.size)]
    level_voltage = np.array([np.median(v[r]) if r.size else np.nan for r in rows])
    ends = np.array([t[r[-1]] if r.size else np.nan for r in rows])
    kinds = np.zeros(i.shape, np.int8) if current_bound is None else np.asarray(current_bound, np.int8)
    last = np.stack([_last_reading(i, r) for r in rows], axis=-1)
    at = np.maximum(last, 0)
    end_current = np.where(last >= 0, np.take_along_axis(i, at, axis=-1), np.nan)
    resistance = insulation_resistance(v[at], end_current)
    bound = np.where(np.isnan(resistance), np.int8(0), -np.take_along_axis(kinds, at, axis=-1)).astype(
        np.int8
    )
    hold = ends - start
    if edges is not None:
        hold[:-1] = np.diff(start)
    return StepTable(level_voltage, start, hold, end_current, resistance, bound, equal_holds(hold))


def equal_holds(hold: ArrayLike, tolerance: float = EQUAL_HOLDS) -> bool:
    """Say whether all holds are alike within a fraction of their median.

    Parameters
    ----------
    hold : array_like, shape (k,)
        Holding times [s].
    tolerance : float, optional
        Allowed departure from the median, as a fraction of it [1].

    Returns
    -------
    bool
        False when one is missing.

    References
    ----------
    The 25 % rule compares equal holds only (derived: unequal ones show a false fall of 37 %);
    the tolerance is the house's practice.
    """
    holds = floats(hold)
    middle = np.median(holds)
    return bool((np.abs(holds - middle) <= tolerance * middle).all())


def step_levels(
    time: ArrayLike, voltage: ArrayLike, edges: ArrayLike | None = None
) -> tuple[Indices, Floats]:
    """Label each row of a staircase record with its level.

    Parameters
    ----------
    time : array_like, shape (n,)
        Time since the first voltage [s], rising.
    voltage : array_like, shape (n,)
        Voltage of each row [V].
    edges : array_like, shape (k,), optional
        When each level began [s], where it is known; else the edges are found in the voltage.

    Returns
    -------
    label : ndarray of int, shape (n,)
        Level of each row; -1 for none.
    start : ndarray of float, shape (k,)
        When each level began to stand [s]: the row before its first row, or the edge given.

    References
    ----------
    The house's reading of step records (practice).
    """
    t, v = floats(time), floats(voltage)
    return _found_levels(t, v) if edges is None else _given_levels(t, v, floats(edges))


def _found_levels(time: Floats, voltage: Floats) -> tuple[Indices, Floats]:
    """Label each row with its level (-1: none) and give the moment each level began."""
    read = np.flatnonzero(~np.isnan(voltage))
    before = dict(zip(read[1:].tolist(), read[:-1].tolist(), strict=True))
    groups: list[list[int]] = []
    mean = 0.0
    for row in read[voltage[read] > 0].tolist():
        value = float(voltage[row])
        joined = bool(groups) and before.get(row) == groups[-1][-1]
        if joined and abs(value - mean) <= SAME_LEVEL * mean:
            groups[-1].append(row)
            mean += (value - mean) / len(groups[-1])
        else:
            groups.append([row])
            mean = value
    # Row before the first row of the group; the voltage was applied at time 0.
    starts = [float(time[before[g[0]]]) if g[0] in before else 0.0 for g in groups]
    holds = np.array([time[g[-1]] - s for g, s in zip(groups, starts, strict=True)])
    kept, begun, pending = [], [], None
    for k, group in enumerate(groups):
        between = 0 < k < len(groups) - 1 and len(group) == 1
        if between:
            low, high = sorted((voltage[groups[k - 1][-1]], voltage[groups[k + 1][0]]))
            between = low < voltage[group[0]] < high and holds[k] < ON_ITS_WAY * np.median(holds)
        if between:
            # The next level began to come where this row began.
            pending = starts[k] if pending is None else pending
            continue
        kept.append(group)
        begun.append(starts[k] if pending is None else pending)
        pending = None
    labels = np.full(time.shape, -1, np.intp)
    for level, group in enumerate(kept):
        labels[group] = level
    return labels, floats(begun)


def _given_levels(time: Floats, voltage: Floats, edges: Floats) -> tuple[Indices, Floats]:
    """Label rows by stated edges: a row at the very edge still belongs to the level before it."""
    labels = np.searchsorted(edges, time, side="left") - 1
    labels = np.where(voltage > 0, labels, -1)
    return labels.astype(np.intp), edges[: labels.max() + 1] if labels.size else edges[:0]


def _last_reading(current: Floats, rows: Indices) -> Indices:
    """Row of the last current read among these rows, per record; -1 where none was."""
    if not rows.size:
        return np.full(current.shape[:-1], -1, np.intp)
    read = ~np.isnan(current[..., rows])
    return np.where(read.any(axis=-1), rows[rows.size - 1 - read[..., ::-1].argmax(axis=-1)], -1)
