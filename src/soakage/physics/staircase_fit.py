"""A staircase without its memory: one absorption for the whole record, one conductance for every level.

A linear winding answers every step with the same law, so what is left at a level is its conduction.  Only
that may be compared between levels: the plain resistances of a perfect winding rise, or fall, with the holds.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Floats, Indices, floats
from soakage.physics.correlated import bin_means
from soakage.physics.responses import EDGE_OFFSET
from soakage.physics.staircase_law import StaircaseRows, fitted_staircase, staircase_model
from soakage.physics.steps import step_levels

# Charging and the shape of the edge are over by then; but a short hold is not given up for it.
SETTLE = 5.0
_SETTLE_SHARE = 0.25
# Readings a level needs before its conductance is told, and bins per decade of time in a level.
FEWEST_READINGS = 5
_PER_DECADE = 12
# Share of excess current at the last level from which it is told, and how many of its standard
# uncertainties it must stand above 0: together at most 1 % of healthy staircases pass both (measured).
EXCESS_SHARE = 0.04
EXCESS_DEVIATIONS = 2.6
# Half width of a two-sided 90 % interval in standard uncertainties.
COVERAGE_90 = 1.6449
REASONS = (
    "",
    "fewer than two levels",
    "a level has fewer than five readings after its edge",
    "the current is not positive",
)


class StaircaseFit(NamedTuple):
    """Joint fit of a staircase of k levels.

    Parameters
    ----------
    voltage : ndarray of float, shape (k,)
        Levels [V].
    edge, edge_uncertainty : ndarray of float, shape (k,)
        When each began, and the standard uncertainty that is left of its gap [s].
    conductance, conductance_uncertainty : ndarray of float, shape (k,)
        Conductance at each level and its standard uncertainty [S].
    absorption_coefficient, absorption_exponent : float
        A [S s^n] and n [1].
    exponent_uncertainty : float
        Standard uncertainty of n [1].
    excess_current_share : float
        (G_last - G_middle) V_last / I_last [1]; the middle level is the lower of two.
    excess_uncertainty, excess_lower, excess_upper : float
        Its standard uncertainty and two-sided 90 % interval [1].
    excess_found : bool
        Whether the share passes 4 % and 2.6 of its standard uncertainties.
    scatter : float
        Standard deviation of a single reading relative to the current [1].
    correlation : float
        Slow share of its variance [1].
    chi_square : float
        Sum of squares over degrees of freedom, the scatter of neighbouring readings being the measure [1].
    predicted : ndarray of float, shape (n,)
        Current of the fit at the rows of the record [A]; NaN at rows of no level.
    reason : int
        0, or the index in :data:`REASONS` of why there is no fit; everything else is NaN then.
    """

    voltage: Floats
    edge: Floats
    edge_uncertainty: Floats
    conductance: Floats
    conductance_uncertainty: Floats
    absorption_coefficient: float
    absorption_exponent: float
    exponent_uncertainty: float
    excess_current_share: float
    excess_uncertainty: float
    excess_lower: float
    excess_upper: float
    excess_found: bool
    scatter: float
    correlation: float
    chi_square: float
    predicted: Floats
    reason: int


def staircase_fit(
    time: ArrayLike,
    voltage: ArrayLike,
    current: ArrayLike,
    *,
    edges: ArrayLike | None = None,
    offset: float = EDGE_OFFSET,
    settle: float = SETTLE,
) -> StaircaseFit:
    """Fit absorption and the conductance of each level to all readings of a staircase together.

    Parameters
    ----------
    time : array_like, shape (n,)
        Time since the first voltage [s], rising.
    voltage : array_like, shape (n,)
        Voltage of each row [V].
    current : array_like, shape (n,)
        Current of each row [A]; NaN where none was read.
    edges : array_like, shape (k,), optional
        When each level began [s], where it is known; else each is fitted within the gap between two rows.
    offset : float, optional
        Charging time constant, added to the time since an edge in the power law [s].
    settle : float, optional
        Readings this soon after an edge are left out, but at most a quarter of the hold [s].

    Returns
    -------
    StaircaseFit

    Raises
    ------
    UsageError
        When the times fall or stand still.

    References
    ----------
    I = A sum dV_j (t - t_j + t0)^-n + G_k V, superposition of a linear dielectric (derived); variable
    projection is from memory.
    """
    t, v, i = floats(time), floats(voltage), floats(current)
    if (np.diff(t) <= 0).any():
        raise UsageError("The times of a step record do not rise everywhere. Sort the rows and drop doubles.")
    label, start = step_levels(t, v, edges)
    count = start.size
    levels = np.array([np.median(v[label == k]) if (label == k).any() else np.nan for k in range(count)])
    first = np.array([t[np.argmax(label == k)] if (label == k).any() else np.nan for k in range(count)])
    last = np.array([t[label == k].max() if (label == k).any() else np.nan for k in range(count)])
    if count < 2:
        return _nothing(levels, start, t.size, 1)
    high = start if edges is not None else first
    wait = np.minimum(settle, _SETTLE_SHARE * (last - start))
    used = (label >= 0) & ~np.isnan(i)
    used[used] = t[used] > (high + np.where(wait > 0, wait, 0.0))[label[used]]
    if (np.bincount(label[used], minlength=count) < FEWEST_READINGS).any():
        return _nothing(levels, start, t.size, 2)
    # In units of the last level and of the largest current, so that all parameters are of one size.
    unit_v, unit_i = float(levels[-1]), float(np.nanmax(np.abs(i[used])))
    rows = StaircaseRows(
        t[used], v[used] / unit_v, i[used] / unit_i, label[used], _bins(t[used], label[used], start),
        levels / unit_v, start, high, offset,
    )  # fmt: skip
    if not (bin_means(rows.current, rows.bins) > 0).all():
        return _nothing(levels, start, t.size, 3)
    mixture = fitted_staircase(rows)
    theta, deviation = mixture.estimate, np.sqrt(np.diag(mixture.covariance))
    unit = unit_i / unit_v
    g, edge = theta[2 + count :], theta[2 : 2 + count]
    everywhere = rows._replace(time=t, voltage=v / unit_v, level=label)
    predicted = np.where(label >= 0, unit_i * staircase_model(everywhere, theta), np.nan)
    weight = np.zeros(theta.size)
    weight[-1] += 1.0
    weight[2 + count + (count - 1) // 2] -= 1.0
    # Voltage over current at the last reading, in the units of the fit.
    weight *= v[used][-1] / unit_v / (predicted[used][-1] / unit_i)
    share = float(weight @ theta)
    unsure = float(np.sqrt(weight @ mixture.covariance @ weight))
    lower = share - COVERAGE_90 * unsure
    return StaircaseFit(
        levels, edge, deviation[2 : 2 + count], g * unit, deviation[2 + count :] * unit,
        float(theta[0] * unit * 60.0 ** theta[1]), float(theta[1]), float(deviation[1]),
        share, unsure, lower, share + COVERAGE_90 * unsure,
        bool(share > EXCESS_SHARE and share > EXCESS_DEVIATIONS * unsure),
        mixture.scatter, mixture.share, mixture.chi_square, predicted, 0,
    )  # fmt: skip


def _bins(time: Floats, level: Indices, start: Floats) -> Indices:
    """Return a number for each bin: evenly in the logarithm of the time since the level's own edge."""
    place = np.floor(_PER_DECADE * np.log10(np.maximum(time - start[level], 1e-3)))
    return np.cumsum(np.diff(place + 1e6 * level, prepend=np.inf) != 0) - 1


def _nothing(levels: Floats, start: Floats, rows: int, reason: int) -> StaircaseFit:
    nan, none = float("nan"), np.full(levels.shape, np.nan)
    return StaircaseFit(
        levels, start, none, none, none, nan, nan, nan, nan, nan, nan, nan, excess_found=False,
        scatter=nan, correlation=nan, chi_square=nan, predicted=np.full(rows, np.nan), reason=reason,
    )  # fmt: skip
