"""What the next reading of a hold may be if nothing changes, and whether one that came is odd; pure.

A hand takes few readings, too few to fit.  But absorption and leakage together, I = A t^-n + G, bend one way only:
on logarithmic axes the current falls ever less steeply.  So from the last reading on it lies between staying as it
is (all of it leakage by now) and falling on as steeply as it last did (no leakage at all).  Where a record has
readings enough, the forecast of :mod:`soakage.physics.forecast` is used instead.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soakage.app.capture import Progress, Taken
from soakage.errors import UsageError
from soakage.methods.base import Shape
from soakage.physics.forecast import forecast_index
from soakage.units import Bound, Measured

STEEPEST = 1.2
"""Exponent no absorption current exceeds by much (common practice, no source)."""
SCATTER = 0.08
"""Of one reading from a display, as a share (common practice, no source)."""
OFF = 0.15
"""How far outside the band a reading is asked about (ours)."""
SISTER = 10.0
"""Ratio to the reading of a sister section at the same mark that is asked about (ours)."""
FIRST, INDEX = 60.0, 600.0
DERIVED = "between leakage alone and the last slope going on; derived"
FORECAST = "forecast from the shape of the curve, 90 %; derived, coverage measured by simulation"
_POINTS = 9
_SLIPS = (1e-3, 1e-2, 1e-1, 10.0, 100.0, 1e3)


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a hold is heading for, if nothing changes.

    Parameters
    ----------
    band : tuple of (float, float, float)
        Time [s], lowest and highest resistance [ohm].
    index : tuple of (float, float) or None
        Lowest and highest polarization index.
    estimate : float or None
        Of the index, where a forecast gives one.
    source : str
        How it follows.
    """

    band: tuple[tuple[float, float, float], ...]
    index: tuple[float, float] | None
    estimate: float | None
    source: str


@dataclass(frozen=True, slots=True)
class Odd:
    """A reading to ask about.

    Parameters
    ----------
    number : int
        Of the reading.
    why : str
        before, band or sister.
    low, high : float
        What was expected [ohm].
    slip : float or None
        A factor of ten that would bring it there.
    """

    number: int
    why: str
    low: float
    high: float
    slip: float | None


Points = Sequence[tuple[float, float]]


def points(stand: Progress, before: float = math.inf) -> list[tuple[float, float]]:
    """Return time [s] and resistance [ohm] of the readings of a hold that are values, up to a time.

    One that is asked about and not answered yet is left out: nothing is concluded from it.
    """
    found: list[tuple[float, float]] = []
    shorted = math.inf if stand.sheet.discharge_at is None else stand.sheet.discharge_at
    for taken in stand.readings:
        if taken.time is None or not 0 < taken.time < before or taken.time > shorted:
            continue
        value = stand.resistance(taken)
        if value is None or value.bound is not None or value.value <= 0:
            continue
        band = expected(found, taken.time)
        if taken.stands or band is None or _outside(taken, value, band, "band") is None:
            found.append((taken.time, value.value))
    return found


def expected(past: Points, time: float) -> tuple[float, float] | None:
    """Return between which resistances a reading at a time lies if nothing changes [ohm].

    Parameters
    ----------
    past : sequence of (float, float)
        Times [s] and resistances [ohm] before it, rising in time.
    time : float
        [s], after the last.

    Returns
    -------
    tuple of float or None
        None where nothing was read before.

    References
    ----------
    ln I against ln t of A t^-n + G has a slope that only becomes less steep (derived): d ln I / d ln t =
    -n A t^-n / (A t^-n + G).
    """
    if not past:
        return None
    last_time, last = past[-1]
    steep = STEEPEST
    if len(past) > 1:
        early, before = next(((t, r) for t, r in reversed(past[:-1]) if t <= last_time / 2), past[0])
        span = math.log(last_time / early)
        steep = min(STEEPEST, max(0.0, math.log(last / before) / span) + math.sqrt(2) * SCATTER / span)
    grow = math.exp(steep * math.log(time / last_time))
    return last * (1 - SCATTER), last * grow * (1 + SCATTER)


def outlook(stand: Progress) -> Outlook | None:
    """Return what a hold is heading for; None where it is no hold, or too little was read."""
    shape = stand.sheet.made_by.shape
    if shape not in (Shape.HOLD, Shape.DISCHARGE) or not stand.sheet.marks:
        return None
    end = stand.sheet.discharge_at or stand.sheet.marks[-1].time
    past = points(stand)
    last = max((taken.time or 0.0 for taken in stand.readings), default=0.0)
    if len(past) < 2 or last >= end or stand.ended is not None:
        return None
    return _forecast(stand, past, end) or _bounds(past, end)


def _bounds(past: Points, end: float) -> Outlook:
    last = past[-1]
    times = np.geomspace(last[0], end, _POINTS)
    band = [(float(t), *(expected(past, float(t)) or (0.0, 0.0))) for t in times]
    first = next((r for t, r in past if abs(t - FIRST) < 1.0), None)
    index = None
    ahead = expected(past, INDEX) if last[0] < INDEX <= end else None
    if first is not None and ahead is not None:
        index = (ahead[0] / first, ahead[1] / first)
    return Outlook(tuple(band), index, None, DERIVED)


def _forecast(stand: Progress, past: Points, end: float) -> Outlook | None:
    volts = stand.voltage
    if volts is None or end < INDEX:
        return None
    time = np.array([t for t, _ in past])
    current = np.array([volts / r for _, r in past])
    try:
        seen = forecast_index(time, current, mark=INDEX)
    except UsageError:
        return None
    low, high = seen.band()
    band = tuple(
        (float(t), volts / float(b), volts / float(a)) for t, a, b in zip(seen.time, low, high, strict=True)
    )
    return Outlook(band, (seen.lower, seen.upper), seen.estimate, FORECAST)


def odd(stand: Progress, taken: Taken, sisters: Sequence[Progress] = ()) -> Odd | None:
    """Return what is odd about a reading; None where nothing is, or whoever read it said that it stands.

    Parameters
    ----------
    stand : Progress
        Its sheet.
    taken : Taken
        The reading.
    sisters : sequence of Progress
        Other sheets of the visit.
    """
    value = stand.resistance(taken)
    if taken.stands or value is None or taken.time is None or value.value <= 0:
        return None
    shape = stand.sheet.made_by.shape
    if shape in (Shape.HOLD, Shape.DISCHARGE):
        band = expected(points(stand, taken.time), taken.time)
        if band is not None and (found := _outside(taken, value, band, "band")):
            return found
    if taken.mark is not None and shape is not Shape.RAMP:
        beside = [
            r.value
            for one in sisters
            if one.sheet.method == stand.sheet.method and (other := one.at_mark(taken.mark)) is not None
            and (r := one.resistance(other)) is not None and r.bound is None and r.value > 0
        ]  # fmt: skip
        if beside:
            return _outside(taken, value, (min(beside) / SISTER, max(beside) * SISTER), "sister")
    return None


def _outside(taken: Taken, value: Measured, band: tuple[float, float], why: str) -> Odd | None:
    low, high = band[0] * (1 - OFF), band[1] * (1 + OFF)
    below = value.value < low and value.bound is not Bound.LOWER
    above = value.value > high and value.bound is not Bound.UPPER
    if not below and not above:
        return None
    slip = next(
        (k for k in sorted(_SLIPS, key=lambda k: abs(math.log(k))) if low <= value.value * k <= high), None
    )
    return Odd(taken.number, why, *band, slip if value.bound is None else None)
