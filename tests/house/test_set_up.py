"""The first minutes of a newcomer: README, locks, the command's start."""

from __future__ import annotations

import os
import re
import subprocess
import sys

import pytest

from house import ROOT
from tools.readme import commands, first_section, promised_status

LOCKS = sorted((ROOT / "requirements").glob("*.txt"))
HEAVY = {"numpy", "scipy", "duckdb", "typst", "vl_convert", "openpyxl", "jinja2", "pandas"}


def readme() -> str:
    return (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_readme_opens_with_two_commands() -> None:
    assert commands(first_section(readme())) == ["python3 go.py", "python3 go.py test"]


def test_the_readme_promises_an_exit_status() -> None:
    assert promised_status(first_section(readme())) == 0


def test_the_gate_is_the_readmes_second_command() -> None:
    assert (
        commands(first_section(readme()))[1]
        in (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    )


def test_the_readme_warns_before_it_goes_on() -> None:
    headings = re.findall(r"^## (.*)$", readme(), re.MULTILINE)
    assert headings[0] == "This work can kill"


def test_there_are_the_two_locks() -> None:
    assert [file.name for file in LOCKS] == ["run.txt", "test.txt"]


@pytest.mark.parametrize("lock", LOCKS, ids=lambda file: file.name)
def test_a_lock_pins_by_hash_and_names_no_address(lock: object) -> None:
    text = (ROOT / "requirements" / str(lock)).read_text(encoding="utf-8")
    entries = re.split(r"\n(?=\S)", text.strip())
    assert entries
    for entry in entries:
        assert re.match(r"[a-z0-9._-]+==\S+", entry), entry[:80]
        assert "--hash=sha256:" in entry, entry[:80]
    assert "://" not in text
    assert "--index" not in text


def test_the_test_lock_holds_all_of_the_run_lock() -> None:
    pins = [set(re.findall(r"^\S+==\S+", file.read_text(encoding="utf-8"), re.MULTILINE)) for file in LOCKS]
    assert pins[0] - pins[1] == set()


def test_every_dependency_is_locked() -> None:
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = {re.split(r"[<>=\[; ]", entry)[0].lower() for entry in project["dependencies"]}
    locked = set(
        re.findall(r"^(\S+)==", (ROOT / "requirements" / "run.txt").read_text(encoding="utf-8"), re.MULTILINE)
    )
    assert asked - locked == set()


def test_help_loads_nothing_heavy() -> None:
    start = "import sys; sys.argv = ['soakage', '--help']; from soakage.cli import main; main()"
    env = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-c", start], env=env, check=True, capture_output=True, text=True
    )
    loaded = {
        line.rpartition("|")[2].strip().partition(".")[0] for line in done.stderr.splitlines() if "|" in line
    }
    assert "soakage" in loaded
    assert loaded & HEAVY == set()
    assert "Usage" in done.stdout


def test_an_old_python_is_told_so_and_not_shown_a_syntax_error() -> None:
    # What Python 2.7 and 3.4 cannot read: f-strings, annotations, underscores in numbers, walrus.
    text = (ROOT / "go.py").read_text(encoding="utf-8")
    assert not re.search(r"\bf[\"']|:=|->|: str\b", text)
    assert text.index("sys.version_info <") < text.index("from tools")
