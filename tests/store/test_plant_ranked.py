"""All plant and what waits, asked of both engines: the same answers as plain loops over the lists."""

from __future__ import annotations

import math
from collections import Counter
from datetime import date
from typing import Any

import pytest

from keeping import filled, opened
from soakage.app.editing import add_asset, retire
from soakage.app.signing import sign_off
from soakage.store.asset_part import asset_head, asset_tests, newest_tests
from soakage.store.memory import StoreMemory
from soakage.store.pages import asset_page
from soakage.store.plant import WORST_FIRST, counted, marks, named, ranked, sites, spread
from soakage.store.queries import Wanted, listed_assets
from soakage.store.waiting import by_turn, conflicts, held, to_decide, unfinished

ASSETS = ("mill-1-motor", "mill-2-motor", "house-board", "set-transformer")
YEARS = {"sound": 3.0, "watch": 1.0, "investigate": 0.0, "unfit": 0.0}
ORDER = {str(status): place for place, status in enumerate(WORST_FIRST)}
Row = dict[str, Any]


@pytest.fixture
def memory(store_address: str) -> StoreMemory:
    made = filled(store_address, ASSETS)[0]
    add_asset(made, {"asset": "Never tested", "class": "cable", "site": "Works"})
    return made


def ask(memory: StoreMemory, question: Any, *given: Any, **more: Any) -> Any:
    with memory.store.reading() as connection:
        return question(connection, *given, **more)


def listed(memory: StoreMemory) -> list[Row]:
    rows: list[Row] = ask(memory, listed_assets, Wanted())
    return rows


def test_ranked_by_condition_as_a_loop_would(memory: StoreMemory) -> None:
    rows = ask(memory, ranked, Wanted())
    assert {row["id"] for row in rows} == {row["id"] for row in listed(memory)}
    keys = [
        (
            ORDER.get(row["status"], 99),
            math.inf if row["fall"] is None else row["fall"],
            row["site"],
            row["asset"],
        )
        for row in rows
    ]
    assert keys == sorted(keys)
    assert rows[0]["asset"] == "Mill 1 motor"
    assert rows[-1]["asset"] == "Never tested"
    assert (rows[-1]["tests"], rows[-1]["unsigned"], rows[-1]["status"]) == (0, 0, None)


@pytest.mark.parametrize("by", ("condition", "fall", "name"))
def test_parts_of_each_order_make_up_the_whole(memory: StoreMemory, by: str) -> None:
    whole = ask(memory, ranked, Wanted(), by=by)
    parts = [
        row for start in range(0, 8, 2) for row in ask(memory, ranked, Wanted(), by=by, limit=2, offset=start)
    ]
    assert parts == whole
    if by == "fall":
        falls = [math.inf if row["fall"] is None else row["fall"] for row in whole]
        assert falls == sorted(falls)
    if by == "name":
        assert [(row["site"], row["asset"]) for row in whole] == sorted(
            (row["site"], row["asset"]) for row in whole
        )


@pytest.mark.parametrize(
    "wanted",
    (
        Wanted(),
        Wanted(asset_class="rotating-machine"),
        Wanted(status="investigate"),
        Wanted(text="mill"),
        Wanted(unsigned=True),
        Wanted(since="2026-05-01"),
        Wanted(since="2026-04-01", until="2026-04-30"),
        Wanted(site="nowhere"),
    ),
)
def test_counts_marks_and_ranking_agree(memory: StoreMemory, wanted: Wanted) -> None:
    rows = ask(memory, ranked, wanted)
    counts = {(row["class"], row["status"]): row["count"] for row in ask(memory, counted, wanted)}
    assert counts == dict(Counter((row["class"], row["status"]) for row in rows))
    assert [row["id"] for row in ask(memory, marks, wanted, 100)] == [row["id"] for row in rows]
    assert len(ask(memory, marks, wanted, 1)) == min(1, len(rows))
    own = {row["id"]: row["resistance"] for row in ask(memory, spread, wanted)}
    assert own == {row["id"]: row["resistance"] for row in rows if row["resistance"]}


def test_retired_assets_are_not_ranked_and_sites_are_named_once(memory: StoreMemory) -> None:
    first = ask(memory, ranked, Wanted())[0]
    retire(memory, memory.assets([first["id"]])[first["id"]])
    for question in (ranked, counted):
        assert first["id"] not in str(ask(memory, question, Wanted()))
    names = ask(memory, sites)
    assert names == sorted(set(names))
    assert "Works" in names
    assert ask(memory, named, [first["id"], "0" * 32]) == {first["id"]: first["asset"]}


def test_what_is_to_be_decided_is_decided_by_signing(memory: StoreMemory) -> None:
    count, rows = ask(memory, to_decide, 5)
    assert count == 1
    (row,) = rows
    assert (row["asset"], row["status"]) == ("Mill 1 motor", "investigate")
    told = memory.tests(ids=[row["test"]])[0]
    assert (told.status, told.section) == ("investigate", row["section"])
    visit = [test for test in memory.tests(visits=[str(told.visit)]) if test.status == "investigate"]
    for left in range(len(visit), 0, -1):
        assert ask(memory, to_decide, 5)[0] == 1, left
        sign_off(memory, [visit[left - 1]], signed=True, text="cleaned")
    assert ask(memory, to_decide, 5) == (0, [])


def test_turns_follow_from_day_and_status(memory: StoreMemory) -> None:
    dated, rows = ask(memory, by_turn, YEARS, 0.5, limit=10)
    assert dated == len(rows) == 4
    turns = [row["turn"] for row in rows]
    assert turns == sorted(turns)
    for row in rows:
        day = date.fromisoformat(row["day"])
        expected = day.year + (day - date(day.year, 1, 1)).days / 365.25 + YEARS.get(row["status"], 0.5)
        assert row["turn"] == pytest.approx(expected, abs=0.02)
    assert ask(memory, by_turn, YEARS, 0.5, limit=2) == (4, rows[:2])
    assert ask(memory, by_turn, YEARS, 0.5, limit=9, asset_class="switchgear")[0] == 1
    assert ask(memory, by_turn, YEARS, 0.5, limit=9, site="nowhere") == (0, [])


def test_what_is_held_is_counted(memory: StoreMemory) -> None:
    assert ask(memory, held) == {"assets": 5, "untested": 1}
    assert ask(memory, conflicts, 5) == (0, [])
    assert ask(memory, unfinished, 5) == []


@pytest.mark.parametrize("size", (1, 7, 18, 100))
def test_tests_in_parts_are_those_of_the_whole_page(memory: StoreMemory, size: int) -> None:
    asset = ask(memory, ranked, Wanted())[0]["id"]
    page = ask(memory, asset_page, asset)
    parts: list[Row] = []
    for start in range(0, 40, size):
        count, found = ask(memory, asset_tests, asset, size, start)
        assert count == 30
        parts += found
    assert {test["id"] for test in parts} == {test["id"] for test in page["tests"]}
    days = [test["day"] for test in parts]
    assert days == sorted(days, reverse=True)
    figures = {test["id"]: test["figures"] for test in page["tests"]}
    assert all(test["figures"] == figures[test["id"]] for test in parts)
    assert {test["tester"] for test in parts} == {"Tester One (invented)", "Tester Two (invented)"}


def test_the_newest_visit_and_the_head_are_those_of_the_whole_page(memory: StoreMemory) -> None:
    asset = ask(memory, ranked, Wanted())[0]["id"]
    page, head = ask(memory, asset_page, asset), ask(memory, asset_head, asset)
    newest = ask(memory, newest_tests, asset)
    visit = page["standing"]["visit"]
    assert {test["id"] for test in newest} == {test["id"] for test in page["tests"] if test["visit"] == visit}
    assert [test["section"] for test in newest] == ["phase U", "phase V", "phase W"]
    plate = {key: value for key, value in head["values"].items() if not key.startswith("section:")}
    assert {"id": asset, **plate} == page["asset"]
    assert head["standing"]["status"] == page["standing"]["status"]
    assert head["conflicts"] == page["conflicts"]


def test_a_store_that_is_not_there_has_nothing(store_address: str) -> None:
    empty = opened(store_address)
    assert ask(empty, ranked, Wanted()) == []
    assert ask(empty, asset_head, "0" * 32) is None
    assert ask(empty, newest_tests, "0" * 32) == []
    assert ask(empty, asset_tests, "0" * 32, 5) == (0, [])
    assert ask(empty, held) == {"assets": 0, "untested": 0}
