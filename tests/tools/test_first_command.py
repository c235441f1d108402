"""What the README's first command does at its end: pages for a person, a line for a program."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from typing import Any

import pytest

from tools import commands
from tools.steps import StepFailedError


class Screen:
    """A stream that is a terminal, or is not."""

    def __init__(self, *, terminal: bool) -> None:
        self.terminal = terminal
        self.text = ""

    def isatty(self) -> bool:
        return self.terminal

    def write(self, text: str) -> int:
        self.text += text
        return len(text)

    def flush(self) -> None:
        pass


@pytest.fixture
def ran(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """The commands that were run, none of them really."""
    done: list[list[str]] = []

    def run(command: Sequence[str], **_options: Any) -> subprocess.CompletedProcess[bytes]:
        done.append(list(command))
        return subprocess.CompletedProcess(command, 0)

    monkeypatch.setattr(commands, "prepare", lambda _lock: None)
    monkeypatch.setattr(subprocess, "run", run)
    return done


def screens(monkeypatch: pytest.MonkeyPatch, *, typed: bool, seen: bool) -> Screen:
    shown = Screen(terminal=seen)
    monkeypatch.setattr(sys, "stdin", Screen(terminal=typed))
    monkeypatch.setattr(sys, "stdout", shown)
    return shown


def test_a_person_at_a_terminal_gets_the_pages(ran: list[list[str]], monkeypatch: pytest.MonkeyPatch) -> None:
    screens(monkeypatch, typed=True, seen=True)
    assert commands.main([]) == 0
    assert [command[1] for command in ran] == ["demo", "serve"]


@pytest.mark.parametrize(("typed", "seen"), ((False, True), (True, False), (False, False)))
def test_without_a_person_it_ends_and_says_how_to_open_them(
    ran: list[list[str]], monkeypatch: pytest.MonkeyPatch, *, typed: bool, seen: bool
) -> None:
    shown = screens(monkeypatch, typed=typed, seen=seen)
    assert commands.main([]) == 0
    assert [command[1] for command in ran] == ["demo"]
    assert shown.text.splitlines()[-1].startswith("The pages:")
    assert shown.text.rstrip().endswith("serve")


def test_a_demo_that_fails_opens_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(commands, "prepare", lambda _lock: None)
    seen: list[str] = []

    def run(command: Sequence[str], **_options: Any) -> subprocess.CompletedProcess[bytes]:
        seen.append(command[1])
        return subprocess.CompletedProcess(command, 3)

    monkeypatch.setattr(subprocess, "run", run)
    screens(monkeypatch, typed=True, seen=True)
    with pytest.raises(StepFailedError, match="exit status 3"):
        commands.demo()
    assert seen == ["demo"]
