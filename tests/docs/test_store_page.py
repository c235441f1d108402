"""The page of the store does what it says: each command is run, in order, with the file it shows."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from docblocks import DOCS, ROOT, blocks, follow, run
from soakage.store.checkup import REMEDIES

PAGE = "store.md"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("store")


@pytest.fixture(scope="module")
def faults(folder: Path) -> list[str]:
    return list(follow(PAGE, folder, ROOT / "src"))


def test_everything_comes_out_as_the_page_says(faults: list[str], folder: Path) -> None:
    assert faults == []
    made = {path.name for path in folder.iterdir() if not path.name.startswith(".")}
    assert {"pump-3.csv", "works.sqlite", "works-backup.sqlite", "laptop.sqlite"} <= made


def test_it_shows_every_command_of_trust() -> None:
    shown = {words[1] for block in blocks(PAGE) if block.language == "sh" for words in block.commands}
    assert shown == {"import", "check", "trail", "backup", "restore"}


def test_every_part_of_a_check_stands_on_the_page() -> None:
    text = (DOCS / PAGE).read_text(encoding="utf-8")
    assert [part for part in REMEDIES if f"| {part} |" not in text] == []


def test_every_key_of_the_json_stands_on_the_page(faults: list[str], folder: Path) -> None:
    assert faults == []
    text = (DOCS / PAGE).read_text(encoding="utf-8")
    orders = (
        "soakage check", "soakage trail --verify", "soakage trail", "soakage backup again.sqlite",
        "soakage restore works-backup.sqlite --force --keep kept.sqlite",
    )  # fmt: skip
    for order in orders:
        done = run([*order.split(), "--store", "laptop.sqlite", "--json"], folder, ROOT / "src")
        assert done.returncode == 0, done.stderr
        found = json.loads(done.stdout)
        keys = {
            *found,
            *(found.get("verified") or {}),
            *(found["entries"][0] if order.endswith("trail") else {}),
        }
        assert [key for key in keys if f"`{key}`" not in text] == [], order


def test_the_files_it_names_are_there() -> None:
    text = (DOCS / PAGE).read_text(encoding="utf-8")
    for name in (
        "src/soakage/store/schema.py",
        "src/soakage/store/rows.py",
        "tests/store/old",
        "tools/old_store.py",
    ):
        assert (ROOT / name).exists()
        assert name.removesuffix(".py").replace("/", ".") in text or name in text
