"""An asset's history out of the store: points, events, peers, limits; the trends against the truth of the demo."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from scipy import stats

from keeping import filled, opened
from soakage.app.lookup import the_asset
from soakage.app.peers import Kin
from soakage.app.remarks import happened
from soakage.app.remember import QUANTITIES, events_of, kin_of, points_of, remember
from soakage.app.revising import withdraw
from soakage.app.rules import default_rules
from soakage.demo.history import history_truth
from soakage.errors import UsageError
from soakage.standards.library import library
from soakage.store.memory import StoreMemory
from soakage.wiring.trending import outage, trends_of

TODAY = date(2026, 11, 1)
R60 = "insulation_resistance_60s_corrected"


@pytest.fixture
def pumps(made_address: str) -> StoreMemory:
    return filled(made_address, ["mill-1-motor", "ash-pump-2-motor"])[0]


def test_the_trend_is_that_of_the_reference_library_on_the_same_points(pumps: StoreMemory) -> None:
    # scipy.stats.theilslopes on ln R against years: a reference library, not our own
    found = remember(pumps, the_asset(pumps, "Ash pump 2 motor"), library(), TODAY)
    (trend,) = (t for t in found.trends if t.section == "phase W" and t.quantity == R60)
    years = np.array([point.day.toordinal() for point in trend.points]) / 365.25
    reference = stats.theilslopes(np.log([point.value for point in trend.points]), years, 0.95)
    assert trend.slope is not None
    assert trend.slope.value == pytest.approx(reference.slope, rel=1e-6)


def test_the_trend_holds_the_slope_that_was_hidden_in_the_invented_history(pumps: StoreMemory) -> None:
    truth = next(truth for truth in history_truth() if truth.asset == "Ash pump 2 motor")
    found = remember(pumps, the_asset(pumps, "Ash pump 2 motor"), library(), TODAY)
    (trend,) = (t for t in found.trends if t.section == "phase W" and t.quantity == R60)
    assert trend.slope is not None
    assert trend.slope.lower is not None
    assert trend.slope.upper is not None
    assert trend.slope.lower < truth.slope("phase W", trend.points[-1].day) < trend.slope.upper


def test_a_date_names_a_criterion_and_stands_beside_the_guidance(pumps: StoreMemory) -> None:
    found = remember(pumps, the_asset(pumps, "Ash pump 2 motor"), library(), TODAY)
    (trend,) = (t for t in found.trends if t.section == "phase W" and t.quantity == R60)
    assert trend.reaches is not None
    assert trend.reaches.criterion in library().criteria
    assert "can not predict time to failure" in trend.caution


def test_a_change_of_level_gives_no_date(pumps: StoreMemory) -> None:
    found = remember(pumps, the_asset(pumps, "Mill 1 motor"), library(), TODAY)
    told = [trend for trend in found.trends if trend.quantity == R60]
    assert [trend.reaches for trend in told] == [None] * 3
    assert all("level changed" in (trend.reason or "") for trend in told)


def test_an_event_of_the_register_begins_a_new_series(pumps: StoreMemory) -> None:
    asset = the_asset(pumps, "Ash pump 2 motor")
    before = [
        len(trend.points)
        for trend in remember(pumps, asset, library(), TODAY).trends
        if trend.quantity == R60
    ]
    happened(pumps, asset, "rewind", date(2021, 1, 1), "coils renewed")
    after = [trend for trend in remember(pumps, asset, library(), TODAY).trends if trend.quantity == R60]
    assert all(len(trend.points) < number for trend, number in zip(after, before, strict=True))
    assert all("rewind" in trend.earlier[-1].ended_by for trend in after)
    (event,) = events_of(pumps.remarks("asset", asset.id))
    assert (event.at, event.text) == (date(2021, 1, 1), "coils renewed")


def test_a_withdrawn_test_is_no_point(pumps: StoreMemory) -> None:
    asset = the_asset(pumps, "Mill 1 motor")
    tests = pumps.tests(assets=[asset.id])
    withdraw(pumps, tests[0], default_rules(), "lead left on")
    assert tests[0].id not in {test.id for test in pumps.history(asset.id)}
    assert len(pumps.history(asset.id)) == len(tests) - 1


def test_a_resistance_as_read_is_no_point_where_a_corrected_one_is(pumps: StoreMemory) -> None:
    points = list(points_of(pumps.history(the_asset(pumps, "Mill 1 motor").id), QUANTITIES))
    assert R60 in {point.quantity for point in points}
    assert "insulation_resistance_60s" not in {point.quantity for point in points}


def test_peers_are_of_one_class_and_voltage_and_never_the_asset_itself(made_address: str) -> None:
    memory, _ = filled(made_address, ["mill-1-motor", "mill-2-motor", "works-cable-2", "works-transformer-2"])
    asset = the_asset(memory, "Mill 1 motor")
    kin = kin_of(asset)
    others = memory.peer_points(kin, [R60], asset.id)
    mill_2 = the_asset(memory, "Mill 2 motor")
    assert {name for name, _, _ in others} == {mill_2.id}
    newest = max(test.day or "" for test in memory.history(mill_2.id))
    assert {str(point.day) for _, _, point in others} == {newest}
    assert memory.peer_points(Kin(kin.asset_class, 100 * (kin.rated_voltage or 0)), [R60], asset.id) == []


def test_what_falls_due_names_the_neediest_first(pumps: StoreMemory) -> None:
    items = outage(pumps, date(2027, 6, 1), on=TODAY)
    assert items
    order = ["unfit", "investigate", "invalid test", "not judged", "watch", "sound"]
    places = [order.index(str(item.last_status)) for item in items]
    assert places == sorted(places)
    assert outage(pumps, date(2027, 6, 1), site="Elsewhere", on=TODAY) == ()


def test_a_quantity_or_section_or_asset_that_is_not_there_is_said(pumps: StoreMemory) -> None:
    with pytest.raises(UsageError, match="No asset is called 'Mill 1'"):
        trends_of(pumps, "Mill 1")  # never by the beginning of a name
    with pytest.raises(UsageError, match="phase U, phase V, phase W"):
        trends_of(pumps, "Mill 1 motor", section="phase X")
    with pytest.raises(UsageError):
        trends_of(pumps, "Mill 1 motor", quantities=["resistivity_of_the_air"])


def test_an_absent_store_has_no_history(made_address: str) -> None:
    memory = opened(made_address)
    assert memory.history("nothing") == []
    assert list(memory.register()) == []
    assert outage(memory, date(2030, 1, 1), on=TODAY) == ()
