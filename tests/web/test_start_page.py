"""The start: what waits, what is due, and what to do first where nothing is kept."""

from __future__ import annotations

import json
import re
import time
from datetime import date, timedelta
from typing import Any

import pytest
from fastapi.testclient import TestClient

from plant_rig import Plant, bare, plant, small_plant
from soakage.app.due import work_list
from soakage.app.remember import remember
from soakage.standards.library import library
from soakage.store import schema
from soakage.store.waiting import by_turn, conflicts, held, to_decide, unfinished
from soakage.web.accounts import Role
from soakage.web.start_view import conflict_rows, due, lead, numbered
from soakage.wiring.memory import in_hands
from soakage.wiring.trending import today
from web_help import log_in, outside_client, token

__all__ = ["bare", "plant", "small_plant"]
BAD = ("Ash pump 2 motor", "Mill 1 motor")


def hands(of: Plant) -> Any:
    return in_hands(of.client.app.state.store, "T. Ester")  # type: ignore[attr-defined]


def test_a_new_user_sees_what_to_do_first(bare: Plant) -> None:
    page = bare.page("/")
    assert "Nothing is kept here yet." in page
    for where in ("/import", "/tests/new", "/assets/new", "/demo"):
        assert f'href="{where}"' in page, where
    assert "Needs a decision" not in page
    assert "data-part" not in page


def test_what_needs_a_decision_is_told_with_its_verdict_and_leads_to_the_test(plant: Plant) -> None:
    page = plant.page("/")
    assert "Two assets need your decision." in page
    found = plant.json("/api/waiting")["decide"]
    assert found["count"] == 2
    assert sorted(one["asset"] for one in found["assets"]) == sorted(BAD)
    for one in found["assets"]:
        assert one["status"] == "investigate"
        assert f'href="/tests/{one["test"]}"' in page
        assert plant.json(f"/api/tests/{one['test']}")["test"]["status"] == "investigate"


def test_signed_verdicts_need_no_decision(plant: Plant) -> None:
    mill = plant.id("Mill 1 motor")
    newest = plant.json(f"/api/assets/{mill}")["standing"]["visit"]
    tests = [one for one in plant.json(f"/api/assets/{mill}")["tests"] if one["visit"] == newest]
    for number, test in enumerate(tests):
        assert "Mill 1 motor" in plant.page("/"), number
        body = {"action": "signed", "text": "Cleaned and dried; tested again next week."}
        answer = plant.send("POST", f"/api/tests/{test['id']}/signatures", body)
        if answer.status_code == 404:
            pytest.fail("the address of sign-offs has moved")
        assert answer.status_code < 300, answer.text
    assert [one["asset"] for one in plant.json("/api/waiting")["decide"]["assets"]] == ["Ash pump 2 motor"]
    assert "One asset needs your decision." in plant.page("/")


def test_an_asset_out_of_service_waits_for_nobody(plant: Plant) -> None:
    for name in BAD:
        plant.send("POST", f"/api/assets/{plant.id(name)}/retirement", {"reason": "scrapped"})
    assert "Nothing needs your decision." in plant.page("/")
    due_now = plant.json("/api/due?by=2060-01-01")
    assert not {one["asset"] for one in due_now["due"]} & set(BAD)
    assert due_now["dated"] == 7


def test_an_unfinished_sheet_comes_with_its_caution(plant: Plant) -> None:
    store = hands(plant).store
    with store.writing("T. Ester") as writer:
        mill = plant.id("Mill 2 motor")
        row = {"id": "d" * 32, "person": "R. Amsel", "asset": mill, "begun": 1_700_000_000_000_000}
        writer.connection.execute(
            schema.draft.insert(), [row | {"changed": 1_700_000_100_000_000, "fields": "{}"}]
        )
        rows = [{"draft": "d" * 32, "number": n, "at": n, "fields": '{"kind":"reading"}'} for n in range(6)]
        writer.connection.execute(schema.draft_row.insert(), rows)
    page = plant.page("/")
    assert "Voltage may still be on." in page
    assert "6\u00a0readings kept" in page
    assert f'href="/take/{"d" * 32}"' in page
    assert "Mill 2 motor" in page
    assert page.index("Voltage may still be on.") < page.index("Open the sheet")
    (told,) = plant.json("/api/waiting")["unfinished"]
    assert (told["readings"], told["person"], told["asset"]) == (6, "R. Amsel", "Mill 2 motor")
    assert not re.search(r"\b(safe|discharged|clear)\b", page.lower().replace("/clear", ""))


def test_the_list_of_what_is_due_is_fetched_after_the_page_and_has_a_link_in_its_place(plant: Plant) -> None:
    page = plant.page("/")
    assert 'data-part="/due?part=1"' in page
    assert '<a class="button" href="/due">' in page
    part, whole = plant.page("/due?part=1"), plant.page("/due")
    assert "<html" not in part
    assert "<html" in whole
    for name in BAD:
        assert name in part
        assert name in whole
    assert "/plan" in part


def test_what_is_due_is_what_the_trends_say(plant: Plant) -> None:
    memory, last = hands(plant), today() + timedelta(days=400)
    expected = set()
    for asset in memory.register():
        for item in work_list(remember(memory, asset, library(), today(), with_peers=False).due, last):
            expected.add((asset.id, item.section, item.due.isoformat()))
    found = plant.json(f"/api/due?by={last.isoformat()}")
    assert {(one["asset_id"], one["section"], one["due"]) for one in found["due"]} == expected
    assert expected
    assert (found["looked_at"], found["dated"], found["bound"]) == (9, 9, "")
    assert [one["due"] for one in found["due"]] == sorted(one["due"] for one in found["due"])


@pytest.mark.parametrize("closely", (1, 3, 8))
def test_a_bound_on_what_is_looked_at_is_said(plant: Plant, closely: int) -> None:
    found = due(hands(plant), today(), by=date(2060, 1, 1), closely=closely)
    assert found.looked_at == closely
    assert not found.whole
    assert f"the {closely} assets of 9" in found.bound
    assert len({asset for asset, _ in found.items}) == closely


def test_those_whose_turn_comes_first_are_looked_at(plant: Plant) -> None:
    years = {"sound": 3.0, "watch": 1.0, "investigate": 0.0, "unfit": 0.0}
    with hands(plant).store.reading() as connection:
        dated, first = by_turn(connection, years, 0.0, limit=20)
        assert dated == len(first) == 9
        assert [row["turn"] for row in first] == sorted(row["turn"] for row in first)
        for row in first:
            day = date.fromisoformat(row["day"])
            turn = day.year + (day.timetuple().tm_yday - 1) / 365.25 + years.get(row["status"], 0.0)
            assert row["turn"] == pytest.approx(turn, abs=0.02)
        assert {row["asset"] for row in first[:3]} >= set(BAD)
        assert by_turn(connection, years, 0.0, limit=20, asset_class="cable")[0] == 1
        assert by_turn(connection, years, 0.0, limit=20, site="nowhere") == (0, [])


def test_due_can_be_narrowed(plant: Plant) -> None:
    cable = plant.json("/api/due?by=2060-01-01&class=cable")
    assert {one["asset"] for one in cable["due"]} == {"Intake cable"}
    assert plant.json("/api/due?by=1990-01-01")["due"] == []
    assert "Nothing falls due up to 1\u00a0January 1990." in plant.page("/due?by=1990-01-01")


@pytest.mark.parametrize(
    ("query", "said"),
    (("by=soon", "this is no day"), ("class=boat", "no such class"), ("status=fine", "no such status")),
)
def test_a_wrong_filter_is_told_with_what_is_allowed(plant: Plant, query: str, said: str) -> None:
    answer = plant.client.get(f"/api/due?{query}")
    assert answer.status_code == 400
    assert said in answer.json()["errors"][0]["problem"]
    assert said in plant.page(f"/due?{query}", 400)


def test_an_answer_is_worked_out_once_until_the_store_changes(
    plant: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    from soakage.web import start_view

    asked: list[int] = []
    real = remember

    def counting(*given: Any, **more: Any) -> Any:
        asked.append(1)
        return real(*given, **more)

    monkeypatch.setattr(start_view, "remember", counting)
    first = plant.page("/due?part=1")
    once = len(asked)
    assert once == 9
    assert plant.page("/due?part=1") == first
    assert len(asked) == once
    plant.send("POST", f"/api/assets/{plant.id('Mill 1 motor')}/retirement", {})
    assert "Mill 1 motor" not in plant.page("/due?part=1")
    assert len(asked) > once


def test_an_empty_store_has_nothing_waiting(bare: Plant) -> None:
    found = bare.json("/api/waiting")
    assert (found["assets"], found["untested"], found["decide"]["count"]) == (0, 0, 0)
    assert bare.json("/api/due")["due"] == []
    assert "Nothing falls due" in bare.page("/due")
    with hands(bare).store.reading() as connection:
        assert to_decide(connection, 5) == (0, [])
        assert conflicts(connection, 5) == (0, [])
        assert unfinished(connection, 5) == []
        assert held(connection) == {"assets": 0, "untested": 0}


def test_assets_without_a_test_are_counted(plant: Plant) -> None:
    plant.send("POST", "/api/assets", {"values": {"asset": "New pump", "class": "rotating-machine"}})
    assert plant.json("/api/waiting")["untested"] == 1
    assert "1\u00a0asset without a test yet" in plant.page("/")


@pytest.mark.parametrize(
    ("count", "word"), ((0, "no"), (1, "one"), (2, "two"), (12, "twelve"), (13, "13"), (4321, "4,321"))
)
def test_small_numbers_are_words(count: int, word: str) -> None:
    assert numbered(count) == word


def said_of(assets: int, decide: int, sheets: int, disputed: int) -> dict[str, Any]:
    return {
        "assets": assets, "decide": {"count": decide}, "unfinished": [{}] * sheets, "conflicts": {"count": disputed}
    }  # fmt: skip


@pytest.mark.parametrize(
    ("given", "first", "second"),
    (
        ((0, 0, 0, 0), "Nothing is kept here yet.", "Begin with one of these."),
        ((3, 0, 0, 0), "Nothing needs your decision.", ""),
        ((3, 1, 0, 0), "One asset needs your decision.", ""),
        ((3, 3, 1, 0), "Three assets need your decision.", "1\u00a0sheet not finished."),
        (
            (30, 14, 2, 3),
            "14 assets need your decision.",
            "2\u00a0sheets not finished and 3\u00a0fields in conflict.",
        ),
    ),
)
def test_the_start_opens_with_a_sentence(given: tuple[int, int, int, int], first: str, second: str) -> None:
    assert lead(said_of(*given)) == (first, second)


@pytest.mark.parametrize(
    ("kind", "address"),
    (
        ("asset", "/assets/s#conflicts"),
        ("test", "/tests/s"),
        ("instrument", "/settings"),
        ("site", "/settings"),
    ),
)
def test_a_conflict_leads_to_where_it_is_settled(kind: str, address: str) -> None:
    claims = [{"value": 6600.0, "person": "A"}, {"value": None, "person": "B"}]
    field = {"kind": kind, "subject": "s", "field": "rated_voltage", "asset": "Pump", "claims": claims}
    (row,) = conflict_rows([field])
    assert row == {"address": address, "name": "Pump", "say": "rated voltage: A: 6600.0; B: nothing."}


def test_the_invented_plant_is_put_into_an_empty_store_after_a_question(
    bare: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    from soakage.demo import history

    few = dict(list(history.history_files().items())[:6])
    monkeypatch.setattr(history, "history_files", lambda: few)
    page = bare.page("/demo")
    assert "Put the invented plant into this store?" in page
    assert "stays in its trail for good" in page
    assert bare.json("/api/waiting")["assets"] == 0
    answer = bare.post("/demo", {})
    assert answer.status_code == 303
    job = answer.headers["location"].partition("job=")[2]
    for _ in range(200):
        state = bare.json(f"/api/jobs/{job}")
        if state["state"] not in ("waiting", "running"):
            break
        time.sleep(0.05)
    assert (state["state"], state["then"]) == ("done", "/")
    assert bare.json("/api/waiting")["assets"] > 0
    assert bare.post("/demo", {}).status_code == 409
    assert "they are not put here" in bare.page("/demo")


def test_nothing_invented_is_put_beside_what_is_there(plant: Plant) -> None:
    before = json.dumps(plant.json("/api/assets?limit=1000"))
    assert "Invented ones would stand among them" in plant.page("/demo")
    assert plant.post("/demo", {}).status_code == 409
    assert json.dumps(plant.json("/api/assets?limit=1000")) == before


@pytest.mark.parametrize("path", ("/", "/due", "/demo", "/assets", "/plant"))
def test_nobody_sees_it_without_logging_in(path: str) -> None:
    client: TestClient = outside_client()
    answer = client.get(path, headers={"Accept": "text/html"})
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/log-in")
    assert client.get("/api/waiting").status_code == 401


def test_a_reader_puts_nothing_into_the_store() -> None:
    client = outside_client(("L. Eser", Role.READ))
    assert log_in(client, "L. Eser") == 200
    assert client.get("/", headers={"Accept": "text/html"}).status_code == 200
    assert client.post("/demo", headers=token(client)).status_code == 403
    assert client.get("/demo").status_code == 403
