"""How far each conductance of a network is left open by its readings, bounds among them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Bounds, Flags, Floats, floats

# Relative to the largest reading: less than this is rounding.
RANK = 1e-9
_UNBOUNDED = 3  # status of the solver


class ConductanceRange(NamedTuple):
    """Ends of what the readings allow for each pair.

    Parameters
    ----------
    low, high : ndarray of float, shape (p,)
        Least and greatest conductance [S]; infinite where nothing holds it.
    low_by_bound, high_by_bound : ndarray of bool, shape (p,)
        Whether a reading that is a bound sets this end.
    """

    low: Floats
    high: Floats
    low_by_bound: Flags
    high_by_bound: Flags


def conductance_range(
    slopes: ArrayLike, reading: ArrayLike, kind: ArrayLike, solution: ArrayLike
) -> ConductanceRange:
    """Return the least and greatest conductance of each pair that give the same readings.

    Parameters
    ----------
    slopes : array_like, shape (n, p)
        What each reading takes of each pair [1].
    reading : array_like, shape (n,)
        Conductance read [S].
    kind : array_like of int, shape (n,)
        0 a value, +1 a lower bound, -1 an upper bound of the conductance.
    solution : array_like, shape (p,)
        One solution with none below 0 [S]; its readings, not the noisy ones, are held.

    Returns
    -------
    ConductanceRange
        Both ends are the solution itself where the values determine the pair.

    References
    ----------
    Linear programming over the conductances that are not negative (derived).
    """
    rows, given = floats(slopes), floats(reading)
    sides, g = np.asarray(kind, np.int8), floats(solution)
    count = len(g)
    low, high = g.copy(), g.copy()
    by_low, by_high = np.zeros(count, np.bool_), np.zeros(count, np.bool_)
    null = _null_space(rows[sides == 0], count)
    for k in np.flatnonzero(np.abs(null).max(axis=1, initial=0.0) > RANK):
        low[k], by_low[k] = _extreme(rows, given, sides, g, int(k), 1.0)
        high[k], by_high[k] = _extreme(rows, given, sides, g, int(k), -1.0)
    return ConductanceRange(low, high, by_low, by_high)


def _null_space(matrix: Floats, count: int) -> Floats:
    if not matrix.size:
        return np.eye(count)
    _, singular, rows = np.linalg.svd(matrix)
    return np.asarray(rows[int((singular > RANK).sum()) :].T, dtype=np.float64)


def _extreme(
    slopes: Floats, reading: Floats, sides: Bounds, g: Floats, k: int, sign: float
) -> tuple[float, bool]:
    """Return one end of the range of a pair, and whether a bound reading sets it."""
    from scipy.optimize import linprog

    scale = float(reading.max(initial=0.0)) or 1.0
    fitted = slopes @ g / scale
    value, bounded = sides == 0, sides != 0
    side = sides[bounded].astype(np.float64)
    # Fitted values are feasible by construction; a breached bound is moved to where the solution stands.
    limit = np.maximum(-side * reading[bounded] / scale, -side * fitted[bounded])
    aim = np.zeros(len(g))
    aim[k] = sign
    answer = linprog(
        aim,
        A_ub=-side[:, None] * slopes[bounded] if bounded.any() else None,
        b_ub=limit if bounded.any() else None,
        A_eq=slopes[value] if value.any() else None,
        b_eq=fitted[value] if value.any() else None,
        bounds=(0, None),
        method="highs",
    )
    if answer.status == _UNBOUNDED:
        return float("inf"), False
    if answer.x is None:
        return float(g[k]), False
    prices = np.abs(answer.ineqlin.marginals) if bounded.any() else np.zeros(0)
    return float(answer.x[k]) * scale, bool((prices > RANK).any())
