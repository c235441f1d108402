"""Where an asset stands, its history and its peers, held against plain loops over the same rows."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import delete, select

from engines import ENGINES, addresses
from plain_world import CLASSES, QUANTITIES, STATUSES, VOLTAGES, World, filled_with, world
from soakage.app.peers import Kin
from soakage.model.keys import insulation_family
from soakage.store import histories, schema
from soakage.store.address import address
from soakage.store.asset_part import asset_head, asset_tests, newest_tests
from soakage.store.histories import history, peer_points
from soakage.store.standing import INDEX, RESISTANCE, refresh, standing_of, standings
from soakage.store.store import Store

Row = dict[str, Any]
WORLD = world(11, assets=30)
WORST = {status: place for place, status in enumerate(STATUSES)}


@pytest.fixture(scope="module", params=ENGINES)
def store(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with addresses(request, tmp_path_factory.mktemp("world"), 1) as (where,), Store(address(where)) as opened:
        yield filled_with(WORLD, opened)


# Where an asset stands, by plain loops


def in_order(tests: list[Row]) -> list[Row]:
    return sorted(tests, key=lambda test: (test["day"] or "", test["id"]))


def newest_visit(current: list[Row]) -> list[Row]:
    last = in_order(current)[-1]
    if last["visit"] is None:
        return [last]
    return [test for test in current if test["visit"] == last["visit"]]


def lowest(tests: list[Row], figures: dict[str, dict[str, Row]], quantity: str) -> float | None:
    found = [
        figures[test["id"]][quantity]["value"] for test in tests if quantity in figures.get(test["id"], {})
    ]
    return min(found) if found else None


def greatest_fall(current: list[Row], figures: dict[str, dict[str, Row]]) -> float | None:
    """Of each row of comparable tests the last step; of those on the newest day the one that fell most."""
    alike: dict[Any, list[tuple[str, float]]] = {}
    for test in in_order(current):
        figure = figures.get(test["id"], {}).get(RESISTANCE)
        if figure and figure["bound"] is None and figure["value"] > 0:
            key = (test["section"], test["method"], test["test_voltage"], figure["rule"])
            alike.setdefault(key, []).append((test["day"] or "", figure["value"]))
    steps = [(row[-1][0], math.log(row[-1][1] / row[-2][1])) for row in alike.values() if len(row) > 1]
    newest = max((day for day, _ in steps), default=None)
    return min((step for day, step in steps if day == newest), default=None)


def stands(asset: str, tests: list[Row], figures: dict[str, dict[str, Row]]) -> Row | None:
    current = [test for test in tests if test["state"] == "current"]
    if not current:
        return None
    visit = newest_visit(current)
    return {
        "asset": asset,
        "tests": len(current),
        "day": in_order(current)[-1]["day"],
        "visit": in_order(current)[-1]["visit"],
        "status": min((test["status"] or "not judged" for test in visit), key=WORST.__getitem__),
        "unsigned": len([test for test in current if test["review"] != "signed"]),
        "resistance": lowest(visit, figures, RESISTANCE),
        "index": lowest(visit, figures, INDEX),
        "fall": greatest_fall(current, figures),
    }


DAY = st.sampled_from((None, "2020-01-01", "2020-01-02", "2024-06-30"))
TEST = st.fixed_dictionaries(
    {
        "day": DAY,
        "state": st.sampled_from(("current", "current", "withdrawn")),
        "status": st.sampled_from((None, *STATUSES)),
        "review": st.sampled_from(("draft", "reviewed", "signed")),
        "section": st.sampled_from(("u", "v")),
        "method": st.sampled_from(("a", "a", "b")),
        "test_voltage": st.sampled_from((None, 500.0, 500.0)),
        "figures": st.dictionaries(
            st.sampled_from((RESISTANCE, INDEX)),
            st.fixed_dictionaries(
                {
                    "value": st.sampled_from((0.0, -1.0, 1.0, 2.5, 1e9)),
                    "bound": st.sampled_from((None, None, None, "lower", "upper")),
                    "rule": st.sampled_from((None, "ten-degree")),
                }
            ),
        ),
    }
)


@settings(deadline=None, max_examples=400)
@given(given_tests=st.lists(TEST, max_size=7), visits=st.booleans(), data=st.data())
def test_an_asset_stands_where_plain_loops_say(
    given_tests: list[Row], visits: bool, data: st.DataObject
) -> None:
    tests, figures = [], {}
    for number, one in enumerate(given_tests):
        test = {key: value for key, value in one.items() if key != "figures"}
        test |= {"id": f"t{number}", "visit": f"v {one['day']}" if visits and one["day"] else None}
        tests.append(test)
        figures[test["id"]] = one["figures"]
    mixed = data.draw(st.permutations(tests))
    assert standing_of("x", mixed, figures) == stands("x", tests, figures)


@pytest.mark.parametrize(
    ("values", "fall"),
    (
        ([1e9], None), ([1e9, 1e9], 0.0), ([2e9, 1e9], math.log(0.5)), ([1e9, 2e9, 1e9], math.log(0.5)),
        ([4e9, 1e9, 2e9], math.log(2)), ([0.0, 1e9], None), ([1e9, 0.0], None), ([2e9, 0.0, 1e9], math.log(0.5)),
    ),
)  # fmt: skip
def test_a_fall_is_that_of_the_last_step(values: list[float], fall: float | None) -> None:
    tests: list[Row] = [
        {"id": f"t{place}", "state": "current", "day": f"2020-01-{place + 1:02}", "visit": None, "status": "sound",
         "review": "draft", "section": "u", "method": "m", "test_voltage": 500.0}
        for place in range(len(values))
    ]  # fmt: skip
    figures: dict[str, dict[str, Row]] = {
        str(test["id"]): {RESISTANCE: {"value": value, "bound": None, "rule": None}}
        for test, value in zip(tests, values, strict=True)
    }
    found = standing_of("x", tests, figures)
    assert found is not None
    assert found["fall"] == (None if fall is None else pytest.approx(fall))


@pytest.mark.parametrize("state", ("withdrawn", None))
def test_without_a_current_test_an_asset_stands_nowhere(state: str | None) -> None:
    tests = [] if state is None else [{"state": state, "day": "2020-01-01", "id": "t"}]
    assert standing_of("x", tests, {}) is None


def test_standings_of_a_store_are_those_of_plain_loops(store: Store) -> None:
    names = [asset["id"] for asset in WORLD.assets]
    figures = {test["id"]: WORLD.figures_of(test["id"]) for test in WORLD.tests}
    wanted = {name: stands(name, WORLD.tests_of(name, withdrawn=True), figures) for name in names}
    with store.reading() as connection:
        assert standings(connection, names) == wanted
        kept = connection.execute(select(schema.standing)).mappings()
        assert {row["asset"]: dict(row) for row in kept} == {k: v for k, v in wanted.items() if v is not None}


def test_what_stood_there_before_is_gone_when_it_is_made_anew(store: Store) -> None:
    names = [asset["id"] for asset in WORLD.assets if WORLD.tests_of(asset["id"])]
    with store.writing("N. Invented") as writer:
        connection = writer.connection
        before = {row.asset: row for row in connection.execute(select(schema.standing))}
        connection.execute(schema.standing.update().values(status="sound", tests=99, fall=-5.0))
        connection.execute(delete(schema.standing).where(schema.standing.c.asset == names[0]))
        refresh(connection, names)
        assert {row.asset: row for row in connection.execute(select(schema.standing))} == before


# Histories


def test_a_history_is_the_current_tests_in_order_of_day(store: Store) -> None:
    for asset in WORLD.assets:
        with store.reading() as connection:
            found = history(connection, asset["id"])
        wanted = in_order(WORLD.tests_of(asset["id"]))
        assert [test.id for test in found] == [test["id"] for test in wanted]
        for test, row in zip(found, wanted, strict=True):
            assert (test.section, test.day, test.status, test.visit) == (
                row["section"], row["day"], row["status"], row["visit"],
            )  # fmt: skip
            figures = {
                quantity: {k: v for k, v in figure.items() if k not in ("test", "quantity")}
                for quantity, figure in WORLD.figures_of(test.id).items()
            }
            assert test.figures == figures
            assert (test.result is None) is (row["status"] is None)
            assert set(test.stated) <= {"tested_by", "purpose"}


# Peers


def peers_by_hand(
    made: World, kin: Kin, quantities: set[str], but: str, ratio: float
) -> set[tuple[Any, ...]]:
    found = set()
    for asset in made.assets:
        current = made.tests_of(asset["id"])
        if asset["id"] == but or asset["class"] != kin.asset_class or not current:
            continue
        voltage = asset["rated_voltage"]
        if kin.rated_voltage and (
            voltage is None
            or not kin.rated_voltage / ratio <= voltage * (1 + 1e-9)
            or not voltage * (1 - 1e-9) <= kin.rated_voltage * ratio
        ):
            continue
        if in_order(current)[-1]["visit"] is None:
            continue
        for test in newest_visit(current):
            for quantity, figure in made.figures_of(test["id"]).items():
                if quantity in quantities:
                    family = insulation_family(asset["insulation"]) if asset["insulation"] else None
                    found.add(
                        (asset["id"], voltage, family, asset["year"], test["id"], test["day"], test["section"],
                         quantity, figure["value"], figure["bound"], test["status"] or "not judged")
                    )  # fmt: skip
    return found


def told(found: Iterator[Any]) -> list[tuple[Any, ...]]:
    return [
        (asset, kin.rated_voltage, kin.insulation, kin.year, point.test, str(point.day), point.section,
         point.quantity, point.value, point.bound and str(point.bound), point.status)
        for asset, kin, point in found
    ]  # fmt: skip


@pytest.mark.parametrize("asset_class", CLASSES[1:])
@pytest.mark.parametrize("voltage", VOLTAGES)
def test_peers_are_those_of_plain_loops(store: Store, asset_class: str, voltage: float | None) -> None:
    kin = Kin(asset_class, voltage)
    for quantities in ({QUANTITIES[0]}, set(QUANTITIES), set[str]()):
        for but in ("", WORLD.assets[0]["id"], WORLD.assets[7]["id"]):
            for ratio in (1.0, 2.0):
                with store.reading() as connection:
                    found = told(peer_points(connection, kin, quantities, but, ratio))
                assert len(found) == len(set(found))
                assert set(found) == peers_by_hand(WORLD, kin, quantities, but, ratio)
                assert [row[0] for row in found] == sorted(row[0] for row in found)


def test_the_world_has_peers_on_either_side_of_the_line() -> None:
    everything = set(QUANTITIES)
    counts = {
        ratio: len(peers_by_hand(WORLD, Kin("cable", 6600.0), everything, "", ratio))
        for ratio in (1.0, 2.0, 99.0)
    }
    assert 0 <= counts[1.0] < counts[99.0]
    assert len(peers_by_hand(WORLD, Kin("cable"), everything, "", 2.0)) > counts[2.0]


def test_of_very_many_peers_only_so_many_are_read(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(histories, "MOST_PEERS", 3)
    with store.reading() as connection:
        assert len(list(peer_points(connection, Kin("cable"), QUANTITIES, "", 2.0))) == 3


def test_a_point_of_a_peer_says_how_it_was_found(store: Store) -> None:
    with store.reading() as connection:
        points = [point for _, _, point in peer_points(connection, Kin("cable"), QUANTITIES, "", 2.0)]
    assert points
    for point in points:
        (test,) = (row for row in WORLD.tests if row["id"] == point.test)
        figure = WORLD.figures_of(test["id"])[point.quantity]
        assert point.day == date.fromisoformat(test["day"])
        assert (point.method, point.test_voltage, point.visit) == (
            test["method"], test["test_voltage"], test["visit"],
        )  # fmt: skip
        assert (point.rule, point.base_temperature, point.uncertainty) == (
            figure["rule"], figure["base_temperature"], figure["uncertainty"],
        )  # fmt: skip


# An asset a part at a time


@pytest.mark.parametrize("size", (1, 4, 100))
def test_the_tests_of_an_asset_come_in_parts_the_newest_first(store: Store, size: int) -> None:
    for asset in WORLD.assets:
        mine = WORLD.tests_of(asset["id"], withdrawn=True)
        with store.reading() as connection:
            found: list[Row] = []
            for offset in range(0, len(mine) + size, size):
                count, part = asset_tests(connection, asset["id"], size, offset)
                assert count == len(mine)
                assert len(part) <= size
                found += part
        assert {row["id"] for row in found} == {test["id"] for test in mine}
        assert len(found) == len(mine)
        days = [row["day"] or "" for row in found]
        assert days == sorted(days, reverse=True)
        for row in found:
            assert set(row["figures"]) == set(WORLD.figures_of(row["id"]))
            assert row["tester"] in (None, "N. Invented")


def test_the_newest_tests_are_those_of_where_it_stands(store: Store) -> None:
    some = 0
    for asset in WORLD.assets:
        with store.reading() as connection:
            found = newest_tests(connection, asset["id"])
        current = WORLD.tests_of(asset["id"])
        if not current:
            assert found == []
        elif in_order(current)[-1]["visit"] is not None:
            some += 1
            wanted = sorted(newest_visit(current), key=lambda test: (test["section"], test["id"]))
            assert [row["id"] for row in found] == [test["id"] for test in wanted]
    assert some > 5


def test_what_is_known_of_an_asset_beside_its_tests(store: Store) -> None:
    with store.reading() as connection:
        assert asset_head(connection, "0" * 32) is None
        for asset in WORLD.assets:
            head = asset_head(connection, asset["id"])
            assert head is not None
            assert head["values"]["serial"] == asset["serial"]
            assert (head["standing"] is None) is (not WORLD.tests_of(asset["id"]))
            assert (head["notes"], head["conflicts"], head["events"]) == ([], [], [])
