"""The model a record is fitted with, on its own times and under its own voltage, and its weighted solution."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from soakage.physics.arrays import Floats
from soakage.physics.fit_profile import HIGHEST, LOWEST, Column, ProfileFit, profile_fit
from soakage.physics.responses import PowerLaw
from soakage.physics.superposition import Corners, voltage_current

# The weights follow the fitted curve, not the noisy readings, after this many passes.
_PASSES = 4
# A reading counts as if it were at least this share of the median one.
_LEAST_AT_FIRST, _LEAST = 0.1, 1e-3
_NUDGE = 1e-5


class Model(NamedTuple):
    """a b(t; n) + g c(t) on the times of a record.

    Parameters
    ----------
    column : callable
        b at exponents (k,), shape (s, k); 1 in the middle of a record under constant voltage.
    conduction : ndarray of float, shape (s,)
        c.
    centre : float
        Time the power law is 1 at [s]: A is the level times centre^n.
    nodes : int
        Chebyshev nodes that carry b^2 over the exponents to 1e-10.
    """

    column: Column
    conduction: Floats
    centre: float
    nodes: int


class Weighted(NamedTuple):
    """A fit whose weights follow it.

    Parameters
    ----------
    fitted : ProfileFit
        Level, exponent and conduction.
    curve : ndarray of float, shape (r, s)
        The fitted current.
    weights : ndarray of float, shape (r, s)
        Weights it was found with.
    """

    fitted: ProfileFit
    curve: Floats
    weights: Floats


def model_for(time: Floats, offset: float, corners: Corners | None) -> Model:
    """Prepare the model for the times and the voltage of a record.

    Parameters
    ----------
    time : ndarray of float, shape (s,)
        Times since the voltage was applied [s].
    offset : float
        t0 [s].
    corners : Corners or None
        A varied voltage, whose answers are superposed; None for a constant one, taken out of the readings.

    Returns
    -------
    Model

    References
    ----------
    I = V [A (t + t0)^-n + G]; superposition of a linear dielectric (derived).
    """
    if corners is None:
        later = time + offset
        centre = float(np.sqrt(later[0] * later[-1]))
        log_time = np.log(later / centre)
        nodes = _nodes(float(log_time[-1]))
        return Model(lambda n: np.exp(-np.multiply.outer(log_time, n)), np.ones(time.size), centre, nodes)
    edges = corners.time
    gap = time[:, None] - edges
    shortest = float(gap[gap > 0].min()) + offset
    nodes = _nodes(float(np.log((time[-1] - edges[0] + offset) / shortest)))
    law = PowerLaw(0.0, 0.5, 1.0, offset=offset)
    conduction = voltage_current(law, time, corners)
    return Model(
        lambda n: np.atleast_2d(voltage_current(PowerLaw(1.0, n, offset=offset), time, corners)).T,
        conduction, 1.0, nodes,
    )  # fmt: skip


def _nodes(half_span: float) -> int:
    """Count the nodes for exp(2 n x), |x| up to half the span of ln t: its series falls off beyond this order."""
    return 14 + int(2.0 * (HIGHEST - LOWEST) * half_span)


def weighted_fit(model: Model, y: Floats, weights: Floats | None) -> Weighted:
    """Fit by weighted least squares.

    Parameters
    ----------
    model : Model
        From :func:`model_for`.
    y : ndarray of float, shape (r, s)
        Readings.
    weights : ndarray of float, shape (r, s), or None
        Weights; None for the inverse square of the fitted curve, found by repetition.

    Returns
    -------
    Weighted

    References
    ----------
    Iteratively reweighted least squares (derived).
    """
    size = np.median(np.abs(y), axis=1, keepdims=True)
    # At first no reading counts more than a late one may: a reading near 0 by chance would take the fit over.
    own = weights if weights is not None else np.maximum(np.abs(y), _LEAST_AT_FIRST * size) ** -2.0
    for turn in range(_PASSES):
        fitted = profile_fit(y, own, model.column, model.conduction, model.nodes)
        n = np.where(np.isnan(fitted.exponent), 1.0, fitted.exponent)
        curve = fitted.level[:, None] * model.column(n).T + fitted.conduction[:, None] * model.conduction
        if weights is not None:
            break
        if turn < _PASSES - 1:
            own = np.maximum(np.abs(curve), _LEAST * size) ** -2.0
    return Weighted(fitted, curve, own)


def derivatives(model: Model, fitted: ProfileFit) -> Floats:
    """Give the derivatives of the curve by level, exponent and conduction.

    Parameters
    ----------
    model : Model
        From :func:`model_for`.
    fitted : ProfileFit
        Where, r records.

    Returns
    -------
    ndarray of float, shape (r, s, 3)

    References
    ----------
    By a central difference in n, which also serves a superposed current (derived).
    """
    n = np.where(np.isnan(fitted.exponent), 1.0, fitted.exponent)
    b = model.column(n).T
    slope = (model.column(n + _NUDGE) - model.column(n - _NUDGE)).T / (2 * _NUDGE)
    return np.stack([b, fitted.level[:, None] * slope, np.broadcast_to(model.conduction, b.shape)], axis=-1)
