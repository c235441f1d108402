"""Worked cases of plans: what a person states of an asset, and what the plan then asks for."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from soakage.app.plan import plan
from soakage.app.plan_json import plan_json
from soakage.errors import UsageError
from worked import STATUSES, TOLD, Case, cases, typed

FILES = ("plan_voltage.toml", "plan_methods.toml", "plan_cautions.toml")
STATED = {"base", "keys", "purpose", "asked", "hazardous_area", "gas_free_certificate", "more"}
NEVER = ("safe", "may be energised", "is discharged", "is clear")
Json = dict[str, Any]


def plain(made: Any) -> str:
    return json.dumps(made, ensure_ascii=False).replace("\N{NO-BREAK SPACE}", " ")


def voltage(made: Json, case: Case) -> None:
    wanted = case["voltage"]
    given = made["test_voltage"]
    if wanted == "none":
        assert given is None
        return
    found = [given["lower"], given["value"], given["upper"]]
    assert found == pytest.approx(wanted), given["row"]


def table(made: Json, case: Case) -> None:
    assert made["test_voltage"]["table"] == case["table"]


def methods(made: Json, case: Case) -> None:
    assert [entry["id"] for entry in made["methods"]] == case["methods"]


def connections(made: Json, case: Case) -> None:
    found = [
        f"{', '.join(c['tested'])} against {', '.join(c['earthed'])} at {c['voltage']:g} V"
        for c in made["connections"]
    ]
    assert found == case["connections"]


def marks(made: Json, case: Case) -> None:
    found = {f"{m['method']} {m['time']:g}" for m in made["marks"] if m["required"]}
    assert found == set(case["marks"])


def earthing(made: Json, case: Case) -> None:
    assert made["earthing_time"]["value"] == pytest.approx(case["earthing"], rel=case.get("within", 1e-6))


def charging(made: Json, case: Case) -> None:
    for name, value in case["charging"].items():
        given = made["charging"][name]
        assert given == (None if value == "none" else pytest.approx(value, rel=1e-6)), name


def limits(made: Json, case: Case) -> None:
    found = {entry["criterion"]: entry["limit"]["lower"] for entry in made["criteria"] if entry["limit"]}
    for name, value in case["limits"].items():
        assert found.get(name) == pytest.approx(value), name


def rising(made: Json, case: Case) -> None:
    found = [
        [entry["method"], entry["test_voltage"]["value"], entry["overvoltage"]] for entry in made["rising"]
    ]
    assert found == case["rising"]


def cautioned(made: Json, case: Case) -> None:
    text = plain([[caution["step"], caution["text"]] for caution in made["cautions"]])
    assert [words for words in case["cautioned"] if words not in text] == []


def not_cautioned(made: Json, case: Case) -> None:
    text = plain([caution["text"] for caution in made["cautions"]])
    assert [words for words in case["not_cautioned"] if words in text] == []


def noted(made: Json, case: Case) -> None:
    text = plain([made["notes"], made["checklist"], made["rising"], made["hazardous_area"]])
    assert [words for words in case["noted"] if words not in text] == []


def refused(made: Json, case: Case) -> None:
    assert case["refused"] in made["refusal"]
    assert [made[name] for name in ("methods", "connections", "cautions", "rising")] == [[], [], [], []]


HELD: dict[str, Callable[[Json, Case], None]] = {
    "voltage": voltage, "table": table, "methods": methods, "connections": connections, "marks": marks,
    "earthing": earthing, "charging": charging, "limits": limits, "rising": rising, "cautioned": cautioned,
    "not_cautioned": not_cautioned, "noted": noted, "refused": refused,
}  # fmt: skip


@pytest.mark.parametrize("case", cases(*FILES))
def test_is_planned(case: Case) -> None:
    assert case["status"] in STATUSES
    assert set(case) <= {*TOLD, *STATED, *HELD, "error", "within", "bases"}
    (record,) = typed({**case, "reading": "1 GOhm"}, case["bases"])
    stated: Json = {name: case[name] for name in ("purpose", "gas_free_certificate") if name in case}
    area = case.get("hazardous_area", "no")
    stated |= {"hazardous_area": None if area == "" else area, "methods": case.get("asked", ())}
    if "error" in case:
        with pytest.raises(UsageError, match=case["error"]):
            plan(record.asset, **stated, **case.get("more", {}))
        return
    assert set(case) & set(HELD), "a case that holds nothing cannot fail"
    made = plan_json(plan(record.asset, **stated, **case.get("more", {})))
    assert [word for word in NEVER if word in plain(made).lower()] == []
    for name, held in HELD.items():
        if name in case:
            held(made, case)
