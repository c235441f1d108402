"""Standard uncertainties of readings, ratios, products and corrected values."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Input, formula

# d ln K / dT of halving per 10 K [1/K].
HALVING_PER_10_K = math.log(2.0) / 10.0


@formula(
    id="ratio_uncertainty",
    name="Relative uncertainty of a ratio",
    expression="u/Y = sqrt(uA^2 + uB^2 - 2 r uA uB), relative",
    inputs=(
        Input("numerator", "1", "Relative standard uncertainty of the numerator, uA"),
        Input("denominator", "1", "Relative standard uncertainty of the denominator, uB"),
        Input("correlation", "1", "Correlation of the two, r", default=0.0),
    ),
    unit="1",
    source="JCGM 100, 5.1.6 and 5.2.2",
    verified="memory",
    example=Example({"numerator": "3 %", "denominator": "4 %"}, 0.05, 1e-12, "derived"),
    validity="a correlation of -1 to 1",
)
def ratio_uncertainty(numerator: ArrayLike, denominator: ArrayLike, correlation: ArrayLike = 0.0) -> Floats:
    """Relative standard uncertainty of A/B; an error common to both, r = 1 and equal, cancels.

    Parameters
    ----------
    numerator, denominator : array_like
        Relative standard uncertainties [1].
    correlation : array_like, optional
        Correlation coefficient [1], -1 to 1.

    Returns
    -------
    ndarray of float
        Relative standard uncertainty [1]; NaN for a correlation out of range.

    References
    ----------
    JCGM 100, 5.1.6 and 5.2.2 (memory).
    """
    a, b, r = floats(numerator), floats(denominator), floats(correlation)
    r = np.where(np.abs(r) <= 1, r, np.nan)
    return np.sqrt(np.maximum(a**2 + b**2 - 2 * r * a * b, 0.0))


@formula(
    id="product_uncertainty",
    name="Relative uncertainty of a product",
    expression="u/Y = sqrt(uA^2 + uB^2 + 2 r uA uB), relative",
    inputs=(
        Input("first", "1", "Relative standard uncertainty of the first factor, uA"),
        Input("second", "1", "Relative standard uncertainty of the second factor, uB"),
        Input("correlation", "1", "Correlation of the two, r", default=0.0),
    ),
    unit="1",
    source="JCGM 100, 5.1.6 and 5.2.2",
    verified="memory",
    example=Example({"first": "3 %", "second": "4 %", "correlation": "1"}, 0.07, 1e-12, "derived"),
    validity="a correlation of -1 to 1",
)
def product_uncertainty(first: ArrayLike, second: ArrayLike, correlation: ArrayLike = 0.0) -> Floats:
    """Relative standard uncertainty of A B.

    Parameters
    ----------
    first, second : array_like
        Relative standard uncertainties [1].
    correlation : array_like, optional
        Correlation coefficient [1], -1 to 1.

    Returns
    -------
    ndarray of float
        Relative standard uncertainty [1]; NaN for a correlation out of range.

    References
    ----------
    JCGM 100, 5.1.6 and 5.2.2 (memory).
    """
    return ratio_uncertainty(first, second, -floats(correlation))


@formula(
    id="reading_uncertainty",
    name="Standard uncertainty of a reading from the declared accuracy",
    expression="u = sqrt((p R)^2/3 + (I0 R^2/V)^2/3 + q^2/12 + (R n dt/t)^2/3)",
    inputs=(
        Input("insulation_resistance", "ohm", "The reading, R"),
        Input("of_reading", "1", "Half-width declared as a fraction of the reading, p", default=0.0),
        Input("resolution", "ohm", "One unit of the last digit, q", default=0.0),
        Input("current_offset", "A", "Half-width of the zero error of the current, I0", default=0.0),
        Input("test_voltage", "V", "Test voltage, V", default=math.inf),
        Input("timing", "s", "Half-width of the error of the time, dt", default=0.0),
        Input("time", "s", "Time of the mark, t", default=math.inf),
        Input("local_slope", "1", "d ln R / d ln t at the mark, n", default=0.0),
    ),
    unit="ohm",
    source="JCGM 100, 4.3.7 (rectangular limits)",
    verified="memory",
    example=Example(
        {"insulation_resistance": "1 GOhm", "of_reading": "5 %"}, 28.8675e6, 1e-5, "5 % over root 3; derived"
    ),
    validity="a positive reading",
)
def reading_uncertainty(
    insulation_resistance: ArrayLike,
    of_reading: ArrayLike = 0.0,
    resolution: ArrayLike = 0.0,
    current_offset: ArrayLike = 0.0,
    test_voltage: ArrayLike = math.inf,
    timing: ArrayLike = 0.0,
    time: ArrayLike = math.inf,
    local_slope: ArrayLike = 0.0,
) -> Floats:
    """Combine what an instrument declares into one standard uncertainty.

    Parameters
    ----------
    insulation_resistance : array_like
        Reading [ohm].
    of_reading : array_like, optional
        Limit as a fraction of the reading [1]; rectangular.
    resolution : array_like, optional
        One unit of the last digit [ohm]; rectangular over half of it either way.
    current_offset : array_like, optional
        Limit of the zero error of the current [A]; rectangular.
    test_voltage : array_like, optional
        Voltage [V], needed with an offset.
    timing : array_like, optional
        Limit of the error of the time [s]; rectangular.
    time : array_like, optional
        Time of the mark [s], needed with a timing error.
    local_slope : array_like, optional
        d ln R / d ln t there [1].

    Returns
    -------
    ndarray of float
        Standard uncertainty [ohm]; NaN unless the reading is positive.

    References
    ----------
    JCGM 100, 4.3.7, rectangular limits over root 3 (memory); sensitivities of R = V/I derived.
    """
    r = floats(insulation_resistance)
    r = np.where(r > 0, r, np.nan)
    parts = (
        floats(of_reading) * r,
        floats(resolution) / 2.0,
        floats(current_offset) * r**2 / floats(test_voltage),
        r * floats(local_slope) * floats(timing) / floats(time),
    )
    squares = [part**2 for part in parts]
    return np.sqrt((squares[0] + squares[1] + squares[2] + squares[3]) / 3.0)


@formula(
    id="corrected_uncertainty",
    name="Relative uncertainty of a temperature-corrected resistance",
    expression="u/R_c = sqrt((u_R/R)^2 + (s u_T)^2), s = |d ln K / dT|; ln2/10 per K for halving per 10 K",
    inputs=(
        Input("relative_uncertainty", "1", "Relative standard uncertainty of the resistance"),
        Input("temperature_uncertainty", "K", "Standard uncertainty of the temperature"),
        Input("slope", "1/K", "Slope of ln K with temperature", default=HALVING_PER_10_K),
    ),
    unit="1",
    source="JCGM 100, 5.1.2",
    verified="memory",
    example=Example(
        {"relative_uncertainty": "5 %", "temperature_uncertainty": "2 K"}, 0.1474, 1e-3, "derived"
    ),
    validity="small uncertainties: the mean itself is off by (s u_T)^2/2",
)
def corrected_uncertainty(
    relative_uncertainty: ArrayLike,
    temperature_uncertainty: ArrayLike,
    slope: ArrayLike = HALVING_PER_10_K,
) -> Floats:
    """Relative standard uncertainty of K R when the temperature is uncertain too.

    Parameters
    ----------
    relative_uncertainty : array_like
        Relative standard uncertainty of the resistance [1].
    temperature_uncertainty : array_like
        Standard uncertainty of the temperature [K].
    slope : array_like, optional
        d ln K / dT [1/K]; the default is halving per 10 K.

    Returns
    -------
    ndarray of float
        Relative standard uncertainty [1].

    References
    ----------
    JCGM 100, 5.1.2 (memory); applied to K = 2^((T - T0)/10) derived.
    """
    return np.hypot(floats(relative_uncertainty), floats(slope) * floats(temperature_uncertainty))
