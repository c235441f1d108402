"""How the absorption is spread over relaxation times, with conduction: a view and no verdict."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Floats, floats

_FEWEST = 12
# The spectrum reaches this far beyond the record: what lies further out cannot be told from conduction.
_REACH = 0.5
# Smoothing is raised until the sum of squares is this share above its least.
_ALLOWANCE = 0.05
_BISECTIONS = 14


class Spectrum(NamedTuple):
    """Step current per volt as a sum of g exp(-t/tau) and a conductance.

    Parameters
    ----------
    time_constant : ndarray of float, shape (k,)
        tau, even in ln tau [s].
    branch_conductance : ndarray of float, shape (k,)
        g of each, 0 or above [S]: the inverse resistance of a series branch.
    conductance : float
        What does not decay within the record [S].
    scatter : float
        Root mean square of what is left, as a share of the current [1].
    """

    time_constant: Floats
    branch_conductance: Floats
    conductance: float
    scatter: float


def relaxation_spectrum(
    time: ArrayLike, current: ArrayLike, test_voltage: float = 1.0, per_decade: int = 8
) -> Spectrum:
    """Resolve the current after a step into relaxation times, as smooth as the readings allow.

    Parameters
    ----------
    time : array_like, shape (n,)
        Times since the voltage was applied [s], rising, above 0.
    current : array_like, shape (n,)
        Currents [A]; NaN where nothing was read.
    test_voltage : float, optional
        Constant voltage [V].
    per_decade : int, optional
        Time constants in a decade.

    Returns
    -------
    Spectrum

    Raises
    ------
    UsageError
        When fewer than 12 readings are left.

    References
    ----------
    Preset time constants with linear least squares: Raxsa et al., Energies 16 (2023) 4615 (secondary); non-negative
    least squares with a second-difference penalty chosen by the discrepancy it causes (derived).
    """
    from scipy.optimize import nnls

    t, y = floats(time), floats(current) / test_voltage
    t, y = t[np.isfinite(y)], y[np.isfinite(y)]
    if t.size < _FEWEST:
        raise UsageError(
            f"A relaxation spectrum needs at least {_FEWEST} readings. Given: {t.size}. Use a longer record."
        )
    # A fixed lattice, so that records of one asset can be laid over each other.
    first, last = np.log10(t[0]) - _REACH, np.log10(t[-1]) + _REACH
    tau = 10 ** (np.arange(np.floor(first * per_decade), np.ceil(last * per_decade) + 1) / per_decade)
    size = np.maximum(np.abs(y), 1e-3 * np.median(np.abs(y)))
    columns = np.concatenate([np.exp(-t[:, None] / tau), np.ones((t.size, 1))], axis=1) / size[:, None]
    # Only the triangle of the readings enters the penalized problems: it holds all they say.
    basis, triangle = np.linalg.qr(columns)
    inside = basis.T @ (y / size)
    outside = float(np.sum((y / size) ** 2) - inside @ inside)
    bend = np.zeros((tau.size, tau.size + 1))
    bend[:, :-1] = 2 * np.eye(tau.size) - np.eye(tau.size, k=1) - np.eye(tau.size, k=-1)
    # Branches count by what they carry where they decay, so that slow ones weigh as much as fast ones.
    bend[:, :-1] /= np.interp(np.log(tau), np.log(t), size)

    def solved(log_penalty: float) -> tuple[Floats, float]:
        rows = np.concatenate([triangle, np.exp(log_penalty) * bend])
        found = nnls(rows, np.concatenate([inside, np.zeros(tau.size)]), maxiter=100 * tau.size)[0]
        return floats(found), max(outside, 0.0) + float(np.sum((triangle @ found - inside) ** 2))

    low, high = -12.0, 8.0
    allowed = solved(low)[1] * (1 + _ALLOWANCE) + 1e-24 * t.size
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if solved(middle)[1] <= allowed else (low, middle)
    found, left = solved(low)
    return Spectrum(tau, found[:-1], float(found[-1]), float(np.sqrt(left / t.size)))
