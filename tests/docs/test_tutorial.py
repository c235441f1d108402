"""The tutorial does what it says: each command is run, in order, with the files it shows."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from docblocks import DOCS, ROOT, blocks, files, flat, follow

PAGE = "tutorial.md"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("tutorial")


@pytest.fixture(scope="module")
def faults(folder: Path) -> list[str]:
    return list(follow(PAGE, folder, ROOT / "src"))


def test_everything_comes_out_as_the_tutorial_says(faults: list[str]) -> None:
    assert faults == []


@pytest.mark.parametrize("name", ("card.pdf", "sheet-U.csv", "sheet-V.csv", "sheet-W.csv", "report.pdf"))
def test_it_leaves_the_files_it_names(faults: list[str], folder: Path, name: str) -> None:
    assert faults == []
    assert (folder / name).stat().st_size > 0


def test_the_report_is_no_draft_once_reviewed(faults: list[str], folder: Path) -> None:
    assert faults == []
    reader = PdfReader(BytesIO((folder / "report.pdf").read_bytes()))
    text = flat(" ".join(page.extract_text() for page in reader.pages))
    assert "Reviewer Two" in text
    assert "draft" not in text.lower()


def test_the_sheet_shown_is_the_planned_one_filled_in(faults: list[str], folder: Path) -> None:
    # what the plan wrote for another phase, apart from the phase, stands in the filled-in sheet word for word
    assert faults == []
    planned = (folder / "sheet-V.csv").read_text(encoding="utf-8").splitlines()
    given = [line for line in planned if line.startswith("#") and not line.endswith("=")]
    shown = files(PAGE)["sheet-U.csv"].splitlines()
    assert [
        line for line in given if "tested" not in line and "earthed" not in line and line not in shown
    ] == []


def test_each_command_block_is_followed_by_what_it_prints_or_a_file() -> None:
    commands = [block for block in blocks(PAGE) if block.language == "sh"]
    printed = [block for block in blocks(PAGE) if block.is_output]
    assert len(commands) >= 10
    assert len(printed) >= 7


def test_it_warns_before_the_first_command() -> None:
    text = (DOCS / PAGE).read_text(encoding="utf-8")
    assert text.index("licensed practice come first") < text.index("```sh")


def test_a_page_that_promises_wrongly_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import docblocks

    (tmp_path / "wrong.md").write_text(
        "```sh\nsoakage explain polarization_index\n```\n\n```text\nPI = R(60 s)\nnothing like it\n```\n"
        "```sh\nsoakage explain nothing_like_it\n```\n"
    )
    monkeypatch.setattr(docblocks, "DOCS", tmp_path)
    found = list(follow("wrong.md", tmp_path, ROOT / "src"))
    assert [fault.split(": ")[1] for fault in found] == ["not printed", "not printed", "exit status 2"]
