"""Trends and a work list as plain text for a terminal."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from soakage.app.due import WorkItem
from soakage.app.history import HistoryPoint
from soakage.app.trend_result import Fall, Trend
from soakage.cli.wrapping import wrapped
from soakage.quantities import lookup
from soakage.units import Bound, Measured, celsius, format_quantity

NBSP = "\N{NO-BREAK SPACE}"
DASH = "\N{EN DASH}"
_SIGN = {Bound.LOWER: f">{NBSP}", Bound.UPPER: f"<{NBSP}", None: ""}


def trend_text(asset: str, trends: Sequence[Trend], due: Iterable[WorkItem] = ()) -> Iterator[str]:
    """Yield the lines of an asset's trends, the guidance beside every date, and what is due next."""
    yield f"Trends: {asset}"
    if not trends:
        yield "  No test with a day is known."
    for trend in trends:
        yield ""
        yield from _trend(trend)
    if trends:
        yield ""
        yield wrapped(trends[0].caution)
    yield from work_list_text(due)


def work_list_text(items: Iterable[WorkItem]) -> Iterator[str]:
    """Yield the lines of a work list, in its order."""
    for number, item in enumerate(items):
        if number == 0:
            yield ""
            yield "Next tests"
        title = ", ".join(part for part in (item.asset, item.section) if part)
        first = (
            f"  {item.due.isoformat()}  {title}: {str(item.last_status).upper()} on {item.last.isoformat()}."
        )
        yield wrapped(f"{first} Due {item.why}. {item.source}", "              ", "  ")


def _trend(trend: Trend) -> Iterator[str]:
    kind = trend.condition
    yield wrapped(f"{trend.section}: {lookup(trend.quantity).name}", "  ", "")
    how = [kind.method]
    if kind.test_voltage is not None:
        how.append(format_quantity(kind.test_voltage, "voltage", trim=True))
    if kind.rule is not None:
        base = "" if kind.base_temperature is None else f" at {celsius(kind.base_temperature):g}{NBSP}°C"
        how.append(f"rule {kind.rule}{base}")
    sets = (
        ("tested", kind.tested),
        ("earthed", kind.earthed),
        ("guarded", kind.guarded),
        ("with", kind.attached),
    )
    how += [f"{word} {', '.join(names)}" for word, names in sets if names]
    if kind.neutral:
        how.append(f"neutral {kind.neutral}")
    yield wrapped("; ".join(how), "    ", "  ")
    for point in trend.points:
        doubted = "  doubted" if point.test in trend.suspects else ""
        yield f"    {point.day.isoformat()}  {_value(point):>12}  {point.status}{doubted}"
    for series in trend.earlier:
        first, last = series.points[0].day, series.points[-1].day
        yield wrapped(
            f"Before it {len(series.points)} tests, {first.isoformat()} to {last.isoformat()}, not joined: "
            f"{series.ended_by}.",
            "    ", "  ",
        )  # fmt: skip
    yield wrapped(f"Slope: {_slope(trend)}", "    ", "  ")
    if trend.mann_kendall is not None:
        p = _probability(trend.mann_kendall.p)
        yield wrapped(f"Mann-Kendall: score {trend.mann_kendall.score:+.0f}, p {p}.", "    ", "  ")
    falls = [
        _fall(f, word) for f, word in ((trend.fall_from_last, "last"), (trend.fall_from_first, "first")) if f
    ]
    if falls:
        yield wrapped(f"{'; '.join(falls)}.", "    ", "  ")
    yield from _beside(trend)
    for note in trend.notes:
        yield wrapped(note, "    ", "  - ")
    yield wrapped(_reach(trend), "    ", "  ")


def _value(point: HistoryPoint) -> str:
    return format_quantity(Measured(point.value, point.bound), lookup(point.quantity).dimension)


def _slope(trend: Trend) -> str:
    if trend.slope is None:
        return trend.slope_reason
    per_year = (
        f"{NBSP}%{NBSP}a{NBSP}year" if trend.transform == "ln" else f" {lookup(trend.quantity).unit} a year"
    )
    low, value, high = (
        "open" if figure is None else _figure(figure, trend.transform)
        for figure in (trend.slope.lower, trend.slope.value, trend.slope.upper)
    )
    return f"{value}{per_year} ({low} to {high}, 95{NBSP}%)."


def _figure(slope: float, transform: str) -> str:
    figure = f"{100 * math.expm1(slope):+.1f}" if transform == "ln" else f"{slope:+.3g}"
    return figure.replace("-", "\N{MINUS SIGN}")


def _probability(p: float) -> str:
    return "below 0.001" if p < 0.001 else f"{p:.3f}"


def _fall(fall: Fall, word: str) -> str:
    # A fall at most is a value at least: of a rise the words change places.
    sign = fall.bound
    if fall.value < 0 and sign is not None:
        sign = Bound.UPPER if sign is Bound.LOWER else Bound.LOWER
    way = "below" if fall.value >= 0 else "above"
    return f"{_SIGN[sign]}{abs(100 * fall.value):.0f}{NBSP}% {way} the {word} ({fall.since.isoformat()})"


def _beside(trend: Trend) -> Iterator[str]:
    sisters = trend.sisters
    if sisters is not None:
        others = ", ".join(
            f"{name} {format_quantity(Measured(value, bound), lookup(trend.quantity).dimension)}"
            for name, value, bound in sisters.values
        )
        share = (
            "" if sisters.ratio is None else f": {_SIGN[sisters.bound]}{sisters.ratio:.2g} of their median"
        )
        yield wrapped(f"Sister sections of that visit ({others}){share}.", "    ", "  ")
    peers = trend.peers
    if peers is not None and peers.percentile is None:
        yield wrapped(f"Peers ({peers.group}): {peers.reason}", "    ", "  ")
    elif peers is not None and peers.lower is not None and peers.upper is not None:
        open_by_bounds = peers.upper - peers.lower > 0.5
        at = f"{peers.lower:.0f} to {peers.upper:.0f}" if open_by_bounds else f"{peers.percentile:.0f}"
        yield wrapped(f"Percentile among {peers.count} peers ({peers.group}): {at}.", "    ", "  ")


def _reach(trend: Trend) -> str:
    reach = trend.reaches
    if reach is None:
        return f"No date: {trend.reason}"
    ends = [DASH if day is None else day.isoformat() for day in (reach.lower, reach.upper)]
    limit = format_quantity(reach.limit, lookup(trend.quantity).dimension)
    return (
        f"If the line went on it would reach {limit} ({reach.criterion}) on {reach.at.isoformat()} "
        f"({ends[0]} to {ends[1]}, 95{NBSP}%). That is the date of a criterion, not of a failure."
    )
