"""Values that may be bounds: what arithmetic leaves of them.

A reading over range is a lower bound, a leakage under the last digit an upper one.  A result that
leans on a bound is a bound or nothing (NaN): never a number that looks measured.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Bounds, Floats, floats

LOWER = 1
EXACT = 0
UPPER = -1


class Bounded(NamedTuple):
    """Values with, for each, what kind of statement it is.

    Parameters
    ----------
    value : ndarray of float
        Any shape; NaN where there is nothing to say.
    bound : ndarray of int8
        Same shape: 0 a value, +1 a lower bound (truth at or above), -1 an upper bound (at or below).
    """

    value: Floats
    bound: Bounds


def bounded(value: ArrayLike, bound: ArrayLike | None = None) -> Bounded:
    """Pair values with their bounds; all are plain values when none are given.

    Parameters
    ----------
    value : array_like
        Any shape and unit.
    bound : array_like of int, optional
        Broadcastable to ``value``: 0, +1 or -1.

    Returns
    -------
    Bounded
        A missing value carries no bound.

    References
    ----------
    The house's convention for readings over range; derived.
    """
    v = floats(value)
    kind = (
        np.zeros(v.shape, np.int8) if bound is None else np.broadcast_to(np.asarray(bound, np.int8), v.shape)
    )
    return Bounded(v, np.where(np.isnan(v), np.int8(0), kind))


def _joined(value: Floats, first: Bounds, second: Bounds) -> Bounded:
    """Keep a bound that only one side carries or both agree on; opposite bounds leave nothing."""
    value = np.where(first * second < 0, np.nan, value)
    return bounded(value, np.sign(first + second))


def _positive(value: Floats, *operands: Bounded) -> Floats:
    """Blank results whose bound would depend on a sign: products hold for quantities of one sign."""
    leaning = np.logical_or.reduce([operand.bound != 0 for operand in operands])
    negative = np.logical_or.reduce([operand.value < 0 for operand in operands])
    return np.where(leaning & negative, np.nan, value)


def ratio(numerator: Bounded, denominator: Bounded) -> Bounded:
    """Divide: ``>a / b`` is a lower bound, ``a / >b`` an upper one, ``>a / >b`` nothing.

    Parameters
    ----------
    numerator, denominator : Bounded
        Shapes that broadcast; nonnegative wherever a bound is involved.

    Returns
    -------
    Bounded
        NaN where two bounds pull apart, a bound meets a negative value, or the denominator is 0.

    References
    ----------
    Order of real numbers; derived.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        value = numerator.value / denominator.value
    value = _positive(np.where(denominator.value == 0, np.nan, value), numerator, denominator)
    return _joined(value, numerator.bound, -denominator.bound)


def product(first: Bounded, second: Bounded) -> Bounded:
    """Multiply: a bound survives a plain factor or a bound of its own kind.

    Parameters
    ----------
    first, second : Bounded
        Shapes that broadcast; nonnegative wherever a bound is involved.

    Returns
    -------
    Bounded
        NaN where the two bounds pull apart or a bound meets a negative value.

    References
    ----------
    Order of real numbers; derived.
    """
    return _joined(_positive(first.value * second.value, first, second), first.bound, second.bound)


def total(first: Bounded, second: Bounded) -> Bounded:
    """Add two values of any sign.

    Parameters
    ----------
    first, second : Bounded
        Shapes that broadcast.

    Returns
    -------
    Bounded
        NaN where the two bounds pull apart.

    References
    ----------
    Order of real numbers; derived.
    """
    return _joined(first.value + second.value, first.bound, second.bound)


def scale(values: Bounded, factor: ArrayLike) -> Bounded:
    """Multiply by a known factor; a negative one turns lower bounds into upper ones.

    Parameters
    ----------
    values : Bounded
        Any shape.
    factor : array_like
        Broadcastable, exact.

    Returns
    -------
    Bounded

    References
    ----------
    Order of real numbers; derived.
    """
    f = floats(factor)
    return bounded(values.value * f, values.bound * np.sign(f).astype(np.int8))


def reciprocal(values: Bounded) -> Bounded:
    """Take 1/x: a lower bound becomes an upper one.

    Parameters
    ----------
    values : Bounded
        Any shape; nonnegative wherever a bound is involved.

    Returns
    -------
    Bounded
        NaN at 0.

    References
    ----------
    Order of real numbers; derived.
    """
    return ratio(bounded(np.ones(values.value.shape)), values)


def smallest(values: Bounded) -> Bounded:
    """Take the least along the last axis; nothing when one of them is missing.

    Parameters
    ----------
    values : Bounded, shape (..., n)
        Any sign.

    Returns
    -------
    Bounded, shape (...)
        With an upper bound among them the least is at most the least of the others; without one it is
        exact where a plain value is the least, else a lower bound.

    References
    ----------
    Order of real numbers; derived.
    """
    value, bound = values
    missing = np.isnan(value).any(axis=-1)
    ceiling = np.where(bound == LOWER, np.inf, value).min(axis=-1)
    least = value.min(axis=-1)
    has_upper = (bound == UPPER).any(axis=-1)
    plain_least = np.where(bound == EXACT, value, np.inf).min(axis=-1) <= least
    result = np.where(has_upper, ceiling, least)
    kind = np.where(has_upper, UPPER, np.where(plain_least, EXACT, LOWER))
    return bounded(np.where(missing, np.nan, result), kind)


def largest(values: Bounded) -> Bounded:
    """Take the greatest along the last axis; nothing when one of them is missing.

    Parameters
    ----------
    values : Bounded, shape (..., n)
        Any sign.

    Returns
    -------
    Bounded, shape (...)

    References
    ----------
    Mirror image of :func:`smallest`; derived.
    """
    return scale(smallest(scale(values, -1.0)), -1.0)
