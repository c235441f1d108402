"""Ratios and spreads of readings."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Formula, Input, formula


@formula(
    id="resistance_ratio",
    name="Ratio of resistances at two marks",
    expression="R(t2) / R(t1)",
    inputs=(
        Input("later", "ohm", "Insulation resistance at the later mark"),
        Input("earlier", "ohm", "Insulation resistance at the earlier mark, same constant voltage"),
    ),
    unit="1",
    source="IEEE Std 43-2013, cl. 5.4: other times must be stated",
    verified="secondary",
    example=Example(
        {"later": "1620.80 MOhm", "earlier": "434.78 MOhm"}, 3.7278, 1e-4, "power law plus leakage; derived"
    ),
    validity="two positive resistances of one hold",
)
def resistance_ratio(later: ArrayLike, earlier: ArrayLike) -> Floats:
    """Divide the resistance at a later mark by that at an earlier one.

    Parameters
    ----------
    later, earlier : array_like
        Insulation resistances at one constant voltage [ohm]; shapes broadcast.

    Returns
    -------
    ndarray of float
        The ratio [1]; exactly 1 for a purely resistive load; NaN where either is not positive.

    References
    ----------
    IEEE Std 43-2013, cl. 5.4 for 600 s / 60 s (secondary); 60 s / 30 s (practice); 60 s / 15 s
    (practice in GB 50150 and RD 34.45).
    """
    r2, r1 = floats(later), floats(earlier)
    good = (r2 > 0) & (r1 > 0)
    return np.where(good, r2, np.nan) / np.where(good, r1, np.nan)


def _named_ratio(
    id_: str, name: str, marks: tuple[int, int], source: tuple[str, str], example: Example
) -> Formula:
    """Give the card of a ratio that has a name of its own: the same function at fixed marks."""
    t2, t1 = marks
    return Formula(
        id_,
        name,
        f"R({t2} s) / R({t1} s)",
        (
            Input(f"insulation_resistance_{t2}s", "ohm", f"Insulation resistance at {t2} s", "later"),
            Input(f"insulation_resistance_{t1}s", "ohm", f"Insulation resistance at {t1} s", "earlier"),
        ),
        "1",
        *source,
        example,
        resistance_ratio,
        "two positive resistances of one hold",
    )


POLARIZATION_INDEX = _named_ratio(
    "polarization_index",
    "Polarization index 10 min / 1 min",
    (600, 60),
    ("IEEE Std 43-2013, cl. 5.4", "secondary"),
    Example(
        {"insulation_resistance_600s": "150 GOhm", "insulation_resistance_60s": "20 GOhm"}, 7.5, 1e-12,
        "IEEE Std 43, illustration of a high index; secondary",
    ),
)  # fmt: skip
DIELECTRIC_ABSORPTION_RATIO = _named_ratio(
    "dielectric_absorption_ratio",
    "Dielectric absorption ratio 60 s / 30 s",
    (60, 30),
    ("common practice, no source", "practice"),
    Example(
        {"insulation_resistance_60s": "434.78 MOhm", "insulation_resistance_30s": "264.40 MOhm"}, 1.6444,
        1e-4, "power law plus leakage; derived",
    ),
)  # fmt: skip
ABSORPTION_RATIO_60_15 = _named_ratio(
    "absorption_ratio_60_15",
    "Absorption ratio 60 s / 15 s",
    (60, 15),
    ("practice in GB 50150 and RD 34.45", "practice"),
    Example(
        {"insulation_resistance_60s": "434.78 MOhm", "insulation_resistance_15s": "157.16 MOhm"}, 2.7665,
        1e-4, "power law plus leakage; derived",
    ),
)  # fmt: skip


@formula(
    id="dielectric_discharge",
    name="Dielectric discharge",
    expression="|I_d(60 s)| / (V C)",
    inputs=(
        Input("discharge_current_60s", "A", "Current through the short circuit 60 s after discharge begins"),
        Input("test_voltage", "V", "Charging voltage"),
        Input("capacitance", "F", "Capacitance of the insulation"),
    ),
    unit="A/(V F)",
    source="common practice, no source",
    verified="practice",
    example=Example(
        {"discharge_current_60s": "501.39 nA", "test_voltage": "1 kV", "capacitance": "0.1 uF"}, 5.014e-3,
        1e-4, "two layers in series; derived",
    ),
    validity="a positive voltage and capacitance",
)  # fmt: skip
def dielectric_discharge(
    discharge_current_60s: ArrayLike, test_voltage: ArrayLike, capacitance: ArrayLike
) -> Floats:
    """Discharge current at 60 s per charging voltage and capacitance.

    Parameters
    ----------
    discharge_current_60s : array_like
        Current 60 s after the short circuit began [A]; its sign does not matter.
    test_voltage : array_like
        Charging voltage [V].
    capacitance : array_like
        Capacitance [F].

    Returns
    -------
    ndarray of float
        Dielectric discharge [A/(V F)], shown in mA/(V F); NaN unless voltage and capacitance are positive.

    References
    ----------
    Definition from memory of the trade's use; common practice, no source.
    """
    v, c = floats(test_voltage), floats(capacitance)
    good = (v > 0) & (c > 0)
    return np.abs(floats(discharge_current_60s)) / np.where(good, v * c, np.nan)
