"""The date at which a criterion would be reached if the line went on, or why none is given."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

import numpy as np

from soakage.app.trend_result import Reach, Slope, TrendLimit
from soakage.app.trend_series import day_of, years
from soakage.physics.slope import Line, crossing
from soakage.standards.library import Library


def reach(
    line: Line | None,
    slope: Slope | None,
    slope_reason: str,
    limits: Sequence[TrendLimit],
    library: Library,
    today: date,
    transform: str,
) -> tuple[Reach | None, str]:
    """Return the earliest date a criterion would be reached, or None and the reason.

    Parameters
    ----------
    line, slope : Line, Slope or None
        The line through the readings; None where there is none.
    slope_reason : str
        Why there is none.
    limits : sequence of TrendLimit
        Criteria on the quantity.
    library : Library
        For the horizon.
    today : date
        Dates before it are past.
    transform : str
        ``ln`` where the line is of the logarithm.

    Returns
    -------
    tuple of Reach or None, and str
        The reason is empty where there is a date.
    """
    if line is None or slope is None:
        return None, slope_reason
    if not any(_targets(limit) for limit in limits):
        return None, "No criterion with a limit applies to this quantity."
    if slope.lower is None or slope.upper is None:
        return None, "The interval of the slope is open: too many readings are only bounds."
    if not slope.certain:
        return None, "The interval of the slope includes zero: these readings show no certain direction."
    horizon = library.thresholds["trends.horizon"].value
    found = [
        _one(line, limit.criterion, target, horizon, today, transform)
        for limit in limits
        for target in _targets(limit)
    ]
    dated = [entry for entry, _ in found if entry is not None]
    if dated:
        return min(dated, key=lambda entry: entry.at), ""
    return None, " ".join(dict.fromkeys(reason for _, reason in found))


def _targets(limit: TrendLimit) -> list[tuple[float, bool]]:
    both = ((limit.lower, True), (limit.upper, False))
    return [(value, is_lower) for value, is_lower in both if value is not None]


def _one(
    line: Line,
    criterion: str,
    target: tuple[float, bool],
    horizon: float,
    today: date,
    transform: str,
) -> tuple[Reach | None, str]:
    value, is_lower = target
    if transform == "ln" and value <= 0:
        return None, f"{criterion}: its limit is not above zero."
    if (line.slope < 0) != is_lower:
        return None, f"{criterion}: the line moves away from its limit."
    met = crossing(line, math.log(value) if transform == "ln" else value)
    now = years(today)
    if met.time <= now:
        return None, f"{criterion}: the line lies already beyond its limit; see the verdict of the last test."
    if met.time > now + horizon:
        return None, f"{criterion}: beyond {horizon:g} years; so far ahead a line says nothing."
    at = day_of(float(met.time))
    if at is None:
        return None, f"{criterion}: beyond any calendar."
    ends = [day_of(float(end)) if np.isfinite(end) else None for end in (met.earliest, met.latest)]
    return Reach(criterion, value, at, ends[0], ends[1]), ""
