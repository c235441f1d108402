"""What the store's benchmark is made of: copies that are whole, and goals that can be missed."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import func, select

FOLDER = Path(__file__).parents[2] / "benchmarks"
sys.path.insert(0, str(FOLDER))

import bench_large_store  # noqa: E402 - the folder has to be found first
import bench_store  # noqa: E402

from soakage.store import schema  # noqa: E402
from soakage.store.memory import StoreMemory  # noqa: E402
from soakage.store.pages import asset_page  # noqa: E402
from soakage.wiring.memory import memory  # noqa: E402

ASSETS = 4


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> tuple[StoreMemory, dict[str, Any]]:
    hands = memory(str(tmp_path_factory.mktemp("large") / "s.sqlite"), "bench")
    rows = bench_large_store.template(hands)
    bench_large_store.fill(hands, rows, 1, ASSETS)
    hands.store.close()
    return hands, rows


def test_every_copy_is_whole(filled: tuple[StoreMemory, dict[str, Any]]) -> None:
    hands, rows = filled
    own = rows["asset"][0]["id"]
    with hands.store as opened, opened.reading() as connection:
        whole = asset_page(connection, own)
        for number in range(1, ASSETS):
            page = asset_page(connection, bench_large_store.other_id(own, number))
            assert page["asset"]["class"] == "rotating-machine"
            assert len(page["tests"]) == bench_large_store.TESTS
            assert [test["figures"] for test in page["tests"]] == [test["figures"] for test in whole["tests"]]
            assert page["standing"]["tests"] == bench_large_store.TESTS


def test_no_row_is_written_twice(filled: tuple[StoreMemory, dict[str, Any]]) -> None:
    hands, rows = filled
    with hands.store as opened, opened.reading() as connection:
        for name in ("asset", "test", "visit", "figure", "verdict", "standing"):
            table = schema.metadata.tables[name]
            count = connection.execute(select(func.count()).select_from(table)).scalar_one()
            assert count == ASSETS * len(rows[name]), name


def test_ids_of_copies_are_spread_and_apart() -> None:
    value = "0123abcd" + "e" * 24
    made = [bench_large_store.other_id(value, number) for number in range(2000)]
    assert made[0] == value
    assert len(set(made)) == 2000
    sixteenths = [sum(one.startswith(f"{first:x}") for one in made) for first in range(16)]
    assert max(sixteenths) < 1.2 * 2000 / 16, "no corner of the index is crowded"


def test_every_tenth_test_differs_from_the_one_before() -> None:
    texts = {bench_large_store.record_text(number) for number in range(bench_large_store.TESTS)}
    assert len(texts) == bench_large_store.TESTS


@pytest.mark.parametrize(("last", "met"), ((1.0, True), (1.4, True), (3.0, False)))
def test_an_import_that_slows_down_is_told(last: float, met: bool) -> None:
    steps = [1.0] * 90 + [last] * 10
    course = [(number + 1, sum(steps[: number + 1])) for number in range(100)]
    assert bench_store.linear(course) is met


@pytest.mark.parametrize(("large", "met"), ((1.0, True), (1.9, True), (2.5, False)))
def test_a_page_that_grows_with_the_store_is_told(large: float, met: bool) -> None:
    rows = [{"again_s": {"median": 1.0}}, {"again_s": {"median": large}}]
    assert bench_store.flat(rows) is met


def test_the_plot_shows_both(tmp_path: Path) -> None:
    page = [{"tests": 40, "again_s": {"median": 0.01}}, {"tests": 4000, "again_s": {"median": 0.011}}]
    found = {"page": page, "import": {"course": [(1, 0.1), (2, 0.2)]}}
    bench_store.draw({"engines": {"sqlite": found}}, tmp_path / "plot.svg")
    text = (tmp_path / "plot.svg").read_text(encoding="utf-8")
    for part in ("<svg", "tests in the store", "files on the disk", "sqlite"):
        assert part in text
