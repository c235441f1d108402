"""The history of an asset on a page: a chart for each quantity, what its line says, and what it does not."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from fastapi import Request

from soakage.app.remember import Remembered, remember
from soakage.app.trend_result import Trend
from soakage.quantities import lookup
from soakage.report.figures import counted, day, listed
from soakage.report.plots_trend import History, histories
from soakage.report.trend_words import beside_texts, fall_text, reach_text, slope_text
from soakage.standards.library import library
from soakage.store.memory import StoreMemory
from soakage.web.asset_view import the_asset
from soakage.web.charts import drawn
from soakage.wiring.trending import today

Row = dict[str, Any]
_WIDE, _NARROW = (760, 300), (350, 300)


def remembered(memory: StoreMemory, asset: str, *, with_peers: bool = True) -> Remembered:
    """Return the trends of an asset as they are told today."""
    known, _ = the_asset(memory, asset)
    return remember(memory, known, library(), today(), with_peers=with_peers)


def shown(memory: StoreMemory, asset: str, section: str = "") -> Row:
    """Return what the history of an asset shows.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    asset : str
        Its id.
    section : str
        The section that stands in front; else the one that stands worst.
    """
    found = remembered(memory, asset)
    made = histories(found, library(), section)
    sections = list(dict.fromkeys(trend.section for trend in found.trends))
    return {
        "section": section if section in sections else "",
        "sections": sections,
        "histories": [_one(one) for one in made],
        "caution": found.trends[0].caution if found.trends else "",
        "due": _due(found),
    }


def charted(request: Request, shown_histories: Iterable[Row]) -> list[Row]:
    """Return histories with their plots on the shelf, ready for the macro ``chart``."""
    return [
        one | {"chart": drawn(request, one["plot"], wide=_WIDE, narrow=_NARROW) if one["plot"] else None}
        for one in shown_histories
    ]


def _one(one: History) -> Row:
    front = one.front
    return {
        "name": lookup(one.quantity).name,
        "how": one.how,
        "section": front.section,
        "count": counted(len(front.points), "test"),
        "plot": one.plot,
        "says": _says(one.trends),
        "more": list(_more(front)),
    }


def _due(found: Remembered) -> list[Row]:
    """Return when the sections are due, those of one day and reason together."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for item in sorted(found.due, key=lambda item: (item.due, item.section)):
        groups.setdefault((day(item.due), item.why, item.source), []).append(item.section)
    return [
        {"day": when, "why": why, "source": source, "section": listed(sections)}
        for (when, why, source), sections in groups.items()
    ]


def _says(trends: Iterable[Trend]) -> list[Row]:
    """Return what the lines say, sections that say the same together."""
    groups: dict[tuple[str, str, bool], list[str]] = {}
    for trend in trends:
        reach = reach_text(trend) if trend.slope else "No date without a slope."
        groups.setdefault((slope_text(trend), reach, trend.reaches is not None), []).append(trend.section)
    return [
        {"section": listed(sections), "slope": slope, "reach": reach, "dated": dated}
        for (slope, reach, dated), sections in groups.items()
    ]


def _more(trend: Trend) -> Iterable[str]:
    falls = [(trend.fall_from_last, "last"), (trend.fall_from_first, "first")]
    told = [fall_text(fall, word) for fall, word in falls if fall is not None]
    if told:
        yield f"{'; '.join(told)}."
    yield from beside_texts(trend)
    yield from trend.notes
    for series in trend.earlier:
        first, last = series.points[0].day, series.points[-1].day
        yield (
            f"Before it {counted(len(series.points), 'test')}, {day(first)} to {day(last)}, not joined to the line: "
            f"{series.ended_by}."
        )
