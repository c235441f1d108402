"""Temperature by activation energy, and a winding's own slope."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Input, formula
from soakage.physics.temperature import BOLTZMANN_EV, ZERO_CELSIUS


@formula(
    id="temperature_factor_activation",
    name="Temperature factor from an activation energy",
    expression="K = exp(E_a/k (1/T_base - 1/T)), kelvins",
    inputs=(
        Input("winding_temperature", "degC", "Temperature of the insulation during the test"),
        Input("activation_energy", "eV", "Activation energy of the conduction"),
        Input("base_temperature", "degC", "Temperature the result is referred to", default=20.0),
    ),
    unit="1",
    source="Arrhenius form with k of the SI",
    verified="derived",
    example=Example({"winding_temperature": "30 degC", "activation_energy": "0.9"}, 3.24, 2e-3, "derived"),
    validity="temperatures above absolute zero",
)
def activation_factor(
    winding_temperature_degC: ArrayLike,
    activation_energy: ArrayLike,
    base_temperature_degC: ArrayLike = 20.0,
    lower_degC: float = -ZERO_CELSIUS,
    upper_degC: float = np.inf,
) -> Floats:
    """Factor of a conduction with one activation energy.

    Parameters
    ----------
    winding_temperature_degC : array_like
        Temperature of the insulation [degC].
    activation_energy : array_like
        E_a [eV].
    base_temperature_degC : array_like, optional
        Base [degC].
    lower_degC, upper_degC : float, optional
        Range of the rule [degC].

    Returns
    -------
    ndarray of float
        K [1]; NaN outside the range.

    References
    ----------
    Arrhenius form (derived); energies of materials: 1.1 eV XLPE, 1.24 eV oil-impregnated board (secondary).
    """
    t, base = floats(winding_temperature_degC), floats(base_temperature_degC) + ZERO_CELSIUS
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        factor = np.exp(floats(activation_energy) / BOLTZMANN_EV * (1.0 / base - 1.0 / (t + ZERO_CELSIUS)))
    inside = (t >= lower_degC) & (t <= upper_degC) & (t > -ZERO_CELSIUS)
    return np.where(inside, factor, np.nan)[()]


@formula(
    id="equivalent_activation_energy",
    name="Activation energy a halving rule stands for",
    expression="E = k ln2 T^2 / h, kelvins",
    inputs=(
        Input("winding_temperature", "degC", "Temperature at which the slopes are equal"),
        Input("halving_interval", "K", "Rise that halves the resistance, h", default=10.0),
    ),
    unit="eV",
    source="slope of the Arrhenius form",
    verified="derived",
    example=Example({"winding_temperature": "25 degC"}, 0.53, 5e-3, "derived"),
)
def equivalent_activation_energy(
    winding_temperature_degC: ArrayLike, halving_interval: ArrayLike = 10.0
) -> Floats:
    """Activation energy with the slope of a halving rule at one temperature.

    Parameters
    ----------
    winding_temperature_degC : array_like
        Temperature [degC].
    halving_interval : array_like, optional
        Rise that halves the resistance [K].

    Returns
    -------
    ndarray of float
        Energy [eV].

    References
    ----------
    d ln R / dT of both forms set equal (derived): halving per 10 K is 0.53 eV at 25 degC, 0.60 at 45 degC.
    """
    kelvins = floats(winding_temperature_degC) + ZERO_CELSIUS
    return BOLTZMANN_EV * math.log(2.0) * kelvins**2 / floats(halving_interval)


@formula(
    id="halving_interval",
    name="Halving interval of a winding's own readings",
    expression="h = (T2 - T1) ln2 / ln(R1 / R2)",
    inputs=(
        Input("cooler", "degC", "Temperature of the cooler reading"),
        Input("resistance_cooler", "ohm", "Insulation resistance there"),
        Input("warmer", "degC", "Temperature of the warmer reading"),
        Input("resistance_warmer", "ohm", "Insulation resistance there"),
    ),
    unit="K",
    source="definition of the halving interval; both readings above the dew point",
    verified="derived",
    example=Example(
        {"cooler": "20 degC", "resistance_cooler": "200 MOhm",
         "warmer": "50 degC", "resistance_warmer": "25 MOhm"},
        10.0, 1e-12, "IEEE Std 43, 200 MOhm at 20 degC is 25 MOhm at 50 degC; secondary",
    ),
    validity="a resistance that falls as the winding warms",
)  # fmt: skip
def halving_interval(
    cooler_degC: ArrayLike, resistance_cooler: ArrayLike, warmer_degC: ArrayLike, resistance_warmer: ArrayLike
) -> Floats:
    """Rise of temperature that halves the resistance, from two readings of one winding.

    Parameters
    ----------
    cooler_degC, warmer_degC : array_like
        Temperatures [degC], both above the dew point.
    resistance_cooler, resistance_warmer : array_like
        Insulation resistances [ohm].

    Returns
    -------
    ndarray of float
        h [K]; NaN unless the resistance falls with rising temperature.

    References
    ----------
    Definition of the halving interval (derived).
    """
    dt = floats(warmer_degC) - floats(cooler_degC)
    r1, r2 = floats(resistance_cooler), floats(resistance_warmer)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.log(r1 / r2)
        interval = dt * np.log(2.0) / slope
    valid = (dt > 0) & (slope > 0) & np.isfinite(slope)
    return np.asarray(np.where(valid, interval, np.nan))[()]
