"""A test through the API: the same vocabulary as the page and the commands, strict bodies, every refusal a fault."""

from __future__ import annotations

import json
from typing import Any

import pytest

from kept_rig import OVER_RANGE, Kept

U, V, W = "drain-pump-3-u.csv", "drain-pump-3-v.csv", "drain-pump-3-w.csv"
STEPS = "generator-2-steps.csv"


def test_a_test_is_what_the_command_show_prints(kept: Kept) -> None:
    from soakage.wiring.memory import memory
    from soakage.wiring.showing import shown

    hands = memory(str(kept.client.app.state.house.settings.store), "R. Amsel")  # type: ignore[attr-defined]
    with hands.store:
        told = shown(hands, kept.ids[U])
    assert kept.api(U) == json.loads(json.dumps(told))


KINDS = [
    (U, ["resistance", "current"]), (STEPS, ["steps", "step-conductance"]), ("generator-2-ramp.csv", ["ramp"]),
    ("transformer-1-hv.csv", ["network"]), ("workshop-panel.csv:26", []), (OVER_RANGE, ["resistance"]),
]  # fmt: skip


@pytest.mark.parametrize(("name", "kinds"), KINDS, ids=[row[0] for row in KINDS])
def test_charts_are_plots_in_si(kept: Kept, name: str, kinds: list[str]) -> None:
    found = kept.api(name, "/charts")
    assert found["test"] == kept.ids[name]
    assert [plot["kind"] for plot in found["charts"]] == kinds
    for plot in found["charts"]:
        assert plot["alt"]


def test_a_measured_line_holds_the_readings_themselves(kept: Kept) -> None:
    readings = kept.api(U)["record"]["readings"]
    current = next(plot for plot in kept.api(U, "/charts")["charts"] if plot["kind"] == "current")
    (line,) = [line["points"] for line in current["lines"] if line["role"] == "measured"]
    assert [point[0] for point in line] == readings["time"]
    assert [point[1] for point in line] == pytest.approx(readings["current"])


WHY = [
    (W, "polarization_index", "1.19", "PI = R(600 s) / R(60 s)"),
    (W, "insulation_resistance_60s_corrected", "MΩ", "K R, K = "),
    (W, "earthing_time", "40", "t_e = 4 t"),
    (OVER_RANGE, "insulation_resistance_60s", ">", ""),
    (STEPS, "excess_current_share", "68.3", ""),
]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "quantity", "shown", "formula"), WHY, ids=[f"{row[0]}-{row[1]}" for row in WHY]
)
def test_why_has_what_the_page_says(kept: Kept, name: str, quantity: str, shown: str, formula: str) -> None:
    told = kept.api(name, f"/why/{quantity}")
    assert told["id"] == quantity
    assert shown in told["shown"]
    assert formula in told["formula"]
    assert {"inputs", "source", "verified", "budget", "criteria", "definition", "bound"} <= told.keys()


def test_the_shares_of_a_budget_add_up_to_one(kept: Kept) -> None:
    budget = kept.api(W, "/why/polarization_index")["budget"]
    assert sum(part["part"] for part in budget) == pytest.approx(1.0, abs=1e-6)


def test_beside_gives_sisters_and_earlier_tests_in_si(kept: Kept) -> None:
    found = kept.api(U, "/beside")
    assert [(one["kind"], one["name"], one["chosen"]) for one in found["choices"]] == [
        ("sister", "phase V", True), ("sister", "phase W", True),
    ]  # fmt: skip
    resistance = next(row for row in found["quantities"] if row["id"] == "insulation_resistance_60s")
    assert resistance["own"] == pytest.approx(
        kept.api(U)["result"]["quantities"]["insulation_resistance_60s"]["value"]
    )
    assert resistance["beside"][kept.ids[W]] == pytest.approx(
        kept.api(W)["result"]["quantities"]["insulation_resistance_60s"]["value"]
    )
    assert found["chart"]["title"] == "Resistance against time, with phase V, phase W"
    one = kept.api(U, f"/beside?beside={kept.ids[V]}")
    assert [choice["chosen"] for choice in one["choices"]] == [True, False]


def test_a_whole_story_through_the_api(kept: Kept) -> None:
    """Note, revise, review, sign under another status, withdraw and take back: each in the shape of its command."""
    note = kept.api(U, "/notes", {"text": "Leads new."}, status=201)
    assert (note["action"], note["subject"], note["fields"]) == ("noted", kept.ids[U], {"text": "Leads new."})
    body = {"reason": "Misread.", "values": {"winding_temperature": "31 degC"}, "clear": ["surface"]}
    revised = kept.api(U, "/revisions", body, status=201)
    assert {change["field"] for change in revised["changed"]} == {"surface", "winding_temperature"}
    assert revised["reason"] == "Misread."
    signed = kept.api(U, "/signatures", {"action": "reviewed"}, status=201)
    assert signed["person"] == "R. Amsel"
    assert "no electronic signature in law" in signed["statement"]
    body = {"action": "signed", "status": "watch", "text": "Known for years."}
    (one,) = kept.api(U, "/signatures", body, status=201)["tests"]
    assert (one["status"], one["tool_status"]) == ("watch", "investigate")
    gone = kept.api(U, "/withdrawals", {"reason": "Wrong motor."}, status=201)
    assert gone["changed"] == [{"field": "withdrawn", "before": False, "after": True}]
    assert gone["was_signed"] is True
    back = kept.api(U, "/withdrawals", {"reason": "Right motor.", "back": True}, status=201)
    assert back["changed"] == [{"field": "withdrawn", "before": True, "after": False}]
    page = kept.api(U)
    assert page["test"]["state"] == "current"
    assert [one["action"] for one in page["reviews"]] == ["reviewed", "signed"]


def test_readings_are_revised_as_a_table(kept: Kept) -> None:
    rows = ["time [s],voltage [V],current [uA]", "15,5000,6.8", "30,5000,4.1", "60,5000,2.6", "600,5000,0.7"]
    body = {"reason": "Typed again from the sheet.", "readings": "\n".join(rows) + "\n"}
    told = kept.api(U, "/revisions", body, status=201)
    assert told["readings_changed"] is True
    readings = kept.api(U)["record"]["readings"]
    assert readings["time"] == [15, 30, 60, 600]
    assert readings["current"] == pytest.approx([6.8e-6, 4.1e-6, 2.6e-6, 0.7e-6])


def test_a_trial_of_judging_again_keeps_nothing(kept: Kept) -> None:
    tried = kept.api(U, "/verdicts", {"dry_run": True})
    assert (tried["dry_run"], tried["judged"]) == (True, 3)
    assert len(kept.api(U)["verdicts"]) == 1
    done = kept.api(U, "/verdicts", {"reason": "The register."})
    assert done["changed"] == tried["changed"]
    assert kept.api(U, "/verdicts", {})["changed"] == 0


def test_an_attachment_is_added_and_read(kept: Kept) -> None:
    told = kept.api(U, "/attachments", status=201, files={"file": ("a.txt", b"as it is", "text/plain")})
    assert told["fields"]["size"] == 8
    answer = kept.client.get(f"/api/tests/{kept.ids[U]}/attachments/{told['fields']['sha256']}")
    assert answer.content == b"as it is"


def test_file_and_reports_are_given(kept: Kept) -> None:
    assert kept.client.get(f"/api/tests/{kept.ids[U]}/file").text.startswith("# soakage = 1")
    answer = kept.client.get(f"/api/tests/{kept.ids[U]}/report.xlsx?paper=letter")
    assert answer.content.startswith(b"PK")


BODIES: list[tuple[str, Any, int, str]] = [
    ("/notes", {"text": ""}, 422, "The note is missing."),
    ("/notes", {"text": 5}, 422, "valid string"),
    ("/notes", {"text": "x", "more": 1}, 422, "not permitted"),
    ("/notes", {}, 422, "required"),
    ("/notes", {"text": "x" * 4001}, 422, "4000"),
    ("/revisions", {"reason": ""}, 422, "The reason for the revision is missing."),
    ("/revisions", {"reason": "x"}, 422, "Nothing differs"),
    ("/revisions", {"reason": "x", "values": {"rated_voltage": "6 kW"}}, 422, "kW"),
    ("/revisions", {"reason": "x", "values": {"rated_voltage": 6600}}, 422, "valid string"),
    ("/revisions", {"reason": "x", "clear": ["method"]}, 400, "no record is without it"),
    ("/revisions", {"reason": "x", "readings": "time [s]\n"}, 422, ""),
    ("/revisions", {"reason": "x", "content": "zz"}, 422, "pattern"),
    ("/revisions", {"reason": "x", "content": "0" * 64}, 409, "revised meanwhile"),
    ("/withdrawals", {"reason": " "}, 422, "The reason is missing."),
    ("/withdrawals", {"reason": "x", "back": "yes"}, 422, "boolean"),
    ("/withdrawals", {"reason": "x", "back": True}, 409, "not withdrawn"),
    ("/signatures", {"action": "approved"}, 422, "reviewed"),
    ("/signatures", {"action": "signed", "status": "sound"}, 422, "you give sound"),
    ("/signatures", {"action": "signed", "status": "safe", "text": "x"}, 422, "That is no status."),
    ("/verdicts", {"profile": "../default"}, 422, "No profile is called so."),
    ("/verdicts", {"dry_run": 1}, 422, "boolean"),
    ("/verdicts", [], 422, ""),
]


@pytest.mark.parametrize(("path", "body", "status", "said"), BODIES, ids=lambda value: str(value)[:44])
def test_a_body_that_does_not_fit_is_a_fault(
    kept: Kept, path: str, body: Any, status: int, said: str
) -> None:
    before = kept.api(U)
    (first, *_) = kept.api(U, path, body, status=status)["errors"]
    assert list(first) == ["file", "row", "field", "given", "problem", "allowed", "remedy"]
    assert said in json.dumps(first, ensure_ascii=False)
    assert kept.api(U) == before


@pytest.mark.parametrize("test", ("0" * 32, "zz", "0" * 31, "G" * 32))
@pytest.mark.parametrize(
    "more", ("", "/charts", "/why/polarization_index", "/beside", "/file", "/report.pdf")
)
def test_a_test_that_is_not_there_is_a_fault(kept: Kept, test: str, more: str) -> None:
    (problem,) = kept.api(test, more, status=404 if test == "0" * 32 else 422)["errors"]
    assert problem["problem"]


@pytest.mark.parametrize(
    "path", ("/notes", "/revisions", "/withdrawals", "/signatures", "/verdicts", "/attachments")
)
def test_a_change_without_a_token_is_refused(kept: Kept, path: str) -> None:
    answer = kept.client.post(f"/api/tests/{kept.ids[U]}{path}", json={"reason": "x", "text": "x"})
    assert answer.status_code == 403
    assert kept.api(U)["notes"] == []


def test_all_of_it_is_described(kept: Kept) -> None:
    paths = kept.client.get("/openapi.json").json()["paths"]
    own = {path: set(ways) for path, ways in paths.items() if path.startswith("/api/tests/{test}")}
    assert own == {
        "/api/tests/{test}": {"get"},
        "/api/tests/{test}/charts": {"get"},
        "/api/tests/{test}/why/{quantity}": {"get"},
        "/api/tests/{test}/beside": {"get"},
        "/api/tests/{test}/file": {"get"},
        "/api/tests/{test}/report.{ending}": {"get"},
        "/api/tests/{test}/notes": {"post"},
        "/api/tests/{test}/attachments": {"post"},
        "/api/tests/{test}/attachments/{sha256}": {"get"},
        "/api/tests/{test}/revisions": {"post"},
        "/api/tests/{test}/withdrawals": {"post"},
        "/api/tests/{test}/signatures": {"post"},
        "/api/tests/{test}/verdicts": {"post"},
    }
