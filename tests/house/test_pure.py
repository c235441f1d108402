"""The rooms that only calculate ask nothing of the world: the part that import contracts cannot see."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from house import PURE, ROOT, SRC, pure_files, tree
from soakage.physics import formula

# Called on anything: the clock, the file system, randomness.
METHODS = {
    *("now", "utcnow", "today", "default_rng", "random", "seed", "shuffle"),
    *("read_text", "write_text", "read_bytes", "write_bytes", "tofile", "fromfile", "loadtxt", "savetxt"),
    *("stdin", "stdout", "stderr", "argv", "environ"),
}
NAMES = {"open", "input", "print", "eval", "exec", "compile", "__import__"}


def impurities(module: ast.Module) -> list[tuple[int, str]]:
    found = []
    for node in ast.walk(module):
        if isinstance(node, ast.Attribute) and node.attr in METHODS:
            found.append((node.lineno, node.attr))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in NAMES:
            found.append((node.lineno, node.func.id))
    return found


def test_nothing_in_the_pure_rooms_asks_the_world() -> None:
    found = [
        f"{file.relative_to(ROOT).as_posix()}:{line}: {name}"
        for file in pure_files()
        for line, name in impurities(tree(file))
    ]
    assert found == []


@pytest.mark.parametrize("room", PURE)
def test_each_pure_room_is_looked_at(room: str) -> None:
    inside = [file for file in pure_files() if f"soakage/{room}" in file.as_posix()]
    assert inside != []


@pytest.mark.parametrize(
    "line",
    ("datetime.now(tz)", "date.today()", "open('x')", "np.random.normal()", "rng = np.random.default_rng(1)"),
)
def test_the_look_finds_what_it_is_for(line: str) -> None:
    assert impurities(ast.parse(line)) != []


def test_the_look_lets_arithmetic_and_dates_pass(tmp_path: Path) -> None:
    text = "from datetime import date\ndef age(a: date, b: date) -> int:\n    return (b - a).days\n"
    file = tmp_path / "ages.py"
    file.write_text(text, encoding="utf-8")
    assert impurities(tree(file)) == []


def test_the_catalogue_of_formulas_imports_only_its_neighbours() -> None:
    module = tree(SRC / "physics" / "formula.py")
    asked = [node for node in ast.walk(module) if isinstance(node, ast.Attribute)]
    asked = [node for node in asked if isinstance(node.value, ast.Name) and node.value.id == "importlib"]
    assert [node.attr for node in asked] == ["import_module"]
    assert all(name.startswith("soakage.physics.") for name in formula.MODULES)
