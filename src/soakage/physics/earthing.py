"""How long to earth, and how fast the capacitive charge decays through a named resistance.

The earthing time is a minimum of the plan: when it has run, prove dead and keep earthed while working.
Decay concerns the capacitive charge only: absorbed charge returns.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Input, formula


@formula(
    id="earthing_time",
    name="Minimum earthing time",
    expression="t_e = max(4 t, t_r)",
    inputs=(
        Input("time_under_voltage", "s", "Time the voltage stood on the insulation"),
        Input("residual_share_time", "s", "Time until the residual current is a chosen share", default=0.0),
        Input("factor", "1", "Multiple of the time under voltage", default=4.0),
    ),
    unit="s",
    source="IEEE Std 43-2013, cl. 5.5",
    verified="memory",
    example=Example({"time_under_voltage": "10 min"}, 2400.0, 1e-12, "10 min test, 40 min to earth; memory"),
    validity="times of 0 or more",
)
def minimum_earthing_time(
    time_under_voltage: ArrayLike, residual_share_time: ArrayLike = 0.0, factor: ArrayLike = 4.0
) -> Floats:
    """Shortest time to keep the tested part earthed: a minimum, not a statement about its charge.

    Parameters
    ----------
    time_under_voltage : array_like
        Time under voltage [s].
    residual_share_time : array_like, optional
        Time from :func:`soakage.physics.memory.residual_share_time` [s]; the longer of the two counts.
    factor : array_like, optional
        Multiple of the time under voltage [1].

    Returns
    -------
    ndarray of float
        Time [s]; NaN for a negative or missing time.

    References
    ----------
    Four times the time under voltage: IEEE Std 43-2013, cl. 5.5 (memory).
    """
    t, residual = floats(time_under_voltage), floats(residual_share_time)
    return np.where((t >= 0) & (residual >= 0), np.maximum(floats(factor) * t, residual), np.nan)[()]


@formula(
    id="decay_time",
    name="Decay of the capacitive charge through a named resistance",
    expression="t = R C ln(V / V_end)",
    inputs=(
        Input("resistance", "ohm", "The discharge resistance"),
        Input("capacitance", "F", "Capacitance of the insulation"),
        Input("test_voltage", "V", "Voltage at the start"),
        Input("end_voltage", "V", "Voltage at the end", default=50.0),
    ),
    unit="s",
    source="discharge of a capacitor",
    verified="derived",
    example=Example(
        {"resistance": "1 MOhm", "capacitance": "0.1 uF", "test_voltage": "5 kV"}, 0.4605, 1e-3, "derived"
    ),
    validity="positive inputs, the end at or below the start",
)
def decay_time(
    resistance: ArrayLike, capacitance: ArrayLike, test_voltage: ArrayLike, end_voltage: ArrayLike = 50.0
) -> Floats:
    """Time for the capacitive charge alone to fall to a voltage through one resistance.

    Parameters
    ----------
    resistance : array_like
        Discharge resistance [ohm].
    capacitance : array_like
        Capacitance [F].
    test_voltage, end_voltage : array_like
        Voltages at the start and the end [V].

    Returns
    -------
    ndarray of float
        Time [s]; 0 when the voltage is already at or below the end; NaN unless all four are positive.

    References
    ----------
    v = V e^(-t/RC) (derived).
    """
    r, c, u, end = floats(resistance), floats(capacitance), floats(test_voltage), floats(end_voltage)
    good = (r > 0) & (c > 0) & (u > 0) & (end > 0)
    fall = np.log(np.where(good, np.maximum(u, end), np.nan) / np.where(good, end, np.nan))
    return r * c * fall
