"""Trends of the whole invented history against the truth that was hidden in it before any reading was made."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

import pytest

from histories import LIBRARY
from soakage.app.evaluate import evaluate
from soakage.app.history import history_points
from soakage.app.trend import trends
from soakage.app.trend_result import Trend
from soakage.app.trend_series import years
from soakage.demo.history import history_records, history_truth
from soakage.demo.history_truth import AssetTruth
from soakage.model.record import Record

TODAY = date(2026, 11, 1)
Found = dict[str, tuple[Trend, ...]]


@pytest.fixture(scope="module")
def found() -> Found:
    assets: dict[str, list[Record]] = defaultdict(list)
    for record in history_records():
        assets[record.asset.title].append(record)
    made = {}
    for name, records in assets.items():
        names = [f"{name}/{k}" for k in range(len(records))]
        points = history_points(evaluate(records).records, names)
        made[name] = trends(points, library=LIBRARY, today=TODAY)
    return made


@pytest.fixture(scope="module")
def truth() -> dict[str, AssetTruth]:
    return {one.asset: one for one in history_truth()}


def of_the_line(found: Found, truth: AssetTruth) -> list[Trend]:
    """The trends of the quantity whose logarithm runs on the asset's line, by its own rule."""
    return [
        trend
        for trend in found[truth.asset]
        if trend.quantity == truth.quantity and trend.condition.rule == truth.rule
    ]


def test_nineteen_intervals_of_twenty_hold_the_true_slope(found: Found, truth: dict[str, AssetTruth]) -> None:
    told, held = 0, 0
    for one in truth.values():
        if one.slip or one.season:
            continue
        for trend in of_the_line(found, one):
            if trend.slope is None or trend.slope.lower is None or trend.slope.upper is None:
                continue
            told += 1
            slope = one.slope(trend.section, trend.points[-1].day)
            held += trend.slope.lower <= slope <= trend.slope.upper
    assert told > 50
    assert held / told >= 0.9


def test_the_level_that_changed_is_found_between_the_tests_around_it(
    found: Found, truth: dict[str, AssetTruth]
) -> None:
    changed = [one for one in truth.values() if any(event.kind == "change" for event in one.events)]
    assert changed
    for one in changed:
        (event,) = (event for event in one.events if event.kind == "change")
        for trend in of_the_line(found, one):
            assert trend.change_point is not None
            before = max(p.day for p in trend.points if p.day < trend.change_point.at)
            assert before < event.day <= trend.change_point.at
            if trend.slope is not None:
                assert trend.line_from == trend.change_point.at


def test_few_others_are_said_to_have_changed(found: Found, truth: dict[str, AssetTruth]) -> None:
    quiet = [
        trend
        for one in truth.values()
        if not one.events and not one.season
        for trend in of_the_line(found, one)
    ]
    assert sum(trend.change_point is not None for trend in quiet) <= 0.12 * len(quiet)


def test_the_season_is_found_with_its_height_and_its_day(found: Found, truth: dict[str, AssetTruth]) -> None:
    seasonal = [one for one in truth.values() if one.season]
    assert len(seasonal) == 1
    for one in seasonal:
        for trend in of_the_line(found, one):
            assert one.season is not None
            assert trend.season is not None
            assert trend.season.amplitude == pytest.approx(one.season.amplitude, rel=0.1)
            assert trend.season.peak_day == pytest.approx(one.season.driest_day, abs=10)
            assert any("season" in note for note in trend.notes)


def test_the_slip_and_nothing_else_is_doubted(found: Found, truth: dict[str, AssetTruth]) -> None:
    doubted = {
        (name, next(p.day for p in trend.points if p.test == test))
        for name, several in found.items()
        for trend in several
        for test in trend.suspects
        if trend.quantity == truth[name].quantity
    }
    assert doubted == {(one.asset, one.slip.day) for one in truth.values() if one.slip}


def test_no_line_crosses_a_rewind_a_refill_or_a_repair(found: Found, truth: dict[str, AssetTruth]) -> None:
    renewed = 0
    for one in truth.values():
        for event in one.events:
            if not event.starts_series:
                continue
            for trend in found[one.asset]:
                days = [p.day for p in trend.points]
                assert not min(days) < event.day <= max(days)
                renewed += bool(trend.earlier)
                assert all(part.ended_by for part in trend.earlier)
    assert renewed


def test_circuits_of_a_panel_are_not_taken_for_one(found: Found) -> None:
    panel = found["House panel"]
    assert {trend.section for trend in panel} >= {"1 lighting, L-PE", "2 sockets, L-N"}
    assert all(len({years(p.at) for p in trend.points}) == len(trend.points) for trend in panel)


def test_where_every_reading_is_over_range_no_slope_is_made_up(
    found: Found, truth: dict[str, AssetTruth]
) -> None:
    over = [one for one in truth.values() if one.top]
    assert over
    for one in over:
        for trend in of_the_line(found, one):
            assert trend.slope is None
            assert "only bounds" in trend.slope_reason


def test_two_editions_are_not_joined_in_one_trend(found: Found) -> None:
    for several in found.values():
        for trend in several:
            rules = {(p.rule, p.base_temperature, p.method, p.test_voltage) for p in trend.points}
            assert len(rules) == 1
