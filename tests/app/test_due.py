"""When the next test is due. Intervals: common practice, no source; a falling trend warns (TM 5-683, read)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from histories import LIBRARY, TODAY, limit, point, yearly
from soakage.app.due import WorkItem, due_tests, work_list
from soakage.app.history import HistoryPoint
from soakage.app.trend import trends
from soakage.model.verdict import Status

LAST = date(2021, 5, 1)


def due(points: list[HistoryPoint], limits: object = None, **words: object) -> WorkItem:
    found = trends(points, (), limits, library=LIBRARY, today=TODAY)  # type: ignore[arg-type]
    (item,) = due_tests("Pump 3", found, LIBRARY, **words)  # type: ignore[arg-type]
    return item


def steady(status: str) -> list[HistoryPoint]:
    return [
        replace(p, status=status if p.day == LAST else "sound") for p in yearly(12, slope=0.0, scatter=0.2)
    ]


@pytest.mark.parametrize(
    ("status", "years"),
    (
        ("sound", 3), ("watch", 1), ("investigate", 0), ("unfit", 0), ("not judged", 0), ("invalid test", 0),
        ("not applicable", 0),
    ),
)  # fmt: skip
def test_the_interval_follows_the_last_verdict(status: str, years: int) -> None:
    item = due(steady(status))
    assert item.last == LAST
    assert item.last_status is Status(status)
    assert item.due == LAST + timedelta(days=round(years * 365.25))
    assert status in item.why
    assert "Common practice, no source." in item.source


def test_an_interval_is_said_in_words() -> None:
    assert due(steady("sound")).why == "3 years after sound"
    assert due(steady("watch")).why == "1 year after watch"
    assert due(steady("unfit")).why == "at once after unfit"


def test_the_user_s_own_interval_goes_before() -> None:
    item = due(steady("sound"), intervals={Status.SOUND: 6.0})
    assert item.due == LAST + timedelta(days=round(6 * 365.25))
    assert item.source == "your own interval"


def test_a_certain_fall_halves_it() -> None:
    item = due(yearly(12, slope=-0.1, scatter=0.02))
    assert item.due == LAST + timedelta(days=round(1.5 * 365.25))
    assert "tested twice as often" in item.why


def test_a_criterion_within_reach_shortens_it_further() -> None:
    """Half of the way to the earliest date."""
    points = yearly(12, slope=-0.3, scatter=0.02, level=5e9, start=2013)
    (found,) = trends(points, (), limit(), library=LIBRARY, today=TODAY)
    assert found.reaches is not None
    assert found.reaches.lower is not None
    item = due(points, limit())
    half = round((found.reaches.lower - points[-1].day).days / 2)
    assert item.due == points[-1].day + timedelta(days=half)
    assert "may be reached at the earliest" in item.why


def test_a_far_criterion_lengthens_nothing() -> None:
    points = yearly(12, slope=-0.05, scatter=0.01, level=4e8, start=2013)
    assert due(points, limit()).due == points[-1].day + timedelta(days=round(1.5 * 365.25))


def test_the_worst_verdict_of_the_last_day_counts_and_no_older_one() -> None:
    points = [
        replace(point(date(2019, 5, 1)), status="unfit"),
        replace(point(LAST), status="sound"),
        replace(point(LAST, quantity="polarization_index", value=2.0), status="watch"),
    ]
    assert due(points).last_status is Status.WATCH


def test_each_section_has_its_own_line() -> None:
    found = trends([*steady("sound"), *yearly(3, section="V")], library=LIBRARY, today=TODAY)
    items = due_tests("Pump 3", found, LIBRARY)
    assert [(item.section, item.last.year) for item in items] == [("U", 2021), ("V", 2012)]
    assert due_tests("Pump 3", (), LIBRARY) == ()


# ------------------------------------------------------------------------------------------- the outage
def item(asset: str, due_on: date, status: Status) -> WorkItem:
    return WorkItem(asset, "U", due_on, "", status, LAST, "")


def test_the_neediest_come_first_and_what_is_not_due_stays_out() -> None:
    items = [
        item("a", date(2024, 1, 1), Status.SOUND),
        item("b", date(2024, 6, 1), Status.UNFIT),
        item("c", date(2024, 3, 1), Status.WATCH),
        item("d", date(2024, 2, 1), Status.WATCH),
        item("e", date(2026, 1, 1), Status.UNFIT),
        item("f", date(2024, 1, 1), Status.INVESTIGATE),
        item("g", date(2024, 1, 1), Status.NOT_JUDGED),
        item("h", date(2024, 1, 1), Status.INVALID_TEST),
    ]
    assert [one.asset for one in work_list(items, date(2025, 1, 1))] == ["b", "f", "h", "g", "d", "c", "a"]


def test_the_last_day_of_the_outage_is_part_of_it() -> None:
    items = [item("a", date(2025, 1, 1), Status.SOUND), item("b", date(2025, 1, 2), Status.SOUND)]
    assert [one.asset for one in work_list(items, date(2025, 1, 1))] == ["a"]
    assert work_list([], date(2025, 1, 1)) == ()
