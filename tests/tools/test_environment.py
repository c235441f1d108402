"""The environment is made once, and again only when something it rests on has changed."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tools import environment
from tools.steps import StepFailedError


@pytest.fixture
def steps(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """An empty project; the names of the steps run in it."""
    venv = tmp_path / ".venv"
    names: list[str] = []

    def run(name: str, _command: list[str], **_options: object) -> None:
        names.append(name)
        if name == "Make .venv":
            environment.PYTHON.parent.mkdir(parents=True)
            environment.PYTHON.touch()

    monkeypatch.setattr(environment, "ROOT", tmp_path)
    monkeypatch.setattr(environment, "VENV", venv)
    monkeypatch.setattr(environment, "STAMP", venv / "stamp.json")
    monkeypatch.setattr(environment, "PYTHON", venv / "bin" / "python")
    monkeypatch.setattr(environment, "run", run)
    (tmp_path / "requirements").mkdir()
    for name in ("pyproject.toml", "requirements/run.txt", "requirements/test.txt"):
        (tmp_path / name).write_text(name, encoding="utf-8")
    return names


WHOLE = ["Make .venv", "Install packages", "Install Soakage"]


def test_the_first_time_everything_is_made(steps: list[str]) -> None:
    environment.prepare("run")
    assert steps == WHOLE


def test_the_second_time_nothing_is(steps: list[str]) -> None:
    environment.prepare("run")
    steps.clear()
    environment.prepare("run")
    assert steps == []


def test_what_tests_need_comes_on_top(steps: list[str]) -> None:
    environment.prepare("run")
    steps.clear()
    environment.prepare("test")
    assert steps == ["Install packages", "Install Soakage"]


def test_the_test_lock_serves_for_running_too(steps: list[str]) -> None:
    environment.prepare("test")
    steps.clear()
    environment.prepare("run")
    assert steps == []


def other_lock(root: Path) -> None:
    (root / "requirements" / "run.txt").write_text("other", encoding="utf-8")


def other_project(root: Path) -> None:
    (root / "pyproject.toml").write_text("other", encoding="utf-8")


def other_python(root: Path) -> None:
    (root / ".venv" / "stamp.json").write_text(json.dumps({"made": "3.11.0 elsewhere"}), encoding="utf-8")


def broken_stamp(root: Path) -> None:
    (root / ".venv" / "stamp.json").write_text("[", encoding="utf-8")


def other_line_ends(root: Path) -> None:
    file = root / "requirements" / "run.txt"
    file.write_bytes(b"one\r\ntwo\r\n")


@pytest.mark.parametrize(
    ("change", "again"),
    (
        (other_lock, WHOLE[1:]),
        (other_project, WHOLE[2:]),
        (other_python, WHOLE),
        (broken_stamp, WHOLE),
    ),
)
def test_what_has_changed_is_done_again(
    steps: list[str], tmp_path: Path, change: Callable[[Path], None], again: list[str]
) -> None:
    environment.prepare("run")
    steps.clear()
    change(tmp_path)
    environment.prepare("run")
    assert steps == again


def test_line_ends_are_no_change(steps: list[str], tmp_path: Path) -> None:
    (tmp_path / "requirements" / "run.txt").write_bytes(b"one\ntwo\n")
    environment.prepare("run")
    steps.clear()
    other_line_ends(tmp_path)
    environment.prepare("run")
    assert steps == []


def test_a_python_without_venv_is_told_the_remedy(steps: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda _name: None)
    with pytest.raises(StepFailedError, match="apt-get install python3-venv"):
        environment.prepare("run")
    assert steps == []


def test_an_environment_that_someone_else_made_is_left_alone(steps: list[str], tmp_path: Path) -> None:
    (tmp_path / ".venv").mkdir()
    with pytest.raises(StepFailedError, match="not made by go"):
        environment.prepare("run")
    assert steps == []
    assert (tmp_path / ".venv").is_dir()


def test_an_installation_that_broke_off_goes_on_where_it_was(
    steps: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    working = vars(environment)["run"]

    def break_off(name: str, command: list[str], **options: object) -> None:
        if name == "Install packages":
            raise StepFailedError(name)
        working(name, command, **options)

    with monkeypatch.context() as patch:
        patch.setattr(environment, "run", break_off)
        with pytest.raises(StepFailedError):
            environment.prepare("run")
    steps.clear()
    environment.prepare("run")
    assert steps == WHOLE[1:]


def test_it_does_not_remove_the_python_it_runs_from(
    steps: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "prefix", str(tmp_path / ".venv"))
    with pytest.raises(StepFailedError, match="with another"):
        environment.prepare("run")
    assert steps == []
