"""Whole visits over the API, kind by kind of test: what was read stands in the store, judged as a file would be."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from fastapi.testclient import TestClient

from soakage.importers.reading import read_bytes
from taking_help import PLATE, TEN_MINUTES, Taking
from web_help import token

CABLE = {"asset": "Outgoing cable 7", "class": "cable", "rated_voltage": "6.6 kV", "length": "400 m"}
TRANSFORMER = {
    "asset": "House transformer", "class": "transformer", "filling": "oil",
    "winding_voltages": '{H = "11 kV", L = "433 V"}',
}  # fmt: skip
BOARD = {"asset": "House board", "class": "switchgear", "rated_voltage": "6.6 kV"}


def kept_by(client: TestClient, kept: dict[str, Any], place: int = 0) -> dict[str, Any]:
    """Return all that the store has of a test that was kept."""
    found: dict[str, Any] = client.get(f"/api/tests/{kept['files'][place]['tests'][0]['test']}").json()
    return found


def tick_all(taking: Taking, sheet: int) -> None:
    """Tick off what must stand in writing before a sheet starts."""
    for item in taking.sheet(sheet)["conditions"]:
        answer = taking.client.post(
            f"/api/drafts/{taking.id}/ticks", json={"item": item}, headers=token(taking.client)
        )
        assert answer.status_code == 200


def place_of(taking: Taking, method: str) -> int:
    return next(int(one["sheet"]) for one in taking.state["sheets"] if one["method"] == method)


def take(
    taking: Taking, sheet: int, readings: dict[float, str], *, apply: str = "", ago: float = 0.0
) -> None:
    """Take readings at their marks, and end."""
    taking.send("found", sheet, dc="0 V", ac="0 V", apply=apply)
    taking.send("started", sheet, ago=ago or max(readings) + 5)
    for time, text in readings.items():
        taking.send("reading", sheet, mark=time, time=time, text=text)
    taking.send("ended", sheet, how="complete")


def test_a_step_test_waits_for_what_stands_in_writing_and_keeps_its_levels(client: TestClient) -> None:
    taking = Taking(client, methods=["step-voltage"])
    place = place_of(taking, "step-voltage")
    taking.send("found", place, dc="0 V", ac="0 V")
    refused = taking.send("started", place, status=400)["errors"][0]["problem"]
    assert "The owner consents in writing" in refused
    tick_all(taking, place)
    take(taking, place, dict(zip((60.0, 120.0, 180.0, 240.0, 300.0), ("3.1 GΩ", "3.4 GΩ", "3.6 GΩ", "3.7 GΩ", "3.8 GΩ"),
                                 strict=True)))  # fmt: skip
    record = kept_by(client, taking.keep())["record"]
    levels = [step["voltage"] for step in record["stated"]["steps"]]
    assert record["readings"]["voltage"] == pytest.approx(levels)
    assert levels == sorted(levels)


def test_a_ramp_is_kept_with_its_currents(client: TestClient) -> None:
    taking = Taking(client, methods=["ramp"])
    place = place_of(taking, "ramp")
    tick_all(taking, place)
    marks = [call["time"] for call in taking.sheet(place)["calls"]]
    take(taking, place, {time: f"{1.4 + k / 50:.2f} uA" for k, time in enumerate(marks)})
    record = kept_by(client, taking.keep())["record"]
    assert record["readings"]["current"] == pytest.approx([(1.4 + k / 50) * 1e-6 for k in range(len(marks))])
    assert record["stated"]["ramp_rate"] == pytest.approx(1000 / 60)


def test_a_discharge_is_read_one_minute_into_the_short_circuit(client: TestClient) -> None:
    taking = Taking(
        client, {**PLATE, "capacitance": "0.1 uF"}, methods=["dielectric-discharge"], connections=[0]
    )
    take(taking, 0, {60.0: "1.2 GΩ", 600.0: "5.1 GΩ", 1860.0: "501 nA"}, apply="1 kV")
    found = kept_by(client, taking.keep())
    assert found["record"]["stated"]["discharge_started"] == 1800.0
    # |I| / (V C) = 501 nA / (1 kV 0.1 uF) = 5.01 mA/(V F): the definition of the house, by hand
    assert found["result"]["quantities"]["dielectric_discharge"]["value"] == pytest.approx(5.01e-3)


def test_a_cable_is_read_core_by_core(client: TestClient) -> None:
    taking = Taking(client, CABLE)
    for place in range(3):
        take(taking, place, {60.0: f"{12 + place} GΩ"}, apply="2.5 kV", ago=70.0)
    kept = taking.keep()
    assert [kept_by(client, kept, place)["test"]["section"] for place in range(3)] == ["L1", "L2", "L3"]


def test_a_transformer_is_read_connection_by_connection(client: TestClient) -> None:
    taking = Taking(client, TRANSFORMER)
    titles = [one["section"] for one in taking.state["sheets"]]
    assert "H + L" in titles
    for place, one in enumerate(taking.state["sheets"]):
        if one["method"] == "terminal-set":
            take(taking, place, {60.0: f"{2 + place} GΩ"}, apply="500 V", ago=70.0)
    kept = taking.keep()
    assert kept["tests_added"] == sum(one["method"] == "terminal-set" for one in taking.state["sheets"])


def test_a_board_is_read_at_one_minute(client: TestClient) -> None:
    taking = Taking(client, BOARD, connections=[1])
    take(taking, 0, {60.0: "> 20 GΩ"}, apply="2.5 kV", ago=70.0)
    record = kept_by(client, taking.keep())["record"]
    assert record["readings"]["bound"] == [1]
    assert record["stated"]["tested"] == ["L2"]


@pytest.mark.parametrize(
    ("how", "status"),
    (("breakdown", "unfit"), ("flashover", "unfit"), ("tripped", "investigate")),
)
def test_how_it_ended_is_judged(client: TestClient, how: str, status: str) -> None:
    # The contract of the house: breakdown and flashover are unfit, tripped is investigate until explained.
    taking = Taking(client)
    taking.begin(ago=100.0)
    for time, text in TEN_MINUTES[:3]:
        taking.send("reading", mark=float(time), time=float(time), text=text)
    taking.send("ended", how=how, voltage="4.4 kV")
    kept = taking.keep()
    assert kept["files"][0]["tests"][0]["status"] == status
    stated = kept_by(client, kept)["record"]["stated"]
    assert (stated["ended"], stated["ended_voltage"]) == (how, 4400.0)


def test_the_file_that_is_kept_is_a_record_file_that_anybody_can_read(client: TestClient) -> None:
    taking = Taking(client)
    taking.whole()
    test = taking.keep()["files"][0]["tests"][0]["test"]
    data = client.get(f"/api/tests/{test}/file").content
    (record,) = read_bytes(data, "sheet.csv")
    assert record.readings.time.tolist() == [float(time) for time, _ in TEN_MINUTES]
    assert data.decode().startswith("# soakage = 1\n")


def test_the_same_file_brought_in_again_is_known(client: TestClient) -> None:
    from soakage.app.intake import Incoming, take_in
    from soakage.wiring import rules
    from soakage.wiring.memory import in_hands

    taking = Taking(client)
    taking.whole()
    test = taking.keep()["files"][0]["tests"][0]["test"]
    data = client.get(f"/api/tests/{test}/file").content
    memory = in_hands(client.app.state.store, "T. Ester")  # type: ignore[attr-defined]
    again = take_in(memory, [Incoming("again.csv", data, read_bytes(data, "again.csv"))], rules())
    assert again.count("known") == 1
    assert again.tests_added == 0


def test_conditions_complete_what_a_verdict_needs(client: TestClient) -> None:
    without, with_them = Taking(client), Taking(client)
    values = {
        "winding_temperature": "27.5 degC",
        "ambient_temperature": "22 degC",
        "relative_humidity": "55 %",
    }
    client.patch(f"/api/drafts/{with_them.id}/header", json={"values": values}, headers=token(client))
    found = []
    for taking in (without, with_them):
        taking.whole()
        result = kept_by(client, taking.keep())["result"]
        found.append("insulation_resistance_60s_corrected" in result["quantities"])
    assert found == [False, True]


def test_pages_that_send_at_once_lose_nothing(client: TestClient) -> None:
    taking = Taking(client)
    taking.begin(ago=700.0)
    first, headers = taking.state["next"], token(client)

    def page(who: int) -> list[int]:
        """Send one reading; look again and send under the next number for as long as another page was first."""
        body = {
            "key": f"page-{who:08d}",
            "sheet": 0,
            "kind": "reading",
            "mark": None,
            "text": f"{who + 1} GΩ",
        }
        told, number = [], first
        for _ in range(12):
            given = body | {"number": number, "time": 100.0 + who}
            answer = client.post(f"/api/drafts/{taking.id}/rows", json=given, headers=headers)
            told.append(answer.status_code)
            if answer.status_code == 200:
                return told
            number = client.get(f"/api/drafts/{taking.id}").json()["next"]
        return told

    with ThreadPoolExecutor(4) as pool:
        told = list(pool.map(page, range(4)))
    assert all(one[-1] == 200 and set(one[:-1]) <= {409} for one in told)
    readings = client.get(f"/api/drafts/{taking.id}").json()["sheets"][0]["readings"]
    assert sorted(one["text"] for one in readings) == ["1 GΩ", "2 GΩ", "3 GΩ", "4 GΩ"]


def test_an_instrument_of_the_register_is_offered_with_its_calibration(client: TestClient) -> None:
    taking = Taking(client)
    memory_page = client.get(f"/take/{taking.id}").text
    assert "Instrument of the register" not in memory_page
    client.patch(
        f"/api/drafts/{taking.id}/header",
        json={
            "values": {"instrument": "Meter 4", "instrument_serial": "M4-31", "calibration_due": "2027-03-01"}
        },
        headers=token(client),
    )
    taking.whole()
    taking.keep()
    text = client.get(f"/take/{Taking(client).id}").text
    assert re.search(r'<option value="Meter 4\|M4-31\|', text)


@pytest.mark.parametrize(
    ("more", "said"),
    (
        ({"capacitance": "0.1 uF"}, "hold 500\u00a0µC and 1.25\u00a0J"),  # C V and C V^2 / 2 at 5 kV, by hand
        ({"capacitance": "0.1 uF", "current_limit": "2 mA"}, "At 2\u00a0mA charging takes"),
        ({"purpose": "drying"}, "The low end of the range"),
        ({"neutral": "closed"}, "Star point closed; all phases joined"),
        ({"hazardous_area": "no"}, "Hazardous area: no"),
        ({"gas_free_certificate": "GF-7", "hazardous_area": "yes"}, "gas-free certificate GF-7"),
    ),
)
def test_the_card_follows_what_is_stated(client: TestClient, more: dict[str, str], said: str) -> None:
    assert said in client.get("/plan", params=PLATE | more).text


@pytest.mark.parametrize("values", (PLATE, CABLE, TRANSFORMER, BOARD), ids=lambda values: values["class"])
def test_every_class_has_its_card_and_its_sheet(client: TestClient, values: dict[str, str]) -> None:
    text = client.get("/plan", params=values).text
    assert "Local codes and the person in charge" in text
    assert 'class="rails"' in text
    taking = Taking(client, values)
    page = client.get(f"/take/{taking.id}").text
    assert "Nothing is switched on from here." in page
    assert not re.search(r"\b(safe|discharged|clear)\b", re.sub(r"<[^>]*>", " ", page).lower())
