"""From judged records to points of a history."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from histories import LIBRARY
from machine_records import DRY, record
from soakage.app.evaluate import evaluate
from soakage.app.history import AssetEvent, Happening, HistoryPoint, history_points
from soakage.app.trend import trends
from soakage.model.record import Record
from soakage.model.test import Paper


def on(day: date | datetime | None, made: Record) -> Record:
    return replace(made, test=replace(made.test, started=day))


@pytest.fixture(scope="module")
def points() -> tuple[HistoryPoint, ...]:
    start = datetime(2016, 5, 6, 9, tzinfo=UTC)
    records = [
        on(
            start + timedelta(days=365 * k),
            record(
                noise=0.002, seed=k, conditions=DRY, paper=Paper(visit=f"outage {k}", purpose="maintenance")
            ),
        )
        for k in range(6)
    ]
    judged = evaluate(records).records
    return history_points(judged, [f"test {k}" for k in range(6)])


def test_each_quantity_of_each_record_is_a_point(points: tuple[HistoryPoint, ...]) -> None:
    of_one = [p for p in points if p.test == "test 0"]
    assert {"insulation_resistance_60s_corrected", "polarization_index"} <= {p.quantity for p in of_one}
    assert len({p.quantity for p in of_one}) == len(of_one)
    assert {p.test for p in points} == {f"test {k}" for k in range(6)}


def test_what_must_be_alike_is_taken_along(points: tuple[HistoryPoint, ...]) -> None:
    seen = next(p for p in points if p.quantity == "insulation_resistance_60s_corrected")
    assert (seen.method, seen.test_voltage, seen.year) == ("polarization-index", 5000.0, 2004)
    assert seen.tested == ("U", "V", "W")
    assert seen.rule
    assert seen.base_temperature == pytest.approx(313.15)
    assert (seen.relative_humidity, seen.surface) == (0.4, "dry")
    assert seen.temperature == pytest.approx(313.15)
    assert (seen.visit, seen.purpose) == ("outage 0", "maintenance")
    assert seen.status in {"sound", "watch", "investigate", "unfit", "not judged"}


def test_the_same_insulation_every_year_shows_no_trend(points: tuple[HistoryPoint, ...]) -> None:
    found = {t.quantity: t for t in trends(points, library=LIBRARY, today=date(2025, 1, 1))}
    trend = found["insulation_resistance_60s_corrected"]
    assert len(trend.points) == 6
    assert trend.earlier == ()
    assert trend.slope is not None
    assert abs(trend.slope.value) < 0.01
    assert "dew_point" not in found


@pytest.mark.parametrize("day", (None, date(2020, 5, 1)))
def test_a_record_without_a_day_has_no_place_in_a_history(day: date | None) -> None:
    judged = evaluate([on(day, record())]).records
    assert bool(history_points(judged, ["a"])) is (day is not None)


def test_every_record_needs_its_name() -> None:
    with pytest.raises(ValueError, match="shorter"):
        history_points(evaluate([record()]).records, [])


@pytest.mark.parametrize("word", ("rewind", "refill", "repair", "cleaning", "drying", "other"))
def test_the_kinds_of_event(word: str) -> None:
    assert AssetEvent(date(2020, 1, 1), Happening(word)).kind == word
