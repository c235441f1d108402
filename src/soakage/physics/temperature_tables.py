"""Temperature factors of printed tables: between their rows, and by multiplying rows."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Floats, floats, log_interpolated
from soakage.physics.formula import Example, Formula, Input


def table_factor(
    winding_temperature_degC: ArrayLike, row_temperature_degC: ArrayLike, row_factor: ArrayLike
) -> Floats:
    """Factor of a printed table, interpolated in ln K between its rows and never beyond them.

    Parameters
    ----------
    winding_temperature_degC : array_like
        Temperature of the insulation [degC].
    row_temperature_degC : array_like, shape (m,)
        Temperatures of the rows, rising [degC].
    row_factor : array_like, shape (m,)
        Printed factors [1].

    Returns
    -------
    ndarray of float
        K [1]; the printed value at a row; NaN outside the rows.

    Raises
    ------
    UsageError
        When the rows do not rise.

    References
    ----------
    ANSI/NETA ATS-2025 Table 100.14.1 (secondary); FED-STD-228A method 6031 Table I (read).
    """
    rows = floats(row_temperature_degC)
    if not (np.diff(rows) > 0).all():
        raise UsageError(
            "The rows of a temperature table do not rise. Allowed: each row warmer than the one before."
        )
    return log_interpolated(floats(winding_temperature_degC), rows, np.log(floats(row_factor)))


def composed_factor(difference: ArrayLike, row_difference: ArrayLike, row_coefficient: ArrayLike) -> Floats:
    """Factor for a difference that is not printed, made by multiplying printed rows.

    Parameters
    ----------
    difference : array_like
        Test temperature less base temperature [K]; below zero the factor divides.
    row_difference : array_like, shape (m,)
        Printed differences, rising, above zero [K].
    row_coefficient : array_like, shape (m,)
        Printed coefficients [1].

    Returns
    -------
    ndarray of float
        K [1]: the largest rows first; what is left below the smallest row is taken in ln K from 1 at 0 K.
        NaN beyond twice the largest row, where the table says nothing any more.

    References
    ----------
    RD 34.45-51.300-97, section 6, K2 (memory).
    """
    rows, k = floats(row_difference), floats(row_coefficient)
    d = floats(difference)
    rest = np.array(np.abs(d))
    log_factor = np.zeros(rest.shape)
    for row, coefficient in zip(rows[::-1], k[::-1], strict=True):
        # Rounding must not turn 0.3 K left of a whole row into a row too few.
        count = np.floor(rest / row + 1e-9)
        log_factor += count * np.log(coefficient)
        rest = np.maximum(rest - count * row, 0.0)
    log_factor += rest / rows[0] * np.log(k[0])
    return np.where(np.abs(d) <= 2 * rows[-1], np.exp(np.sign(d) * log_factor), np.nan)[()]


TABLE_FACTOR = Formula(
    "temperature_factor_table", "Temperature factor between two printed rows",
    "ln K straight between ln K1 at T1 and ln K2 at T2",
    (
        Input("winding_temperature", "degC", "Temperature of the insulation during the test"),
        Input("row_temperature_1", "degC", "Temperature of the cooler row", "row_temperature_degC"),
        Input("factor_1", "1", "Factor of the cooler row", "row_factor"),
        Input("row_temperature_2", "degC", "Temperature of the warmer row", "row_temperature_degC"),
        Input("factor_2", "1", "Factor of the warmer row", "row_factor"),
    ),
    "1", "ANSI/NETA ATS-2025 Table 100.14.1 for the rows; interpolation in ln K derived", "derived",
    Example(
        {"winding_temperature": "40 degC", "row_temperature_1": "35 degC", "factor_1": "2.80",
         "row_temperature_2": "40 degC", "factor_2": "3.95"},
        3.95, 1e-12, "ANSI/NETA Table 100.14, 2 MOhm at 40 degC is 7.9 at 20 degC; secondary",
    ),
    table_factor, "temperatures from the first row to the last",
)  # fmt: skip

COMPOSED_FACTOR = Formula(
    "temperature_factor_composed", "Temperature factor multiplied together from printed rows",
    "K = product of the largest rows that fit; what is left below the smallest in ln K from 1 at 0 K",
    (
        Input("difference", "K", "Test temperature less base temperature"),
        Input("row_difference_1", "K", "Difference of the smaller row", "row_difference"),
        Input("row_coefficient_1", "1", "Coefficient of the smaller row", "row_coefficient"),
        Input("row_difference_2", "K", "Difference of the larger row", "row_difference"),
        Input("row_coefficient_2", "1", "Coefficient of the larger row", "row_coefficient"),
    ),
    "1", "RD 34.45-51.300-97, section 6, K2", "memory",
    Example(
        {"difference": "15 K", "row_difference_1": "5 K", "row_coefficient_1": "1.22",
         "row_difference_2": "10 K", "row_coefficient_2": "1.5"},
        1.83, 1e-9, "1.5 times 1.22; derived",
    ),
    composed_factor, "at most twice the largest row",
)  # fmt: skip
