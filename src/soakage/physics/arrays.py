"""Array types shared by the formulas, and the one way an argument becomes an array."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats: TypeAlias = NDArray[np.float64]
Flags: TypeAlias = NDArray[np.bool_]
Bounds: TypeAlias = NDArray[np.int8]
Indices: TypeAlias = NDArray[np.intp]


def floats(values: ArrayLike) -> Floats:
    """Return the argument as an array of double precision; an array that is one already is not copied.

    Parameters
    ----------
    values : array_like
        Any shape, any unit.

    Returns
    -------
    ndarray of float
        Same shape and unit.

    References
    ----------
    None: a conversion of type, not of value.
    """
    return np.asarray(values, dtype=np.float64)


def log_interpolated(at: Floats, x: Floats, log_y: Floats) -> Floats:
    """Interpolate a logarithm linearly in x and return its exponential; NaN outside the rows.

    Parameters
    ----------
    at : ndarray of float
        Where to read, any shape.
    x : ndarray of float, shape (m,)
        Rising abscissae of the rows.
    log_y : ndarray of float, shape (m,)
        Natural logarithm of the rows.

    Returns
    -------
    ndarray of float
        Shape of ``at``.

    References
    ----------
    Interpolation in ln between printed rows: the house's rule for printed tables, derived.
    """
    return np.asarray(np.exp(np.interp(at, x, log_y, left=np.nan, right=np.nan)), dtype=np.float64)
