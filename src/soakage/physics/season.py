"""A yearly course in departures from a line: told, never corrected."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats

# Mean resultant of the days of the year from which tests lie too close in the year to tell a season.
_BUNCHED = 0.9
_FITTED = 4


class YearlyCourse(NamedTuple):
    """A course a + amplitude cos(2 pi (t - peak)); each of the shape of the leading axes.

    Parameters
    ----------
    amplitude : ndarray of float
        Half the range over a year, unit of the departures.
    peak : ndarray of float
        Part of the year at which it is highest, 0 to 1.
    p : ndarray of float
        Probability of so close a course without any season.
    readings : ndarray of float
        How many were used.
    """

    amplitude: Floats
    peak: Floats
    p: Floats
    readings: Floats


def yearly_season(time: ArrayLike, departure: ArrayLike) -> YearlyCourse:
    """Return the yearly course of departures from a line.

    Parameters
    ----------
    time : array_like, shape (..., n)
        Times [years]; whole numbers are one day of the year.
    departure : array_like, shape (..., n)
        Values less the line through them; NaN is no reading.

    Returns
    -------
    YearlyCourse
        NaN with fewer than 5 readings, or where all lie so close in the year that no season shows.

    References
    ----------
    First harmonic by least squares. Its test is that of the ranks of the departures against the angle of the year, as
    in Mardia, J. R. Stat. Soc. B 38 (1976) (memory), with the F distribution of rank-transformed data (Conover and
    Iman 1981, memory): p = (1 - R^2)^((n - 4) / 2), since level, slope and two figures were taken (derived).
    """
    t, y = np.broadcast_arrays(floats(time), floats(departure))
    there = np.isfinite(t) & np.isfinite(y)
    n = np.count_nonzero(there, axis=-1).astype(np.float64)
    angle = 2 * np.pi * np.where(there, t, 0.0)
    weight = there.astype(np.float64)
    cos, sin = (_centred(np.where(there, part, 0.0), weight, n) for part in (np.cos(angle), np.sin(angle)))
    resultant = np.hypot(np.where(there, np.cos(angle), 0).sum(-1), np.where(there, np.sin(angle), 0).sum(-1))
    values = np.where(there, y, 0.0)
    a, b, _ = _harmonic(cos, sin, _centred(values, weight, n))
    above = (y[..., :, None] > y[..., None, :]).sum(axis=-1)
    ties = (y[..., :, None] == y[..., None, :]).sum(axis=-1)
    _, _, explained = _harmonic(cos, sin, _centred(np.where(there, above + (ties + 1) / 2, 0.0), weight, n))
    good = (n > _FITTED) & (resultant <= _BUNCHED * n)
    with np.errstate(invalid="ignore"):
        p = np.clip(1 - explained, 0.0, 1.0) ** ((n - _FITTED) / 2)
    return YearlyCourse(
        np.where(good, np.hypot(a, b), np.nan),
        np.where(good, np.arctan2(b, a) / (2 * np.pi) % 1.0, np.nan),
        np.where(good, p, np.nan),
        n,
    )


def _centred(values: Floats, weight: Floats, n: Floats) -> Floats:
    return np.asarray((values - (values.sum(axis=-1) / np.maximum(n, 1))[..., None]) * weight)


def _harmonic(cos: Floats, sin: Floats, y: Floats) -> tuple[Floats, Floats, Floats]:
    """Return the two coefficients, and the share of the sum of squares they explain."""
    cc, ss, cs = (cos * cos).sum(-1), (sin * sin).sum(-1), (cos * sin).sum(-1)
    cy, sy, yy = (cos * y).sum(-1), (sin * y).sum(-1), (y * y).sum(-1)
    determinant = cc * ss - cs**2
    with np.errstate(invalid="ignore", divide="ignore"):
        # Readings at two opposite days only: one direction of the course can not be told from the other.
        flat = determinant <= 1e-9 * np.maximum(cc, ss) ** 2
        a = np.where(flat, np.where(cc > 0, cy / (cc + ss), 0.0), (ss * cy - cs * sy) / determinant)
        b = np.where(flat, np.where(ss > 0, sy / (cc + ss), 0.0), (cc * sy - cs * cy) / determinant)
        explained = np.where(yy > 0, (a * cy + b * sy) / yy, 0.0)
    return np.asarray(a), np.asarray(b), np.asarray(explained)
