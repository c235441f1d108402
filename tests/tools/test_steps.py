"""A step says what it runs, and a failed one says exactly what to run again."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from tools import commands, postgres, system
from tools.environment import SCRIPTS, environment
from tools.steps import ROOT, StepFailedError, run, shown


def python(code: str) -> list[str]:
    return [sys.executable, "-c", code]


def test_a_step_is_announced_and_timed(capfd: pytest.CaptureFixture[str]) -> None:
    run("Add", python("print(1 + 1)"))
    lines = capfd.readouterr().out.splitlines()
    assert lines[1] == "== Add"
    assert lines[2].startswith("$ ")
    assert "2" in lines
    assert lines[-1].startswith("-- Add: done in ")


def test_a_failed_step_names_its_command_and_status() -> None:
    with pytest.raises(StepFailedError, match=r"(?s)Leave: exit status 7 .*sys\.exit\(7\)"):
        run("Leave", python("import sys; sys.exit(7)"))


def test_a_command_that_is_not_there_is_a_failed_step() -> None:
    with pytest.raises(StepFailedError, match="could not start"):
        run("Nothing", ["no-such-program-here"])


def test_a_quiet_step_is_silent_when_it_works(capfd: pytest.CaptureFixture[str]) -> None:
    run("Hush", python("print('chat' * 2)"), quiet=True)
    assert "chatchat" not in capfd.readouterr().out


def test_a_quiet_step_tells_all_when_it_fails(capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(StepFailedError):
        run("Hush", python("import sys; print('chat' * 2); sys.exit('why' * 2)"), quiet=True)
    out = capfd.readouterr().out
    assert "chatchat" in out
    assert "whywhy" in out


def test_a_step_never_waits_for_an_answer() -> None:
    run("Ask", python("import sys; assert sys.stdin.read() == ''"))


def test_commands_are_shown_as_typed_in_the_projects_folder() -> None:
    assert shown([str(ROOT / "docs"), "a b"]).startswith("docs ")
    assert str(ROOT) not in shown([str(ROOT / "docs")])


def test_the_environment_comes_first_and_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTHONPATH", "elsewhere")
    made = environment()
    assert made["PATH"].split(os.pathsep)[0] == str(SCRIPTS)
    assert "PYTHONPATH" not in made


def test_an_unknown_word_shows_the_usage(capsys: pytest.CaptureFixture[str]) -> None:
    assert commands.main(["dance"]) == 2
    assert "go.py test" in capsys.readouterr().out


def test_help_is_no_fault(capsys: pytest.CaptureFixture[str]) -> None:
    assert commands.main(["--help"]) == 0
    assert "go.py lock" in capsys.readouterr().out


def test_a_failed_step_ends_with_1_and_the_reason(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(_lock: str) -> None:
        raise StepFailedError("the reason")

    monkeypatch.setattr(commands, "prepare", fail)
    assert commands.main([]) == 1
    assert "STOPPED. the reason" in capsys.readouterr().out


def test_missing_programs_are_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(postgres, "DEBIAN", tmp_path)
    assert system.missing() == ["procps", "ngspice", "poppler-utils", "chromium", "postgresql"]


def test_without_an_installer_the_lack_is_said(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(postgres, "DEBIAN", tmp_path)
    system.install()
    assert (
        "Not on this machine: procps, ngspice, poppler-utils, chromium, postgresql" in capsys.readouterr().out
    )
