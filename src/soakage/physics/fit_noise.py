"""What the noise of a record is: white, plus one part that stays for a while.

Readings a second apart are rarely independent: the supply wanders, mains pick-up beats with the sampling.
Both sizes and the correlation time are weighed by the restricted likelihood of the residuals, which allows
for the freedom that the fit has taken, together with the scatter from one reading to the next.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from soakage.physics.arrays import Floats
from soakage.physics.binning import Bins

# Variance of the lasting part over that of the white part, and its correlation time [s].
RATIOS = np.array([0.0, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0])
CORRELATION_TIMES = np.array([8.0, 20.0, 50.0, 125.0])
# Prior weights: mostly white noise alone, else every ratio alike and the times as below.
_WHITE_ALONE = 0.7
_TIME_WEIGHTS = np.array([0.35, 0.4, 0.2, 0.05])
# A difference between neighbours holds two thirds of a degree of freedom.
_FREEDOM_OF_A_DIFFERENCE = 2.0 / 3.0


class NoiseGrid(NamedTuple):
    """Every kind of noise that is weighed, on one time grid.

    Parameters
    ----------
    ratio, correlation_time, weight : ndarray of float, shape (h,)
        Variance ratio [1], correlation time [s] and prior weight.
    covariance : ndarray of float, shape (h, b, b)
        Covariance of the bin means, in units of the white variance.
    whitener : ndarray of float, shape (h, b, b)
        Inverse of its lower Cholesky factor.
    log_determinant : ndarray of float, shape (h,)
        Logarithm of its determinant.
    step_variance : ndarray of float, shape (h,)
        Half the mean square of the difference between neighbours, in the same unit.
    freedom : float
        Degrees of freedom in those differences.
    """

    ratio: Floats
    correlation_time: Floats
    weight: Floats
    covariance: Floats
    whitener: Floats
    log_determinant: Floats
    step_variance: Floats
    freedom: float


class Noise(NamedTuple):
    """Noise of records, weighed over the grid.

    Parameters
    ----------
    scatter : ndarray of float, shape (r,)
        Standard deviation of one reading, both parts together.
    correlation : ndarray of float, shape (r,)
        Share of the variance that lasts, 0 to 1.
    correlation_time : ndarray of float, shape (r,)
        Its correlation time [s], weighed by that share; NaN where there is none.
    covariance : ndarray of float, shape (r, b, b)
        Covariance of the bin means.
    """

    scatter: Floats
    correlation: Floats
    correlation_time: Floats
    covariance: Floats


def noise_grid(time: Floats, bins: Bins) -> NoiseGrid:
    """Prepare the covariances of every kind of noise on one time grid.

    Parameters
    ----------
    time : ndarray of float, shape (n,)
        Times of the readings [s].
    bins : Bins
        Their bins.

    Returns
    -------
    NoiseGrid

    References
    ----------
    White plus Ornstein-Uhlenbeck noise, averaged over the bins (derived).
    """
    lasting = np.flatnonzero(RATIOS)
    ratio = np.concatenate(([0.0], np.repeat(RATIOS[lasting], CORRELATION_TIMES.size)))
    tau = np.concatenate(([CORRELATION_TIMES[0]], np.tile(CORRELATION_TIMES, lasting.size)))
    spread = np.tile(_TIME_WEIGHTS, lasting.size) / lasting.size
    weight = np.concatenate(([_WHITE_ALONE], (1 - _WHITE_ALONE) * spread))
    kernels = {value: bins.kernel(time, value) for value in CORRELATION_TIMES.tolist()}
    covariance = np.stack([r * kernels[value] for r, value in zip(ratio, tau.tolist(), strict=True)])
    covariance += np.diag(1.0 / bins.samples)
    factor = np.linalg.cholesky(covariance)
    whitener = np.linalg.solve(factor, np.broadcast_to(np.eye(bins.samples.size), factor.shape))
    log_determinant = 2 * np.log(np.diagonal(factor, axis1=1, axis2=2)).sum(axis=1)
    gaps = np.diff(time)
    fading = np.array([1 - np.exp(-gaps / value).mean() for value in tau])
    freedom = _FREEDOM_OF_A_DIFFERENCE * gaps.size
    return NoiseGrid(ratio, tau, weight, covariance, whitener, log_determinant, 1 + ratio * fading, freedom)


def weigh_noise(grid: NoiseGrid, residual: Floats, columns: Floats, step_variance: Floats) -> Noise:
    """Weigh every kind of noise by what the residuals say.

    Parameters
    ----------
    grid : NoiseGrid
        From :func:`noise_grid`.
    residual : ndarray of float, shape (r, b)
        Residuals averaged over the bins.
    columns : ndarray of float, shape (r, b, p)
        Directions the fit was free to take, averaged likewise.
    step_variance : ndarray of float, shape (r,)
        Half the mean square of the difference between neighbouring readings.

    Returns
    -------
    Noise
        Averages over the grid, each kind with its own scale.

    References
    ----------
    Restricted likelihood: Patterson and Thompson, Biometrika 58 (1971) 545 (memory); scale profiled (derived).
    """
    b, p = columns.shape[1:]
    both = np.concatenate([columns, residual[..., None]], axis=-1)
    whitened = grid.whitener[None] @ both[:, None]
    # In the triangle of the columns with the residual behind them, the last corner is what no column explains.
    triangle = np.abs(np.diagonal(np.linalg.qr(whitened, mode="r"), axis1=-2, axis2=-1))
    left = triangle[..., p] ** 2
    taken = np.log(np.maximum(triangle[..., :p], 1e-12)).sum(axis=-1)
    freedom = b - p + grid.freedom
    pooled = left + grid.freedom * step_variance[:, None] / grid.step_variance
    scale = np.maximum(pooled / (freedom - 2.0), 1e-30)
    log_weight = (
        np.log(grid.weight)
        - 0.5 * (grid.log_determinant + grid.freedom * np.log(grid.step_variance))
        - taken
        - 0.5 * freedom * np.log(scale)
    )
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    white = (weight * scale).sum(axis=1)
    lasting = (weight * scale * grid.ratio).sum(axis=1)
    mean_time = (weight * scale * grid.ratio * grid.correlation_time).sum(axis=1)
    covariance = np.tensordot(weight * scale, grid.covariance, axes=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        lasts = np.where(lasting > 0, mean_time / np.where(lasting > 0, lasting, 1.0), np.nan)
    return Noise(np.sqrt(white + lasting), lasting / (white + lasting), lasts, covariance)
