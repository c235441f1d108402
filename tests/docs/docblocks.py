"""Reads a page of the documents as a reader with a keyboard would: files to save, commands, what they print."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
_FENCE = re.compile(
    r"^```(?:\{code-block\} (?P<directive>\w+)|(?P<plain>\w+))\n(?::caption: (?P<caption>[^\n]*)\n)?(?P<body>.*?)^```$",
    re.MULTILINE | re.DOTALL,
)
_STATUS = re.compile(r"ends with exit status (\d+)")


@dataclass(frozen=True)
class Block:
    """One fenced block of a page, with the line it begins on."""

    language: str
    caption: str
    body: str
    line: int

    @property
    def is_file(self) -> bool:
        return self.language != "sh" and bool(self.caption) and not self.caption.startswith("in ")

    @property
    def is_output(self) -> bool:
        return self.language == "text" and not self.caption

    @property
    def status(self) -> int:
        found = _STATUS.fullmatch(self.caption)
        return int(found[1]) if found else 0

    @property
    def commands(self) -> list[list[str]]:
        return [shlex.split(line) for line in self.body.replace("\\\n", " ").splitlines() if line.strip()]


def blocks(page: str) -> list[Block]:
    text = (DOCS / page).read_text(encoding="utf-8")
    return [
        Block(
            match["directive"] or match["plain"], match["caption"] or "", match["body"],
            text.count("\n", 0, match.start()) + 1,
        )
        for match in _FENCE.finditer(text)
    ]  # fmt: skip


def files(page: str) -> dict[str, str]:
    """Return the files a page shows, by the name it gives them."""
    return {block.caption: block.body for block in blocks(page) if block.is_file}


def flat(text: str) -> str:
    """Return text in one line with plain spaces: where a line is wrapped says nothing."""
    return " ".join(text.replace("\N{NO-BREAK SPACE}", " ").split())


def run(words: list[str], folder: Path, source: Path) -> subprocess.CompletedProcess[str]:
    """Run one command of a page as it stands there, with the house found in a folder."""
    modules = {"soakage": ["soakage"], "pytest": ["pytest", "-q", "-p", "no:cacheprovider"]}
    command = [sys.executable, "-m", *modules[words[0]], *words[1:]]
    env = os.environ | {"PYTHONPATH": str(source), "PYTHONUTF8": "1", "COLUMNS": "100"}
    return subprocess.run(
        command,
        cwd=folder,
        env=env,
        capture_output=True,
        encoding="utf-8",
        stdin=subprocess.DEVNULL,
        check=False,
    )


def follow(page: str, folder: Path, source: Path) -> Iterator[str]:
    """Do everything a page says, in order; yield what did not come out as it says."""
    printed = ""
    for block in blocks(page):
        if block.is_file:
            path = folder / block.caption
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(block.body, encoding="utf-8")
        elif block.language == "sh":
            printed = ""
            for words in block.commands:
                done = run(words, folder, source)
                printed += done.stdout
                if done.returncode != block.status:
                    yield f"{page}:{block.line}: exit status {done.returncode}: {done.stderr[-2000:]}"
        elif block.is_output:
            for line in block.body.splitlines():
                if flat(line) not in flat(printed):
                    yield f"{page}:{block.line}: not printed: {line}"


def house_copy(folder: Path) -> Path:
    """Copy the package, and what runs the tests of its importers, to a folder; return its source folder."""
    made = shutil.ignore_patterns("__pycache__")
    shutil.copytree(ROOT / "src" / "soakage", folder / "src" / "soakage", ignore=made)
    shutil.copytree(ROOT / "tests" / "importers", folder / "tests" / "importers", ignore=made)
    shutil.copy(ROOT / "pyproject.toml", folder)
    return folder / "src"
