"""What a ramp is made of: capacitance, absorption, conduction, with what is not known about each."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Floats, floats
from soakage.physics.correlated import averaged_fit, bin_means
from soakage.physics.ramp import SETTLED_FROM, fitted_ramp
from soakage.physics.responses import EDGE_OFFSET, PowerLaw
from soakage.physics.staircase_law import EXPONENT

_ROUNDS = 20
_FEWEST = 12
_BLOCKS = 120
_STEP = 1e-4
_LEAST, _MOST = 0.1, 1.6


class RampParts(NamedTuple):
    """Parts of the current of a ramp.

    Parameters
    ----------
    capacitance, capacitance_uncertainty : float
        Geometric capacitance and its standard uncertainty [F].
    absorption_coefficient : float
        A [S s^n].
    absorption_exponent, exponent_uncertainty : float
        n and its standard uncertainty [1].
    conductance, conductance_uncertainty : float
        Conduction and its standard uncertainty [S].
    shares : ndarray of float, shape (3,)
        Capacitance, absorption and conduction as shares of the current at the last voltage used [1].
    share_uncertainty : ndarray of float, shape (3,)
        Their standard uncertainties [1].
    scatter : float
        Standard deviation of a reading relative to the current [1].
    predicted : ndarray of float, shape (n,)
        Current of the fit at every reading [A].
    """

    capacitance: float
    capacitance_uncertainty: float
    absorption_coefficient: float
    absorption_exponent: float
    exponent_uncertainty: float
    conductance: float
    conductance_uncertainty: float
    shares: Floats
    share_uncertainty: Floats
    scatter: float
    predicted: Floats


def ramp_parts(
    time: ArrayLike,
    voltage: ArrayLike,
    current: ArrayLike,
    *,
    until: float = np.inf,
    capacitance: float | None = None,
    capacitance_uncertainty: float = 0.0,
    offset: float = EDGE_OFFSET,
) -> RampParts:
    """Separate the current of a healthy stretch of a ramp.

    Parameters
    ----------
    time : array_like, shape (n,)
        Times [s], rising.
    voltage, current : array_like, shape (n,)
        Voltages [V] and currents [A].
    until : float, optional
        Voltage up to which the ramp is used, below a knee [V].
    capacitance, capacitance_uncertainty : float, optional
        Capacitance known from elsewhere and its standard uncertainty [F]; else it comes from the ramp alone.
    offset : float, optional
        Charging time constant in the power law [s].

    Returns
    -------
    RampParts

    Raises
    ------
    UsageError
        When the voltage does not rise, or fewer than twelve readings are left.

    References
    ----------
    I = r C + r A [(t + t0)^(1-n) - t0^(1-n)]/(1 - n) + G V, the rate from the readings (derived).
    """
    t, v, i = floats(time), floats(voltage), floats(current)
    line = fitted_ramp(t, v)
    if not line.rate > 0:
        raise UsageError("The voltage of the ramp does not rise. Give at least two rows of a rising voltage.")
    used = (v >= SETTLED_FROM * np.nanmax(v)) & (v <= until) & (i > 0)
    if used.sum() < _FEWEST:
        raise UsageError(f"A ramp is separated from {_FEWEST} readings on. Given: {int(used.sum())}.")
    rate, top, most = float(line.rate), float(v[used].max()), float(i[used].max())
    # Parameters in units of the largest current: A as a current at the end, n, C as r C, G as G V_top.
    since = np.maximum(t + float(line.start_voltage) / rate, 0.0)
    end = float(since[used][-1])

    def absorbed(n: float) -> Floats:
        law = PowerLaw(1.0, n, offset=offset)
        return np.asarray(law.ramp(since) / law.ramp(np.array([end])))

    prior = np.array([0.0, EXPONENT[1] ** -2, 0.0, 0.0])
    centre = np.array([0.0, EXPONENT[0], 0.0, 0.0])
    if capacitance is not None:
        centre[2] = capacitance * rate / most
        prior[2] = (max(capacitance_uncertainty, 1e-6 * capacitance) * rate / most) ** -2
    y, bins = i[used] / most, np.arange(used.sum()) * min(int(used.sum()), _BLOCKS) // int(used.sum())
    theta = np.array([0.3, EXPONENT[0], centre[2] if capacitance is not None else 0.4, 0.3])
    model = y
    for _ in range(_ROUNDS):
        n = float(theta[1])
        curve = absorbed(n)
        bend = (absorbed(n + _STEP) - absorbed(n - _STEP)) / (2.0 * _STEP)
        columns = np.stack([curve, theta[0] * bend, np.ones_like(t), v / top])
        fitted = theta[0] * curve + theta[2] + theta[3] * v / top
        model = np.maximum(fitted[used], 0.2 * y)
        design = bin_means(columns[:, used] / model, bins).T
        data = bin_means((y - fitted[used]) / model, bins) + design @ (theta - centre)
        mixture = averaged_fit(design, data, prior, t[used], bins, np.diff(y / model), np.diff(t[used]))
        goal = centre + mixture.estimate
        goal[1] = np.clip(goal[1], max(theta[1] - 0.1, _LEAST), min(theta[1] + 0.1, _MOST))
        moved, theta = abs(goal[1] - theta[1]), goal
        if moved < 1e-5:
            break
    deviation = np.sqrt(np.diag(mixture.covariance))
    n = float(theta[1])
    total = theta[0] + theta[2] + theta[3]
    per_coefficient = rate * float(PowerLaw(1.0, n, offset=offset).ramp(np.array([end]))[0])
    parts = [2, 0, 3]
    return RampParts(
        float(theta[2] * most / rate), float(deviation[2] * most / rate),
        float(theta[0] * most / per_coefficient), n, float(deviation[1]),
        float(theta[3] * most / top), float(deviation[3] * most / top),
        theta[parts] / total, deviation[parts] / total, mixture.scatter,
        most * (theta[0] * absorbed(n) + theta[2] + theta[3] * v / top),
    )  # fmt: skip
