"""What only a process of its own can show: exit status, streams, encodings, an error without a trace."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from running import SRC, UNFIT, process, record, soakage


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "unfit.csv").write_text(record(UNFIT), encoding="utf-8")
    (tmp_path / "bad.csv").write_text(record(year='"long ago"'), encoding="utf-8")
    return tmp_path


def test_a_process_says_what_a_call_says(folder: Path) -> None:
    arguments = ("judge", "unfit.csv", "bad.csv")
    own = process(*arguments, folder=folder, COLUMNS="80", FORCE_COLOR="1")
    here = soakage(*arguments, folder=folder, COLUMNS="80")
    assert (own.returncode, own.stdout, own.stderr) == (here.returncode, here.stdout, here.stderr)
    assert own.returncode == 1
    assert "\x1b" not in own.stdout + own.stderr


def test_a_terminal_that_knows_no_ohm_sign_still_gets_the_verdict(folder: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "soakage", "judge", "unfit.csv"],
        capture_output=True, check=False, cwd=folder,
        env={"PYTHONPATH": str(SRC), "PYTHONIOENCODING": "ascii", "PATH": ""},
    )  # fmt: skip
    assert done.returncode == 1, done.stderr
    assert b"UNFIT" in done.stdout
    assert b"Traceback" not in done.stderr


def test_json_alone_is_on_the_stream(folder: Path) -> None:
    done = process("judge", "unfit.csv", "bad.csv", "--json", folder=folder)
    assert json.loads(done.stdout)["errors"]
    assert done.stderr == ""


def test_an_option_that_is_wrong_ends_in_words(folder: Path) -> None:
    done = process("judge", "unfit.csv", "--limit", "200 V", folder=folder)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
