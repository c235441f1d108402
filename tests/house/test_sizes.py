"""How long files are, and how much is held by tests."""

from __future__ import annotations

from statistics import median

from house import ROOT, code_files, written_lines

LONGEST = 400
MEDIAN_BELOW = 150
TESTS_PER_CODE = 1.2


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
    names = [file.name for file in (ROOT / "tests").rglob("*.py")]
    assert sorted({name for name in names if names.count(name) > 1}) == []
