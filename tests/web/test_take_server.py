"""Plans and sheets as a server gives them: whole stories over the API and the pages, without a browser."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi.testclient import TestClient

from soakage.report.figures import NBSP
from soakage.web.accounts import Role
from soakage.web.run import let_go
from soakage.web.server import create_app
from soakage.web.settings import Settings
from taking_help import PLATE, TEN_MINUTES, Taking
from web_help import log_in, outside_client, token

FORBIDDEN = re.compile(
    r"\b(is safe|safe to|may be energised|is discharged|is clear|all clear)\b", re.IGNORECASE
)
NONE = "0" * 32


def form(client: TestClient, path: str, **fields: Any) -> Any:
    csrf = token(client)["X-CSRF-Token"]
    return client.post(path, data={"csrf": csrf, **fields}, follow_redirects=False)


def page(client: TestClient, path: str, status: int = 200) -> str:
    answer = client.get(path, headers={"Accept": "text/html"})
    assert answer.status_code == status, answer.text[:500]
    return str(answer.text)


# The plan ---------------------------------------------------------------------------------------------------


def test_the_card_begins_with_its_cautions_and_has_all_that_is_taken_along(client: TestClient) -> None:
    text = client.get("/plan", params=PLATE).text
    where = [
        text.index(word)
        for word in ("Local codes and the person in charge", "<h2>Before", "<h2>Connect", "<h2>Read at",
                     "<h2>Voltage, and what to expect", "<h2>Judged by", "<h2>After")
    ]  # fmt: skip
    assert where == sorted(where)
    for said in (
        "Prove the detector, prove the part dead, prove the detector again.",
        "25\u00a0V ac", "50\u00a0V dc",  # EN 50191 and NFPA 70E, both named
        "EN 50191", "NFPA 70E",
        "5\u00a0kV", "IEEE\u00a0Std\u00a043-2000, Table\u00a01",
        "10\u00a0min", "3\u00a0min\u00a010\u00a0s",
        "capacitance not known",
        "40\u00a0min", "At least 200\u00a0MΩ", "At least 2.00",
        "Hazardous area: not stated", "Star point opened; both ends of a phase joined",
        "it never switches a voltage on",
    ):  # fmt: skip
        assert said in text, said
    assert text.count('class="rails"') == 3
    assert not FORBIDDEN.search(text)


def test_a_plan_that_is_refused_offers_no_sheet(client: TestClient) -> None:
    text = client.get("/plan", params=PLATE | {"hazardous_area": "yes"}).text
    assert "Nothing is planned." in text
    assert "gas-free certificate" in text
    assert "Open the sheet" not in text
    client.post("/api/drafts", json={"values": PLATE | {"hazardous_area": "yes"}}, headers=token(client))
    answer = client.post(
        "/api/drafts", json={"values": PLATE | {"hazardous_area": "yes"}}, headers=token(client)
    )
    assert answer.status_code == 400
    assert "gas-free" in answer.text


@pytest.mark.parametrize(
    ("more", "said"),
    (
        ({"rated_voltage": "1,500 V"}, "1.5"),
        ({"year": "soon"}, "year"),
        ({"method": "circuit"}, "not made on the class"),
        ({"purpose": "for fun"}, "purpose"),
        ({"class": "windmill"}, "class"),
        ({"method": "nothing-like-it"}, "No method is called so"),
    ),
)
def test_what_cannot_be_planned_is_said_where_it_was_typed(
    client: TestClient, more: dict[str, str], said: str
) -> None:
    answer = client.get("/plan", params=PLATE | more, headers={"Accept": "text/html"})
    assert answer.status_code == 422
    assert said in answer.text


def test_without_a_nameplate_the_page_asks_for_one(client: TestClient) -> None:
    text = page(client, "/plan")
    assert "Plan a test." in text
    assert 'name="rated_voltage"' in text


def test_voltage_above_the_rating_is_planned_only_when_asked_for_and_with_its_conditions(
    client: TestClient,
) -> None:
    assert "consents in writing" not in client.get("/plan", params=PLATE).text
    text = client.get("/plan", params=PLATE | {"method": "step-voltage"}).text
    assert "The owner consents in writing" in text
    assert "The way to repair is agreed" in text
    assert "Polarization index" in text  # it must pass first


def test_the_card_is_a_file_to_print(client: TestClient) -> None:
    answer = client.get("/plan.pdf", params=PLATE)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")


def test_the_api_plans_in_the_shape_of_the_command(client: TestClient) -> None:
    answer = client.post("/api/plans", json={"values": PLATE}, headers=token(client))
    plan = answer.json()
    assert plan["test_voltage"]["value"] == 5000.0
    assert [one["tested"] for one in plan["connections"]] == [["U"], ["V"], ["W"]]
    assert plan["refusal"] is None


@pytest.mark.parametrize("path", ("/api/plans", "/api/drafts"))
@pytest.mark.parametrize(
    ("body", "status"),
    (
        ({"asset": NONE}, 404),
        ({"values": {"colour": "red", "class": "cable"}}, 422),
        ({"values": {"class": "cable"}, "methods": ["x\ud800y"]}, 422),
        ({"values": {"cl\u0000ass": "cable"}}, 200),
        ({}, 400),
    ),
)
def test_what_is_asked_wrongly_is_said_and_never_breaks(
    client: TestClient, path: str, body: dict[str, Any], status: int
) -> None:
    import json

    headers = token(client) | {"Content-Type": "application/json"}
    answer = client.post(path, content=json.dumps(body), headers=headers)
    assert answer.status_code == (201 if status == 200 and path == "/api/drafts" else status), answer.text


def test_what_is_ticked_is_kept_with_time_and_name(client: TestClient) -> None:
    item = "Permit held; isolation locked and tagged"
    fields = {f"k-{key}": value for key, value in PLATE.items()}
    answer = form(client, "/plan/sheet", go="ticks", tick=item, **fields)
    assert answer.status_code == 303
    text = page(client, answer.headers["location"])
    row = re.search(rf'value="{re.escape(item)}" checked.*?class="done">([^<]*)<', text)
    assert row is not None
    assert re.search(r"\d\d:\d\d, R\. Amsel", row[1])
    assert text.count(" checked") >= 1
    draft = re.search(r'name="draft" value="([0-9a-f]{32})"', text)
    assert draft is not None
    opened = form(
        client, "/plan/sheet", go="sheet", draft=draft[1], connection=["0", "2"], tick=item, **fields
    )
    assert opened.headers["location"] == f"/take/{draft[1]}"
    state = client.get(f"/api/drafts/{draft[1]}").json()
    assert [one["section"] for one in state["sheets"]] == ["U", "W"]
    assert state["ticks"][item]["person"] == "R. Amsel"


def test_who_ticked_first_stands_and_a_tick_can_be_taken_back(client: TestClient) -> None:
    sheet = Taking(client)
    path = f"/api/drafts/{sheet.id}/ticks"
    first = client.post(path, json={"item": "Permit held"}, headers=token(client)).json()["ticks"]
    again = client.post(path, json={"item": "Permit held"}, headers=token(client)).json()["ticks"]
    assert first == again
    gone = client.post(path, json={"item": "Permit held", "on": False}, headers=token(client)).json()["ticks"]
    assert gone == {}


# New test -----------------------------------------------------------------------------------------------------


def test_a_new_test_begins_with_an_asset_or_a_nameplate(client: TestClient) -> None:
    text = page(client, "/tests/new")
    assert "Nothing is switched on from here." in text
    assert "The register holds no asset yet." in text
    assert 'action="/plan"' in text
    Taking(client).whole()
    taking = Taking(client)
    taking.whole()
    taking.keep()
    text = page(client, "/tests/new?find=mill")
    href = re.search(r'href="(/assets/([0-9a-f]{32})/plan)"', text)
    assert href is not None
    assert "Mill 2 motor" in text
    assert "Unfinished" in text  # the first one
    assert "No asset of the register is called so." in page(client, "/tests/new?find=nowhere")
    led = client.get(f"/tests/new?asset={href[2]}", follow_redirects=False)
    assert (led.status_code, led.headers["location"]) == (303, href[1])
    plan = page(client, href[1])
    assert "Mill 2 motor" in plan
    assert client.get(f"{href[1]}.pdf").content.startswith(b"%PDF")
    page(client, f"/assets/{NONE}/plan", 404)


def test_an_asset_keeps_what_was_measured_before_for_its_next_plan(client: TestClient) -> None:
    taking = Taking(client)
    taking.whole()
    asset = taking.keep()["files"][0]["tests"][0]["asset_id"]
    again = Taking(client, {"purpose": "maintenance"}, asset=asset)
    assert again.state["asset"] == asset
    assert again.sheet()["voltage"] == 5000.0
    again.whole()
    kept = again.keep()
    assert kept["files"][0]["tests"][0]["asset_id"] == asset
    assert kept["assets_added"] == []


# The sheet ----------------------------------------------------------------------------------------------------


def test_a_whole_sheet_becomes_a_test_and_is_put_away(client: TestClient) -> None:
    taking = Taking(client)
    taking.whole()
    ratios = {one["quantity"]: one["value"] for one in taking.sheet()["ratios"]}
    assert ratios["polarization_index"] == pytest.approx(4.6 / 1.08)
    assert ratios["dielectric_absorption_ratio"] == pytest.approx(1080 / 641)
    kept = taking.keep()
    (test,) = kept["files"][0]["tests"]
    assert (kept["added"], kept["refused"], test["section"], test["known"]) == (1, 0, "U", False)
    assert client.get(f"/api/drafts/{taking.id}").status_code == 404
    record = client.get(f"/api/tests/{test['test']}").json()["record"]
    assert record["readings"]["time"] == [float(time) for time, _ in TEN_MINUTES]
    assert record["stated"]["voltage_found"]["dc"] == 3.0
    assert record["stated"]["tested_by"] == "R. Amsel"
    assert record["stated"]["ended"] == "complete"
    assert "Mill 2 motor" in page(client, f"/tests/{test['test']}")


def test_three_sections_of_a_visit_are_kept_together(client: TestClient) -> None:
    taking = Taking(client)
    for place in range(3):
        taking.whole(place)
        taking.send("earthed", place)
    kept = taking.keep()
    assert [file["tests"][0]["section"] for file in kept["files"]] == ["U", "V", "W"]
    visits = {
        client.get(f"/api/tests/{f['tests'][0]['test']}").json()["test"]["visit"] for f in kept["files"]
    }
    assert len(visits) == 1


def test_the_page_asks_for_the_voltage_found_and_does_not_start_above_the_line(client: TestClient) -> None:
    taking = Taking(client)
    text = page(client, f"/take/{taking.id}")
    assert "Voltage found on U before the test" in text
    assert "data-start" not in text
    taking.send("found", dc="51 V", ac="0", apply="5 kV")
    text = page(client, f"/take/{taking.id}?part=1")
    assert "The clock does not start." in text
    assert "51\u00a0V dc found where the line is 50\u00a0V dc" in text
    assert "data-start" not in text
    assert "Find where it comes from" in taking.send("started", status=400)["errors"][0]["problem"]
    taking.send("found", dc="0,4 V", ac="0 V", apply="5 kV")
    assert "data-start" in page(client, f"/take/{taking.id}?part=1")


def test_every_step_of_the_page_says_what_it_must(client: TestClient) -> None:
    taking = Taking(client)
    said = {"waiting": page(client, f"/take/{taking.id}")}
    taking.begin(ago=161.0)
    said["live"] = page(client, f"/take/{taking.id}")
    taking.send("ended", how="stopped")
    said["ended"] = page(client, f"/take/{taking.id}?sheet=0")
    taking.send("earthed")
    said["earthed"] = page(client, f"/take/{taking.id}?sheet=0")
    assert "Nothing is switched on from here." in said["waiting"]
    assert "Stop and earth" in said["live"]
    assert re.search(
        r"Stop now and it needs <b data-needs>10:4\d</b> of earth", said["live"]
    )  # four times 2:41
    assert "Nobody touches it or its leads." in said["live"]
    assert "Shown as live" in said["ended"]
    assert "Never take a lead off before the charge is out" in said["ended"]
    assert "Earth is on: start its clock" in said["ended"]
    assert "Charge returns when the earth is lifted early." in said["earthed"]
    assert "IEEE Std 43-2013" in said["earthed"]
    for text in said.values():
        assert not FORBIDDEN.search(text)


def test_the_minimum_earthing_time_is_four_times_the_time_under_voltage(client: TestClient) -> None:
    # IEEE Std 43-2013, cl. 5.5 (from memory, as the facts say): four times the time under voltage.
    taking = Taking(client)
    taking.begin(ago=600.0)
    taking.send("ended", how="complete")
    sheet = taking.sheet()
    assert sheet["earthing"]["time"] == pytest.approx(4 * sheet["ended"]["time"])
    assert sheet["earthing"]["time"] == pytest.approx(2400, abs=5)


def test_what_is_sent_twice_is_kept_once_and_what_is_out_of_turn_is_refused(client: TestClient) -> None:
    taking = Taking(client)
    taking.begin(ago=70.0)
    body = {
        "number": 3,
        "key": "page-one-1",
        "sheet": 0,
        "kind": "reading",
        "mark": 60.0,
        "time": 60.0,
        "text": "1 GΩ",
    }
    path = f"/api/drafts/{taking.id}/rows"
    for _ in range(3):
        answer = client.post(path, json=body, headers=token(client))
        assert answer.status_code == 200
        assert len(answer.json()["sheets"][0]["readings"]) == 1
    other = client.post(
        path, json=body | {"key": "page-two-1", "mark": 15.0, "time": 15.0}, headers=token(client)
    )
    assert other.status_code == 409
    assert "added to meanwhile" in other.json()["errors"][0]["problem"]
    assert "page-one-1" in client.get(f"/api/drafts/{taking.id}").json()["keys"]


@pytest.mark.parametrize(
    ("text", "said"),
    (
        ("1,500 GΩ", "1.5"),
        ("2.2", "Unit missing"),
        ("soon", "No figure"),
        ("641 mΩ", "M is mega"),
        ("😀", ""),
    ),
)
def test_a_reading_that_cannot_be_read_is_not_kept(client: TestClient, text: str, said: str) -> None:
    taking = Taking(client)
    taking.begin(ago=70.0)
    problem = taking.send("reading", status=422, mark=60.0, time=60.0, text=text)
    assert said in problem["errors"][0]["problem"]
    assert client.get(f"/api/drafts/{taking.id}").json()["next"] == taking.state["next"]


@pytest.mark.parametrize(
    ("text", "shown"),
    (
        ("2.2 GOhm", "2.2\u00a0GΩ"),
        ("2,2 GΩ", "2.2\u00a0GΩ"),
        (">10 GΩ", ">\u00a010\u00a0GΩ"),
        ("31.8 uA", "31.8\u00a0µA"),
        ("1080 MΩ", "1.08\u00a0GΩ"),
        ("0.641 G", "641\u00a0MΩ"),
    ),
)
def test_how_it_is_read_is_shown_before_it_is_kept(client: TestClient, text: str, shown: str) -> None:
    assert client.get("/api/reading", params={"text": text}).json()["shown"] == shown


def test_an_odd_value_is_asked_about_and_the_clock_goes_on(client: TestClient) -> None:
    taking = Taking(client)
    taking.begin(ago=70.0)
    for time, text in ((15, "378 MΩ"), (30, "641 MΩ"), (60, "14.5 GΩ")):
        taking.send("reading", mark=float(time), time=float(time), text=text)
    question = taking.sheet()["readings"][-1]["question"]
    assert question["asked"] == "Is 14.5\u00a0GΩ right?"
    assert "if nothing changes" in question["because"]
    assert question["slip"] == "1.45\u00a0GΩ"
    assert taking.sheet()["state"] == "live"
    text = page(client, f"/take/{taking.id}?part=1")
    for answer in ("It reads 14.5\u00a0GΩ", "It is 1.45\u00a0GΩ", "Type again"):
        assert answer in text
    number = taking.sheet()["readings"][-1]["number"]
    taking.send("changed", of=number, text=question["slip"])
    reading = taking.sheet()["readings"][-1]
    assert (reading["shown"], reading["was"], reading["question"]) == ("1.45\u00a0GΩ", ["14.5 GΩ"], None)
    assert "was 14.5 GΩ" in page(client, f"/take/{taking.id}?part=1")


def test_an_odd_value_that_stands_is_asked_about_once(client: TestClient) -> None:
    taking = Taking(client)
    taking.begin(ago=70.0)
    taking.send("reading", mark=30.0, time=30.0, text="641 MΩ")
    taking.send("reading", mark=60.0, time=60.0, text="14.5 GΩ")
    taking.send("answered", of=taking.sheet()["readings"][-1]["number"])
    assert taking.sheet()["readings"][-1]["question"] is None


def test_nothing_is_lost_when_the_server_starts_again(client: TestClient, web_settings: Settings) -> None:
    taking = Taking(client)
    taking.begin(ago=100.0)
    taking.send("reading", mark=15.0, time=15.0, text="378 MΩ")
    app = create_app(web_settings)
    with TestClient(app, base_url=str(client.base_url)) as other:
        state = other.get(f"/api/drafts/{taking.id}").json()
        assert state["sheets"][0]["started"] == taking.sheet()["started"]
        assert [one["text"] for one in state["sheets"][0]["readings"]] == ["378 MΩ"]
        taking.client, taking.state = other, state
        taking.send("reading", mark=30.0, time=30.0, text="641 MΩ")
        taking.send("ended", how="stopped")
        assert taking.keep()["tests_added"] == 1
    let_go(app)


def test_a_sheet_under_voltage_is_neither_kept_nor_put_away(client: TestClient) -> None:
    taking = Taking(client)
    taking.begin(ago=70.0)
    taking.send("reading", mark=60.0, time=60.0, text="1 GΩ")
    assert "Stop and earth" in taking.keep(400)["errors"][0]["problem"]
    gone = client.delete(f"/api/drafts/{taking.id}", headers=token(client))
    assert gone.status_code == 409
    assert form(client, f"/take/{taking.id}/away").status_code == 409
    taking.send("ended", how="stopped")
    assert client.delete(f"/api/drafts/{taking.id}", headers=token(client)).status_code == 204
    assert client.delete(f"/api/drafts/{taking.id}", headers=token(client)).status_code == 404


def test_an_empty_sheet_is_no_test(client: TestClient) -> None:
    assert "nothing to keep" in Taking(client).keep(400)["errors"][0]["problem"]


def test_what_is_kept_twice_is_one_test(client: TestClient) -> None:
    taking = Taking(client)
    taking.whole()
    first = taking.keep()["files"][0]["tests"][0]["test"]
    assert taking.client.post(f"/api/drafts/{taking.id}/keep", headers=token(client)).status_code == 404
    assert client.get(f"/api/tests/{first}").status_code == 200


def test_conditions_are_read_before_any_is_kept(client: TestClient) -> None:
    taking = Taking(client)
    path = f"/api/drafts/{taking.id}/header"
    good = {"winding_temperature": "27,5 degC", "relative_humidity": "55 %", "surface": "dry"}
    state = client.patch(path, json={"values": good}, headers=token(client)).json()
    assert state["header"] == good | {"tested_by": "R. Amsel"}
    bad = client.patch(path, json={"values": {"surface": "sandy", "permit": "P-7"}}, headers=token(client))
    assert bad.status_code == 422
    assert "permit" not in client.get(f"/api/drafts/{taking.id}").json()["header"]
    none = client.patch(path, json={"values": {"colour": "red"}}, headers=token(client))
    assert none.status_code == 400
    away = client.patch(path, json={"values": {"surface": ""}}, headers=token(client)).json()
    assert "surface" not in away["header"]


def test_the_form_of_conditions_works_without_a_script(client: TestClient) -> None:
    taking = Taking(client)
    done = form(
        client,
        f"/take/{taking.id}/header?sheet=0",
        winding_temperature="27 degC",
        known="Meter 4|M4-31|2027-03-01",
    )
    assert (done.status_code, done.headers["location"]) == (303, f"/take/{taking.id}?sheet=0")
    header = client.get(f"/api/drafts/{taking.id}").json()["header"]
    assert header["instrument_serial"] == "M4-31"
    assert header["calibration_due"] == "2027-03-01"
    wrong = form(client, f"/take/{taking.id}/header?sheet=0", winding_temperature="warm")
    assert wrong.status_code == 422
    taking.whole()
    kept = form(client, f"/take/{taking.id}/keep")
    assert kept.status_code == 303
    test = client.get(f"/api{kept.headers['location']}").json()
    assert test["record"]["stated"]["winding_temperature"] == pytest.approx(300.15)


def test_a_refused_section_keeps_the_sheet(client: TestClient) -> None:
    taking = Taking(client)
    taking.begin(ago=70.0)
    taking.send("ended", how="stopped")
    assert form(client, f"/take/{taking.id}/keep", sheet="0").status_code == 422
    assert client.get(f"/api/drafts/{taking.id}").status_code == 200


@pytest.mark.parametrize("path", ("/take/{}", "/take/{}?part=1", "/api/drafts/{}"))
def test_a_sheet_that_is_gone_is_said_to_be_gone(client: TestClient, path: str) -> None:
    answer = client.get(path.format(NONE))
    assert answer.status_code == 404
    assert "no such sheet" in answer.text


def test_a_schedule_is_read_when_steady(client: TestClient) -> None:
    values = {
        "asset": "Panel 4",
        "class": "low-voltage-installation",
        "nominal_voltage": "230 V",
        "circuit": "C1",
    }
    taking = Taking(client, values)
    taking.send("found", dc="0", ac="0", apply="500 V")
    taking.send("started", ago=20.0)
    taking.send("reading", text="> 200 MΩ")
    taking.send("ended", how="complete")
    assert taking.sheet()["calls"] == []
    page(client, f"/take/{taking.id}?sheet=0")
    test = taking.keep()["files"][0]["tests"][0]
    assert client.get(f"/api/tests/{test['test']}").json()["record"]["stated"]["between"] == "L-PE"


def test_who_only_reads_takes_no_readings() -> None:
    client = outside_client(("R. Amsel", Role.READ), ("T. Ester", Role.TEST))
    with client:
        log_in(client)
        for method, path, body in (
            ("post", "/api/drafts", {"values": PLATE}),
            (
                "post",
                f"/api/drafts/{NONE}/rows",
                {"number": 1, "key": "page-00000001", "sheet": 0, "kind": "started"},
            ),
            ("post", f"/api/drafts/{NONE}/keep", None),
            ("delete", f"/api/drafts/{NONE}", None),
        ):
            answer = client.request(method, path, json=body, headers=token(client))
            assert answer.status_code == 403, path
        assert client.post("/api/plans", json={"values": PLATE}, headers=token(client)).status_code == 200
        log_in(client, "T. Ester")
        assert client.post("/api/drafts", json={"values": PLATE}, headers=token(client)).status_code == 201
        assert client.post("/api/drafts", json={"values": PLATE}).status_code == 403  # without its token


def test_what_is_refused_beside_the_readings_stays_typed_for_correction(client: TestClient) -> None:
    taking = Taking(client)
    before = page(client, f"/take/{taking.id}")
    assert f"Such as 27.5{NBSP}°C." in before
    assert f"Such as 55{NBSP}%." in before
    wrong = form(client, f"/take/{taking.id}/header", winding_temperature="28", permit="P-118", surface="dry")
    assert wrong.status_code == 422
    assert 'name="winding_temperature" value="28"' in wrong.text
    assert 'name="permit" value="P-118"' in wrong.text
    assert "<option selected>dry</option>" in wrong.text
    assert client.get(f"/api/drafts/{taking.id}").json()["header"].get("permit") is None


def test_a_sheet_without_a_temperature_says_so_before_it_is_kept(client: TestClient) -> None:
    said = "No temperature of the insulation is stated yet"
    taking = Taking(client)
    assert said not in page(client, f"/take/{taking.id}")
    taking.whole()
    assert said in page(client, f"/take/{taking.id}")
    form(client, f"/take/{taking.id}/header", winding_temperature="28 °C")
    assert said not in page(client, f"/take/{taking.id}")
