"""Insulation resistance, and its value at the timed marks."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Bounds, Flags, Floats, Indices, floats
from soakage.physics.bounds import Bounded
from soakage.physics.formula import Example, Input, formula


@formula(
    id="insulation_resistance",
    name="Insulation resistance",
    expression="R = V / I",
    inputs=(
        Input("test_voltage", "V", "Direct voltage across the insulation"),
        Input("current", "A", "Current through it at the same moment"),
    ),
    unit="ohm",
    source="IEEE Std 43-2013, cl. 5.3",
    verified="secondary",
    example=Example(
        {"test_voltage": "5 kV", "current": "11.5 uA"}, 434.78e6, 1e-4, "ratio of the two; derived"
    ),
    validity="a current above 0 A",
)
def insulation_resistance(test_voltage: ArrayLike, current: ArrayLike) -> Floats:
    """Divide voltage by current.

    Parameters
    ----------
    test_voltage : array_like
        Voltage across the insulation [V].
    current : array_like
        Current at the same moment [A]; broadcasts against the voltage.

    Returns
    -------
    ndarray of float
        Insulation resistance [ohm]; NaN where the current is 0 or of the other sign than the voltage.

    References
    ----------
    IEEE Std 43-2013, cl. 5.3 (secondary).
    """
    v, i = floats(test_voltage), floats(current)
    with np.errstate(divide="ignore", invalid="ignore"):
        r = v / i
    return np.where((r > 0) & np.isfinite(r), r, np.nan)[()]


def at_mark(time: ArrayLike, value: ArrayLike, mark: ArrayLike, bound: ArrayLike | None = None) -> Bounded:
    """Read a decaying or rising record at timed marks.

    A sample taken at the mark is used as it is; between two samples the record is a straight line on
    log-log axes, which a power law is; before the first and after the last there is nothing.

    Parameters
    ----------
    time : array_like, shape (n,) or (..., n)
        Time since the voltage was applied [s], never falling; one for all records or one for each.
    value : array_like, shape (..., n)
        Resistance [ohm] or current [A]; NaN samples count as not taken.
    mark : array_like, shape () or (m,)
        Where to read [s].
    bound : array_like of int, shape (..., n), optional
        0 a value, +1 a lower bound, -1 an upper bound.

    Returns
    -------
    Bounded, shape (...) or (..., m)
        Value at each mark.  Between a bound and a value, or two bounds of one kind, the interpolated
        figure is such a bound; between bounds of opposite kinds, and where either neighbour is zero
        or negative, there is nothing.

    Raises
    ------
    UsageError
        When the times fall.

    References
    ----------
    Log-log interpolation: exact for I = K t^-n (derived); reading at 3.0 in place of 3.16 minutes
    biases the three-point conduction current from 1.500 to 1.075 uA (derived).
    """
    t, y, marks = floats(time), floats(value), floats(mark)
    if (t[..., 1:] < t[..., :-1]).any():
        raise UsageError(
            "The times of a record fall somewhere. Allowed: times that never fall. Sort the rows."
        )
    if not t.shape[-1]:
        nothing = np.full((*y.shape[:-1], *marks.shape), np.nan)
        return Bounded(nothing, np.zeros(nothing.shape, np.int8))
    m = np.atleast_1d(marks)
    kind = None if bound is None else np.broadcast_to(np.asarray(bound, np.int8), y.shape)
    before, after = _neighbours(t, y, m)
    inside = (before >= 0) & (after < t.shape[-1])
    before, after = np.where(inside, before, 0), np.where(inside, after, 0)
    t0, t1 = _taken(t, before), _taken(t, after)
    y0, y1 = _taken(y, before), _taken(y, after)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.log(m / t0) / np.log(t1 / t0)
        curve = np.where((y0 > 0) & (y1 > 0) & (t0 > 0), y0 * (y1 / y0) ** share, np.nan)
    sampled = t1 == m
    result = np.where(inside, np.where(sampled, y1, curve), np.nan)
    if kind is None:
        flags = np.zeros(result.shape, np.int8)
    else:
        b0, b1 = _taken_kind(kind, before), _taken_kind(kind, after)
        result = np.where(~sampled & (b0 * b1 < 0), np.nan, result)
        flags = np.where(sampled, b1, np.sign(b0 + b1))
        flags = np.where(np.isnan(result), np.int8(0), flags).astype(np.int8)
    return Bounded(result[..., 0], flags[..., 0]) if marks.ndim == 0 else Bounded(result, flags)


def _neighbours(time: Floats, value: Floats, marks: Floats) -> tuple[Indices, Indices]:
    """Index of the last sample at or before each mark and of the first at or after it, shape (..., m)."""
    n = time.shape[-1]
    if time.ndim == 1 and not np.isnan(value).any():
        # One search serves every record: the common case, a complete grid of times.
        before = np.searchsorted(time, marks, side="right") - 1
        after = np.searchsorted(time, marks, side="left")
        # Of several samples at the mark the last is the one read, on both sides.
        return before, np.where((before >= 0) & (time[before] == marks), before, after)
    taken = ~np.isnan(value)
    t = np.broadcast_to(time, value.shape)[..., None, :]
    early = (t <= marks[:, None]) & taken[..., None, :]
    late = (t >= marks[:, None]) & taken[..., None, :]
    before = np.where(early.any(-1), n - 1 - early[..., ::-1].argmax(-1), -1)
    after = np.where(late.any(-1), late.argmax(-1), n)
    last = np.take_along_axis(np.broadcast_to(time, value.shape), np.maximum(before, 0), axis=-1)
    at: Flags = last == marks
    return before, np.where((before >= 0) & at, before, after)


def _taken(values: Floats, index: Indices) -> Floats:
    """Pick samples of the last axis; a common index or common times serve all records."""
    if index.ndim == 1 or values.ndim == 1:
        return values[..., index]
    return np.take_along_axis(values, index, axis=-1)


def _taken_kind(kind: Bounds, index: Indices) -> Bounds:
    """Pick the bounds of the same samples."""
    return kind[..., index] if index.ndim == 1 else np.take_along_axis(kind, index, axis=-1)
