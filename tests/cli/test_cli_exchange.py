"""The commands bundle, merge, conflicts and settle, as a person types them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from running import record, soakage


def said(*arguments: str | Path, folder: Path) -> dict[str, Any]:
    done = soakage(*arguments, "--json", folder=folder)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert isinstance(found, dict)
    return found


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Two stores that know the same pump, each with another year of it."""
    (tmp_path / "pump.csv").write_text(record(), encoding="utf-8")
    for store, year in (("a.sqlite", "2001"), ("b.sqlite", "2002")):
        assert (
            soakage("import", "pump.csv", "--store", store, "--as", store[0], folder=tmp_path).returncode == 0
        )
        edit = (
            "register",
            "edit",
            "asset",
            "Pump 3 motor",
            "--year",
            year,
            "--store",
            store,
            "--as",
            store[0],
        )
        assert soakage(*edit, folder=tmp_path).returncode == 0
    return tmp_path


def test_from_bundle_to_settled_in_json(folder: Path) -> None:
    made = said("bundle", "-o", "a.bundle", "--store", "a.sqlite", folder=folder)
    assert (made["file"], made["part"], made["tests"]) == ("a.bundle", None, 1)
    tried = said("merge", "a.bundle", "--dry-run", "--store", "b.sqlite", folder=folder)
    done = said("merge", "a.bundle", "--store", "b.sqlite", folder=folder)
    assert (tried["dry_run"], done["dry_run"]) == (True, False)
    assert tried["files"] == done["files"]
    (file,) = done["files"]
    assert (file["file"], file["assets"], file["rejudge"]) == ("a.bundle", [], [])
    (conflict,) = file["conflicts"]
    assert (conflict["kind"], conflict["title"], conflict["field"]) == ("asset", "Pump 3 motor", "year")
    assert {(claim["value"], claim["person"]) for claim in conflict["claims"]} == {(2001, "a"), (2002, "b")}
    assert said("conflicts", "--store", "b.sqlite", folder=folder)["conflicts"] == [conflict]
    settled = said("settle", "Pump 3 motor", "year", "2004", "--store", "b.sqlite", folder=folder)
    assert (settled["value"], settled["conflict"]["field"]) == (2004, "year")
    assert said("conflicts", "--store", "b.sqlite", folder=folder)["conflicts"] == []
    again = said("merge", "a.bundle", "--store", "b.sqlite", folder=folder)
    assert (again["files"][0]["entries"], again["files"][0]["new"]) == (0, {})


def test_a_store_that_is_not_there_yet_is_an_empty_one(folder: Path) -> None:
    assert soakage("conflicts", "--store", "none.sqlite", folder=folder).stdout == "Nothing is in conflict.\n"
    made = said("bundle", "-o", "empty.bundle", "--store", "none.sqlite", folder=folder)
    assert (made["tests"], made["entries"]) == (0, 0)
    assert not (folder / "none.sqlite").exists()
    taken = said("merge", "empty.bundle", "--store", "a.sqlite", folder=folder)
    assert taken["files"][0]["entries"] == 0


def test_one_damaged_file_keeps_all_of_them_out(folder: Path) -> None:
    said("bundle", "-o", "a.bundle", "--store", "a.sqlite", folder=folder)
    (folder / "cut.bundle").write_bytes((folder / "a.bundle").read_bytes()[:-1])
    done = soakage("merge", "a.bundle", "cut.bundle", "--store", "new.sqlite", folder=folder)
    assert done.returncode == 2
    assert "cut.bundle: the bundle ends before its end. Nothing of it was taken." in done.stderr
    assert not (folder / "new.sqlite").exists()


@pytest.mark.parametrize(
    ("arguments", "words"),
    (
        (("settle", "Pump 9", "year", "2001"), "Nothing called 'Pump 9' is in conflict"),
        (("settle", "Pump 3 motor", "tag", "x"), "'tag' is not in conflict. In conflict: year."),
        (("settle", "Pump 3 motor", "year"), "Give the value that shall stand, or --take"),
        (
            ("settle", "Pump 3 motor", "year", "2001", "--take", "1"),
            "Give the value that shall stand, or --take",
        ),
        (("settle", "Pump 3 motor", "year", "--take", "3"), "there are the values 1 to 2"),
        (("settle", "Pump 3 motor", "year", "in spring"), "year"),
        (("bundle", "-o", "x.bundle", "--since", "spring"), "there is no such file, and it is no day"),
        (("bundle", "-o", "x.bundle", "--asset", "Pump 9"), "No asset is called 'Pump 9'"),
        (("merge", "pump.csv"), "no bundle of Soakage"),
    ),
)
def test_what_does_not_fit_is_said_with_the_remedy(
    folder: Path, arguments: tuple[str, ...], words: str
) -> None:
    said("bundle", "-o", "a.bundle", "--store", "a.sqlite", folder=folder)
    said("merge", "a.bundle", "--store", "b.sqlite", folder=folder)
    done = soakage(*arguments, "--store", "b.sqlite", folder=folder)
    assert done.returncode == 2
    assert words in done.stderr
    assert not (folder / "x.bundle").exists()
    assert len(said("conflicts", "--store", "b.sqlite", folder=folder)["conflicts"]) == 1
