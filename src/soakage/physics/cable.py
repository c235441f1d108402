"""Cable geometry: resistance, resistivity and capacitance of a coaxial wall, and the length rule."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Input, formula

# The trade prints the constant K in megohms for a thousand feet: one of them in ohm metres.
MEGOHM_THOUSAND_FEET = 1e6 * 304.8
VACUUM_PERMITTIVITY = 8.8541878188e-12  # F/m, CODATA 2022 (memory)

_RESISTANCE = Input("insulation_resistance", "ohm", "Insulation resistance")
_LENGTH = Input("length", "m", "Length of the cable")
_CONDUCTOR = Input("conductor_diameter", "m", "Diameter under the insulation, d")
_INSULATION = Input("insulation_diameter", "m", "Diameter over the insulation, D")
_RESISTIVITY = Input("resistivity", "ohm m", "Volume resistivity of the insulation")
_VALIDITY = "positive lengths and D above d"


def _positive(values: ArrayLike) -> Floats:
    """Values as an array; NaN unless above 0."""
    found = floats(values)
    return np.where(found > 0, found, np.nan)


def _log_ratio(insulation_diameter: ArrayLike, conductor_diameter: ArrayLike) -> Floats:
    """Natural logarithm of D/d; NaN unless 0 < d < D."""
    outer, inner = floats(insulation_diameter), floats(conductor_diameter)
    good = (inner > 0) & (outer > inner)
    return np.log(np.where(good, outer, np.nan) / np.where(good, inner, np.nan))


@formula(
    id="cable_resistance",
    name="Insulation resistance of a cable from its resistivity",
    expression="R = rho / (2 pi l) ln(D/d)",
    inputs=(_RESISTIVITY, _LENGTH, _CONDUCTOR, _INSULATION),
    unit="ohm",
    source="radial flow between coaxial cylinders",
    verified="derived",
    example=Example(
        {"resistivity": "5e12 ohm m", "length": "2 km", "conductor_diameter": "10 mm",
         "insulation_diameter": "18 mm"},
        234e6, 1e-3, "Mehta, Principles of Power System, ex. 11.1; secondary",
    ),
    validity=_VALIDITY,
)  # fmt: skip
def cable_resistance(
    resistivity: ArrayLike, length: ArrayLike, conductor_diameter: ArrayLike, insulation_diameter: ArrayLike
) -> Floats:
    """Insulation resistance of a coaxial wall.

    Parameters
    ----------
    resistivity : array_like
        Volume resistivity [ohm m].
    length : array_like
        Length [m]; the resistance falls as it grows.
    conductor_diameter, insulation_diameter : array_like
        Diameters under and over the insulation [m].

    Returns
    -------
    ndarray of float
        Resistance [ohm]; NaN unless 0 < d < D and the length is above 0.

    References
    ----------
    Radial flow between coaxial cylinders (derived); worked in Mehta, ex. 11.1 (secondary).
    """
    return (
        floats(resistivity)
        / (2 * np.pi * _positive(length))
        * _log_ratio(insulation_diameter, conductor_diameter)
    )


@formula(
    id="cable_resistivity",
    name="Volume resistivity from a cable's insulation resistance",
    expression="rho = 2 pi l R / ln(D/d)",
    inputs=(_RESISTANCE, _LENGTH, _CONDUCTOR, _INSULATION),
    unit="ohm m",
    source="IEC 60502-1, cl. 17.1",
    verified="memory",
    example=Example(
        {"insulation_resistance": "1800 MOhm", "length": "3 km", "conductor_diameter": "1.5 cm",
         "insulation_diameter": "5 cm"},
        2.82e13, 1e-3, "J.B. Gupta, ex. 11.3; secondary",
    ),
    validity=_VALIDITY,
)  # fmt: skip
def cable_resistivity(
    insulation_resistance: ArrayLike,
    length: ArrayLike,
    conductor_diameter: ArrayLike,
    insulation_diameter: ArrayLike,
) -> Floats:
    """Volume resistivity of a coaxial wall with a known resistance.

    Parameters
    ----------
    insulation_resistance : array_like
        Resistance [ohm].
    length : array_like
        Length [m].
    conductor_diameter, insulation_diameter : array_like
        Diameters under and over the insulation [m].

    Returns
    -------
    ndarray of float
        Resistivity [ohm m]; NaN unless 0 < d < D and the length is above 0.

    References
    ----------
    IEC 60502-1, cl. 17.1 (memory); worked in J.B. Gupta, ex. 11.3 (secondary).
    """
    wall = _log_ratio(insulation_diameter, conductor_diameter)
    return 2 * np.pi * _positive(length) * floats(insulation_resistance) / wall


@formula(
    id="cable_insulation_thickness",
    name="Insulation thickness a cable's resistance calls for",
    expression="(d/2) (exp(2 pi R l / rho) - 1)",
    inputs=(_RESISTANCE, _LENGTH, _CONDUCTOR, _RESISTIVITY),
    unit="m",
    source="radial flow between coaxial cylinders",
    verified="derived",
    example=Example(
        {"insulation_resistance": "495 MOhm", "length": "1 km", "conductor_diameter": "3 cm",
         "resistivity": "4.5e12 ohm m"},
        0.0149401, 1e-4, "recomputed; Chakrabarti and Soni, ex. 2.7.2 print 1.5 cm; secondary",
    ),
    validity="positive inputs",
)  # fmt: skip
def cable_insulation_thickness(
    insulation_resistance: ArrayLike, length: ArrayLike, conductor_diameter: ArrayLike, resistivity: ArrayLike
) -> Floats:
    """Wall thickness that gives a resistance.

    Parameters
    ----------
    insulation_resistance : array_like
        Resistance [ohm].
    length : array_like
        Length [m].
    conductor_diameter : array_like
        Diameter under the insulation [m].
    resistivity : array_like
        Volume resistivity [ohm m].

    Returns
    -------
    ndarray of float
        Thickness [m]; NaN unless all inputs are positive.

    References
    ----------
    Radial flow between coaxial cylinders (derived); worked in Chakrabarti and Soni, ex. 2.7.2 (secondary).
    """
    exponent = 2 * np.pi * _positive(insulation_resistance) * _positive(length) / _positive(resistivity)
    return 0.5 * _positive(conductor_diameter) * np.expm1(exponent)


@formula(
    id="cable_resistance_from_constant",
    name="Insulation resistance of a cable from its insulation constant",
    expression="R = K log10(D/d) / l",
    inputs=(
        Input("insulation_constant", "ohm m", "K; 1 megohm for 1000 feet is 304.8e6 ohm m"),
        _LENGTH,
        _CONDUCTOR,
        _INSULATION,
    ),
    unit="ohm",
    source="ICEA S-series; Gönen, Electric Power Transmission System Engineering, ex. 5.3",
    verified="secondary",
    example=Example(
        {"insulation_constant": "6.096e12 ohm m", "length": "762 m", "conductor_diameter": "12.7 mm",
         "insulation_diameter": "22.86 mm"},
        2042.18e6, 1e-5, "K 20000, D/d 0.9/0.5, 2500 ft; derived",
    ),
    validity=_VALIDITY,
)  # fmt: skip
def cable_resistance_from_constant(
    insulation_constant: ArrayLike,
    length: ArrayLike,
    conductor_diameter: ArrayLike,
    insulation_diameter: ArrayLike,
) -> Floats:
    """Insulation resistance by the constant K of the compound.

    Parameters
    ----------
    insulation_constant : array_like
        K [ohm m]; multiply megohms for 1000 feet by :data:`MEGOHM_THOUSAND_FEET`.
    length : array_like
        Length [m].
    conductor_diameter, insulation_diameter : array_like
        Diameters under and over the insulation [m].

    Returns
    -------
    ndarray of float
        Resistance at the temperature of K, usually 15.6 degC [ohm]; NaN unless 0 < d < D and the length is
        above 0.

    References
    ----------
    R = K log10(D/d): ICEA S-series (memory), Gönen, ex. 5.3 (secondary).
    """
    wall = _log_ratio(insulation_diameter, conductor_diameter) / math.log(10.0)
    return floats(insulation_constant) * wall / _positive(length)
