"""What the tests of the house look at: its files, their lines, their public names."""

from __future__ import annotations

import ast
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SRC = ROOT / "src" / "soakage"

# Rooms that only calculate. standards/ has other files too, which read the data.
PURE = ("physics", "model", "methods", "standards/judge", "standards/formulas", "standards/criterion")

Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True)
class Public:
    """One public function, method or class, and where it stands."""

    file: Path
    name: str
    node: Function | ast.ClassDef

    def __str__(self) -> str:
        return f"{self.file.relative_to(ROOT).as_posix()}:{self.node.lineno} {self.name}"


def code_files() -> list[Path]:
    """Return every Python file of the package."""
    return sorted(SRC.rglob("*.py"))


def pure_files() -> list[Path]:
    """Return the Python files of the rooms that only calculate."""
    return [
        file
        for file in code_files()
        if any(
            file.relative_to(SRC).with_suffix("").as_posix() == room
            or file.relative_to(SRC).as_posix().startswith(f"{room}/")
            for room in PURE
        )
    ]


@cache
def tree(file: Path) -> ast.Module:
    """Return a file's syntax tree."""
    return ast.parse(file.read_text(encoding="utf-8"), filename=str(file))


@cache
def committed_files() -> tuple[Path, ...]:
    """Return every text file that is or would be committed; all files where there is no git."""
    command = ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"]
    try:
        listed = (
            subprocess.run(command, cwd=ROOT, check=True, capture_output=True).stdout.decode().split("\0")
        )
    except (OSError, subprocess.CalledProcessError):
        return tuple(path for path in ROOT.rglob("*") if path.is_file() and not _made_here(path))
    return tuple(path for name in listed if name and (path := ROOT / name).is_file())


def texts() -> Iterator[tuple[Path, str]]:
    """Yield each committed file that is UTF-8 text, with its text."""
    for file in committed_files():
        try:
            yield file, file.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue


def written_lines(file: Path) -> int:
    """Return how many lines of a file say something to the machine: no blanks, comments or docstrings."""
    lines = file.read_text(encoding="utf-8").splitlines()
    spoken = set(docstring_lines(file)) if file.suffix == ".py" else set()
    return sum(
        1
        for number, line in enumerate(lines, start=1)
        if line.strip() and not line.lstrip().startswith("#") and number not in spoken
    )


def docstring_lines(file: Path) -> Iterator[int]:
    """Yield the numbers of the lines that docstrings stand on."""
    for node in ast.walk(tree(file)):
        if not isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        first = node.body[0] if node.body else None
        if (
            isinstance(first, ast.Expr)
            and isinstance(first.value, ast.Constant)
            and isinstance(first.value.value, str)
        ):
            yield from range(first.lineno, (first.end_lineno or first.lineno) + 1)


def public_names(file: Path) -> Iterator[Public]:
    """Yield the public functions, classes and methods of a file."""
    yield from _public_in(file, tree(file).body, "")


def arguments(function: Function) -> list[ast.arg]:
    """Return a function's parameters in order, stars included."""
    given = function.args
    stars = [star for star in (given.vararg, given.kwarg) if star is not None]
    return [*given.posonlyargs, *given.args, *given.kwonlyargs, *stars]


def strings(file: Path) -> Iterator[tuple[int, str]]:
    """Yield line and text of each string constant of a file that is not a docstring."""
    docstrings = {
        id(node.body[0].value)
        for node in ast.walk(tree(file))
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree(file)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docstrings:
            yield node.lineno, node.value


def _public_in(file: Path, body: list[ast.stmt], prefix: str) -> Iterator[Public]:
    for node in body:
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            continue
        if node.name.startswith("_"):
            continue
        yield Public(file, prefix + node.name, node)
        if isinstance(node, ast.ClassDef):
            yield from _public_in(file, node.body, f"{prefix}{node.name}.")


def _made_here(path: Path) -> bool:
    parts = path.relative_to(ROOT).parts
    return any(
        part.startswith(".") or part in {"soakage-demo", "_build", "_generated", "__pycache__"}
        for part in parts
    )
