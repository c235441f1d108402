"""Markdown made from data: nothing of the data is taken for markup, and every table has its columns."""

from __future__ import annotations

import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from docblocks import DOCS
from soakage.standards.criterion import VERIFIED_TEXT, Verified

sys.path.insert(0, str(DOCS))

from made import text

SIGNS = "\\`*_[]<>|$#{}~^"
LINE = st.text(st.characters(exclude_categories=("C", "Z")), max_size=40)


def unescaped(shown: str) -> str:
    """Return what a reader of the markdown sees of plain text."""
    seen, escaped = [], False
    for sign in shown:
        if escaped or sign != "\\":
            seen.append(sign)
            escaped = False
        else:
            escaped = True
    return "".join(seen)


@pytest.mark.parametrize("sign", SIGNS)
def test_each_sign_of_markup_is_escaped(sign: str) -> None:
    assert text.plain(f"a{sign}b") == f"a\\{sign}b"


@given(LINE)
def test_plain_text_reads_as_it_was(line: str) -> None:
    assert unescaped(text.plain(line)) == line


@given(LINE)
def test_no_sign_of_plain_text_stands_alone(line: str) -> None:
    shown = text.plain(line)
    bare = shown.replace("\\\\", "")
    for place, sign in enumerate(bare):
        if sign in SIGNS and sign != "\\":
            assert place
            assert bare[place - 1] == "\\"


@pytest.mark.parametrize(
    ("given_text", "shown"),
    (
        ("x", "`x`"),
        ("", ""),
        ("   ", ""),
        ("a  b\nc", "`a b c`"),
        ("a|b", "`a\\|b`"),
        ("a`b", "``a`b``"),
        (3, "`3`"),
        ("R(600 s) / R(60 s)", "`R(600 s) / R(60 s)`"),
    ),
)
def test_code(given_text: object, shown: str) -> None:
    assert text.code(given_text) == shown


@pytest.mark.parametrize(
    ("names", "shown"), (((), ""), (("a",), "`a`"), (("a", "b"), "`a`, `b`"), (("a", ""), "`a`, "))
)
def test_ids(names: tuple[str, ...], shown: str) -> None:
    assert text.ids(names) == shown


@given(st.integers(1, 5), st.integers(0, 6))
def test_every_row_of_a_table_has_every_column(columns: int, rows: int) -> None:
    cells = [[text.plain(f"{r}|{c}") if (r + c) % 3 else "" for c in range(columns)] for r in range(rows)]
    made = text.table([f"h{c}" for c in range(columns)], cells)
    lines = made.splitlines()
    assert made.endswith("|\n\n")
    assert len(lines) == rows + 3
    for line in lines[:-1]:
        assert line.replace("\\|", "").count("|") == columns + 1


def test_facts_without_a_text_are_left_out() -> None:
    made = text.facts([("id", "`x`"), ("note", ""), ("a*b", "c")])
    assert made == "- **id**: `x`\n- **a\\*b**: c\n\n"
    assert text.facts([]) == "\n"


def test_a_link_finds_its_target() -> None:
    assert text.target("x.y") == "(x.y)=\n"
    assert text.link("x.y") == "[`x.y`](#x.y)"
    assert text.link("x.y", "there") == "[there](#x.y)"


@pytest.mark.parametrize("verified", tuple(Verified))
def test_a_proof_says_it_in_the_words_of_reports(verified: Verified) -> None:
    made = text.proof(str(verified))
    assert made.startswith(f"`{verified}`: ")
    assert made.endswith(VERIFIED_TEXT[verified] or "Read in the source itself.")


def test_a_proof_of_an_unknown_kind_is_none() -> None:
    with pytest.raises(ValueError, match="rumour"):
        text.proof("rumour")


@given(st.lists(st.text("abc\n", max_size=8), max_size=4))
def test_a_page_ends_with_one_line_end(parts: list[str]) -> None:
    made = text.page("Title", *parts)
    assert made.startswith("# Title\n\n")
    assert made.endswith("\n")
    assert not made.removeprefix("# Title\n\n").endswith("\n\n")
