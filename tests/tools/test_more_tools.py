"""Reading a README, finding programs, showing commands: every branch that needs no network and no new environment."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from tools import environment, postgres, readme, steps, system
from tools.steps import ROOT, StepFailedError


@pytest.mark.parametrize(
    ("text", "section"),
    (
        ("# A\n\none\n\n## B\n\ntwo\n", "# A\n\none\n\n"),
        ("# A\n\none\n", "# A\n\none\n"),
        ("# A\n### deeper\n## B\n## C\n", "# A\n### deeper\n"),
        ("", ""),
    ),
)
def test_the_first_section_ends_at_the_second_heading(text: str, section: str) -> None:
    assert readme.first_section(text) == section


@pytest.mark.parametrize(
    ("section", "lines"),
    (
        ("", []),
        ("no code here", []),
        ("```\na\n```\n", ["a"]),
        ("```sh\na b\n\n  c\n```\ntext\n```console\nd\n```\n", ["a b", "c", "d"]),
        ("    indented\n", []),
        ("``inline``", []),
        ("```\n```\n", []),
    ),
)
def test_commands_are_the_lines_of_the_code(section: str, lines: list[str]) -> None:
    assert readme.commands(section) == lines


@pytest.mark.parametrize(
    ("section", "status"),
    (("ends with exit status 0.", 0), ("exit status 2, then exit status 1", 2), ("exit status 12", 12)),
)
def test_the_first_promise_counts(section: str, status: int) -> None:
    assert readme.promised_status(section) == status


@pytest.mark.parametrize("section", ("", "exit status", "exit status none", "status 0"))
def test_no_promise_is_a_failed_step(section: str) -> None:
    with pytest.raises(StepFailedError, match=r"README\.md"):
        readme.promised_status(section)


def test_our_readme_promises_what_can_be_checked() -> None:
    section = readme.first_section((ROOT / "README.md").read_text(encoding="utf-8"))
    found = readme.commands(section)
    assert found
    assert "go.py" in found[0]
    assert readme.promised_status(section) in (0, 1, 2)


@pytest.mark.parametrize(
    ("there", "missing"),
    (
        ({"ps", "ngspice", "pdftotext", "chromium", "initdb", "postgres"}, []),
        ({"ps", "ngspice", "pdftotext", "chromium-browser", "initdb", "postgres"}, []),
        ({"ps", "ngspice", "chromium", "initdb", "postgres"}, ["poppler-utils"]),
        ({"ps", "ngspice", "pdftotext", "chromium", "initdb"}, ["postgresql"]),
        (set(), ["procps", "ngspice", "poppler-utils", "chromium", "postgresql"]),
    ),
)
def test_missing_programs_are_named_as_packages(
    there: set[str], missing: list[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(postgres, "DEBIAN", tmp_path)
    monkeypatch.setattr(shutil, "which", lambda name, path="": f"/x/{name}" if name in there else None)  # noqa: ARG005
    assert system.missing() == missing


def test_without_a_package_manager_it_says_what_is_missing_and_goes_on(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.setattr(postgres, "DEBIAN", tmp_path)
    monkeypatch.setattr(shutil, "which", lambda _: None)
    system.install()
    said = capsys.readouterr().out
    for package in (*system.PROGRAMS, "postgresql"):
        assert package in said


def test_with_everything_there_it_says_nothing(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(shutil, "which", lambda name, path="": f"/x/{path}{name}")
    system.install()
    assert capsys.readouterr().out == ""


def test_a_failing_package_manager_does_not_stop_the_work(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fails(name: str, command: list[str], **_: object) -> None:
        raise StepFailedError(f"{name}: exit status 100 from {command[0]}")

    found = {"apt-get": "/x/apt-get"}
    monkeypatch.setattr(shutil, "which", lambda name, path="": found.get(f"{path}{name}"))
    monkeypatch.setattr("os.geteuid", lambda: 0)
    monkeypatch.setattr(system, "run", fails)
    system.install()
    said = capsys.readouterr().out
    assert "Going on without." in said
    assert "Not on this machine" in said


def test_the_environment_of_commands_has_no_other_in_its_way(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTHONPATH", "/elsewhere")
    monkeypatch.setenv("PYTHONHOME", "/elsewhere")
    found = environment.environment()
    assert "PYTHONPATH" not in found
    assert "PYTHONHOME" not in found
    assert found["PATH"].startswith(str(environment.SCRIPTS))
    assert found["PYTHONUTF8"] == "1"


@pytest.mark.parametrize("content", ("", "no json", "[1]", "null", '"text"', "{"))
def test_a_stamp_that_is_none_is_as_good_as_missing(
    content: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stamp = tmp_path / "stamp.json"
    monkeypatch.setattr(environment, "STAMP", stamp)
    assert environment._stamp() == {}
    stamp.write_text(content, encoding="utf-8")
    assert environment._stamp() == {}
    environment._write({"made": "here"})
    assert environment._stamp() == {"made": "here"}


def test_line_ends_do_not_make_a_lock_new(tmp_path: Path) -> None:
    unix, windows, other = (tmp_path / name for name in ("u", "w", "o"))
    unix.write_bytes(b"a==1\nb==2\n")
    windows.write_bytes(b"a==1\r\nb==2\r\n")
    other.write_bytes(b"a==1\nb==3\n")
    assert environment._digest(unix) == environment._digest(windows) != environment._digest(other)


@pytest.mark.parametrize("argument", ("a b", "it's", 'say "x"', "$HOME", "a;b", "*"))
def test_a_shown_command_can_be_pasted(argument: str) -> None:
    import shlex

    text = steps.shown(["printf", "%s", argument])
    assert shlex.split(text) == ["printf", "%s", argument]


@pytest.mark.parametrize("status", (1, 2, 77))
@pytest.mark.parametrize("quiet", (True, False))
def test_each_bad_status_is_told(status: int, quiet: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        subprocess,
        "run",
        lambda command, **_: subprocess.CompletedProcess(command, status, stdout=b"noise \xff"),
    )
    with pytest.raises(StepFailedError, match=f"exit status {status} after"):
        steps.run("Work", ["tool", "x"], quiet=quiet)
