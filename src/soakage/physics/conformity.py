"""How sure a reading with an uncertainty meets a limit, and the guard band that makes it surer."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Input, formula

_UNCERTAINTY = Input("standard_uncertainty", "1", "Standard uncertainty, unit of the value")
_LOWER = Input("lower", "1", "Lower limit, unit of the value", default=-math.inf)
_UPPER = Input("upper", "1", "Upper limit, unit of the value", default=math.inf)


def normal_probability(z: ArrayLike) -> Floats:
    """Probability that a standard normal variable is at most z.

    Parameters
    ----------
    z : array_like
        Standardised value [1].

    Returns
    -------
    ndarray of float
        Probability [1].

    References
    ----------
    Standard normal distribution function (derived); held against scipy.stats.norm.
    """
    from scipy.special import ndtr

    return np.asarray(ndtr(floats(z)), dtype=np.float64)[()]


@formula(
    id="conformity_probability",
    name="Probability of conformity",
    expression="p = Phi((T_U - y)/u) - Phi((T_L - y)/u)",
    inputs=(Input("value", "1", "The value, any unit"), _UNCERTAINTY, _LOWER, _UPPER),
    unit="1",
    source="JCGM 106:2012, clause 7",
    verified="memory",
    example=Example(
        {"value": "13.6", "standard_uncertainty": "1.8", "lower": "12.5", "upper": "16.3"}, 0.66, 5e-3,
        "JCGM 106, 7.4; inputs secondary, answer memory",
    ),
    validity="an uncertainty above 0",
)  # fmt: skip
def conformity_probability(
    value: ArrayLike, standard_uncertainty: ArrayLike, lower: ArrayLike = -np.inf, upper: ArrayLike = np.inf
) -> Floats:
    """Probability that the true value lies between the limits, one of which may be absent.

    Parameters
    ----------
    value, standard_uncertainty : array_like
        Best estimate and its standard uncertainty [one unit].
    lower, upper : array_like, optional
        Limits [the same unit].

    Returns
    -------
    ndarray of float
        Probability [1]; NaN unless the uncertainty is positive.

    References
    ----------
    JCGM 106:2012, clause 7 (memory).
    """
    y, u = floats(value), floats(standard_uncertainty)
    u = np.where(u > 0, u, np.nan)
    above, below = (floats(upper) - y) / u, (floats(lower) - y) / u
    # From whichever tail is thinner: 1 - Phi would lose the last digits.
    mirrored = below > 0
    p = np.where(
        mirrored,
        normal_probability(-below) - normal_probability(-above),
        normal_probability(above) - normal_probability(below),
    )
    return p[()]


@formula(
    id="resistance_conformity_probability",
    name="Probability that a resistance meets a lower limit",
    expression="p = Phi((ln R - ln R_min) / (u_R / R))",
    inputs=(
        Input("insulation_resistance", "ohm", "The reading, R"),
        Input("relative_uncertainty", "1", "Relative standard uncertainty, u_R / R"),
        Input("minimum", "ohm", "Lower limit, R_min"),
    ),
    unit="1",
    source="JCGM 106:2012, clause 7, in the logarithm",
    verified="derived",
    example=Example(
        {"insulation_resistance": "100 MOhm", "relative_uncertainty": "10 %", "minimum": "100 MOhm"}, 0.5,
        1e-12, "on the limit; derived",
    ),
    validity="positive resistances and uncertainty",
)  # fmt: skip
def resistance_conformity_probability(
    insulation_resistance: ArrayLike, relative_uncertainty: ArrayLike, minimum: ArrayLike
) -> Floats:
    """Probability that a resistance is at or above its minimum, worked in ln R as R spans decades.

    Parameters
    ----------
    insulation_resistance, minimum : array_like
        Reading and lower limit [ohm].
    relative_uncertainty : array_like
        Relative standard uncertainty of the reading [1].

    Returns
    -------
    ndarray of float
        Probability [1]; NaN unless all are positive.

    References
    ----------
    JCGM 106:2012, clause 7 (memory); u(ln R) = u(R)/R (derived).
    """
    r, limit = floats(insulation_resistance), floats(minimum)
    y = np.log(np.where(r > 0, r, np.nan))
    return conformity_probability(y, relative_uncertainty, np.log(np.where(limit > 0, limit, np.nan)))


@formula(
    id="guard_band",
    name="Guard band for a wanted probability of conformity",
    expression="w = Phi^-1(p) u",
    inputs=(
        _UNCERTAINTY,
        Input("probability", "1", "Wanted probability at the acceptance limit", default=0.95),
    ),
    unit="1",
    source="JCGM 106:2012, 8.3",
    verified="memory",
    example=Example({"standard_uncertainty": "1"}, 1.645, 1e-3, "w = 1.645 u gives 95 %; derived"),
    validity="a probability above 0 and below 1",
)
def guard_band(standard_uncertainty: ArrayLike, probability: ArrayLike = 0.95) -> Floats:
    """Distance to keep from a one-sided limit so that acceptance is right with a wanted probability.

    Parameters
    ----------
    standard_uncertainty : array_like
        Standard uncertainty [unit of the value; of ln R for a resistance].
    probability : array_like, optional
        Wanted probability of conformity at the acceptance limit [1].

    Returns
    -------
    ndarray of float
        Guard band [the same unit]; 0 at 50 %; NaN for a probability that is not between 0 and 1.

    References
    ----------
    JCGM 106:2012, 8.3 (memory): w = 2u gives 97.7 %, 1.645u gives 95 %, 0 gives 50 % (derived).
    """
    from scipy.special import ndtri

    p = floats(probability)
    z = np.asarray(ndtri(np.where((p > 0) & (p < 1), p, np.nan)), dtype=np.float64)
    return z * floats(standard_uncertainty)
