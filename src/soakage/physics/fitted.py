"""What the fitted curve says at a time: resistance and ratios, with the uncertainty the fit leaves them.

They stand beside the readings at two instants, marked as fitted, and don't replace them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.fit import CurrentFit
from soakage.physics.formula import Example, Input, formula


@formula(
    id="polarization_index_fitted",
    name="Polarization index of the fitted curve",
    expression="[A (t1 + t0)^-n + G] / [A (t2 + t0)^-n + G]",
    inputs=(
        Input("absorption_coefficient", "S s^n", "A of the fit"),
        Input("absorption_exponent", "1", "Exponent n of the fit"),
        Input("conductance", "S", "Bulk and surface conduction of the fit"),
        Input("later", "s", "Time of the later resistance, t2", default=600.0),
        Input("earlier", "s", "Time of the earlier resistance, t1", default=60.0),
        Input("offset", "s", "Time added in the power law, t0", default=0.0),
    ),
    unit="1",
    source="ratio of the currents of I = V [A (t + t0)^-n + G]",
    verified="derived",
    example=Example(
        {"absorption_coefficient": "2.116464e-8", "absorption_exponent": "0.8", "conductance": "0.2 nS"},
        3.06, 2e-3, "table of n 0.8 and a fifth of conduction at 60 s; derived",
    ),
    validity="currents above 0 at both times",
)  # fmt: skip
def fitted_index(
    absorption_coefficient: ArrayLike,
    absorption_exponent: ArrayLike,
    conductance: ArrayLike,
    later: ArrayLike = 600.0,
    earlier: ArrayLike = 60.0,
    offset: float = 0.0,
) -> Floats:
    """Work a ratio of resistances from the three fitted values.

    Parameters
    ----------
    absorption_coefficient, absorption_exponent, conductance : array_like
        A [S s^n], n [1] and G [S].
    later, earlier : array_like, optional
        Times of the two resistances [s].
    offset : float, optional
        t0 [s].

    Returns
    -------
    ndarray of float
        R(later)/R(earlier) [1]; NaN where a current is not above 0.

    References
    ----------
    Ratio of the currents of the model (derived).
    """
    a, n, g = floats(absorption_coefficient), floats(absorption_exponent), floats(conductance)
    first, last = (a * (floats(when) + offset) ** -n + g for when in (earlier, later))
    valid = (first > 0) & (last > 0)
    return np.where(valid, first / np.where(valid, last, 1.0), np.nan)[()]


def fitted_resistance(fit: CurrentFit, time: ArrayLike) -> tuple[Floats, Floats]:
    """Read the insulation resistance off the fitted curve.

    Parameters
    ----------
    fit : CurrentFit
        The fit, any leading axes.
    time : array_like, shape () or (...)
        When [s].

    Returns
    -------
    tuple of ndarray of float
        R [ohm] and its relative standard uncertainty [1]; NaN where the record does not reach that time.

    References
    ----------
    R = 1/(A (t + t0)^-n + G); law of propagation of uncertainty, JCGM 100 (memory).
    """
    current, gradient = _per_volt(fit, floats(time))
    return 1.0 / current, _deviation(fit, gradient / current[..., None])


def fitted_ratio(
    fit: CurrentFit, later: ArrayLike = 600.0, earlier: ArrayLike = 60.0
) -> tuple[Floats, Floats]:
    """Read a ratio of resistances off the fitted curve: the polarization index, or that of other times.

    Parameters
    ----------
    fit : CurrentFit
        The fit, any leading axes.
    later, earlier : array_like, shape () or (...), optional
        Times of the two resistances [s].

    Returns
    -------
    tuple of ndarray of float
        R(later)/R(earlier) [1] and its relative standard uncertainty [1]; NaN where the record does not reach.

    References
    ----------
    Ratio of the fitted currents; law of propagation of uncertainty, JCGM 100 (memory).
    """
    first, first_gradient = _per_volt(fit, floats(earlier))
    last, last_gradient = _per_volt(fit, floats(later))
    return first / last, _deviation(fit, first_gradient / first[..., None] - last_gradient / last[..., None])


def _per_volt(fit: CurrentFit, time: Floats) -> tuple[Floats, Floats]:
    """Give the fitted current per volt and its derivatives by A, n and G."""
    a, n = np.nan_to_num(fit.absorption_coefficient), np.nan_to_num(fit.absorption_exponent)
    moment = np.where(time <= fit.reach * (1 + 1e-9), time + fit.offset, np.nan)
    power = moment**-n
    gradient = np.stack([power, -a * power * np.log(moment), np.ones_like(power)], axis=-1)
    return a * power + fit.conductance, gradient


def _deviation(fit: CurrentFit, gradient: Floats) -> Floats:
    return np.asarray(np.sqrt(np.einsum("...i,...ij,...j->...", gradient, fit.covariance, gradient)))
