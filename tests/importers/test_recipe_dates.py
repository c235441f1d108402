"""Dates of people's own tables: read by a stated order, never turned round, never guessed."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.errors import QuantityError
from soakage.importers.recipe import Dates
from soakage.importers.recipe_dates import iso_date
from soakage.importers.recipe_evidence import date_order

DAYS = st.dates(date(1900, 3, 1), date(2199, 12, 31))
BOTH = {Dates.DAY_FIRST, Dates.MONTH_FIRST}


@given(DAYS, st.sampled_from("./-"))
def test_each_order_reads_what_it_writes(day: date, mark: str) -> None:
    assert iso_date(f"{day.day:02}{mark}{day.month}{mark}{day.year}", Dates.DAY_FIRST) == day.isoformat()
    assert iso_date(f"{day.month}{mark}{day.day}{mark}{day.year}", Dates.MONTH_FIRST) == day.isoformat()
    assert iso_date(f"{day.year}{mark}{day.month}{mark}{day.day}", None) == day.isoformat()


@given(DAYS)
def test_without_an_order_only_one_meaning_is_read(day: date) -> None:
    text = f"{day.day}/{day.month}/{day.year}"
    if day.day <= 12 and day.day != day.month:
        with pytest.raises(QuantityError, match="can be") as caught:
            iso_date(text, None)
        assert day.isoformat() in caught.value.problem
    else:
        assert iso_date(text, None) == day.isoformat()


@given(DAYS)
def test_counts_of_days_are_those_of_the_calendar(day: date) -> None:
    # 1899-12-30 is day 0 from March 1900 on; 1904-01-01 is day 0 of the other count: common practice, no source
    assert iso_date(str((day - date(1899, 12, 30)).days), Dates.SERIAL) == day.isoformat()
    if day > date(1904, 1, 1):
        assert iso_date(str((day - date(1904, 1, 1)).days), Dates.SERIAL_1904) == day.isoformat()


@pytest.mark.parametrize(
    ("text", "dates", "expected"),
    (
        ("13.03.2021", None, "2021-03-13"), ("03/13/2021", None, "2021-03-13"), ("04.04.2021", None, "2021-04-04"),
        ("14-Mar-2026", None, "2026-03-14"), ("14. März 2026", None, "2026-03-14"),
        ("March 14, 2026", None, "2026-03-14"), ("1 Dez 1999", None, "1999-12-01"),
        ("03.04.2021 9:20", Dates.DAY_FIRST, "2021-04-03T09:20:00"),
        ("3/4/2021 12:05 AM", Dates.MONTH_FIRST, "2021-03-04T00:05:00"),
        ("3/4/2021 1:05:30 pm", Dates.MONTH_FIRST, "2021-03-04T13:05:30"),
        ("2021-04-03T09:20:00+02:00", None, "2021-04-03T09:20:00+02:00"),
        ("44289.5", Dates.SERIAL, "2021-04-03T12:00:00"), ("21-04-03", Dates.YEAR_FIRST, "2021-04-03"),
    ),
)  # fmt: skip
def test_dates_as_people_write_them(text: str, dates: Dates | None, expected: str) -> None:
    assert iso_date(text, dates, 1970) == expected


@pytest.mark.parametrize(
    ("text", "dates", "said"),
    (
        ("13/03/2021", Dates.MONTH_FIRST, "no such date"), ("03.13.2021", Dates.DAY_FIRST, "no such date"),
        ("31.02.2021", Dates.DAY_FIRST, "no such date"), ("2021-02-30", None, "no such date"),
        ("03.04.21", Dates.DAY_FIRST, "century"), ("44289", None, "count of days"),
        ("44289", Dates.DAY_FIRST, "count of days"), ("12", Dates.SERIAL, "too small"),
        ("999999", Dates.SERIAL, "no such date"), ("03.04.2021", Dates.SERIAL, "order"),
        ("spring", None, "no date"), ("14 Foo 2026", None, "no date"), ("3/4/2021 25:00", Dates.DAY_FIRST, "no such"),
        ("3/4/2021 13:00 pm", Dates.DAY_FIRST, "no such"), ("1.1.0999", Dates.DAY_FIRST, "no such"),
        ("3.4.5", Dates.DAY_FIRST, "no date"),
    ),
)  # fmt: skip
def test_what_is_no_date_is_said_to_be_none(text: str, dates: Dates | None, said: str) -> None:
    with pytest.raises(QuantityError) as caught:
        iso_date(text, dates)
    assert said in str(caught.value)


@pytest.mark.parametrize(("first", "expected"), ((1950, "1951-04-03"), (1970, "2051-04-03")))
def test_years_of_two_figures_need_their_hundred(first: int, expected: str) -> None:
    assert iso_date("03.04.51", Dates.DAY_FIRST, first) == expected


@pytest.mark.parametrize(
    ("cells", "left", "needed"),
    (
        (("03/04/2021", "05/06/2021"), BOTH, True), (("03/04/2021", "13/04/2021"), {Dates.DAY_FIRST}, True),
        (("03/04/2021", "04/13/2021"), {Dates.MONTH_FIRST}, True), (("13/04/2021", "04/13/2021"), set(), True),
        (("2021-04-03",), BOTH, False), (("44289", "44290"), {Dates.SERIAL}, True),
        (("44289", "1/2/2021"), set(), True),
    ),
)  # fmt: skip
def test_what_a_column_tells_of_its_order(cells: tuple[str, ...], left: set[Dates], needed: bool) -> None:
    assert date_order(cells)[:2] == (left, needed)


@given(st.lists(DAYS, min_size=1, max_size=20))
def test_evidence_never_contradicts_the_order_written(days: list[date]) -> None:
    cells = [f"{day.day}.{day.month}.{day.year}" for day in days]
    left, needed, _ = date_order(cells)
    assert needed
    assert Dates.DAY_FIRST in left
    assert (Dates.MONTH_FIRST in left) == all(day.day <= 12 for day in days)
    assert all(
        day + timedelta(0) == date.fromisoformat(iso_date(cell, Dates.DAY_FIRST))
        for day, cell in zip(days, cells, strict=True)
    )
