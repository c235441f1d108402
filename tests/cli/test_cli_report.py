"""``soakage report`` and ``soakage demo`` as a shell sees them."""

from __future__ import annotations

from pathlib import Path

import pytest

from running import SOUND, UNFIT, record, soakage

BEGINS = {"pdf": b"%PDF", "html": b"<!DOCTYPE html", "xlsx": b"PK"}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "sound.csv").write_text(record(SOUND), encoding="utf-8")
    (tmp_path / "unfit.csv").write_text(record(UNFIT), encoding="utf-8")
    (tmp_path / "bad.csv").write_text(record(year='"long ago"'), encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize("ending", BEGINS)
def test_each_ending_is_written_whole(folder: Path, ending: str) -> None:
    done = soakage("report", "sound.csv", "-o", f"out.{ending}", folder=folder)
    assert done.returncode == 0, done.stderr
    assert f"Written: out.{ending}" in done.stdout
    content = (folder / f"out.{ending}").read_bytes()
    assert content.lower().startswith(BEGINS[ending].lower())
    assert not list(folder.glob(".*.part"))


def test_the_exit_status_is_that_of_judge_and_bad_files_are_told(folder: Path) -> None:
    done = soakage("report", "unfit.csv", "bad.csv", "-o", "out.html", folder=folder)
    assert done.returncode == 1
    assert done.stderr.startswith("bad.csv:")
    assert "bad.csv" in (folder / "out.html").read_text(encoding="utf-8")
    assert soakage("report", "sound.csv", "bad.csv", "-o", "out.html", folder=folder).returncode == 2


def test_nothing_readable_writes_nothing(folder: Path) -> None:
    done = soakage("report", "bad.csv", "-o", "out.html", folder=folder)
    assert done.returncode == 2
    assert not (folder / "out.html").exists()
    assert "long ago" in done.stderr


@pytest.mark.parametrize(
    ("output", "words"),
    (("out.docx", (".pdf, .html, .xlsx", "docx")), ("nowhere/out.html", ("nowhere", "folder"))),
)
def test_an_output_that_cannot_be_written(folder: Path, output: str, words: tuple[str, ...]) -> None:
    done = soakage("report", "sound.csv", "-o", output, folder=folder)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    for word in words:
        assert word in done.stderr


def test_demo_writes_judges_and_names_the_next_command(tmp_path: Path) -> None:
    done = soakage("demo", "--folder", "shown", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    text = " ".join(done.stdout.split())
    for part in ("invented", "Record files: shown", "Report: shown/report.pdf", "Try next:", "soakage judge"):
        assert part in text
    assert "UNFIT" in text
    assert (tmp_path / "shown" / "report.pdf").read_bytes().startswith(b"%PDF")
    first = text.rsplit("soakage judge ", 1)[1].split()[0]
    assert soakage("judge", first, folder=tmp_path).returncode in (0, 1, 2)


def test_demo_into_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("x", encoding="utf-8")
    done = soakage("demo", "--folder", "taken", folder=tmp_path)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
