"""What can be done with a test on its page: sign, revise, withdraw, judge again, note, attach; and who may."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from kept_rig import PAGE, Kept, copied, faults, ids_in, words
from soakage.web.accounts import Role
from web_help import log_in, outside_client, token

U, W = "drain-pump-3-u.csv", "drain-pump-3-w.csv"
PNG = b"\x89PNG\r\n\x1a\n" + b"\0" * 40


# ------------------------------------------------------------------------------------------ sign


def test_the_button_says_what_is_signed_and_what_a_name_is_worth(kept: Kept) -> None:
    text = kept.page(U)
    assert ">Sign as investigate</button>" in text
    assert ">Review as investigate</button>" in text
    said = words(text)
    assert "The name is stated, not authenticated, and this is no electronic signature in law." in said
    assert "A status is no leave to energise" in said


def test_a_review_then_a_sign_off_stand_on_the_page_with_who_and_when(kept: Kept) -> None:
    answer = kept.post(U, "sign", action="reviewed", text="Looked at the curve.")
    assert (answer.status_code, answer.headers["location"]) == (
        303,
        f"/tests/{kept.ids[U]}?done=reviewed#sign",
    )
    answer = kept.post(U, "sign", action="signed")
    assert answer.headers["location"].endswith("?done=signed#sign")
    text = words(kept.page(U, "?done=signed"))
    assert "Signed. Investigate." in text
    assert "investigate Reviewed by R. Amsel, " in text
    assert "Looked at the curve." in text
    assert "Signed by R. Amsel, " in text
    assert "Signed. Only a revision changes it now." in text
    assert "Sign as investigate" not in text


SIGN_REFUSED = [
    (
        {"action": "signed", "status": "sound", "form": "another"},
        422,
        "The tool found investigate, you give sound.",
    ),
    ({"action": "signed", "status": "fine", "text": "why"}, 422, "That is no status."),
    ({"action": "signed", "content": "0" * 64}, 409, "This test was revised meanwhile."),
    ({"action": "signed", "status": "sound", "text": "x" * 4001}, 422, "is too long"),
]


@pytest.mark.parametrize(("sent", "status", "said"), SIGN_REFUSED, ids=lambda value: str(value)[:30])
def test_what_cannot_be_signed_is_told_on_the_page(
    kept: Kept, sent: dict[str, str], status: int, said: str
) -> None:
    answer = kept.post(U, "sign", **sent)
    assert answer.status_code == status
    (problem,) = faults(answer.text)
    assert said in problem
    assert kept.api(U)["reviews"] == []


def test_another_verdict_needs_its_why_and_keeps_what_the_tool_found(kept: Kept) -> None:
    refused = kept.post(U, "sign", action="signed", status="watch", form="another", text="  ")
    assert '<details class="more" open>' in refused.text  # the form that was sent is open
    assert re.search(r"<option selected>watch</option>", refused.text)
    done = kept.post(
        U, "sign", action="signed", status="watch", form="another", text="Leads were changed round."
    )
    assert done.status_code == 303
    assert "the tool found investigate" in words(kept.page(U))
    (review,) = kept.api(U)["reviews"]
    assert (review["status"], review["tool_status"], review["text"]) == (
        "watch", "investigate", "Leads were changed round.",
    )  # fmt: skip
    # the verdict on the page is still the tool's
    assert kept.api(U)["test"]["status"] == "investigate"


def test_signed_is_signed(kept: Kept) -> None:
    assert kept.post(U, "sign", action="signed").status_code == 303
    again = kept.post(U, "sign", action="signed")
    assert again.status_code == 409
    assert faults(again.text) == ["Signed already. Only a revision changes it now."]
    assert len(kept.api(U)["reviews"]) == 1


# ------------------------------------------------------------------------------------------ revise


def test_a_revision_needs_a_reason_and_keeps_what_was_typed(kept: Kept) -> None:
    form = kept.form(U) | {"key-winding_temperature": "31 degC"}
    refused = kept.post(U, "revise", **form)
    assert refused.status_code == 422
    assert faults(refused.text) == [
        "reason: The reason for the revision is missing. Write it in a few words."
    ]
    assert 'name="key-winding_temperature" value="31 degC"' in refused.text
    assert len(kept.api(U)["revisions"]) == 1


def test_a_revision_is_judged_and_the_record_before_stays(kept: Kept) -> None:
    before = kept.api(U)
    form = kept.form(U) | {"key-winding_temperature": "31 degC", "reason": "Misread by ten."}
    answer = kept.post(U, "revise", **form)
    assert answer.headers["location"] == f"/tests/{kept.ids[U]}?done=revised"
    after = kept.api(U)
    assert after["record"]["stated"]["winding_temperature"] == pytest.approx(304.15)
    assert [one["reason"] for one in after["revisions"]] == ["", "Misread by ten."]
    assert after["revisions"][1]["person"] == "R. Amsel"
    assert len(after["verdicts"]) == len(before["verdicts"]) + 1
    assert [one["stands"] for one in after["verdicts"]] == [False, True]
    text = words(kept.page(U))
    assert "2 Misread by ten. R. Amsel" in text
    assert "1 As received." in text
    assert "does not stand any more" in text


def test_cells_are_corrected_added_and_left_out(kept: Kept) -> None:
    form = kept.form(U)
    rows = sorted({int(name.split("-")[1]) for name in form if name.startswith("cell-")})
    columns = sorted({int(name.split("-")[2]) for name in form if name.startswith("cell-")})
    count = len(kept.api(U)["record"]["readings"]["time"])
    assert len(rows) == count + 2  # two that are empty
    changed = form | {f"cell-1-{column}": "" for column in columns}  # the second reading is left out
    changed |= {f"cell-{count}-0": "660", f"cell-{count}-1": form[f"cell-{count - 1}-1"]}
    changed |= {f"cell-{count}-{column}": form[f"cell-{count - 1}-{column}"] for column in columns[2:]}
    assert kept.post(U, "revise", **changed, reason="A line of the sheet was skipped.").status_code == 303
    times = kept.api(U)["record"]["readings"]["time"]
    assert len(times) == count
    assert times[-1] == 660
    old = float(form["cell-1-0"])
    assert old not in times


def test_a_key_is_added_and_one_taken_away(kept: Kept) -> None:
    form = kept.form(U) | {
        "key-surface": "",
        "add-key": "work_order",
        "add-value": "WO 7",
        "reason": "Papers.",
    }
    assert kept.post(U, "revise", **form).status_code == 303
    stated = kept.api(U)["record"]["stated"]
    assert "surface" not in stated
    assert stated["work_order"] == "WO 7"


REVISE_REFUSED: list[tuple[dict[str, str], int, str]] = [
    ({}, 422, "Nothing differs from what is there."),
    ({"key-winding_temperature": "31 kg"}, 422, "winding_temperature: Unit kg not known."),
    ({"key-started": "2026-13-01"}, 422, "There is no such date"),
    ({"key-method": "voodoo"}, 422, "method"),
    ({"key-method": ""}, 400, "no record is without it"),
    ({"cell-0-0": "soon"}, 422, "soon"),
    ({"add-key": "no_such_key", "add-value": "1"}, 422, "No key has this name."),
    ({"content": "0" * 64, "key-tag": "X"}, 409, "revised meanwhile"),
]


@pytest.mark.parametrize(("changed", "status", "said"), REVISE_REFUSED, ids=lambda value: str(value)[:40])
def test_a_revision_that_cannot_be_read_says_what_is_wrong(
    kept: Kept, changed: dict[str, str], status: int, said: str
) -> None:
    answer = kept.post(U, "revise", **(kept.form(U) | {"reason": "try"} | changed))
    assert answer.status_code == status, faults(answer.text)
    assert any(said in problem for problem in faults(answer.text)), faults(answer.text)
    assert len(kept.api(U)["revisions"]) == 1


def test_a_wrong_field_says_so_itself(kept: Kept) -> None:
    answer = kept.post(U, "revise", **(kept.form(U) | {"reason": "try", "key-rated_voltage": "6,6 kW"}))
    field = re.search(r'<input id="key-rated_voltage"[^>]*>', answer.text)
    assert field is not None
    assert 'aria-invalid="true"' in field[0]


def test_a_corrected_file_takes_the_place_of_the_record_and_is_kept(kept: Kept) -> None:
    original = kept.client.get(f"/tests/{kept.ids[U]}/file").content
    corrected = original.replace(b"\n5,", b"\n6,", 1)
    assert corrected != original
    form = {"reason": "The first mark was read late."}
    answer = kept.post(U, "revise", files={"file": ("late.csv", corrected, "text/csv")}, **form)
    assert answer.status_code == 303, faults(answer.text)
    page = kept.api(U)
    assert page["record"]["readings"]["time"][0] == 6
    assert page["origin"]["file"] == "late.csv"
    assert kept.client.get(f"/tests/{kept.ids[U]}/file").content == corrected


def test_a_signed_test_is_revised_into_a_draft(kept: Kept) -> None:
    kept.post(U, "sign", action="signed")
    assert "This revision is signed. The one you make is a draft" in words(kept.page(U, "/revise"))
    form = kept.form(U) | {"key-winding_temperature": "31 degC", "reason": "Misread."}
    assert kept.post(U, "revise", **form).status_code == 303
    text = words(kept.page(U))
    assert "an earlier revision" in text
    assert "Sign as investigate" in text


# ------------------------------------------------------------------------------------------ withdraw


def test_a_test_is_withdrawn_and_taken_back(kept: Kept) -> None:
    assert (
        kept.post(W, "withdraw", reason="Wrong terminals.")
        .headers["location"]
        .endswith("?done=withdrawn#history")
    )
    text = words(kept.page(W))
    assert "Withdrawn: kept, and counted nowhere. Wrong terminals. (R. Amsel, " in text
    assert "Nothing to sign: the test is withdrawn." in text
    assert "Report, PDF" not in text
    # its sisters were judged again without it: U and V are alike
    sister = kept.api(U)
    assert sister["test"]["status"] == "sound"
    assert kept.ids[W] not in kept.page(U)
    assert kept.post(W, "withdraw", reason="They were right.", back="yes").status_code == 303
    text = words(kept.page(W))
    assert "kept, and counted nowhere" not in text
    assert "Withdrawn: Wrong terminals." in text
    assert "Taken back: They were right." in text
    assert kept.api(U)["test"]["status"] == "investigate"


def test_a_withdrawal_of_a_signed_test_shows_its_reason_too(kept: Kept) -> None:
    kept.post(W, "sign", action="signed")
    kept.post(W, "withdraw", reason="Signed too early.")
    assert "counted nowhere. Signed too early." in words(kept.page(W))


WITHDRAW_REFUSED = [
    ({"reason": " "}, 422, "The reason is missing."),
    ({"reason": "x", "back": "yes"}, 409, "This test is not withdrawn. Nothing was changed."),
    ({"reason": "x", "content": "f" * 64}, 409, "revised meanwhile"),
]


@pytest.mark.parametrize(("sent", "status", "said"), WITHDRAW_REFUSED, ids=lambda value: str(value)[:30])
def test_what_cannot_be_withdrawn(kept: Kept, sent: dict[str, str], status: int, said: str) -> None:
    answer = kept.post(W, "withdraw", **sent)
    assert answer.status_code == status
    assert said in faults(answer.text)[0]
    assert kept.api(W)["test"]["state"] == "current"


def test_a_withdrawn_test_is_neither_reported_nor_judged(kept: Kept) -> None:
    kept.post(W, "withdraw", reason="Wrong terminals.")
    for more in ("/report.pdf", "/again"):
        assert "withdrawn" in words(kept.page(W, more, status=409))
    assert kept.post(W, "again").status_code == 409
    twice = kept.post(W, "withdraw", reason="again")
    assert faults(twice.text) == ["This test is withdrawn already. Nothing was changed."]


# ------------------------------------------------------------------------------------------ judge again


def test_judging_again_keeps_what_is_news_and_then_changes_nothing(kept: Kept) -> None:
    """The register has learnt from the other records by now; the verdict is the same and says one thing more."""
    first = words(kept.page(U, "/again"))
    assert "The verdict stays investigate; parts of it change. By the profile “Default rule set”" in first
    assert "Finding new: from_register." in first
    assert len(kept.api(U)["verdicts"]) == 1  # a trial keeps nothing
    assert kept.post(U, "again", reason="The register.").headers["location"].endswith("?done=judged#history")
    assert [one["reason"] for one in kept.api(U)["verdicts"]] == ["", "The register."]
    again = words(kept.page(U, "/again"))
    assert "Nothing would change." in again
    assert again.count("No difference.") == 3  # the whole visit
    assert kept.post(U, "again").headers["location"].endswith("?done=same#history")
    assert len(kept.api(U)["verdicts"]) == 2


@pytest.fixture
def works_rules(kept: Kept, tmp_path: Path) -> Kept:
    """Have the works' own rules judge the motor again: the edition of 2000, from a profile file."""
    from soakage.app.rejudge import rejudge
    from soakage.demo.history import edition_profile
    from soakage.wiring import rules
    from soakage.wiring.memory import memory

    profile = tmp_path / "works.toml"
    profile.write_text(edition_profile(), encoding="utf-8")
    hands = memory(str(kept.client.app.state.house.settings.store), "R. Amsel")  # type: ignore[attr-defined]
    with hands.store:
        tests = hands.tests(ids=[kept.ids[W]])
        list(rejudge(hands, [tests], rules(str(profile)), reason="The works' own rules."))
    return kept


def test_verdicts_by_other_rules_both_stay_each_with_what_gave_it(works_rules: Kept) -> None:
    given = works_rules.api(W)["verdicts"]
    assert [one["profile"] for one in given] == ["default", "edition-2000"]
    assert [one["stands"] for one in given] == [False, True]
    shown = words(works_rules.page(W))
    assert f"Profile edition-2000 ({given[1]['profile_sha256'][:12]})" in shown
    assert f"Profile default ({given[0]['profile_sha256'][:12]})" in shown
    assert "The works' own rules." in shown
    assert "IEEE Std 43-2000" in shown  # the criteria on the page are those of the verdict that stands
    assert "by the profile “edition-2000”" in shown


def test_judging_again_says_in_words_what_changes(works_rules: Kept) -> None:
    text = words(works_rules.page(W, "/again"))
    assert "ieee-43-2000.minimum-resistance" in text
    assert "Now applied: ieee-43-2013.minimum-resistance" in text


def test_a_report_never_says_something_else_than_the_page(works_rules: Kept) -> None:
    """Rules that are not at hand gave the verdict: a report by others would contradict it."""
    text = words(works_rules.page(W, "/report.html", status=409))
    assert "the result is another one. Judge it again on its page, then report." in text
    works_rules.post(W, "again", reason="By the edition of 2013.")
    assert works_rules.client.get(f"/tests/{works_rules.ids[W]}/report.html").status_code == 200


def test_a_chart_has_the_limits_of_the_verdict_whatever_judges_now(works_rules: Kept) -> None:
    shown = next(p for p in works_rules.api(W, "/charts")["charts"] if p["kind"] == "resistance")
    stood = works_rules.api(W)["result"]["judgements"]
    asked = [j["limit"]["text"] for j in stood if j["limit"] and j["limit"]["unit"] == "ohm"]
    assert shown["limits"][0]["text"].partition(" = ")[0] in {text.partition(" (")[0] for text in asked}


@pytest.mark.parametrize("profile", ("nonsense", "../default", "/etc/passwd", "default.toml"))
def test_a_profile_is_never_opened_as_a_file(kept: Kept, profile: str) -> None:
    assert "No profile is called so." in words(kept.page(U, f"/again?profile={profile}", status=422))


# ------------------------------------------------------------------------------------------ notes, files


def test_a_note_is_added_and_stands_with_who_and_when(kept: Kept) -> None:
    assert (
        kept.post(U, "note", text=" Leads were wet. <b>look</b> ")
        .headers["location"]
        .endswith("done=noted#notes")
    )
    text = kept.page(U, "?done=noted")
    assert "Leads were wet. &lt;b&gt;look&lt;/b&gt;" in text
    assert "The note was added." in text
    empty = kept.post(U, "note", text="  ")
    assert (empty.status_code, faults(empty.text)) == (
        422,
        ["text: The note is missing. Write it in a few words."],
    )


ATTACHED: list[tuple[str, bytes, str, str, str]] = [
    ("photo.png", PNG, "image/png", "image/png", "inline"),
    ("photo.jpg", b"\xff\xd8\xff\xe0" + b"\0" * 20, "image/jpeg", "image/jpeg", "inline"),
    ("photo.webp", b"RIFF\0\0\0\0WEBPVP8 ", "image/webp", "image/webp", "inline"),
    # a page or a drawing with scripts in it is only ever saved, whatever it calls itself
    ("page.png", b"<html><script>alert(1)</script>", "image/png", "application/octet-stream", "attachment"),
    ("drawing.svg", b"<svg onload='alert(1)'/>", "image/svg+xml", "application/octet-stream", "attachment"),
    ("certificate.pdf", b"%PDF-1.7", "application/pdf", "application/octet-stream", "attachment"),
]


@pytest.mark.parametrize(
    ("name", "content", "stated", "served", "how"), ATTACHED, ids=[row[0] for row in ATTACHED]
)
def test_attachments_are_kept_exactly_and_can_run_nothing(
    kept: Kept, name: str, content: bytes, stated: str, served: str, how: str
) -> None:
    assert kept.post(U, "attach", files={"file": (name, content, stated)}).status_code == 303
    (one,) = kept.api(U)["attachments"]
    assert (one["name"], one["size"]) == (name, len(content))
    answer = kept.client.get(f"/tests/{kept.ids[U]}/attachments/{one['sha256']}")
    assert answer.content == content
    assert answer.headers["content-type"] == served
    assert answer.headers["content-disposition"].startswith(f"{how}; ")
    assert answer.headers["content-security-policy"] == "default-src 'none'; sandbox"
    assert answer.headers["x-content-type-options"] == "nosniff"
    text = kept.page(U)
    assert (f'<img src="/tests/{kept.ids[U]}/attachments/{one["sha256"]}"' in text) == stated.startswith(
        ("image/png", "image/jpeg", "image/webp")
    )


@pytest.mark.parametrize(
    ("given", "kept_as"),
    (
        ("../../a.txt", "a.txt"),
        ("C:\\photos\\b.jpg", "b.jpg"),
        ("ü ß.txt", "ü ß.txt"),
        ("x" * 300, "x" * 200),
    ),
)
def test_the_name_of_an_attachment_is_only_a_name(kept: Kept, given: str, kept_as: str) -> None:
    assert kept.post(U, "attach", files={"file": (given, b"x", "text/plain")}).status_code == 303
    (one,) = kept.api(U)["attachments"]
    assert one["name"] == kept_as
    said = kept.client.get(f"/tests/{kept.ids[U]}/attachments/{one['sha256']}").headers["content-disposition"]
    assert said.isascii()
    assert "\n" not in said
    assert "/" not in said.partition(";")[2].partition(";")[0]


def test_an_empty_file_is_refused(kept: Kept) -> None:
    answer = kept.post(U, "attach", files={"file": ("a.txt", b"", "text/plain")})
    assert answer.status_code == 400
    assert "the file is empty" in faults(answer.text)[0]


def test_the_original_is_given_back_byte_for_byte(kept: Kept, scenario: Path) -> None:
    answer = kept.client.get(f"/tests/{kept.ids[U]}/file")
    assert answer.content == (scenario.parent / U).read_bytes()
    assert answer.headers["content-disposition"].startswith('attachment; filename="drain-pump-3-u.csv"')
    assert answer.headers["content-type"] == "application/octet-stream"


# ------------------------------------------------------------------------------------------ reports

REPORTS: list[tuple[str, bytes, str]] = [
    ("pdf", b"%PDF-", "application/pdf"),
    ("html", b"<!doctype html>", "text/html; charset=utf-8"),
    ("xlsx", b"PK", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
]


@pytest.mark.parametrize(("ending", "start", "media"), REPORTS, ids=[row[0] for row in REPORTS])
def test_the_report_is_of_this_test(kept: Kept, ending: str, start: bytes, media: str) -> None:
    answer = kept.client.get(f"/tests/{kept.ids[W]}/report.{ending}")
    assert answer.status_code == 200
    assert answer.content[: len(start)].lower() == start.lower()
    assert answer.headers["content-type"] == media
    assert re.search(
        r'filename="Drain-pump-3-motor-phase-W-[0-9-]+\.' + ending, answer.headers["content-disposition"]
    )


def test_the_report_of_the_visit_has_its_sisters(kept: Kept) -> None:
    own = words(kept.client.get(f"/tests/{kept.ids[W]}/report.html").text)
    whole = words(kept.client.get(f"/tests/{kept.ids[W]}/report.html?visit=true").text)
    assert "phase W" in own
    assert len(whole) > len(own)
    assert all(section in whole for section in ("phase U", "phase V", "phase W"))


@pytest.mark.parametrize("more", ("/report.docx", "/report.pdf?paper=a3", "/report.exe"))
def test_there_are_no_other_reports(kept: Kept, more: str) -> None:
    kept.page(W, more, status=422)


# ------------------------------------------------------------------------------------------ who may

FORMS = ("sign", "withdraw", "note", "attach", "revise", "again")


@pytest.mark.parametrize("form", FORMS)
def test_a_change_without_the_token_of_the_page_is_refused(kept: Kept, form: str) -> None:
    for sent in ({}, {"csrf": "0" * 64}):
        answer = kept.client.post(
            f"/tests/{kept.ids[U]}/{form}",
            data=sent | {"reason": "x", "text": "x"},
            headers=PAGE,
            follow_redirects=False,
        )
        assert answer.status_code == 403
    assert kept.api(U)["notes"] == []
    assert kept.api(U)["test"]["state"] == "current"


@pytest.fixture
def others(scenario: Path, tmp_path: Path) -> Callable[[Role], TestClient]:
    """Return a way to log in to a server for others, the scenario in its store."""
    store = copied(scenario, tmp_path / "others.sqlite")

    def as_role(role: Role) -> TestClient:
        client = outside_client(("T. Ester", role), store=str(store))
        assert log_in(client, "T. Ester") == 200
        return client

    return as_role


# the role that each form needs: reading changes nothing, signing is for reviewers
NEEDS = [
    ("note", Role.TEST),
    ("withdraw", Role.TEST),
    ("revise", Role.TEST),
    ("again", Role.TEST),
    ("sign", Role.REVIEW),
]


@pytest.mark.parametrize("role", Role)
@pytest.mark.parametrize(("form", "needed"), NEEDS, ids=[row[0] for row in NEEDS])
def test_each_form_needs_its_role(
    others: Callable[[Role], TestClient], tmp_path: Path, role: Role, form: str, needed: Role
) -> None:
    client = others(role)
    test = ids_in(tmp_path / "others.sqlite")[U]
    answer = client.post(
        f"/tests/{test}/{form}",
        data={"csrf": token(client)["X-CSRF-Token"], "reason": "x", "text": "x"},
        headers=PAGE,
    )
    if role.may(needed):
        assert answer.status_code in (303, 422)  # done, or told what is missing
    else:
        assert answer.status_code == 403
        assert f"This needs the role {needed}" in words(answer.text)


@pytest.mark.parametrize("role", Role)
def test_the_page_offers_what_the_reader_may_do(
    others: Callable[[Role], TestClient], tmp_path: Path, role: Role
) -> None:
    client = others(role)
    test = ids_in(tmp_path / "others.sqlite")[U]
    text = client.get(f"/tests/{test}", headers=PAGE).text
    assert ("Withdraw this test" in text) == role.may(Role.TEST)
    assert ("Revise this test" in text) == role.may(Role.TEST)
    assert ("Sign as investigate" in text) == role.may(Role.REVIEW)
    assert ("you need the role review" in text) != role.may(Role.REVIEW)
    assert "The name is that of the account logged in; this is no electronic signature in law." in words(text)


def test_nobody_who_has_not_logged_in_sees_a_test(scenario: Path, tmp_path: Path) -> None:
    store = copied(scenario, tmp_path / "closed.sqlite")
    client = outside_client(("T. Ester", Role.READ), store=str(store))
    test = ids_in(store)[U]
    for more in ("", "/file", "/report.pdf", "/why/polarization_index", "/charts/current.svg"):
        answer = client.get(f"/tests/{test}{more}", headers=PAGE)
        assert answer.status_code == 303
        assert answer.headers["location"].startswith("/log-in")
    assert client.get(f"/api/tests/{test}").status_code == 401
