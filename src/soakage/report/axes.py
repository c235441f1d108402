"""Ticks and extents of chart axes: marks of the trade on time, 1-2-5 on figures, units on every tick."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from soakage.units import format_quantity

_TIMES = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1200, 1800, 3600, 7200, 18_000, 36_000, 86_400)


@dataclass(frozen=True, slots=True)
class Axis:
    """An axis as drawn: its extent, ticks with their texts, logarithmic or not."""

    low: float
    high: float
    ticks: tuple[float, ...]
    texts: tuple[str, ...]
    log: bool

    @property
    def label_expression(self) -> str:
        """Vega expression that gives each tick its text."""
        cases = [f"datum.value=={t!r}?{s!r}" for t, s in zip(self.ticks, self.texts, strict=True)]
        return ":".join([*cases, "''"])


def axis(values: Iterable[float], dimension: str, *, log: bool, room: int = 6, share: float = 0.06) -> Axis:
    """Return the axis that holds some values.

    Parameters
    ----------
    values : iterable of float
        In SI; on a log axis those at or below zero are left out.
    dimension : str
        Dimension of :mod:`soakage.units`, for the texts.
    log : bool
        Logarithmic, else linear from zero.
    room : int
        Most ticks.
    share : float
        Margin as a share of the extent (of its logarithm on a log axis).

    Returns
    -------
    Axis
        With at least two ticks where the extent allows.
    """
    drawn = [v for v in values if math.isfinite(v) and (v > 0 or not log)]
    if not drawn:
        drawn = [1.0, 10.0]
    low, high = min(drawn), max(drawn)
    if not log:
        low, high = min(0.0, low), max(0.0, high) or 1.0
        high += (high - low) * share
        ticks = _linear_ticks(low, high, room, dimension)
        return Axis(low, high, ticks, _texts(ticks, dimension), log=False)
    margin = max(math.log10(high / low) * share, 0.04 if dimension == "time" else 0.12)
    low, high = low / 10**margin, high * 10**margin
    if dimension == "time":
        ticks = _thinned([t for t in _TIMES if low <= t <= high], room)
    else:
        ticks = _log_ticks(low, high, room)
    return Axis(low, high, ticks, _texts(ticks, dimension), log=True)


def _texts(ticks: Iterable[float], dimension: str) -> tuple[str, ...]:
    return tuple(format_quantity(t, dimension, trim=True) for t in ticks)


def _thinned(ticks: list[int], room: int) -> tuple[float, ...]:
    """Return at most `room` ticks; the marks of the trade stay longest."""
    order = (600, 60, 300, 30, 15, 1800, 3600, 120, 5, 1, 10, 7200, 2, 1200, 18_000, 36_000, 86_400)
    kept = sorted(ticks, key=order.index)[:room]
    return tuple(float(t) for t in sorted(kept))


def _log_ticks(low: float, high: float, room: int) -> tuple[float, ...]:
    decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    for steps in ((1, 2, 5), (1, 3), (1,)):
        found = [m * 10.0**d for d in decades for m in steps if low <= m * 10.0**d <= high]
        if len(found) <= room:
            break
    every = math.ceil(len(found) / room) if found else 1
    return tuple(float(f"{t:.6g}") for t in found[::every])


def _linear_ticks(low: float, high: float, room: int, dimension: str) -> tuple[float, ...]:
    raw = (high - low) / room
    if dimension == "time":
        step = next((float(t) for t in _TIMES if t >= raw), raw)
    else:
        power = 10.0 ** math.floor(math.log10(raw))
        step = next(m * power for m in (1, 2, 2.5, 5, 10) if m * power >= raw * (1 - 1e-9))
    first = math.ceil(low / step - 1e-9)
    return tuple(float(f"{i * step:.6g}") for i in range(first, math.floor(high / step + 1e-9) + 1))
