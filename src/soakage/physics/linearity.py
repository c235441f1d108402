"""How the resistance depends on the voltage: first against last step, highest against lowest voltage."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Input, formula
from soakage.physics.indices import resistance_ratio


@formula(
    id="voltage_dependence",
    name="Fall of resistance with voltage",
    expression="(R_first - R_last) / R_first",
    inputs=(
        Input("first", "ohm", "End-of-hold resistance of the first step"),
        Input("last", "ohm", "End-of-hold resistance of the last step"),
    ),
    unit="1",
    source="common practice, no source",
    verified="practice",
    example=Example(
        {"first": "1000 MOhm", "last": "750 MOhm"}, 0.25, 1e-12, "on the edge of the 25 % rule; derived"
    ),
    validity="two positive resistances",
)
def voltage_dependence(first: ArrayLike, last: ArrayLike) -> Floats:
    """Fraction by which the resistance falls from the first step to the last.

    Parameters
    ----------
    first, last : array_like
        End-of-hold resistances [ohm].

    Returns
    -------
    ndarray of float
        Fractional fall [1], negative when the resistance rises; NaN where either is not positive.

    References
    ----------
    The 25 % rule of step tests: common practice, no source.  A linear winding read so rises 1.2 to
    2.2 times over five equal steps (derived), which hides a fall.
    """
    return 1.0 - resistance_ratio(last, first)


@formula(
    id="nonlinearity_coefficient",
    name="Non-linearity coefficient of the current",
    expression="Ku = (I_max U_min) / (I_min U_max), currents below the floor taken as the floor",
    inputs=(
        Input("current_max", "A", "Leakage current at the highest voltage"),
        Input("voltage_max", "V", "Highest voltage"),
        Input("current_min", "A", "Leakage current at the lowest voltage"),
        Input("voltage_min", "V", "Lowest voltage"),
        Input("floor", "A", "Current below which a reading counts as this much", default=0.0),
    ),
    unit="1",
    source="RD 34.45-51.300-97 (there the floor is 10 uA)",
    verified="memory",
    example=Example(
        {"current_max": "12 uA", "voltage_max": "15 kV", "current_min": "2 uA", "voltage_min": "5 kV"}, 2.0,
        1e-12, "raw ratio; derived",
    ),
    validity="positive currents and voltages",
)  # fmt: skip
def nonlinearity_coefficient(
    current_max: ArrayLike,
    voltage_max: ArrayLike,
    current_min: ArrayLike,
    voltage_min: ArrayLike,
    floor: ArrayLike = 0.0,
) -> Floats:
    """Conductance at the highest voltage over that at the lowest.

    Parameters
    ----------
    current_max, current_min : array_like
        Currents at the highest and the lowest voltage [A].
    voltage_max, voltage_min : array_like
        Those voltages [V].
    floor : array_like, optional
        Smaller currents count as this [A]; 0 gives the raw ratio.

    Returns
    -------
    ndarray of float
        Ku [1]; NaN unless all four are positive.

    References
    ----------
    RD 34.45-51.300-97 (memory).
    """
    i1 = np.maximum(floats(current_max), floats(floor))
    i0 = np.maximum(floats(current_min), floats(floor))
    u1, u0 = floats(voltage_max), floats(voltage_min)
    good = (i1 > 0) & (i0 > 0) & (u1 > 0) & (u0 > 0)
    return i1 * u0 / np.where(good, i0 * u1, np.nan)


@formula(
    id="excess_current_share",
    name="Excess current at the last step of a staircase",
    expression="(G_last - G_middle) V_last / I_last",
    inputs=(
        Input("conductance_last", "S", "Conductance of the last step, memory of the earlier ones removed"),
        Input("conductance_middle", "S", "Conductance of the middle step, the lower of two"),
        Input("voltage_last", "V", "Voltage of the last step"),
        Input("current_last", "A", "Current at the end of the last step"),
    ),
    unit="1",
    source="superposition of a linear dielectric",
    verified="derived",
    example=Example(
        {"conductance_last": "0.3 nS", "conductance_middle": "0.2 nS", "voltage_last": "5 kV",
         "current_last": "3.62 uA"},
        0.138, 2e-3, "five steps of 60 s, n 0.8, a fifth of the 60 s current leakage, risen by half; derived",
    ),
    validity="a positive current",
)  # fmt: skip
def excess_current_share(
    conductance_last: ArrayLike,
    conductance_middle: ArrayLike,
    voltage_last: ArrayLike,
    current_last: ArrayLike,
) -> Floats:
    """Share of the last current that would not be there if the conductance had not risen.

    Parameters
    ----------
    conductance_last, conductance_middle : array_like
        Conductances of the last and the middle step [S].
    voltage_last : array_like
        Voltage of the last step [V].
    current_last : array_like
        Current at its end [A].

    Returns
    -------
    ndarray of float
        Share [1]; NaN unless the current is positive.

    References
    ----------
    Superposition of a linear dielectric (derived); the ratio of conductances alone is fragile (derived).
    """
    i = floats(current_last)
    rise = floats(conductance_last) - floats(conductance_middle)
    return rise * floats(voltage_last) / np.where(i > 0, i, np.nan)
