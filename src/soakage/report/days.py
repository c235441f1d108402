"""Days on the axis of a chart: years with their fraction, and back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime

from soakage.app.trend_series import day_of, years
from soakage.report.figures import DASH, day

DIMENSION = "year"
"""Name of the dimension of such an axis; :mod:`soakage.units` has none for it."""
_START = 2000.0
_STEPS = (1, 2, 5, 10, 20, 50)
_QUARTERS = ("Jan", "Apr", "Jul", "Oct")
Fits = Callable[[Sequence[float]], bool]


def place(at: date | datetime) -> float:
    """Return where a day stands on the axis [years]."""
    return _START + years(at)


def day_at(value: float) -> date | None:
    """Return the day at a place of the axis, None beyond the calendar."""
    return day_of(value - _START)


def day_text(value: float) -> str:
    """Return the day at a place of the axis in words."""
    found = day_at(value)
    return DASH if found is None else day(found)


def tick_text(value: float) -> str:
    """Return what is written at a tick: a year, or a quarter with its year."""
    whole = round(value)
    if abs(value - whole) < 0.02:
        return str(whole)
    return f"{_QUARTERS[round(4 * (value % 1)) % 4]} {int(value)}"


def extent(values: Sequence[float]) -> tuple[float, float]:
    """Return the extent of an axis that holds some places: at least a year, with room at both ends."""
    low, high = min(values), max(values)
    room = max(0.04 * (high - low), 0.5 * (1 - (high - low)), 0.1)
    return low - room, high + room


def ticks(low: float, high: float, fits: Fits) -> tuple[float, ...]:
    """Return ticks at whole years, at quarters where there are few years; as many as fit."""
    if high - low < 2.5:
        quarters = [n / 4 for n in range(int(low * 4), int(high * 4) + 2) if low <= n / 4 <= high]
        if len(quarters) > 1 and fits(quarters):
            return tuple(quarters)
    found: list[float] = []
    for step in _STEPS:
        first = -(-int(low + 0.999999) // step) * step
        found = [float(year) for year in range(first, int(high) + 1, step) if low <= year <= high]
        if fits(found):
            break
    return tuple(found)
