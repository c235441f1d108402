"""What the latest value stands beside: earlier values of its series, and sister sections of its visit."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from soakage.app.history import HistoryPoint
from soakage.app.trend_result import Fall, Sisters
from soakage.app.trend_series import condition
from soakage.physics.bounds import bounded, ratio
from soakage.units import Bound

CODES = {Bound.LOWER: 1, Bound.UPPER: -1, None: 0}
_BOUNDS = {1: Bound.LOWER, -1: Bound.UPPER, 0: None}


def fall(points: Sequence[HistoryPoint], place: int) -> Fall | None:
    """Return how far the last point lies below the one at a place, or None where there is none to compare."""
    if len(points) < 2 or points[place].value <= 0:
        return None
    now, then = points[-1], points[place]
    share = ratio(bounded(now.value, CODES[now.bound]), bounded(then.value, CODES[then.bound]))
    if np.isnan(share.value):
        return None
    return Fall(then.day, 1.0 - float(share.value), _BOUNDS[-int(share.bound)])


def sisters_of(latest: HistoryPoint, points: Sequence[HistoryPoint]) -> Sisters | None:
    """Return a point beside the sister sections tested alike at the same visit, or None where there are none.

    Parameters
    ----------
    latest : HistoryPoint
        The point.
    points : sequence of HistoryPoint
        All points of the asset.
    """
    others = {
        p.section: p
        for p in points
        if p.section != latest.section
        and p.quantity == latest.quantity
        and _one_visit(p, latest)
        and _alike(p, latest)
    }
    if not others:
        return None
    # The median of the sisters lies between that of the least and that of the most each can be.
    low = float(np.median([0.0 if p.bound is Bound.UPPER else p.value for p in others.values()]))
    high = float(np.median([math.inf if p.bound is Bound.LOWER else p.value for p in others.values()]))
    said = tuple((p.section, p.value, p.bound) for p in others.values())
    if low == high:
        middle = bounded(low)
    elif low > 0 and latest.bound is not Bound.LOWER:
        middle = bounded(low, 1)
    else:
        middle = bounded(high if math.isfinite(high) else math.nan, -1)
    share = ratio(bounded(latest.value, CODES[latest.bound]), middle)
    if np.isnan(share.value):
        return Sisters(said, None, None)
    return Sisters(said, float(share.value), _BOUNDS[int(share.bound)])


def _one_visit(one: HistoryPoint, other: HistoryPoint) -> bool:
    if one.visit is not None and other.visit is not None:
        return one.visit == other.visit
    return one.day == other.day


def _alike(one: HistoryPoint, other: HistoryPoint) -> bool:
    """Return whether two sections were tested the same way; their terminals have names of their own."""
    a, b = condition(one), condition(other)
    return (a.method, a.test_voltage, a.rule, a.base_temperature, bool(a.guarded), a.attached) == (
        b.method, b.test_voltage, b.rule, b.base_temperature, bool(b.guarded), b.attached,
    )  # fmt: skip
