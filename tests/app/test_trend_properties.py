"""What must hold of every trend, whatever the history: held on random ones."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as draw

from histories import LIBRARY, TODAY, limit, point
from soakage.app.due import due_tests
from soakage.app.history import AssetEvent, Happening, HistoryPoint
from soakage.app.peers import Kin, Peer, Peers, peer_rank
from soakage.app.trend import trends
from soakage.app.trend_beside import fall, sisters_of
from soakage.app.trend_json import trend_json
from soakage.app.trend_result import Trend
from soakage.app.trend_series import series, without_doubles
from soakage.units import Bound

BOUNDS = (None, None, None, None, Bound.LOWER, Bound.UPPER)
EVENTS = draw.lists(
    draw.builds(
        AssetEvent,
        at=draw.dates(date(2005, 1, 1), date(2024, 1, 1)),
        kind=draw.sampled_from(Happening),
        section=draw.sampled_from(("", "U", "V")),
    ),
    max_size=3,
)


@draw.composite
def histories(pick: draw.DrawFn) -> list[HistoryPoint]:
    """Points of two sections, tested in two ways, some over range, on days in any order."""
    count = pick(draw.integers(0, 16))
    rng = np.random.default_rng(pick(draw.integers(0, 10_000)))
    made = []
    for k in range(count):
        day = date(2005, 1, 1) + timedelta(days=int(rng.integers(0, 7000)))
        made.append(
            replace(
                point(day, float(np.exp(rng.normal(20, 0.5)))),
                test=f"t{k}",
                section=str(rng.choice(["U", "V"])),
                test_voltage=float(rng.choice([1000.0, 5000.0])),
                bound=BOUNDS[int(rng.integers(0, len(BOUNDS)))],
                year=int(rng.choice([1998, 1998, 1998, 2014])),
                relative_humidity=float(rng.uniform(0.2, 0.9)),
            )
        )
    return made


def made(points: list[HistoryPoint], events: list[AssetEvent] | None = None) -> tuple[Trend, ...]:
    return trends(points, events or [], limit(), library=LIBRARY, today=TODAY)


# ---------------------------------------------------------------------------------------------- series
@settings(max_examples=80, deadline=None)
@given(histories(), EVENTS)
def test_every_point_stands_in_one_place(points: list[HistoryPoint], events: list[AssetEvent]) -> None:
    placed = [
        p.test
        for one in series(points, events)
        for p in (*one.points, *(q for e in one.earlier for q in e.points))
    ]
    assert sorted(placed) == sorted(p.test for p in points)


@settings(max_examples=80, deadline=None)
@given(histories(), EVENTS)
def test_a_series_is_alike_in_time_and_not_across_new_insulation(
    points: list[HistoryPoint], events: list[AssetEvent]
) -> None:
    renewing = [e for e in events if e.kind in {Happening.REWIND, Happening.REFILL, Happening.REPAIR}]
    for one in series(points, events):
        for part in (one.points, *(e.points for e in one.earlier)):
            days = [p.day for p in part]
            assert days == sorted(days)
            assert len({(p.section, p.test_voltage, p.year) for p in part}) == 1
            for event in renewing:
                if event.section in {"", part[0].section}:
                    assert not days[0] < event.at <= days[-1]
        assert all(e.ended_by for e in one.earlier)


@settings(max_examples=40, deadline=None)
@given(histories(), draw.integers(0, 99))
def test_the_order_points_are_given_in_means_nothing(points: list[HistoryPoint], seed: int) -> None:
    shuffled = [points[int(k)] for k in np.random.default_rng(seed).permutation(len(points))]
    assert made(shuffled) == made(points)


def test_series_without_their_corrected_double_stay() -> None:
    alone = [replace(point(date(2010 + k, 5, 1)), quantity="polarization_index") for k in range(3)]
    assert len(without_doubles(series(alone))) == 1
    assert without_doubles(()) == ()


# ---------------------------------------------------------------------------------------------- trends
@settings(max_examples=60, deadline=None)
@given(histories(), EVENTS)
def test_what_is_said_agrees_with_itself(points: list[HistoryPoint], events: list[AssetEvent]) -> None:
    for trend in made(points, events):
        values = sum(p.bound is None for p in trend.points)
        assert (trend.slope is None) is bool(trend.slope_reason)
        assert (trend.slope is None) is (trend.line_from is None)
        assert (trend.reaches is None) is bool(trend.reason)
        if trend.slope is not None:
            assert values >= 5
            assert trend.slope.lower is None or trend.slope.lower <= trend.slope.value
            assert trend.slope.upper is None or trend.slope.value <= trend.slope.upper
        if trend.mann_kendall is not None:
            assert 0 <= trend.mann_kendall.p <= 1
            assert -1 <= trend.mann_kendall.tau <= 1
        if trend.change_point is not None:
            assert trend.points[0].day < trend.change_point.at <= trend.points[-1].day
        assert set(trend.suspects) <= {p.test for p in trend.points}
        assert trend.caution


@settings(max_examples=40, deadline=None)
@given(histories(), EVENTS)
def test_the_answer_is_json_without_nan(points: list[HistoryPoint], events: list[AssetEvent]) -> None:
    found = made(points, events)
    text = json.dumps(trend_json({}, found, due_tests("a", found, LIBRARY)), allow_nan=False)
    assert len(json.loads(text)["trends"]) == len(found)


@settings(max_examples=40, deadline=None)
@given(histories(), draw.floats(1e-3, 1e3))
def test_a_factor_on_every_resistance_moves_no_slope(points: list[HistoryPoint], factor: float) -> None:
    for before, after in zip(
        made(points), made([replace(p, value=p.value * factor) for p in points]), strict=True
    ):
        assert (before.slope is None) is (after.slope is None)
        if before.slope is not None and after.slope is not None:
            assert after.slope.value == pytest.approx(before.slope.value, abs=1e-9)
        if before.mann_kendall is not None and after.mann_kendall is not None:
            assert after.mann_kendall.p == pytest.approx(before.mann_kendall.p)
        if before.fall_from_first is not None and after.fall_from_first is not None:
            assert after.fall_from_first.value == pytest.approx(before.fall_from_first.value)


@pytest.mark.parametrize("count", (7, 12))
@pytest.mark.parametrize("days", (366, 3653, -2000))
def test_moved_in_time_the_date_moves_along(count: int, days: int) -> None:
    noise = 0.02 * np.random.default_rng(count).normal(size=count)
    first = [point(date(2010 + k, 5, 1), float(2e9 * np.exp(-0.3 * k + noise[k]))) for k in range(count)]
    moved = [replace(p, at=p.day + timedelta(days=days)) for p in first]
    early = date(2009, 1, 1) + timedelta(days=min(days, 0))
    (one,) = trends(first, (), limit(), library=LIBRARY, today=early)
    (other,) = trends(moved, (), limit(), library=LIBRARY, today=early)
    assert one.reaches is not None
    assert other.reaches is not None
    assert abs((other.reaches.at - one.reaches.at).days - days) <= 1
    assert one.slope is not None
    assert other.slope is not None
    assert other.slope.value == pytest.approx(one.slope.value)


@pytest.mark.parametrize("lower", (1e6, 1e7, 3e7, 4e7))
def test_a_lower_limit_is_reached_later(lower: float) -> None:
    noise = 0.02 * np.random.default_rng(1).normal(size=12)
    points = [point(date(2010 + k, 5, 1), float(4e9 * np.exp(-0.25 * k + noise[k]))) for k in range(12)]
    (higher,) = trends(points, (), limit(2 * lower), library=LIBRARY, today=TODAY)
    (deeper,) = trends(points, (), limit(lower), library=LIBRARY, today=TODAY)
    assert higher.reaches is not None
    assert deeper.reaches is not None
    assert deeper.reaches.at > higher.reaches.at
    apart = (deeper.reaches.at - higher.reaches.at).days / 365.25
    assert deeper.slope is not None
    assert apart == pytest.approx(-math.log(2) / deeper.slope.value, abs=0.02)


# ------------------------------------------------------------------------------------ bounds against truth
@settings(max_examples=120, deadline=None)
@given(draw.floats(1e6, 1e10), draw.floats(1e6, 1e10), draw.sampled_from(BOUNDS), draw.sampled_from(BOUNDS),
       draw.floats(0, 2))  # fmt: skip
def test_a_fall_holds_for_every_truth_its_bounds_allow(
    then: float, now: float, one: Bound | None, other: Bound | None, beyond: float
) -> None:
    found = fall([point(date(2010, 1, 1), then, bound=one), point(date(2012, 1, 1), now, bound=other)], 0)
    away = {None: 0.0, Bound.LOWER: beyond, Bound.UPPER: -beyond}
    truth = 1 - now * math.exp(away[other]) / (then * math.exp(away[one]))
    if found is None:
        assert one is other
    elif found.bound is None:
        assert found.value == pytest.approx(truth)
    elif found.bound is Bound.LOWER:
        assert truth >= found.value - 1e-9 * abs(found.value) - 1e-12
    else:
        assert truth <= found.value + 1e-9 * abs(found.value) + 1e-12


@settings(max_examples=120, deadline=None)
@given(
    draw.lists(draw.tuples(draw.floats(1e6, 1e10), draw.sampled_from(BOUNDS)), min_size=2, max_size=5),
    draw.floats(0, 2),
)
def test_a_ratio_to_sisters_holds_for_every_truth_their_bounds_allow(
    readings: list[tuple[float, Bound | None]], beyond: float
) -> None:
    day = date(2012, 1, 1)
    points = [point(day, value, section=f"s{k}", bound=bound) for k, (value, bound) in enumerate(readings)]
    found = sisters_of(points[0], points)
    away = {None: 0.0, Bound.LOWER: beyond, Bound.UPPER: -beyond}
    true = [p.value * math.exp(away[p.bound]) for p in points]
    truth = true[0] / float(np.median(true[1:]))
    assert found is not None
    assert len(found.values) == len(points) - 1
    if found.ratio is None:
        assert any(p.bound for p in points)
    elif found.bound is None:
        assert found.ratio == pytest.approx(truth)
    elif found.bound is Bound.LOWER:
        assert truth >= found.ratio * (1 - 1e-9)
    else:
        assert truth <= found.ratio * (1 + 1e-9)


@settings(max_examples=60, deadline=None)
@given(
    draw.lists(draw.tuples(draw.floats(1e6, 1e10), draw.sampled_from(BOUNDS)), min_size=10, max_size=14),
    draw.floats(1e6, 1e10),
    draw.sampled_from(BOUNDS),
    draw.floats(0.01, 2),
)
def test_a_percentile_span_holds_the_percentile_of_every_truth(
    readings: list[tuple[float, Bound | None]], value: float, bound: Bound | None, beyond: float
) -> None:
    kin, day = Kin("cable"), date(2012, 1, 1)
    others = tuple(Peer(f"a{k}", kin, point(day, v, bound=b)) for k, (v, b) in enumerate(readings))
    found = peer_rank(point(day, value, bound=bound), Peers(kin, others), LIBRARY, TODAY)
    away = {None: 0.0, Bound.LOWER: beyond, Bound.UPPER: -beyond}
    own = value * math.exp(away[bound])
    true = [v * math.exp(away[b]) for v, b in readings]
    below = 100 * sum((other < own) + 0.5 * (other == own) for other in true) / len(true)
    assert found is not None
    assert found.lower is not None
    assert found.upper is not None
    assert found.lower - 1e-9 <= below <= found.upper + 1e-9
