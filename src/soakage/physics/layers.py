"""Two unlike layers in series, and the conductivity from charging and discharging currents."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.cable import VACUUM_PERMITTIVITY
from soakage.physics.formula import Example, Input, formula


@formula(
    id="two_layer_discharge_current",
    name="Discharge current of two layers in series",
    expression="I_d = V (C1 G2 - C2 G1)^2 / [(G1+G2)(C1+C2)^2] (1 - e^(-tc/tau)) e^(-t/tau), "
    "tau = (C1+C2)/(G1+G2)",
    inputs=(
        Input("time", "s", "Time since the short circuit"),
        Input("test_voltage", "V", "Charging voltage"),
        Input("capacitance_1", "F", "Capacitance of the first layer"),
        Input("capacitance_2", "F", "Capacitance of the second layer"),
        Input("conductance_1", "S", "Conductance of the first layer"),
        Input("conductance_2", "S", "Conductance of the second layer"),
        Input("charging_time", "s", "Time of charging before", default=np.inf),
    ),
    unit="A",
    source="two R-C elements in series",
    verified="derived",
    example=Example(
        {"time": "60 s", "test_voltage": "1 kV", "capacitance_1": "0.2 uF", "capacitance_2": "0.2 uF",
         "conductance_1": "0.1 nS", "conductance_2": "0.4 nS"},
        41.748e-9, 1e-4, "full charge; derived",
    ),
    validity="positive capacitances and conductances",
)  # fmt: skip
def two_layer_discharge_current(
    time: ArrayLike,
    test_voltage: ArrayLike,
    capacitance_1: ArrayLike,
    capacitance_2: ArrayLike,
    conductance_1: ArrayLike,
    conductance_2: ArrayLike,
    charging_time: ArrayLike = np.inf,
) -> Floats:
    """Size of the current that flows back from the boundary of two layers.

    Parameters
    ----------
    time : array_like
        Time since the short circuit [s].
    test_voltage : array_like
        Charging voltage [V].
    capacitance_1, capacitance_2 : array_like
        Capacitances of the layers [F].
    conductance_1, conductance_2 : array_like
        Their conductances [S].
    charging_time : array_like, optional
        How long the voltage stood before [s].

    Returns
    -------
    ndarray of float
        Current [A]; 0 when both layers have one time constant, whatever else.

    References
    ----------
    Two R-C elements in series (derived).
    """
    t, v, tc = floats(time), floats(test_voltage), floats(charging_time)
    c1, c2, g1, g2 = map(floats, (capacitance_1, capacitance_2, conductance_1, conductance_2))
    rate = (g1 + g2) / (c1 + c2)
    with np.errstate(under="ignore"):
        history: Floats = -np.expm1(-tc * rate) * np.exp(-t * rate)
    boundary: Floats = (c1 * g2 - c2 * g1) / (c1 + c2)
    return v * boundary**2 / (g1 + g2) * history


@formula(
    id="pdc_conductivity",
    name="Conductivity from polarization and depolarization currents",
    expression="sigma = eps0 / (C0 V) (i_p - |i_d|)",
    inputs=(
        Input("polarization_current", "A", "Charging current at a time, i_p"),
        Input("depolarization_current", "A", "Discharging current at the same time, i_d"),
        Input("test_voltage", "V", "Charging voltage"),
        Input("vacuum_capacitance", "F", "Capacitance of the same electrodes in vacuum, C0"),
    ),
    unit="S/m",
    source="CIGRE Technical Brochure 254",
    verified="memory",
    example=Example(
        {"polarization_current": "5 nA", "depolarization_current": "1 nA", "test_voltage": "1 kV",
         "vacuum_capacitance": "10 nF"},
        3.5417e-15, 1e-4, "derived",
    ),
    validity="charging much longer than the time of reading; else an upper bound",
)  # fmt: skip
def pdc_conductivity(
    polarization_current: ArrayLike,
    depolarization_current: ArrayLike,
    test_voltage: ArrayLike,
    vacuum_capacitance: ArrayLike,
) -> Floats:
    """Conductivity from the charging and the discharging current at one time.

    Parameters
    ----------
    polarization_current, depolarization_current : array_like
        Currents at the same time since their edges [A]; the sign of the second does not matter.
    test_voltage : array_like
        Charging voltage [V].
    vacuum_capacitance : array_like
        Capacitance of the electrodes in vacuum: the measured one over the relative permittivity [F].

    Returns
    -------
    ndarray of float
        Conductivity [S/m]; NaN unless voltage and capacitance are positive.  Too high by V A (t + tc)^-n of
        the absorption when charging lasted only tc.

    References
    ----------
    CIGRE Technical Brochure 254 (memory); residue derived.
    """
    net = floats(polarization_current) - np.abs(floats(depolarization_current))
    c, v = floats(vacuum_capacitance), floats(test_voltage)
    return VACUUM_PERMITTIVITY * net / np.where((c > 0) & (v > 0), c * v, np.nan)
