"""When the next test is due, from the last verdict and the trend; and the work list of an outage.

The intervals are data (``standards/data/trends.toml``), common practice unless the user states their own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from soakage.app.trend_result import Trend
from soakage.model.verdict import Status
from soakage.quantities import lookup
from soakage.standards.criterion import sourced
from soakage.standards.library import Library

_DAYS_A_YEAR = 365.25
_INTERVAL = {
    Status.SOUND: "trends.interval-sound",
    Status.WATCH: "trends.interval-watch",
    Status.INVESTIGATE: "trends.interval-investigate",
    Status.UNFIT: "trends.interval-investigate",
}
_UNANSWERED = "trends.interval-unanswered"
# What has to be looked at first on a work list.
_URGENCY = {
    Status.UNFIT: 0,
    Status.INVESTIGATE: 1,
    Status.INVALID_TEST: 2,
    Status.NOT_JUDGED: 3,
    Status.WATCH: 4,
}
_RESISTANCE = "insulation_resistance"


@dataclass(frozen=True, slots=True)
class WorkItem:
    """One section to test.

    Parameters
    ----------
    asset, section : str
        What to test.
    due : date
        By when; never before the last test.
    why : str
        What it follows from.
    last_status : Status
        Worst verdict of the last day of tests.
    last : date
        That day.
    source : str
        Where the interval comes from, with how it was verified.
    """

    asset: str
    section: str
    due: date
    why: str
    last_status: Status
    last: date
    source: str


def due_tests(
    asset: str,
    trends: Sequence[Trend],
    library: Library,
    intervals: Mapping[Status, float] | None = None,
) -> tuple[WorkItem, ...]:
    """Return when each section of an asset is due.

    Parameters
    ----------
    asset : str
        Its name, as the list shows it.
    trends : sequence of Trend
        Its trends.
    library : Library
        The criteria files, for the intervals of common practice.
    intervals : mapping of Status to float, optional
        The user's own intervals in years; they go before.

    Returns
    -------
    tuple of WorkItem
        One for each section. A certain fall of a resistance, or a criterion that would be reached, shortens the
        interval; nothing lengthens it.
    """
    sections: dict[str, list[Trend]] = {}
    for trend in trends:
        sections.setdefault(trend.section, []).append(trend)
    return tuple(_due(asset, name, found, library, intervals or {}) for name, found in sections.items())


def work_list(items: Iterable[WorkItem], by: date) -> tuple[WorkItem, ...]:
    """Return what falls due up to the end of an outage, the neediest first.

    Parameters
    ----------
    items : iterable of WorkItem
        Of any number of assets.
    by : date
        Last day of the outage, or of the next one where this is the last chance before it.
    """
    return tuple(
        sorted(
            (item for item in items if item.due <= by),
            key=lambda item: (_URGENCY.get(item.last_status, 5), item.due, item.asset, item.section),
        )
    )


def _due(
    asset: str, section: str, trends: Sequence[Trend], library: Library, own: Mapping[Status, float]
) -> WorkItem:
    last = max(trend.points[-1].day for trend in trends)
    status = _worst_of(last, trends)
    line = library.thresholds[_INTERVAL.get(status, _UNANSWERED)]
    years = own.get(status, line.value)
    source = "your own interval" if status in own else sourced(line.standard.name, line.verified)
    why = [f"{_years(years)} after {status}" if years else f"at once after {status}"]
    falling = [t for t in trends if t.quantity.startswith(_RESISTANCE) and t.slope and _falls(t)]
    if falling and years:
        years *= library.thresholds["trends.fall-halves"].value
        why.append(
            f"tested twice as often, since its {lookup(falling[0].quantity).name.lower()} falls for certain"
        )
    due = last + timedelta(days=round(years * _DAYS_A_YEAR))
    for trend in trends:
        reach = trend.reaches
        if reach is None:
            continue
        ahead = ((reach.lower or reach.at) - last).days
        earlier = last + timedelta(
            days=max(round(ahead * library.thresholds["trends.share-of-reach"].value), 0)
        )
        if earlier < due:
            due = earlier
            name = (
                library.criteria[reach.criterion].name
                if reach.criterion in library.criteria
                else reach.criterion
            )
            why.append(f"half of the time in which {name!r} may be reached at the earliest")
    return WorkItem(asset, section, due, "; ".join(why), status, last, source)


def _worst_of(day: date, trends: Sequence[Trend]) -> Status:
    """Return the worst status of a day: the ladder before what stands beside it."""
    statuses = {Status(p.status) for trend in trends for p in trend.points if p.day == day}
    return min(statuses, key=lambda status: (_URGENCY.get(status, 5), status is not Status.SOUND))


def _falls(trend: Trend) -> bool:
    return trend.slope is not None and trend.slope.upper is not None and trend.slope.upper < 0


def _years(count: float) -> str:
    return f"{count:g} year{'' if count == 1 else 's'}"
