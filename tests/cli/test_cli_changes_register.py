"""``soakage register``, ``note``, ``attach``, ``event`` as a shell sees them: what is printed, and the JSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from running import record, soakage
from soakage.app.changes_schema import register_schema, remark_schema
from soakage.app.schema_parts import Schema

MOTOR = "Pump 3 motor"


def closed(shape: Any) -> Any:
    if isinstance(shape, list):
        return [closed(part) for part in shape]
    if not isinstance(shape, dict):
        return shape
    inner = {key: closed(value) for key, value in shape.items()}
    if "properties" in inner and "additionalProperties" not in inner:
        inner["additionalProperties"] = False
    return inner


@pytest.fixture
def works(tmp_path: Path) -> Path:
    """A folder with a store that holds one test of one motor."""
    (tmp_path / "sound.csv").write_text(record(site='"Invented works"'), encoding="utf-8")
    assert soakage("import", "sound.csv", "--store", "s.sqlite", folder=tmp_path).returncode == 0
    return tmp_path


def said(folder: Path, *words: str, code: int = 0) -> str:
    done = soakage(*words, "--store", "s.sqlite", folder=folder)
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
    return " ".join((done.stdout or done.stderr).replace("\u00a0", " ").split())


def printed(folder: Path, schema: Schema, *words: str) -> Any:
    done = soakage(*words, "--json", "--store", "s.sqlite", folder=folder)
    assert done.returncode == 0, done.stderr
    value = json.loads(done.stdout)
    faults = [f"{f.json_path}: {f.message}" for f in Draft202012Validator(closed(schema)).iter_errors(value)]
    assert faults == []
    return value


def test_an_asset_is_added_with_the_options_of_everywhere(works: Path) -> None:
    text = said(works, "register", "add", "asset", "Pump 9 motor", "--class", "rotating-machine", "--rated-voltage",
                "6.6 kV", "--thermal-class", "F")  # fmt: skip
    assert "Pump 9 motor (asset): added." in text
    assert "rated_voltage not stated 6.60 kV" in text
    assert "thermal_class not stated 155" in text
    listed = json.loads(soakage("list", "--json", "--store", "s.sqlite", folder=works).stdout)
    assert {row["asset"] for row in listed["assets"]} == {MOTOR, "Pump 9 motor"}


def test_an_edit_shows_before_and_after_and_offers_to_judge_again(works: Path) -> None:
    (works / "silent.csv").write_text(
        record(site='"Invented works"', year="", started="2026-04-14"), encoding="utf-8"
    )
    said(works, "import", "silent.csv")
    text = said(works, "register", "edit", "asset", MOTOR, "--year", "1965")
    assert "year 2004 1965" in text
    assert "1 test was judged with the nameplate as it was" in text
    assert "soakage rejudge" in text
    assert "nothing differs" in said(works, "register", "edit", "asset", MOTOR, "--year", "1965")


def test_a_rename_keeps_the_id(works: Path) -> None:
    before = printed(works, register_schema(), "register", "edit", "asset", MOTOR, "--tag", "P-3")
    after = printed(
        works, register_schema(), "register", "edit", "asset", MOTOR, "--asset", "Lift pump motor"
    )
    assert before["id"] == after["id"]
    assert after["changed"] == [{"field": "asset", "before": MOTOR, "after": "Lift pump motor"}]
    assert after["title"] == "Lift pump motor"
    assert "No asset is called" in said(works, "register", "edit", "asset", MOTOR, "--year", "1999", code=2)


@pytest.mark.parametrize(
    ("words", "part"),
    (
        (("register", "add", "asset", MOTOR, "--site", "Invented works"), "has this asset already"),
        (("register", "add", "asset"), "needs a name"),
        (("register", "add", "asset", "X", "--method", "ramp"), "no part of an asset"),
        (("register", "edit", "asset", MOTOR), "Nothing to change"),
        (("register", "edit", "asset", "Pump 3", "--year", "1999"), "No asset is called"),
        (("register", "edit", "asset", MOTOR, "--year", "soon"), "year"),
        (("register", "calibrate", "4711", "--due", "2027-03-01"), "No instrument has the serial number"),
        (("register", "calibrate", "4711", "--due", "soon"), "soon"),
        (("register", "edit", "person", "A. Invented", "--text", "x"), "No person was added"),
        (("event", MOTOR, "painted", "--on", "2026-05-02"), "painted"),
        (("event", MOTOR, "rewind"), "--on"),
        (("note", MOTOR, " "), "empty"),
        (("attach", MOTOR, "none.jpg"), "none.jpg"),
    ),
)  # fmt: skip
def test_what_is_refused_says_why(works: Path, words: tuple[str, ...], part: str) -> None:
    assert part in said(works, *words, code=2)


def test_every_kind_of_the_register_in_json(works: Path) -> None:
    schema = register_schema()
    section = printed(works, schema, "register", "add", "section", MOTOR, "phase U", "--text", "lead side")
    assert (section["kind"], section["added"]) == ("section", True)
    printed(works, schema, "register", "edit", "section", MOTOR, "phase U", "--remove")
    site = printed(works, schema, "register", "add", "site", "Other works", "--text", "behind the hill")
    assert site["title"] == "Other works"
    moved = printed(works, schema, "register", "edit", "site", "Invented works", "--name", "River works")
    assert moved["changed"] == [{"field": "name", "before": "Invented works", "after": "River works"}]
    added = printed(works, schema, "register", "add", "instrument", "4711", "--instrument", "bench set",
                    "--accuracy", '[{reading = "5 %"}]')  # fmt: skip
    assert {one["field"] for one in added["changed"]} == {"instrument", "instrument_serial", "accuracy"}
    printed(works, schema, "register", "edit", "instrument", "4711", "--clear", "accuracy")
    due = printed(
        works, schema, "register", "calibrate", "4711", "--due", "2027-03-01", "--certificate", "C-5"
    )
    assert due["changed"] == [{"field": "calibration_due", "before": None, "after": "2027-03-01"}]
    none = printed(works, schema, "register", "calibrate", "4711", "--due", "2026-03-01")
    assert none["changed"] == []
    printed(works, schema, "register", "add", "person", "A. Invented", "--licence-number", "L-1")
    printed(
        works, schema, "register", "edit", "person", "A. Invented", "--name", "B. Invented", "--clear", "text"
    )
    retired = printed(works, schema, "register", "retire", MOTOR)
    assert retired["changed"] == [{"field": "retired", "before": None, "after": True}]
    printed(works, schema, "register", "retire", MOTOR, "--back")


def test_a_calibration_that_runs_out_earlier_is_noted_and_said(works: Path) -> None:
    said(works, "register", "add", "instrument", "4711")
    assert "calibration_due not stated 2027-03-01" in said(
        works, "register", "calibrate", "4711", "--due", "2027-03-01"
    )
    assert "another one runs out later" in said(works, "register", "calibrate", "4711", "--due", "2026-03-01")


def test_remarks_in_text_and_json(works: Path) -> None:
    (works / "lead.jpg").write_bytes(b"\xff\xd8 invented")
    note = printed(works, remark_schema(), "note", MOTOR, "bearing changed")
    assert note["fields"] == {"text": "bearing changed"}
    file = printed(works, remark_schema(), "attach", MOTOR, "lead.jpg")
    assert file["fields"]["media_type"] == "image/jpeg"
    assert "11 bytes" in said(works, "attach", MOTOR, "lead.jpg")
    event = printed(
        works, remark_schema(), "event", MOTOR, "rewind", "--on", "2026-05-02", "--text", "new coils"
    )
    assert event["fields"] == {"event": "rewind", "at": "2026-05-02", "text": "new coils"}
    text = said(works, "event", MOTOR, "rewind", "--on", "2026-05-02")
    assert "trends begin a new series" in text
    assert "--year" in text
    assert "new series" not in said(works, "event", MOTOR, "cleaning", "--on", "2026-05-03")
    assert "noted" in said(works, "note", MOTOR, "x", "--site", "Invented works")


def test_help_says_what_stays() -> None:
    text = " ".join(soakage("register", "--help").stdout.split())
    assert "What was before stays" in text
    for word in ("add", "edit", "calibrate", "retire"):
        assert word in text
