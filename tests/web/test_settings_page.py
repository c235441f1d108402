"""Settings by page and API: what is set takes effect, is kept, and is asked of the right people."""

from __future__ import annotations

import io
import re
import sqlite3
import time
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from kept_rig import PAGE, Kept, words
from soakage.report.figures import NBSP
from soakage.standards.library import library
from soakage.web import shown, view
from soakage.web.accounts import Role, account
from soakage.web.server import create_app
from soakage.web.settings import Settings
from soakage.web.shown import Shown
from soakage.web.stored_accounts import StoreAccounts
from soakage.web.stored_sessions import StoreSessions
from soakage.wiring.house_rules import house_rules, rules_in_use, set_report, set_temperature_rule, usual
from soakage.wiring.memory import memory
from web_help import OUTSIDE, PASSWORD, log_in, outside_client, token

PAGES = ("", "/instruments", "/people", "/recipes", "/store", "/exchange", "/accounts")
FOR_ADMINISTRATORS = ("/store", "/exchange", "/accounts")


def post(client: TestClient, path: str, status: int = 200, files: Any = None, **typed: str) -> str:
    answer = client.post(f"/settings{path}", data=typed, files=files, headers=PAGE | token(client))
    assert answer.status_code == status, words(answer.text)[:400]
    return words(answer.text)


def done(client: TestClient, job: str) -> dict[str, Any]:
    for _ in range(600):
        told: dict[str, Any] = client.get(f"/api/jobs/{job}").json()
        if told["state"] not in ("waiting", "running"):
            return told
        time.sleep(0.1)
    raise AssertionError("it never ended")


@pytest.mark.parametrize("path", PAGES)
def test_every_page_answers_and_says_where_it_is(client: TestClient, path: str) -> None:
    text = words(client.get(f"/settings{path}", headers=PAGE).text)
    assert "Settings" in text
    assert "Isolate, prove dead, discharge, earth, wait." in text


@pytest.mark.parametrize("path", FOR_ADMINISTRATORS)
def test_what_belongs_to_the_store_is_for_whoever_administers(path: str) -> None:
    client = outside_client(("Reviewer", Role.REVIEW), ("Chief", Role.ADMINISTER))
    log_in(client, "Reviewer")
    assert client.get(f"/settings{path}", headers=PAGE).status_code == 403
    assert f'href="/settings{path}"' not in client.get("/settings", headers=PAGE).text
    log_in(client, "Chief")
    assert client.get(f"/settings{path}", headers=PAGE).status_code == 200


@pytest.mark.parametrize(
    ("method", "path", "body"),
    (
        ("PUT", "/profile", {"id": "default"}), ("PUT", "/temperature-rule", {"rule": None}), ("PUT", "/report", {}),
        ("POST", "/backups", None), ("POST", "/checks", None), ("GET", "/accounts", None),
        ("POST", "/accounts", {"name": "A", "password": PASSWORD, "role": "administer"}),
        ("DELETE", "/accounts/Chief", None), ("POST", "/exchanges", {"address": "https://office.example"}),
    ),
)  # fmt: skip
def test_the_api_asks_the_same_role(method: str, path: str, body: Any) -> None:
    client = outside_client(("Reviewer", Role.REVIEW))
    log_in(client, "Reviewer")
    answer = client.request(method, f"/api/settings{path}", json=body, headers=token(client))
    assert answer.status_code == 403


def test_look_and_figures_are_kept_in_the_browser(client: TestClient) -> None:
    post(client, "/shown", look="dark", decimal=",", degrees="F")
    assert client.cookies["soakage-look"] == "dark"
    assert client.cookies["soakage-shown"] == "comma-F"
    text = client.get("/settings", headers=PAGE).text
    assert 'data-look="dark"' in text
    assert re.search(r'<option value="," selected>', text)
    post(client, "/shown", look="plaid", decimal=";", degrees="K")
    assert client.cookies["soakage-look"] == "dark"


@pytest.mark.parametrize(
    ("chosen", "value", "dimension", "text"),
    (
        (Shown(), 1.5e9, "resistance", f"1.50{NBSP}GΩ"),
        (Shown(","), 1.5e9, "resistance", f"1,50{NBSP}GΩ"),
        (Shown(".", "F"), 313.15, "temperature", f"104{NBSP}°F"),  # 40 °C is 104 °F by definition
        (Shown(",", "F"), 293.65, "temperature", f"68,9{NBSP}°F"),
        (Shown(",", "F"), 310.15, "temperature", f"98,6{NBSP}°F"),
        (Shown(), 313.15, "temperature", f"40{NBSP}°C"),
    ),
)
def test_figures_are_written_as_chosen(chosen: Shown, value: float, dimension: str, text: str) -> None:
    held = shown._NOW.set(chosen)
    try:
        assert view.quantity(value, dimension) == text
        assert str(view.figure(value, dimension)) == text
    finally:
        shown._NOW.reset(held)


def test_a_page_shows_its_reader_what_was_chosen_and_another_not(kept: Kept) -> None:
    before = words(kept.page("drain-pump-3-u.csv"))
    kept.client.cookies.set("soakage-shown", "comma-C")
    after = words(kept.page("drain-pump-3-u.csv"))
    assert re.search(r"\d,\d\d GΩ", after)
    assert not re.search(r"\d,\d\d GΩ", before)


def test_company_heading_and_note_stand_on_reports(kept: Kept) -> None:
    given = {
        "company": "Tollowmere Works (invented)",
        "heading": "Winter outage",
        "note": "Kept for ten years.",
    }
    answer = kept.client.put("/api/settings/report", json=given, headers={"X-CSRF-Token": kept.token})
    assert answer.json()["report"] == given
    report = kept.client.get(f"/api/tests/{kept.ids['drain-pump-3-u.csv']}/report.html").text
    for text in given.values():
        assert text in words(report)


@pytest.mark.parametrize("wording", ({"motto": "x"}, {"company": "x" * 401}, {"note": "a\x07b"}))
def test_wording_that_cannot_be_is_refused(tmp_path: Path, wording: dict[str, str]) -> None:
    from soakage.errors import UsageError

    hands = memory(str(tmp_path / "s.sqlite"), "T. Ester")
    with hands.store, pytest.raises(UsageError):
        set_report(hands, wording)


def test_settings_take_effect_stay_here_and_are_noted(tmp_path: Path) -> None:
    hands = memory(str(tmp_path / "s.sqlite"), "T. Ester")
    with hands.store:
        assert rules_in_use(hands).temperature_rule is None
        rule = min(library().temperature_rules)
        set_temperature_rule(hands, rule)
        set_report(hands, {"company": "  Tollowmere   Works ", "note": ""})
        assert rules_in_use(hands).temperature_rule == rule
        assert dict(rules_in_use(hands).profile.wording) == {"company": "Tollowmere Works"}
        assert house_rules(hands).report == {"company": "Tollowmere Works"}
        set_temperature_rule(hands, "")
        assert usual(hands).temperature_rule is None
    with sqlite3.connect(tmp_path / "s.sqlite") as opened:
        found = opened.execute("select store, person from entry where kind = 'setting'").fetchall()
    opened.close()
    assert len(found) == 3
    assert all(store.endswith(".here") and person == "T. Ester" for store, person in found)


def test_a_temperature_rule_that_is_none_is_refused_with_those_there_are(client: TestClient) -> None:
    text = post(client, "/temperature-rule", 400, rule="none of them")
    for rule in library().temperature_rules:
        assert rule in text


def test_a_profile_of_ones_own_is_kept_and_taken_back(client: TestClient) -> None:
    from importlib.resources import files

    content = (files("soakage.demo") / "edition-2000.toml").read_bytes()
    text = post(client, "/profile", files={"file": ("../edition-2000.toml", content)})
    assert "from edition-2000.toml" in text
    assert "Back to the default rule set" in text
    assert "Back to the default rule set" not in post(client, "/profile", profile="default")
    assert "default" in post(client, "/profile", 400, profile="../../etc/passwd")
    post(client, "/profile", 400, files={"file": ("a.toml", b"[nothing")})


def test_instruments_are_added_changed_and_calibrated(client: TestClient) -> None:
    typed = {
        "instrument_serial": "A1",
        "instrument": "Bench meter (invented)",
        "calibration_due": "2020-01-01",
    }
    assert "1 instrument past calibration." in post(
        client, "/instruments/add", 200, None, **typed, current_limit="2 mA"
    )
    assert "is there already" in post(client, "/instruments/add", 422, None, **typed)
    text = post(
        client, "/instruments/calibrated", instrument_serial="A1", due="2099-01-01", certificate="C-7"
    )
    assert "No calibration has run out." in text
    assert "Calibrated until 2099-01-01." in text
    assert "1 instrument past calibration" not in words(client.get("/settings", headers=PAGE).text)
    changed = {"instrument_serial": "A1", "instrument": "Field meter (invented)", "current_limit": "2 mA"}
    assert "Field meter" in post(client, "/instruments/change", 200, None, **changed)
    (kept,) = client.get("/api/settings/instruments").json()
    assert kept["values"]["instrument"] == "Field meter (invented)"
    assert kept["values"]["current_limit"].replace("\u00a0", " ") == "2 mA"
    assert not kept["overdue"]
    assert "Nothing differs" in post(client, "/instruments/change", 422, None, **changed)
    post(
        client,
        "/instruments/change",
        instrument_serial="A1",
        instrument="Field meter (invented)",
        current_limit="",
    )
    assert "current_limit" not in client.get("/api/settings/instruments").json()[0]["values"]


@pytest.mark.parametrize(
    ("what", "typed"),
    (
        ("add", {"instrument_serial": ""}), ("add", {"instrument_serial": "A2", "current_limit": "plenty"}),
        ("calibrated", {"instrument_serial": "A9", "due": "2099-01-01"}),
        ("calibrated", {"instrument_serial": "A1", "due": ""}), ("change", {"instrument_serial": "A9"}),
        ("calibrated", {"instrument_serial": "A1", "due": "2020-01-01", "done": "2021-01-01"}),
    ),
)  # fmt: skip
def test_what_cannot_be_said_of_an_instrument_is_refused(
    client: TestClient, what: str, typed: dict[str, str]
) -> None:
    post(client, "/instruments/add", instrument_serial="A1")
    post(client, f"/instruments/{what}", 422, None, **typed)


def test_people_are_added_and_changed(client: TestClient) -> None:
    assert "Ann Ohmsworth (invented)" in post(
        client, "/people/add", name="Ann Ohmsworth (invented)", licence_number="L-1"
    )
    post(client, "/people/add", 422, name="Ann Ohmsworth (invented)")
    post(client, "/people/change", name="Ann Ohmsworth (invented)", licence_number="L-2", text="days only")
    (person,) = client.get("/api/settings/people").json()
    assert (person["licence_number"], person["text"]) == ("L-2", "days only")
    post(client, "/people/change", 422, name="Nobody", text="x")


def test_recipes_are_shared_as_files(client: TestClient) -> None:
    from soakage.importers.recipe import ColumnRule, Kind, Layout, Recipe
    from soakage.importers.recipe_file import recipe_text

    columns = (
        ColumnRule("R 60 s", reading="resistance", at="60 s", unit="MOhm"),
        ColumnRule("Asset", key="asset"),
    )
    text = recipe_text(Recipe("Pumps", Kind.CSV, Layout.ROW, columns))
    assert "Pumps" in post(client, "/recipes", files={"file": ("p.toml", text.encode())})
    (kept,) = client.get("/api/settings/recipes").json()
    saved = client.get(f"/settings/recipes/{kept['id']}.toml")
    assert saved.text == text
    assert 'filename="Pumps.toml"' in saved.headers["content-disposition"]
    post(client, "/recipes", 422, files={"file": ("p.toml", b"no recipe")})
    assert client.get("/settings/recipes/none.toml", headers=PAGE).status_code == 404


def test_a_backup_is_made_verified_saved_and_noted(kept: Kept) -> None:
    client = kept.client
    answer = client.post("/settings/store/backup", headers=PAGE | token(client), follow_redirects=False)
    told = done(client, answer.headers["location"].partition("job=")[2])
    page = client.get(told["then"], headers=PAGE).text
    assert "Written and verified: 28 tests" in words(page).replace("\u00a0", " ") or "verified" in words(page)
    (address,) = re.findall(r'href="(/settings/store/backups/[^"]+)"', page)
    content = client.get(address).content
    assert content.startswith(b"SQLite format 3\0")
    assert len(content) % 4096 == 0
    assert client.get("/api/settings").json()["backup"]["person"] == "R. Amsel"
    assert client.get("/settings/store/backups/none", headers=PAGE).status_code == 404


def test_a_check_says_whether_the_store_is_whole(kept: Kept) -> None:
    client = kept.client
    told = done(client, client.post("/api/settings/checks", headers=token(client)).json()["id"])
    found = client.get(told["then"]).json()
    assert found["whole"] is True
    page = words(client.get(f"/settings/store?done={told['id']}", headers=PAGE).text)
    assert "The store is whole:" in page


def test_an_exchange_by_the_page_brings_both_the_same(kept: Kept, tmp_path: Path) -> None:
    from far_rig import filled, serving, subjects

    (tmp_path / "far").mkdir()
    office = filled(tmp_path / "far" / "office.sqlite", ("sump-pump",), "Office")
    client = kept.client
    with serving(Path(str(office.store.where.path)), ("A. Tester", Role.TEST)) as server:
        wrong = {
            "address": server.address,
            "account": "A. Tester",
            "password": "another sentence",
            "what": "both",
        }

        def begin(**typed: str) -> dict[str, Any]:
            answer = client.post(
                "/settings/exchange", data=typed, headers=PAGE | token(client), follow_redirects=False
            )
            return done(client, answer.headers["location"].partition("job=")[2])

        refused = begin(**wrong)
        assert refused["state"] == "failed"
        assert "do not belong together" in refused["errors"][0]["problem"]
        told = begin(**{**wrong, "password": PASSWORD})
        text = words(client.get(told["then"], headers=PAGE).text)
    assert "Pulled from" in text
    assert "Pushed to" in text
    here = memory(str(tmp_path / "store.sqlite"), "T. Ester")
    assert subjects(here) == subjects(office)
    assert "Write https://" in post(client, "/exchange", 422, address="http://office.example", what="both")
    assert PASSWORD not in text


def test_accounts_are_opened_changed_and_closed_by_the_page(tmp_path: Path) -> None:
    place = tmp_path / "s.sqlite"
    hands = memory(str(place), "R. Amsel")
    StoreAccounts(hands.store).keep(account("Chief", PASSWORD, Role.ADMINISTER))
    settings = Settings(host="0.0.0.0", behind_proxy=True, names=("soakage.test",), store=str(place))  # noqa: S104
    app = create_app(settings)
    client = TestClient(app, base_url=OUTSIDE)
    assert log_in(client, "Chief") == 200
    text = post(client, "/accounts/open", name="Ann", password=PASSWORD, role="test")
    assert "Close Ann" in text
    post(client, "/accounts/open", 422, name="Bo", password="short", role="test")  # noqa: S106
    post(client, "/accounts/open", 422, name="Bo", password=PASSWORD, role="owner")
    assert "Nobody else administers" in post(client, "/accounts/close", 422, name="Chief")
    other = TestClient(app, base_url=OUTSIDE)
    assert log_in(other, "Ann") == 200
    post(client, "/accounts/close", name="Ann")
    assert log_in(other, "Ann") in (401, 403)
    noted = {
        row[0]
        for row in sqlite3.connect(place)
        .execute("select action from entry where kind = 'setting'")
        .fetchall()
    }
    assert {"account_opened", "account_closed", "logged_in"} <= noted
    bodies = " ".join(
        row[0] or "" for row in sqlite3.connect(place).execute("select body from entry").fetchall()
    )
    assert "argon2" not in bodies
    assert PASSWORD not in bodies


def test_a_session_outlives_the_server_and_ends_with_log_out(tmp_path: Path) -> None:
    place = tmp_path / "s.sqlite"
    StoreAccounts(memory(str(place), "R. Amsel").store).keep(account("Ann", PASSWORD, Role.TEST))
    settings = Settings(store=str(place))
    first = TestClient(create_app(settings), base_url="http://127.0.0.1:8650")
    assert log_in(first, "Ann") == 200
    second = TestClient(create_app(Settings(store=str(place))), base_url="http://127.0.0.1:8650")
    second.cookies = first.cookies
    assert second.get("/api/session").json()["name"] == "Ann"
    assert second.delete("/api/session", headers=token(second)).status_code == 204
    first.cookies = second.cookies
    assert first.get("/api/session").json()["name"] is None


@pytest.mark.parametrize(
    ("passed", "there"), ((0, True), (9 * 3600, True), (11 * 3600, False), (25 * 3600, False))
)
def test_a_session_ends_by_itself(tmp_path: Path, passed: float, there: bool) -> None:
    from soakage.web.sessions import Person

    now = [1_790_000_000.0]
    store = memory(str(tmp_path / "s.sqlite"), "R. Amsel").store
    StoreAccounts(store).keep(account("Ann", PASSWORD, Role.TEST))
    sessions = StoreSessions(store, lambda: now[0])
    key = sessions.begin(Person("Ann", Role.TEST, authenticated=True))
    now[0] += passed
    found = sessions.person(key)
    assert (found is not None) == there
    assert sessions.person("a guess") is None
    with sqlite3.connect(tmp_path / "s.sqlite") as opened:
        (held,) = opened.execute("select key from session").fetchone()
    opened.close()
    assert key.encode() not in io.BytesIO(held).read()
