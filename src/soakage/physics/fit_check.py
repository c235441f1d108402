"""Does a record follow the model it was fitted with: a rise, an event or a bend that no power law has.

A departure counts when it stands out of the noise, correlated or not, and is large enough to matter.  The
noise is judged with smooth departures and the likeliest step taken out, so that they don't pass as noise.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from soakage.physics.arrays import Bounds, Flags, Floats
from soakage.physics.binning import Bins
from soakage.physics.fit_noise import NoiseGrid, weigh_noise

# Why a record does not follow the model; Check.reason indexes this table.
REASONS = (
    "",
    "the current rises where an absorption current falls",
    "the current changes by a step: an event during the record",
    "the current bends in a way that no power law with conduction does",
    "too few readings, or over too short a time, to tell",
    "no current flows in the direction of the voltage",
)
RISES, EVENT, BENDS, TOO_FEW, AGAINST = 1, 2, 3, 4, 5

# Sizes below these share of the current are let pass whatever their significance.
LEAST_RISE, LEAST_STEP, LEAST_DEPARTURE = 0.02, 0.02, 0.01
# Standard deviations a rise or a step must reach, and the sum of squares smooth departures must reach.
_RISE_LIMIT, _STEP_LIMIT, _SMOOTH_LIMIT = 4.0, 5.0, 25.0
_SMOOTH_TERMS = 4
# From these parts of ln t on, to the end, a rise is looked for.
_LATE = (0.5, 0.75)


class Check(NamedTuple):
    """What stands against the model.

    Parameters
    ----------
    reason : ndarray of int8, shape (r,)
        0, or the index in :data:`REASONS`.
    departure : ndarray of float, shape (r,)
        Root mean square of the smooth departure over ln t, as a share of the current [1].
    event_time : ndarray of float, shape (r,)
        When the current stepped [s]; NaN where it did not.
    """

    reason: Bounds
    departure: Floats
    event_time: Floats


def check_fit(
    grid: NoiseGrid,
    bins: Bins,
    time: Floats,
    residual: Floats,
    columns: Floats,
    step: Floats,
    shape: Floats | None,
    step_variance: Floats,
) -> Check:
    """Look for a rise, a step and a bend in the residuals of a fit.

    Parameters
    ----------
    grid : NoiseGrid
        Kinds of noise on this time grid.
    bins : Bins
        Bins of the readings.
    time : ndarray of float, shape (n,)
        Times of the readings [s].
    residual : ndarray of float, shape (r, b)
        Relative residuals averaged over the bins.
    columns : ndarray of float, shape (r, b, 3)
        Relative derivatives of the model, averaged likewise.
    step : ndarray of float, shape (r, b)
        What a change of conduction of the size of the mean current would be, relative to the current.
    shape : ndarray of float, shape (r, b) or None
        The fitted current over its mean; None under a varied voltage, where a rise says nothing.
    step_variance : ndarray of float, shape (r,)
        Half the mean square of the difference between neighbouring readings.

    Returns
    -------
    Check

    References
    ----------
    Generalized least squares and the generalized likelihood ratio (derived); limits set by simulation.
    """
    centre = bins.mean(np.log(time))
    along = (centre - centre[0]) / (centre[-1] - centre[0])
    terms = int(np.clip((centre.size - 4) // 4, 0, _SMOOTH_TERMS))
    smooth = np.cos(np.pi * np.arange(2, 2 + terms) * along[:, None])
    wide = np.concatenate([columns, np.broadcast_to(smooth, (len(residual), *smooth.shape))], axis=-1)
    # Every place but the first and last few, where a step and the model look alike.
    places = np.arange(3, centre.size - 2)
    after = (np.arange(centre.size)[:, None] >= places).astype(float)
    steps = step[:, :, None] * after
    plain = np.sqrt(bins.samples.astype(float))[:, None]
    first, _ = _step_scores(plain * wide, plain * steps, plain[:, 0] * residual)
    likeliest = np.take_along_axis(steps, np.abs(first).argmax(axis=1)[:, None, None], axis=2)
    noise = weigh_noise(grid, residual, np.concatenate([wide, likeliest], axis=-1), step_variance)
    whitener = np.linalg.inv(np.linalg.cholesky(noise.covariance))
    white = (whitener @ residual[..., None])[..., 0]
    scores, sizes = _step_scores(whitener @ wide, whitener @ steps, white)
    best = np.abs(scores).argmax(axis=1)[:, None]
    score, size = (np.take_along_axis(entry, best, axis=1)[:, 0] for entry in (scores, sizes))
    # The size is a share of the mean current; what it is of the current at that moment decides.
    share = np.abs(size) * np.take_along_axis(step, places[best], axis=1)[:, 0]

    narrow_fit, narrow_left = _fitted(whitener @ columns, white, columns, residual)
    wide_fit, wide_left = _fitted(whitener @ wide, white, wide, residual)
    departure = np.sqrt(np.mean((wide_fit - narrow_fit) ** 2, axis=1))
    gain = narrow_left - wide_left
    alone, _ = _step_scores(whitener @ columns, whitener @ steps, white)
    step_first = (alone**2).max(axis=1) >= gain

    steps_out = (np.abs(score) > _STEP_LIMIT) & (share > LEAST_STEP)
    bends = (gain > _SMOOTH_LIMIT) & (departure > LEAST_DEPARTURE)
    reason = np.where(bends, BENDS, 0)
    event = steps_out & (step_first | ~bends)
    reason = np.where(event, EVENT, reason)
    if shape is not None:
        rises = _rises(shape * (1 + residual), along, noise.covariance)
        reason = np.where(rises & ~event, RISES, reason)
    starts = time[np.cumsum(bins.samples) - bins.samples]
    moment = starts[places[best[:, 0]]]
    return Check(reason.astype(np.int8), departure, np.where(reason == EVENT, moment, np.nan))


def _step_scores(columns: Floats, steps: Floats, residual: Floats) -> tuple[Floats, Floats]:
    """Give each step's score in standard deviations and its size, the columns taken out of it."""
    basis = np.linalg.qr(columns)[0]
    across = np.swapaxes(basis, 1, 2)
    pure = steps - basis @ (across @ steps)
    left = residual - (basis @ (across @ residual[..., None]))[..., 0]
    squares = np.einsum("rbp,rbp->rp", pure, pure)
    along = np.einsum("rbp,rb->rp", pure, left)
    # A step that the columns can imitate wholly says nothing.
    told = squares > 1e-6 * np.einsum("rbp,rbp->rp", steps, steps)
    squares = np.where(told, squares, np.inf)
    return along / np.sqrt(squares), along / squares


def _fitted(white_columns: Floats, white: Floats, columns: Floats, residual: Floats) -> tuple[Floats, Floats]:
    """Fit by generalized least squares: the curve, and the whitened sum of squares left."""
    coefficients = np.linalg.pinv(white_columns, rcond=1e-10) @ white[..., None]
    left = white - (white_columns @ coefficients)[..., 0]
    curve = (columns @ coefficients)[..., 0]
    return curve.reshape(residual.shape), np.einsum("rb,rb->r", left, left)


def _rises(current: Floats, along: Floats, covariance: Floats) -> Flags:
    """Say whether the current rises over the later half or the last quarter of ln t."""
    rises = np.zeros(len(current), dtype=bool)
    for begin in _LATE:
        late = np.flatnonzero(along > begin)
        if late.size < 3:
            continue
        level = current[:, late].mean(axis=1, keepdims=True)
        whitener = np.linalg.inv(np.linalg.cholesky(covariance[:, late[:, None], late]))
        column = whitener @ np.stack([np.ones(late.size), along[late]], axis=1)
        solved = np.linalg.pinv(column) @ (whitener @ (current[:, late] / level)[..., None])
        slope = solved[:, 1, 0]
        deviation = np.sqrt(np.linalg.inv(np.swapaxes(column, 1, 2) @ column)[:, 1, 1])
        rises |= (slope > _RISE_LIMIT * deviation) & ((1 - begin) * slope > LEAST_RISE)
    return rises
