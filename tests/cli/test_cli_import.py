"""``soakage import`` as a shell sees it: what comes in, what is refused and why, and that nothing is half-written."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from running import INVESTIGATE, SOUND, SRC, UNFIT, record, soakage

STORE = ("--store", "s.sqlite")


def listed(folder: Path) -> Any:
    return json.loads(soakage("list", "--json", *STORE, folder=folder).stdout)


def imported(folder: Path, *words: str) -> Any:
    return json.loads(soakage("import", "--json", *STORE, *words, folder=folder).stdout)


@pytest.fixture
def works(tmp_path: Path) -> Path:
    for name, text in {
        "site/pump/2025.csv": record(SOUND, started="2025-03-14"),
        "site/pump/2026.csv": record(UNFIT, started="2026-03-14"),
        "site/fan.txt": record(SOUND, asset='"Fan 1"'),
        "site/.hidden.csv": record(SOUND, asset='"Hidden"'),
        "site/.trash/old.csv": record(SOUND, asset='"Trash"'),
        "site/~$open.xlsx": "lock",
        "site/photo.jpg": "no record",
        "bad.csv": record(rated_voltage='"1,500 V"', year='"long ago"'),
    }.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def test_a_folder_is_taken_with_all_below_it_in_order(works: Path) -> None:
    taken = imported(works, "site")
    names = [Path(file["file"]).as_posix() for file in taken["files"]]
    assert names == ["site/fan.txt", "site/pump/2025.csv", "site/pump/2026.csv"], (
        "hidden and others passed over"
    )
    assert [file["outcome"] for file in taken["files"]] == ["added"] * 3
    assert [file["tests"][0]["status"] for file in taken["files"]] == ["sound", "sound", "unfit"]
    assert (taken["added"], taken["tests_added"], len(taken["assets_added"])) == (3, 3, 2)


def test_the_exit_status_says_whether_files_came_in_not_how_tests_came_out(works: Path) -> None:
    assert soakage("import", "site", *STORE, folder=works).returncode == 0, "an unfit one is in"
    assert soakage("import", "site", *STORE, folder=works).returncode == 0, "known ones are in"
    assert soakage("import", "bad.csv", *STORE, folder=works).returncode == 2
    assert soakage("import", "site", "bad.csv", *STORE, folder=works).returncode == 2


def test_the_same_again_adds_nothing(works: Path) -> None:
    imported(works, "site")
    before = listed(works)
    again = imported(works, "site", "site/fan.txt")
    assert (again["added"], again["known"], again["assets_added"]) == (0, 3, [])
    assert listed(works) == before


def test_one_content_in_two_files_is_one_test(works: Path) -> None:
    (works / "copy.csv").write_text((works / "site/fan.txt").read_text(encoding="utf-8"), encoding="utf-8")
    semicolons = record(SOUND, asset='"Fan 1"').replace("15,5000", "15;5000")
    assert semicolons != record(SOUND, asset='"Fan 1"')
    taken = imported(works, "site/fan.txt", "copy.csv")
    assert len(listed(works)["tests"]) == 1
    assert taken["tests_added"] == 1
    assert [file["outcome"] for file in taken["files"]] == ["added", "known"]


def test_a_dry_run_says_the_same_and_keeps_nothing(works: Path) -> None:
    dry = imported(works, "--dry-run", "site", "bad.csv")
    assert not (works / "s.sqlite").exists()
    real = imported(works, "site", "bad.csv")
    assert dry.pop("dry_run") is True
    assert real.pop("dry_run") is False
    assert dry == real


def test_a_refused_file_is_told_with_every_reason_and_leaves_nothing(works: Path) -> None:
    done = soakage("import", "bad.csv", "site/fan.txt", "nowhere.csv", *STORE, folder=works)
    assert done.returncode == 2
    flat = " ".join(done.stdout.split())
    for part in (
        "Refused (2)",
        "bad.csv:",
        "rated_voltage",
        "1,500 V",
        "Allowed:",
        "year",
        "long ago",
        "nowhere.csv",
    ):
        assert part in flat
    assert "1 file taken in (1 test, 1 new asset), 0 known already, 2 refused." in flat
    assert [asset["asset"] for asset in listed(works)["assets"]] == ["Fan 1"]


def test_a_folder_without_files_and_one_that_is_not_there(works: Path) -> None:
    (works / "empty").mkdir()
    for name in ("empty", "nowhere"):
        done = soakage("import", name, *STORE, folder=works)
        assert done.returncode == 2
        assert name in done.stdout + done.stderr
        assert "Traceback" not in done.stderr


def test_words_for_a_person_end_with_what_is_next(works: Path) -> None:
    done = soakage("import", "site", *STORE, folder=works)
    lines = [line for line in done.stdout.splitlines() if line.strip()]
    assert lines[0].split() == ["file", "outcome", "asset", "status"]
    assert any(line.split()[-1] == "unfit" for line in lines)
    assert lines[-1].startswith("Next: 'soakage list'")
    dry = soakage("import", "site", "--dry-run", *STORE, folder=works).stdout
    assert dry.startswith("A dry run: nothing was kept.")
    for word in ("is safe", "may be energised", "all clear"):
        assert word not in done.stdout.lower()


def test_an_asset_is_matched_whole_never_by_its_beginning(works: Path) -> None:
    for number, name in enumerate(("Pump 3", "Pump 3 motor", "Pump 33")):
        (works / f"{number}.csv").write_text(record(SOUND, asset=f'"{name}"'), encoding="utf-8")
    taken = imported(works, "0.csv", "1.csv", "2.csv")
    assert len(taken["assets_added"]) == 3
    assert not any(test["findings"] for file in taken["files"] for test in file["tests"])


@pytest.mark.parametrize("spelling", ("pump 3 motor", "Pump  3  motor", "PUMP 3 MOTOR", "Pump3 motor"))
def test_a_spelling_that_differs_in_capitals_or_blanks_is_said(works: Path, spelling: str) -> None:
    (works / "one.csv").write_text(record(SOUND), encoding="utf-8")
    (works / "other.csv").write_text(record(UNFIT, asset=f'"{spelling}"'), encoding="utf-8")
    imported(works, "one.csv")
    taken = imported(works, "other.csv")
    codes = [finding["code"] for finding in taken["files"][0]["tests"][0]["findings"]]
    same = " ".join(spelling.split()) == "Pump 3 motor"
    assert codes == ([] if same else ["asset_nearly_known"])
    assert len(listed(works)["assets"]) == (1 if same else 2)


def test_letters_beyond_english_are_known_in_both_cases(works: Path) -> None:
    (works / "one.csv").write_text(record(SOUND, asset='"Überströmpumpe 1"'), encoding="utf-8")
    (works / "other.csv").write_text(record(SOUND, asset='"ÜBERSTRÖMPUMPE 1"'), encoding="utf-8")
    imported(works, "one.csv")
    taken = imported(works, "other.csv")
    assert taken["files"][0]["tests"][0]["findings"][0]["code"] == "asset_nearly_known"
    found = json.loads(soakage("list", "überSTRÖM", "--json", *STORE, folder=works).stdout)
    assert len(found["assets"]) == 2


def test_one_name_at_two_sites_is_nothing_odd(works: Path) -> None:
    for name in ("North", "South"):
        (works / f"{name}.csv").write_text(record(SOUND, site=f'"{name}"'), encoding="utf-8")
    taken = imported(works, "North.csv", "South.csv")
    assert len(taken["assets_added"]) == 2
    assert [test["findings"] for file in taken["files"] for test in file["tests"]] == [[], []]


def test_a_record_without_an_asset_is_kept_and_said(works: Path) -> None:
    (works / "none.csv").write_text(record(SOUND, asset=""), encoding="utf-8")
    taken = imported(works, "none.csv")
    test = taken["files"][0]["tests"][0]
    assert (test["asset_id"], test["findings"][0]["code"]) == (None, "asset_not_named")
    assert "--asset" in test["findings"][0]["remedy"]
    assert listed(works)["tests"][0]["asset_id"] is None
    named = imported(works, "none.csv", "--asset", "Pump 9")
    assert named["files"][0]["tests"][0]["asset"] == "Pump 9"


def test_options_win_over_files_as_in_judging(works: Path) -> None:
    (works / "cold.csv").write_text(record(SOUND, winding_temperature=""), encoding="utf-8")
    assert imported(works, "cold.csv")["files"][0]["tests"][0]["status"] == "not judged"
    taken = imported(works, "cold.csv", "--winding-temperature", "40 degC")
    assert taken["files"][0]["tests"][0]["status"] == "sound"
    own = imported(works, "site/fan.txt", "--limit", "5 TOhm")
    assert own["files"][0]["tests"][0]["status"] == "unfit"


def test_the_register_fills_in_what_a_record_leaves_out(works: Path) -> None:
    (works / "whole.csv").write_text(record(SOUND, started="2025-01-02"), encoding="utf-8")
    bare = record(
        INVESTIGATE,
        started="2026-01-02",
        rated_voltage="",
        winding="",
        insulation="",
        year="",
        thermal_class="",
    )
    (works / "bare.csv").write_text(bare, encoding="utf-8")
    taken = imported(works, "whole.csv", "bare.csv")
    assert [file["tests"][0]["status"] for file in taken["files"]] == ["sound", "investigate"]
    alone = json.loads(soakage("judge", "bare.csv", "--json", folder=works).stdout)
    assert alone["records"][0]["verdict"]["status"] != "investigate"


RECIPE_TABLE = "Date;Motor;R60s (MΩ);Temp (°C)\n2025-04-03;Mill 1;520;21\n2026-04-02;Mill 1;95;22\n"


def test_a_table_comes_in_by_a_recipe_from_a_file_or_by_its_name(works: Path) -> None:
    (works / "history.csv").write_text(RECIPE_TABLE, encoding="utf-8")
    made = soakage(
        "recipe", "guess", "history.csv", "-o", "mill.toml", "--set", "constants.class=rotating-machine",
        "--set", "column.2.key=asset", "--set", "constants.test_voltage=500 V", folder=works,
    )  # fmt: skip
    assert (works / "mill.toml").is_file(), made.stdout + made.stderr
    taken = imported(works, "history.csv", "--recipe", "mill.toml")
    assert [len(file["tests"]) for file in taken["files"]] == [2], taken
    saved = soakage("recipe", "save", "mill.toml", "--name", "mill tables", *STORE, folder=works)
    assert saved.stdout.startswith("Kept: mill tables")
    assert soakage(
        "recipe", "save", "mill.toml", "--name", "mill tables", *STORE, folder=works
    ).stdout.startswith("Already")
    assert soakage("recipe", "list", *STORE, folder=works).stdout.split("\n")[0] == "mill tables"
    assert imported(works, "history.csv", "--recipe", "mill tables")["known"] == 1
    soakage("recipe", "write", "mill tables", "-o", "back.toml", *STORE, folder=works)
    assert imported(works, "history.csv", "--recipe", "back.toml")["known"] == 1


def test_a_recipe_that_is_not_there_is_told_with_those_that_are(works: Path) -> None:
    done = soakage("import", "site", "--recipe", "unheard of", *STORE, folder=works)
    assert done.returncode == 2
    assert "unheard of" in done.stderr
    assert "soakage recipe save" in done.stderr


def test_who_works_there_is_kept(works: Path) -> None:
    soakage("import", "site/fan.txt", *STORE, "--as", "  R.  Invented ", folder=works)
    test = listed(works)["tests"][0]["id"]
    page = json.loads(soakage("show", test, "--json", *STORE, folder=works).stdout)
    assert [one["person"] for one in page["revisions"]] == ["R. Invented"]


def test_ctrl_c_stops_between_changes_and_says_what_was_kept(works: Path) -> None:
    many = works / "many"
    many.mkdir()
    for number in range(1500):
        text = record(
            SOUND,
            asset=f'"Motor {number % 40}"',
            started=f"20{10 + number % 16}-0{1 + number % 9}-14T0{number % 10}:{number % 60:02d}:00",
        )
        (many / f"{number:04}.csv").write_text(
            text + "".join(f"{t},5000,3.9\n" for t in range(601, 700)), encoding="utf-8"
        )
    words = [sys.executable, "-m", "soakage", "import", "many", *STORE]
    env = {**os.environ, "PYTHONPATH": str(SRC)}
    with subprocess.Popen(
        words, cwd=works, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as run:
        for _ in range(400):
            if (works / "s.sqlite").exists():
                break
            time.sleep(0.05)
        time.sleep(0.2)
        run.send_signal(signal.SIGINT)
        out, err = run.communicate(timeout=120)
    assert run.returncode == 2, err
    assert "Traceback" not in err
    if "Stopped" in err:  # it was not quicker than we are
        said = int(err.split("Stopped: ")[1].split(" ")[0])
        assert "Give the same command again for the rest" in " ".join(out.split())
        assert len(listed(works)["tests"]) == said
    again = imported(works, "many")
    assert again["refused"] == 0
    assert len(listed(works)["tests"]) == len(
        {test["test"] for file in again["files"] for test in file["tests"]}
    )
