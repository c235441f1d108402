"""Sum of exponentials, of either sign, by variable projection: the free fit of a depolarization current."""

from __future__ import annotations

from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Floats, floats

# Starting rates are chosen from a grid in ln of this many values, from slow to fast for the record.
_STARTS = 14
_SLOWEST, _FASTEST = 0.2, 1.0


class ExponentialSum(NamedTuple):
    """c + sum of a_k exp(-r_k t), the terms in the order of rising rate.

    Parameters
    ----------
    amplitude : ndarray of float, shape (k,)
        a, either sign [unit of the signal].
    rate : ndarray of float, shape (k,)
        r, above 0 [1/s].
    constant : float
        c; 0 when none was asked for.
    sum_of_squares : float
        Weighted sum of squares left.
    deviation : ndarray of float, shape (2 k,) or (2 k + 1,)
        Standard deviations of the amplitudes, of the rates, and of the constant where there is one, for noise
        that is white and of the size of the residuals.
    """

    amplitude: Floats
    rate: Floats
    constant: float
    sum_of_squares: float
    deviation: Floats


def exponential_sum(
    time: ArrayLike,
    signal: ArrayLike,
    terms: int,
    *,
    constant: bool = False,
    weights: ArrayLike | None = None,
) -> ExponentialSum:
    """Fit a sum of exponentials; the starting rates are sought here.

    Parameters
    ----------
    time : array_like, shape (n,)
        Times [s], rising.
    signal : array_like, shape (n,)
        Readings [any].
    terms : int
        Exponentials.
    constant : bool, optional
        Whether a constant stands beside them.
    weights : array_like, shape (n,), optional
        Weight of each reading.

    Returns
    -------
    ExponentialSum

    Raises
    ------
    UsageError
        When there are fewer readings than unknowns.

    References
    ----------
    Golub and Pereyra, SIAM J. Numer. Anal. 10 (1973) 413 (memory); certified values of NIST StRD Lanczos1-3 and
    MGH17 (read).
    """
    from scipy.optimize import least_squares

    t, y = floats(time), floats(signal)
    unknowns = 2 * terms + int(constant)
    if t.size < unknowns:
        raise UsageError(
            f"A sum of {terms} exponentials needs at least {unknowns} readings. Given: {t.size}. Ask for fewer terms."
        )
    root = np.sqrt(np.ones_like(t) if weights is None else floats(weights))
    problem = _Projection(t, y * root, root, constant)
    span = t[-1] - t[0]
    grid = np.linspace(np.log(_SLOWEST / span), np.log(_FASTEST / np.diff(t).min()), _STARTS)
    start = min(
        (np.array(choice) for choice in combinations(grid, terms)),
        key=lambda choice: float(np.sum(problem.residual(choice) ** 2)),
    )
    # Logarithms of the rates keep them above 0 and of one size.
    found = least_squares(
        problem.residual,
        start,
        problem.jacobian,
        method="lm",
        ftol=1e-15,
        xtol=1e-15,
        gtol=1e-15,
        max_nfev=500,
    )
    order = np.argsort(found.x)
    rate = np.exp(found.x[order])
    columns, coefficients = problem.solved(np.log(rate))
    amplitude = coefficients[:terms]
    left = problem.y - columns @ coefficients
    squares = float(left @ left)
    slopes = -columns[:, :terms] * t[:, None] * amplitude
    derivatives = np.concatenate([columns[:, :terms], slopes, columns[:, terms:]], axis=1)
    deviation = np.full(unknowns, np.nan)
    if t.size > unknowns:
        triangle = np.linalg.qr(derivatives, mode="r")
        inverse = np.linalg.pinv(triangle, rcond=1e-16)
        deviation = np.sqrt(np.sum(inverse**2, axis=1) * squares / (t.size - unknowns))
    return ExponentialSum(
        amplitude, rate, float(coefficients[terms]) if constant else 0.0, squares, deviation
    )


class _Projection:
    """The readings with all that the exponentials of given rates can explain taken out."""

    def __init__(self, time: Floats, y: Floats, root: Floats, constant: bool) -> None:  # noqa: FBT001
        self.time, self.y, self.root, self.constant = time, y, root, constant

    def _columns(self, log_rate: Floats) -> Floats:
        columns = np.exp(-np.multiply.outer(self.time, np.exp(log_rate)))
        if self.constant:
            columns = np.concatenate([columns, np.ones((self.time.size, 1))], axis=1)
        return columns * self.root[:, None]

    def solved(self, log_rate: Floats) -> tuple[Floats, Floats]:
        """Give the columns and the coefficients that explain most."""
        columns = self._columns(log_rate)
        return columns, floats(np.linalg.lstsq(columns, self.y, rcond=1e-15)[0])

    def residual(self, log_rate: Floats) -> Floats:
        """Give what is left."""
        columns, coefficients = self.solved(log_rate)
        return np.asarray(self.y - columns @ coefficients)

    def jacobian(self, log_rate: Floats) -> Floats:
        """Give its derivatives by the logarithms of the rates."""
        columns, coefficients = self.solved(log_rate)
        left = self.y - columns @ coefficients
        rate = np.exp(log_rate)
        terms = rate.size
        moved = -columns[:, :terms] * np.multiply.outer(self.time, rate)
        basis, triangle = np.linalg.qr(columns)
        direct = moved * coefficients[:terms]
        direct = direct - basis @ (basis.T @ direct)
        # The second term of Golub and Pereyra: the residual seen by the columns as they turn.
        turning = np.zeros((columns.shape[1], terms))
        turning[np.arange(terms), np.arange(terms)] = moved.T @ left
        return np.asarray(-direct - basis @ np.linalg.lstsq(triangle.T, turning, rcond=1e-15)[0])
