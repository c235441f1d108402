"""What is refused before a page is asked: other hosts, other sites, changes without a token, large bodies."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from soakage.web.server import create_app
from soakage.web.settings import Settings
from web_help import OUTSIDE, outside, outside_client, token

HERE = "http://127.0.0.1:8650"
LOGGED = {"name": "R. Amsel", "password": "no"}


def problem(answer: object) -> str:
    errors = answer.json()["errors"]  # type: ignore[attr-defined]
    return str(errors[0]["problem"])


@pytest.mark.parametrize("host", ("127.0.0.1:8650", "localhost:8650", "[::1]:8650", "localhost"))
def test_names_of_this_machine_are_served(client: TestClient, host: str) -> None:
    assert client.get("/health", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    (
        "evil.example",
        "evil.example:8650",
        "127.0.0.1.evil.example",
        "localhost.evil.example",
        "",
        "[::1",
        "10.0.0.5",
    ),
)
def test_a_page_elsewhere_cannot_take_our_address_for_its_name(client: TestClient, host: str) -> None:
    answer = client.get("/", headers={"Host": host})
    assert answer.status_code == 421
    assert "not reached by that name" in problem(answer)


def test_outside_only_the_given_names_are_served() -> None:
    app = outside()
    assert TestClient(app, base_url=OUTSIDE).get("/health").status_code == 200
    for other in ("https://evil.example", "https://127.0.0.1"):
        assert TestClient(app, base_url=other).get("/health").status_code == 421


@pytest.mark.parametrize("method", ("POST", "PUT", "PATCH", "DELETE"))
@pytest.mark.parametrize(
    "origin",
    (
        "https://evil.example",
        "null",
        "http://127.0.0.1:9999",
        "https://127.0.0.1:8650",
        "http://localhost:8650",
    ),
)
def test_a_change_from_another_origin_is_refused(client: TestClient, method: str, origin: str) -> None:
    answer = client.request(method, "/api/session", headers={**token(client), "Origin": origin})
    assert answer.status_code == 403
    assert "another site" in problem(answer)


@pytest.mark.parametrize("site", ("cross-site", "same-site", "none"))
def test_a_change_the_browser_says_comes_from_elsewhere_is_refused(client: TestClient, site: str) -> None:
    answer = client.post("/api/session", json=LOGGED, headers={**token(client), "Sec-Fetch-Site": site})
    assert answer.status_code == 403


def test_a_change_from_our_own_page_goes_on(client: TestClient) -> None:
    headers = {**token(client), "Origin": HERE, "Sec-Fetch-Site": "same-origin"}
    answer = client.post("/api/session", json=LOGGED, headers=headers)
    assert answer.status_code == 401
    assert "do not belong together" in problem(answer)


def test_another_site_cannot_read_or_frame_but_can_link(client: TestClient) -> None:
    # Fetch metadata, W3C: https://www.w3.org/TR/fetch-metadata/ (from memory).
    read = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "cors", "Sec-Fetch-Dest": "empty"}
    framed = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "iframe"}
    linked = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}
    assert client.get("/api/session", headers=read).status_code == 403
    assert client.get("/", headers=framed).status_code == 403
    assert client.get("/", headers=linked).status_code == 200


def test_a_change_needs_the_token_of_its_own_session(client: TestClient, web_settings: Settings) -> None:
    mine = token(client)
    assert client.post("/api/session", json=LOGGED).status_code == 403
    assert client.post("/api/session", json=LOGGED, headers={"X-CSRF-Token": "0" * 64}).status_code == 403
    with TestClient(create_app(web_settings), base_url=HERE) as other:
        theirs = token(other)
    assert client.post("/api/session", json=LOGGED, headers=theirs).status_code == 403
    assert client.post("/api/session", json=LOGGED, headers=mine).status_code == 401
    client.cookies.clear()
    assert client.post("/api/session", json=LOGGED, headers=mine).status_code == 403


def test_a_token_of_another_start_is_no_longer_good_and_says_what_to_do(client: TestClient) -> None:
    old = token(client)
    cookie = client.cookies.get("soakage-8650")
    with TestClient(create_app(Settings(port=8650)), base_url=HERE) as anew:
        answer = anew.post("/api/session", json=LOGGED, headers={**old, "Cookie": f"soakage-8650={cookie}"})
    assert answer.status_code == 403
    assert "Load it again" in problem(answer)


def test_a_form_carries_the_token_in_a_field(client: TestClient) -> None:
    given = {**LOGGED, "csrf": token(client)["X-CSRF-Token"]}
    assert client.post("/log-in", data=given).status_code == 401
    assert client.post("/log-in", data={**given, "csrf": "x"}).status_code == 403
    assert client.post("/log-in", data=LOGGED).status_code == 403
    assert client.post("/log-in", files={"csrf": ("csrf", b"x")}).status_code == 403


def test_a_body_has_a_limit(web_settings: Settings) -> None:
    from dataclasses import replace

    small = replace(web_settings, body_limit=1000, upload_limit=5000)
    with TestClient(create_app(small), base_url=HERE) as client:
        headers = token(client)
        fits = client.post("/api/session", json={**LOGGED, "password": "x" * 900}, headers=headers)
        over = client.post("/api/session", json={**LOGGED, "password": "x" * 1001}, headers=headers)
        file = client.post("/api/session", files={"file": b"x" * 4000}, headers=headers)
        large = client.post("/api/session", files={"file": b"x" * 5001}, headers=headers)
    assert [answer.status_code for answer in (fits, over, file, large)] == [401, 413, 422, 413]
    assert "Allowed: 1000" in problem(over)


def test_a_body_of_unknown_length_is_not_read(client: TestClient) -> None:
    answer = client.post("/api/session", content=iter([b"{", b"}"]), headers=token(client))
    assert answer.status_code == 411


@pytest.mark.parametrize(("length", "status"), (("-1", 400), ("1e3", 400), ("9" * 30, 413), ("²", 400)))
def test_a_length_that_is_none_is_refused(client: TestClient, length: str, status: int) -> None:
    headers = [(b"content-length", length.encode("utf-8")), (b"host", b"127.0.0.1:8650")]
    answer = client.request("GET", "/", headers=headers)
    assert answer.status_code == status


@pytest.mark.parametrize("path", ("/", "/none", "/health", "/api/session", "/pieces", "/openapi.json"))
def test_every_answer_has_its_headers(client: TestClient, path: str) -> None:
    answer = client.get(path, headers={"Accept": "text/html"})
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self';" in policy
    assert "style-src 'self';" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] == "same-origin"
    assert answer.headers["cache-control"] == "no-store"
    assert "access-control-allow-origin" not in answer.headers
    assert "server" not in answer.headers


def test_a_refusal_has_them_too(client: TestClient) -> None:
    answer = client.get("/", headers={"Host": "evil.example"})
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "frame-ancestors 'none'" in answer.headers["content-security-policy"]


def test_transport_security_is_asked_for_where_there_is_tls(client: TestClient) -> None:
    assert "strict-transport-security" not in client.get("/health").headers
    assert "max-age" in outside_client().get("/health").headers["strict-transport-security"]


def test_no_page_has_a_script_or_style_of_its_own(client: TestClient) -> None:
    import re

    for path in ("/", "/pieces", "/log-in", "/more", "/none"):
        text = client.get(path, headers={"Accept": "text/html"}).text
        scripts = re.findall(r"<script(.*?)>(.*?)</script>", text, re.DOTALL)
        assert all("src=" in attributes and not body.strip() for attributes, body in scripts)
        assert not re.search(r"<style|\sstyle=|\son\w+=|javascript:", text)
        assert not re.search(r"""(?:src|href|action|srcset)=["'](?:https?:)?//""", text)
