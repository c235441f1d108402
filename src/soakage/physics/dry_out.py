"""The course of a drying winding: fall, minimum, rise, level; and when the level will be reached.

All resistances are referred to one temperature beforehand, and worked in their logarithm.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Flags, Floats, floats

TOO_FEW = "too few readings"
FALLING = "falling"
AT_MINIMUM = "at its minimum"
RISING = "rising"
LEVELLING = "levelling off"
STEADY = "steady"
FALLING_AGAIN = "falling again"

FEWEST = 3
# An exponential has three unknowns; with fewer readings than this its interval says nothing.
FEWEST_FOR_FIT = 6
_NOISE_FLOOR = 0.01
_HUBER = 1.345
_GRID = 120
_ROUNDS = 4


class Course(NamedTuple):
    """Where a drying record stands.

    Parameters
    ----------
    stage : str
        One of the names of this module.
    minimum : int
        Place of the lowest reading.
    fell, rose : bool
        Whether it fell to that minimum, and rose from it, beyond tolerance and scatter.
    steady_for : float
        Time the last readings have stayed within the tolerance of one another [s].
    """

    stage: str
    minimum: int
    fell: bool
    rose: bool
    steady_for: float


class Approach(NamedTuple):
    """Exponential approach to a level, ln R = ln level - a exp(-(t - start)/tau), with 90 % intervals.

    Parameters
    ----------
    start : float
        First time used [s].
    level : float
        Resistance it tends to [ohm].
    amplitude : float
        a [1].
    time_constant, time_constant_low, time_constant_high : float
        tau [s]; the upper end is infinite where the readings do not yet bend.
    levels_at, earliest, latest : float
        From when the change over one more hold stays within the tolerance [s]; NaN where there is no fit.
    scatter : float
        Robust standard deviation of ln R about the fit [1].
    """

    start: float
    level: float
    amplitude: float
    time_constant: float
    time_constant_low: float
    time_constant_high: float
    levels_at: float
    earliest: float
    latest: float
    scatter: float


def drying_course(time: ArrayLike, resistance: ArrayLike, hold: float, tolerance: float) -> Course:
    """Return the stage of a drying record.

    Parameters
    ----------
    time : array_like, shape (n,)
        Times, rising [s].
    resistance : array_like, shape (n,)
        Resistance at one temperature [ohm].
    hold : float
        How long it must be steady [s].
    tolerance : float
        Change that still counts as steady, relative [1].

    Returns
    -------
    Course
        The flat bottom of the curve is a minimum, never steady: steady after a fall needs a rise.

    Raises
    ------
    UsageError
        When times do not rise, or a resistance is not above 0.

    References
    ----------
    Fall as it warms, minimum, rise, level (memory); the thresholds of the recognition are ours (practice).
    """
    t, y = _checked(time, resistance)
    if len(t) < FEWEST:
        return Course(TOO_FEW, int(np.argmin(y)) if len(y) else 0, fell=False, rose=False, steady_for=0.0)
    step, noise = math.log1p(tolerance), _noise(t, y)
    clear = max(step, 3.0 * noise)
    lowest = int(np.argmin(y))
    fell = bool(y[0] - y[lowest] > clear)
    rose = bool(y[lowest:].max() - y[lowest] > clear)
    steady_for = _steady(t, y, step, noise)
    # The highest of many readings stands above their level by scatter alone: the second highest is compared.
    top = np.sort(y[lowest:])[-2] if lowest < len(y) - 1 else y[lowest]
    if rose and y[-2:].max() < top - clear:
        stage = FALLING_AGAIN
    elif rose or not fell:
        stage = STEADY if steady_for >= hold else LEVELLING if steady_for > 0 else RISING
        if not rose and steady_for == 0:
            stage = AT_MINIMUM
    else:
        stage = AT_MINIMUM if lowest < len(y) - 1 or steady_for > 0 else FALLING
    return Course(stage, lowest, fell, rose, steady_for)


def exponential_approach(time: ArrayLike, resistance: ArrayLike, hold: float, tolerance: float) -> Approach:
    """Return the approach to a level, fitted from the steepest rise on, and when it will count as level.

    Parameters
    ----------
    time : array_like, shape (n,)
        Times, rising [s].
    resistance : array_like, shape (n,)
        Resistance at one temperature [ohm].
    hold : float
        How long it must be steady [s].
    tolerance : float
        Change over that hold that still counts as steady, relative [1].

    Returns
    -------
    Approach
        NaN with fewer than six readings from the steepest rise on, or where they do not rise.

    Raises
    ------
    UsageError
        When times do not rise, or a resistance is not above 0.

    References
    ----------
    Variable projection over the time constant with Huber weights; intervals by profile likelihood with F
    quantiles for the scatter estimated from the same readings (derived).  That the approach is exponential in
    ln R is an assumption (practice).
    """
    t, y = _checked(time, resistance)
    start = _steepest(t, y) if len(t) >= FEWEST else 0
    nothing = Approach(*[float("nan")] * 10)
    if len(t) - start < FEWEST_FOR_FIT:
        return nothing
    x, z = t[start:] - t[start], y[start:]
    whole = (0.3 * float(np.median(np.diff(x))), 20.0 * float(x[-1]))
    tau, weight = np.geomspace(*whole, _GRID), np.ones_like(z)
    for _ in range(_ROUNDS):
        chi, level, amplitude, spread = _profile(x, z, tau, weight)
        best = int(np.argmin(np.where(amplitude > 0, chi, np.inf)))
        missed = z - level[best] + amplitude[best] * np.exp(-x / tau[best])
        scatter = max(1.4826 * float(np.median(np.abs(missed))), 1e-6)
        weight = np.minimum(1.0, _HUBER * scatter / np.maximum(np.abs(missed), 1e-300))
    if not amplitude[best] > 0:
        return nothing
    # A second, fine grid over what the first left open.
    inside, _ = _region(chi, amplitude, best, weight)
    last = min(int(np.flatnonzero(inside).max()) + 1, _GRID - 1)
    tau = np.geomspace(tau[max(int(np.flatnonzero(inside).min()) - 1, 0)], tau[last], 2 * _GRID)
    chi, level, amplitude, spread = _profile(x, z, tau, weight)
    best = int(np.argmin(np.where(amplitude > 0, chi, np.inf)))
    inside, room = _region(chi, amplitude, best, weight)
    settles = [
        _settles(
            tau[inside], amplitude[inside] + sign * np.sqrt(room[inside] * spread[inside]), hold, tolerance
        )
        for sign in (-1.0, 1.0)
    ]
    open_end = bool(inside[-1]) and last == _GRID - 1
    return Approach(
        start=float(t[start]),
        level=float(np.exp(level[best])),
        amplitude=float(amplitude[best]),
        time_constant=float(tau[best]),
        time_constant_low=float(tau[inside].min()),
        time_constant_high=float("inf") if open_end else float(tau[inside].max()),
        levels_at=float(t[start] + _settles(tau[best], amplitude[best], hold, tolerance)),
        earliest=float(t[start] + min(part.min() for part in settles)),
        latest=float("inf") if open_end else float(t[start] + max(part.max() for part in settles)),
        scatter=scatter,
    )


def _checked(time: ArrayLike, resistance: ArrayLike) -> tuple[Floats, Floats]:
    t, r = floats(time), floats(resistance)
    if t.ndim != 1 or t.shape != r.shape or not (np.diff(t) > 0).all() or not (r > 0).all():
        raise UsageError(
            "A drying record needs rising times and resistances above 0, one each. "
            f"Given: times {t.tolist()}, resistances {r.tolist()}. Leave out what was not read."
        )
    return t, np.log(r)


def _noise(t: Floats, y: Floats) -> float:
    """Return the robust scatter of readings about the line between their neighbours."""
    share = (t[1:-1] - t[:-2]) / (t[2:] - t[:-2])
    missed = y[1:-1] - (1 - share) * y[:-2] - share * y[2:]
    scale = np.sqrt(1.0 + share**2 + (1 - share) ** 2)
    return (
        max(_NOISE_FLOOR, 1.4826 * float(np.median(np.abs(missed) / scale))) if len(y) > 4 else _NOISE_FLOOR
    )


def _steady(t: Floats, y: Floats, step: float, noise: float) -> float:
    """Return how long the last readings, three at least, show no change beyond a step but for scatter."""
    allowed = max(step, min(4.0 * noise, 3.0 * step))
    longest = 0.0
    for count in range(FEWEST, len(y) + 1):
        x, z = t[-count:] - t[-1], y[-count:]
        if float(np.ptp(z)) > allowed:
            break
        slope = float(((x - x.mean()) * z).sum() / ((x - x.mean()) ** 2).sum())
        if abs(slope) * -float(x[0]) <= step:
            longest = -float(x[0])
    return longest


def _steepest(t: Floats, y: Floats) -> int:
    """Return where the rise after the minimum is steepest, over three readings."""
    lowest = int(np.argmin(y))
    latest = len(t) - FEWEST_FOR_FIT
    if lowest >= latest:
        return lowest
    slope = (y[lowest + 2 :] - y[lowest:-2]) / (t[lowest + 2 :] - t[lowest:-2])
    return lowest + int(np.argmax(slope[: latest - lowest + 1]))


def _profile(x: Floats, z: Floats, tau: Floats, weight: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return, for each time constant, the sum of squares, level, amplitude and variance factor of the amplitude."""
    decay = np.exp(-x / tau[:, None])
    w, we, wee = weight.sum(), decay @ weight, decay**2 @ weight
    wz, wez = weight @ z, decay @ (weight * z)
    # Two unknowns, written out: it is the middle of every fit.
    determinant = w * wee - we**2
    determinant = np.where(determinant > 1e-12 * w * wee, determinant, np.nan)
    level = (wee * wz - we * wez) / determinant
    amplitude = (we * wz - w * wez) / determinant
    missed = z - level[:, None] + amplitude[:, None] * decay
    chi = (missed**2) @ weight
    good = np.isfinite(chi)
    return (
        np.where(good, chi, np.inf),
        np.where(good, level, 0.0),
        np.where(good, amplitude, 0.0),
        np.where(good, w / determinant, 0.0),
    )


def _region(chi: Floats, amplitude: Floats, best: int, weight: Floats) -> tuple[Flags, Floats]:
    """Return the time constants inside the 90 % interval, and the room left in the sum of squares there."""
    from scipy.special import fdtri

    freedom = max(len(weight) - 3, 1)
    # Weights below 1 take residuals out of the sum: it is scaled back by their mean.
    variance = float(chi[best]) / freedom / float(weight.mean()) ** 2
    limit = float(chi[best]) + variance * float(fdtri(1, freedom, 0.90))
    # An exact record has no scatter to form an interval from.
    limit = max(limit, float(chi[best]) + 1e-12)
    inside = (chi <= limit) & (amplitude > 0)
    return inside, np.maximum(limit - chi, 0.0)


def _settles(tau: ArrayLike, amplitude: ArrayLike, hold: float, tolerance: float) -> Floats:
    """Return when the change over one more hold falls to the tolerance, from the start of the fit [s]."""
    constant = floats(tau)
    change = np.maximum(floats(amplitude), 1e-300) * -np.expm1(-hold / constant)
    return np.maximum(constant * np.log(change / math.log1p(tolerance)), 0.0)
