"""``amend``, ``withdraw``, ``sign``, ``purge`` and ``rejudge`` as a shell sees them."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from running import INVESTIGATE, SOUND, record, soakage
from soakage.app.changes_schema import purge_schema, rejudge_schema, revision_schema, sign_schema
from soakage.app.schema_parts import Schema
from test_cli_changes_register import closed, said


@pytest.fixture
def works(tmp_path: Path) -> Path:
    """A folder with a store that holds two tests of one motor, a sound one and one to be explained."""
    for name, currents, day in (("sound", SOUND, "2026-03-14"), ("weak", INVESTIGATE, "2026-04-14")):
        text = record(currents, started=day, site='"Invented works"')
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    assert soakage("import", "sound.csv", "weak.csv", "--store", "s.sqlite", folder=tmp_path).returncode == 0
    return tmp_path


def ids(folder: Path) -> dict[str, str]:
    """Ids of the tests by day."""
    done = soakage("list", "--json", "--withdrawn", "--store", "s.sqlite", folder=folder)
    return {row["day"]: row["id"] for row in json.loads(done.stdout)["tests"]}


def sound(folder: Path) -> str:
    return ids(folder)["2026-03-14"]


def weak(folder: Path) -> str:
    return ids(folder)["2026-04-14"]


def printed(folder: Path, schema: Schema, *words: str, code: int = 0) -> Any:
    done = soakage(*words, "--json", "--store", "s.sqlite", folder=folder)
    assert done.returncode == code, done.stderr
    value = json.loads(done.stdout)
    faults = [f"{f.json_path}: {f.message}" for f in Draft202012Validator(closed(schema)).iter_errors(value)]
    assert faults == []
    return value


def test_amend_tells_what_was_and_what_is(works: Path) -> None:
    text = said(works, "amend", sound(works)[:8], "--winding-temperature", "30 degC", "--reason", "misread")
    assert "winding_temperature 40 °C 30 °C" in text
    assert "Verdict: sound before, sound now." in text
    assert "The record as it was and its verdict are kept." in text


def test_amend_in_json(works: Path) -> None:
    told = printed(works, revision_schema(), "amend", sound(works), "--winding-temperature", "30 degC",
                   "--reason", "misread", "--as", "A. Invented")  # fmt: skip
    assert told["changed"] == [{"field": "winding_temperature", "before": 313.15, "after": 303.15}]
    assert (told["reason"], told["readings_changed"], told["was_signed"]) == ("misread", False, False)


def test_readings_are_amended_from_a_table(works: Path) -> None:
    (works / "right.csv").write_text(
        "time [s],voltage [V],current [uA]\n15,5000,30\n30,5000,20\n60,5000,10\n600,5000,4.1\n",
        encoding="utf-8",
    )
    told = printed(works, revision_schema(), "amend", weak(works), "--file", "right.csv", "--reason", "slip")
    assert (told["before"], told["after"], told["readings_changed"]) == ("investigate", "sound", True)


@pytest.mark.parametrize(
    ("words", "part"),
    (
        (("amend", "{test}", "--year", "1999"), "needs a reason"),
        (("amend", "{test}", "--reason", "x"), "Nothing differs"),
        (("amend", "{test}", "--reason", "x", "--year", "soon"), "year"),
        (("amend", "12345678", "--reason", "x", "--year", "1999"), "No test begins with"),
        (("amend", "1234", "--reason", "x", "--year", "1999"), "at least its first 8"),
        (("withdraw", "{test}"), "needs a reason"),
        (("withdraw", "{test}", "--back", "--reason", "x"), "not withdrawn"),
        (("sign", "{test}", "--status", "fine"), "no such status"),
        (("sign", "{test}", "--status", "watch"), "Say why with --text"),
        (("purge", "{test}", "--export", "o.bundle", "--yes"), "needs a reason"),
        (("purge", "{test}", "--reason", "x", "--yes"), "--export"),
        (("rejudge",), "Which tests"),
        (("rejudge", "Pump 3"), "No asset is called"),
        (("rejudge", "--since", "soon"), "no day"),
        (("rejudge", "--all", "--profile", "none.toml"), "none.toml"),
    ),
)  # fmt: skip
def test_what_is_refused_says_why(works: Path, words: tuple[str, ...], part: str) -> None:
    test = sound(works)
    assert part in said(works, *(word.format(test=test) for word in words), code=2)
    assert ids(works)["2026-03-14"] == test


def test_withdrawn_and_back(works: Path) -> None:
    text = said(works, "withdraw", sound(works), "--reason", "wrong terminals")
    assert "The test is kept; lists and trends pass over it." in text
    listed = json.loads(soakage("list", "--json", "--store", "s.sqlite", folder=works).stdout)
    assert [row["day"] for row in listed["tests"]] == ["2026-04-14"]
    told = printed(
        works, revision_schema(), "withdraw", sound(works), "--back", "--reason", "right after all"
    )
    assert told["changed"] == [{"field": "withdrawn", "before": True, "after": False}]
    assert (
        len(json.loads(soakage("list", "--json", "--store", "s.sqlite", folder=works).stdout)["tests"]) == 2
    )


def test_signed_says_what_it_is_not(works: Path) -> None:
    text = said(works, "sign", sound(works), "--as", "S. Invented", "--review")
    assert "reviewed by S. Invented as sound" in text
    text = said(works, "sign", sound(works), weak(works), "--as", "S. Invented")
    assert "signed by S. Invented as investigate" in text
    assert "stated, not authenticated" in text
    assert "no electronic signature in law" in text
    assert "A status is no leave to energise" in text
    text = said(works, "amend", sound(works), "--tested-by", "P. Invented", "--reason", "missing")
    assert "It was signed. The sign-off stays with the record it was given for" in text
    again = printed(
        works, sign_schema(), "sign", sound(works), "--status", "watch", "--text", "humid", "--visit"
    )
    assert again["tests"][0] | {"title": ""} == {
        "test": sound(works), "title": "", "action": "signed", "status": "watch", "tool_status": "sound",
        "text": "humid",
    }  # fmt: skip
    assert "no leave to energise" in again["statement"]


@pytest.mark.parametrize("answer", ("n\n", ""))
def test_a_purge_asks_first(works: Path, monkeypatch: pytest.MonkeyPatch, answer: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(answer))
    words = ("purge", sound(works), "--export", "o.bundle", "--reason", "x", "--store", "s.sqlite")
    done = soakage(*words, folder=works)
    assert done.returncode == 2
    assert "withdraw it instead" in " ".join(done.stderr.split())
    assert not (works / "o.bundle").exists()
    assert len(ids(works)) == 2


def test_a_purge_exports_and_its_file_does_not_come_back_by_itself(works: Path) -> None:
    told = printed(
        works, purge_schema(), "purge", sound(works), "--export", "o.bundle", "--reason", "x", "--yes"
    )
    assert told["export"]["file"] == "o.bundle"
    assert told["export"]["entries"] == 2
    assert list(ids(works)) == ["2026-04-14"]
    assert soakage("check", "--store", "s.sqlite", folder=works).returncode == 0
    assert "--again" in said(works, "import", "sound.csv", code=2)
    assert soakage("import", "sound.csv", "--again", "--store", "s.sqlite", folder=works).returncode == 0
    assert len(ids(works)) == 2


def test_judged_again_by_a_limit_of_ones_own(works: Path) -> None:
    tried = printed(works, rejudge_schema(), "rejudge", "--all", "--limit", "900 MOhm", "--dry-run", code=1)
    assert (tried["dry_run"], tried["judged"], tried["changed"]) == (True, 2, 2)
    text = said(works, "rejudge", "Pump 3 motor", "--limit", "900 MOhm", "--reason", "house rule", code=1)
    assert "sound before (default), unfit now (default)" in text
    assert "Now applied: user.limit-1" in text
    assert (
        "2 judged, 2 with another result, 2 with another status, 2 now investigate or unfit that stood better."
        in text
    )
    assert "Local codes and licensed practice come first." in text
    same = printed(works, rejudge_schema(), "rejudge", "--all", "--limit", "900 MOhm")
    assert (same["judged"], same["changed"], same["tests"]) == (2, 0, [])
    back = printed(works, rejudge_schema(), "rejudge", sound(works))
    (one,) = back["tests"]
    assert (one["before"]["status"], one["after"]["status"]) == ("unfit", "sound")
    assert one["why"][0] == "Verdict: unfit before, sound now."


def test_nothing_to_judge_is_no_success(works: Path) -> None:
    told = printed(works, rejudge_schema(), "rejudge", "--since", "2030-01-01", code=2)
    assert (told["judged"], told["tests"]) == (0, [])
    assert "Nothing was judged" in said(works, "rejudge", "--class", "cable", code=2)
    empty = soakage("rejudge", "--all", "--store", "none.sqlite", folder=works)
    assert empty.returncode == 2
    assert not (works / "none.sqlite").exists(), "a store that is only looked at is not made"


def test_the_temperature_rule_and_the_site_narrow(works: Path) -> None:
    (works / "warm.csv").write_text(
        record(SOUND, started="2026-05-14", site='"Invented works"', winding_temperature='"25 degC"'),
        encoding="utf-8",
    )
    said(works, "import", "warm.csv")
    told = printed(works, rejudge_schema(), "rejudge", "--site", "Invented works", "--until", "2026-05-14",
                   "--since", "2026-05-01", "--temperature-rule", "ieee-43-2000.halving", "--dry-run")  # fmt: skip
    (one,) = told["tests"]
    # halving per 10 K: 500 MOhm at 25 degC are 500 x 0.5^1.5 = 177 at 40 degC (derived)
    assert any("insulation_resistance_60s_corrected" in line and "177" in line for line in one["why"])
