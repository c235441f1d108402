"""The README's first section, held to its word: its first command, run as it stands on a clean clone."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
import time
from pathlib import Path

from tools.steps import ROOT, StepFailedError, say


def first_section(text: str) -> str:
    """Return what stands before the second heading.

    Parameters
    ----------
    text : str
        The README.

    Returns
    -------
    str
        Title and first section.
    """
    return re.split(r"^## ", text, maxsplit=1, flags=re.MULTILINE)[0]


def commands(section: str) -> list[str]:
    """Return the lines of a section's code blocks.

    Parameters
    ----------
    section : str
        Markdown.

    Returns
    -------
    list of str
        Commands, in order.
    """
    blocks = re.findall(r"^```\w*\n(.*?)^```", section, flags=re.MULTILINE | re.DOTALL)
    return [line.strip() for block in blocks for line in block.splitlines() if line.strip()]


def promised_status(section: str) -> int:
    """Return the exit status the section promises for its first command.

    Parameters
    ----------
    section : str
        Markdown that says "exit status N".

    Returns
    -------
    int
        N.

    Raises
    ------
    StepFailedError
        When nothing is promised.
    """
    found = re.search(r"exit status (\d+)", section)
    if found is None:
        raise StepFailedError("README.md: its first section does not say with which exit status it ends")
    return int(found.group(1))


def check() -> None:
    """Clone what is committed to an empty folder and run the README's first command there.

    Raises
    ------
    StepFailedError
        When the command ends otherwise than promised, or leaves no PDF.
    """
    section = first_section((ROOT / "README.md").read_text(encoding="utf-8"))
    command, promised = commands(section)[0], promised_status(section)
    say(f"\n== README on a clean clone\n$ {command}")
    began = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="soakage-") as folder:
        clone = Path(folder) / "soakage"
        _copy(clone)
        env = {key: value for key, value in os.environ.items() if key not in {"PYTHONPATH", "VIRTUAL_ENV"}}
        # A shell, because the line is run as a person types it; the line is our own README's.
        status = subprocess.run(  # noqa: S602
            command, shell=True, cwd=clone, env=env, stdin=subprocess.DEVNULL, check=False
        ).returncode
        papers = [paper for paper in (clone / "soakage-demo").rglob("*.pdf") if paper.stat().st_size > 0]
    took = time.monotonic() - began
    if status != promised:
        raise StepFailedError(f"README: exit status {status}, promised {promised}, from\n  {command}")
    if not papers:
        raise StepFailedError(f"README: no PDF in soakage-demo after\n  {command}")
    say(f"-- README on a clean clone: {len(papers)} PDF, exit status {status}, done in {took:.1f} s")


def _copy(clone: Path) -> None:
    if (ROOT / ".git").exists() and shutil.which("git"):
        cloned = subprocess.run(["git", "clone", "--quiet", str(ROOT), str(clone)], check=False)
        if cloned.returncode == 0:
            status = ["git", "status", "--porcelain"]
            if subprocess.run(status, cwd=ROOT, check=False, capture_output=True).stdout:
                say("(what is not committed is not in the clone)")
            return
        say("(git would not clone; a copy of the folder is used)")
        shutil.rmtree(clone, ignore_errors=True)
    made_here = shutil.ignore_patterns(".venv", ".git", "soakage-demo", "_build", "_generated", "__pycache__")
    shutil.copytree(ROOT, clone, ignore=made_here)
