"""The Standards pages: the list and what narrows it, one entry, the rule set, and what another would change."""

from __future__ import annotations

import re
import time
from importlib.resources import files

import pytest
from fastapi.testclient import TestClient

from kept_rig import PAGE, Kept, words
from soakage.app.explain import explain
from soakage.standards.library import library
from soakage.web.standards_view import used_by
from soakage.wiring.house_rules import own_profile
from web_help import token

EDITION = "edition-2000.toml"


def edition() -> bytes:
    return (files("soakage.demo") / EDITION).read_bytes()


def rows(client: TestClient, query: str = "") -> list[str]:
    """Return the ids of the criteria a page shows."""
    text = client.get(f"/standards{query}", headers=PAGE).text
    return re.findall(r'<td><a href="/standards/([^"/]+)"', text)


def test_every_criterion_stands_on_the_page_once_with_source_and_how_it_is_known(client: TestClient) -> None:
    shown = rows(client)
    assert sorted(shown) == sorted(library().criteria)
    text = words(client.get("/standards", headers=PAGE).text)
    assert f"{len(shown)} of {len(shown)} criteria" in text
    for criterion in library().criteria.values():
        assert " ".join(criterion.source.replace("\u00a0", " ").split()) in text, criterion.id


@pytest.mark.parametrize("find", ("polarization", "IEEE", "60 s", "no such words"))
def test_a_text_narrows_the_list(client: TestClient, find: str) -> None:
    shown = rows(client, f"?find={find}")
    assert len(shown) < len(library().criteria)
    told = client.get("/api/standards", params={"find": find}).json()
    assert sorted(one["id"] for each in told["standards"] for one in each["criteria"]) == sorted(shown)
    if not shown:
        assert "No criterion is like this." in words(client.get(f"/standards?find={find}", headers=PAGE).text)


@pytest.mark.parametrize("asset_class", ("rotating-machine", "cable", "transformer"))
def test_a_class_leaves_out_what_never_holds_for_it(client: TestClient, asset_class: str) -> None:
    shown = set(rows(client, f"?asset_class={asset_class}"))
    assert shown
    for criterion in library().criteria.values():
        asked = [one for one in criterion.applies if one.key == "class"]
        fits = all(one.holds(asset_class) is not False for one in asked)
        assert (criterion.id in shown) == fits, criterion.id


def test_only_what_judges_is_shown_where_that_is_asked(client: TestClient) -> None:
    from soakage.standards.profile import profile

    judging = used_by(library(), profile()) & set(library().criteria)
    assert set(rows(client, "?used=true")) == judging
    told = client.get("/api/standards", params={"used": "true"}).json()
    assert all(one["used"] for each in told["standards"] for one in each["criteria"])


@pytest.mark.parametrize("name", sorted(library().criteria)[::7])
def test_an_entry_says_what_explain_says(client: TestClient, name: str) -> None:
    known = explain(name, library())
    text = words(client.get(f"/standards/{name}", headers=PAGE).text)
    for part in (known.title, known.definition, known.source, known.example):
        assert " ".join(str(part).replace("\u00a0", " ").split()) in text
    told = client.get(f"/api/standards/{name}").json()
    assert (told["title"], told["source"], told["verified"]) == (
        known.title,
        known.source,
        str(known.verified),
    )


@pytest.mark.parametrize("name", ("polarization_index", "ieee-43-2013.thermosetting", "timed-resistance"))
def test_other_ids_have_a_page_too(client: TestClient, name: str) -> None:
    try:
        known = explain(name, library())
    except Exception:  # noqa: BLE001 - an id that is none has no page either
        assert client.get(f"/standards/{name}", headers=PAGE).status_code == 404
        return
    assert known.title in words(client.get(f"/standards/{name}", headers=PAGE).text).replace("\u00a0", " ")


@pytest.mark.parametrize(
    "path", ("/standards/no-such-id", "/api/standards/no-such-id", "/standards/rules/trials/none")
)
def test_what_is_not_known_is_said(client: TestClient, path: str) -> None:
    assert client.get(path, headers=PAGE).status_code == 404


def test_a_class_that_is_none_is_refused_by_the_api(client: TestClient) -> None:
    answer = client.get("/api/standards", params={"class": "kettle"})
    assert answer.status_code == 400
    assert "kettle" in answer.json()["errors"][0]["problem"]


def test_the_rule_set_in_use_stands_on_its_page(client: TestClient) -> None:
    text = words(client.get("/standards/rules", headers=PAGE).text)
    from soakage.standards.profile import profile

    assert profile().title in text
    for use in profile().uses:
        assert " ".join(use.reason.split()) in text


def test_the_rule_set_the_store_is_set_to_is_told_apart_from_the_default(client: TestClient) -> None:
    own = own_profile(EDITION, edition())
    body = {"file": EDITION, "toml": edition().decode()}
    assert client.put("/api/settings/profile", json=body, headers=token(client)).status_code == 200
    text = words(client.get("/standards/rules", headers=PAGE).text)
    assert own.title in text
    assert "differs from the default" in text
    assert client.get("/api/standards").json()["profile"] == own.id


def trial(kept: Kept, content: bytes = b"", name: str = EDITION, site: str = "") -> str:
    """Try a rule set by the page, and return what the result says."""
    answer = kept.client.post(
        "/standards/rules/try", data={"csrf": kept.token, "site": site}, files={"file": (name, content or edition())},
        headers=PAGE, follow_redirects=False,
    )  # fmt: skip
    assert answer.status_code == 303, answer.text[:300]
    job = answer.headers["location"].partition("job=")[2]
    for _ in range(600):
        told = kept.client.get(f"/api/jobs/{job}").json()
        if told["state"] not in ("waiting", "running"):
            break
        time.sleep(0.1)
    assert told["state"] == "done", told
    return str(kept.client.get(told["then"], headers=PAGE).text)


def test_a_trial_says_which_verdicts_would_be_others_and_keeps_nothing(kept: Kept) -> None:
    before = {test: kept.api(test)["test"]["status"] for test in kept.ids.values()}
    text = trial(kept)
    head = re.search(r"(\d+) of (\d+) verdicts would be others", words(text))
    assert head is not None
    changed = re.findall(r'href="/tests/([0-9a-f]{32})"', text)
    assert int(head[1]) == len(changed)
    assert int(head[2]) == len(before)
    assert {test: kept.api(test)["test"]["status"] for test in kept.ids.values()} == before
    from soakage.app.rejudge import rejudge
    from soakage.app.rules import Rules
    from soakage.wiring.memory import memory

    hands = memory(str(kept.client.app.state.store.where.path), "T. Ester")  # type: ignore[attr-defined]
    with hands.store:
        rules = Rules(own_profile(EDITION, edition()), library())
        told = list(rejudge(hands, [list(hands.tests(ids=list(before)))], rules, keep=False))
    assert sorted(changed) == sorted(one.test for one in told if one.after.status != before[one.test])


@pytest.mark.parametrize("content", (b"not toml [", b"", b"x = 1", b"#" * 300_000))
def test_a_rule_set_that_is_none_is_refused(kept: Kept, content: bytes) -> None:
    answer = kept.client.post(
        "/standards/rules/try", data={"csrf": kept.token}, files={"file": ("a.toml", content)}, headers=PAGE
    )
    assert answer.status_code in (400, 422)
