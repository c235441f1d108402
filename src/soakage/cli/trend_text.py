"""Trends and a work list as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from soakage.app.due import WorkItem
from soakage.app.history import HistoryPoint
from soakage.app.trend_result import Trend
from soakage.cli.wrapping import wrapped
from soakage.quantities import lookup
from soakage.report.figures import NBSP
from soakage.report.trend_words import beside_texts, fall_text, reach_text, slope_text
from soakage.units import Measured, celsius, format_quantity


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
    yield wrapped(f"Slope: {slope_text(trend)}", "    ", "  ")
    if trend.mann_kendall is not None:
        p = _probability(trend.mann_kendall.p)
        yield wrapped(f"Mann-Kendall: score {trend.mann_kendall.score:+.0f}, p {p}.", "    ", "  ")
    falls = [
        fall_text(f, word)
        for f, word in ((trend.fall_from_last, "last"), (trend.fall_from_first, "first"))
        if f
    ]
    if falls:
        yield wrapped(f"{'; '.join(falls)}.", "    ", "  ")
    for said in beside_texts(trend):
        yield wrapped(said, "    ", "  ")
    for note in trend.notes:
        yield wrapped(note, "    ", "  - ")
    yield wrapped(reach_text(trend), "    ", "  ")


def _value(point: HistoryPoint) -> str:
    return format_quantity(Measured(point.value, point.bound), lookup(point.quantity).dimension)


def _probability(p: float) -> str:
    return "below 0.001" if p < 0.001 else f"{p:.3f}"
