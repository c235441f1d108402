"""The page of the register does what it says: each command is run, in order, with the files it shows."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from docblocks import DOCS, ROOT, files, follow
from soakage.cli.list import command

PAGE = "register.md"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("register")
    (place / "tests").mkdir()
    return place


@pytest.fixture(scope="module")
def faults(folder: Path) -> list[str]:
    return list(follow(PAGE, folder, ROOT / "src"))


def test_everything_comes_out_as_the_page_says(faults: list[str]) -> None:
    assert faults == []


def test_the_export_holds_what_the_page_lists(faults: list[str], folder: Path) -> None:
    assert faults == []
    listed = json.loads((folder / "out" / "export.json").read_text(encoding="utf-8"))
    tops = {file["path"].split("/")[0] for file in listed["files"]}
    assert tops == {"records", "register.json", "tests.jsonl", "verdicts.jsonl", "originals"}
    text = (DOCS / PAGE).read_text(encoding="utf-8")
    for name in (*tops, "attachments", "export.json"):
        assert f"`{name}" in text


def test_the_files_came_as_they_are(faults: list[str], folder: Path) -> None:
    assert faults == []
    kept = {file.read_text(encoding="utf-8") for file in (folder / "out" / "originals").iterdir()}
    assert kept == set(files(PAGE).values())


def test_every_filter_is_named() -> None:
    text = (DOCS / PAGE).read_text(encoding="utf-8")
    missing = [
        option
        for part in command.params
        for option in part.opts
        if option.startswith("--")
        and option not in ("--json", "--limit", "--as")
        and f"`{option}" not in text
    ]
    assert missing == []
