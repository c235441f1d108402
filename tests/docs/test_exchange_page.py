"""The page on exchange does what it says: each command is run, in order, with the files it shows."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path

import pytest

from docblocks import DOCS, ROOT, follow, run
from soakage.cli.bundle import command as bundle
from soakage.cli.merge import command as merge
from soakage.cli.settle import command as settle
from soakage.store.frames import LONGEST, VERSION, frames

PAGE = "exchange.md"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("exchange")


@pytest.fixture(scope="module")
def faults(folder: Path) -> list[str]:
    return list(follow(PAGE, folder, ROOT / "src"))


def test_everything_comes_out_as_the_page_says(faults: list[str]) -> None:
    assert faults == []


def test_office_and_laptop_hold_the_same_in_the_end(faults: list[str], folder: Path) -> None:
    assert faults == []
    shown = [
        json.loads(
            run(["soakage", "show", "Weir pump 2", "--json", "--store", store], folder, ROOT / "src").stdout
        )
        for store in ("office.sqlite", "ann.sqlite")
    ]
    assert shown[0] == shown[1]
    assert shown[0]["asset"]["year"] == 2011
    assert sorted(test["section"] for test in shown[0]["tests"]) == ["U", "V"]


def test_the_file_is_made_as_the_page_tells(faults: list[str], folder: Path) -> None:
    assert faults == []
    text = (DOCS / PAGE).read_text(encoding="utf-8")
    data = (folder / "ann.bundle").read_bytes()
    assert data.startswith(f"soakage bundle {VERSION:04d}\n".encode())
    found = {kind.decode() for kind, _, _ in frames(io.BytesIO(data), "ann.bundle")}
    assert found == set(re.findall(r"^\| `([A-Z]{4})` \|", text, re.MULTILINE))
    (head,) = (content for kind, content, _ in frames(io.BytesIO(data), "x") if kind == b"HEAD")
    row = next(line for line in text.splitlines() if line.startswith("| `HEAD`"))
    assert set(re.findall(r"`(\w+)`", row)) - {"HEAD"} == set(json.loads(head))
    assert f"{LONGEST[b'ENTR'] >> 20} MiB of entries" in text
    assert f"{LONGEST[b'BLOB'] >> 20} MiB for one content" in text


def test_every_option_is_named() -> None:
    text = (DOCS / PAGE).read_text(encoding="utf-8")
    options = {
        option
        for one in (bundle, merge, settle)
        for part in one.params
        for option in part.opts
        if option.startswith("--")
    }
    assert {name for name in options - {"--json", "--output"} if name not in text} == set()
