"""The plot of a sheet while it is taken: the marks on their own axis above, readings and outlook below it.

A drawing of its own, apart from the report's charts: it is drawn anew with every reading, and the page moves the line
of now over it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

from soakage.app.capture import Progress
from soakage.methods.base import Shape
from soakage.units import Bound, format_quantity

Row = dict[str, Any]
_LEFT, _RIGHT, _TOP, _FOOT = 66.0, 8.0, 44.0, 26.0
WIDE, NARROW = (574.0, 400.0), (358.0, 236.0)
_LEVELS = (1, 3)
_MOST_TICKS = 6


@dataclass(frozen=True, slots=True)
class Axes:
    """Both axes, logarithmic: ends in SI, and the size of the drawing in pixels."""

    first: float
    last: float
    low: float
    high: float
    wide: float
    tall: float

    def x(self, time: float) -> float:
        """Return the place of a time [s]."""
        share = math.log(max(time, self.first) / self.first) / math.log(self.last / self.first)
        return _LEFT + min(share, 1.0) * (self.wide - _LEFT - _RIGHT)

    def y(self, value: float) -> float:
        """Return the place of a value."""
        share = math.log(value / self.low) / math.log(self.high / self.low)
        return self.tall - _FOOT - min(max(share, 0.0), 1.0) * (self.tall - _TOP - _FOOT)


def plotted(stand: Progress) -> tuple[str, list[tuple[float, float, Bound | None]]]:
    """Return the quantity that is drawn, and time [s], value and bound of each reading that can be."""
    current = stand.sheet.made_by.shape is Shape.RAMP
    found = []
    for taken in stand.readings:
        value = (
            taken.value
            if current and taken.quantity == "current"
            else None
            if current
            else stand.resistance(taken)
        )
        if value is not None and value.value > 0 and taken.time:
            found.append((taken.time, value.value, value.bound))
    return ("current" if current else "resistance"), found


def drawing(stand: Progress, state: Row, size: tuple[float, float], need: tuple[float, float] | None) -> str:
    """Return the plot as SVG in the page's own inks.

    Parameters
    ----------
    stand : Progress
        Where the sheet stands.
    state : dict
        As :func:`soakage.web.taking_view.sheet_state` gives it.
    size : tuple of float
        Width and height [px].
    need : tuple of float or None
        Limit of the index and the resistance it needs [ohm].

    Returns
    -------
    str
        One ``svg`` element; empty where the sheet has no marks.
    """
    calls: list[Row] = state["calls"]
    if not calls:
        return ""
    quantity, points = plotted(stand)
    outlook = state["outlook"]
    axes = _axes(calls, points, outlook, need, size)
    parts = [*_grid(axes, calls, quantity), *_outlook(axes, outlook), *_need(axes, need, calls)]
    parts += [*_points(axes, points), *_track(axes, calls, stand)]
    parts.append(f'<path class="now" data-now="" d="M0 {_TOP - 22:.0f}V{axes.tall - _FOOT:.0f}"/>')
    ends = (
        f'data-first="{axes.first:.4f}" data-last="{axes.last:.4f}" data-left="{_LEFT}" data-right="{_RIGHT}"'
    )
    return (
        f'<svg class="taking-plot" role="img" aria-label="{escape(_alt(points, quantity, outlook))}" '
        f'viewBox="0 0 {axes.wide:.0f} {axes.tall:.0f}" {ends}>{"".join(parts)}</svg>'
    )


def _axes(
    calls: Sequence[Row],
    points: Sequence[tuple[float, float, Bound | None]],
    outlook: Row | None,
    need: tuple[float, float] | None,
    size: tuple[float, float],
) -> Axes:
    times = [float(call["time"]) for call in calls]
    first = min([times[0], *(t for t, _, _ in points)]) / 1.5
    values = [value for _, value, _ in points] or [1e8, 1e9]
    if outlook:
        values += [edge for _, low, high in outlook["band"] for edge in (low, high)]
    if need:
        values.append(need[1])
    low, high = min(values) / 1.4, max(values) * 1.4
    if high / low < 8:
        middle = math.sqrt(low * high)
        low, high = middle / math.sqrt(8), middle * math.sqrt(8)
    return Axes(max(first, 0.5), max(times[-1] * 1.12, first * 3), low, high, *size)


def _grid(axes: Axes, calls: Sequence[Row], quantity: str) -> list[str]:
    found, foot = [], axes.tall - _FOOT
    for power in range(math.floor(math.log10(axes.low)), math.ceil(math.log10(axes.high)) + 1):
        for step in _LEVELS:
            value = step * 10.0**power
            if axes.low <= value <= axes.high:
                y = axes.y(value)
                found.append(f'<path class="grid" d="M{_LEFT} {y:.1f}H{axes.wide - _RIGHT}"/>')
                found.append(_text(_LEFT - 8, y + 5, format_quantity(value, quantity, trim=True), "end"))
    found.append(f'<path class="axis" d="M{_LEFT} {foot}H{axes.wide - _RIGHT}"/>')
    used = -math.inf
    for call in calls if len(calls) <= _MOST_TICKS else _spread(calls):
        x = axes.x(call["time"])
        if x - used < 48:
            continue
        used = x
        found.append(f'<path class="axis" d="M{x:.1f} {foot}v5"/>')
        found.append(_text(min(x, axes.wide - 24), foot + 20, call["label"], "middle"))
    return found


def _spread(calls: Sequence[Row]) -> list[Row]:
    return [call for place, call in enumerate(calls) if place % 2 == 1 or place == len(calls) - 1]


def _outlook(axes: Axes, outlook: Row | None) -> list[str]:
    if not outlook:
        return []
    lows = [(axes.x(t), axes.y(low)) for t, low, _ in outlook["band"]]
    highs = [(axes.x(t), axes.y(high)) for t, _, high in outlook["band"]]
    ring = " ".join(f"{x:.1f},{y:.1f}" for x, y in (*lows, *reversed(highs)))
    x, y = highs[-1]
    return [
        f'<polygon class="band-ahead" points="{ring}"/>',
        _text(min(x, axes.wide - _RIGHT), max(y - 8, _TOP + 12), "if nothing changes", "end", "ahead"),
    ]


def _need(axes: Axes, need: tuple[float, float] | None, calls: Sequence[Row]) -> list[str]:
    if need is None or float(calls[-1]["time"]) < 600:
        return []
    y, right = axes.y(need[1]), axes.wide - _RIGHT
    left = right - 76
    strokes = "".join(f"M{x:.0f} {y:.1f}l-6 8" for x in range(round(left) + 6, round(right) + 1, 6))
    words = f"index {need[0]:.1f} needs {format_quantity(need[1], 'resistance')}"
    return [
        f'<path class="limit" d="M{left:.0f} {y:.1f}H{right}"/>',
        f'<path class="axis" d="{strokes}"/>',
        _text(right, y + 24, words, "end", "key"),
    ]


def _points(axes: Axes, points: Sequence[tuple[float, float, Bound | None]]) -> list[str]:
    places = [(axes.x(t), axes.y(value), bound) for t, value, bound in points]
    found = []
    if len(places) > 1:
        line = "L".join(f"{x:.1f} {y:.1f}" for x, y, _ in places)
        found.append(f'<path class="measured" d="M{line}"/>')
    for x, y, bound in places:
        found.append(f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="5"/>')
        if bound is not None:
            up = -1 if bound is Bound.LOWER else 1
            found.append(
                f'<path class="arrow" d="M{x:.1f} {y:.1f}v{14 * up}m-5 {-6 * up}l5 {6 * up}l5 {-6 * up}"/>'
            )
    return found


def _track(axes: Axes, calls: Sequence[Row], stand: Progress) -> list[str]:
    """Draw the marks on the time axis of the plot: read ones thick, the others thin."""
    y = _TOP - 26
    found = [
        f'<path class="track" d="M{_LEFT} {y}H{axes.wide - _RIGHT}"/>',
        f'<path class="track-done" data-done="" d="M{_LEFT} {y}H{_LEFT}"/>',
    ]
    for call in calls:
        read = stand.at_mark(call["time"]) is not None
        kind = "read" if read else "to-come"
        found.append(
            f'<path class="call {kind}" data-call="{call["time"]:g}" d="M{axes.x(call["time"]):.1f} {y - 10}v20"/>'
        )
    return found


def _alt(points: Sequence[tuple[float, float, Bound | None]], quantity: str, outlook: Row | None) -> str:
    if not points:
        return "No reading yet; the marks stand on the axis of time."
    time, value, _ = points[-1]
    told = f"{len(points)} readings, the last {format_quantity(value, quantity)} at {format_quantity(time, 'time')}."
    if outlook and outlook["index_shown"]:
        told += f" If nothing changes the polarization index comes to {outlook['index_shown']}."
    return told


def _text(x: float, y: float, words: str, anchor: str, kind: str = "") -> str:
    style = f' class="{kind}"' if kind else ""
    return f'<text{style} x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(words)}</text>'
