"""Insulation resistance without an instrument that reads it: by self-discharge, and by a voltmeter."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Input, formula


@formula(
    id="self_discharge_resistance",
    name="Insulation resistance by self-discharge",
    expression="R = t / (C ln(U1 / U2))",
    inputs=(
        Input("capacitance", "F", "Capacitance that discharges through its own insulation"),
        Input("voltage_start", "V", "Voltage when the source is taken off, U1"),
        Input("voltage_end", "V", "Voltage after the time, U2"),
        Input("time", "s", "Time between the two"),
    ),
    unit="ohm",
    source="discharge of a capacitor",
    verified="derived",
    example=Example(
        {"capacitance": "0.8 nF", "voltage_start": "200 V", "voltage_end": "150 V", "time": "20 s"},
        86902.59e6, 2e-5, "Suryanarayana, ex. 4.1; secondary",
    ),
    validity="a voltage that falls and stays above 0",
)  # fmt: skip
def self_discharge_resistance(
    capacitance: ArrayLike, voltage_start: ArrayLike, voltage_end: ArrayLike, time: ArrayLike
) -> Floats:
    """Resistance through which a charged insulation lost part of its voltage.

    Parameters
    ----------
    capacitance : array_like
        Capacitance [F].
    voltage_start, voltage_end : array_like
        Voltages at the two moments [V].
    time : array_like
        Time between them [s].

    Returns
    -------
    ndarray of float
        Resistance [ohm]; NaN unless the voltage falls and stays positive.

    References
    ----------
    v = U e^(-t/RC) (derived); worked in Suryanarayana, ex. 4.1 and 4.2 (secondary).
    """
    u1, u2, c, t = floats(voltage_start), floats(voltage_end), floats(capacitance), floats(time)
    good = (u1 > u2) & (u2 > 0) & (c > 0) & (t > 0)
    fall = np.log(np.where(good, u1, np.nan) / np.where(good, u2, np.nan))
    return t / (c * fall)


@formula(
    id="voltmeter_resistance",
    name="Resistance of a voltmeter from a known series resistance",
    expression="R_v = R_s U2 / (U1 - U2)",
    inputs=(
        Input("series_resistance", "ohm", "Known resistance put in series"),
        Input("reading_direct", "V", "Reading across the supply, U1"),
        Input("reading_series", "V", "Reading with the resistance in series, U2"),
    ),
    unit="ohm",
    source="voltage divider",
    verified="derived",
    example=Example(
        {"series_resistance": "40 kOhm", "reading_direct": "220 V", "reading_series": "100 V"},
        33.33e3, 2e-4, "B.R. Gupta, ex. 1-39; secondary",
    ),
    validity="a series reading above 0 and below the direct one",
)  # fmt: skip
def voltmeter_resistance(
    series_resistance: ArrayLike, reading_direct: ArrayLike, reading_series: ArrayLike
) -> Floats:
    """Resistance of a voltmeter, found with a known resistance.

    Parameters
    ----------
    series_resistance : array_like
        Known resistance [ohm].
    reading_direct, reading_series : array_like
        Readings without and with it in series [V].

    Returns
    -------
    ndarray of float
        Resistance of the voltmeter [ohm]; NaN unless 0 < series reading < direct reading.

    References
    ----------
    Voltage divider (derived); worked in B.R. Gupta, ex. 1-39 (secondary).
    """
    u1, u2 = floats(reading_direct), floats(reading_series)
    good = (u2 > 0) & (u2 < u1)
    return floats(series_resistance) * u2 / np.where(good, u1 - u2, np.nan)


@formula(
    id="series_voltmeter_resistance",
    name="Insulation resistance of a live direct-current system by a voltmeter in series",
    expression="R = R_v (U - u) / u",
    inputs=(
        Input("supply_voltage", "V", "Voltage of the system, U"),
        Input("reading", "V", "Reading of the voltmeter in series with the insulation, u"),
        Input("voltmeter_resistance", "ohm", "Resistance of the voltmeter, R_v"),
    ),
    unit="ohm",
    source="voltage divider",
    verified="derived",
    example=Example(
        {"supply_voltage": "440 V", "reading": "5 V", "voltmeter_resistance": "33.3333 kOhm"},
        2.9e6, 1e-4, "B.R. Gupta, ex. 1-39; secondary",
    ),
    validity="a reading above 0 and at most the supply",
)  # fmt: skip
def series_voltmeter_resistance(
    supply_voltage: ArrayLike, reading: ArrayLike, voltmeter_resistance: ArrayLike
) -> Floats:
    """Insulation resistance from the reading of a voltmeter in series with it.

    Parameters
    ----------
    supply_voltage : array_like
        Voltage of the system [V].
    reading : array_like
        Reading of the voltmeter [V].
    voltmeter_resistance : array_like
        Its resistance [ohm].

    Returns
    -------
    ndarray of float
        Insulation resistance [ohm]; NaN unless 0 < reading <= supply.

    References
    ----------
    Voltage divider (derived); worked in B.R. Gupta, ex. 1-39 (secondary).
    """
    u, v = floats(supply_voltage), floats(reading)
    good = (v > 0) & (v <= u)
    return floats(voltmeter_resistance) * (u - v) / np.where(good, v, np.nan)
