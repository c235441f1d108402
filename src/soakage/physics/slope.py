"""Robust lines through scattered, partly bounded series: Theil-Sen, Mann-Kendall, where a line meets a level.

Time stands on the last axis; NaN is no reading.  A bound takes part in every comparison that it decides and in
no other.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Flags, Floats, Indices, floats

# Up to here the distribution of the score is counted, beyond it taken as normal.
_COUNTED = 60


class Line(NamedTuple):
    """A robust line, in the units of value and time; each of the shape of the leading axes.

    Parameters
    ----------
    slope, lower, upper : ndarray of float
        Slope and the ends of its interval; an end is infinite where too few comparisons are decided.
    level, time : ndarray of float
        The line passes through ``level`` at ``time``, the median of the times.
    level_uncertainty : ndarray of float
        Half the interval of ``level``, same confidence.
    scatter : ndarray of float
        Robust standard deviation of the values about the line; bounds do not count.
    readings : ndarray of float
        How many were used, bounds included.
    """

    slope: Floats
    lower: Floats
    upper: Floats
    level: Floats
    time: Floats
    level_uncertainty: Floats
    scatter: Floats
    readings: Floats


class RankTest(NamedTuple):
    """Score, rank correlation (tau-b), two-sided probability, and whether that is exact."""

    score: Floats
    tau: Floats
    p: Floats
    exact: Flags


class Crossing(NamedTuple):
    """When a line meets a level, at the earliest and at the latest; infinite where it need not."""

    time: Floats
    earliest: Floats
    latest: Floats


def theil_sen(
    time: ArrayLike, value: ArrayLike, bound: ArrayLike | None = None, confidence: float = 0.95
) -> Line:
    """Return the median of all slopes between two readings, with its distribution-free interval.

    Parameters
    ----------
    time : array_like, shape (..., n)
        Times in any order, any unit.
    value : array_like, shape (..., n)
        Values; a logarithm for what is multiplicative.
    bound : array_like of int, optional
        0 a value, +1 truth at or above, -1 at or below.
    confidence : float
        Of the interval.

    Returns
    -------
    Line
        NaN where no slope is decided. Two values at one time make no slope.

    Raises
    ------
    UsageError
        When the confidence is not between 0 and 1.

    References
    ----------
    Theil 1950; Sen, J. Am. Stat. Assoc. 63 (1968) 1379 (secondary). With bounds a slope is only known to lie
    between two ends, and the line balances those for certain above and below it: Akritas, Murphy and LaValley,
    J. Am. Stat. Assoc. 90 (1995) 170 (secondary); this is the median of all those ends (derived). The interval
    holds the slopes that Kendall's score does not refuse, by the counts of a series without bounds, which are the
    wider ones (derived). Level by the median of the departures, its interval by Student's t with the median's
    efficiency under normal scatter (practice).
    """
    if not 0 < confidence < 1:
        raise UsageError(f"Confidence must lie between 0 and 1. Given: {confidence}. For example 0.95.")
    t, low, high = _ends(time, value, bound)
    span = _pairs(t, t)
    rising = np.isfinite(span) & (span != 0)
    with np.errstate(invalid="ignore", divide="ignore"):
        one, other = _pairs(low, high) / span, _pairs(high, low) / span
    least = np.where(rising, np.fmin(one, other), np.nan)
    most = np.where(rising, np.fmax(one, other), np.nan)
    ends = np.sort(np.concatenate([least, most], axis=-1), axis=-1)
    slopes = np.count_nonzero(rising, axis=-1)
    slope = _middle(ends)
    count = np.count_nonzero(np.isfinite(t), axis=-1)
    critical = _critical(t, count, confidence)
    first = np.floor(np.maximum(slopes - critical, -1.0)).astype(np.intp)
    lower = np.where(first >= 0, _at(ends, first), -np.inf)
    upper = np.where(first >= 0, _at(ends, 2 * slopes - 1 - first), np.inf)
    lower, upper = (np.where(slopes > 0, end, np.nan) for end in (lower, upper))
    middle = _middle(np.sort(t, axis=-1))
    with np.errstate(invalid="ignore"):
        departures = [end - slope[..., None] * (t - middle[..., None]) for end in (low, high)]
    level = _middle(np.sort(np.concatenate(departures, axis=-1), axis=-1))
    exact = np.where(low == high, departures[0], np.nan)
    scatter, uncertainty = _scatter(exact, level, confidence)
    return Line(slope, lower, upper, level, middle, uncertainty, scatter, count.astype(np.float64))


def mann_kendall(time: ArrayLike, value: ArrayLike, bound: ArrayLike | None = None) -> RankTest:
    """Return Kendall's score of values against time, for a trend of any shape.

    Parameters
    ----------
    time : array_like, shape (..., n)
        Times, or any other variable to hold the values against.
    value : array_like, shape (..., n)
        Values; only their order counts.
    bound : array_like of int, optional
        0 a value, +1 truth at or above, -1 at or below: pairs whose order is open score 0.

    Returns
    -------
    RankTest
        Exact up to 60 readings where no pair is tied or open, else normal with continuity correction. NaN with
        fewer than 3 readings, or where nothing differs.

    References
    ----------
    Mann, Econometrica 13 (1945) 245; Kendall, Rank Correlation Methods (both secondary). Variance with ties and
    open pairs: the permutation variance of a product of two score matrices, Daniels, Biometrika 33 (1944) 129
    (memory); without ties it is n(n-1)(2n+5)/18. Readings that depend on one another are not allowed for.
    """
    t, low, high = _ends(time, value, bound)
    order_t = _order(t, t)
    order_v = _order(low, high)
    score = (order_t * order_v).sum(axis=(-2, -1)) / 2
    n = np.count_nonzero(np.isfinite(t), axis=-1).astype(np.float64)
    square_t, square_v = (np.square(order).sum(axis=(-2, -1)) for order in (order_t, order_v))
    row_t, row_v = (np.square(order.sum(axis=-1)).sum(axis=-1) for order in (order_t, order_v))
    enough = n > 2
    m = np.where(enough, n, 3.0)
    variance = (row_t - square_t) * (row_v - square_v) / (m * (m - 1) * (m - 2))
    variance = variance + square_t * square_v / (2 * m * (m - 1))
    known = enough & (variance > 0)
    whole = n * (n - 1)
    exact = known & (square_t == whole) & (square_v == whole) & (n <= _COUNTED)
    from scipy.special import ndtr

    with np.errstate(invalid="ignore", divide="ignore"):
        z = np.maximum(np.abs(score) - 1, 0) / np.sqrt(variance)
        tau = 2 * score / np.sqrt(square_t * square_v)
    p = np.where(known, np.minimum(2 * ndtr(-z), 1.0), np.nan)
    for size in np.unique(n[exact]):
        here = exact & (n == size)
        tail = _tails(int(size))
        p = np.where(here, tail[np.where(here, np.abs(score), 0).astype(np.intp)], p)
    return RankTest(
        np.where(enough, score, np.nan), np.where(known, tau, np.nan), np.asarray(p), np.asarray(exact)
    )


def crossing(line: Line, level: ArrayLike) -> Crossing:
    """Return when a line would meet a level if it went on, with the interval of its slope and its own level.

    Parameters
    ----------
    line : Line
        From :func:`theil_sen`.
    level : array_like
        Level of the leading axes' shape, in the unit of the values.

    Returns
    -------
    Crossing
        In the unit of time. NaN unless the interval of the slope leaves out zero: the line then meets the level
        once, before or after the readings. Interval of the confidence of the line.

    References
    ----------
    Where the band of the line, the two half widths taken as independent, meets the level, after Fieller 1954;
    derived. Coverage by simulation stands in the validation page.
    """
    b, target = line.slope, floats(level)
    down, up = b - line.lower, line.upper - b
    certain = np.isfinite(down + up) & ((line.lower > 0) | (line.upper < 0))
    gap = target - line.level
    with np.errstate(invalid="ignore", divide="ignore"):
        met = np.where(certain, gap / b, np.nan)
        ends = [_band_meets(gap, b, line.level_uncertainty, down, up, sign) for sign in (-1.0, 1.0)]
    earliest, latest = (np.where(certain, end, np.nan) for end in (np.fmin(*ends), np.fmax(*ends)))
    return Crossing(line.time + met, line.time + earliest, line.time + latest)


def _band_meets(gap: Floats, b: Floats, half: Floats, down: Floats, up: Floats, sign: float) -> Floats:
    """Return where level + b x + sign sqrt(half^2 + width^2 x^2) meets the target, x from the middle time."""
    found = np.full(np.shape(gap + b), np.nan)
    for ahead in (1.0, -1.0):
        # Before the middle time the ends of the slope change places.
        width = up if sign * ahead > 0 else down
        # (gap - b x)^2 = half^2 + width^2 x^2, the root on this side with the sign wanted.
        a2, a1, a0 = b**2 - width**2, -2 * gap * b, gap**2 - half**2
        root = np.sqrt(np.maximum(a1**2 - 4 * a2 * a0, 0.0))
        for choice in (-1.0, 1.0):
            x = (-a1 + choice * root) / (2 * a2)
            good = (x * ahead >= 0) & (sign * (gap - b * x) >= 0)
            found = np.where(good & np.isnan(found), x, found)
    return found


def _ends(time: ArrayLike, value: ArrayLike, bound: ArrayLike | None) -> tuple[Floats, Floats, Floats]:
    """Return times and the lowest and highest each value can be; a missing one blanks its time too."""
    t, v = np.broadcast_arrays(floats(time), floats(value))
    kind = (
        np.zeros(v.shape, np.int8) if bound is None else np.broadcast_to(np.asarray(bound, np.int8), v.shape)
    )
    there = np.isfinite(t) & np.isfinite(v)
    t, v = np.where(there, t, np.nan), np.where(there, v, np.nan)
    return t, np.where(there & (kind < 0), -np.inf, v), np.where(there & (kind > 0), np.inf, v)


def _pairs(first: Floats, second: Floats) -> Floats:
    """Return, for each pair i < j once, the j-th of ``first`` less the i-th of ``second``."""
    i, j = np.triu_indices(first.shape[-1], 1)
    with np.errstate(invalid="ignore"):
        return first[..., j] - second[..., i]


def _order(low: Floats, high: Floats) -> Floats:
    """Return the matrix of signs: +1 where j is for certain above i, -1 below, 0 tied, open or missing."""
    above = low[..., None, :] > high[..., :, None]
    below = high[..., None, :] < low[..., :, None]
    return above.astype(np.float64) - below.astype(np.float64)


def _at(ordered: Floats, place: Indices) -> Floats:
    """Return the element of the last axis at a place of the leading axes' shape."""
    index = np.clip(place, 0, max(ordered.shape[-1] - 1, 0))
    if ordered.shape[-1] == 0:
        return np.full(ordered.shape[:-1], np.nan)
    return np.asarray(np.take_along_axis(ordered, index[..., None], axis=-1)[..., 0])


def _middle(ordered: Floats) -> Floats:
    """Return the median of the last axis, sorted with NaN last; infinite where it lies among open ends."""
    count = np.count_nonzero(~np.isnan(ordered), axis=-1)
    one, other = _at(ordered, np.maximum(count - 1, 0) // 2), _at(ordered, count // 2)
    with np.errstate(invalid="ignore"):
        middle = np.where(one == other, one, (one + other) / 2)
    return np.where(count > 0, middle, np.nan)


def _scatter(exact: Floats, level: Floats, confidence: float) -> tuple[Floats, Floats]:
    """Return the robust scatter about the line, and half the interval of its level."""
    from scipy.special import stdtrit

    count = np.count_nonzero(np.isfinite(exact), axis=-1)
    with np.errstate(invalid="ignore"):
        off = np.sort(np.abs(exact - level[..., None]), axis=-1)
    freedom = np.maximum(count - 2, 1)
    # Two figures were taken from the same readings.
    scatter = np.where(count > 2, 1.4826 * _middle(off) * np.sqrt(count / freedom), np.nan)
    share = stdtrit(freedom.astype(np.float64), 0.5 + confidence / 2) * math.sqrt(math.pi / 2)
    return scatter, np.asarray(share * scatter / np.sqrt(np.maximum(count, 1)))


def _critical(t: Floats, count: Indices, confidence: float) -> Floats:
    """Return the score that is refused, of the leading axes' shape; infinite where none is."""
    from scipy.special import ndtri

    n = count.astype(np.float64)
    same = (t[..., None, :] == t[..., :, None]).sum(axis=-2)
    ties = np.where(same > 0, (same - 1) * (2 * same + 5), 0).sum(axis=-1)
    variance = (n * (n - 1) * (2 * n + 5) - ties) / 18
    critical = float(ndtri(0.5 + confidence / 2)) * np.sqrt(np.maximum(variance, 0.0))
    for size in np.unique(n[(ties == 0) & (n <= _COUNTED)]):
        tail = _tails(int(size))
        pairs = int(size) * (int(size) - 1) // 2
        refused = [s for s in range(pairs % 2, pairs + 1, 2) if tail[s] <= 1 - confidence]
        critical = np.where((ties == 0) & (n == size), min(refused, default=math.inf), critical)
    return np.asarray(critical)


@lru_cache(256)
def _tails(n: int) -> Floats:
    """Return, by score from 0 on, the chance of that score or a larger one, either sign, in a random order of n."""
    counts = np.ones(1)
    for k in range(2, n + 1):
        counts = np.convolve(counts, np.ones(k) / k)
    pairs = n * (n - 1) // 2
    # Scores run from -pairs to pairs by twos.
    tail = np.ones(pairs + 1)
    for s in range(pairs + 1):
        if s > 0:
            tail[s] = min(1.0, 2.0 * float(counts[-((pairs - s) // 2 + 1) :].sum()))
    return tail
