"""How long files are, and how much is held by tests."""

from __future__ import annotations

from statistics import median

from house import ROOT, code_files, tree, written_lines

LONGEST = 400
MEDIAN_BELOW = 150
TESTS_PER_CODE = 1.2
FOUND_BY_NAME = "conftest.py"


def test_no_file_is_longer_than_one_sitting() -> None:
    lengths = {file.name: len(file.read_text(encoding="utf-8").splitlines()) for file in code_files()}
    assert {name: lines for name, lines in lengths.items() if lines > LONGEST} == {}


def test_the_usual_file_is_short() -> None:
    lengths = [len(file.read_text(encoding="utf-8").splitlines()) for file in code_files()]
    assert median(lengths) < MEDIAN_BELOW


def test_there_is_more_test_than_code() -> None:
    code = sum(map(written_lines, code_files()))
    tests = sum(
        written_lines(file) for pattern in ("*.py", "*.toml") for file in (ROOT / "tests").rglob(pattern)
    )
    assert tests >= TESTS_PER_CODE * code, (
        f"{tests} lines of tests for {code} lines of code: {tests / code:.2f}"
    )


def test_base_names_of_tests_are_unique() -> None:
    names = [file.name for file in (ROOT / "tests").rglob("*.py") if file.name != FOUND_BY_NAME]
    assert sorted({name for name in names if names.count(name) > 1}) == []


def test_what_pytest_finds_by_its_name_only_names_fixtures() -> None:
    # Types are not checked in files that share a name; so nothing stands there that could be of a wrong one.
    for file in (ROOT / "tests").rglob(FOUND_BY_NAME):
        kinds = {type(node).__name__ for node in tree(file).body}
        assert kinds <= {"ImportFrom", "Assign", "Expr"}, f"{file}: put its fixtures into a module beside it"
