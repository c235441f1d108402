"""The joint fit of a staircase, step by step: one power law, an edge and a conductance for every level."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from soakage.physics.arrays import Floats, Indices
from soakage.physics.correlated import Mixture, averaged_fit, bin_means

# How well an insulation's exponent is known beforehand: a wide working assumption.
EXPONENT = (0.8, 0.25)
# Exponents looked for.
_LEAST, _MOST = 0.1, 1.6
_TRIALS = np.linspace(0.3, 1.3, 6)
_ROUNDS = 15
_LONGEST_MOVE = 0.2
_ENOUGH = 1e-6


class StaircaseRows(NamedTuple):
    """Rows that take part in the fit; voltages and currents in units of their largest.

    Parameters
    ----------
    time, voltage, current : ndarray of float, shape (n,)
        Time [s], voltage [1] and current [1].
    level : ndarray of int, shape (n,)
        Level of each row.
    bins : ndarray of int, shape (n,)
        Bin of each row, rising from 0.
    levels : ndarray of float, shape (k,)
        Voltage of each level [1].
    low, high : ndarray of float, shape (k,)
        Between which times each level began [s].
    offset : float
        Added to the time since an edge [s].
    """

    time: Floats
    voltage: Floats
    current: Floats
    level: Indices
    bins: Indices
    levels: Floats
    low: Floats
    high: Floats
    offset: float


def staircase_model(rows: StaircaseRows, theta: Floats) -> Floats:
    """Find the current of the model at the rows.

    Parameters
    ----------
    rows : StaircaseRows
        Rows, of which times, voltages and levels are used.
    theta : ndarray of float, shape (2 + 2 k,)
        A at 60 s, n, the edges [s], the conductances.

    Returns
    -------
    ndarray of float, shape (n,)
        Current [1].

    References
    ----------
    I = A sum dV_j ((t - t_j + t0)/60)^-n + G_k V, superposition of a linear dielectric (derived).
    """
    count = rows.levels.size
    absorbed, _, _ = _law(rows, theta[2 : 2 + count], float(theta[1]))
    return np.asarray(theta[0] * absorbed + theta[2 + count :][rows.level] * rows.voltage)


def fitted_staircase(rows: StaircaseRows) -> Mixture:
    """Fit all parameters by Gauss-Newton steps, then average over what the noise may be made of.

    Parameters
    ----------
    rows : StaircaseRows
        The record.

    Returns
    -------
    Mixture
        Parameters as in :func:`staircase_model`.

    References
    ----------
    Gauss-Newton from the best of six exponents, each edge known beforehand to lie evenly in its gap (derived).
    """
    count = rows.levels.size
    spread = (rows.high - rows.low) / np.sqrt(12.0)
    prior = np.zeros(2 + 2 * count)
    prior[1] = EXPONENT[1] ** -2
    prior[2 : 2 + count] = np.maximum(spread, 1e-6) ** -2
    centre = np.zeros(2 + 2 * count)
    centre[1], centre[2 : 2 + count] = EXPONENT[0], 0.5 * (rows.low + rows.high)
    means = bin_means(rows.current, rows.bins)
    size = np.bincount(rows.bins)
    theta = _start(rows, centre, means, size)
    for _ in range(_ROUNDS):
        design, data, model = _linearised(rows, theta, centre, means)
        # White weights and one scale are enough to arrive; what the noise is made of is asked afterwards.
        left = data - design @ (theta - centre)
        scale = max(float((size * left**2).sum()) / max(size.size - 2 - count, 1), 1e-12)
        weighted = design.T * (size / scale)
        goal = centre + np.linalg.solve(weighted @ design + np.diag(prior), weighted @ data)
        moved = theta
        theta = _within(rows, theta + np.clip(goal - theta, -_reach(count), _reach(count)), count)
        if np.abs(theta[:2] - moved[:2]).max() < _ENOUGH:
            break
    design, data, model = _linearised(rows, theta, centre, means)
    together = np.diff(rows.level) == 0
    mixture = averaged_fit(
        design, data, prior, rows.time, rows.bins,
        np.diff(rows.current / model)[together], np.diff(rows.time)[together],
    )  # fmt: skip
    return mixture._replace(estimate=_within(rows, centre + mixture.estimate, count))


def _law(rows: StaircaseRows, edges: Floats, n: float) -> tuple[Floats, Floats, Floats]:
    """Sum of dV_j (u_j/60)^-n, its derivative by n, shape (n,), and by each edge, shape (k, n)."""
    since = rows.time - edges[:, None]
    after = since > 0
    u = (np.where(after, since, 60.0) + rows.offset) / 60.0
    each = np.where(after, np.diff(rows.levels, prepend=0.0)[:, None] * u**-n, 0.0)
    return each.sum(axis=0), -(each * np.log(u)).sum(axis=0), n / 60.0 * each / u


def _start(rows: StaircaseRows, centre: Floats, means: Floats, size: Indices) -> Floats:
    """Best of a few exponents, the edges in the middle of their gaps."""
    count = rows.levels.size
    own = bin_means(_own(rows), rows.bins)
    weight = np.sqrt(size) / means
    best, found = np.inf, centre.copy()
    for n in _TRIALS:
        absorbed, _, _ = _law(rows, centre[2 : 2 + count], float(n))
        columns = np.column_stack([bin_means(absorbed, rows.bins), own.T]) * weight[:, None]
        linear = np.linalg.lstsq(columns, means * weight, rcond=None)[0]
        left = float(((means * weight - columns @ linear) ** 2).sum())
        if left < best:
            best = left
            found = np.concatenate([[linear[0], n], centre[2 : 2 + count], linear[1:]])
    return found


def _own(rows: StaircaseRows) -> Floats:
    """Voltage of each level at its own rows, shape (k, n)."""
    return np.where(rows.level == np.arange(rows.levels.size)[:, None], rows.voltage, 0.0)


def _linearised(
    rows: StaircaseRows, theta: Floats, centre: Floats, means: Floats
) -> tuple[Floats, Floats, Floats]:
    """Bin means of derivatives and of data about the centre, all relative to the model; and the model."""
    count = rows.levels.size
    absorbed, by_n, by_edge = _law(rows, theta[2 : 2 + count], float(theta[1]))
    current = staircase_model(rows, theta)
    # A model that comes out at or below 0 somewhere on its way must not turn a weight over.
    model = np.maximum(current, 0.2 * means[rows.bins])
    columns = np.vstack([absorbed, theta[0] * by_n, theta[0] * by_edge, _own(rows)])
    design = bin_means(columns / model, rows.bins).T
    data = bin_means((rows.current - current) / model, rows.bins) + design @ (theta - centre)
    return design, data, model


def _reach(count: int) -> Floats:
    """How far one round may move each parameter."""
    far = np.full(2 + 2 * count, np.inf)
    far[1] = _LONGEST_MOVE
    return far


def _within(rows: StaircaseRows, theta: Floats, count: int) -> Floats:
    """Keep the exponent where it is looked for and each edge in its gap."""
    kept = theta.copy()
    kept[1] = np.clip(theta[1], _LEAST, _MOST)
    kept[2 : 2 + count] = np.clip(theta[2 : 2 + count], rows.low, rows.high)
    return kept
