"""Words that stand nowhere: addresses, machine paths, promises, and statements that could kill."""

from __future__ import annotations

import re

import pytest

from house import ROOT, SRC, code_files, strings, texts

# Each is put together here, so that this file does not hold what it forbids.
REGISTRIES = "|".join(
    re.escape("".join(parts))
    for parts in (
        ("py", "pi.org"),
        ("pythonhosted", ".org"),
        ("npm", "js.org"),
        ("npm", "js.com"),
        ("deb.", "debian.org"),
        ("ana", "conda.org"),
        ("crates", ".io"),
    )
)
PROMISES = "|".join(("TO" + "DO", "FIX" + "ME", "X" + "XX", "NotImplemented" + "Error"))
ANYWHERE = {
    "a registry's address": re.compile(REGISTRIES),
    "a path of one machine": re.compile(r"(?<![\w.])/(?:wo" + r"rk|ro" + r"ot)/|[A-Z]:\\Us" + "ers"),
    "a promise": re.compile(rf"\b(?:{PROMISES})\b"),
    "the work's own papers": re.compile("seed " + r"document|\biss" + r"ue #?\d+\b", re.IGNORECASE),
}
# What nobody can know from a reading, so the tool never states it.
STATEMENTS = re.compile(
    r"\b(?:is|are|now) safe\b|\bsafe to\b|\bmay be energi[sz]ed\b|\ball clear\b"
    r"|\b(?:is|are|now|fully) discharged\b",
    re.IGNORECASE,
)
# How a test finds out that a program of the system, or the database server, is not there.
A_PROGRAM_IS_MISSING = ("shutil.which", "NoServerError")
MADE_TO_BE_READ = (".typ", ".toml", ".html", ".j2", ".txt", ".md")


@pytest.mark.parametrize("what", ANYWHERE)
def test_no_committed_file_holds(what: str) -> None:
    found = [
        f"{file.relative_to(ROOT).as_posix()}:{number}: {line.strip()[:100]}"
        for file, text in texts()
        for number, line in enumerate(text.splitlines(), start=1)
        if ANYWHERE[what].search(line)
    ]
    assert found == []


@pytest.mark.parametrize(
    ("what", "line"),
    (
        ("a registry's address", "index = https://" + "py" + "pi.org/simple"),
        ("a path of one machine", "open('/wo" + "rk/main/x')"),
        ("a promise", "# TO" + "DO later"),
        ("the work's own papers", "see iss" + "ue 12"),
    ),
)
def test_the_patterns_find_what_they_are_for(what: str, line: str) -> None:
    assert ANYWHERE[what].search(line)


def test_nothing_is_said_that_no_reading_can_know() -> None:
    found = [
        f"{file.relative_to(ROOT).as_posix()}:{line}: {text[:100]}"
        for file in code_files()
        for line, text in strings(file)
        if STATEMENTS.search(text)
    ]
    for file, text in texts():
        if file.is_relative_to(SRC) and file.suffix in MADE_TO_BE_READ:
            found += [
                f"{file.relative_to(ROOT).as_posix()}: {hit.group()}" for hit in STATEMENTS.finditer(text)
            ]
    assert found == []


def test_a_test_is_passed_over_only_where_a_program_is_missing() -> None:
    passing_over = re.compile(r"pytest\.(?:mark\.)?sk" + r"ip|pytest\.(?:mark\.)?xf" + "ail")
    expected_failure = re.compile(r"\bxf" + "ail")
    wrong = [
        file.relative_to(ROOT).as_posix()
        for file, text in texts()
        if file.is_relative_to(ROOT / "tests") and file.suffix == ".py"
        if expected_failure.search(text)
        or (passing_over.search(text) and not any(sign in text for sign in A_PROGRAM_IS_MISSING))
    ]
    assert wrong == []
