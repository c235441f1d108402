"""Lists of a store: what is found, in which order, and that one asset costs the same in a large store."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import text

from keeping import filled, opened
from soakage.app.lookup import the_test
from soakage.app.revising import withdraw
from soakage.app.rules import default_rules
from soakage.app.signing import sign_off
from soakage.store.memory import StoreMemory
from soakage.store.queries import Wanted, listed_assets, listed_tests

ASSETS = ("feed-pump-motor", "house-board", "works-cable-1")
Row = dict[str, Any]


@pytest.fixture
def memory(made_address: str) -> StoreMemory:
    return filled(made_address, ASSETS)[0]


def rows_of(memory: StoreMemory, limit: int | None = None, offset: int = 0, **wanted: Any) -> list[Row]:
    with memory.store.reading() as connection:
        return listed_tests(connection, Wanted(**wanted), limit=limit, offset=offset)


def assets(memory: StoreMemory, limit: int | None = None, offset: int = 0, **wanted: Any) -> list[Row]:
    with memory.store.reading() as connection:
        return listed_assets(connection, Wanted(**wanted), limit=limit, offset=offset)


def test_a_store_that_is_not_there_is_empty(store_address: str) -> None:
    memory = opened(store_address)
    assert rows_of(memory) == []
    assert assets(memory) == []


def test_all_of_it_newest_first_assets_by_site_and_name(memory: StoreMemory) -> None:
    everything = rows_of(memory)
    days = [row["day"] for row in everything]
    assert len(everything) == 90
    assert days == sorted(days, reverse=True)
    found = assets(memory)
    assert [row["asset"] for row in found] == ["Feed pump motor", "House board", "Works cable 1"]
    assert [row["tests"] for row in found] == [30, 30, 30]
    for row in found:
        mine = [test for test in everything if test["asset_id"] == row["id"]]
        assert row["last_day"] == max(test["day"] for test in mine)
        assert {test["site"] for test in mine} == {row["site"]}


def test_pages_make_up_the_whole(memory: StoreMemory) -> None:
    whole = rows_of(memory)
    parts = [row for start in range(0, 100, 7) for row in rows_of(memory, limit=7, offset=start)]
    assert parts == whole
    assert [row["id"] for start in range(4) for row in assets(memory, limit=1, offset=start)] == [
        row["id"] for row in assets(memory)
    ]


@pytest.mark.parametrize(
    ("part", "names"),
    (
        ("feed", {"Feed pump motor"}), ("FEED PUMP", {"Feed pump motor"}), ("_", set()),
        ("ostrafell", {"Feed pump motor", "House board"}),
        ("FP-1", {"Feed pump motor"}), ("invented-OP", {"Feed pump motor", "House board"}), ("100%", set()),
        ("o", {"Feed pump motor", "House board", "Works cable 1"}),
    ),
)  # fmt: skip
def test_text_is_part_of_a_name_tag_serial_or_site(memory: StoreMemory, part: str, names: set[str]) -> None:
    assert {row["asset"] for row in assets(memory, text=part)} == names
    assert {row["asset"] for row in rows_of(memory, text=part)} == names


def test_a_test_is_found_by_the_beginning_of_its_id(memory: StoreMemory) -> None:
    wanted = rows_of(memory)[17]["id"]
    assert [row["id"] for row in rows_of(memory, text=wanted[:8])] == [wanted]
    assert [row["id"] for row in rows_of(memory, text=wanted.upper())] == [wanted]
    assert rows_of(memory, text=wanted[:7]) == [], "seven signs are too few"


def test_filters_hold_one_by_one_and_together(memory: StoreMemory) -> None:
    whole = rows_of(memory)
    site = "Ostrafell power house (invented)"
    cases: list[tuple[Row, Any]] = [
        ({"site": site}, lambda row: row["site"] == site),
        ({"section": "phase U"}, lambda row: row["section"] == "phase U"),
        ({"since": "2022-01-01"}, lambda row: row["day"] >= "2022-01-01"),
        ({"until": "2018-12-31"}, lambda row: row["day"] <= "2018-12-31"),
        ({"status": "sound"}, lambda row: row["status"] == "sound"),
        ({"asset_class": "cable"}, lambda row: row["asset"] == "Works cable 1"),
        ({"site": site, "since": "2020-01-01", "section": "phase V"},
         lambda row: row["site"] == site and row["day"] >= "2020-01-01" and row["section"] == "phase V"),
    ]  # fmt: skip
    for wanted, holds in cases:
        found = rows_of(memory, **wanted)
        assert found == [row for row in whole if holds(row)], wanted
        assert found, wanted
        by_tests = {row["asset_id"] for row in found}
        if "status" not in wanted:
            assert {row["id"] for row in assets(memory, **wanted)} == by_tests, wanted


def test_a_name_of_another_site_or_class_is_not_found(memory: StoreMemory) -> None:
    assert rows_of(memory, site="Ostrafell") == [], "a site is matched whole"
    assert assets(memory, asset_class="Cable") == []


def test_the_status_of_an_asset_is_that_of_its_newest_visit(memory: StoreMemory) -> None:
    for row in assets(memory):
        assert row in assets(memory, status=row["status"])
        assert row not in assets(memory, status="unfit")


def test_what_was_withdrawn_is_left_out_unless_asked_for(memory: StoreMemory) -> None:
    first = rows_of(memory)[0]
    withdraw(memory, the_test(memory, first["id"]), default_rules(), "Taken on the wrong winding.")
    assert first["id"] not in {row["id"] for row in rows_of(memory)}
    marked = {row["id"]: row["state"] for row in rows_of(memory, withdrawn=True)}
    assert marked[first["id"]] == "withdrawn"
    assert len(marked) == 90


def test_what_nobody_signed_is_told_apart(memory: StoreMemory) -> None:
    asset = rows_of(memory)[0]["asset_id"]
    mine = [row["id"] for row in rows_of(memory) if row["asset_id"] == asset]
    sign_off(memory, [the_test(memory, name) for name in mine], signed=True)
    left = rows_of(memory, unsigned=True)
    assert len(left) == 60
    assert asset not in {row["asset_id"] for row in left}
    assert asset not in {row["id"] for row in assets(memory, unsigned=True)}


def test_one_asset_is_found_by_an_index(memory: StoreMemory, engine: str) -> None:
    if engine != "sqlite":
        return  # a planner that counts rows reads a small table whole
    asset = assets(memory)[0]["id"]
    plans: tuple[tuple[str, dict[str, str]], ...] = (
        ("select * from test where asset = :asset order by day, started", {"asset": asset}),
        (
            "select * from figure join test on test.id = figure.test where test.asset = :asset",
            {"asset": asset},
        ),
        ("select id from test where id >= '12345678' and id < '12345678g'", {}),
        ("select * from test order by day desc, id limit 50", {}),
        ("select * from remark where kind = 'asset' and subject = :asset", {"asset": asset}),
    )
    with memory.store.reading() as connection:
        for query, values in plans:
            plan = [row[3] for row in connection.execute(text(f"explain query plan {query}"), values)]
            assert not any(step.startswith("SCAN") and "INDEX" not in step for step in plan), (query, plan)
