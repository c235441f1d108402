"""Questions to a store that holds a fleet: counts and figures that follow from how the fleet was made."""

from __future__ import annotations

import json
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from running import soakage

MADE: dict[str, Any] = tomllib.loads((Path(__file__).parent / "cases_fleet.toml").read_text(encoding="utf-8"))
ASKED: list[dict[str, Any]] = MADE["ask"]
TESTS: list[dict[str, Any]] = MADE["test"]
EVERY = pytest.mark.parametrize("ask", ASKED, ids=[ask["name"] for ask in ASKED])
WEATHER = {"ambient_temperature": "20 degC", "relative_humidity": "40 %"}
NEED = ("unfit", "investigate", "invalid test", "not judged", "watch", "sound", "not applicable")


def text_of(test: dict[str, Any]) -> str:
    keys = {
        "site": test["site"], "asset": test["asset"], **MADE["plates"][test["plate"]],
        "method": "insulation-resistance", "started": test["day"], **WEATHER, **test.get("extra", {}),
    }  # fmt: skip
    lines = [f"# {key} = {value}" for key, value in keys.items()]
    return "\n".join(["# soakage = 1", *lines, "time [s],resistance", f"60,{test['reading']}", ""])


@pytest.fixture(scope="module")
def works(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("fleet")
    for test in TESTS:
        (folder / test["file"]).write_text(text_of(test), encoding="utf-8")
    files = [test["file"] for test in TESTS]
    done = soakage("import", *files, "--store", "s.sqlite", "--json", "--as", "A. Invented", folder=folder)
    assert done.returncode == 0, done.stderr  # all were taken in; what they are worth is another question
    told = json.loads(done.stdout)
    assert (told["added"], told["refused"], told["known"]) == (len(TESTS), 0, 0)
    return folder


def asked(folder: Path, *words: str) -> tuple[int, str]:
    done = soakage(*words, "--json", folder=folder, SOAKAGE_STORE="s.sqlite")
    assert done.stderr == ""
    return done.returncode, done.stdout


def found_in(answer: Any, path: str) -> Any:
    for name in path.split("."):
        answer = answer[name]
    return answer


@EVERY
def test_the_answer_follows_from_the_fleet(works: Path, ask: dict[str, Any]) -> None:
    code, out = asked(works, *ask["words"])
    answer = json.loads(out)
    assert code == ask.get("status", 0)
    if "assets" in ask:
        assert sorted(one["asset"] for one in answer["assets"]) == sorted(ask["assets"])
    if "tests" in ask:
        assert len(answer["tests"]) == ask["tests"]
    for path, value in ask.get("holds", {}).items():
        assert found_in(answer, path) == value, path
    for path in ask.get("lacks", ()):
        with pytest.raises(KeyError):
            found_in(answer, path)
    assert [part for part in ask.get("says", ()) if part not in out] == []
    assert [part for part in ask.get("silent", ()) if part in out] == []
    for name in ask.get("leaves", ()):
        assert (works / name).is_file()


@EVERY
def test_the_same_question_in_words(works: Path, ask: dict[str, Any]) -> None:
    words = ask["words"]
    if "-o" in words or "--to" in words:
        place = words.index("-o" if "-o" in words else "--to") + 1
        words = [*words[:place], f"words-{words[place]}", *words[place + 1 :]]
    done = soakage(*words, folder=works, SOAKAGE_STORE="s.sqlite", COLUMNS="80")
    assert done.returncode == ask.get("status", 0)
    assert done.stderr == ""
    assert done.stdout.strip()
    assert "\x1b" not in done.stdout
    for word in ("None", "nan", "Traceback", "<soakage", "safe"):
        assert word not in done.stdout
    for asset in ask.get("assets", ()):
        assert asset in done.stdout.replace("\u00a0", " ")


@pytest.mark.parametrize("test", TESTS, ids=[test["file"] for test in TESTS])
def test_each_test_has_its_status_everywhere(works: Path, test: dict[str, Any]) -> None:
    done = soakage("judge", test["file"], "--json", folder=works)
    (judged,) = json.loads(done.stdout)["records"]
    assert judged["verdict"]["status"] == test["status"]
    assert done.returncode == {"unfit": 1, "investigate": 1, "not judged": 2}.get(test["status"], 0)
    _, out = asked(works, "list", test["asset"], "--since", test["day"], "--until", test["day"])
    wanted = [one["status"] for one in TESTS if (one["asset"], one["day"]) == (test["asset"], test["day"])]
    assert Counter(row["status"] for row in json.loads(out)["tests"]) == Counter(wanted)


@pytest.mark.parametrize("asset", sorted({test["asset"] for test in TESTS}))
def test_an_asset_stands_as_its_latest_visit(works: Path, asset: str) -> None:
    mine = [test for test in TESTS if test["asset"] == asset]
    latest = max(test["day"] for test in mine)
    worst = min((test["status"] for test in mine if test["day"] == latest), key=NEED.index)
    _, out = asked(works, "show", asset)
    standing = json.loads(out)["standing"]
    assert (standing["status"], standing["day"], standing["tests"]) == (worst, latest, len(mine))


@pytest.mark.parametrize("asset", sorted({test["asset"] for test in TESTS}))
def test_a_test_is_shown_by_the_beginning_of_its_id(works: Path, asset: str) -> None:
    _, out = asked(works, "list", asset)
    for row in json.loads(out)["tests"]:
        code, shown = asked(works, "show", row["id"][:8])
        assert code == 0
        assert row["id"] in shown
        assert row["status"] in shown


@pytest.mark.parametrize("site", sorted({test["site"] for test in TESTS}))
def test_what_a_bundle_holds_is_what_another_store_takes(works: Path, tmp_path: Path, site: str) -> None:
    made = soakage("bundle", "-o", str(tmp_path / "site.bundle"), "--site", site, "--store", "s.sqlite",
                   folder=works)  # fmt: skip
    assert made.returncode == 0, made.stderr
    merged = soakage("merge", "site.bundle", "--store", "other.sqlite", folder=tmp_path)
    assert merged.returncode == 0, merged.stderr
    done = soakage("list", "--json", "--store", "other.sqlite", folder=tmp_path)
    taken = json.loads(done.stdout)
    wanted = Counter((test["asset"], test["day"], test["status"]) for test in TESTS if test["site"] == site)
    assert Counter((row["asset"], row["day"], row["status"]) for row in taken["tests"]) == wanted
    again = soakage("merge", "site.bundle", "--store", "other.sqlite", folder=tmp_path)
    assert again.returncode == 0
    assert json.loads(soakage("list", "--json", "--store", "other.sqlite", folder=tmp_path).stdout) == taken


@pytest.mark.parametrize("form", ("record", "parquet", "xlsx", "json"))
def test_an_export_taken_in_elsewhere_is_the_same_fleet(works: Path, tmp_path: Path, form: str) -> None:
    out = soakage(
        "export", "--to", str(tmp_path / "out"), "--format", form, "--store", "s.sqlite", folder=works
    )
    assert out.returncode == 0, out.stderr
    taken = soakage("import", "out", "--store", "other.sqlite", folder=tmp_path)
    assert "Traceback" not in taken.stderr
    here, there = (
        json.loads(soakage("list", "--json", "--store", store, folder=folder).stdout)
        for store, folder in (("s.sqlite", works), ("other.sqlite", tmp_path))
    )
    assert {(row["id"], row["status"], row["day"]) for row in here["tests"]} == {
        (row["id"], row["status"], row["day"]) for row in there["tests"]
    }
    assert {(row["site"], row["asset"], row["class"]) for row in here["assets"]} == {
        (row["site"], row["asset"], row["class"]) for row in there["assets"]
    }


def test_importing_again_adds_nothing(works: Path) -> None:
    files = [test["file"] for test in TESTS]
    done = soakage("import", *files, "--json", "--store", "s.sqlite", folder=works)
    told = json.loads(done.stdout)
    assert (told["added"], told["known"], told["refused"]) == (0, len(TESTS), 0)
    _, out = asked(works, "list")
    assert len(json.loads(out)["tests"]) == len(TESTS)


def test_the_trail_names_who_brought_it_and_that_nobody_checked(works: Path) -> None:
    _, out = asked(works, "trail")
    entries = json.loads(out)["entries"]
    assert {entry["person"] for entry in entries} == {"A. Invented"}
    assert {entry["identity"] for entry in entries} == {"stated, not authenticated"}
    actions = Counter(entry["action"] for entry in entries)
    assert actions["received"] == actions["judged"] == len(TESTS)
