"""Ticks and extents of chart axes: marks of the trade on time, 1-2-5 on figures, units on every tick."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from soakage.report import days
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

    def share(self, value: float) -> float:
        """Return where a value lies along the axis, 0 at its low end and 1 at its high one."""
        return _share(value, self.low, self.high, log=self.log)

    @property
    def label_expression(self) -> str:
        """Vega expression that gives each tick its text."""
        cases = [f"datum.value=={t!r}?{s!r}" for t, s in zip(self.ticks, self.texts, strict=True)]
        return ":".join([*cases, "''"])


def axis(
    values: Iterable[float], dimension: str, *, log: bool, length: float, text: float, upright: bool = False
) -> Axis:
    """Return the axis that holds some values.

    Parameters
    ----------
    values : iterable of float
        In SI; on a log axis those at or below zero are left out.
    dimension : str
        Dimension of :mod:`soakage.units`, for the texts; or that of :mod:`soakage.report.days`.
    log : bool
        Logarithmic, else linear from zero.
    length, text : float
        Length of the axis and size of its texts, in one unit: ticks stand so far apart that no text touches
        the next.
    upright : bool
        True for the y axis, where the height of a text counts and not its width.

    Returns
    -------
    Axis
        With at least two ticks where the extent allows.
    """
    drawn = [v for v in values if math.isfinite(v) and (v > 0 or not log)]
    if not drawn:
        drawn = [1.0, 10.0]
    low, high = min(drawn), max(drawn)
    if dimension == days.DIMENSION:
        low, high = days.extent(drawn)
    elif not log:
        low, high = min(0.0, low), max(0.0, high) or 1.0
        high += (high - low) * (0.08 if upright else 0.03)
    else:
        margin = max(math.log10(high / low) * (0.08 if upright else 0.03), 0.12 if upright else 0.04)
        low, high = low / 10**margin, high * 10**margin

    def fits(ticks: Sequence[float]) -> bool:
        if upright:
            need = [1.9 * text] * len(ticks)
        else:
            need = [0.56 * text * len(s) + 0.8 * text for s in _texts(ticks, dimension)]
        places = [length * _share(t, low, high, log=log) for t in ticks]
        gaps = zip(pairwise(places), pairwise(need), strict=True)
        return all(b - a >= (wide_a + wide_b) / 2 for (a, b), (wide_a, wide_b) in gaps)

    if dimension == days.DIMENSION:
        ticks = days.ticks(low, high, fits)
    elif not log:
        ticks = _linear_ticks(low, high, dimension, fits)
    elif dimension == "time":
        ticks = _marks([t for t in _TIMES if low <= t <= high], fits)
    else:
        ticks = _log_ticks(low, high, fits)
    return Axis(low, high, ticks, _texts(ticks, dimension), log=log)


Fits = Callable[[Sequence[float]], bool]


def _share(value: float, low: float, high: float, *, log: bool) -> float:
    return math.log(value / low) / math.log(high / low) if log else (value - low) / (high - low)


def _texts(ticks: Iterable[float], dimension: str) -> tuple[str, ...]:
    if dimension == days.DIMENSION:
        return tuple(days.tick_text(t) for t in ticks)
    return tuple(format_quantity(t, dimension, trim=True) for t in ticks)


def _marks(ticks: Sequence[float], fits: Fits) -> tuple[float, ...]:
    """Return the ticks that fit; the marks of the trade stay longest."""
    order = (60, 600, 300, 30, 15, 1800, 3600, 120, 5, 1, 10, 7200, 2, 1200, 18_000, 36_000, 86_400)
    kept: list[float] = []
    for tick in sorted(ticks, key=order.index):
        if fits(sorted([*kept, float(tick)])):
            kept.append(float(tick))
    return tuple(sorted(kept))


def _log_ticks(low: float, high: float, fits: Fits) -> tuple[float, ...]:
    decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    found: list[float] = []
    for steps in ((1, 2, 5), (1, 3), (1,)):
        found = [t for d in decades for m in steps if low <= (t := float(f"{m * 10.0**d:.6g}")) <= high]
        if fits(found):
            return tuple(found)
    every = next((n for n in range(2, len(found)) if fits(found[::n])), max(1, len(found)))
    return tuple(found[::every])


def _linear_ticks(low: float, high: float, dimension: str, fits: Fits) -> tuple[float, ...]:
    power = 10.0 ** math.floor(math.log10((high - low) / 10))
    steps: list[float] = [m * power for m in (1, 2, 2.5, 5, 10, 20, 25, 50, 100)]
    if dimension == "time":
        steps = [float(t) for t in _TIMES]
    ticks: tuple[float, ...] = (low, high)
    for step in steps:
        count = (high - low) / step
        if count > 12:
            continue
        first = math.ceil(low / step - 1e-9)
        ticks = tuple(float(f"{i * step:.6g}") for i in range(first, math.floor(high / step + 1e-9) + 1))
        if fits(ticks):
            break
    return ticks
