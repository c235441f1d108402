"""Conduction from charging and discharging currents together, with what a finite charge leaves taken off."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Floats, floats
from soakage.physics.cable import VACUUM_PERMITTIVITY
from soakage.physics.formula import Example, Input, formula

# Exponents looked through, each time between the neighbours of the best.
_TRIALS = np.linspace(0.05, 1.75, 35)
_NARROWINGS = 6
_FEWEST = 5


class PolarizationFit(NamedTuple):
    """Absorption from the discharge alone, conduction from both currents with the residue taken off.

    Parameters
    ----------
    absorption_coefficient, absorption_exponent : float
        A [S s^n] and n [1] of the discharge, in which there is no conduction.
    conductance : float
        Conduction [S].
    conductance_uncertainty : float
        Standard uncertainty from the scatter over the readings [S].
    residue_share : float
        What the plain sum of the two currents would overstate the conductance by at the last time [1].
    """

    absorption_coefficient: float
    absorption_exponent: float
    conductance: float
    conductance_uncertainty: float
    residue_share: float


@formula(
    id="pdc_conductance",
    name="Conductance from charge and discharge, residue taken off",
    expression="G = (i_p - |i_d|)/V - A (t + tc)^-n",
    inputs=(
        Input("polarization_current", "A", "Charging current at a time, i_p"),
        Input("depolarization_current", "A", "Discharging current as long after its edge, i_d"),
        Input("test_voltage", "V", "Charging voltage"),
        Input("absorption_coefficient", "S s^n", "A of the absorption current V A t^-n"),
        Input("absorption_exponent", "1", "Exponent n of the absorption current"),
        Input("time", "s", "Time since either edge, t"),
        Input("held", "s", "Time of charging, tc"),
    ),
    unit="S",
    source="superposition of a linear dielectric",
    verified="derived",
    example=Example(
        {"polarization_current": "2 nA", "depolarization_current": "0.425651 nA", "test_voltage": "1 V",
         "absorption_coefficient": "1e-9", "absorption_exponent": "0.8", "time": "1 s", "held": "1 s"},
        1e-9, 1e-5, "t = tc leaves 2^-0.8, 57 %, of the absorption; derived",
    ),
    validity="positive voltage and times",
)  # fmt: skip
def pdc_conductance(
    polarization_current: ArrayLike,
    depolarization_current: ArrayLike,
    test_voltage: ArrayLike,
    absorption_coefficient: ArrayLike,
    absorption_exponent: ArrayLike,
    time: ArrayLike,
    held: ArrayLike,
) -> Floats:
    """Conductance at one time since both edges, without what a finite charge leaves in it.

    Parameters
    ----------
    polarization_current, depolarization_current : array_like
        Currents as long after their edges [A]; the sign of the second does not matter.
    test_voltage : array_like
        Charging voltage [V].
    absorption_coefficient, absorption_exponent : array_like
        A [S s^n] and n [1].
    time, held : array_like
        Time since either edge, and of charging [s].

    Returns
    -------
    ndarray of float
        Conductance [S]; NaN unless voltage and times are positive.

    References
    ----------
    The exact residue of a finite charge is V A (t + tc)^-n (derived).
    """
    v, t, tc = floats(test_voltage), floats(time), floats(held)
    net = floats(polarization_current) - np.abs(floats(depolarization_current))
    whole = np.where((t > 0) & (tc > 0), t + tc, np.nan)
    residue = floats(absorption_coefficient) * whole ** -floats(absorption_exponent)
    return net / np.where(v > 0, v, np.nan) - residue


def polarization_fit(
    time: ArrayLike, charging: ArrayLike, discharging: ArrayLike, test_voltage: float, held: float
) -> PolarizationFit:
    """Fit the absorption to the discharge, then take conduction from both currents.

    Parameters
    ----------
    time : array_like, shape (n,)
        Times since either edge, above 0, at most the time of charging [s].
    charging, discharging : array_like, shape (n,)
        Currents as long after their edges [A]; the sign of the second does not matter.
    test_voltage, held : float
        Voltage [V] and time of charging [s].

    Returns
    -------
    PolarizationFit
        Its conductance over the capacitance of the electrodes in vacuum, times the permittivity of vacuum
        (:func:`material_conductivity`), is the conductivity.

    Raises
    ------
    UsageError
        When there are fewer than five readings with a discharge current.

    References
    ----------
    I_d = -V A [t^-n - (t + tc)^-n], relative least squares; i_p - |i_d| = V [G + A (t + tc)^-n] (derived).
    """
    t, charge, back = floats(time), floats(charging), np.abs(floats(discharging))
    kept = (t > 0) & np.isfinite(charge) & (back > 0)
    t, charge, back = t[kept], charge[kept], back[kept]
    if t.size < _FEWEST:
        raise UsageError(
            f"Charge and discharge are compared from {_FEWEST} common times on. Given: {t.size}."
        )
    trials = _TRIALS
    for _ in range(_NARROWINGS):
        shape = test_voltage * (t ** -trials[:, None] - (t + held) ** -trials[:, None]) / back
        size = shape.sum(axis=1) / (shape**2).sum(axis=1)
        best = int(np.argmin(((size[:, None] * shape - 1.0) ** 2).sum(axis=1)))
        a, n = float(size[best]), float(trials[best])
        trials = np.linspace(trials[max(best - 1, 0)], trials[min(best + 1, trials.size - 1)], 21)
    each = pdc_conductance(charge, back, test_voltage, a, n, t, held)
    # Both currents scatter in proportion to their size: late readings tell most.
    weight = charge**-2.0
    g = float((weight * each).sum() / weight.sum())
    spread = float((weight**2 * (each - g) ** 2).sum() ** 0.5 / weight.sum())
    return PolarizationFit(a, n, g, spread, float(a * (t[-1] + held) ** -n / g) if g > 0 else float("inf"))


@formula(
    id="material_conductivity",
    name="Conductivity of the material from the conductance",
    expression="sigma = eps0 G / C0",
    inputs=(
        Input("conductance", "S", "Conductance, G"),
        Input("vacuum_capacitance", "F", "Capacitance of the same electrodes in vacuum, C0"),
    ),
    unit="S/m",
    source="field of the electrodes",
    verified="derived",
    example=Example(
        {"conductance": "4 pS", "vacuum_capacitance": "10 nF"}, 3.5417e-15, 1e-4, "4 nA at 1 kV; derived"
    ),
    validity="a positive capacitance",
)
def material_conductivity(conductance: ArrayLike, vacuum_capacitance: ArrayLike) -> Floats:
    """Conductivity, whatever the shape of the electrodes.

    Parameters
    ----------
    conductance : array_like
        Conductance [S].
    vacuum_capacitance : array_like
        Capacitance of the same electrodes in vacuum: the measured one over the relative permittivity [F].

    Returns
    -------
    ndarray of float
        Conductivity [S/m]; NaN unless the capacitance is positive.

    References
    ----------
    One field serves both: G/sigma = C0/eps0 (derived).
    """
    c = floats(vacuum_capacitance)
    return VACUUM_PERMITTIVITY * floats(conductance) / np.where(c > 0, c, np.nan)
