"""Run a command as an announced, timed step, and stop with the exact command when it fails."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


class StepFailedError(Exception):
    """A step ended badly; the text is for the person at the terminal."""


def say(text: str) -> None:
    """Print at once, also where the output is a file.

    Parameters
    ----------
    text : str
        One or more lines.
    """
    print(text, flush=True)


def shown(command: Sequence[str]) -> str:
    """Return the command as one would type it in the project's folder.

    Parameters
    ----------
    command : sequence of str
        Program and arguments.

    Returns
    -------
    str
        One line, paths inside the project relative to it.
    """
    parts = [part.removeprefix(f"{ROOT}{os.sep}") for part in command]
    return subprocess.list2cmdline(parts) if sys.platform == "win32" else shlex.join(parts)


def run(
    name: str,
    command: Sequence[str],
    *,
    cwd: Path = ROOT,
    env: Mapping[str, str] | None = None,
    quiet: bool = False,
) -> None:
    """Run one step.

    Parameters
    ----------
    name : str
        What the step is for.
    command : sequence of str
        Program and arguments.
    cwd : Path
        Folder to run in.
    env : mapping, optional
        Its environment; ours when not given.
    quiet : bool
        Show what the command prints only when it fails.

    Raises
    ------
    StepFailedError
        When the command cannot be started or its exit status is not 0; the message holds the command.
    """
    say(f"\n== {name}\n$ {shown(command)}")
    began = time.monotonic()
    try:
        done = subprocess.run(
            command,
            cwd=cwd,
            env=env,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE if quiet else None,
            stderr=subprocess.STDOUT if quiet else None,
            check=False,
        )
    except OSError as error:
        msg = f"{name}: could not start\n  {shown(command)}\n{error}"
        raise StepFailedError(msg) from error
    took = time.monotonic() - began
    if done.returncode != 0:
        if quiet:
            say(done.stdout.decode(errors="replace"))
        raise StepFailedError(
            f"{name}: exit status {done.returncode} after {took:.1f} s from\n  {shown(command)}"
        )
    say(f"-- {name}: done in {took:.1f} s")
