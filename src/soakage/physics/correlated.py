"""Noise that is part white and part slow: its covariance in bins of readings, and how likely each mixture is.

Readings are averaged in bins, evenly in the logarithm of time: a slow law loses nothing, and the
covariance of a record of any length stays small.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from soakage.physics.arrays import Floats, Indices

# Variance of the slow part over that of the white part, and its correlation time [s]: looked through, not
# assumed.  A wander slower than the last cannot be told from the response itself.
RATIOS = (0.0, 0.1, 0.3, 1.0, 3.0, 10.0)
TIMES = (8.0, 20.0, 50.0)


class Mixture(NamedTuple):
    """A linear fit averaged over the mixtures of noise that may have made its residuals.

    Parameters
    ----------
    estimate : ndarray of float, shape (p,)
        Parameters.
    covariance : ndarray of float, shape (p, p)
        Their covariance: within each mixture of noise, and between them.
    scatter : float
        Standard deviation of a single reading, in units of the data.
    share : float
        Slow part of the variance [1].
    chi_square : float
        Weighted sum of squares over its degrees of freedom at the likeliest mixture, where the scatter
        between neighbouring readings is the measure [1].
    """

    estimate: Floats
    covariance: Floats
    scatter: float
    share: float
    chi_square: float


def bin_means(values: Floats, bins: Indices) -> Floats:
    """Average readings in bins.

    Parameters
    ----------
    values : ndarray of float, shape (..., n)
        Readings.
    bins : ndarray of int, shape (n,)
        Bin of each, rising from 0 without a gap.

    Returns
    -------
    ndarray of float, shape (..., m)

    References
    ----------
    None: means.
    """
    starts = np.flatnonzero(np.diff(bins, prepend=-1))
    return np.asarray(np.add.reduceat(values, starts, axis=-1) / np.diff(starts, append=bins.size))


def slow_covariance(time: Floats, bins: Indices, correlation_time: float) -> Floats:
    """Covariance of the bin means of a noise with correlation e^(-|dt|/T) and variance 1.

    Parameters
    ----------
    time : ndarray of float, shape (n,)
        Times of the readings, rising [s].
    bins : ndarray of int, shape (n,)
        Bin of each, rising from 0 without a gap.
    correlation_time : float
        T [s].

    Returns
    -------
    ndarray of float, shape (m, m)

    References
    ----------
    Bins do not overlap, so the exponential splits into one factor per bin and one between them (derived).
    """
    starts = np.flatnonzero(np.diff(bins, prepend=-1))
    ends = np.append(starts[1:], bins.size) - 1
    first, last = time[starts], time[ends]
    with np.errstate(under="ignore"):
        ahead = bin_means(np.exp(-(last[bins] - time) / correlation_time), bins)
        behind = bin_means(np.exp(-(time - first[bins]) / correlation_time), bins)
        between = np.exp(-np.maximum(first[None, :] - last[:, None], 0.0) / correlation_time)
        upper = np.triu(ahead[:, None] * behind[None, :] * between, 1)
        within = np.array(
            [
                np.exp(-np.abs(np.subtract.outer(part, part)) / correlation_time).mean()
                for part in np.split(time, starts[1:])
            ]
        )
    return np.asarray(upper + upper.T + np.diag(within), dtype=np.float64)


def averaged_fit(
    design: Floats, data: Floats, prior: Floats, time: Floats, bins: Indices, steps: Floats, gaps: Floats
) -> Mixture:
    """Solve a linear fit under every mixture of noise and average by how likely each is.

    Parameters
    ----------
    design : ndarray of float, shape (m, p)
        Bin means of the derivatives of the data.
    data : ndarray of float, shape (m,)
        Bin means of the data.
    prior : ndarray of float, shape (p,)
        Inverse variance of each parameter about 0; 0 where nothing is known beforehand.
    time, bins : ndarray, shape (n,)
        Times of the readings [s] and the bin of each.
    steps, gaps : ndarray of float, shape (q,)
        Differences between neighbouring readings, and the time between them [s].

    Returns
    -------
    Mixture

    References
    ----------
    Marginal likelihood of a linear model with unknown scale (restricted maximum likelihood), the white part
    measured by first differences; both standard, from memory.  Efficiency 2/3 of first differences (derived).
    """
    count = np.bincount(bins)
    square = max(float((steps**2).mean()) / 2.0, 1e-14) if steps.size else 1e-14
    known = 2.0 * steps.size / 3.0
    free = data.size - int((prior == 0).sum())
    found = []
    for number, T in enumerate(TIMES):
        slow = slow_covariance(time, bins, T)
        faded = float(np.exp(-gaps / T).mean()) if gaps.size else 0.0
        for ratio in RATIOS:
            if ratio == 0.0 and number > 0:
                continue
            white = square / (1.0 + ratio * (1.0 - faded))
            root = np.linalg.cholesky(white * (np.diag(1.0 / count) + ratio * slow))
            both = np.linalg.solve(root, np.column_stack([design, data]))
            x, y = both[:, :-1], both[:, -1]
            information = x.T @ x + np.diag(prior)
            estimate = np.linalg.solve(information, x.T @ y)
            left = float(((y - x @ estimate) ** 2).sum() + prior @ estimate**2)
            scale = (known + left) / (known + free)
            likely = -0.5 * (known + free) * np.log(known + left) - np.log(np.diag(root)).sum()
            likely -= 0.5 * np.linalg.slogdet(information)[1]
            covariance = np.linalg.inv(information) * max(scale, 1e-3)
            found.append((likely, estimate, covariance, white * (1.0 + ratio) * scale, ratio, left / free))
    logs = np.array([f[0] for f in found])
    weight = np.exp(logs - logs.max())
    weight /= weight.sum()
    estimates = np.stack([f[1] for f in found])
    mean = weight @ estimates
    off = estimates - mean
    covariance = np.tensordot(weight, np.stack([f[2] for f in found]), 1) + (weight[:, None] * off).T @ off
    ratios = np.array([f[4] for f in found])
    return Mixture(
        mean,
        covariance,
        float(np.sqrt(weight @ np.array([f[3] for f in found]))),
        float(weight @ (ratios / (1.0 + ratios))),
        float(found[int(np.argmax(logs))][5]),
    )
