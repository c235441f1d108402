"""Voltage that returns when the short circuit is taken off too early: why earthing goes on.

Solved exactly for R-C branches by the modes of their circuit; a power law goes in as its ladder.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.responses import Branches

# The highest voltage is looked for at this many times evenly in ln t, then between the two beside it.
_LOOKS = 400
_HALVINGS = 60


class Recovery(NamedTuple):
    """Voltage at the open terminals after an early un-earthing.

    Parameters
    ----------
    voltage : ndarray of float, shape (n,)
        Voltage at the times asked for [V].
    peak : float
        Highest voltage it comes to [V].
    peak_time : float
        When, since the earth was taken off [s].
    initial_slope : float
        Rate of rise at first [V/s].
    """

    voltage: Floats
    peak: float
    peak_time: float
    initial_slope: float


def recovery_voltage(
    branches: Branches,
    capacitance: float,
    time: ArrayLike,
    test_voltage: float,
    held: float,
    earthed: float,
) -> Recovery:
    """Find the voltage that returns after a charge and a short circuit that was too short.

    Parameters
    ----------
    branches : Branches
        Absorption as R-C branches, shape (m,), and the conduction beside them;
        :func:`~soakage.physics.responses.power_law_ladder` with an offset makes them from a power law.
    capacitance : float
        Geometric capacitance [F].
    time : array_like, shape (n,)
        Times since the earth was taken off [s].
    test_voltage : float
        Voltage of the test [V].
    held : float
        How long it stood [s].
    earthed : float
        How long the short circuit lasted [s].

    Returns
    -------
    Recovery

    References
    ----------
    Modes of the open circuit 0 = C dv/dt + G v + sum (v - u_k)/R_k, C_k du_k/dt = (v - u_k)/R_k (derived).
    """
    r, c = floats(branches.resistance), floats(branches.capacitance)
    tau = r * c
    with np.errstate(under="ignore"):
        left = -test_voltage * np.expm1(-held / tau) * np.exp(-earthed / tau)
    # States scaled by the root of their capacitance make the matrix symmetric: real decaying modes.
    root = np.sqrt(np.concatenate([[capacitance], c]))
    matrix = np.diag(np.concatenate([[(1.0 / r).sum() + float(floats(branches.conductance))], 1.0 / r]))
    matrix[0, 1:] = matrix[1:, 0] = -1.0 / r
    rates, modes = np.linalg.eigh(matrix / np.outer(root, root))
    weight = modes[0] / root[0] * (modes.T @ (root * np.concatenate([[0.0], left])))

    def voltage(at: Floats) -> Floats:
        with np.errstate(under="ignore"):
            return np.asarray(np.exp(-np.maximum(rates, 0.0) * at[..., None]) @ weight)

    def slope(at: float) -> float:
        with np.errstate(under="ignore"):
            return float(-(rates * np.exp(-np.maximum(rates, 0.0) * at)) @ weight)

    looks = np.geomspace(tau.min() * 1e-2, tau.max() * 1e2, _LOOKS)
    best = int(np.argmax(np.abs(voltage(looks))))
    low, high = looks[max(best - 1, 0)], looks[min(best + 1, _LOOKS - 1)]
    sign = np.sign(test_voltage)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if sign * slope(middle) > 0 else (low, middle)
    peak = float(voltage(np.array(low)))
    return Recovery(voltage(floats(time)), peak, float(low), float((left / r).sum() / capacitance))
