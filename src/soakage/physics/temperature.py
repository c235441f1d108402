"""Temperature rules: the factor K that refers a resistance to a base temperature, R_base = K R.

The rules differ by decades over a wide span, so each has its name and none is mixed with another.
Coefficients and ranges come from the criteria files: they are arguments here.  Outside its range a
rule gives NaN, never a number.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Input, formula

BOLTZMANN_EV = 8.617333262e-5  # eV/K, SI 2019, exact to the digits given
ZERO_CELSIUS = 273.15

_WINDING = Input("winding_temperature", "degC", "Temperature of the insulation during the test")


def _base(default: float) -> Input:
    return Input("base_temperature", "degC", "Temperature the result is referred to", default=default)


def _within(factor: Floats, temperature: Floats, lower: float, upper: float) -> Floats:
    return np.where((temperature >= lower) & (temperature <= upper), factor, np.nan)[()]


@formula(
    id="temperature_factor_halving",
    name="Temperature factor, resistance halves per interval",
    expression="K = 2^((T - T_base) / h)",
    inputs=(
        _WINDING,
        Input("halving_interval", "K", "Rise that halves the resistance, h", default=10.0),
        _base(40.0),
    ),
    unit="1",
    source="IEEE Std 43-2000, cl. 6.3 (h = 10 K, base 40 degC)",
    verified="secondary",
    example=Example(
        {"winding_temperature": "35 degC"}, 0.7071, 1e-4, "IEEE Std 43-2000, own illustration; memory"
    ),
)
def halving_factor(
    winding_temperature_degC: ArrayLike,
    halving_interval: ArrayLike = 10.0,
    base_temperature_degC: ArrayLike = 40.0,
    lower_degC: float = -np.inf,
    upper_degC: float = np.inf,
) -> Floats:
    """Factor of a resistance that halves with every so many kelvins.

    Parameters
    ----------
    winding_temperature_degC : array_like
        Temperature of the insulation [degC].
    halving_interval : array_like, optional
        Rise that halves the resistance [K].
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
    IEEE Std 43-2000, K = 0.5^((40 - T)/10) (secondary); MIL-M-17413A, 15 K to 25 degC (read).
    """
    t = floats(winding_temperature_degC)
    return _within(
        2.0 ** ((t - floats(base_temperature_degC)) / floats(halving_interval)), t, lower_degC, upper_degC
    )


@formula(
    id="temperature_factor_exponential",
    name="Temperature factor, exponential in the reciprocal of temperature",
    expression="K = exp(-B (1/(T + 273) - 1/(T_base + 273)))",
    inputs=(_WINDING, Input("coefficient", "K", "B"), _base(40.0)),
    unit="1",
    source="IEEE Std 43-2013, cl. 6.3 (B = 4230 K hot, 1245 K cool)",
    verified="memory",
    example=Example({"winding_temperature": "60 degC", "coefficient": "4230 K"}, 2.2517, 1e-4, "derived"),
)
def exponential_factor(
    winding_temperature_degC: ArrayLike,
    coefficient: ArrayLike,
    base_temperature_degC: ArrayLike = 40.0,
    lower_degC: float = -np.inf,
    upper_degC: float = np.inf,
) -> Floats:
    """Factor in the exponential form printed with whole kelvins (273, not 273.15).

    Parameters
    ----------
    winding_temperature_degC : array_like
        Temperature of the insulation [degC].
    coefficient : array_like
        B [K].
    base_temperature_degC : array_like, optional
        Base [degC].
    lower_degC, upper_degC : float, optional
        Range of the rule [degC].

    Returns
    -------
    ndarray of float
        K [1], exactly 1 at the base; NaN outside the range.

    References
    ----------
    IEEE Std 43-2013, cl. 6.3, thermosetting: B = 4230 for 40 to 85 degC, 1245 for 10 to 40 degC (memory).
    """
    t = floats(winding_temperature_degC)
    reciprocal = 1.0 / (t + 273.0) - 1.0 / (floats(base_temperature_degC) + 273.0)
    return _within(np.exp(-floats(coefficient) * reciprocal), t, lower_degC, upper_degC)


@formula(
    id="temperature_factor_per_10k",
    name="Temperature factor, multiplier per 10 K",
    expression="K = A^((T - T_base) / 10)",
    inputs=(_WINDING, Input("multiplier", "1", "A, change per 10 K", default=1.5), _base(20.0)),
    unit="1",
    source="GB 50150 (A = 1.5, base 20 degC)",
    verified="memory",
    example=Example(
        {"winding_temperature": "40 degC"}, 2.25, 1e-12, "derived; printed 2.3 in GB 50150, memory"
    ),
)
def per_10k_factor(
    winding_temperature_degC: ArrayLike,
    multiplier: ArrayLike = 1.5,
    base_temperature_degC: ArrayLike = 20.0,
    lower_degC: float = -np.inf,
    upper_degC: float = np.inf,
) -> Floats:
    """Factor A^(dT/10): multiplies above the base, divides below it.

    Parameters
    ----------
    winding_temperature_degC : array_like
        Temperature of the insulation [degC].
    multiplier : array_like, optional
        A [1].
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
    GB 50150 and DL/T 596, A = 1.5 (memory).
    """
    t = floats(winding_temperature_degC)
    return _within(
        floats(multiplier) ** ((t - floats(base_temperature_degC)) / 10.0), t, lower_degC, upper_degC
    )
