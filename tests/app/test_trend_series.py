"""What may be joined to a series, and what begins a new one. IEEE Std 43 (memory): compare like with like."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest

from histories import point, yearly
from soakage.app.history import AssetEvent, Happening, HistoryPoint
from soakage.app.trend_series import condition, day_of, differences, series, years
from soakage.units import Bound

NBSP = "\N{NO-BREAK SPACE}"
HALVES: tuple[tuple[dict[str, Any], dict[str, Any], str], ...] = (
    ({"method": "polarization-index"}, {"method": "timed-insulation-resistance"}, "method: polarization-index before"),
    ({"test_voltage": 500.0}, {"test_voltage": 1000.0}, f"test voltage: 500{NBSP}V before, 1{NBSP}kV after"),
    ({"test_voltage": None}, {"test_voltage": 1000.0}, "test voltage: not stated before"),
    ({"rule": "a"}, {"rule": "b"}, "temperature rule: a before, b after"),
    ({"base_temperature": 293.15}, {"base_temperature": 313.15}, "base temperature: 20 °C before, 40 °C after"),
    ({"tested": ("U1", "V1")}, {"tested": ("U1",)}, "tested: U1, V1 before, U1 after"),
    ({"earthed": ()}, {"earthed": ("frame",)}, "earthed: none before, frame after"),
    ({"guarded": ("sheath",)}, {"guarded": ()}, "guarded: sheath before, none after"),
    ({"attached": ("cable",)}, {"attached": ()}, "left connected: cable before, none after"),
    ({"neutral": "open"}, {"neutral": "closed"}, "neutral: open before, closed after"),
)  # fmt: skip


@pytest.mark.parametrize(("before", "after", "said"), HALVES)
def test_another_way_of_testing_ends_a_series_and_is_named(
    before: dict[str, Any], after: dict[str, Any], said: str
) -> None:
    (found,) = series([*yearly(4, start=2010, **before), *yearly(3, start=2014, **after)])
    assert len(found.points) == 3
    assert [len(part.points) for part in found.earlier] == [4]
    assert said in found.earlier[0].ended_by
    assert ";" not in found.earlier[0].ended_by


@pytest.mark.parametrize(("before", "after", "said"), HALVES)
def test_two_ways_side_by_side_are_two_series(
    before: dict[str, Any], after: dict[str, Any], said: str
) -> None:
    found = series([*yearly(5, **before), *yearly(5, **after)])
    assert [len(one.points) for one in found] == [5, 5]
    assert all(one.earlier == () for one in found)
    assert len(differences(found[0].condition, found[1].condition)) == 1
    assert said.partition(":")[0] in differences(found[0].condition, found[1].condition)[0]


@pytest.mark.parametrize("names", (("U1", "V1"), ("V1", "U1"), ("v1", "u1"), ("V1", "U1", "U1")))
def test_the_order_and_case_of_terminals_mean_nothing(names: tuple[str, ...]) -> None:
    (found,) = series([*yearly(2, start=2010, tested=("U1", "V1")), *yearly(2, start=2012, tested=names)])
    assert len(found.points) == 4
    assert found.earlier == ()


@pytest.mark.parametrize("kind", ("rewind", "refill", "repair"))
@pytest.mark.parametrize("section", ("", "U"))
def test_work_on_the_insulation_begins_a_new_series(kind: str, section: str) -> None:
    event = AssetEvent(date(2014, 2, 1), Happening(kind), "by the works", section)
    (found,) = series(yearly(9), [event])
    assert [len(part.points) for part in found.earlier] == [4]
    assert found.earlier[0].ended_by == f"{kind} on 2014-02-01: by the works"
    assert found.points[0].day == date(2014, 5, 1)


@pytest.mark.parametrize(
    "event",
    (
        AssetEvent(date(2014, 2, 1), Happening.CLEANING),
        AssetEvent(date(2014, 2, 1), Happening.DRYING),
        AssetEvent(date(2014, 2, 1), Happening.OTHER),
        AssetEvent(date(2014, 2, 1), Happening.REWIND, "", "V"),
        AssetEvent(date(2009, 2, 1), Happening.REWIND),
        AssetEvent(date(2024, 2, 1), Happening.REPAIR),
    ),
)
def test_other_work_other_sections_and_other_times_do_not(event: AssetEvent) -> None:
    (found,) = series(yearly(9), [event])
    assert len(found.points) == 9


def test_a_test_on_the_day_of_the_work_belongs_to_what_came_of_it() -> None:
    (found,) = series(yearly(4), [AssetEvent(date(2012, 5, 1), Happening.REPAIR)])
    assert [p.day.year for p in found.points] == [2012, 2013]


@pytest.mark.parametrize(
    ("before", "after", "said"),
    (
        ({"year": 1998}, {"year": 2014}, "rewind: insulation of 2014, before of 1998"),
        ({"filling": "askarel"}, {"filling": "mineral oil"}, "refill: askarel before, mineral oil after"),
    ),
)
def test_a_new_year_or_filling_of_the_nameplate_is_new_insulation(
    before: dict[str, Any], after: dict[str, Any], said: str
) -> None:
    (found,) = series([*yearly(4, start=2010, **before), *yearly(3, start=2014, **after)])
    assert [part.ended_by for part in found.earlier] == [said]
    assert len(found.points) == 3


@pytest.mark.parametrize("key", ("year", "filling"))
def test_what_is_not_stated_for_a_while_is_no_change_and_hides_none(key: str) -> None:
    old, new = {"year": (1998, 2012), "filling": ("askarel", "ester")}[key]
    stated = [old, None, old, None, new]
    points = [replace(point(date(2010 + k, 5, 1)), **{key: value}) for k, value in enumerate(stated)]  # type: ignore[arg-type]
    (found,) = series(points)
    assert [len(part.points) for part in found.earlier] == [4]
    assert len(found.points) == 1


def test_a_test_after_repair_begins_a_new_series_once_a_day() -> None:
    purposes = ["maintenance", None, "after-repair", "after-repair", "maintenance", "after-repair"]
    days = [
        date(2010, 5, 1),
        date(2011, 5, 1),
        date(2012, 5, 1),
        date(2012, 5, 1),
        date(2013, 5, 1),
        date(2014, 5, 1),
    ]
    found = series([replace(point(day, purpose=why), test=f"t{k}")
                    for k, (day, why) in enumerate(zip(days, purposes, strict=True))])  # fmt: skip
    assert [len(part.points) for part in found[0].earlier] == [2, 3]
    assert found[0].earlier[0].ended_by == "repair: the test of 2012-05-01 was made after one"
    assert len(found[0].points) == 1


def test_a_change_of_voltage_at_a_rewind_says_both() -> None:
    (found,) = series(
        [*yearly(3, start=2010, test_voltage=1000.0), *yearly(3, start=2014, test_voltage=5000.0, year=2013)],
        [AssetEvent(date(2013, 9, 1), Happening.REWIND)],
    )
    said = found.earlier[0].ended_by
    assert said.startswith("rewind on 2013-09-01; ")
    assert "test voltage" in said


def test_a_way_that_comes_back_goes_on_and_the_one_between_stands_alone() -> None:
    found = series(
        [
            *yearly(2, start=2010),
            *yearly(1, start=2012, test_voltage=500.0),
            *yearly(2, start=2013),
        ]
    )
    assert [len(one.points) for one in found] == [4, 1]


def test_a_new_way_follows_the_one_it_shares_most_with() -> None:
    found = series(
        [
            *yearly(3, start=2010, tested=("U1",), test_voltage=1000.0),
            *yearly(3, start=2010, tested=("W1",), test_voltage=1000.0),
            *yearly(2, start=2014, tested=("W1",), test_voltage=5000.0),
        ]
    )
    joined = next(one for one in found if one.earlier)
    assert joined.condition.tested == ("W1",)
    assert joined.earlier[0].points[0].tested == ("W1",)


def test_sections_and_quantities_never_mix_and_visit_figures_are_left_out() -> None:
    found = series(
        [
            *yearly(2),
            *yearly(2, section="V"),
            *yearly(2, quantity="polarization_index"),
            *yearly(2, quantity="dew_point"),
        ]
    )
    assert {(one.section, one.quantity) for one in found} == {
        ("U", "insulation_resistance_60s_corrected"),
        ("V", "insulation_resistance_60s_corrected"),
        ("U", "polarization_index"),
    }
    assert len(found) == 3
    assert series([]) == ()


def test_points_come_in_time_whatever_order_they_are_given_in() -> None:
    points = yearly(6)
    (found,) = series(points[::-1])
    assert list(found.points) == points


# ---------------------------------------------------------------------------------------------- moments
@pytest.mark.parametrize(
    ("at", "expected"),
    (
        (datetime(2000, 1, 1), 0.0),  # noqa: DTZ001
        (date(2000, 1, 1), 0.5 / 365.25),
        (datetime(2004, 1, 1, tzinfo=UTC), 4.0),
        (date(2010, 5, 1), 3773.5 / 365.25),
    ),
)
def test_moments_are_years_of_365_and_a_quarter_days(at: date, expected: float) -> None:
    assert years(at) == pytest.approx(expected)


@pytest.mark.parametrize("day", (date(1950, 3, 1), date(2025, 1, 1), date(2071, 12, 31)))
def test_a_day_comes_back(day: date) -> None:
    assert day_of(years(day)) == day


@pytest.mark.parametrize("year", (-3000.0, 9000.0))
def test_no_calendar_reaches_everywhere(year: float) -> None:
    assert day_of(year) is None


def test_the_condition_of_a_point_is_sorted_and_whole() -> None:
    kind = condition(point(date(2010, 1, 1), tested=("b", "A", "b"), bound=Bound.LOWER))
    assert kind.tested == ("A", "b")
    assert differences(kind, kind) == ()
    assert isinstance(point(datetime(2010, 1, 1, 9, tzinfo=UTC)), HistoryPoint)
    assert point(datetime(2010, 1, 1, 9, tzinfo=UTC)).day == date(2010, 1, 1)
