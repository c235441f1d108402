"""A change of level inside a series: where, how large, how likely by chance, and whether a line says it as well."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Flags, Floats, Indices, floats
from soakage.physics.slope import theil_sen

# Up to here every order of the readings is counted, beyond it the published approximation is taken.
_COUNTED = 16
# Two levels have a cut more than a line to fit with: they must lie nearer by this over the number of readings.
_FREER = 2.0


class LevelShift(NamedTuple):
    """A change of level; each of the shape of the leading axes.

    Parameters
    ----------
    place : ndarray of int
        Index of the first reading at the new level.
    size : ndarray of float
        New level less old, the median of all differences across the change; infinite where bounds leave it open.
    statistic : ndarray of float
        Pettitt's K.
    p : ndarray of float
        Two-sided probability of such a K without any change.
    beats_line : ndarray of bool
        Whether two levels lie nearer to the readings than one straight line does, by 2 / n at least.
    """

    place: Indices
    size: Floats
    statistic: Floats
    p: Floats
    beats_line: Flags


def level_shift(time: ArrayLike, value: ArrayLike, bound: ArrayLike | None = None) -> LevelShift:
    """Return the likeliest change of level of a series.

    Parameters
    ----------
    time : array_like, shape (..., n)
        Times, rising, any unit.
    value : array_like, shape (..., n)
        Values; NaN is no reading.
    bound : array_like of int, optional
        0 a value, +1 truth at or above, -1 at or below: pairs whose order is open score 0.

    Returns
    -------
    LevelShift
        NaN with fewer than 3 readings. A steady slope makes K large as well: a change is told only where it also
        ``beats_line``.

    References
    ----------
    Pettitt, Appl. Stat. 28 (1979) 126; p = 2 exp(-6 K^2 / (n^3 + n^2)) (secondary: manual of the R package trend).
    The approximation is so cautious that up to ten readings can never reach 5 %: up to 16 readings p is counted over
    all orders (derived). Ties and open pairs make K smaller, hence p larger. Size: median of the differences
    (secondary: manual of the R package wql). The place is the cut that leaves the smallest sum of
    absolute departures from two levels, since K leans towards the middle; two levels against a line by the same sum,
    less by 2 / n of it at least (practice; by simulation).
    """
    t, v = np.broadcast_arrays(floats(time), floats(value))
    kind = (
        np.zeros(v.shape, np.int8) if bound is None else np.broadcast_to(np.asarray(bound, np.int8), v.shape)
    )
    there = np.isfinite(t) & np.isfinite(v)
    low = np.where(there, np.where(kind < 0, -np.inf, v), np.nan)
    high = np.where(there, np.where(kind > 0, np.inf, v), np.nan)
    above = low[..., None, :] > high[..., :, None]
    below = high[..., None, :] < low[..., :, None]
    order = above.astype(np.float64) - below
    width = v.shape[-1]
    # U of a cut after reading k: the scores of all pairs across it.
    cuts = [order[..., : k + 1, k + 1 :].sum(axis=(-2, -1)) for k in range(width - 1)]
    across = np.stack(cuts, axis=-1) if cuts else np.zeros((*v.shape[:-1], 1))
    statistic = np.abs(across).max(axis=-1)
    count = np.count_nonzero(there, axis=-1)
    enough = count > 2
    cut = _best_cut(low, high, there)
    old, new = _sides(there, cut)
    least = (low + new)[..., :, None] - (high + old)[..., None, :]
    most = (high + new)[..., :, None] - (low + old)[..., None, :]
    flat = (*v.shape[:-1], width * width)
    size = _median(np.concatenate([least.reshape(flat), most.reshape(flat)], axis=-1))
    steps = _levels(low, high, old, new)
    line = theil_sen(t, v, kind)
    nearer = 1 - _FREER / np.maximum(count, 2)
    with np.errstate(invalid="ignore"):
        straight = line.level[..., None] + line.slope[..., None] * (t - line.time[..., None])
    return LevelShift(
        _first_after(there, cut),
        np.where(enough, size, np.nan),
        np.where(enough, statistic, np.nan),
        np.where(enough, _probability(statistic, count), np.nan),
        np.asarray(enough & (_missed(low, high, steps) < nearer * _missed(low, high, straight))),
    )


def _best_cut(low: Floats, high: Floats, there: Flags) -> Indices:
    """Return the cut, after reading k, whose two levels lie nearest to the readings."""
    best = np.full(low.shape[:-1], np.inf)
    cut = np.zeros(low.shape[:-1], np.intp)
    for k in range(low.shape[-1] - 1):
        old, new = _sides(there, np.full(cut.shape, k))
        both = np.isfinite(old).any(axis=-1) & np.isfinite(new).any(axis=-1) & there[..., k]
        off = np.where(both, _missed(low, high, _levels(low, high, old, new)), np.inf)
        cut = np.where(off < best, k, cut)
        best = np.fmin(best, off)
    return cut


def _sides(there: Flags, cut: Indices) -> tuple[Floats, Floats]:
    """Return zeros for the readings before and after a cut, NaN for the others."""
    before = np.arange(there.shape[-1]) <= cut[..., None]
    return np.where(before & there, 0.0, np.nan), np.where(~before & there, 0.0, np.nan)


def _levels(low: Floats, high: Floats, old: Floats, new: Floats) -> Floats:
    """Return for each reading the level of its side."""
    levels = [_median(np.concatenate([low + side, high + side], axis=-1)) for side in (old, new)]
    return np.where(np.isfinite(old), levels[0][..., None], levels[1][..., None])


def _median(values: Floats) -> Floats:
    """Return the median of the last axis without NaN; infinite where it lies among open ends."""
    ordered = np.sort(values, axis=-1)
    count = np.count_nonzero(~np.isnan(ordered), axis=-1)
    places = [np.clip(place, 0, ordered.shape[-1] - 1) for place in ((count - 1) // 2, count // 2)]
    one, other = (np.take_along_axis(ordered, place[..., None], axis=-1)[..., 0] for place in places)
    with np.errstate(invalid="ignore"):
        return np.where(one == other, one, (one + other) / 2)


def _first_after(there: Flags, cut: Indices) -> Indices:
    """Return the index of the first reading after a cut."""
    after = there & (np.arange(there.shape[-1]) > cut[..., None])
    return np.asarray(np.argmax(after, axis=-1))


def _missed(low: Floats, high: Floats, course: Floats) -> Floats:
    """Return the sum of distances of a course from what the readings allow."""
    with np.errstate(invalid="ignore"):
        off = np.fmax(np.fmax(low - course, course - high), 0.0)
    return np.asarray(np.where(np.isfinite(low) | np.isfinite(high), off, 0.0).sum(axis=-1))


def _probability(statistic: Floats, count: Indices) -> Floats:
    n = np.maximum(count, 1).astype(np.float64)
    p = np.minimum(2 * np.exp(-6 * statistic**2 / (n**3 + n**2)), 1.0)
    counted = (count <= _COUNTED) & (count > 2)
    for size, score in {
        (int(a), int(b)) for a, b in zip(count[counted].flat, statistic[counted].flat, strict=True)
    }:
        p = np.where(counted & (count == size) & (statistic == score), _counted(size, score), p)
    return np.asarray(p)


@lru_cache(1024)
def _counted(n: int, statistic: int) -> float:
    """Return the share of all orders of n readings whose K is at least the one given.

    Each set of ranks that can stand first is one state; U depends on the set only, not on its order.
    """
    sets = np.arange(1 << n)
    members = np.zeros(sets.shape, np.int64)
    ranks = np.zeros(sets.shape, np.int64)
    for bit in range(n):
        inside = (sets >> bit) & 1
        members += inside
        ranks += inside * (bit + 1)
    stays = np.abs(2 * ranks - members * (n + 1)) < statistic
    share = np.zeros(sets.shape)
    share[0] = 1.0
    for size in range(1, n + 1):
        layer = sets[members == size]
        total = np.zeros(layer.shape)
        for bit in range(n):
            inside = ((layer >> bit) & 1).astype(bool)
            total[inside] += share[layer[inside] ^ (1 << bit)]
        share[layer] = np.where(stays[layer] | (size == n), total / size, 0.0)
    return float(1.0 - share[-1]) if statistic > 0 else 1.0
