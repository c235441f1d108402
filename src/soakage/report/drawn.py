"""Readings as points of a chart: magnitudes, thinned where there are more than a line can show."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from soakage.app.result import Evaluated

Plot = dict[str, Any]
MOST_POINTS = 10_000
_KEPT_BINS = 2_000


def resistances(evaluated: Evaluated) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int8]]:
    """Return time, resistance and bound of the readings under voltage; whichever way it stood."""
    readings, held = evaluated.record.readings, charging(evaluated)
    return readings.time[held], np.abs(readings.resistance[held]), readings.bound[held]


def charging(evaluated: Evaluated) -> NDArray[np.bool_]:
    """Return which readings were taken while the voltage stood, not after the short circuit."""
    readings, end = evaluated.record.readings, evaluated.record.test.discharge_started
    return np.ones(len(readings), bool) if end is None else ~(readings.time >= end)


def magnitude(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return currents or voltages as they are drawn: of a negative test the magnitudes.

    Only a record whose values are mostly below zero is turned over, so a stray negative reading stays one.
    """
    known = values[np.isfinite(values)]
    return -values if known.size and np.median(known) < 0 else values


def drawn_points(x: NDArray[np.float64], y: NDArray[np.float64], *, log: bool) -> list[list[float]]:
    """Return the points that can be drawn, thinned out above :data:`MOST_POINTS`.

    On log axes only values above zero remain.  Thinning keeps the lowest and highest point of each of equal
    parts of the axis, so a spike stays.
    """
    keep = np.isfinite(x) & np.isfinite(y)
    if log:
        keep &= (x > 0) & (y > 0)
    x, y = x[keep], y[keep]
    if x.size > MOST_POINTS:
        place = np.log(x) if log else x
        low, high = place.min(), place.max()
        bins = np.minimum(((place - low) / max(high - low, 1e-300) * _KEPT_BINS).astype(int), _KEPT_BINS - 1)
        order = np.lexsort((y, bins))
        sorted_bins = bins[order]
        first = np.flatnonzero(np.r_[True, sorted_bins[1:] != sorted_bins[:-1]])
        last = np.r_[first[1:] - 1, order.size - 1]
        chosen = np.unique(np.r_[order[first], order[last], 0, x.size - 1])
        x, y = x[chosen], y[chosen]
    return [[float(a), float(b)] for a, b in zip(x, y, strict=True)]
