"""What an eye looks for on a rising test: a break in slope, a wandering current, a current that rises while held.

Each is compared with the same record's own earlier part, so that its noise sets the measure.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Flags, Floats, floats
from soakage.physics.correlated import averaged_fit, bin_means
from soakage.physics.ramp import SETTLED_FROM

# Readings are averaged over this share of the top voltage; windows and lags count such blocks.
_BLOCK = 0.005
_WINDOW = 9
_EARLIER = 36
# Median absolute deviation to standard deviation of a normal distribution.
_NORMAL = 1.4826
# Deviations of the slope that at most 1 % of healthy ramps show (measured, white and half slow noise).
BREAK_THRESHOLD = 5.5
# The wander is what is left against the mean of the blocks this far on either side.
_LAG = 6
_STRETCH = 24
_FIRST_PART = 0.4
_CROSSINGS = 4
# Wander over that of the first part of the ramp that at most 1 % of healthy ramps show (measured).
SNAKING_THRESHOLD = 3.0
# A held current rises when its line does so by this many standard uncertainties and by this fraction.
RISING_DEVIATIONS = 3.0
RISING_FRACTION = 0.02
_FEWEST = 10


class Sign(NamedTuple):
    """One sign on a ramp; every array has the leading axes of the current.

    Parameters
    ----------
    found : ndarray of bool, shape (...)
        Whether the statistic passes its threshold.
    statistic : ndarray of float, shape (...)
        The largest there was; NaN when the record is too short to tell.
    voltage : ndarray of float, shape (...)
        Voltage where it first passed, or else where it was largest [V].
    """

    found: Flags
    statistic: Floats
    voltage: Floats


class Rising(NamedTuple):
    """Whether a current rose while the voltage stood.

    Parameters
    ----------
    found : bool
        Whether it rose by more than 2 % and by more than three standard uncertainties.
    rise : float
        Rise of its line over the readings, as a fraction of the mean current [1].
    uncertainty : float
        Standard uncertainty of that, slow noise taken into account [1].
    """

    found: bool
    rise: float
    uncertainty: float


def break_in_slope(voltage: ArrayLike, current: ArrayLike) -> Sign:
    """Compare the slope of each stretch of a ramp with all slopes before it.

    Parameters
    ----------
    voltage : array_like, shape (n,)
        Voltages of the ramp [V].
    current : array_like, shape (..., n)
        Currents [A].

    Returns
    -------
    Sign
        The statistic is the departure from the median of the earlier slopes in robust standard deviations.

    References
    ----------
    A sudden break in slope is a reason to stop: common practice, no source; threshold measured (derived).
    """
    v, i = _blocks(floats(voltage), floats(current))
    count = v.size - _WINDOW + 1
    if count < _EARLIER + _WINDOW + 1:
        return _untold(i)
    line = np.arange(_WINDOW) - 0.5 * (_WINDOW - 1)
    line = line / (line @ line)
    slopes = np.stack([i[..., k : k + _WINDOW] @ line for k in range(count)], axis=-1)
    path = np.full(slopes.shape, -np.inf)
    for k in range(_EARLIER + _WINDOW, count):
        # Stretches that overlap this one are left out.
        before = slopes[..., : k - _WINDOW + 1]
        middle = np.median(before, axis=-1)
        spread = _NORMAL * np.median(np.abs(before - middle[..., None]), axis=-1)
        with np.errstate(divide="ignore", invalid="ignore"):
            path[..., k] = (slopes[..., k] - middle) / spread
    return _sign(path, v[_WINDOW - 1 :], BREAK_THRESHOLD)


def snaking(voltage: ArrayLike, current: ArrayLike) -> Sign:
    """Compare the wander of the current about its own course with that in the first part of the ramp.

    Parameters
    ----------
    voltage : array_like, shape (n,)
        Voltages of the ramp [V].
    current : array_like, shape (..., n)
        Currents [A].

    Returns
    -------
    Sign
        The statistic is the ratio of the two wanders, each relative to the current.

    References
    ----------
    Snaking at high voltage is read as ionization: B. Milano, on ramp tests (read); threshold measured (derived).
    """
    v, i = _blocks(floats(voltage), floats(current))
    count = v.size - 2 * _LAG
    first = int(_FIRST_PART * count)
    if first < _STRETCH or count - first < _STRETCH:
        return _untold(i)
    middle = i[..., _LAG:-_LAG]
    wander = (middle - 0.5 * (i[..., : -2 * _LAG] + i[..., 2 * _LAG :])) / np.abs(middle)
    # A knee bends one way and evenly: only what is left about a smooth course of the wander counts, and only
    # where it crosses that course more often than a smooth bend would.
    course = np.vander(np.linspace(-1.0, 1.0, _STRETCH), 3)
    rest = np.eye(_STRETCH) - course @ np.linalg.pinv(course)
    left = np.stack([wander[..., k : k + _STRETCH] @ rest for k in range(count - _STRETCH + 1)], axis=-2)
    crossings = (np.diff(np.sign(left), axis=-1) != 0).sum(axis=-1)
    size = np.std(left, axis=-1)
    usual = np.sqrt((size[..., : first - _STRETCH + 1] ** 2).mean(axis=-1))
    path = np.full(size.shape, -np.inf)
    with np.errstate(divide="ignore", invalid="ignore"):
        path[..., first:] = (size / usual[..., None] * (crossings >= _CROSSINGS))[..., first:]
    return _sign(path, v[_LAG + _STRETCH - 1 : v.size - _LAG], SNAKING_THRESHOLD)


def rising_current(time: ArrayLike, current: ArrayLike, settled: float = 0.5) -> Rising:
    """Say whether the current of one hold at constant voltage rises.

    Parameters
    ----------
    time : array_like, shape (n,)
        Times in the hold, rising [s].
    current : array_like, shape (n,)
        Currents [A]; NaN readings are left out.
    settled : float, optional
        Share of the hold that is left out at its start, where the absorption falls [1].

    Returns
    -------
    Rising

    Raises
    ------
    UsageError
        When fewer than ten readings are left.

    References
    ----------
    Stop when the current grows at constant voltage: GB 50150, cl. 3.0.4 (memory).
    """
    t, i = floats(time), floats(current)
    kept = ~np.isnan(i) & (t >= t[0] + settled * (t[-1] - t[0]))
    t, i = t[kept], i[kept]
    if t.size < _FEWEST:
        raise UsageError(
            f"A rise at constant voltage needs {_FEWEST} readings after the settling. Given: {t.size}."
        )
    y = i / np.abs(np.mean(i))
    bins = np.arange(t.size) * min(t.size, 40) // t.size
    design = np.stack([np.ones(t.size), (t - t[0]) / (t[-1] - t[0])])
    fit = averaged_fit(
        bin_means(design, bins).T, bin_means(y, bins), np.zeros(2), t, bins, np.diff(y), np.diff(t)
    )
    rise, unsure = float(fit.estimate[1]), float(np.sqrt(fit.covariance[1, 1]))
    return Rising(rise > RISING_FRACTION and rise > RISING_DEVIATIONS * unsure, rise, unsure)


def _blocks(voltage: Floats, current: Floats) -> tuple[Floats, Floats]:
    """Average the readings of a ramp from 4 % of its top voltage on, block by block."""
    top = np.nanmax(voltage)
    kept = (voltage >= SETTLED_FROM * top) & ~np.isnan(current).any(axis=tuple(range(current.ndim - 1)))
    v, i = voltage[kept], current[..., kept]
    step = max(_BLOCK * top, float(np.median(np.diff(v))) if v.size > 1 else 0.0)
    bins = np.cumsum(np.diff(np.floor(v / step * (1.0 + 1e-9)), prepend=-1.0) > 0) - 1
    return bin_means(v, bins), bin_means(i, bins)


def _untold(current: Floats) -> Sign:
    nothing = np.full(current.shape[:-1], np.nan)
    return Sign(np.zeros(nothing.shape, np.bool_), nothing, nothing)


def _sign(path: Floats, voltage: Floats, threshold: float) -> Sign:
    over = path > threshold
    found = np.asarray(over.any(axis=-1))
    where = np.where(found, over.argmax(axis=-1), path.argmax(axis=-1))
    return Sign(found, np.asarray(path.max(axis=-1)), voltage[where])
