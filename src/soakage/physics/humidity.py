"""Dew point over water, its inverse, and the margin of a winding above it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Formula, Input, formula


class Magnus(NamedTuple):
    """Constants of e_s = e0 exp(a T / (b + T)) with T in degrees Celsius.

    Parameters
    ----------
    a : float
        Factor [1].
    b : float
        Offset [K].
    lower, upper : float
        Range [degC].
    source : str
        Where the constants stand.
    """

    a: float
    b: float
    lower: float
    upper: float
    source: str


WMO = Magnus(17.62, 243.12, -45.0, 60.0, "WMO-No. 8, after Sonntag 1990 (secondary)")
# The other published pairs lie within 0.06 K of it from 0 to 40 degC and 30 % to 100 % (derived).
ALDUCHOV_ESKRIDGE = Magnus(
    17.625, 243.04, -40.0, 50.0, "Alduchov and Eskridge 1996 (secondary; range memory)"
)
BOLTON = Magnus(17.67, 243.5, -35.0, 35.0, "Bolton 1980 (secondary; range memory)")
OLDER = Magnus(17.27, 237.7, 0.0, 60.0, "older pair without a printed origin (secondary; range memory)")


@formula(
    id="dew_point",
    name="Dew point",
    expression="T_d = b g / (a - g), g = ln(RH) + a T / (b + T), a = 17.62, b = 243.12 degC",
    inputs=(
        Input("ambient_temperature", "degC", "Temperature of the air"),
        Input("relative_humidity", "1", "Relative humidity of the air, 60 % is 0.6"),
    ),
    unit="degC",
    source=WMO.source,
    verified="secondary",
    example=Example(
        {"ambient_temperature": "30 degC", "relative_humidity": "60 %"}, 21.4, 1e-3,
        "O. Singh, Applied Thermodynamics, ex. 18.13 (steam table); secondary",
    ),
    validity="-45 to 60 degC, humidity above 0 up to 100 %, over water also below 0 degC",
)  # fmt: skip
def dew_point(
    ambient_temperature_degC: ArrayLike, relative_humidity: ArrayLike, constants: Magnus = WMO
) -> Floats:
    """Temperature at which the air would be saturated over water.

    Parameters
    ----------
    ambient_temperature_degC : array_like
        Temperature of the air [degC].
    relative_humidity : array_like
        Relative humidity as a fraction [1].
    constants : Magnus, optional
        Which published pair.

    Returns
    -------
    ndarray of float
        Dew point [degC]; NaN outside the range of the constants or of 0 < RH <= 1.  Below 0 degC it is
        the dew point over water, not the frost point.

    References
    ----------
    WMO-No. 8 annex, constants of Sonntag 1990 (secondary); inversion derived.
    """
    t, rh = floats(ambient_temperature_degC), floats(relative_humidity)
    good = (t >= constants.lower) & (t <= constants.upper) & (rh > 0) & (rh <= 1)
    t, rh = np.where(good, t, np.nan), np.where(good, rh, np.nan)
    g = np.log(rh) + constants.a * t / (constants.b + t)
    return constants.b * g / (constants.a - g)


@formula(
    id="relative_humidity",
    name="Relative humidity from a dew point",
    expression="RH = exp(a T_d/(b + T_d) - a T/(b + T))",
    inputs=(
        Input("ambient_temperature", "degC", "Temperature of the air"),
        Input("dew_point", "degC", "Dew point of the air"),
    ),
    unit="1",
    source=WMO.source,
    verified="secondary",
    example=Example(
        {"ambient_temperature": "20 degC", "dew_point": "15 degC"}, 0.7295185312581116, 1e-9,
        "pvlib's tests of the same formula; secondary",
    ),
    validity="-45 to 60 degC, a dew point at or below the temperature",
)  # fmt: skip
def relative_humidity(
    ambient_temperature_degC: ArrayLike, dew_point_degC: ArrayLike, constants: Magnus = WMO
) -> Floats:
    """Relative humidity of air with a known dew point.

    Parameters
    ----------
    ambient_temperature_degC : array_like
        Temperature of the air [degC].
    dew_point_degC : array_like
        Dew point [degC], at or below the temperature.
    constants : Magnus, optional
        Which published pair.

    Returns
    -------
    ndarray of float
        Relative humidity as a fraction [1]; NaN outside the validity.

    References
    ----------
    WMO-No. 8 annex, constants of Sonntag 1990 (secondary).
    """
    t, td = floats(ambient_temperature_degC), floats(dew_point_degC)
    good = (t >= constants.lower) & (t <= constants.upper) & (td <= t) & (td > -constants.b)
    t, td = np.where(good, t, np.nan), np.where(good, td, np.nan)
    return np.exp(constants.a * (td / (constants.b + td) - t / (constants.b + t)))


def dew_point_margin(
    winding_temperature_degC: ArrayLike, ambient_temperature_degC: ArrayLike, relative_humidity: ArrayLike
) -> Floats:
    """Kelvins by which the winding is warmer than the dew point of the air around it.

    Parameters
    ----------
    winding_temperature_degC : array_like
        Temperature of the winding or surface [degC].
    ambient_temperature_degC : array_like
        Temperature of the air [degC].
    relative_humidity : array_like
        Relative humidity as a fraction [1].

    Returns
    -------
    ndarray of float
        Margin [K]; negative where moisture settles.

    References
    ----------
    Test above the dew point: IEEE Std 43, cl. 6.2 and 7 (memory).
    """
    return floats(winding_temperature_degC) - dew_point(ambient_temperature_degC, relative_humidity)


DEW_POINT_MARGIN = Formula(
    "dew_point_margin", "Margin of the winding above the dew point", "T_winding - T_d",
    (
        Input("winding_temperature", "degC", "Temperature of the winding or surface"),
        Input("ambient_temperature", "degC", "Temperature of the air"),
        Input("relative_humidity", "1", "Relative humidity of the air, 60 % is 0.6"),
    ),
    "K", "IEEE Std 43-2013, cl. 6.2", "memory",
    Example(
        {"winding_temperature": "16 degC", "ambient_temperature": "25 degC", "relative_humidity": "60 %"},
        -0.69, 1e-2, "dew point 16.69 degC, WMO constants; derived",
    ),
    dew_point_margin, "the range of the dew point",
)  # fmt: skip
