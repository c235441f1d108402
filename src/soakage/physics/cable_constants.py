"""Figures of a cable that do not depend on its length, and its capacitance."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.cable import VACUUM_PERMITTIVITY
from soakage.physics.formula import Example, Input, formula

_LENGTH = Input("length", "m", "Length of the cable")


@formula(
    id="resistance_length",
    name="Insulation resistance times length",
    expression="R l",
    inputs=(Input("insulation_resistance", "ohm", "Insulation resistance"), _LENGTH),
    unit="ohm m",
    source="NAVEDTRA 14120: multiply the reading by the total length",
    verified="read",
    example=Example(
        {"insulation_resistance": "1 MOhm", "length": "304.8 m"}, 0.3048e9, 1e-12, "unit bridge; derived"
    ),
    validity="a positive length",
)
def resistance_length(insulation_resistance: ArrayLike, length: ArrayLike) -> Floats:
    """Insulation resistance times length: the same for any length of one cable.

    Parameters
    ----------
    insulation_resistance : array_like
        Insulation resistance [ohm].
    length : array_like
        Length of the cable, or of its sheath for a cable of three cores [m].

    Returns
    -------
    ndarray of float
        Product [ohm m]; NaN unless the length is positive.

    References
    ----------
    NAVEDTRA 14120 (read); 1 MOhm for 1000 feet is 0.3048 MOhm km (derived).
    """
    metres = floats(length)
    return floats(insulation_resistance) * np.where(metres > 0, metres, np.nan)


@formula(
    id="insulation_constant",
    name="Insulation constant from resistivity",
    expression="K = rho ln(10) / (2 pi)",
    inputs=(Input("resistivity", "ohm m", "Volume resistivity of the insulation"),),
    unit="ohm m",
    source="IEC 60502-1, cl. 17.1: Ki = 0.367e-11 rho (MOhm km, ohm cm)",
    verified="memory",
    example=Example({"resistivity": "1e11 ohm m"}, 36.7e9, 2e-3, "IEC 60502-1 Table 13, PVC/A; memory"),
)
def insulation_constant(resistivity: ArrayLike) -> Floats:
    """Constant K of R l = K log10(D/d) for a volume resistivity.

    Parameters
    ----------
    resistivity : array_like
        Volume resistivity [ohm m].

    Returns
    -------
    ndarray of float
        K [ohm m]; divide by 1e9 for MOhm km.

    References
    ----------
    IEC 60502-1, cl. 17.1 (memory); the factor 0.36647 is ln(10)/(2 pi) (derived).
    """
    return floats(resistivity) * math.log(10.0) / (2 * np.pi)


@formula(
    id="cable_capacitance",
    name="Capacitance of a cable from its geometry",
    expression="C = 2 pi eps0 eps_r l / ln(D/d)",
    inputs=(
        Input("relative_permittivity", "1", "Relative permittivity of the insulation"),
        _LENGTH,
        Input("conductor_diameter", "m", "Diameter under the insulation, d"),
        Input("insulation_diameter", "m", "Diameter over the insulation, D"),
    ),
    unit="F",
    source="field between coaxial cylinders",
    verified="derived",
    example=Example(
        {"relative_permittivity": "2.3", "length": "1 km", "conductor_diameter": "10 mm",
         "insulation_diameter": "20 mm"},
        0.1846e-6, 1e-3, "55.63 pF/m times 2.3 over ln 2; derived",
    ),
    validity="positive lengths and D above d",
)  # fmt: skip
def cable_capacitance(
    relative_permittivity: ArrayLike,
    length: ArrayLike,
    conductor_diameter: ArrayLike,
    insulation_diameter: ArrayLike,
) -> Floats:
    """Capacitance of a coaxial wall.

    Parameters
    ----------
    relative_permittivity : array_like
        Relative permittivity [1]; stated by whoever knows the compound, never assumed here.
    length : array_like
        Length [m].
    conductor_diameter, insulation_diameter : array_like
        Diameters under and over the insulation [m].

    Returns
    -------
    ndarray of float
        Capacitance [F]; NaN unless 0 < d < D and permittivity and length are above 0.

    References
    ----------
    Field between coaxial cylinders (derived).
    """
    outer, inner = floats(insulation_diameter), floats(conductor_diameter)
    permittivity, metres = floats(relative_permittivity), floats(length)
    good = (inner > 0) & (outer > inner) & (permittivity > 0) & (metres > 0)
    wall = np.log(np.where(good, outer, np.nan) / np.where(good, inner, np.nan))
    return 2 * np.pi * VACUUM_PERMITTIVITY * permittivity * metres / wall
