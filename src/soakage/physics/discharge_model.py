"""The discharge held against the charge: what a linear insulation must give back."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Input, formula
from soakage.physics.memory import residual_current


class DischargeCheck(NamedTuple):
    """Measured discharge against the one foretold by the charge.

    Parameters
    ----------
    predicted : ndarray of float, shape (n,)
        Current foretold, negative for a positive test voltage [A].
    ratio : float
        Median of measured over foretold [1]: 1 for a linear insulation.
    lower, upper : float
        Fifth and ninety-fifth percentile of that ratio over the readings [1].
    """

    predicted: Floats
    ratio: float
    lower: float
    upper: float


@formula(
    id="dielectric_discharge_model",
    name="Dielectric discharge foretold by the charge",
    expression="DD = A [t^-n - (t + tc)^-n] / C",
    inputs=(
        Input("absorption_coefficient", "S s^n", "A of the absorption current V A t^-n"),
        Input("absorption_exponent", "1", "Exponent n of the absorption current"),
        Input("capacitance", "F", "Capacitance of the insulation"),
        Input("held", "s", "Time of charging, tc"),
        Input("after", "s", "Time after the short circuit, t", default=60.0),
    ),
    unit="A/(V F)",
    source="superposition of a linear dielectric",
    verified="derived",
    example=Example(
        {"absorption_coefficient": "1e-9", "absorption_exponent": "0.7", "capacitance": "1 uF",
         "held": "1800 s"},
        0.9095e-3 * 60**-0.7, 2e-4, "share 0.91 of the pure power law; derived",
    ),
    validity="positive times and capacitance",
)  # fmt: skip
def dielectric_discharge_model(
    absorption_coefficient: ArrayLike,
    absorption_exponent: ArrayLike,
    capacitance: ArrayLike,
    held: ArrayLike,
    after: ArrayLike = 60.0,
) -> Floats:
    """Dielectric discharge that a linear insulation must show; no conduction is in it.

    Parameters
    ----------
    absorption_coefficient, absorption_exponent : array_like
        A [S s^n] and n [1].
    capacitance : array_like
        Capacitance [F].
    held, after : array_like
        Time of charging, and after the short circuit [s].

    Returns
    -------
    ndarray of float
        Current per volt and farad [A/(V F)]; NaN unless times and capacitance are positive.

    References
    ----------
    Superposition of a linear dielectric (derived).
    """
    c, tc = floats(capacitance), floats(held)
    current = -residual_current(after, 1.0, absorption_coefficient, absorption_exponent, tc)
    return current / np.where((c > 0) & (tc > 0), c, np.nan)


def foretold_current(
    test_voltage: float,
    held: float,
    absorption_coefficient: float,
    absorption_exponent: float,
    covariance: ArrayLike,
    after: float = 60.0,
) -> tuple[float, float]:
    """Foretell the size of the discharge current at one time, with the uncertainty the fit of the charge leaves.

    Parameters
    ----------
    test_voltage, held : float
        Voltage [V] and time of charging [s].
    absorption_coefficient, absorption_exponent : float
        A [S s^n] and n [1] fitted to the charge.
    covariance : array_like, shape (2, 2)
        Covariance of A and n.
    after : float, optional
        Time after the short circuit [s].

    Returns
    -------
    tuple of float
        Current and its standard uncertainty [A].

    References
    ----------
    I_d = V A [t^-n - (t + tc)^-n] (derived); law of propagation of uncertainty, JCGM 100 (memory).
    """
    a, n = absorption_coefficient, absorption_exponent
    early, late = after**-n, (after + held) ** -n
    by_a = test_voltage * (early - late)
    by_n = -test_voltage * a * (np.log(after) * early - np.log(after + held) * late)
    gradient = np.array([by_a, by_n])
    return float(a * by_a), float(np.sqrt(max(gradient @ floats(covariance) @ gradient, 0.0)))


def discharge_check(
    time: ArrayLike,
    current: ArrayLike,
    test_voltage: float,
    held: float,
    absorption_coefficient: float,
    absorption_exponent: float,
) -> DischargeCheck:
    """Foretell the discharge from the absorption of the charge and compare.

    Parameters
    ----------
    time : array_like, shape (n,)
        Time since the short circuit, above 0, once the capacitance is discharged [s].
    current : array_like, shape (n,)
        Discharge current [A]; its sign does not matter.
    test_voltage, held : float
        Voltage [V] and time of charging [s].
    absorption_coefficient, absorption_exponent : float
        A [S s^n] and n [1] fitted to the charge.

    Returns
    -------
    DischargeCheck
        The ratio leaves 1 for layers, a residual charge, a material that is not linear.

    References
    ----------
    I_d = -V A [t^-n - (t + tc)^-n] (derived).
    """
    foretold = residual_current(time, test_voltage, absorption_coefficient, absorption_exponent, held)
    ratio = np.abs(floats(current)) / np.abs(foretold)
    lower, middle, upper = np.nanquantile(ratio, [0.05, 0.5, 0.95])
    return DischargeCheck(foretold, float(middle), float(lower), float(upper))
