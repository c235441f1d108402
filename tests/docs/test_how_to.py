"""The how-to pages, followed word for word in a copy of the house: what they add comes by itself."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from docblocks import DOCS, blocks, files, follow, house_copy, run


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    return house_copy(tmp_path)


def test_a_criterion_comes_by_itself(tmp_path: Path, copy: Path) -> None:
    assert list(follow("how-to/criterion.md", tmp_path, copy)) == []
    # "its examples are its tests": what it calls them, the rule itself says
    for value, status in (("20 MOhm", "sound"), ("19.9 MOhm", "investigate")):
        name = "invented-works-7.minimum-resistance"
        words = ["soakage", "explain", "--json", name, f"insulation_resistance_60s_corrected={value}"]
        done = run(words, tmp_path, copy)
        assert json.loads(done.stdout)["status"] == status, done.stderr


def test_a_method_comes_by_itself(tmp_path: Path, copy: Path) -> None:
    assert list(follow("how-to/method.md", tmp_path, copy)) == []


def test_a_method_is_one_file() -> None:
    made = [name for name in files("how-to/method.md") if name.endswith(".py")]
    assert made == ["src/soakage/methods/five_minute_resistance.py"]


def test_the_methods_file_is_named_as_the_page_says() -> None:
    (name,) = [name for name in files("how-to/method.md") if name.endswith(".py")]
    assert f'id="{Path(name).stem.replace("_", "-")}"' in files("how-to/method.md")[name]


def test_an_importer_comes_by_itself(tmp_path: Path, copy: Path) -> None:
    assert list(follow("how-to/importer.md", tmp_path, copy)) == []


def test_an_importer_without_its_sample_is_missed(tmp_path: Path, copy: Path) -> None:
    (name,) = [name for name in files("how-to/importer.md") if name.endswith(".py")]
    (tmp_path / name).write_text(files("how-to/importer.md")[name], encoding="utf-8")
    done = run(["pytest", "tests/importers/test_importers_golden.py"], tmp_path, copy)
    assert done.returncode == 1
    assert "works-note" in done.stdout


def test_the_link_page_promises_nothing_that_is_there() -> None:
    text = (DOCS / "how-to" / "link.md").read_text(encoding="utf-8")
    assert "not built yet" in text
    assert [block for block in blocks("how-to/link.md") if block.language == "sh"] == []
