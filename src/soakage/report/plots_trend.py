"""The history of an asset as plots: one for each quantity and way of testing, its sections beside each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from soakage.app.history import HistoryPoint
from soakage.app.peers import peer_band
from soakage.app.remember import Remembered
from soakage.app.trend_result import Condition, Trend
from soakage.quantities import lookup
from soakage.report import days
from soakage.report.figures import NBSP, counted, day, dimension_of, listed
from soakage.standards.library import Library
from soakage.units import Bound, Measured, celsius, format_quantity

Plot = dict[str, Any]
_SIDES = {Bound.LOWER: 1, Bound.UPPER: -1}
_NEED = ("unfit", "investigate", "invalid test", "not judged", "watch", "sound", "not applicable")


@dataclass(frozen=True, slots=True)
class History:
    """One quantity of an asset, tested one way, over the years.

    Parameters
    ----------
    quantity : str
        Its id.
    condition : Condition
        How it was tested.
    trends : tuple of Trend
        One for each section, the one in front first.
    plot : dict or None
        As in :mod:`soakage.report.plots`; None where there is one test only.
    """

    quantity: str
    condition: Condition
    trends: tuple[Trend, ...]
    plot: Plot | None

    @property
    def front(self) -> Trend:
        """The section that stands in front."""
        return self.trends[0]

    @property
    def how(self) -> str:
        """How it was tested, in words."""
        kind = self.condition
        parts = [kind.method.replace("-", " ")]
        if kind.test_voltage is not None:
            parts.append(format_quantity(kind.test_voltage, "voltage", trim=True))
        if kind.base_temperature is not None:
            parts.append(f"at {celsius(kind.base_temperature):g}{NBSP}°C by the rule {kind.rule}")
        return ", ".join(parts)


def histories(found: Remembered, library: Library, section: str = "") -> list[History]:
    """Return the histories of an asset, those tested last and oftenest first within a quantity.

    Parameters
    ----------
    found : Remembered
        From :func:`soakage.app.remember.remember`.
    library : Library
        The criteria files, for what makes a peer.
    section : str
        The section wanted in front; else the one that stands worst.
    """
    groups: dict[tuple[Any, ...], list[Trend]] = {}
    for trend in found.trends:
        kind = trend.condition
        how = (
            kind.method,
            kind.test_voltage,
            kind.rule,
            kind.base_temperature,
            bool(kind.guarded),
            kind.attached,
        )
        groups.setdefault((trend.quantity, *how), []).append(trend)
    order = list(dict.fromkeys(trend.quantity for trend in found.trends))
    made = []
    for (quantity, *_), trends in groups.items():
        first = sorted(trends, key=lambda trend: _need(trend, section))
        plot = _plot(first, found, library) if max(len(t.points) for t in first) > 1 else None
        made.append(History(quantity, first[0].condition, tuple(first), plot))
    newest = {id(one): max(trend.points[-1].day for trend in one.trends) for one in made}
    return sorted(
        made,
        key=lambda one: (order.index(one.quantity), -newest[id(one)].toordinal(), -len(one.front.points)),
    )  # fmt: skip


def _need(trend: Trend, section: str) -> tuple[bool, int, int, float]:
    latest = trend.points[-1]
    return trend.section != section, -latest.day.toordinal(), _NEED.index(latest.status), latest.value


def _plot(trends: Sequence[Trend], found: Remembered, library: Library) -> Plot:
    front = trends[0]
    quantity, dimension = front.quantity, dimension_of(front.quantity)
    points = _points(front)
    plain = [p for p in points if p.bound is None]
    lines: list[dict[str, Any]] = []
    for sister in trends[1:]:
        beside = [_at(p) for p in _points(sister) if p.bound is None]
        if beside:
            lines.append({"role": "beside", "points": beside, "text": sister.section})
    lines.append({"role": "measured", "points": [_at(p) for p in plain]})
    latest = front.points[-1]
    plot: Plot = {
        "kind": "history",
        "title": lookup(quantity).name,
        "alt": _alt(trends),
        "x": {"dimension": days.DIMENSION, "log": False},
        "y": {"dimension": dimension, "log": dimension == "resistance"},
        "lines": lines,
        "rings": [],
        "bounds": [[*_at(p), _SIDES[p.bound]] for p in points if p.bound is not None],
        "labels": [[*_at(latest), f"{front.section}{NBSP}{_written(latest)}"]],
        "needs": [],
        "limits": _limits(found, front),
        "rules": _events(found, front, points),
    }
    if found.peers is not None and (band := peer_band(latest, found.peers, library)):
        low, high, count = band
        if high > low > 0:
            plot["peers"] = {"low": low, "high": high, "text": f"middle 80{NBSP}% of {count} like sections"}
    return plot


def _points(trend: Trend) -> list[HistoryPoint]:
    """Return the points of the series before, too: a rule stands between them where the insulation is another."""
    return [*(point for series in trend.earlier for point in series.points), *trend.points]


def _at(point: HistoryPoint) -> list[float]:
    return [days.place(point.at), point.value]


def _written(point: HistoryPoint) -> str:
    return format_quantity(Measured(point.value, point.bound), dimension_of(point.quantity))


def _limits(found: Remembered, trend: Trend) -> list[dict[str, Any]]:
    told: dict[str, dict[str, Any]] = {}
    dimension = dimension_of(trend.quantity)
    for limit in found.limits.get((trend.section, trend.quantity), ()):
        for level, side, word in ((limit.lower, "below", "at least"), (limit.upper, "above", "at most")):
            if level is not None and (level > 0 or dimension != "resistance"):
                text = f"{word} {format_quantity(level, dimension, trim=True)}"
                told.setdefault(text, {"level": level, "side": side, "text": text})
    return sorted(told.values(), key=lambda entry: -float(entry["level"]))[:2]


def _events(found: Remembered, trend: Trend, points: Sequence[HistoryPoint]) -> list[dict[str, Any]]:
    first, last = points[0].day, points[-1].day
    return [
        {"at": days.place(event.at), "text": str(event.kind)}
        for event in found.events
        if first <= event.at <= last and event.section in ("", trend.section)
    ]


def _alt(trends: Sequence[Trend]) -> str:
    front = trends[0]
    first, latest = _points(front)[0], front.points[-1]
    told = f"{front.section}: from {_written(first)} on {_on(first.day)} to {_written(latest)} on {_on(latest.day)}, "
    told += f"{counted(len(_points(front)), 'test')}."
    if trends[1:]:
        told += f" Beside it {listed([trend.section for trend in trends[1:]])}."
    return told


def _on(when: date) -> str:
    return day(when)
