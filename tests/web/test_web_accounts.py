"""Who may do what: passwords, sessions, roles, and a server that does not start open to others."""

from __future__ import annotations

from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from soakage.errors import UsageError
from soakage.web.accounts import Account, MemoryAccounts, Role, account, checked
from soakage.web.limits import RateLimit
from soakage.web.logging_in import local
from soakage.web.people import Administrator, Reader, Reviewer, Tester
from soakage.web.server import create_app
from soakage.web.sessions import IDLE, LONGEST, Person, Sessions, token, token_fits
from soakage.web.settings import Settings, is_loopback
from web_help import OUTSIDE, PASSWORD, accounts, log_in, outside, outside_client
from web_help import token as header

SOMEBODY = Person("R. Amsel", Role.TEST, authenticated=True)


class Clock:
    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


def test_a_password_is_kept_as_an_argon2_hash() -> None:
    # RFC 9106, 2021: the string form names the variant argon2id (from memory).
    made = account("R. Amsel", PASSWORD, Role.READ)
    assert made.hash.startswith("$argon2id$v=19$")
    assert PASSWORD not in repr(made)
    assert account("R. Amsel", PASSWORD, Role.READ).hash != made.hash


def test_only_the_right_password_of_the_right_person_fits() -> None:
    known = accounts(("R. Amsel", Role.READ), ("T. Brook", Role.TEST))
    found = checked(known, "R. Amsel", PASSWORD)
    assert found is not None
    assert found.role is Role.READ
    assert checked(known, " R. Amsel ", PASSWORD) == found
    assert checked(known, "R. Amsel", PASSWORD + " ") is None
    assert checked(known, "Nobody", PASSWORD) is None
    assert checked(known, "Nobody", "nobody has this one") is None
    assert checked(known, "R. Amsel", "x" * 1_000_000) is None


def test_a_hash_that_is_none_lets_nobody_in() -> None:
    assert checked(MemoryAccounts(Account("R. Amsel", "", Role.READ)), "R. Amsel", "") is None
    assert checked(MemoryAccounts(Account("R. Amsel", "plain", Role.READ)), "R. Amsel", "plain") is None


def test_an_older_weaker_hash_is_made_anew_when_it_fits() -> None:
    import argon2

    weak = argon2.PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash(PASSWORD)
    kept = MemoryAccounts(Account("R. Amsel", weak, Role.READ))
    assert checked(kept, "R. Amsel", PASSWORD) is not None
    anew = kept.get("R. Amsel")
    assert anew is not None
    assert anew.hash != weak
    assert checked(kept, "R. Amsel", PASSWORD) == anew


@pytest.mark.parametrize(
    ("name", "password"), (("", PASSWORD), ("  ", PASSWORD), ("R. Amsel", "short"), ("R", "x" * 300))
)
def test_an_account_without_name_or_with_a_poor_password_is_refused(name: str, password: str) -> None:
    with pytest.raises(UsageError):
        account(name, password, Role.READ)


def test_each_role_may_do_what_those_before_it_may() -> None:
    order = [Role.READ, Role.TEST, Role.REVIEW, Role.ADMINISTER]
    for i, has in enumerate(order):
        assert [has.may(needed) for needed in order] == [j <= i for j in range(4)]


def test_a_session_ends_when_it_is_not_used() -> None:
    clock = Clock()
    sessions = Sessions(clock)
    known = sessions.begin(SOMEBODY)
    clock.now += IDLE - 1
    assert sessions.person(known) == SOMEBODY
    clock.now += IDLE - 1
    assert sessions.person(known) == SOMEBODY
    clock.now += IDLE + 1
    assert sessions.person(known) is None


def test_a_session_ends_after_a_day_even_when_it_is_used() -> None:
    clock = Clock()
    sessions = Sessions(clock)
    known = sessions.begin(SOMEBODY)
    end = clock.now + LONGEST
    while clock.now < end - 3600:
        clock.now += 3600
        assert sessions.person(known) == SOMEBODY
    clock.now = end + 1
    assert sessions.person(known) is None


def test_a_session_can_be_ended_and_all_of_a_person() -> None:
    sessions = Sessions()
    first, second = sessions.begin(SOMEBODY), sessions.begin(SOMEBODY)
    other = sessions.begin(Person("T. Brook", Role.READ, authenticated=True))
    sessions.end(first)
    assert sessions.person(first) is None
    assert sessions.person(second) == SOMEBODY
    sessions.end_all("R. Amsel")
    assert sessions.person(second) is None
    assert sessions.person(other) is not None
    assert sessions.person("") is None


def test_a_token_fits_its_session_and_its_server_only() -> None:
    made = token(b"key", "session")
    assert token_fits(b"key", "session", made)
    assert not token_fits(b"key", "other", made)
    assert not token_fits(b"other", "session", made)
    assert not token_fits(b"key", "session", "")
    assert not token_fits(b"key", "session", "é")


def test_so_many_times_in_so_many_seconds() -> None:
    clock = Clock()
    limit = RateLimit(3, 60.0, clock)
    assert [limit.wait("a") for _ in range(3)] == [0, 0, 0]
    clock.now += 20
    assert limit.wait("a") == pytest.approx(40)
    assert limit.wait("b") == 0
    clock.now += 40
    assert limit.wait("a") == 0
    limit.forget("a")
    assert [limit.wait("a") for _ in range(3)] == [0, 0, 0]


# ------------------------------------------------------------------------------------ starting


@pytest.mark.parametrize("host", ("0.0.0.0", "::", "192.0.2.7", "soakage.test"))  # noqa: S104
def test_it_does_not_start_open_without_accounts_and_tls(host: str) -> None:
    with pytest.raises(UsageError) as told:
        create_app(Settings(host=host))
    assert "an account" in str(told.value)
    assert "TLS" in str(told.value)
    with pytest.raises(UsageError, match="an account"):
        create_app(Settings(host=host, behind_proxy=True))
    with pytest.raises(UsageError, match="TLS"):
        create_app(Settings(host=host), accounts(("R. Amsel", Role.ADMINISTER)))


def test_behind_a_proxy_the_loopback_address_is_open_to_others_too() -> None:
    with pytest.raises(UsageError, match="an account"):
        create_app(Settings(behind_proxy=True))


def test_tls_needs_both_files() -> None:
    with pytest.raises(UsageError, match="both files"):
        create_app(Settings(certificate=Path("certificate.pem")))


@pytest.mark.parametrize(
    ("host", "loopback"),
    (("127.0.0.1", True), ("127.8.9.1", True), ("::1", True), ("localhost", True), ("0.0.0.0", False), ("::", False),  # noqa: S104
     ("192.0.2.7", False), ("127.0.0.1.evil.example", False), ("", False)),
)  # fmt: skip
def test_what_is_the_loopback_address(host: str, loopback: bool) -> None:
    assert is_loopback(host) is loopback


# ------------------------------------------------------------------------------------ logging in


def test_on_loopback_the_person_is_stated_and_not_authenticated(client: TestClient) -> None:
    said = client.get("/api/session").json()
    assert (said["name"], said["role"], said["authenticated"]) == ("R. Amsel", "administer", False)
    assert "R. Amsel, stated, not authenticated" in client.get("/").text


def test_with_accounts_the_loopback_address_asks_for_them_too() -> None:
    app = create_app(Settings(port=8650), accounts(("R. Amsel", Role.READ)))
    client = TestClient(app, base_url="http://127.0.0.1:8650", follow_redirects=False)
    assert client.get("/metrics").status_code == 401
    assert log_in(client) == 200
    assert client.get("/metrics").status_code == 200


def test_a_page_leads_to_the_log_in_and_the_api_says_so() -> None:
    client = outside_client()
    page = client.get("/more", headers={"Accept": "text/html"})
    assert page.status_code == 303
    assert page.headers["location"].endswith("/log-in?to=%2Fmore")
    api = client.get("/metrics")
    assert api.status_code == 401
    assert api.json()["errors"][0]["remedy"] == "Log in, then do it again."


def test_the_form_logs_in_and_goes_on() -> None:
    client = outside_client()
    csrf = header(client)["X-CSRF-Token"]
    given = {"name": "R. Amsel", "password": PASSWORD, "csrf": csrf, "to": "/more"}
    wrong = client.post("/log-in", data={**given, "password": "no"}, headers={"Accept": "text/html"})
    assert wrong.status_code == 401
    assert "Name and password do not belong together" in wrong.text
    assert PASSWORD not in wrong.text
    going = client.post("/log-in", data=given)
    assert going.status_code == 303
    assert going.headers["location"] == "/more"
    assert "Log out" in client.get("/more").text


def test_the_session_cookie_is_kept_from_scripts_other_sites_and_plain_http() -> None:
    client = outside_client()
    client.get("/log-in")
    before = client.cookies["__Host-soakage"]
    answer = client.post(
        "/api/session", json={"name": "R. Amsel", "password": PASSWORD}, headers=header(client)
    )
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith("__Host-soakage=")
    for part in ("HttpOnly", "Secure", "SameSite=strict", "Path=/"):
        assert part.lower() in cookie.lower()
    assert "domain" not in cookie.lower()
    assert client.cookies["__Host-soakage"] != before  # a planted id is worth nothing after the log-in


def test_logging_out_ends_the_session_for_good() -> None:
    client = outside_client()
    assert log_in(client) == 200
    kept = client.cookies["__Host-soakage"]
    assert client.delete("/api/session", headers=header(client)).status_code == 204
    again = client.get("/metrics", headers={"Cookie": f"__Host-soakage={kept}"})
    assert again.status_code == 401


def test_the_form_logs_out() -> None:
    client = outside_client()
    log_in(client)
    csrf = header(client)["X-CSRF-Token"]
    assert client.post("/log-out", data={"csrf": csrf}).status_code == 303
    assert client.get("/metrics").status_code == 401


def test_guessing_is_slowed_down() -> None:
    client = outside_client()
    tries = [log_in(client, password=f"guess {i}") for i in range(7)]
    assert tries == [401] * 5 + [429] * 2
    assert log_in(client) == 429
    answer = client.post("/api/session", json={"name": "R. Amsel", "password": "x"}, headers=header(client))
    assert 0 < int(answer.headers["retry-after"]) <= 300
    # Many names from one place are slowed down as well.
    other = outside_client()
    assert [log_in(other, name=f"name {i}") for i in range(22)].count(429) == 2


@pytest.mark.parametrize(
    "to", ("//evil.example", "https://evil.example", "/\\evil.example", "javascript:1", "", "/a\r\nb", "/é")
)
def test_nobody_is_led_elsewhere_after_the_log_in(to: str) -> None:
    assert local(to) == "/"


def test_each_role_reaches_its_routes_and_no_others() -> None:
    app: FastAPI = outside(*((role.value, role) for role in Role))

    @app.get("/r")
    def reads(person: Reader) -> str:
        return person.name

    @app.get("/t")
    def tests(person: Tester) -> str:
        return person.name

    @app.get("/v")
    def reviews(person: Reviewer) -> str:
        return person.name

    @app.get("/a")
    def administers(person: Administrator) -> str:
        return person.name

    reached = {}
    for role in Role:
        client = TestClient(app, base_url=OUTSIDE)
        assert log_in(client, name=role.value) == 200
        reached[role.value] = [client.get(path).status_code for path in ("/r", "/t", "/v", "/a")]
    assert reached == {
        "read": [200, 403, 403, 403],
        "test": [200, 200, 403, 403],
        "review": [200, 200, 200, 403],
        "administer": [200, 200, 200, 200],
    }
