"""Charge and energy held by the insulation, and the times to bring it up and to earth it.

Every time here is a figure for the plan.  None of them says that anything has lost its charge: only
proving dead says that.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Input, formula

_CAPACITANCE = Input("capacitance", "F", "Capacitance of the insulation")
_VOLTAGE = Input("test_voltage", "V", "Test voltage")


@formula(
    id="stored_energy",
    name="Stored energy",
    expression="E = C V^2 / 2",
    inputs=(_CAPACITANCE, _VOLTAGE),
    unit="J",
    source="definition of capacitance",
    verified="derived",
    example=Example(
        {"capacitance": "28 nF", "test_voltage": "5 kV"}, 0.35, 1e-12, "350 mJ of EN 50191 at 5 kV; derived"
    ),
)
def stored_energy(capacitance: ArrayLike, test_voltage: ArrayLike) -> Floats:
    """Energy held by the capacitance at the test voltage.

    Parameters
    ----------
    capacitance : array_like
        Capacitance [F].
    test_voltage : array_like
        Voltage [V].

    Returns
    -------
    ndarray of float
        Energy [J]; the absorbed charge is not in it.

    References
    ----------
    Definition of capacitance (derived).
    """
    return 0.5 * floats(capacitance) * floats(test_voltage) ** 2


@formula(
    id="stored_charge",
    name="Stored charge",
    expression="Q = C V",
    inputs=(_CAPACITANCE, _VOLTAGE),
    unit="C",
    source="definition of capacitance",
    verified="derived",
    example=Example(
        {"capacitance": "9 nF", "test_voltage": "5 kV"}, 45e-6, 1e-12, "45 uC of IEC 61010-1 at 5 kV; derived"
    ),
)
def stored_charge(capacitance: ArrayLike, test_voltage: ArrayLike) -> Floats:
    """Charge held by the capacitance at the test voltage.

    Parameters
    ----------
    capacitance : array_like
        Capacitance [F].
    test_voltage : array_like
        Voltage [V].

    Returns
    -------
    ndarray of float
        Charge [C]; the absorbed charge is not in it.

    References
    ----------
    Definition of capacitance (derived).
    """
    return floats(capacitance) * floats(test_voltage)


@formula(
    id="threshold_capacitance_energy",
    name="Capacitance at which an energy is reached",
    expression="C = 2 E / V^2",
    inputs=(Input("stored_energy", "J", "Energy of the threshold"), _VOLTAGE),
    unit="F",
    source="definition of capacitance",
    verified="derived",
    example=Example(
        {"stored_energy": "0.35 J", "test_voltage": "1 kV"}, 700e-9, 1e-12, "table of thresholds; derived"
    ),
    validity="a voltage other than 0",
)
def threshold_capacitance_energy(stored_energy: ArrayLike, test_voltage: ArrayLike) -> Floats:
    """Capacitance that holds a given energy at the test voltage.

    Parameters
    ----------
    stored_energy : array_like
        Energy of the threshold [J].
    test_voltage : array_like
        Voltage [V].

    Returns
    -------
    ndarray of float
        Capacitance [F]; NaN at 0 V.

    References
    ----------
    Definition of capacitance (derived).
    """
    square = floats(test_voltage) ** 2
    return 2.0 * floats(stored_energy) / np.where(square > 0, square, np.nan)


@formula(
    id="threshold_capacitance_charge",
    name="Capacitance at which a charge is reached",
    expression="C = Q / V",
    inputs=(Input("stored_charge", "C", "Charge of the threshold"), _VOLTAGE),
    unit="F",
    source="definition of capacitance",
    verified="derived",
    example=Example(
        {"stored_charge": "45 uC", "test_voltage": "500 V"}, 90e-9, 1e-12, "table of thresholds; derived"
    ),
    validity="a voltage other than 0",
)
def threshold_capacitance_charge(stored_charge: ArrayLike, test_voltage: ArrayLike) -> Floats:
    """Capacitance that holds a given charge at the test voltage.

    Parameters
    ----------
    stored_charge : array_like
        Charge of the threshold [C].
    test_voltage : array_like
        Voltage [V].

    Returns
    -------
    ndarray of float
        Capacitance [F]; NaN at 0 V.

    References
    ----------
    Definition of capacitance (derived).
    """
    v = floats(test_voltage)
    return floats(stored_charge) / np.where(v == 0, np.nan, v)


@formula(
    id="charging_current",
    name="Charging current of a ramp",
    expression="I = C dV/dt",
    inputs=(_CAPACITANCE, Input("ramp_rate", "V/s", "Rate of rise of the voltage")),
    unit="A",
    source="definition of capacitance",
    verified="derived",
    example=Example({"capacitance": "0.5 uF", "ramp_rate": "1 kV/min"}, 8.333e-6, 1e-4, "derived"),
)
def charging_current(capacitance: ArrayLike, ramp_rate: ArrayLike) -> Floats:
    """Find the current that charges the capacitance while the voltage ramps.

    Parameters
    ----------
    capacitance : array_like
        Capacitance [F].
    ramp_rate : array_like
        Rate of rise [V/s].

    Returns
    -------
    ndarray of float
        Current [A].

    References
    ----------
    Definition of capacitance (derived).
    """
    return floats(capacitance) * floats(ramp_rate)


@formula(
    id="charging_time",
    name="Charging time under a current limit",
    expression="t = C (V - I R) / I + R C ln(I R / (x V)), or less where one of the two parts does not occur",
    inputs=(
        _CAPACITANCE,
        _VOLTAGE,
        Input("current_limit", "A", "Largest current of the source"),
        Input("series_resistance", "ohm", "Resistance between source and insulation", default=0.0),
        Input("within", "1", "Fraction of the voltage still missing at the end, x", default=0.01),
    ),
    unit="s",
    source="constant current, then the exponential",
    verified="derived",
    example=Example(
        {"capacitance": "1 uF", "test_voltage": "5 kV", "current_limit": "3 mA"}, 1.65, 1e-12,
        "1 uF to 5 kV at 3 mA takes 1.7 s; derived",
    ),
    validity="positive capacitance, voltage and current limit",
)  # fmt: skip
def charging_time(
    capacitance: ArrayLike,
    test_voltage: ArrayLike,
    current_limit: ArrayLike,
    series_resistance: ArrayLike = 0.0,
    within: ArrayLike = 0.01,
) -> Floats:
    """Time until the insulation stands within a fraction of the test voltage.

    Parameters
    ----------
    capacitance : array_like
        Capacitance [F].
    test_voltage : array_like
        Test voltage [V].
    current_limit : array_like
        Largest current of the source [A].
    series_resistance : array_like, optional
        Series resistance [ohm].
    within : array_like, optional
        Fraction of the voltage still missing at the end [1].

    Returns
    -------
    ndarray of float
        Time [s]; NaN unless capacitance, voltage, limit and fraction are positive.

    References
    ----------
    Capacitor through a resistor from a source with a current limit (derived).
    """
    c, v, i = floats(capacitance), floats(test_voltage), floats(current_limit)
    r, x = floats(series_resistance), floats(within)
    good = (c > 0) & (v > 0) & (i > 0) & (r >= 0) & (x > 0) & (x < 1)
    v, i = np.where(good, v, np.nan), np.where(good, i, np.nan)
    # What is missing when the limit lets go: I R, or the whole voltage when the limit never acts,
    # or the wanted fraction when that comes first.
    missing = np.clip(i * r, x * v, v)
    return c * (v - missing) / i + r * c * np.log(missing / (x * v))
