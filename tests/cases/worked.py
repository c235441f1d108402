"""Worked cases read from data: what a person types, and what must come out.

A case names a ``base`` of keys, changes some (``keys``; an empty text leaves a key out) and gives one
``reading``, or ``columns`` and ``rows``. Each names its published ``source`` and its ``status``. What must
come out stands in SI units; what the case does not name is not held.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from soakage.app.contract_json import evaluation_json
from soakage.app.evaluate import evaluate
from soakage.app.rules import Rules, default_rules, user_limits, with_temperature_rule
from soakage.importers.reading import read_bytes
from soakage.model.record import Record

FOLDER = Path(__file__).parent
STATUSES = ("read", "secondary", "memory", "practice", "derived", "house")
TOLD = {"id", "source", "status", "worked"}  # said for the reader of the case
TYPED = {"base", "keys", "reading", "at", "columns", "rows"}
ASKED = {"beside", "rule_chosen", "limits_given"}
Case = Mapping[str, Any]


def read(file: str) -> dict[str, Any]:
    return tomllib.loads((FOLDER / file).read_text(encoding="utf-8"))


def cases(*files: str) -> list[Any]:
    """Return the cases of these files, each with the bases of its own file."""
    found = []
    for file in files:
        content = read(file)
        for case in content["case"]:
            given = case | {"bases": content.get("base", {})}
            found.append(pytest.param(given, id=f"{Path(file).stem}: {case['id']}"))
    return found


def keys_of(case: Case, bases: Mapping[str, Mapping[str, str]]) -> dict[str, str]:
    """Return the header a person typed: the base, what it is like, and what this case changes."""
    chain = [case.get("keys", {})]
    name = case.get("base")
    while name is not None:
        chain.append({key: text for key, text in bases[name].items() if key != "like"})
        name = bases[name].get("like")
    merged: dict[str, str] = {}
    for part in reversed(chain):
        merged |= part
    return {key: text for key, text in merged.items() if text != ""}


def text_of(case: Case, bases: Mapping[str, Mapping[str, str]]) -> str:
    """Return the record file as typed."""
    header = ["# soakage = 1", *(f"# {key} = {text}" for key, text in keys_of(case, bases).items())]
    if "rows" in case:
        table = [case["columns"], *case["rows"]]
    elif case.get("at") == "none":
        table = ["resistance", case["reading"]]
    else:
        table = ["time [s];resistance", f"{case.get('at', '60')};{case['reading']}"]
    return "\n".join([*header, *table]) + "\n"


def typed(case: Case, bases: Mapping[str, Mapping[str, str]], name: str = "typed.csv") -> list[Record]:
    return list(read_bytes(text_of(case, bases).encode(), name))


def rules_of(case: Case) -> Rules:
    """Return the default rules, with a temperature rule or limits of the person's own where the case has them."""
    rules = with_temperature_rule(default_rules(), case.get("rule_chosen"))
    if "limits_given" not in case:
        return rules
    return Rules(rules.profile, rules.library, user_limits(case["limits_given"]), rules.temperature_rule)


def told(case: Case) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return what is said of the case's own record, and of all records given together."""
    bases = case["bases"]
    records = typed(case, bases)
    assert len(records) == 1, "a case is of one record; others go beside it"
    others = [
        record
        for number, other in enumerate(case.get("beside", []))
        for record in typed({"base": case.get("base"), **other}, bases, f"beside-{number}.csv")
    ]
    whole = evaluation_json(evaluate([*others, *records], rules_of(case)))
    return whole["records"][-1], whole
