"""Spread among sister sections read in one visit."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.bounds import Bounded, bounded, largest, ratio, smallest
from soakage.physics.formula import Example, Formula, Input

_CURRENTS = tuple(Input(f"current_{k}", "A", f"Leakage current of section {k}", "current") for k in (1, 2, 3))
_RESISTANCES = tuple(
    Input(f"insulation_resistance_{k}", "ohm", f"Insulation resistance of section {k}", "resistance")
    for k in (1, 2, 3)
)
_EXAMPLE = {"current_1": "8 uA", "current_2": "10 uA", "current_3": "14 uA"}


def phase_spread_bounded(resistance: ArrayLike, bound: ArrayLike | None = None) -> Bounded:
    """Largest over smallest resistance of the sections, some of which may be bounds.

    Parameters
    ----------
    resistance : array_like, shape (..., n)
        Insulation resistances at one mark [ohm], the sections on the last axis.
    bound : array_like of int, shape (..., n), optional
        0 a value, +1 a lower bound, -1 an upper bound.

    Returns
    -------
    Bounded, shape (...)
        The ratio [1], at least 1; nothing where one section is missing or two bounds pull apart.

    References
    ----------
    GB 50150-2006, cl. 3.0.2 (read); bounds derived.
    """
    values = bounded(resistance, bound)
    return ratio(largest(values), smallest(values))


def phase_spread(resistance: ArrayLike) -> Floats:
    """Largest over smallest resistance of the sections, all of them values.

    Parameters
    ----------
    resistance : array_like, shape (..., n)
        Insulation resistances at one mark [ohm], the sections on the last axis.

    Returns
    -------
    ndarray of float, shape (...)
        The ratio [1], at least 1; NaN where one section is missing.

    References
    ----------
    GB 50150-2006, cl. 3.0.2 (read).
    """
    return phase_spread_bounded(resistance).value


def leakage_spread_of_mean(current: ArrayLike) -> Floats:
    """Difference of the extreme leakage currents over their mean.

    Parameters
    ----------
    current : array_like, shape (..., n)
        Leakage currents at one voltage [A], the sections on the last axis.

    Returns
    -------
    ndarray of float, shape (...)
        (max - min) / mean [1]; NaN where one is missing or the mean is not positive.

    References
    ----------
    One of the two published bases, the edition decides (memory).
    """
    i = floats(current)
    mean: Floats = i.mean(axis=-1)
    span: Floats = i.max(axis=-1) - i.min(axis=-1)
    return span / np.where(mean > 0, mean, np.nan)


def leakage_spread_of_least(current: ArrayLike) -> Floats:
    """Difference of the extreme leakage currents over the least of them.

    Parameters
    ----------
    current : array_like, shape (..., n)
        Leakage currents at one voltage [A], the sections on the last axis.

    Returns
    -------
    ndarray of float, shape (...)
        (max - min) / min [1]; NaN where one is missing or the least is not positive.

    References
    ----------
    GB 50150, stator leakage clause, 50 % or 100 % by edition (memory).
    """
    i = floats(current)
    least: Floats = i.min(axis=-1)
    span: Floats = i.max(axis=-1) - least
    return span / np.where(least > 0, least, np.nan)


PHASE_SPREAD = Formula(
    "phase_spread", "Largest over smallest resistance of the sister sections", "max R / min R",
    _RESISTANCES, "1", "GB 50150-2006, cl. 3.0.2", "read",
    Example(
        {"insulation_resistance_1": "800 MOhm", "insulation_resistance_2": "1000 MOhm",
         "insulation_resistance_3": "1400 MOhm"},
        1.75, 1e-12, "ratio of the extremes; derived",
    ),
    phase_spread, "positive resistances of every section",
)  # fmt: skip
LEAKAGE_SPREAD_OF_MEAN = Formula(
    "leakage_spread_of_mean", "Leakage spread over the mean", "(max I - min I) / mean I", _CURRENTS, "1",
    "one of two published bases, by edition", "memory",
    Example(_EXAMPLE, 0.5625, 1e-12, "8, 10, 14 uA; derived"), leakage_spread_of_mean, "positive currents",
)  # fmt: skip
LEAKAGE_SPREAD_OF_LEAST = Formula(
    "leakage_spread_of_least", "Leakage spread over the least", "(max I - min I) / min I", _CURRENTS, "1",
    "GB 50150, by edition", "memory",
    Example(_EXAMPLE, 0.75, 1e-12, "8, 10, 14 uA; derived"), leakage_spread_of_least, "positive currents",
)  # fmt: skip
