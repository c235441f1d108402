"""One asset: how it stands, its nameplate, history, tests, and all that can be done with it, by page and by API."""

from __future__ import annotations

import html
import re
from typing import Any

import pytest

from plant_rig import Plant, bare, plant, small_plant
from soakage.app.remarks import EVENTS
from soakage.model.keys import KEYS
from soakage.web.accounts import Role
from soakage.web.plate_view import PLATE, boxes, lines, read_form, typed_text, value_text
from web_help import log_in, outside_client, token

__all__ = ["bare", "plant", "small_plant"]
PNG = b"\x89PNG\r\n\x1a\n" + b"\0" * 32
NOBODY = "0" * 32


def text_of(page: str) -> str:
    """What a person reads of a page."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


@pytest.fixture
def mill(plant: Plant) -> str:
    return plant.id("Mill 1 motor")


def test_the_page_opens_with_a_sentence_of_how_it_stands(plant: Plant, mill: str) -> None:
    page = plant.page(f"/assets/{mill}")
    said = text_of(page)
    assert "Investigate. Phase U: polarization index" in said
    assert "where at least 2.00 is required" in said
    assert "phase V, phase W" in said
    assert 'class="big-mark investigate"' in page
    assert "30 tests, 30 not signed" in said
    for where in (f"/assets/{mill}/plan", "/import", f"/api/assets/{mill}"):
        assert where in page


def test_the_nameplate_has_the_meaning_of_every_key_at_hand(plant: Plant, mill: str) -> None:
    said = text_of(plant.page(f"/assets/{mill}"))
    for value in ("6.6 kV", "900 kW", "epoxy-mica", "form-wound", "U, V, W, frame", "2001"):
        assert value in said.replace("\u00a0", " "), value
    for key in ("rated_voltage", "insulation", "year", "winding", "thermal_class"):
        assert KEYS[key].meaning in said


def test_terminals_are_drawn_with_what_they_leak(plant: Plant, mill: str) -> None:
    page = plant.page(f"/assets/{mill}")
    (drawing,) = re.findall(r'<svg class="sections".*?</svg>', page)
    assert drawing.count('class="terminal bad"') == 3
    newest = plant.json(f"/api/assets/{mill}")
    visit = newest["standing"]["visit"]
    lowest = min(
        one["figures"]["insulation_resistance_60s_corrected"]["value"]
        for one in newest["tests"]
        if one["visit"] == visit
    )
    assert f"{lowest / 1e6:.0f}\u00a0MΩ" in drawing
    assert "frame" in drawing
    assert 'role="img"' in drawing


def test_tests_stand_newest_first_and_are_paged(plant: Plant, mill: str) -> None:
    seen, days = [], []
    for number in (1, 2):
        page = plant.page(f"/assets/{mill}?page_number={number}")
        seen += re.findall(r'href="/tests/([0-9a-f]{32})"', page)
        days += re.findall(r'scope="rowgroup" colspan="5">[0-9]+\S+ (\d{4})', page.replace("\u00a0", " "))
        assert f"Page {number} of 2" in page
    assert len(seen) == len(set(seen)) == 30
    assert set(seen) == {one["id"] for one in plant.json(f"/api/assets/{mill}")["tests"]}
    assert "Older" in plant.page(f"/assets/{mill}")
    assert "Newer" not in plant.page(f"/assets/{mill}")


def test_the_history_is_fetched_after_the_page_and_has_a_link_in_its_place(plant: Plant, mill: str) -> None:
    page = plant.page(f"/assets/{mill}")
    assert f'data-part="/assets/{mill}/history?part=1"' in page
    assert f'<a class="button" href="/assets/{mill}/history">' in page
    part = plant.page(f"/assets/{mill}/history?part=1")
    assert "<html" not in part
    whole = plant.page(f"/assets/{mill}/history")
    assert "<html" in whole
    for shown in (part, whole):
        assert shown.count("data-chart=") == 3


def test_the_history_says_slope_date_or_why_there_is_none_and_the_guidance(plant: Plant) -> None:
    exhauster = plant.id("Old exhauster motor")
    said = text_of(plant.page(f"/assets/{exhauster}/history"))
    told = plant.json(f"/api/assets/{exhauster}/trends")
    dated = [trend for trend in told["trends"] if trend["reaches"]]
    assert dated
    for trend in dated:
        assert trend["reaches"]["date"] in said
    assert "That is the date of a criterion, not of a failure." in said
    assert dated[0]["caution"] in said
    slope = next(trend["slope_per_year"] for trend in told["trends"] if trend["slope_per_year"])
    assert re.search(r"% a year \([^)]* to [^)]*, 95 %\)", said), slope
    mill = text_of(plant.page(f"/assets/{plant.id('Mill 1 motor')}/history"))
    assert "The level changed with the test of 2023-05-05." in mill
    assert "No date without a slope." in mill


def test_a_section_can_be_put_in_front(plant: Plant, mill: str) -> None:
    for section in ("phase U", "phase V", "phase W"):
        page = plant.page(f"/assets/{mill}/history?section={section}")
        assert page.count(f"{section} in front") == 3
    assert "worst in front" in plant.page(f"/assets/{mill}/history?section=nowhere")


def test_each_chart_is_drawn_and_told_in_days(plant: Plant, mill: str) -> None:
    page = plant.page(f"/assets/{mill}/history")
    for address in re.findall(r'data-chart="(/charts/[0-9a-f]{24})"', page):
        drawing = plant.client.get(f"{address}.svg")
        assert drawing.status_code == 200
        assert "middle 80" in drawing.text
        table = plant.client.get(f"{address}.csv").text.splitlines()
        assert table[0].startswith("day,")
        days = [line.split(",")[0] for line in table[1:]]
        assert days == sorted(days)
        assert len(days) == 10
        assert days[-1] == "2026-04-17"
        assert plant.client.get(f"{address}.png").content.startswith(b"\x89PNG")
        lively = plant.json(f"{address}.json?width=600&height=300")
        assert lively["readings"][-1]["said"].startswith("17\u00a0April 2026: ")


def test_an_asset_without_tests_says_what_to_do(plant: Plant) -> None:
    made = plant.send("POST", "/api/assets", {"values": {"asset": "Spare rotor"}}).json()
    page = plant.page(f"/assets/{made['id']}")
    assert "Not tested yet." in page
    assert "Plan the first" in page
    assert "data-part" not in page
    assert "No dated test has a figure" in plant.page(f"/assets/{made['id']}/history")


@pytest.mark.parametrize("path", ("", "/history", "/edit", "/attachments/" + "a" * 64))
def test_an_asset_that_is_not_there_is_told_so(plant: Plant, path: str) -> None:
    assert "There is no asset of this id." in plant.page(f"/assets/{NOBODY}{path}", 404)


@pytest.mark.parametrize(
    ("method", "path", "body"),
    (
        ("GET", "", None),
        ("GET", "/trends", None),
        ("PATCH", "", {"values": {"tag": "X"}}),
        ("POST", "/notes", {"text": "x"}),
        ("POST", "/events", {"event": "repair", "on": "2026-01-01"}),
        ("POST", "/sections", {"name": "x"}),
        ("POST", "/retirement", {}),
        ("POST", "/settlements", {"field": "tag", "entry": "a" * 64}),
    ),
)
def test_the_api_knows_what_is_not_there_either(plant: Plant, method: str, path: str, body: Any) -> None:
    answer = plant.send(method, f"/api/assets/{NOBODY}{path}", body)
    assert answer.status_code == 404
    assert "no asset of this id" in answer.json()["errors"][0]["problem"]


# Nameplate ---------------------------------------------------------------------------------------


def form_of(page: str) -> dict[str, str]:
    """Fields of the nameplate's form as they stand."""
    fields = {
        name: html.unescape(value)
        for name, value in re.findall(r'<input id="k-\w+" name="(\w+)" value="([^"]*)"', page)
    }
    for name, options in re.findall(r'<select id="k-\w+" name="(\w+)".*?>(.*?)</select>', page, re.DOTALL):
        chosen = re.findall(r"<option selected>([^<]*)", options)
        fields[name] = chosen[0] if chosen else ""
    return fields


@pytest.mark.parametrize("name", ("Mill 1 motor", "Intake cable", "Set transformer", "House board"))
def test_a_form_sent_back_as_it_came_changes_nothing(plant: Plant, name: str) -> None:
    asset = plant.id(name)
    before = plant.json(f"/api/assets/{asset}")
    fields = form_of(plant.page(f"/assets/{asset}/edit"))
    assert set(fields) == set(PLATE)
    answer = plant.post(f"/assets/{asset}/edit", fields)
    assert answer.headers["location"] == f"/assets/{asset}?told=same"
    assert plant.json(f"/api/assets/{asset}") == before


def test_values_are_read_in_the_units_they_are_written_in(plant: Plant, mill: str) -> None:
    fields = form_of(plant.page(f"/assets/{mill}/edit"))
    fields |= {"rated_power": "1.1 MW", "thermal_class": "", "cooling": "air"}
    answer = plant.post(f"/assets/{mill}/edit", {**fields, "reason": "read off the plate"})
    assert answer.status_code == 303
    plate = plant.json(f"/api/assets/{mill}")["asset"]
    assert plate["rated_power"] == 1.1e6
    assert plate["cooling"] == "air"
    assert plate.get("thermal_class") is None
    assert plate["rated_voltage"] == 6600.0
    assert "1.1\u00a0MW" in plant.page(f"/assets/{mill}")
    told = plant.page(answer.headers["location"])
    assert "What was before stays" in told or "stand until they are judged again" in told


@pytest.mark.parametrize(
    ("key", "typed", "said"),
    (
        ("rated_voltage", "6,6 kW", "power"),
        ("rated_voltage", "-3 kV", "above zero"),
        ("year", "long ago", "year"),
        ("length", "1.2 m3", "length"),
        ("class", "boat", "class"),
    ),
)
def test_what_cannot_be_read_is_told_beside_its_field_and_stays_typed(
    plant: Plant, mill: str, key: str, typed: str, said: str
) -> None:
    fields = form_of(plant.page(f"/assets/{mill}/edit")) | {key: typed, "reason": "why not"}
    answer = plant.post(f"/assets/{mill}/edit", fields)
    assert answer.status_code == 422
    shown = form_of(answer.text)
    assert shown[key] == typed
    (beside,) = re.findall(rf'id="k-{key}-said">(.*?)</span>', answer.text, re.DOTALL)
    assert said in beside
    assert 'aria-invalid="true"' in answer.text
    assert 'value="why not"' in answer.text
    assert plant.json(f"/api/assets/{mill}")["asset"]["rated_voltage"] == 6600.0


def test_an_asset_is_added_by_a_form_and_opened(plant: Plant) -> None:
    fields = {
        "asset": "  Spare   pump ",
        "site": "Works",
        "class": "rotating-machine",
        "rated_voltage": "400 V",
    }
    answer = plant.post("/assets/new", fields)
    assert answer.status_code == 303
    page = plant.page(answer.headers["location"])
    assert "The asset was added." in page
    assert '<h1 class="name">Spare pump</h1>' in page
    assert "400\u00a0V" in page


@pytest.mark.parametrize(
    ("fields", "said"),
    (
        ({}, "An asset needs a name, a tag or a serial number."),
        ({"site": "Works"}, "An asset needs a name, a tag or a serial number."),
        ({"asset": "Mill 1 motor"}, "The register has this asset already"),
        ({"asset": "X", "rated_voltage": "tall"}, "tall"),
    ),
)
def test_an_asset_that_cannot_be_added_is_told_why(plant: Plant, fields: dict[str, str], said: str) -> None:
    count = len(plant.json("/api/assets?limit=1000")["assets"])
    answer = plant.post("/assets/new", fields)
    assert answer.status_code == 422
    assert said in html.unescape(answer.text)
    assert len(plant.json("/api/assets?limit=1000")["assets"]) == count


# What is added -----------------------------------------------------------------------------------


def test_a_note_is_kept_with_its_author(plant: Plant, mill: str) -> None:
    answer = plant.post(f"/assets/{mill}/note", {"text": "Leads swapped <b>on site</b>"})
    page = plant.page(answer.headers["location"])
    assert "Leads swapped &lt;b&gt;on site&lt;/b&gt;" in page
    (note,) = plant.json(f"/api/assets/{mill}")["notes"]
    assert (note["text"], note["person"]) == ("Leads swapped <b>on site</b>", "R. Amsel")


@pytest.mark.parametrize("event", EVENTS)
def test_an_event_is_kept_on_its_day(plant: Plant, mill: str, event: str) -> None:
    answer = plant.post(f"/assets/{mill}/event", {"event": event, "on": "2022-09-01", "text": "by the works"})
    anew = event in ("rewind", "refill", "repair")
    assert answer.headers["location"].endswith("told=anew" if anew else "told=happened")
    (kept,) = plant.json(f"/api/assets/{mill}")["events"]
    assert (kept["event"], kept["at"], kept["text"]) == (event, "2022-09-01", "by the works")
    chart = re.findall(r'data-chart="([^"]+)"', plant.page(f"/assets/{mill}/history"))[0]
    assert f">{event}<" in plant.client.get(f"{chart}.svg").text


@pytest.mark.parametrize(
    ("path", "fields", "said"),
    (
        ("note", {"text": "   "}, "The note is empty."),
        ("note", {"text": "x" * 4001}, "at most 4000"),
        ("event", {"event": "party", "on": "2022-01-01"}, "is no event"),
        ("event", {"event": "repair", "on": "soon"}, "this is no day"),
        ("event", {"event": "repair", "on": ""}, "An event needs its day."),
        ("section", {"name": " "}, "A section needs a name."),
        ("section", {"name": "phase U"}, "this section is there already"),
        ("attach", {}, "No file was chosen."),
    ),
)
def test_what_cannot_be_added_is_told_why_and_nothing_is_kept(
    plant: Plant, mill: str, path: str, fields: dict[str, str], said: str
) -> None:
    before = plant.json(f"/api/assets/{mill}")
    answer = plant.post(f"/assets/{mill}/{path}", fields)
    assert answer.status_code == 422
    assert said in html.unescape(answer.text)
    assert plant.json(f"/api/assets/{mill}") == before


def test_a_section_is_added(plant: Plant, mill: str) -> None:
    answer = plant.post(f"/assets/{mill}/section", {"name": "field winding", "text": "since 2020"})
    page = plant.page(answer.headers["location"])
    assert "field winding" in page
    assert "since 2020" in page
    assert "not measured" in page


def test_an_asset_is_retired_and_taken_back(plant: Plant, mill: str) -> None:
    answer = plant.post(f"/assets/{mill}/retire", {"reason": "scrapped", "back": "no"})
    assert "Its history stays." in plant.page(answer.headers["location"])
    assert mill not in plant.page("/plant")
    assert mill in plant.page("/assets")
    answer = plant.post(f"/assets/{mill}/retire", {"back": "yes"})
    assert "back in service" in plant.page(answer.headers["location"])
    assert mill in plant.page("/plant")


@pytest.mark.parametrize(
    ("name", "content", "shown"),
    (
        ("plate.png", PNG, True),
        ("../../evil\\plate.png", PNG, True),
        ("plate.png", b"<svg onload=alert(1)>", False),
        ("page.html", b"<script>alert(1)</script>", False),
        ("data.csv", b"=1+1", False),
    ),
)
def test_a_file_is_kept_and_sent_back_so_that_nothing_runs(
    plant: Plant, mill: str, name: str, content: bytes, shown: bool
) -> None:
    answer = plant.post(f"/assets/{mill}/attach", {}, files={"file": (name, content, "image/png")})
    assert answer.status_code == 303
    (kept,) = plant.json(f"/api/assets/{mill}")["attachments"]
    assert "/" not in kept["name"]
    assert "\\" not in kept["name"]
    for address in (f"/assets/{mill}", f"/api/assets/{mill}"):
        sent = plant.client.get(f"{address}/attachments/{kept['sha256']}")
        assert sent.content == content
        assert sent.headers["x-content-type-options"] == "nosniff"
        assert "sandbox" in sent.headers["content-security-policy"]
        assert sent.headers["content-disposition"].startswith("inline" if shown else "attachment")
        assert sent.headers["content-type"] == ("image/png" if shown else "application/octet-stream")


def test_a_file_too_large_is_refused(plant: Plant, mill: str, monkeypatch: pytest.MonkeyPatch) -> None:
    from soakage.web import asset_actions
    from soakage.web.pages import asset as page

    monkeypatch.setattr(asset_actions, "LARGEST", 10)
    monkeypatch.setattr(page, "LARGEST", 10)
    answer = plant.post(f"/assets/{mill}/attach", {}, files={"file": ("a.bin", b"x" * 11, "image/png")})
    assert answer.status_code == 413
    assert plant.json(f"/api/assets/{mill}")["attachments"] == []


def conflicting(plant: Plant, asset: str) -> None:
    """Have two people change the same field without seeing each other."""
    from soakage.app.journal import made_entry
    from soakage.store.writing import entries_on

    store = plant.client.app.state.store  # type: ignore[attr-defined]
    with store.reading() as connection:
        known = entries_on(connection, [("asset", asset)])["asset", asset]
    seen = {parent for entry in known for parent in entry.parents}
    heads = [entry.hash for entry in known if entry.hash not in seen]
    others = []
    for number, (person, value) in enumerate((("A. One", "AA-1"), ("B. Two", "BB-2"))):
        others.append(
            made_entry(
                store=f"elsewhere{number}", number=1, previous="0" * 64, at=1_900_000_000_000_000 + number,
                person=person, identity="stated", kind="asset", subject=asset, action="stated", parents=heads,
                reason="", body={"set": {"tag": value}},
            )
        )  # fmt: skip
    with store.writing("T. Ester") as writer:
        writer.adopt(others)


def test_a_conflict_is_shown_at_the_start_and_settled_on_the_page(plant: Plant, mill: str) -> None:
    conflicting(plant, mill)
    start = plant.page("/")
    assert f"/assets/{mill}#conflicts" in start
    (said,) = re.findall(r"tag: ([^<]+)\.</span>", start)
    assert sorted(said.split("; ")) == ["A. One: AA-1", "B. Two: BB-2"]
    page = plant.page(f"/assets/{mill}")
    assert "Two people changed the same field" in page
    entry = {text: one for one, text in re.findall(r'name="entry" value="(\w{64})">([^<]+)<', page)}
    answer = plant.post(f"/assets/{mill}/settle", {"field": "tag", "entry": entry["BB-2"]})
    assert "The conflict is settled." in plant.page(answer.headers["location"])
    kept = plant.json(f"/api/assets/{mill}")
    assert kept["asset"]["tag"] == "BB-2"
    assert kept["conflicts"] == []
    again = plant.post(f"/assets/{mill}/settle", {"field": "tag", "entry": entry["AA-1"]})
    assert again.status_code == 409
    assert plant.json(f"/api/assets/{mill}")["asset"]["tag"] == "BB-2"


# Who may ----------------------------------------------------------------------------------------

CHANGES = ("edit", "note", "event", "section", "retire", "settle", "attach")


@pytest.mark.parametrize("path", CHANGES)
def test_a_form_without_its_token_changes_nothing(plant: Plant, mill: str, path: str) -> None:
    before = plant.json(f"/api/assets/{mill}")
    plant.token  # noqa: B018 - a session with a cookie
    answer = plant.client.post(f"/assets/{mill}/{path}", data={"text": "x", "name": "x", "asset": "x"})
    assert answer.status_code == 403
    assert plant.json(f"/api/assets/{mill}") == before


@pytest.mark.parametrize("path", CHANGES)
def test_a_reader_changes_nothing(path: str) -> None:
    client = outside_client(("L. Eser", Role.READ))
    assert log_in(client, "L. Eser") == 200
    assert client.post(f"/assets/{NOBODY}/{path}", headers=token(client)).status_code == 403
    assert client.get("/assets/new").status_code == 403
    assert client.get(f"/assets/{NOBODY}/edit").status_code == 403


@pytest.mark.parametrize(
    ("method", "path"),
    (
        ("POST", ""), ("PATCH", f"/{NOBODY}"), ("POST", f"/{NOBODY}/notes"), ("POST", f"/{NOBODY}/events"),
        ("POST", f"/{NOBODY}/sections"), ("POST", f"/{NOBODY}/retirement"), ("POST", f"/{NOBODY}/settlements"),
        ("POST", f"/{NOBODY}/attachments"),
    ),
)  # fmt: skip
def test_a_reader_changes_nothing_by_the_api_either(method: str, path: str) -> None:
    client = outside_client(("L. Eser", Role.READ))
    assert log_in(client, "L. Eser") == 200
    answer = client.request(method, f"/api/assets{path}", json={}, headers=token(client))
    assert answer.status_code == 403


def test_what_is_done_by_the_api_is_what_the_page_does(plant: Plant, mill: str) -> None:
    changed = plant.send(
        "PATCH", f"/api/assets/{mill}", {"values": {"rated_power": "950 kW"}, "clear": ["cooling"]}
    )
    assert changed.status_code == 200, changed.text
    assert [(one["field"], one["after"]) for one in changed.json()["changed"]] == [("rated_power", 950000.0)]
    assert len(changed.json()["judged_before"]) in range(31)
    note = plant.send("POST", f"/api/assets/{mill}/notes", {"text": "seen"})
    assert (note.status_code, note.json()["action"]) == (201, "noted")
    event = plant.send("POST", f"/api/assets/{mill}/events", {"event": "cleaning", "on": "2026-01-02"})
    assert (event.status_code, event.json()["fields"]["at"]) == (201, "2026-01-02")
    section = plant.send("POST", f"/api/assets/{mill}/sections", {"name": "field"})
    assert (section.status_code, section.json()["added"]) == (201, True)
    gone = plant.send("POST", f"/api/assets/{mill}/retirement", {"reason": "old"})
    assert gone.json()["changed"][0]["after"] is True
    file = plant.client.post(
        f"/api/assets/{mill}/attachments", files={"file": ("a.png", PNG, "image/png")},
        headers={"X-CSRF-Token": plant.token},
    )  # fmt: skip
    assert file.status_code == 201
    page = plant.page(f"/assets/{mill}")
    for said in ("950\u00a0kW", "seen", "cleaning", "field", "Retired.", "a.png"):
        assert said in page


@pytest.mark.parametrize(
    "body",
    (
        {"values": {"rated_power": 900000}},
        {"values": {}, "more": 1},
        {"values": {"colour": "red"}},
        {"clear": ["x"]},
        {},
    ),
)
def test_a_body_that_is_not_as_described_is_refused(plant: Plant, mill: str, body: Any) -> None:
    answer = plant.send("PATCH", f"/api/assets/{mill}", body)
    assert answer.status_code in (400, 422), answer.text
    assert answer.json()["errors"]


# The nameplate as text ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "value", "shown", "typed"),
    (
        ("rated_voltage", 6600.0, "6.6\u00a0kV", "6.6 kV"),
        ("rated_power", 1.1e6, "1.1\u00a0MW", "1.1 MW"),
        ("length", 1234.5, "1.23\u00a0km", "1.2345 km"),
        ("year", 2004, "2004", "2004"),
        ("terminals", ["U", "V", "frame"], "U, V, frame", "U, V, frame"),
        (
            "winding_voltages",
            {"HV": 20000.0, "LV": 400.0},
            "HV 20\u00a0kV, LV 400\u00a0V",
            '{HV = "20 kV", LV = "400 V"}',
        ),
        ("insulation", "epoxy-mica", "epoxy-mica", "epoxy-mica"),
        ("in_service_since", "2010-03-04", "2010-03-04", "2010-03-04"),
        ("class", "cable", "cable", "cable"),
    ),
)
def test_a_value_is_written_for_reading_and_for_typing(key: str, value: Any, shown: str, typed: str) -> None:
    assert value_text(key, value) == shown
    assert typed_text(key, value).replace("\u00a0", " ") == typed
    read, cleared = read_form({}, {key: typed_text(key, value)})
    assert read == {key: value}
    assert cleared == []


def test_an_empty_field_clears_and_one_that_is_not_there_does_not() -> None:
    values = {"tag": "A", "rated_power": 900e3}
    assert read_form(values, {"tag": ""}) == ({}, ["tag"])
    assert read_form(values, {}) == ({}, [])
    assert read_form(values, {"tag": " A "}) == ({}, [])


@pytest.mark.parametrize(
    ("asset_class", "asked", "not_asked"),
    (
        ("cable", ("length", "cores"), ("winding", "connection")),
        ("transformer", ("connection", "filling"), ("length", "winding")),
        ("rotating-machine", ("winding", "thermal_class"), ("length", "connection")),
        ("low-voltage-installation", ("nominal_voltage",), ("winding", "length")),
    ),
)
def test_the_form_asks_first_for_what_the_class_has(
    asset_class: str, asked: tuple[str, ...], not_asked: tuple[str, ...]
) -> None:
    _, plate, rest = boxes({"class": asset_class})
    assert set(asked) <= {box.name for box in plate}
    assert set(not_asked) <= {box.name for box in rest}


def test_what_is_stated_is_never_hidden() -> None:
    _, plate, rest = boxes({"class": "cable", "winding": "field"})
    assert "winding" in {box.name for box in plate}
    assert [line.key for line in lines({"winding": "field", "tag": "T", "section:U": {}})] == [
        "winding",
        "tag",
    ]
    assert all(box.meaning for box in (*plate, *rest))
