"""Lists of tests, assets and plant held against plain loops over the same rows, for any choice a person can make."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engines import ENGINES, addresses
from plain_world import (
    CLASSES,
    DAYS,
    SECTIONS,
    SITES,
    STATUSES,
    World,
    empty_first,
    filled_with,
    pages,
    world,
)
from soakage.store.address import address
from soakage.store.plant import counted, marks, named, ranked, sites, spread
from soakage.store.queries import SHORTEST, Wanted, beginning, listed_assets, listed_tests
from soakage.store.store import Store

Row = dict[str, Any]
WORLD = world(7)
IDS = tuple(row["id"] for row in WORLD.tests)
EXAMPLES = {"sqlite": 100, "postgresql": 30}
NEED = {status: place for place, status in enumerate((*STATUSES, None))}
TEXTS = ("", "pump", "PUMP 0", "mill", "_", "%", "\\", "öl", "s-1", "p_1", "nobody", "deadbeef", "DEAD")
WANTED = st.builds(
    Wanted,
    text=st.sampled_from((*TEXTS, IDS[0][:8], IDS[1][:7], IDS[2].upper(), IDS[3][:20])),
    site=st.sampled_from(SITES),
    asset_class=st.sampled_from(CLASSES),
    status=st.sampled_from((None, *STATUSES)),
    section=st.sampled_from((None, *SECTIONS)),
    since=st.sampled_from((None, "2011-05-03", "2020-01-01", "2030-01-01")),
    until=st.sampled_from((None, "2011-05-02", "2020-01-01", "1999-01-01")),
    unsigned=st.booleans(),
    withdrawn=st.booleans(),
)
# most of the time only one or two things are asked for
FEW = st.builds(
    lambda whole, names: Wanted(**{name: getattr(whole, name) for name in names}),
    WANTED,
    st.sets(st.sampled_from(Wanted.__slots__), max_size=3),
)


@pytest.fixture(scope="module", params=ENGINES)
def both(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[str, Store]]:
    """One world in a store of each engine; nothing here writes to it."""
    with addresses(request, tmp_path_factory.mktemp("world"), 1) as (where,), Store(address(where)) as store:
        yield request.param, filled_with(WORLD, store)


# The reference: what the words of `Wanted` say, by plain loops


def asset_fits(asset: Row | None, wanted: Wanted) -> bool:
    if wanted.site is None and wanted.asset_class is None and not wanted.text:
        return True
    if asset is None:
        return False
    if wanted.site is not None and asset["site"] != wanted.site:
        return False
    if wanted.asset_class is not None and asset["class"] != wanted.asset_class:
        return False
    names = [asset[key] or "" for key in ("name", "tag", "serial", "site")]
    return any(wanted.text.lower() in name.lower() for name in names)


def fits_test(test: Row, wanted: Wanted) -> bool:
    return (
        (wanted.withdrawn or test["state"] == "current")
        and wanted.section in (None, test["section"])
        and (wanted.since is None or (test["day"] or "") >= wanted.since)
        and (wanted.until is None or (test["day"] is not None and test["day"] <= wanted.until))
        and (not wanted.unsigned or test["review"] != "signed")
    )


def begins(test: Row, wanted: Wanted) -> bool:
    text = wanted.text.lower()
    return (
        wanted.site is None and wanted.asset_class is None and len(text) >= 8 and test["id"].startswith(text)
    )


def wanted_tests(made: World, wanted: Wanted) -> list[str]:
    found = [
        test
        for test in made.tests
        if fits_test(test, wanted)
        and wanted.status in (None, test["status"])
        and (asset_fits(made.asset(test["asset"]), wanted) or begins(test, wanted))
    ]
    by_id = sorted(found, key=lambda test: test["id"])
    return [test["id"] for test in sorted(by_id, key=lambda test: test["day"] or "", reverse=True)]


def newest(made: World, asset: str) -> list[Row]:
    """The current tests of an asset's newest visit."""
    current = sorted(made.tests_of(asset), key=lambda test: (test["day"] or "", test["id"]))
    if not current:
        return []
    last = current[-1]
    return [test for test in current if test["visit"] == last["visit"]] if last["visit"] else [last]


def status_of(made: World, asset: str) -> str | None:
    found = [test["status"] or "not judged" for test in newest(made, asset)]
    return min(found, key=NEED.__getitem__, default=None)


def wanted_assets(made: World, wanted: Wanted) -> list[Row]:
    found = []
    for asset in made.assets:
        mine = made.tests_of(asset["id"], withdrawn=wanted.withdrawn)
        asks_for_tests = wanted.section or wanted.since or wanted.until or wanted.unsigned
        if (
            asset_fits(asset, wanted)
            and wanted.status in (None, status_of(made, asset["id"]))
            and (not asks_for_tests or any(fits_test(test, wanted) for test in mine))
        ):
            found.append(asset)
    return found


# Tests and assets


@settings(deadline=None, max_examples=max(EXAMPLES.values()))
@given(wanted=FEW | WANTED, limit=st.none() | st.integers(0, 40), offset=st.integers(0, 60))
def test_the_reference_itself_pages_as_a_list_does(wanted: Wanted, limit: int | None, offset: int) -> None:
    whole = wanted_tests(WORLD, wanted)
    assert len(whole) == len(set(whole))
    assert whole[offset:][:limit] == (whole[offset:] if limit is None else whole[offset : offset + limit])


def each(engine: str, check: Callable[..., None], *strategies: st.SearchStrategy[Any]) -> None:
    searched: Callable[[], None] = given(*strategies)(check)
    settings(deadline=None, max_examples=EXAMPLES[engine], database=None)(searched)()


def test_tests_are_those_of_plain_loops_in_their_order(both: tuple[str, Store]) -> None:
    engine, store = both

    def check(wanted: Wanted, limit: int | None, offset: int) -> None:
        with store.reading() as connection:
            found = listed_tests(connection, wanted, limit=limit, offset=offset)
        whole = wanted_tests(WORLD, wanted)
        assert [row["id"] for row in found] == whole[offset:][:limit]

    each(engine, check, FEW | WANTED, st.none() | st.integers(0, 40), st.integers(0, 60))


def test_assets_are_those_of_plain_loops_in_their_order(both: tuple[str, Store]) -> None:
    engine, store = both

    def check(wanted: Wanted, limit: int | None, offset: int) -> None:
        with store.reading() as connection:
            found = listed_assets(connection, wanted, limit=limit, offset=offset)
            whole = listed_assets(connection, wanted)
        assert {row["id"] for row in whole} == {asset["id"] for asset in wanted_assets(WORLD, wanted)}
        assert found == whole[offset:][:limit]

    each(engine, check, FEW | WANTED, st.none() | st.integers(0, 9), st.integers(0, 20))


def test_assets_come_by_site_and_name_on_either_engine_the_same(both: tuple[str, Store]) -> None:
    _, store = both
    with store.reading() as connection:
        found = listed_assets(connection, Wanted())
    by_id = {asset["id"]: asset for asset in WORLD.assets}
    keys = [tuple(by_id[row["id"]][key] for key in ("site", "name")) for row in found]
    assert keys == [
        tuple(asset[key] for key in ("site", "name"))
        for asset in sorted(WORLD.assets, key=empty_first(lambda row: (row["site"], row["name"])))
    ]


def test_a_row_of_a_list_says_what_the_tables_hold(both: tuple[str, Store]) -> None:
    _, store = both
    with store.reading() as connection:
        tests = listed_tests(connection, Wanted(withdrawn=True))
        assets = listed_assets(connection, Wanted())
    by_id = {test["id"]: test for test in WORLD.tests}
    assert len(tests) == len(WORLD.tests)
    for row in tests:
        test, asset = by_id[row["id"]], WORLD.asset(by_id[row["id"]]["asset"]) or {}
        assert row == {
            "id": test["id"], "site": asset.get("site"), "asset": asset.get("name"), "asset_id": test["asset"],
            "section": test["section"], "method": test["method"], "day": test["day"], "status": test["status"],
            "sentence": test["sentence"], "state": test["state"], "review": test["review"],
            "revision": test["revision"],
        }  # fmt: skip
    assert len(assets) == len(WORLD.assets)
    for row in assets:
        found = WORLD.asset(row["id"])
        assert found is not None
        current = WORLD.tests_of(row["id"])
        assert row == {
            "id": found["id"], "site": found["site"], "asset": found["name"], "tag": found["tag"],
            "serial": found["serial"], "class": found["class"], "retired": found["retired"],
            "tests": len(current), "last_day": max((test["day"] or "" for test in current), default="") or None,
            "status": status_of(WORLD, row["id"]),
        }  # fmt: skip


@pytest.mark.parametrize("size", (1, 7, 50))
def test_pages_of_any_size_make_up_the_whole_once(both: tuple[str, Store], size: int) -> None:
    _, store = both
    with store.reading() as connection:
        for listing, count in ((listed_tests, len(WORLD.tests)), (listed_assets, len(WORLD.assets))):
            parts = [
                row["id"]
                for limit, offset in pages(size, count)
                for row in listing(connection, Wanted(withdrawn=True), limit=limit, offset=offset)
            ]
            assert parts == [row["id"] for row in listing(connection, Wanted(withdrawn=True))]


@pytest.mark.parametrize(
    ("text", "is_one"),
    (
        ("", False), ("abc", False), ("a" * (SHORTEST - 1), False), ("a" * SHORTEST, True), ("0123456789", True),
        ("ABCDEF01", True), ("abcdefg0", False), ("abcdef 1", False), ("abcdef0_", False), ("f" * 64, True),
        ("pump three", False), ("٠١٢٣٤٥٦٧", False),
    ),
)  # fmt: skip
def test_what_may_be_the_beginning_of_an_id(text: str, is_one: bool) -> None:
    assert (beginning(text) is not None) is is_one


# All plant at once


PLANT = st.builds(
    Wanted,
    text=st.sampled_from(TEXTS),
    site=st.sampled_from(SITES),
    asset_class=st.sampled_from(CLASSES),
    status=st.sampled_from((None, *STATUSES)),
    unsigned=st.booleans(),
)


def in_service(wanted: Wanted) -> list[Row]:
    return [asset for asset in wanted_assets(WORLD, wanted) if not asset["retired"]]


def test_all_plant_is_that_of_plain_loops_the_neediest_first(both: tuple[str, Store]) -> None:
    engine, store = both

    def check(wanted: Wanted, by: Any) -> None:
        with store.reading() as connection:
            found = ranked(connection, wanted, by=by)
            some = ranked(connection, wanted, by=by, limit=3, offset=2)
        assert {row["id"] for row in found} == {asset["id"] for asset in in_service(wanted)}
        assert some == found[2:5]
        falls = [row["fall"] for row in found]
        needs = [NEED[row["status"]] for row in found]
        late = [float("inf") if fall is None else fall for fall in falls]
        if by == "fall":
            assert late == sorted(late)
        if by == "condition":
            assert list(zip(needs, late, strict=True)) == sorted(zip(needs, late, strict=True))

    each(engine, check, PLANT, st.sampled_from(("condition", "fall", "name")))


def test_plant_is_counted_and_marked_as_plain_loops_do(both: tuple[str, Store]) -> None:
    engine, store = both

    def check(wanted: Wanted, limit: int) -> None:
        with store.reading() as connection:
            counts, some = counted(connection, wanted), marks(connection, wanted, limit)
            whole = ranked(connection, wanted)
        assert Counter({(row["class"], row["status"]): row["count"] for row in counts}) == Counter(
            (asset["class"], status_of(WORLD, asset["id"])) for asset in in_service(wanted)
        )
        assert [row["id"] for row in some] == [row["id"] for row in whole[:limit]]
        for row in some:
            asset = WORLD.asset(row["id"])
            assert asset is not None
            assert row["asset"] == (asset["name"] or asset["tag"] or asset["serial"])

    each(engine, check, PLANT, st.integers(0, 12))


def test_what_is_spread_is_the_lowest_resistance_of_the_newest_visit(both: tuple[str, Store]) -> None:
    _, store = both
    wanted = {}
    for asset in in_service(Wanted()):
        values = [
            figures["insulation_resistance_60s_corrected"]["value"]
            for figures in (WORLD.figures_of(test["id"]) for test in newest(WORLD, asset["id"]))
            if "insulation_resistance_60s_corrected" in figures
        ]
        if values and min(values) > 0:
            wanted[asset["id"]] = min(values)
    with store.reading() as connection:
        found = {row["id"]: row["resistance"] for row in spread(connection, Wanted())}
    assert found == wanted
    assert found


def test_sites_and_names(both: tuple[str, Store]) -> None:
    _, store = both
    some = [asset["id"] for asset in WORLD.assets[::3]]
    with store.reading() as connection:
        assert sites(connection) == sorted(
            {asset["site"] for asset in WORLD.assets if asset["site"] is not None}
        )
        told = named(connection, [*some, "0" * 32])
        assert named(connection, []) == {}
    assert told == {
        asset["id"]: asset["name"] or asset["tag"] or asset["serial"]
        for asset in WORLD.assets
        if asset["id"] in some
    }


def test_the_world_holds_what_it_is_for() -> None:
    assert {test["state"] for test in WORLD.tests} == {"current", "withdrawn"}
    assert {test["day"] for test in WORLD.tests} == set(DAYS)
    assert {test["status"] for test in WORLD.tests} == {None, *STATUSES}
    assert {asset["site"] for asset in WORLD.assets} == set(SITES)
    assert any(not WORLD.tests_of(asset["id"]) for asset in WORLD.assets)
    assert any(test["asset"] is None for test in WORLD.tests)
