"""What a trend says, in sentences: slope with its interval, falls, sisters, peers, the date of a criterion."""

from __future__ import annotations

import math
from collections.abc import Iterator

from soakage.app.trend_result import Fall, Trend
from soakage.quantities import lookup
from soakage.report.figures import DASH, NBSP
from soakage.units import Bound, Measured, format_quantity

_SIGN = {Bound.LOWER: f">{NBSP}", Bound.UPPER: f"<{NBSP}", None: ""}


def slope_text(trend: Trend) -> str:
    """Return the slope with its 95 % interval, or why there is none."""
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


def fall_text(fall: Fall, word: str) -> str:
    """Return how far the latest value lies below an earlier one."""
    # A fall at most is a value at least: of a rise the words change places.
    sign = fall.bound
    if fall.value < 0 and sign is not None:
        sign = Bound.UPPER if sign is Bound.LOWER else Bound.LOWER
    way = "below" if fall.value >= 0 else "above"
    return f"{_SIGN[sign]}{abs(100 * fall.value):.0f}{NBSP}% {way} the {word} ({fall.since.isoformat()})"


def beside_texts(trend: Trend) -> Iterator[str]:
    """Yield what the latest value stands beside: sister sections, peers."""
    sisters = trend.sisters
    if sisters is not None:
        others = ", ".join(
            f"{name} {format_quantity(Measured(value, bound), lookup(trend.quantity).dimension)}"
            for name, value, bound in sisters.values
        )
        share = (
            "" if sisters.ratio is None else f": {_SIGN[sisters.bound]}{sisters.ratio:.2g} of their median"
        )
        yield f"Sister sections of that visit ({others}){share}."
    peers = trend.peers
    if peers is not None and peers.percentile is None:
        yield f"Peers ({peers.group}): {peers.reason}"
    elif peers is not None and peers.lower is not None and peers.upper is not None:
        open_by_bounds = peers.upper - peers.lower > 0.5
        at = f"{peers.lower:.0f} to {peers.upper:.0f}" if open_by_bounds else f"{peers.percentile:.0f}"
        yield f"Percentile among {peers.count} peers ({peers.group}): {at}."


def reach_text(trend: Trend) -> str:
    """Return when a criterion would be reached if the line went on, or why no date is given."""
    reach = trend.reaches
    if reach is None:
        return f"No date: {trend.reason}"
    ends = [DASH if day is None else day.isoformat() for day in (reach.lower, reach.upper)]
    limit = format_quantity(reach.limit, lookup(trend.quantity).dimension)
    return (
        f"If the line went on it would reach {limit} ({reach.criterion}) on {reach.at.isoformat()} "
        f"({ends[0]} to {ends[1]}, 95{NBSP}%). That is the date of a criterion, not of a failure."
    )
