"""Lists and pages for the doors: limits, options as typed, and what is shown of an asset and of a test."""

from __future__ import annotations

from pathlib import Path

import pytest

from soakage.errors import UsageError
from soakage.model.verdict import Status
from soakage.store.queries import Wanted
from soakage.wiring.looking import day_given, listed, status_given
from soakage.wiring.showing import shown
from wired import hands, take, text


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four assets at two sites with seven tests."""
    folder = tmp_path_factory.mktemp("looking")
    files = {f"{n}.csv": text(f"Pump {n}", site="Works" if n < 3 else "Annex") for n in range(4)}
    files |= {f"{n}-later.csv": text(f"Pump {n}", day="2027-03-14") for n in range(3)}
    with hands(folder) as held:
        assert take(held, folder, files).count("added") == 7
    return folder


@pytest.mark.parametrize(
    ("limit", "offset", "tests", "assets", "more"),
    (
        (None, 0, 7, 4, False), (None, 2, 5, 2, False), (10, 0, 7, 4, False), (7, 0, 7, 4, False), (6, 0, 6, 4, True),
        (4, 0, 4, 4, True), (3, 0, 3, 3, True), (3, 3, 3, 1, True), (3, 6, 1, 0, False), (1, 7, 0, 0, False),
        (0, 0, 0, 0, True),
    ),
)  # fmt: skip
def test_a_list_is_cut_and_says_so(
    place: Path, limit: int | None, offset: int, tests: int, assets: int, more: bool
) -> None:
    found = listed(str(place / "store.sqlite"), None, Wanted(), limit, offset)
    assert (len(found[0]), len(found[1]), found[2]) == (tests, assets, more)


@pytest.mark.parametrize(
    ("wanted", "tests", "assets"),
    (
        (Wanted(site="Annex"), 1, 1), (Wanted(text="pump 1"), 2, 1), (Wanted(since="2027-01-01"), 3, 3),
        (Wanted(until="2026-12-31"), 4, 4), (Wanted(section="phase V"), 0, 0),
        (Wanted(site="Annex", since="2027-01-01"), 0, 0),
        (Wanted(asset_class="cable"), 0, 0), (Wanted(unsigned=True), 7, 4), (Wanted(text="nothing such"), 0, 0),
    ),
)  # fmt: skip
def test_a_choice_narrows_tests_and_assets(place: Path, wanted: Wanted, tests: int, assets: int) -> None:
    found = listed(str(place / "store.sqlite"), None, wanted)
    assert (len(found[0]), len(found[1])) == (tests, assets)


def test_a_store_that_is_not_there_is_empty_and_stays_so(tmp_path: Path) -> None:
    assert listed(str(tmp_path / "none.sqlite"), None, Wanted(), 5) == ([], [], False)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("typed", "day"),
    ((None, None), ("2026-03-14", "2026-03-14"), (" 2026-03-14 ", "2026-03-14"), ("20260314", "2026-03-14")),
)
def test_a_day_as_typed(typed: str | None, day: str | None) -> None:
    assert day_given("--since", typed) == day


@pytest.mark.parametrize(
    "typed", ("", "spring", "14.03.2026", "2026-13-01", "2026-02-30", "2026-03", "tomorrow")
)
def test_what_is_no_day(typed: str) -> None:
    with pytest.raises(UsageError, match=r"--until .*this is no day. Write it as 2026-03-14"):
        day_given("--until", typed)


@pytest.mark.parametrize("status", Status)
def test_a_status_as_typed(status: Status) -> None:
    word = str(status)
    for typed in (word, word.upper(), f"  {word} ", word.replace(" ", "-"), word.replace(" ", "   ")):
        assert status_given(typed) == word
    assert status_given(None) is None


@pytest.mark.parametrize("typed", ("", "good", "safe", "sounds", "invalid", "pass"))
def test_what_is_no_status(typed: str) -> None:
    with pytest.raises(UsageError, match=r"no such status\. One of: "):
        status_given(typed)


# One of them


def test_an_asset_is_shown_with_its_tests_in_order_of_day(place: Path) -> None:
    with hands(place) as held:
        page = shown(held, "Pump 1")
    assert (page["kind"], page["asset"]["asset"], page["asset"]["rated_voltage"]) == (
        "asset",
        "Pump 1",
        6600.0,
    )
    assert [test["day"] for test in page["tests"]] == ["2026-03-14", "2027-03-14"]
    assert [section["name"] for section in page["sections"]] == ["phase U"]
    assert (page["standing"]["tests"], page["standing"]["unsigned"], page["standing"]["day"]) == (
        2,
        2,
        "2027-03-14",
    )
    assert page["instruments"][0]["instrument_serial"] == "T-1"
    for test in page["tests"]:
        assert test["figures"]["insulation_resistance_60s"]["value"] == pytest.approx(5e8)
    assert [page[name] for name in ("notes", "events", "attachments", "reviews", "conflicts")] == [[]] * 5


def test_a_test_is_shown_with_what_was_read(place: Path) -> None:
    with hands(place) as held:
        name = shown(held, "Pump 3")["tests"][0]["id"]
        pages = [shown(held, typed) for typed in (name, name[:8], name[:20].upper())]
    assert pages[0] == pages[1] == pages[2]
    page = pages[0]
    readings = page["record"]["readings"]
    assert (readings["time"], readings["voltage"], readings["bound"]) == (
        [15.0, 60.0],
        [5000.0, 5000.0],
        [0, 0],
    )
    assert readings["current"] == pytest.approx([2e-5, 1e-5])
    assert len(readings["resistance"]) == 2
    assert page["asset"] == {
        "id": page["test"]["asset_id"], "site": "Annex", "asset": "Pump 3", "tag": None, "serial": None,
    }  # fmt: skip
    assert [given["stands"] for given in page["verdicts"]] == [True]
    assert page["result"]["verdict"]["status"] == page["test"]["status"] == page["verdicts"][0]["status"]
    assert [one["number"] for one in page["revisions"]] == [1]
    assert page["revisions"][0]["person"] == "N. Invented"
    assert page["origin"]["kept"] is True
    assert page["origin"]["file"].endswith("3.csv")


@pytest.mark.parametrize(
    ("typed", "site", "words"),
    (
        ("Pump", None, "No asset is called 'Pump'"), ("Pump 3", "Works", "No asset is called 'Pump 3' at Works"),
        ("pump 3", None, "No asset is called"), ("00000000", None, "No test begins with"), ("", None, "No asset"),
        ("0123456", None, "No asset is called"),
    ),
)  # fmt: skip
def test_what_is_not_there_is_said(place: Path, typed: str, site: str | None, words: str) -> None:
    with hands(place) as held, pytest.raises(UsageError, match=words):
        shown(held, typed, site)
