"""The commands check, trail, backup and restore as a person types them: words, JSON, exit statuses."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from subprocess import CompletedProcess
from typing import Any

import pytest

from running import INVESTIGATE, SOUND, record, soakage

ASSET = "Pump 3 motor"


def run(folder: Path, *words: str) -> CompletedProcess[str]:
    return soakage(*words, "--store", "s.sqlite", "--as", "N. Invented", folder=folder)


def told(folder: Path, *words: str) -> Any:
    return json.loads(run(folder, *words, "--json").stdout)


def spoil(folder: Path, statement: str) -> None:
    with closing(sqlite3.connect(folder / "s.sqlite", isolation_level=None)) as file:
        file.execute(statement)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "a.csv").write_text(record(SOUND), encoding="utf-8")
    (tmp_path / "b.csv").write_text(
        record(INVESTIGATE, started="2025-03-14T09:20:00+02:00"), encoding="utf-8"
    )
    assert run(tmp_path, "import", "a.csv", "b.csv").returncode == 0
    return tmp_path


def test_a_store_that_does_not_exist_passes_and_is_not_made(tmp_path: Path) -> None:
    done = run(tmp_path, "check")
    assert (done.returncode, "no store" in done.stdout) == (0, True)
    assert told(tmp_path, "check") | {"repaired": None} == told(tmp_path, "check")
    assert told(tmp_path, "check")["whole"] is True
    assert told(tmp_path, "trail", "--verify")["verified"]["whole"] is True
    assert told(tmp_path, "trail")["entries"] == []
    assert list(tmp_path.iterdir()) == []


def test_a_whole_store_is_said_to_be_whole(folder: Path) -> None:
    done = run(folder, "check")
    assert (done.returncode, done.stdout.startswith("The store is whole: ")) == (0, True)
    found = told(folder, "check")
    assert (found["whole"], found["flaws"], found["entries"] > 4, found["contents"] > 4) == (
        True,
        [],
        True,
        True,
    )


def test_flaws_are_told_with_their_place_and_what_to_do(folder: Path) -> None:
    spoil(folder, "update test set sentence = 'All is well.'")
    done = run(folder, "check")
    assert done.returncode == 1
    assert "The row is not what the journal says: sentence." in " ".join(done.stdout.split())
    assert "soakage check --repair" in " ".join(done.stdout.split())
    found = told(folder, "check")
    assert (found["whole"], found["found"]) == (False, {"tables": 2})
    assert {flaw["part"] for flaw in found["flaws"]} == {"tables"}
    assert all(set(flaw) == {"part", "place", "problem", "remedy"} for flaw in found["flaws"])


def test_repair_makes_the_tables_anew_and_says_so(folder: Path) -> None:
    before = run(folder, "list").stdout
    spoil(folder, "update test set sentence = 'All is well.', status = 'unfit'")
    assert run(folder, "list").stdout != before
    done = run(folder, "check", "--repair")
    assert (done.returncode, "were made anew from the journal" in done.stdout) == (0, True)
    assert run(folder, "list").stdout == before
    assert told(folder, "check")["whole"]


def test_a_journal_that_does_not_hold_is_not_repaired(folder: Path) -> None:
    spoil(folder, "update entry set reason = 'put in' where number = 2")
    assert run(folder, "check").returncode == 1
    done = run(folder, "check", "--repair")
    assert (done.returncode, "nothing was made anew" in done.stderr) == (2, True)
    done = run(folder, "trail", "--verify")
    assert (done.returncode, "The trail does not hold: 1 faults" in done.stdout) == (1, True)
    (fault,) = told(folder, "trail", "--verify")["verified"]["faults"]
    assert (fault["number"], "its hash does not fit" in fault["problem"]) == (2, True)


# Who changed what


def test_the_trail_of_an_asset_tells_who_when_what_and_why(folder: Path) -> None:
    found = told(folder, "trail", ASSET)["entries"]
    assert [entry["at"] for entry in found] == sorted(entry["at"] for entry in found)
    assert {entry["kind"] for entry in found} == {"asset", "test", "visit"}
    assert {entry["person"] for entry in found} == {"N. Invented"}
    assert {entry["identity"] for entry in found} == {"stated, not authenticated"}
    stated = next(entry for entry in found if entry["kind"] == "asset")
    assert (stated["action"], stated["before"], stated["after"]["rated_voltage"]) == ("stated", {}, 6600)
    judged = [entry for entry in found if entry["action"] == "judged"]
    assert {entry["about"]["status"] for entry in judged} == {"sound", "investigate"}
    files = [entry["about"]["file"] for entry in found if entry["action"] == "received"]
    assert sorted(files) == ["a.csv", "b.csv"]


def test_the_trail_of_a_test_is_its_own(folder: Path) -> None:
    tests = told(folder, "list")["tests"]
    one = str(tests[0]["test"] if "test" in tests[0] else tests[0]["id"])
    found = told(folder, "trail", one)["entries"]
    assert {entry["subject"] for entry in found} == {one}
    assert found[0]["action"] == "received"
    text = run(folder, "trail", one).stdout
    assert ("received" in text, "N. Invented (stated, not authenticated)" in text) == (True, True)


def test_what_was_before_is_shown_beside_what_is_now(folder: Path) -> None:
    with closing(sqlite3.connect(folder / "s.sqlite")) as file:
        (asset,) = file.execute("select id from asset").fetchone()
    from soakage.store.address import address
    from soakage.store.store import Store

    with Store(address(str(folder / "s.sqlite"))) as store, store.writing("R. Invented") as writer:
        writer.state("asset", asset, {"year": 2007}, reason="The plate was read again.")
    last = told(folder, "trail", ASSET)["entries"][-1]
    assert (last["before"], last["after"], last["reason"], last["person"]) == (
        {"year": 2004}, {"year": 2007}, "The plate was read again.", "R. Invented",
    )  # fmt: skip
    text = run(folder, "trail", ASSET).stdout
    assert ("year: 2004 -> 2007" in text, "reason: The plate was read again." in text) == (True, True)


def test_an_unknown_name_is_refused_and_no_beginning_of_one_is_taken(folder: Path) -> None:
    for name in ("Pump", "Pump 3 motor 2"):
        done = run(folder, "trail", name)
        assert (done.returncode, "No asset is called" in done.stderr) == (2, True)


def test_the_whole_trail_and_its_verification_in_one(folder: Path) -> None:
    found = told(folder, "trail")
    assert (found["verified"], len(found["entries"])) == (None, told(folder, "check")["entries"])
    only = told(folder, "trail", "--verify")
    assert (only["entries"], only["verified"]["entries"]) == ([], len(found["entries"]))
    both = told(folder, "trail", ASSET, "--verify")
    assert (both["verified"]["whole"], len(both["entries"]) > 3) == (True, True)


# Backup and restore


def test_a_backup_is_written_once_and_comes_back(folder: Path) -> None:
    done = run(folder, "backup", "b.sqlite")
    assert (done.returncode, "2 tests" in done.stdout, "verified" in done.stdout) == (0, True, True)
    again = run(folder, "backup", "b.sqlite")
    assert (again.returncode, "--force" in again.stderr) == (2, True)
    made = told(folder, "backup", "b.sqlite", "--force")
    assert (made["rows"]["test"], made["check"]["whole"], made["noted"]) == (2, True, True)
    assert made["size"] == (folder / "b.sqlite").stat().st_size
    back = soakage("restore", "b.sqlite", "--store", "other.sqlite", "--json", folder=folder)
    done_back = json.loads(back.stdout)
    assert (back.returncode, done_back["rows"]["test"], done_back["kept"]) == (0, 2, None)
    assert done_back["store"] != done_back["was"]
    listed = soakage("list", "--store", "other.sqlite", folder=folder).stdout
    assert listed == run(folder, "list").stdout
    assert soakage("check", "--store", "other.sqlite", folder=folder).returncode == 0


def test_what_was_there_is_kept_beside_it(folder: Path) -> None:
    run(folder, "backup", "b.sqlite")
    (folder / "c.csv").write_text(record(SOUND, started="2024-03-14T09:20:00+02:00"), encoding="utf-8")
    run(folder, "import", "c.csv")
    refused = run(folder, "restore", "b.sqlite")
    assert (refused.returncode, "--force" in refused.stderr) == (2, True)
    assert len(told(folder, "list")["tests"]) == 3
    done = run(folder, "restore", "b.sqlite", "--force", "--keep", "kept.sqlite")
    assert (done.returncode, "kept.sqlite" in done.stdout) == (0, True)
    assert len(told(folder, "list")["tests"]) == 2
    kept = soakage("list", "--store", "kept.sqlite", "--json", folder=folder)
    assert len(json.loads(kept.stdout)["tests"]) == 3


def test_a_damaged_store_is_backed_up_as_it_is_and_said_to_be_damaged(folder: Path) -> None:
    spoil(folder, "update entry set reason = 'put in' where number = 2")
    done = run(folder, "backup", "b.sqlite")
    assert (done.returncode, "the store itself is damaged" in done.stdout) == (1, True)
    back = soakage("restore", "b.sqlite", "--store", "other.sqlite", folder=folder)
    assert (back.returncode, "this backup is damaged" in back.stderr) == (2, True)
    assert not (folder / "other.sqlite").exists()


def test_there_is_nothing_to_back_up_or_to_bring_back(tmp_path: Path) -> None:
    assert "no store yet" in run(tmp_path, "backup", "b.sqlite").stderr
    assert "no such file" in run(tmp_path, "restore", "b.sqlite").stderr
    assert list(tmp_path.iterdir()) == []
