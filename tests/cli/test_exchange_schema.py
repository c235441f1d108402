"""What the commands of exchange print fits the published shapes, every key named.

Held against the JSON Schema specification, draft 2020-12, by the library jsonschema.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from running import SOUND, WATCH, record, soakage
from soakage.app.exchange import Conflict, Merged, Together
from soakage.app.exchange_json import bundle_json, conflicts_json, merge_json, settled_json
from soakage.app.exchange_schema import bundle_schema, conflicts_schema, merge_schema, settle_schema
from soakage.app.folding import Claim
from soakage.app.schema_parts import Schema
from soakage.app.settling import Settled
from soakage.cli import COMMANDS
from soakage.model.stated import digest

DOCS = Path(__file__).parents[2] / "docs"
SCHEMAS = {
    "bundle": bundle_schema(), "merge": merge_schema(), "conflicts": conflicts_schema(), "settle": settle_schema(),
}  # fmt: skip
CLAIMS = (
    Claim(2002, "Bo", 1_700_000_000_000_000, digest("b")),
    Claim(None, "Ann", 1_600_000_000_000_000, digest("a")),
)
CONFLICT = Conflict("asset", "s" * 32, "Pump 3 motor", "year", CLAIMS)


def closed(shape: Any) -> Any:
    if isinstance(shape, list):
        return [closed(part) for part in shape]
    if not isinstance(shape, dict):
        return shape
    inner = {key: closed(value) for key, value in shape.items()}
    if "properties" in inner and "additionalProperties" not in inner:
        inner["additionalProperties"] = False
    return inner


def faults(schema: Schema, value: object) -> list[str]:
    checker = Draft202012Validator.FORMAT_CHECKER
    found = Draft202012Validator(closed(schema), format_checker=checker).iter_errors(value)
    return [f"{error.json_path}: {error.message[:300]}" for error in found]


def edit(folder: Path, store: str, *words: str) -> None:
    done = soakage(
        "register", "edit", "asset", "Pump 3 motor", *words, "--store", store, "--as", store[0], folder=folder
    )
    assert done.returncode == 0, done.stderr


def printed(folder: Path, *words: str) -> Any:
    done = soakage(*words, "--json", folder=folder)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What each command printed in one story of two laptops that know the same pump."""
    place = tmp_path_factory.mktemp("exchange")
    (place / "u.csv").write_text(record(SOUND, section='"U"'), encoding="utf-8")
    (place / "v.csv").write_text(record(WATCH, section='"V"'), encoding="utf-8")
    for store, file, year in (("a.sqlite", "u.csv", "2001"), ("b.sqlite", "v.csv", "2002")):
        assert soakage("import", file, "--store", store, "--as", store[0], folder=place).returncode == 0
        edit(place, store, "--year", year)
    edit(place, "a.sqlite", "--clear", "thermal_class")
    edit(place, "b.sqlite", "--thermal-class", "H")
    found = {"bundle": printed(place, "bundle", "-o", "a.bundle", "--store", "a.sqlite")}
    found["part"] = printed(
        place,
        "bundle",
        "-o",
        "p.bundle",
        "--asset",
        "Pump 3 motor",
        "--since",
        "2020-01-01",
        "--store",
        "a.sqlite",
    )
    found["tried"] = printed(place, "merge", "a.bundle", "--dry-run", "--store", "b.sqlite")
    found["merge"] = printed(place, "merge", "a.bundle", "p.bundle", "--store", "b.sqlite")
    found["again"] = printed(place, "merge", "a.bundle", "--store", "b.sqlite")
    found["conflicts"] = printed(place, "conflicts", "--store", "b.sqlite")
    found["settle"] = printed(place, "settle", "Pump 3 motor", "year", "2004", "--store", "b.sqlite")
    found["taken"] = printed(
        place,
        "settle",
        "Pump 3 motor",
        "thermal_class",
        "--take",
        "2",
        "--store",
        "b.sqlite",
        "--as",
        "Office",
    )
    found["none left"] = printed(place, "conflicts", "--store", "b.sqlite")
    found["of nothing"] = printed(place, "conflicts", "--store", "none.sqlite")
    found["empty"] = printed(place, "bundle", "-o", "e.bundle", "--store", "none.sqlite")
    return found


ANSWERS = {
    "bundle": "bundle", "part": "bundle", "empty": "bundle", "tried": "merge", "merge": "merge", "again": "merge",
    "conflicts": "conflicts", "none left": "conflicts", "of nothing": "conflicts", "settle": "settle",
    "taken": "settle",
}  # fmt: skip


@pytest.mark.parametrize("name", SCHEMAS)
def test_each_schema_is_one_and_is_of_a_command(name: str) -> None:
    Draft202012Validator.check_schema(SCHEMAS[name])
    assert name in COMMANDS


@pytest.mark.parametrize("answer", ANSWERS)
def test_what_is_printed_fits(told: dict[str, Any], answer: str) -> None:
    assert faults(SCHEMAS[ANSWERS[answer]], told[answer]) == []


def test_the_story_brought_what_the_shapes_are_for(told: dict[str, Any]) -> None:
    first, second = told["merge"]["files"]
    assert first["new"]["tests"] == 1
    assert {one["field"] for one in first["conflicts"]} == {"year", "thermal_class"}
    assert [one["title"] for one in first["rejudge"]] == ["Pump 3 motor, 2026-03-14"]
    assert (second["entries"], second["new"]) == (0, {})
    assert told["tried"]["files"] == told["merge"]["files"][:1]
    assert (told["tried"]["dry_run"], told["merge"]["dry_run"]) == (True, False)
    assert told["again"]["files"][0]["known"] == first["known"] + first["entries"]
    assert told["bundle"]["part"] is None
    assert told["part"]["part"] == "asset Pump 3 motor, changed since 2020-01-01"
    assert (told["empty"]["entries"], told["empty"]["blobs"]) == (0, 0)
    assert told["settle"]["value"] == 2004
    claims = {claim["value"] for claim in told["taken"]["conflict"]["claims"]}
    assert None in claims
    assert told["taken"]["value"] in claims
    assert told["none left"]["conflicts"] == []


SPOILED: dict[str, tuple[str, Callable[[Any], object], str]] = {
    "no such kind": ("conflicts", lambda value: value["conflicts"][0].update(kind="turbine"), "turbine"),
    "a hash that is none": (
        "conflicts",
        lambda value: value["conflicts"][0]["claims"][0].update(entry="x"),
        "'x'",
    ),
    "no person": ("conflicts", lambda value: value["conflicts"][0]["claims"][0].pop("person"), "'person'"),
    "no claims": ("conflicts", lambda value: value["conflicts"][0].update(claims=[]), "non-empty"),
    "a key too many": ("conflicts", lambda value: value.update(extra=1), "'extra'"),
    "a count below nothing": ("bundle", lambda value: value.update(tests=-1), "-1"),
    "no file": ("bundle", lambda value: value.pop("file"), "'file'"),
    "another contract": ("bundle", lambda value: value.update(contract=99), "was expected"),
    "a word for a flag": ("merge", lambda value: value.update(dry_run="no"), "'no'"),
    "new, yet none": ("merge", lambda value: value["files"][0].update(new={"tests": 0}), "minimum"),
    "no day": (
        "merge",
        lambda value: value["files"][0]["rejudge"][0].update(day="in spring"),
        "not valid under any",
    ),
    "no value": ("settle", lambda value: value.pop("value"), "'value'"),
    "a name for an asset": ("merge", lambda value: value["files"][0].update(assets=["Pump"]), "'Pump'"),
}


@pytest.mark.parametrize("what", SPOILED)
def test_what_does_not_fit_is_found(told: dict[str, Any], what: str) -> None:
    answer, spoil, words = SPOILED[what]
    value = json.loads(json.dumps(told[answer]))
    spoil(value)
    found = faults(SCHEMAS[answer], value)
    assert any(words in fault for fault in found), found


def test_every_key_stands_on_the_page_of_json() -> None:
    page = (DOCS / "json.md").read_text(encoding="utf-8")
    for name, schema in SCHEMAS.items():
        assert f"{name}.schema.json" in page
        assert [key for key in schema["properties"] if f"`{key}`" not in page] == [], name


# The shapes of what is rare


def test_a_merge_of_everything_at_once_fits() -> None:
    merged = Merged(
        source="a" * 32, entries=7, known=3, counts={"tests": 2, "verdicts": 2}, assets=[("i" * 32, "Pump")],
        conflicts=[CONFLICT], together=[Together("v" * 32, "i" * 32, "Pump, 2026", None)], dry_run=True,
    )  # fmt: skip
    value = merge_json([("x.bundle", merged), ("y.bundle", Merged())], dry_run=True)
    assert faults(SCHEMAS["merge"], value) == []
    assert value["files"][0]["new"] == {"tests": 2, "verdicts": 2}
    assert value["files"][1]["conflicts"] == []


@pytest.mark.parametrize("value", (None, 2004, 1.5, "H", True, [], ["a"], {}, {"hv": 1.0}))
def test_any_plain_value_may_be_claimed_and_stand(value: Any) -> None:
    claims = (Claim(value, "Bo", 0, digest("b")), *CLAIMS)
    conflict = Conflict("test", "t" * 32, "Pump, U", "content", claims)
    assert faults(SCHEMAS["conflicts"], conflicts_json([conflict])) == []
    settled = settled_json(Settled(conflict, value))
    assert faults(SCHEMAS["settle"], settled) == []
    assert settled["value"] == value
    assert settled["conflict"]["claims"][0]["at"] == "1970-01-01T00:00:00Z"


@pytest.mark.parametrize(("part", "said"), (("", None), ("site Works", "site Works")))
def test_a_bundle_of_all_names_no_part(part: str, said: str | None) -> None:
    value = bundle_json("x.bundle", part, {"entries": 1, "tests": 0, "blobs": 0})
    assert faults(SCHEMAS["bundle"], value) == []
    assert value["part"] == said
