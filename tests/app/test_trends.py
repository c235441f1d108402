"""What a trend says and, more often, why it does not say it."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
import scipy.stats as st
from hypothesis import given, settings
from hypothesis import strategies as draw

from histories import LIBRARY, QUANTITY, TODAY, limit, point, told, yearly
from soakage.app.history import AssetEvent, Happening, HistoryPoint
from soakage.app.trend import guidance, transform, trends
from soakage.app.trend_result import TrendLimit
from soakage.app.trend_series import years
from soakage.units import Bound

RAW = "insulation_resistance_60s"


# --------------------------------------------------------------------------------------------- the slope
def test_the_slope_is_that_of_scipy_on_the_logarithm() -> None:
    points = yearly(12)
    found = told(points)
    t = [years(p.at) for p in points]
    theirs = st.theilslopes(np.log([p.value for p in points]), t)
    assert found.transform == "ln"
    assert found.slope is not None
    assert found.slope.value == pytest.approx(theirs.slope)
    assert found.slope.lower == pytest.approx(theirs.low_slope)
    assert found.mann_kendall is not None
    assert found.mann_kendall.p == pytest.approx(
        st.kendalltau(t, [p.value for p in points], method="exact").pvalue
    )


@pytest.mark.parametrize("count", (1, 2, 3, 4))
def test_with_fewer_than_five_it_says_how_many_and_why(count: int) -> None:
    found = told(yearly(count), (), limit())
    assert found.slope is None
    assert found.slope_reason.startswith(f"Not enough readings: {count}, at least 5 values are needed.")
    assert "distribution-free 95\N{NO-BREAK SPACE}% interval" in found.slope_reason
    assert found.reaches is None
    assert found.reason == found.slope_reason
    assert (found.mann_kendall is None) is (count < 4)


def test_bounds_are_no_values() -> None:
    points = [replace(p, bound=Bound.LOWER) if k < 5 else p for k, p in enumerate(yearly(9))]
    found = told(points, (), limit())
    assert found.slope is None
    assert "4 and 5 that are only bounds" in found.slope_reason
    assert found.mann_kendall is not None


def test_a_few_bounds_take_part_and_are_told() -> None:
    points = yearly(12, slope=-0.2)
    over = [replace(p, value=1.6e9, bound=Bound.LOWER) if p.value > 1.6e9 else p for p in points]
    found, exact = told(over), told(points)
    assert found.slope is not None
    assert exact.slope is not None
    assert found.slope.value == pytest.approx(exact.slope.value, abs=0.03)
    assert any("2 of 12 readings are bounds" in note for note in found.notes)
    naive = told([replace(p, bound=None) for p in over])
    assert naive.slope is not None
    assert naive.slope.value > found.slope.value - 1e-9


@pytest.mark.parametrize(
    ("quantity", "expected"),
    (("polarization_index", "ln"), (RAW, "ln"), ("capacitance", "ln"), ("voltage_dependence", "none")),
)
def test_what_may_be_negative_is_trended_as_it_is(quantity: str, expected: str) -> None:
    assert transform(quantity) == expected


def test_a_plain_quantity_has_a_slope_in_its_own_unit() -> None:
    points = [point(date(2010 + k, 5, 1), -0.02 + 0.01 * k, quantity="voltage_dependence") for k in range(7)]
    found = told(points)
    assert found.slope is not None
    assert found.slope.value == pytest.approx(0.01, rel=1e-3)


def test_values_not_above_zero_have_no_logarithm_and_are_left_out() -> None:
    found = told([*yearly(5), point(date(2016, 5, 1), 0.0)])
    assert found.slope is not None
    assert len(found.points) == 6


def test_readings_of_one_moment_make_no_line() -> None:
    points = [replace(point(date(2010, 5, 1), 1e9 + k), test=str(k)) for k in range(6)]
    assert told(points).slope_reason == "All readings are of one moment."


# ------------------------------------------------------------------------------------------- temperature
def test_a_resistance_as_read_is_not_trended_beside_its_corrected_value() -> None:
    corrected = yearly(6)
    raw = [replace(p, quantity=RAW, rule=None, base_temperature=None, temperature=293.15) for p in corrected]
    both = trends([*corrected, *raw], library=LIBRARY, today=TODAY)
    assert [t.quantity for t in both] == [QUANTITY]
    one_more = replace(raw[0], test="by hand", at=date(2019, 5, 1))
    more = trends([*corrected, *raw, one_more], library=LIBRARY, today=TODAY)
    assert {t.quantity for t in more} == {QUANTITY, RAW}


@pytest.mark.parametrize(
    ("temperatures", "said"),
    (
        ((293.15,) * 8, ""),
        ((291.15, 296.0) * 4, ""),
        ((291.15, 300.15) * 4, "range over 9\N{NO-BREAK SPACE}K"),
        ((293.15,) * 7 + (None,), "not stated in every test"),
    ),
)
def test_resistances_without_a_rule_need_like_temperatures(
    temperatures: tuple[float | None, ...], said: str
) -> None:
    points = [
        replace(p, quantity=RAW, rule=None, base_temperature=None, temperature=warm)
        for p, warm in zip(yearly(8), temperatures, strict=True)
    ]
    found = told(points)
    assert (found.slope is None) is bool(said)
    assert said in found.slope_reason
    assert (found.fall_from_last is None) is bool(said)
    assert (found.mann_kendall is None) is bool(said)


def test_an_index_needs_none() -> None:
    points = [replace(p, quantity="polarization_index", value=p.value / 1e9, rule=None) for p in yearly(8)]
    assert told(points).slope is not None


# --------------------------------------------------------------------------------------------- the reach
def test_the_date_is_where_the_line_meets_the_limit() -> None:
    """2 GOhm in May 2010, falling by 0.2 a year, is 100 MOhm after ln(20) / 0.2 = 15.0 years (derived)."""
    found = told(yearly(12, slope=-0.2, scatter=0.02), (), limit())
    assert found.reaches is not None
    assert abs((found.reaches.at - date(2025, 4, 24)).days) < 120
    assert found.reaches.lower is not None
    assert found.reaches.upper is not None
    assert found.reaches.lower < found.reaches.at < found.reaches.upper
    assert found.reaches.criterion == "house.minimum"
    assert found.reaches.limit == 1e8
    assert found.reason == ""


def test_published_guidance_stands_beside_every_trend_with_its_status() -> None:
    """IEC 60034-27-4 introduction, secondary."""
    for found in (told(yearly(12, slope=-0.2), (), limit()), told(yearly(2))):
        assert "can not predict time to failure" in found.caution
        assert "IEC 60034-27-4:2018, introduction" in found.caution
        assert "not read" in found.caution
    assert guidance(LIBRARY) == found.caution


@pytest.mark.parametrize(
    ("points", "limits", "said"),
    (
        (yearly(12), {}, "No criterion with a limit"),
        (yearly(12), {("U", QUANTITY): (TrendLimit("x", None, None, ""),)}, "No criterion with a limit"),
        (yearly(12, slope=0.0, scatter=0.3), limit(), "includes zero"),
        (yearly(12, slope=0.2), limit(), "moves away from its limit"),
        (yearly(12, slope=-0.2), limit(None, 1e12), "moves away from its limit"),
        (yearly(12, slope=-0.2), limit(1e9), "already beyond its limit"),
        (yearly(12, slope=-0.02, scatter=0.005), limit(1e6), "beyond 50 years"),
    ),
)
def test_no_date_has_a_reason(points: list[HistoryPoint], limits: dict[object, object], said: str) -> None:
    found = told(points, (), limits)
    assert found.slope is not None
    assert found.reaches is None
    assert said in found.reason


def test_a_rising_quantity_reaches_its_upper_limit() -> None:
    found = told(yearly(12, slope=0.2, scatter=0.02), (), limit(None, 1e11))
    assert found.reaches is not None
    assert found.reaches.limit == 1e11


def test_of_several_limits_the_first_to_be_reached_counts() -> None:
    both = {("U", QUANTITY): (TrendLimit("later", 1e7, None, ""), TrendLimit("sooner", 1e8, None, ""),
                              TrendLimit("away", None, 1e12, ""))}  # fmt: skip
    found = told(yearly(12, slope=-0.2, scatter=0.02), (), both)
    assert found.reaches is not None
    assert found.reaches.criterion == "sooner"


def test_an_open_interval_gives_no_date() -> None:
    points = [
        replace(p, bound=Bound.LOWER) if k in (0, 1, 2, 3, 4, 5) else p
        for k, p in enumerate(yearly(11, slope=-0.3))
    ]
    found = told(points, (), limit())
    assert found.reaches is None
    assert "bounds" in found.reason or "includes zero" in found.reason


def test_a_limit_of_another_section_is_not_this_one_s() -> None:
    found = told(yearly(12, slope=-0.2, section="V"), (), limit())
    assert "No criterion" in found.reason


@settings(max_examples=25, deadline=None)
@given(draw.integers(0, 999), draw.floats(-0.4, -0.02), draw.floats(0.01, 0.3))
def test_a_date_never_comes_without_a_certain_slope_towards_the_limit(
    seed: int, slope: float, scatter: float
) -> None:
    found = told(yearly(9, slope, scatter, seed=seed), (), limit())
    assert (found.reaches is None) is bool(found.reason)
    if found.reaches is not None:
        assert found.slope is not None
        assert found.slope.certain
        assert found.slope.upper is not None
        assert found.slope.upper < 0
        assert found.reaches.at > TODAY
        assert (found.reaches.at - TODAY).days < 50 * 366


# -------------------------------------------------------------------------------- levels, slips, events
def shifted() -> list[HistoryPoint]:
    return [
        replace(p, value=p.value * math.exp(-1.5)) if k >= 7 else p
        for k, p in enumerate(yearly(12, slope=0.0))
    ]


def test_a_change_of_level_is_dated_and_the_line_begins_with_it() -> None:
    found = told(shifted(), (), limit())
    assert found.change_point is not None
    assert found.change_point.at == date(2017, 5, 1)
    assert found.change_point.size == pytest.approx(-1.5, abs=0.1)
    assert found.change_point.p < 0.05
    assert found.line_from == date(2017, 5, 1)
    assert found.slope is not None
    assert found.slope.lower is not None
    assert found.slope.upper is not None
    assert found.slope.lower < 0 < found.slope.upper
    assert "includes zero" in found.reason
    assert len(found.points) == 12
    assert any("two levels lie nearer" in note for note in found.notes)


def test_too_few_tests_since_the_change_make_no_line() -> None:
    points = [
        replace(p, value=p.value * math.exp(-1.5)) if k >= 8 else p
        for k, p in enumerate(yearly(12, slope=0.0))
    ]
    found = told(points, (), limit())
    assert found.change_point is not None
    assert found.slope is None
    assert found.line_from is None
    assert found.reason.startswith(
        "The level changed with the test of 2018-05-01. Since then: Not enough readings: 4,"
    )
    assert found.mann_kendall is not None


def test_a_steady_fall_is_no_change_of_level() -> None:
    assert told(yearly(12, slope=-0.2)).change_point is None


@pytest.mark.parametrize("factor", (1000.0, 0.001, 10.0))
def test_a_slip_is_doubted_stays_and_hardly_moves_the_line(factor: float) -> None:
    clean = yearly(12, slope=-0.1)
    slipped = [replace(p, value=p.value * factor) if k == 4 else p for k, p in enumerate(clean)]
    found, before = told(slipped), told(clean)
    assert found.suspects == ("U-2014-05-01",)
    assert before.suspects == ()
    assert len(found.points) == 12
    assert found.slope is not None
    assert before.slope is not None
    assert found.slope.value == pytest.approx(before.slope.value, abs=0.02)
    assert any("2014-05-01" in note and "slip" in note for note in found.notes)


def test_wide_scatter_is_no_slip() -> None:
    assert told(yearly(14, slope=0.0, scatter=0.8)).suspects == ()


def test_cleaning_inside_a_series_is_told() -> None:
    events = [
        AssetEvent(date(2014, 8, 1), Happening.CLEANING, "end windings"),
        AssetEvent(date(2030, 8, 1), Happening.DRYING),
        AssetEvent(date(2014, 8, 1), Happening.CLEANING, "elsewhere", "V"),
    ]
    found = told(yearly(9), events)
    assert len(found.points) == 9
    assert [note for note in found.notes if "cleaning" in note] == [
        "cleaning on 2014-08-01: end windings; the series goes on, its level may have changed by it."
    ]
    assert not any("drying" in note for note in found.notes)


def test_no_line_is_drawn_across_a_rewind() -> None:
    found = told(shifted(), [AssetEvent(date(2017, 2, 1), Happening.REWIND)])
    assert found.change_point is None
    assert len(found.points) == 5
    assert len(found.earlier[0].points) == 7
    assert found.slope is not None
    assert abs(found.slope.value) < 0.1


# ------------------------------------------------------------------------------------ seasons, humidity
def seasonal(amplitude: float) -> list[HistoryPoint]:
    days = [date(2010 + k // 3, (2, 6, 10)[k % 3], 1) for k in range(18)]
    noise = 0.05 * np.random.default_rng(2).normal(size=18)
    return [
        point(day, float(1e9 * np.exp(amplitude * math.cos(2 * math.pi * (years(day) % 1 - 0.1)) + noise[k])))
        for k, day in enumerate(days)
    ]


def test_a_season_is_told_and_not_corrected() -> None:
    found = told(seasonal(0.5))
    assert found.season is not None
    assert found.season.p < 0.01
    assert found.season.amplitude == pytest.approx(0.5, abs=0.06)
    assert found.season.peak_day == pytest.approx(37, abs=8)
    assert any("follow the season; nothing is corrected" in note for note in found.notes)
    assert [p.value for p in found.points] == [p.value for p in seasonal(0.5)]


def test_no_season_is_told_of_a_quiet_one_or_of_yearly_tests() -> None:
    quiet = told(seasonal(0.0))
    assert quiet.season is not None
    assert quiet.season.p > 0.05
    assert not any("season" in note for note in quiet.notes)
    assert told(yearly(15)).season is None


@pytest.mark.parametrize(("effect", "word"), ((-2.0, "lower"), (2.0, "higher"), (0.0, "")))
def test_humidity_that_goes_with_the_departures_is_told(effect: float, word: str) -> None:
    air = np.random.default_rng(6).uniform(0.3, 0.9, 12)
    points = [
        replace(p, value=p.value * math.exp(effect * (wet - 0.6)), relative_humidity=float(wet))
        for p, wet in zip(yearly(12, slope=0.0), air, strict=True)
    ]
    found = told(points)
    assert found.humidity is not None
    assert found.humidity.count == 12
    notes = [note for note in found.notes if "humid air" in note]
    assert bool(notes) is bool(word)
    assert all(f"Values are {word} in humid air" in note for note in notes)


def test_humidity_of_few_tests_is_not_held_against_anything() -> None:
    points = [
        replace(p, relative_humidity=0.5 + 0.1 * k if k < 4 else None) for k, p in enumerate(yearly(12))
    ]
    assert told(points).humidity is None


# --------------------------------------------------------------------------------------- falls, sisters
def test_falls_are_from_the_last_and_from_the_first() -> None:
    found = told([point(date(2010, 1, 1), 4e9), point(date(2012, 1, 1), 2e9), point(date(2014, 1, 1), 5e8)])
    assert found.fall_from_last is not None
    assert found.fall_from_first is not None
    assert found.fall_from_last.value == pytest.approx(0.75)
    assert found.fall_from_last.since == date(2012, 1, 1)
    assert found.fall_from_first.value == pytest.approx(0.875)
    assert told([point(date(2010, 1, 1))]).fall_from_last is None


@pytest.mark.parametrize(
    ("then", "now", "bound"),
    (
        (None, None, None),
        (Bound.LOWER, None, Bound.LOWER),
        (None, Bound.LOWER, Bound.UPPER),
        (None, Bound.UPPER, Bound.LOWER),
    ),
)
def test_a_fall_between_bounds_is_a_bound(then: Bound | None, now: Bound | None, bound: Bound | None) -> None:
    found = told([point(date(2010, 1, 1), 4e9, bound=then), point(date(2012, 1, 1), 1e9, bound=now)])
    assert found.fall_from_last is not None
    assert found.fall_from_last.value == pytest.approx(0.75)
    assert found.fall_from_last.bound is bound


def test_two_bounds_of_one_kind_say_nothing_of_a_fall() -> None:
    over = Bound.LOWER
    found = told([point(date(2010, 1, 1), 4e9, bound=over), point(date(2012, 1, 1), 1e9, bound=over)])
    assert found.fall_from_last is None


def phases(day: date, **values: float) -> list[HistoryPoint]:
    return [point(day, value, section=name, tested=(f"{name}1",)) for name, value in values.items()]


def test_sisters_are_those_of_the_same_visit() -> None:
    points = [*phases(date(2010, 1, 1), U=9e9, V=9e9), *phases(date(2012, 1, 1), U=1e9, V=2e9, W=4e9)]
    found = {t.section: t for t in trends(points, library=LIBRARY, today=TODAY)}
    sisters = found["U"].sisters
    assert sisters is not None
    assert {name: value for name, value, _ in sisters.values} == {"V": 2e9, "W": 4e9}
    assert sisters.ratio == pytest.approx(1 / 3)
    assert sisters.bound is None


def test_another_day_or_another_voltage_makes_no_sister_and_a_named_visit_does() -> None:
    day, next_day = date(2012, 1, 1), date(2012, 1, 2)
    alone = [point(day), point(next_day, section="V"), point(day, section="W", test_voltage=500.0)]
    assert all(t.sisters is None for t in trends(alone, library=LIBRARY, today=TODAY))
    named = [replace(p, visit="outage 7") for p in alone[:2]]
    assert all(t.sisters is not None for t in trends(named, library=LIBRARY, today=TODAY))


def test_sisters_over_range_make_the_ratio_a_bound() -> None:
    day = date(2012, 1, 1)
    points = [point(day, 1e9), *(point(day, 4e9, section=name, bound=Bound.LOWER) for name in ("V", "W"))]
    found = trends(points, library=LIBRARY, today=TODAY)
    assert found[0].sisters is not None
    assert found[0].sisters.ratio == pytest.approx(0.25)
    assert found[0].sisters.bound is Bound.UPPER
    assert found[1].sisters is not None
    assert found[1].sisters.values[0] == ("U", 1e9, None)


# -------------------------------------------------------------------------------------------- the whole
def test_today_is_an_argument_and_nothing_else_decides() -> None:
    points = yearly(12, slope=-0.2, scatter=0.02)
    first, second = (trends(points, (), limit(), library=LIBRARY, today=TODAY) for _ in range(2))
    assert first == second
    (past,) = trends(points, (), limit(), library=LIBRARY, today=date(2060, 1, 1))
    assert "already beyond" in past.reason


def test_no_points_no_trends() -> None:
    assert trends([], library=LIBRARY, today=TODAY) == ()
