"""The published schemas hold what the commands print, name every key of it, and refuse what is not meant.

Held against the JSON Schema specification, draft 2020-12, by the library jsonschema.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from soakage.app.contract_schema import explain_schema, judge_schema
from soakage.app.explain import known_ids
from soakage.app.plan_schema import plan_schema
from soakage.app.schema_parts import quantity_id_pattern
from soakage.cli import group
from soakage.demo.make import demo_files
from soakage.quantities import lookup
from soakage.standards.library import library

SCHEMAS = {"judge": judge_schema(), "plan": plan_schema(), "explain": explain_schema()}
STATUSES = ("sound", "watch", "investigate", "unfit", "not applicable", "not judged", "invalid test")
QUANTITIES = (
    "insulation_resistance", "insulation_resistance_60s", "insulation_resistance_15s",
    "insulation_resistance_60s_corrected", "insulation_resistance_corrected",
    "insulation_resistance_600s_corrected", "dielectric_absorption_ratio", "absorption_ratio_60_15",
    "polarization_index", "resistance_ratio_120s_30s", "dielectric_discharge", "capacitance",
    "apparent_capacitance", "conduction_current", "absorption_exponent", "voltage_dependence",
    "phase_spread", "dew_point", "stored_energy", "earthing_time",
)  # fmt: skip
MACHINE = ("--class", "rotating-machine", "--winding", "form-wound", "--rated-voltage", "6.6 kV",
           "--insulation", "thermosetting", "--thermal-class", "F", "--year", "2004")  # fmt: skip
PLANS = {
    "machine": MACHINE,
    "rising": (*MACHINE, "--method", "step-voltage", "--capacitance", "0.2 uF"),
    "ramp": (*MACHINE, "--method", "ramp", "--current-limit", "3 mA", "--capacitance", "0.2 uF"),
    "refused": (*MACHINE, "--hazardous-area", "yes"),
    "transformer": ("--class", "transformer", "--filling", "oil", "--rated-voltage", "22 kV"),
    "cable": ("--class", "cable", "--rated-voltage", "12 kV", "--length", "840 m"),
    "circuit": ("--class", "low-voltage-installation", "--nominal-voltage", "230 V"),
    "bare": ("--class", "apparatus"),
}  # fmt: skip
BAD = {
    "ramp.csv": '# soakage = 1\n# class = "cable"\n# method = "ramp"\ntime [s],current [uA]\n1,2\n',
    "word.csv": '# soakage = 1\n# class = "boat"\n# method = "ramp"\ntime [s],voltage [V],current [uA]\n1,2,3\n',
    "empty.csv": "",
    "figures.csv": '# soakage = 1\n# class = "cable"\n# method = "insulation-resistance"\n'
    "resistance [MOhm]\n-5\n",
    "table.doc": "resistance [MOhm]\n5\n",
    "one.csv": "resistance [MOhm]\n1500\n",
}


def run(*words: str) -> dict[str, Any]:
    done = CliRunner().invoke(group, list(words), catch_exceptions=False, standalone_mode=False)
    parsed = json.loads(done.stdout)
    assert isinstance(parsed, dict)
    return parsed


def closed(shape: Any) -> Any:
    """Return a schema that takes only the keys it names: what is printed must all be described."""
    if isinstance(shape, list):
        return [closed(part) for part in shape]
    if not isinstance(shape, dict):
        return shape
    inner = {key: closed(value) for key, value in shape.items()}
    if "properties" in inner and "additionalProperties" not in inner:
        inner["additionalProperties"] = False
    return inner


def faults(name: str, value: object) -> list[str]:
    schema = closed(SCHEMAS[name])
    return [
        f"{error.json_path}: {error.message[:200]}"
        for error in Draft202012Validator(schema).iter_errors(value)
    ]


@pytest.fixture(scope="module")
def judged(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    folder = tmp_path_factory.mktemp("demo")
    paths = []
    for name, text in (demo_files() | BAD).items():
        (folder / name).write_text(text, encoding="utf-8")
        paths.append(str(folder / name))
    return run("judge", "--json", "--limit", "200 MOhm", "--ratio", "120/30", *paths)


@pytest.mark.parametrize("name", SCHEMAS)
def test_each_schema_is_one(name: str) -> None:
    Draft202012Validator.check_schema(SCHEMAS[name])


def test_the_demo_and_bad_files_fit_the_schema(judged: dict[str, Any]) -> None:
    assert faults("judge", judged) == []


def test_what_is_held_against_it_has_every_part(judged: dict[str, Any]) -> None:
    assert all(judged[part] for part in ("records", "visits", "errors", "networks"))
    assert {len(record) for record in judged["records"]} > {9}
    assert any("steps" in record for record in judged["records"])
    assert any("ramp" in record for record in judged["records"])
    assert {Path(str(fault["file"])).name for fault in judged["errors"]} >= set(BAD) - {"one.csv"}


def test_files_that_cannot_be_read_alone_fit_too(tmp_path: Path) -> None:
    (tmp_path / "empty.csv").write_text("")
    result = run("judge", "--json", str(tmp_path / "empty.csv"))
    assert result["records"] == []
    assert faults("judge", result) == []


@pytest.mark.parametrize("what", PLANS)
def test_plans_fit_the_schema(what: str) -> None:
    assert faults("plan", run("plan", "--json", *PLANS[what])) == []


@pytest.mark.parametrize("name", known_ids(library()))
def test_every_explanation_fits_the_schema(name: str) -> None:
    assert faults("explain", run("explain", "--json", name)) == []


@pytest.mark.parametrize(
    "words",
    (
        ("polarization_index", "insulation_resistance_60s=435 MOhm", "insulation_resistance_600s=1.62 GOhm"),
        ("ieee-43-2013.thermosetting", "winding_temperature=27.5 degC"),
        ("iec-60364-6-2016.test-voltage", "nominal_voltage=230 V"),
    ),
)
def test_explanations_with_numbers_fit_the_schema(words: tuple[str, ...]) -> None:
    result = run("explain", "--json", *words)
    assert isinstance(result["value"], float)
    assert faults("explain", result) == []


def first_judgement(judged: Mapping[str, Any]) -> dict[str, Any]:
    record = next(r for r in judged["records"] if r["judgements"])
    judgement = record["judgements"][0]
    assert isinstance(judgement, dict)
    return judgement


@pytest.mark.parametrize("status", STATUSES)
def test_every_status_is_allowed(judged: dict[str, Any], status: str) -> None:
    changed = json.loads(json.dumps(judged))
    first_judgement(changed)["status"] = status
    assert faults("judge", changed) == []


@pytest.mark.parametrize("status", ("Sound", "not_judged", "safe", "", None))
def test_no_other_status_is(judged: dict[str, Any], status: object) -> None:
    changed = json.loads(json.dumps(judged))
    first_judgement(changed)["status"] = status
    assert faults("judge", changed) != []


@pytest.mark.parametrize("name", QUANTITIES)
def test_every_quantity_of_the_contract_is_allowed(judged: dict[str, Any], name: str) -> None:
    changed = json.loads(json.dumps(judged))
    quantities = changed["records"][0]["quantities"]
    quantities[name] = next(iter(quantities.values()))
    first_judgement(changed)["quantity"] = name
    assert faults("judge", changed) == []
    assert lookup(name).id == name


@pytest.mark.parametrize(
    "name", ("insulation_resistance_s", "insulation_resistance_60", "resistance", "x_60s")
)
def test_no_other_quantity_is(judged: dict[str, Any], name: str) -> None:
    changed = json.loads(json.dumps(judged))
    first_judgement(changed)["quantity"] = name
    assert faults("judge", changed) != []


def test_the_pattern_is_closed_at_both_ends() -> None:
    assert quantity_id_pattern().startswith("^(?:")
    assert quantity_id_pattern().endswith(")$")


@pytest.mark.parametrize(
    ("part", "key"),
    (
        ("records", "verdict"), ("records", "findings"), ("errors", "remedy"), ("visits", "status"),
        ("networks", "consistent"),
    ),
)  # fmt: skip
def test_what_must_be_there_is_missed(judged: dict[str, Any], part: str, key: str) -> None:
    changed = json.loads(json.dumps(judged))
    del changed[part][0][key]
    assert any(repr(key) in fault for fault in faults("judge", changed))


def test_keys_may_be_added(judged: dict[str, Any]) -> None:
    changed = {**judged, "added_later": 1}
    assert list(Draft202012Validator(SCHEMAS["judge"]).iter_errors(changed)) == []


def test_a_figure_is_a_number_and_no_text(judged: dict[str, Any]) -> None:
    changed = json.loads(json.dumps(judged))
    next(iter(changed["records"][0]["quantities"].values()))["value"] = "2 GOhm"
    assert faults("judge", changed) != []
