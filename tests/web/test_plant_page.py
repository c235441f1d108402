"""All plant: ranking, filters, map by class, spread among peers, files; and the list of assets."""

from __future__ import annotations

import csv
import html
import io
import math
import re
import zipfile
from typing import Any

import pytest
from openpyxl import load_workbook

from plant_rig import Plant, bare, plant, small_plant
from soakage.errors import UsageError
from soakage.store.plant import WORST_FIRST, counted, marks, ranked, sites, spread
from soakage.store.queries import Wanted
from soakage.web import plant_view
from soakage.web.filters import clean, filters
from soakage.web.plant_export import COLUMNS, exported

__all__ = ["bare", "plant", "small_plant"]
ORDER = [str(status) for status in WORST_FIRST]


def connection_of(of: Plant) -> Any:
    return of.client.app.state.store.reading()  # type: ignore[attr-defined]


def everything(of: Plant, query: str = "") -> list[dict[str, Any]]:
    return list(of.json(f"/api/plant?limit=1000{query}")["assets"])


def test_the_page_opens_with_how_many_stand_on_each_rung(plant: Plant) -> None:
    page = plant.page("/plant")
    counts: dict[str, int] = {}
    for one in everything(plant):
        counts[one["status"]] = counts.get(one["status"], 0) + 1
    assert f"{counts['investigate']} to investigate." in page
    assert f"{counts['sound']} sound" in page
    assert sum(counts.values()) == 9


def test_the_worst_stand_first_then_those_that_fell_most(plant: Plant) -> None:
    rows = everything(plant)
    keys = [
        (ORDER.index(one["status"]), math.inf if one["change"] is None else one["change"]) for one in rows
    ]
    assert keys == sorted(keys)
    shown = re.findall(r'<td class="wide"><a href="/assets/([0-9a-f]{32})"', plant.page("/plant"))
    assert shown == [one["id"] for one in rows]


def test_by_fall_those_that_fell_most_stand_first_whatever_their_status(plant: Plant) -> None:
    rows = everything(plant, "&by=fall")
    changes = [one["change"] for one in rows if one["change"] is not None]
    assert changes == sorted(changes)
    assert [one["change"] is None for one in rows] == sorted(one["change"] is None for one in rows)
    assert {one["id"] for one in rows} == {one["id"] for one in everything(plant)}


@pytest.mark.parametrize("asset", ("Mill 1 motor", "Old exhauster motor", "Intake cable"))
def test_the_change_is_that_of_the_newest_visit_over_the_one_before(plant: Plant, asset: str) -> None:
    (row,) = [one for one in everything(plant) if one["asset"] == asset]
    tests = [one for one in plant.json(f"/api/assets/{row['id']}")["tests"] if one["day"]]
    changes, lowest = [], []
    newest = max(one["day"] for one in tests)
    for section in {one["section"] for one in tests}:
        name = "insulation_resistance_60s_corrected"
        of = sorted(
            (one for one in tests if one["section"] == section and name in one["figures"]),
            key=lambda one: one["day"],
        )
        if len(of) < 2 or of[-1]["day"] != newest:
            continue
        values = [one["figures"][name]["value"] for one in of[-2:]]
        changes.append(values[1] / values[0] - 1)
        lowest.append(values[1])
    assert row["change"] == pytest.approx(min(changes))
    assert row["resistance"] == pytest.approx(min(lowest))


@pytest.mark.parametrize(
    ("query", "names"),
    (
        ("class=cable", {"Intake cable"}),
        ("class=transformer", {"Set transformer"}),
        ("status=investigate", {"Mill 1 motor", "Ash pump 2 motor"}),
        ("find=MILL", {"Mill 1 motor", "Mill 2 motor"}),
        ("find=ash+pump&status=sound", {"Ash pump 1 motor"}),
        ("find=nowhere", set()),
        ("status=unfit", set()),
        ("since=2027-01-01", set()),
        ("until=1990-01-01", set()),
        ("status=Not-Judged", {"Set transformer"}),
    ),
)
def test_filters_narrow_the_ranking_the_map_and_the_list_alike(
    plant: Plant, query: str, names: set[str]
) -> None:
    assert {one["asset"] for one in everything(plant, f"&{query}")} == names
    assert {one["asset"] for one in plant.json(f"/api/assets?limit=1000&{query}")["assets"]} == names
    counts = plant.json(f"/api/plant/counts?{query}")["counts"]
    assert sum(one["count"] for one in counts) == len(names)
    page = plant.page(f"/plant?{query}")
    for name in ("Mill 1 motor", "Intake cable", "House board"):
        assert (f">{name}<" in page) is (name in names), name
    if not names:
        assert "No asset is like that." in page
        assert 'href="/plant"' in page


@pytest.mark.parametrize("day", ("2016-01-01", "2024-06-01", "2026-04-18", "2026-08-01", "2026-12-31"))
def test_since_a_day_means_a_test_since_that_day(plant: Plant, day: str) -> None:
    whole = everything(plant)
    found = {one["asset"] for one in everything(plant, f"&since={day}")}
    assert found == {one["asset"] for one in whole if one["last_day"] >= day}
    both = {one["asset"] for one in everything(plant, f"&since={day}&until=2026-12-31")}
    assert both == found


def test_unsigned_means_a_test_that_nobody_signed(plant: Plant) -> None:
    cable = plant.id("Intake cable")
    assert "Intake cable" in {one["asset"] for one in everything(plant, "&unsigned=yes")}
    for test in plant.json(f"/api/assets/{cable}")["tests"]:
        answer = plant.send(
            "POST", f"/api/tests/{test['id']}/signatures", {"action": "signed", "text": "seen"}
        )
        assert answer.status_code < 300
    assert "Intake cable" not in {one["asset"] for one in everything(plant, "&unsigned=yes")}
    assert "Intake cable" in {one["asset"] for one in everything(plant)}


@pytest.mark.parametrize(
    ("query", "status"),
    (
        ("by=luck", 422), ("page_number=0", 422), ("class=boat", 400), ("status=fine", 400), ("since=soon", 400),
        ("unsigned=perhaps", 422), ("find=" + "x" * 201, 422),
    ),
)  # fmt: skip
def test_what_is_no_filter_is_refused_in_words(plant: Plant, query: str, status: int) -> None:
    plant.page(f"/plant?{query}", status)
    assert plant.json(f"/api/plant?{query.replace('page_number', 'limit')}", status)["errors"]


def test_parts_make_up_the_whole(plant: Plant, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = [one["id"] for one in everything(plant)]
    parts: list[str] = []
    for start in range(0, 12, 4):
        answer = plant.json(f"/api/plant?limit=4&offset={start}")
        assert answer["more"] is (start < 8)
        parts += [one["id"] for one in answer["assets"]]
    assert parts == whole
    monkeypatch.setattr(plant_view, "PAGE", 4)
    shown: list[str] = []
    for number in (1, 2, 3):
        page = plant.page(f"/plant?page_number={number}&class=rotating-machine")
        shown += re.findall(r'<td class="wide"><a href="/assets/([0-9a-f]{32})"', page)
        if number == 1:
            assert 'rel="next"' in page
            assert "class=rotating-machine" in html.unescape(
                re.findall(r'href="([^"]+)" rel="next"', page)[0]
            )
    assert shown == [one["id"] for one in everything(plant, "&class=rotating-machine")]


def test_the_map_has_one_mark_for_each_asset_in_its_class_and_status(plant: Plant) -> None:
    page = plant.page("/plant")
    (table,) = re.findall(r'<table class="map">.*?</table>', page, re.DOTALL)
    whole = everything(plant)
    for one in whole:
        assert f'href="/assets/{one["id"]}" title="{one["asset"]}"' in table
        assert f"{one['asset']}, {one['status']}</span>" in table
    assert table.count("<svg") == len(whole)


def test_in_a_large_store_one_mark_is_several_assets_and_leads_to_their_list(
    plant: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(plant_view, "MOST_MARKS", 4)
    page = plant.page("/plant")
    (table,) = re.findall(r'<table class="map">.*?</table>', page, re.DOTALL)
    assert "One mark is up to 5 assets" in page
    assert "/plant?class=rotating-machine&amp;status=investigate" in table
    assert table.count("<svg") <= 4 + 5
    assert re.search(r"<b>\d+</b>", table)


def test_among_peers_stands_what_numpy_says(plant: Plant) -> None:
    import numpy as np

    groups = plant.json("/api/plant/peers")["groups"]
    (big,) = [one for one in groups if one["name"] == "rotating-machine" and one["count"] >= 5]
    with connection_of(plant) as connection:
        rows = spread(connection, Wanted(asset_class="rotating-machine"))
    values = [row["resistance"] for row in rows if 5000 < row["rated_voltage"] < 8000]
    assert big["count"] == len(values)
    assert big["middle"].startswith(f"{np.median(values) / 1e9:.2f}")
    assert big["lowest"][0]["asset"] == "Ash pump 2 motor"
    part, whole = plant.page("/plant/peers?part=1"), plant.page("/plant/peers")
    assert "<html" not in part
    assert big["middle"] in part
    assert big["middle"] in whole
    assert "too few for a band" in part
    assert 'data-part="/plant/peers?part=1"' in plant.page("/plant")


@pytest.mark.parametrize("form", ("csv", "xlsx", "json"))
def test_the_ranking_leaves_as_a_file_with_values_in_si(plant: Plant, form: str) -> None:
    whole = everything(plant)
    for address in ("/plant/export", "/api/plant/export"):
        answer = plant.client.get(f"{address}.{form}")
        assert answer.status_code == 200
        assert answer.headers["content-disposition"] == f'attachment; filename="all-plant.{form}"'
        rows = read(answer.content, form)
        assert [row["id"] for row in rows] == [one["id"] for one in whole]
        for row, one in zip(rows, whole, strict=True):
            assert float(row["resistance_ohm"]) == pytest.approx(one["resistance"])
            assert row["status"] == one["status"]
    only = plant.client.get(f"/plant/export.{form}?class=cable").content
    assert [row["asset"] for row in read(only, form)] == ["Intake cable"]


def read(content: bytes, form: str) -> list[dict[str, Any]]:
    heads = dict(COLUMNS)
    if form == "json":
        import json

        return [{heads[name]: value for name, value in one.items()} for one in json.loads(content)["assets"]]
    if form == "csv":
        return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"))))
    sheet = load_workbook(io.BytesIO(content)).active
    assert sheet is not None
    first, *rest = sheet.iter_rows(values_only=True)
    return [dict(zip(map(str, first), row, strict=True)) for row in rest]


FORMULAS = ("=1+1", "+1", "-1", "@SUM(A1)", "=cmd|' /C calc'!A0", "\t=1", " =1")


@pytest.mark.parametrize("text", FORMULAS)
def test_no_text_of_a_file_becomes_a_formula(text: str) -> None:
    row = dict.fromkeys((name for name, _ in COLUMNS if name != "change")) | {"asset": text, "fall": None}
    shown = read(exported([row], "csv"), "csv")[0]["asset"]
    assert shown == f"'{text}"
    book = exported([row], "xlsx")
    sheet = load_workbook(io.BytesIO(book)).active
    assert sheet is not None
    cell = sheet.cell(2, 3)
    assert cell.data_type == "s"
    with zipfile.ZipFile(io.BytesIO(book)) as packed:
        assert b"<f>" not in packed.read("xl/worksheets/sheet1.xml")


@pytest.mark.parametrize("name", ("Pump 3", "3 - spare", "Ångström", "a=b"))
def test_a_plain_name_stays_as_it_is(name: str) -> None:
    row = dict.fromkeys((name for name, _ in COLUMNS if name != "change")) | {
        "asset": name,
        "fall": math.log(0.5),
    }
    (told,) = read(exported([row], "csv"), "csv")
    assert told["asset"] == name
    assert float(told["change_since_visit_before"]) == pytest.approx(-0.5)


@pytest.mark.parametrize(
    ("fall", "text"),
    (
        (math.log(0.5), "−50\u00a0%"),
        (0.0, "0\u00a0%"),
        (math.log(1.25), "+25\u00a0%"),
        (-0.001, "0\u00a0%"),
        (-3.0, "−95\u00a0%"),
    ),
)
def test_a_change_is_told_in_percent_with_its_direction(fall: float, text: str) -> None:
    assert plant_view.change_text(fall) == text


def test_an_empty_store_says_what_to_do(bare: Plant) -> None:
    page = bare.page("/plant")
    assert "No asset is kept here yet." in page
    assert "/import" in page
    assert "No asset is kept here yet." in bare.page("/assets")
    assert everything(bare) == []
    assert "No newest visit has a corrected resistance" in bare.page("/plant/peers")
    assert bare.client.get("/plant/export.csv").text.count("\n") == 1
    with connection_of(bare) as connection:
        assert (sites(connection), counted(connection, Wanted()), marks(connection, Wanted(), 5)) == (
            [],
            [],
            [],
        )


def test_what_is_out_of_service_or_untested_is_in_its_place(plant: Plant) -> None:
    made = plant.send("POST", "/api/assets", {"values": {"asset": "Zero pump", "class": "cable"}}).json()
    assert everything(plant)[-1]["asset"] == "Zero pump"
    assert "never tested" in plant.page("/plant")
    plant.send("POST", f"/api/assets/{made['id']}/retirement", {})
    assert "Zero pump" not in {one["asset"] for one in everything(plant)}
    with connection_of(plant) as connection:
        assert "Zero pump" not in {row["asset"] for row in ranked(connection, Wanted())}
    assert ">retired<" in plant.page("/assets")


# The list of assets ------------------------------------------------------------------------------


def test_the_only_asset_that_is_called_so_is_opened(plant: Plant) -> None:
    answer = plant.client.get(
        "/assets?find=intake+cable", headers={"Accept": "text/html"}, follow_redirects=False
    )
    assert answer.status_code == 303
    assert answer.headers["location"] == f"/assets/{plant.id('Intake cable')}"
    assert "Mill 1 motor" in plant.page("/assets?find=mill")
    assert "Intake cable" in plant.page("/assets?class=cable")


def test_what_was_asked_stays_in_the_form(plant: Plant) -> None:
    page = plant.page("/assets?find=%22%3Cb%3E&class=cable&status=sound&since=2020-01-02&unsigned=yes")
    assert 'value="&#34;&lt;b&gt;"' in page
    for text in ("<option selected>cable", "<option selected>sound", 'value="2020-01-02"', "checked"):
        assert text in page
    assert "No asset is like that." in page


@pytest.mark.parametrize(
    ("text", "expected"),
    (("  a   b ", "a b"), ("a\x00b\x1b", "ab"), ("tab\there", "tab here"), ("Ω 3", "Ω 3"), ("", "")),
)
def test_what_is_typed_is_cleaned(text: str, expected: str) -> None:
    assert clean(text) == expected


def test_the_address_of_a_list_holds_what_was_asked_and_no_more() -> None:
    asked = filters(find="pump 3", asset_class="cable")
    assert (
        asked.address("/plant", by="fall", page_number=2)
        == "/plant?find=pump+3&class=cable&by=fall&page_number=2"
    )
    assert asked.any
    assert not asked.only_text
    assert filters(find="x").only_text
    empty = filters()
    assert (empty.address("/plant"), empty.any, empty.wanted) == ("/plant", False, Wanted())
    with pytest.raises(UsageError, match="no such class"):
        filters(asset_class="boat")
