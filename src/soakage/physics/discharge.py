"""The short circuit after a test: the current that flows back, and the capacitance in its first moments."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Bounds, Floats, Indices, floats
from soakage.physics.bounds import Bounded
from soakage.physics.formula import Example, Input, formula
from soakage.physics.resistance import at_mark

# Fewer readings within one time constant do not show the shape of the transient.
FEWEST_READINGS = 10
# Why there is no capacitance; TransientCapacitance.reason indexes this table.
REASONS = (
    "",
    "fewer than ten readings fall within the time constant of the transient",
    "the readings show no decaying transient",
)


class TransientCapacitance(NamedTuple):
    """Capacitance seen in a charging or discharging transient.

    Parameters
    ----------
    capacitance : ndarray of float, shape (...)
        Capacitance [F]; NaN when it cannot be had.
    time_constant : ndarray of float, shape (...)
        Time constant of the transient [s].
    readings : ndarray of int, shape (...)
        Readings within the time constant.
    reason : ndarray of int8, shape (...)
        0, or the index in :data:`REASONS` of why there is none.
    """

    capacitance: Floats
    time_constant: Floats
    readings: Indices
    reason: Bounds


def transient_capacitance(time: ArrayLike, current: ArrayLike, voltage: ArrayLike) -> TransientCapacitance:
    """Find the capacitance from the exponential at the start of a charge or a short circuit.

    The charge of the fitted exponential over the voltage; the charge of the samples is never summed,
    for between two samples it is not known.

    Parameters
    ----------
    time : array_like, shape (n,)
        Time since the edge [s], rising; readings at or before 0 are left out.
    current : array_like, shape (..., n)
        Current [A], of either sign; NaN readings are left out.
    voltage : array_like, shape (...)
        Size of the change of voltage [V].

    Returns
    -------
    TransientCapacitance
        C = I0 tau / V where at least ten readings fall within tau, else NaN with a reason.

    References
    ----------
    I = I0 e^(-t/tau) + the slow absorption, taken as K t^-0.8; Q = I0 tau (derived).
    """
    t, i = floats(time), np.abs(floats(current))
    volts = np.broadcast_to(floats(voltage), i.shape[:-1])
    shape = i.shape[:-1]
    found = [_fitted(t, row) for row in i.reshape(-1, i.shape[-1])]
    tau = np.array([f[0] for f in found]).reshape(shape)
    charge = np.array([f[1] for f in found]).reshape(shape)
    count = np.array([f[2] for f in found], np.intp).reshape(shape)
    reason = np.array([f[3] for f in found], np.int8).reshape(shape)
    farads = np.where(reason == 0, exponential_capacitance(charge / tau, tau, volts), np.nan)
    return TransientCapacitance(farads, np.where(reason == 0, tau, np.nan), count, reason)


@formula(
    id="transient_capacitance",
    name="Capacitance from the transient of a charge or a short circuit",
    expression="C = I0 tau / V",
    inputs=(
        Input("initial_current", "A", "Current of the fitted exponential at the edge, I0"),
        Input("time_constant", "s", "Time constant of the exponential, tau"),
        Input("test_voltage", "V", "Size of the change of voltage"),
    ),
    unit="F",
    source="charge of an exponential",
    verified="derived",
    example=Example(
        {"initial_current": "10 mA", "time_constant": "0.25 s", "test_voltage": "5 kV"}, 0.5e-6, 1e-12,
        "0.5 uF through 0.5 MOhm; derived",
    ),
    validity="a voltage above 0",
)  # fmt: skip
def exponential_capacitance(
    initial_current: ArrayLike, time_constant: ArrayLike, test_voltage: ArrayLike
) -> Floats:
    """Charge under an exponential over the voltage that drove it.

    Parameters
    ----------
    initial_current : array_like
        Current of the exponential at the edge [A].
    time_constant : array_like
        Its time constant [s].
    test_voltage : array_like
        Size of the change of voltage [V].

    Returns
    -------
    ndarray of float
        Capacitance [F]; NaN unless the voltage is positive.

    References
    ----------
    Q = I0 tau (derived).
    """
    v = floats(test_voltage)
    return floats(initial_current) * floats(time_constant) / np.where(v > 0, v, np.nan)


def _fitted(time: Floats, current: Floats) -> tuple[float, float, int, int]:
    """Time constant, charge, readings within it and reason for one record."""
    kept = (time > 0) & ~np.isnan(current)
    t, i = time[kept], current[kept]
    if t.size < FEWEST_READINGS or not i.max() > 0:
        return np.nan, np.nan, 0, 1 if t.size < FEWEST_READINGS else 2
    low, high = np.log(t[0]), np.log(t[-1])
    tau = amplitude = np.nan
    # Coarse to fine over ln tau: the other two unknowns are linear, so nothing else is searched.
    for _ in range(5):
        trial = np.linspace(low, high, 41)
        squares, amplitudes = _residuals(_shapes(t.tobytes(), np.exp(trial).tobytes()), i)
        k = int(np.argmin(squares))
        tau, amplitude = float(np.exp(trial[k])), float(amplitudes[k])
        low, high = trial[max(k - 1, 0)], trial[min(k + 1, trial.size - 1)]
        within = int((t <= np.exp(high)).sum())
        if within < FEWEST_READINGS:
            # No finer search can bring more readings into it.
            return tau, np.nan, within, 1
        within = int((t <= np.exp(low)).sum())
        near = amplitudes[max(k - 1, 0) : k + 2]
        if within >= FEWEST_READINGS and (np.exp(low) >= t[-1] * 0.5 or not (near > 0).any()):
            # Nor will it find another shape than a steady or a rising current: most records end here.
            return tau, np.nan, within, 2
    count = int((t <= tau).sum())
    at_an_end = tau >= t[-1] * 0.5 or not amplitude > 0
    if count < FEWEST_READINGS:
        return tau, np.nan, count, 1
    return tau, amplitude * tau, count, 2 if at_an_end else 0


class _Shapes(NamedTuple):
    """Exponentials of some time constants and the slow decay on the times of a record, and their products."""

    fast: Floats
    slow: Floats
    a: Floats
    b: Floats
    c: Floats


@lru_cache(maxsize=4)  # records with the same times begin with the same search
def _shapes(times: bytes, time_constants: bytes) -> _Shapes:
    t, tau = np.frombuffer(times), np.frombuffer(time_constants)
    with np.errstate(under="ignore"):
        fast = np.exp(-t / tau[:, None])
    slow = (t / t[0]) ** -0.8
    return _Shapes(fast, slow, (fast * fast).sum(axis=-1), fast @ slow, slow @ slow)


def _residuals(shapes: _Shapes, i: Floats) -> tuple[Floats, Floats]:
    """Fit the best exponential of each time constant beside a slow decay: sum of squares, amplitude."""
    fast, slow, a, b, c = shapes
    p, q = fast @ i, slow @ i
    determinant = a * c - b * b
    apart = determinant > 1e-12 * a * c
    with np.errstate(divide="ignore", invalid="ignore"):
        amplitude = (c * p - b * q) / determinant
        rest = (a * q - b * p) / determinant
        # Where no absorption is to be seen: the exponential alone.
        amplitude = np.where(rest < 0, p / a, amplitude)
    rest = np.where(apart, np.maximum(rest, 0.0), 0.0)
    amplitude = np.where(apart, amplitude, np.nan)
    off = i - np.where(apart, amplitude, 0.0)[:, None] * fast - rest[:, None] * slow
    return np.where(apart, (off * off).sum(axis=-1), np.inf), amplitude


def discharge_current(
    time: ArrayLike, current: ArrayLike, discharge_started: float, after: float = 60.0
) -> Bounded:
    """Read the size of the current so long after the short circuit began.

    Parameters
    ----------
    time : array_like, shape (n,)
        Time since the voltage was applied [s], rising.
    current : array_like, shape (..., n)
        Current [A], reversed after the short circuit.
    discharge_started : float
        When the short circuit began [s].
    after : float, optional
        How long after it to read [s].

    Returns
    -------
    Bounded, shape (...)
        Size of the current [A], read as :func:`soakage.physics.resistance.at_mark` reads; nothing outside
        the readings.

    References
    ----------
    Definition of the dielectric discharge: 60 s after discharge begins (memory).
    """
    t, i = floats(time), floats(current)
    later = t > discharge_started
    return at_mark(t[later] - discharge_started, np.abs(i[..., later]), after)
