"""Worked cases of whole records: quantities, judgements, findings and verdicts as the contract gives them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from worked import ASKED, STATUSES, TOLD, TYPED, Case, cases, told

FILES = (
    "machines.toml", "machines_index.toml", "machines_temperature.toml", "transformers.toml",
    "transformers_temperature.toml", "switchgear.toml", "cables.toml", "low_voltage.toml",
    "ratios.toml", "discharge.toml", "steps.toml", "ramps.toml", "conditions.toml", "set_up.toml",
    "earthing.toml", "sisters.toml", "networks.toml", "ways_of_reading.toml",
)  # fmt: skip
TOLERANCE = 1e-4  # relative: what is worked out by hand is given to five digits or more
Json = dict[str, Any]


def figures(said: Json, case: Case) -> None:
    for name, value in case["quantities"].items():
        assert name in said["quantities"], f"{name} is absent"
        given = said["quantities"][name]["value"]
        assert given == pytest.approx(value, rel=case.get("within", TOLERANCE)), name


def sides(said: Json, case: Case) -> None:
    bounds = {name: said["quantities"][name]["bound"] or "none" for name in case["bounds"]}
    assert bounds == case["bounds"]


def absent(said: Json, case: Case) -> None:
    assert [name for name in case["absent"] if name in said["quantities"]] == []


def corrected_by(said: Json, case: Case) -> None:
    corrected = {name: q for name, q in said["quantities"].items() if name.endswith("_corrected")}
    assert {q["rule"] for q in corrected.values()} == {case["corrected_by"]}


def judged(said: Json, case: Case) -> None:
    statuses = {entry["criterion"]: entry["status"] for entry in said["judgements"]}
    assert {name: statuses.get(name, "absent") for name in case["judged"]} == case["judged"]


def limits(said: Json, case: Case) -> None:
    by_id = {entry["criterion"]: entry["limit"] for entry in said["judgements"]}
    for name, value in case["limits"].items():
        assert by_id.get(name) is not None, f"{name} gave no limit"
        edge = by_id[name]["lower"] if by_id[name]["lower"] is not None else by_id[name]["upper"]
        assert edge == pytest.approx(value, rel=1e-6), name


def reasons(said: Json, case: Case) -> None:
    given = {entry["criterion"]: entry["reason"] for entry in said["judgements"]}
    for name, words in case["reasons"].items():
        assert words in given[name].replace("\N{NO-BREAK SPACE}", " "), name


def codes(said: Json) -> set[str]:
    return {finding["code"] for finding in said["findings"]}


def found(said: Json, case: Case) -> None:
    assert set(case["found"]) - codes(said) == set()


def not_found(said: Json, case: Case) -> None:
    assert set(case["not_found"]) & codes(said) == set()


def verdict(said: Json, case: Case) -> None:
    assert said["verdict"]["status"] == case["verdict"], said["verdict"]["sentence"]


def pairs(whole: Json, case: Case) -> None:
    """Hold the resistances between terminals; null in SI stands for one the readings do not tell apart."""
    (network,) = whole["networks"]
    given = {" to ".join(sorted(pair["between"])): pair for pair in network["pairs"]}
    for between, value in case["pairs"].items():
        pair = given[" to ".join(sorted(between.split(" to ")))]
        assert pair["resolved"] == (value != "not resolved"), between
        if pair["resolved"]:
            assert pair["resistance"] == pytest.approx(value, rel=case.get("within", TOLERANCE)), between


def says(said: Json, case: Case) -> None:
    sentence = said["verdict"]["sentence"].replace("\N{NO-BREAK SPACE}", " ")
    assert [words for words in case["says"] if words not in sentence] == [], sentence


HELD: dict[str, Callable[[Json, Case], None]] = {
    "quantities": figures, "bounds": sides, "absent": absent, "corrected_by": corrected_by, "judged": judged,
    "limits": limits, "reasons": reasons, "found": found, "not_found": not_found, "verdict": verdict,
    "says": says,
}  # fmt: skip


TOGETHER: dict[str, Callable[[Json, Case], None]] = {"pairs": pairs}


@pytest.mark.parametrize("case", cases(*FILES))
def test_comes_out(case: Case) -> None:
    assert case["status"] in STATUSES
    assert set(case) <= {*TOLD, *TYPED, *ASKED, *HELD, *TOGETHER, "within", "bases"}
    assert set(case) & {*HELD, *TOGETHER}, "a case that holds nothing cannot fail"
    said, whole = told(case)
    for name, held in HELD.items():
        if name in case:
            held(said, case)
    for name, held in TOGETHER.items():
        if name in case:
            held(whole, case)


def test_ids_tell_the_cases_apart() -> None:
    ids = [case.id for case in cases(*FILES)]
    assert sorted({name for name in ids if ids.count(name) > 1}) == []
