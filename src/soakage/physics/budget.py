"""Uncertainty budgets of a resistance and of a ratio: what each part of the instrument's accuracy brings."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats

_ROOT3 = math.sqrt(3.0)
_ROOT12 = math.sqrt(12.0)
# A parabola through the readings around a mark; fewer readings than this say nothing of their scatter.
FEWEST_READINGS = 10
_SPAN = 1.5


class Budget(NamedTuple):
    """Relative standard uncertainties by what brings them [1]; independent of one another.

    Parameters
    ----------
    gain : ndarray of float
        Error of reading as a share of it.
    offset : ndarray of float
        Zero error of the current.
    resolution : ndarray of float
        Last digit.
    timing : ndarray of float
        Error of the time of the mark.
    scatter : ndarray of float
        Scatter of the readings around the mark.
    """

    gain: Floats
    offset: Floats
    resolution: Floats
    timing: Floats
    scatter: Floats


def combined(budget: Budget) -> Floats:
    """Return the relative standard uncertainty of a whole budget.

    Parameters
    ----------
    budget : Budget
        Its parts [1].

    Returns
    -------
    ndarray of float
        Root of the sum of squares [1].

    References
    ----------
    JCGM 100, 5.1.2, independent inputs (memory).
    """
    return np.sqrt(sum((floats(part) ** 2 for part in budget), start=floats(0.0)))


def reading_budget(
    resistance: ArrayLike,
    of_reading: ArrayLike = 0.0,
    current_offset: ArrayLike = 0.0,
    resolution: ArrayLike = 0.0,
    timing: ArrayLike = 0.0,
    scatter: ArrayLike = 0.0,
    test_voltage: ArrayLike = math.inf,
    time: ArrayLike = math.inf,
    local_slope: ArrayLike = 0.0,
) -> Budget:
    """Budget of one reading of V/I.

    Parameters
    ----------
    resistance : array_like
        Reading [ohm].
    of_reading : array_like, optional
        Limit of error as a fraction of the reading [1]; rectangular.
    current_offset : array_like, optional
        Limit of the zero error of the current [A]; rectangular.
    resolution : array_like, optional
        One unit of the last digit [ohm]; rectangular over half of it either way.
    timing : array_like, optional
        Limit of the error of the time [s]; rectangular.
    scatter : array_like, optional
        Relative standard deviation of one reading [1].
    test_voltage : array_like, optional
        Voltage [V], needed with an offset.
    time : array_like, optional
        Time of the mark [s], needed with a timing error.
    local_slope : array_like, optional
        d ln R / d ln t there [1].

    Returns
    -------
    Budget
        NaN where the reading is not positive.

    References
    ----------
    JCGM 100, 4.3.7, rectangular limits over root 3 (memory); sensitivities of R = V/I derived.
    """
    r = floats(resistance)
    r = np.where(r > 0, r, np.nan)
    return Budget(
        floats(of_reading) / _ROOT3 + 0.0 * r,
        floats(current_offset) * r / floats(test_voltage) / _ROOT3,
        floats(resolution) / r / _ROOT12,
        np.abs(floats(local_slope)) * floats(timing) / floats(time) / _ROOT3 + 0.0 * r,
        floats(scatter) + 0.0 * r,
    )


def ratio_budget(
    later: Budget, earlier: Budget, offset_later: ArrayLike, offset_earlier: ArrayLike, common_gain: ArrayLike
) -> Budget:
    """Budget of the ratio of two readings of one instrument.

    Parameters
    ----------
    later, earlier : Budget
        Budgets of numerator and denominator [1].
    offset_later, offset_earlier : array_like
        Their signed sensitivities to the zero error, I0 R/V over root 3 [1]: the same error in both, so that
        only the difference stays.
    common_gain : array_like
        1 where both share gain and range, 0 where not.

    Returns
    -------
    Budget

    References
    ----------
    JCGM 100, 5.2.2, correlated inputs (memory): full correlation of the gain cancels it in a ratio and leaves
    of the offset I0 (R2/V2 - R1/V1); all else is independent (derived).
    """
    return Budget(
        np.sqrt(1.0 - floats(common_gain)) * np.hypot(later.gain, earlier.gain),
        np.abs(floats(offset_later) - floats(offset_earlier)),
        np.hypot(later.resolution, earlier.resolution),
        np.hypot(later.timing, earlier.timing),
        np.hypot(later.scatter, earlier.scatter),
    )


def local_scatter(time: ArrayLike, resistance: ArrayLike, mark: float) -> float:
    """Relative scatter of the readings around a mark, the trend taken out.

    Parameters
    ----------
    time : array_like, shape (T,)
        Times [s]; readings at 0 or without a time are left out.
    resistance : array_like, shape (T,)
        Resistances [ohm]; NaN where there is none.
    mark : float
        The mark [s].

    Returns
    -------
    float
        Standard deviation of ln R about a parabola in ln t, over readings from two thirds to one and a half
        times the mark [1]; NaN with fewer than ten of them.

    References
    ----------
    Residual standard deviation of a least-squares fit, n - 3 degrees of freedom (derived).
    """
    t, r = floats(time), floats(resistance)
    good = (t >= mark / _SPAN) & (t <= mark * _SPAN) & (r > 0)
    if good.sum() < FEWEST_READINGS:
        return float("nan")
    x, y = np.log(t[good] / mark), np.log(r[good])
    basis = np.column_stack([np.ones_like(x), x, x**2])
    missed = y - basis @ np.linalg.lstsq(basis, y, rcond=None)[0]
    return float(np.sqrt(missed @ missed / (len(y) - 3)))
