"""Ramp records: the rate that was really applied, the apparent capacitance, current against voltage."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Floats, floats
from soakage.physics.bounds import UPPER, Bounded, bounded
from soakage.physics.formula import Example, Formula, Input, formula

# From this share of the top voltage on the charging transient is over and a healthy curve is smooth.
SETTLED_FROM = 0.04
# A reading this many median deviations off the line is no part of the ramp.
_OUTLIER = 6.0


class RampRate(NamedTuple):
    """The straight line through the voltage of a ramp.

    Parameters
    ----------
    rate : ndarray of float, shape (...)
        Rate of rise [V/s].
    start_voltage : ndarray of float, shape (...)
        Voltage of the line at time 0 [V].
    wobble : ndarray of float, shape (...)
        Root mean square departure of the kept readings from the line [V].
    """

    rate: Floats
    start_voltage: Floats
    wobble: Floats


def fitted_ramp(time: ArrayLike, voltage: ArrayLike) -> RampRate:
    """Fit a line to voltage against time by least squares, without the readings that are no part of it.

    Parameters
    ----------
    time : array_like, shape (n,)
        Times [s].
    voltage : array_like, shape (..., n)
        Voltages [V]; NaN readings are left out.

    Returns
    -------
    RampRate
        NaN where fewer than two readings are left.

    References
    ----------
    Least squares; the rate read and not the one stated: 0.1 % of rate is 0.1 % of the largest term (derived).
    """
    t, v = floats(time), floats(voltage)
    weight = (~np.isnan(v)).astype(np.float64)
    y = np.where(np.isnan(v), 0.0, v)
    line = _line(t, y, weight)
    off = np.abs(y - line[0][..., None] * t - line[1][..., None])
    # A record without any reading has no median; it keeps nothing anyway.
    seen = (weight > 0) | ~(weight > 0).any(axis=-1, keepdims=True)
    middle = np.nanmedian(np.where(seen & np.isfinite(off), off, np.where(seen, 0.0, np.nan)), axis=-1)
    floor = 1e-9 * np.max(np.abs(y), axis=-1)
    kept = weight * (off <= np.maximum(_OUTLIER * middle, floor)[..., None])
    rate, start = _line(t, y, kept)
    square = kept * (y - rate[..., None] * t - start[..., None]) ** 2
    with np.errstate(invalid="ignore"):
        wobble = np.sqrt(square.sum(axis=-1) / kept.sum(axis=-1))
    return RampRate(rate, start, wobble)


def _line(t: Floats, y: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """Weighted least squares line per record: slope and value at time 0."""
    with np.errstate(divide="ignore", invalid="ignore"):
        total = weight.sum(axis=-1)
        tm, ym = (weight * t).sum(axis=-1) / total, (weight * y).sum(axis=-1) / total
        dt = t - tm[..., None]
        spread = (weight * dt**2).sum(axis=-1)
        slope = (weight * dt * y).sum(axis=-1) / np.where(spread > 0, spread, np.nan)
        return slope, ym - slope * tm


def ramp_rate(time: ArrayLike, voltage: ArrayLike) -> Floats:
    """Rate of rise that the readings show.

    Parameters
    ----------
    time : array_like, shape (n,)
        Times [s].
    voltage : array_like, shape (..., n)
        Voltages [V].

    Returns
    -------
    ndarray of float, shape (...)
        Rate [V/s].

    References
    ----------
    Least squares line of :func:`fitted_ramp` (derived).
    """
    return fitted_ramp(time, voltage).rate


RAMP_RATE = Formula(
    "ramp_rate", "Measured rate of a ramp", "least squares slope of voltage against time",
    (
        Input("time_1", "s", "Time of the first reading", "time"),
        Input("voltage_1", "V", "Voltage of the first reading", "voltage"),
        Input("time_2", "s", "Time of the second reading", "time"),
        Input("voltage_2", "V", "Voltage of the second reading", "voltage"),
    ),
    "V/s", "least squares", "derived",
    Example(
        {"time_1": "0 s", "voltage_1": "0 V", "time_2": "60 s", "voltage_2": "1 kV"}, 16.667, 1e-4,
        "1 kV/min, the usual rate; B. Milano, on ramp tests; read",
    ),
    ramp_rate, "two different times",
)  # fmt: skip


@formula(
    id="apparent_capacitance",
    name="Apparent capacitance of a ramp",
    expression="C_app = I / (dV/dt)",
    inputs=(
        Input("current", "A", "Current on the ramp"),
        Input("ramp_rate", "V/s", "Measured rate of rise"),
    ),
    unit="F",
    source="I = C dV/dt + absorption + conduction",
    verified="derived",
    example=Example(
        {"current": "8.333 uA", "ramp_rate": "1 kV/min"}, 0.5e-6, 1e-4, "0.5 uF at 1 kV/min; derived"
    ),
    validity="a rising voltage; the capacitance is at most this",
)
def apparent_capacitance(current: ArrayLike, ramp_rate: ArrayLike) -> Floats:
    """Divide current by rate: an upper bound of the capacitance, since all of the current is in it.

    Parameters
    ----------
    current : array_like
        Current [A].
    ramp_rate : array_like
        Rate of rise [V/s].

    Returns
    -------
    ndarray of float
        Apparent capacitance [F]; NaN unless the voltage rises.

    References
    ----------
    I = r C + absorption + conduction (derived).
    """
    rate = floats(ramp_rate)
    return floats(current) / np.where(rate > 0, rate, np.nan)


def ramp_capacitance_bound(voltage: ArrayLike, current: ArrayLike, rate: ArrayLike) -> Bounded:
    """Take the tightest upper bound of the capacitance a ramp gives once its start has settled.

    Parameters
    ----------
    voltage : array_like, shape (..., n)
        Voltages [V].
    current : array_like, shape (..., n)
        Currents [A].
    rate : array_like, shape (...)
        Measured rate [V/s].

    Returns
    -------
    Bounded, shape (...)
        Upper bound of the capacitance [F] from 4 % of the top voltage on; nothing without such readings.

    References
    ----------
    I = r C + absorption + conduction, smooth from 4 % of the top voltage on (derived).
    """
    v, i = floats(voltage), floats(current)
    top = np.nanmax(np.where(np.isnan(v), -np.inf, v), axis=-1)
    settled = (v >= SETTLED_FROM * top[..., None]) & (i > 0)
    least = np.where(settled, i, np.inf).min(axis=-1)
    return bounded(apparent_capacitance(np.where(np.isfinite(least), least, np.nan), rate), UPPER)


def current_at_voltage(time: ArrayLike, voltage: ArrayLike, current: ArrayLike, levels: ArrayLike) -> Floats:
    """Read a ramp at round voltages: current when the fitted line passes each of them.

    Parameters
    ----------
    time : array_like, shape (n,)
        Times [s], rising.
    voltage, current : array_like, shape (n,)
        Voltages [V] and currents [A]; rows with a missing one are left out.
    levels : array_like, shape (m,)
        Voltages to read at [V].

    Returns
    -------
    ndarray of float, shape (m,)
        Currents [A]; NaN outside the readings.

    Raises
    ------
    UsageError
        When the voltage does not rise.

    References
    ----------
    Linear interpolation in time along the measured ramp (derived).
    """
    t, v, i = floats(time), floats(voltage), floats(current)
    both = ~(np.isnan(v) | np.isnan(i))
    line = fitted_ramp(t[both], v[both])
    if not line.rate > 0:
        raise UsageError("The voltage of the ramp does not rise. Give at least two rows of a rising voltage.")
    when = (floats(levels) - line.start_voltage) / line.rate
    return np.asarray(np.interp(when, t[both], i[both], left=np.nan, right=np.nan))
