"""What the commands on a store print fits the published shapes, every key named.

Held against the JSON Schema specification, draft 2020-12, by the library jsonschema.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from running import INVESTIGATE, SOUND, record, soakage
from soakage.app.schema_parts import Schema
from soakage.app.store_schema import export_schema, import_schema, list_schema, show_schema
from soakage.cli import COMMANDS

SCHEMAS = {"import": import_schema(), "list": list_schema(), "show": show_schema(), "export": export_schema()}
DETECTOR = (
    '# soakage = 1\n# class = "cable"\n# asset = "Feeder 4"\n# method = "insulation-resistance"\n'
    '# instrument = "bridge (invented)"\n# instrument_serial = "invented-9"\nresistance [MOhm]\n> 500\n'
)


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
    found = Draft202012Validator(closed(schema)).iter_errors(value)
    return [f"{error.json_path}: {error.message[:300]}" for error in found]


def printed(folder: Path, *words: str) -> Any:
    done = soakage(*words, "--json", "--store", "s.sqlite", folder=folder)
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def works(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("works")
    (place / "a.csv").write_text(record(SOUND), encoding="utf-8")
    (place / "b.csv").write_text(record(INVESTIGATE, asset='"pump 3 MOTOR"'), encoding="utf-8")
    (place / "c.csv").write_text(record(SOUND, asset="", year="2005"), encoding="utf-8")
    (place / "d.csv").write_text(DETECTOR, encoding="utf-8")
    (place / "bad.csv").write_text(record(year='"long ago"'), encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def taken(works: Path) -> Any:
    return printed(works, "import", "a.csv", "b.csv", "c.csv", "d.csv", "bad.csv", "nowhere.csv")


@pytest.fixture
def folder(works: Path, taken: Any) -> Path:
    """The folder, once its files are in its store."""
    assert taken["files"]
    return works


@pytest.mark.parametrize("name", SCHEMAS)
def test_each_schema_is_one_and_is_of_a_command(name: str) -> None:
    Draft202012Validator.check_schema(SCHEMAS[name])
    assert name in COMMANDS


def test_an_import_fits(taken: Any) -> None:
    assert faults(SCHEMAS["import"], taken) == []
    assert [file["outcome"] for file in taken["files"]] == ["added"] * 4 + ["refused"] * 2
    codes = [found["code"] for file in taken["files"] for test in file["tests"] for found in test["findings"]]
    assert codes == ["asset_nearly_known", "asset_not_named"]


def test_a_dry_run_fits(folder: Path) -> None:
    again = printed(folder, "import", "a.csv", "--dry-run")
    assert faults(SCHEMAS["import"], again) == []
    assert (again["dry_run"], again["known"]) == (True, 1)


def test_a_list_fits(folder: Path) -> None:
    found = printed(folder, "list")
    assert faults(SCHEMAS["list"], found) == []
    assert sorted(found) == ["assets", "contract", "soakage", "tests"], "no more and no less"
    assert len(found["tests"]) == 4
    assert len(found["assets"]) == 3


def test_an_empty_list_fits(tmp_path: Path) -> None:
    found = printed(tmp_path, "list")
    assert faults(SCHEMAS["list"], found) == []
    assert (found["tests"], found["assets"]) == ([], [])


@pytest.mark.parametrize("asset", ("Pump 3 motor", "pump 3 MOTOR", "Feeder 4"))
def test_an_asset_fits(folder: Path, asset: str) -> None:
    page = printed(folder, "show", asset)
    assert faults(SCHEMAS["show"], page) == []
    assert page["kind"] == "asset"
    assert page["tests"][0]["figures"]


@pytest.mark.parametrize("place", range(4))
def test_a_test_fits(folder: Path, taken: Any, place: int) -> None:
    page = printed(folder, "show", taken["files"][place]["tests"][0]["test"])
    assert faults(SCHEMAS["show"], page) == []
    assert page["kind"] == "test"
    assert page["verdicts"][-1]["stands"]


def test_an_export_fits(folder: Path) -> None:
    found = printed(folder, "export", "--to", "out")
    assert faults(SCHEMAS["export"], found) == []
    assert (found["tests"], found["assets"]) == (4, 3)
    back = soakage("import", "out", "--json", "--store", "t.sqlite", folder=folder)
    assert back.returncode == 0
    assert faults(SCHEMAS["import"], json.loads(back.stdout)) == []


@pytest.mark.parametrize(
    ("part", "key"), (("tests", "status"), ("assets", "last_day"), ("tests", "asset_id"))
)
def test_what_must_be_there_is_missed(folder: Path, part: str, key: str) -> None:
    found = printed(folder, "list")
    del found[part][0][key]
    assert any(repr(key) in fault for fault in faults(SCHEMAS["list"], found))


@pytest.mark.parametrize("status", ("Sound", "not_judged", "safe", ""))
def test_no_other_status_is(folder: Path, status: str) -> None:
    found = printed(folder, "list")
    found["assets"][0]["status"] = status
    assert faults(SCHEMAS["list"], found) != []
