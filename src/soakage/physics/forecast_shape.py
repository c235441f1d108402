"""What the beginning of a record says of its continuation, weighed over every shape and noise that explains it.

ln I = ln k[(1-s)(t/60)^-n + s] + d(ln t/60) + e.  The discrepancy d is an integrated Wiener process in ln t that is 0
with its slope at 60 s: insulation follows a power law only roughly.  The noise e is white and lasting; conduction
may drift.  Given n and the sizes of d and e the model is linear in the two currents, so that only n, s and the
sizes are laid out on a grid, s where its conditional posterior lies.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from soakage.physics.arrays import Floats, Indices
from soakage.physics.binning import Bins, log_bins
from soakage.physics.fit_model import model_for, weighted_fit

ANCHOR = 60.0
_PER_DECADE = 14
_CORRELATION_TIME = 20.0
# Priors: n normal, s beta(1/2, 1/2), and the sizes each on its values with their weights.
_EXPONENT, _EXPONENT_DEVIATION = 0.8, 0.25
_LOWEST, _HIGHEST = 0.12, 1.78
_BEND = np.array([0.005, 0.03, 0.08, 0.2, 0.5]), np.array([0.25, 0.25, 0.25, 0.18, 0.07])
_LASTING = np.array([0.0, 0.3, 1.0, 3.0]), np.array([0.4, 0.2, 0.3, 0.1])
_DRIFT = np.array([0.0, 0.12]), np.array([0.5, 0.5])
_COARSE_EXPONENTS, _EXPONENTS, _COARSE_SHARES, _SHARES = 33, 41, 7, 15
# What is left out of the posterior on the way: sizes of less than this weight, all but the heaviest components.
_NEGLIGIBLE = 1e-5
_COMPONENTS = 1200


class Outlook(NamedTuple):
    """A mixture of normal distributions of ln I at some times, and of ln I(60 s)/I(last of them).

    Parameters
    ----------
    weight : ndarray of float, shape (c,)
        Weight of each component.
    log_current, log_variance : ndarray of float, shape (c, q)
        Mean and variance of the logarithm of the current without noise [ln A].
    log_ratio, ratio_variance : ndarray of float, shape (c,)
        Mean and variance of the logarithm of the ratio.
    scatter : float
        White noise of one reading, as a share of the current [1].
    lasting : float
        Lasting noise likewise [1].
    """

    weight: Floats
    log_current: Floats
    log_variance: Floats
    log_ratio: Floats
    ratio_variance: Floats
    scatter: float
    lasting: float


class _Data(NamedTuple):
    """The readings in bins, relative to a first fit, with all that the grid needs."""

    bins: Bins
    log_times: Floats
    curve: Floats
    y: Floats
    constant: Floats
    log_time: Floats
    lasting: Floats
    drift: Floats
    drift_ahead: Floats
    scatter: float
    level: float


class _Sizes(NamedTuple):
    """Every combination of sizes: bend, lasting noise, drift and their joint prior weight."""

    bend: Floats
    lasting: Floats
    drift: Floats
    log_prior: Floats

    def of(self, rows: Indices) -> _Sizes:
        """Give some of them."""
        return _Sizes(*(entry[rows] for entry in self))


class _Grid(NamedTuple):
    """The posterior over sizes (h), exponents (n) and shares (s), with the pieces that continue it."""

    log_weight: Floats
    share: Floats
    level: Floats
    precision: Floats
    white_y: Floats
    white_constant: Floats
    white_power: Floats
    whitener: Floats


def outlook(time: Floats, current: Floats, ahead: Floats) -> Outlook:
    """Continue a record to later times.

    Parameters
    ----------
    time : ndarray of float, shape (n,)
        Times since the voltage was applied [s], rising.
    current : ndarray of float, shape (n,)
        Currents [A] of one sign under constant voltage.
    ahead : ndarray of float, shape (q,)
        Times to continue to [s]; the ratio is taken at the last.

    Returns
    -------
    Outlook

    References
    ----------
    Gaussian process discrepancy with an integrated Wiener kernel in ln t (derived); coverage by simulation (derived).
    """
    x_ahead = np.log(ahead / ANCHOR)
    data = _binned(time, current, ahead)
    sizes = _every_size()
    exponents = np.linspace(_LOWEST, _HIGHEST, _COARSE_EXPONENTS)
    coarse = _posterior(data, sizes, exponents, _COARSE_SHARES)
    weight = np.exp(coarse.log_weight - coarse.log_weight.max()).sum(axis=2)
    of_sizes = weight.sum(axis=1) / weight.sum()
    rows = np.flatnonzero(of_sizes > _NEGLIGIBLE)
    along = np.cumsum(weight.sum(axis=0)) / weight.sum()
    low = exponents[max(int((along > 1e-4).argmax()) - 1, 0)]
    high = exponents[min(int((along > 1 - 1e-4).argmax()) + 1, _COARSE_EXPONENTS - 1)]
    exponents = np.linspace(low, high, _EXPONENTS)
    kept = sizes.of(rows)
    return _continued(data, kept, exponents, _posterior(data, kept, exponents, _SHARES), x_ahead)


def _every_size() -> _Sizes:
    bend, lasting, drift = np.meshgrid(_BEND[0], _LASTING[0], _DRIFT[0], indexing="ij")
    prior = np.multiply.outer(np.multiply.outer(_BEND[1], _LASTING[1]), _DRIFT[1])
    return _Sizes(bend.ravel(), lasting.ravel(), drift.ravel(), np.log(prior.ravel()))


def _binned(time: Floats, current: Floats, ahead: Floats) -> _Data:
    model = model_for(time, 0.0, None)
    fitted, curves, _ = weighted_fit(model, current[None], None)
    curve = curves[0]
    a, g = float(fitted.level[0]), float(fitted.conduction[0])
    n = float(np.nan_to_num(fitted.exponent[0]))
    level = a * (ANCHOR / model.centre) ** -n + g
    relative = current / curve
    scatter = float(np.sqrt(max(np.mean(np.diff(relative) ** 2) / 2, 1e-10)))
    bins = log_bins(time, _PER_DECADE)
    later = a * (ahead / model.centre) ** -n + g

    def drifting(t: Floats, whole: Floats) -> Floats:
        return g * (t - ANCHOR) / (600.0 - ANCHOR) / whole

    log_time = np.log(time / ANCHOR)
    return _Data(
        bins, log_time, curve / level, bins.mean(relative), bins.mean(level / curve), bins.mean(log_time),
        bins.kernel(time, _CORRELATION_TIME), bins.mean(drifting(time, curve)),
        drifting(ahead, later), scatter, level,
    )  # fmt: skip


def _wiener(x: Floats, y: Floats) -> Floats:
    """Covariance of the integrated Wiener process, two-sided from 0."""
    a, b = np.abs(x)[:, None], np.abs(y)[None, :]
    near, far = np.minimum(a, b), np.maximum(a, b)
    same = np.sign(x)[:, None] == np.sign(y)[None, :]
    return np.where(same, near**2 * (3 * far - near) / 6.0, 0.0)


def _posterior(data: _Data, sizes: _Sizes, exponents: Floats, shares: int) -> _Grid:
    """Lay the posterior out: sizes (h, 1, 1), exponents (1, n, 1), shares (h, n, s)."""
    bend, lasting, drift = (entry[:, None, None] for entry in sizes[:3])
    covariance = data.scatter**2 * (np.diag(1.0 / data.bins.samples) + lasting**2 * data.lasting)
    covariance = covariance + bend**2 * _wiener(data.log_time, data.log_time)
    covariance = covariance + drift**2 * np.outer(data.drift, data.drift)
    factor = np.linalg.cholesky(covariance)
    whitener = np.linalg.inv(factor)
    half_log_determinant = np.log(np.diagonal(factor, axis1=1, axis2=2)).sum(axis=1)
    # The time inside a bin is spread: the power law is averaged over it like the readings.
    power = data.bins.mean(np.exp(-np.outer(exponents, data.log_times)) / data.curve).T
    y, o, b = whitener @ data.y, whitener @ data.constant, whitener @ power
    yy, oo, oy = (np.einsum("hb,hb->h", p, q)[:, None] for p, q in ((y, y), (o, o), (o, y)))
    ob, bb, yb = np.einsum("hb,hbn->hn", o, b), np.einsum("hbn,hbn->hn", b, b), np.einsum("hb,hbn->hn", y, b)
    determinant = np.maximum(oo * bb - ob * ob, 1e-12 * oo * bb)
    absorbed, conducted = (oo * yb - ob * oy) / determinant, (bb * oy - ob * yb) / determinant
    whole = np.maximum(np.abs(absorbed + conducted), 1e-9)
    middle = conducted / whole
    spread = middle**2 * oo + (1 - middle) ** 2 * bb + 2 * middle * (1 - middle) * ob
    spread = np.sqrt(np.maximum(spread / determinant, 1e-12)) / whole
    low, high = np.clip(middle - 4 * spread, 0, 1), np.clip(middle + 4 * spread, 0, 1)
    # Where the whole conditional posterior lies outside 0 to 1, its edge is laid out.
    narrow = high - low < 0.5 * spread
    high = np.where(narrow, np.minimum(low + spread, 1), high)
    low = np.where(narrow & (high - low < 0.5 * spread), np.maximum(high - spread, 0), low)
    s = low[..., None] + (high - low)[..., None] * (np.arange(shares) + 0.5) / shares
    precision = (1 - s) ** 2 * bb[..., None] + 2 * s * (1 - s) * ob[..., None] + s * s * oo[..., None]
    seen = (1 - s) * yb[..., None] + s * oy[..., None]
    level = seen / precision
    log_prior = -0.5 * (np.log(s + 1e-4) + np.log(1 - s + 1e-4))
    log_prior = log_prior - 0.5 * ((exponents - _EXPONENT) / _EXPONENT_DEVIATION)[:, None] ** 2
    log_prior = log_prior + (sizes.log_prior - half_log_determinant)[:, None, None]
    cell = np.log(np.maximum(high - low, 1e-12))[..., None] - 0.5 * np.log(precision)
    log_weight = log_prior + cell + np.log(np.maximum(level, 1e-12)) - 0.5 * (yy[..., None] - seen * level)
    return _Grid(np.where(level > 0, log_weight, -np.inf), s, level, precision, y, o, b, whitener)


def _continued(data: _Data, sizes: _Sizes, exponents: Floats, grid: _Grid, ahead: Floats) -> Outlook:
    """Continue the heaviest components."""
    flat = grid.log_weight.ravel()
    heaviest = np.argpartition(-flat, min(_COMPONENTS, flat.size) - 1)[:_COMPONENTS]
    h, i, j = np.unravel_index(heaviest, grid.log_weight.shape)
    weight = np.exp(flat[heaviest] - flat[heaviest].max())
    weight /= weight.sum()
    s, level, n = grid.share[h, i, j], grid.level[h, i, j], exponents[i]
    shape = (1 - s)[:, None] * np.exp(-n[:, None] * ahead) + s[:, None]
    bend, drift = sizes.bend[:, None, None] ** 2, sizes.drift[:, None, None] ** 2
    across = bend * _wiener(data.log_time, ahead) + drift * np.outer(data.drift, data.drift_ahead)
    across = grid.whitener @ across
    prior = bend[:, 0] * np.diag(_wiener(ahead, ahead)) + drift[:, 0] * data.drift_ahead**2
    variance = (prior - np.einsum("hbq,hbq->hq", across, across))[h]
    from_y = np.einsum("hb,hbq->hq", grid.white_y, across)[h]
    from_constant = np.einsum("hb,hbq->hq", grid.white_constant, across)[h]
    from_power = np.einsum("hbn,hbq->hnq", grid.white_power, across)[h, i]
    of_shape = (1 - s)[:, None] * from_power + s[:, None] * from_constant
    departure = from_y - level[:, None] * of_shape
    level_variance = 1.0 / grid.precision[h, i, j][:, None]
    log_current = np.log(np.abs(data.level)) + np.log(level)[:, None] + np.log(shape) + departure
    in_current = variance + level_variance * (1.0 / level[:, None] - of_shape) ** 2
    in_ratio = variance[:, -1] + level_variance[:, 0] * of_shape[:, -1] ** 2
    lasting = float(np.sqrt(weight @ (sizes.lasting[h] ** 2))) * data.scatter
    return Outlook(
        weight, log_current, np.maximum(in_current, 1e-12), -np.log(shape[:, -1]) - departure[:, -1],
        np.maximum(in_ratio, 1e-12), data.scatter, lasting,
    )  # fmt: skip
