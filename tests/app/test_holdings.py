"""What two stores hold of each other's chains: spans, marks, and what both have for certain."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.app.holdings import (
    Break,
    Span,
    agreed,
    holdings_of,
    holdings_plain,
    marked,
    outside,
    spans_of,
)
from soakage.errors import StoreError


def own_hash(number: int, line: str = "a") -> str:
    return f"{line}{number:x}".rjust(64, "0")


def span(first: int, last: int, line: str = "a") -> Span:
    return Span(first, last, tuple((number, own_hash(number, line)) for number in marked(first, last)))


def known(numbers: set[int], line: str = "a") -> set[str]:
    return {own_hash(number, line) for number in numbers}


@given(st.integers(1, 10_000), st.integers(0, 100_000))
def test_marks_are_few_and_hold_both_ends(first: int, more: int) -> None:
    numbers = marked(first, first + more)
    assert (numbers[0], numbers[-1]) == (first + more, first)
    assert numbers == sorted(set(numbers), reverse=True)
    assert len(numbers) <= 2 + max(more, 1).bit_length()


@given(st.sets(st.integers(1, 60), min_size=1))
def test_spans_are_the_numbers_held(numbers: set[int]) -> None:
    held = sorted(numbers)
    breaks = [
        Break(number, own_hash(number), held[place - 1] if place else None)
        for place, number in enumerate(held)
        if not place or held[place - 1] != number - 1
    ]
    spans = spans_of(breaks, held[-1])
    assert {number for first, last in spans for number in range(first, last + 1)} == numbers


def test_a_chain_written_in_two_copies_is_not_told() -> None:
    assert spans_of([Break(1, own_hash(1), None), Break(7, own_hash(7, "b"), 7)], 9) == ()


@given(st.integers(1, 80), st.integers(1, 80))
def test_what_both_have_is_never_more_than_both_have(theirs: int, mine: int) -> None:
    ranges = agreed({"x": (span(1, theirs),)}, {"x": (Span(1, mine),)}, known(set(range(1, mine + 1))))
    ((first, last),) = ranges["x"]
    assert first == 1
    assert last <= min(theirs, mine)
    if theirs <= mine:
        assert last == theirs
    else:  # marks grow apart by doubling: no more than about half of what they have beyond is sent twice
        assert mine - last <= theirs - mine


def test_another_line_of_the_same_chain_is_not_taken_for_ours() -> None:
    # both went on from number 50 by themselves
    theirs = {"x": (Span(1, 60, tuple((n, own_hash(n, "a" if n <= 50 else "b")) for n in marked(1, 60))),)}
    ranges = agreed(theirs, {"x": (Span(1, 70),)}, known(set(range(1, 71))))
    ((_, last),) = ranges["x"]
    assert last <= 50


def test_only_the_piece_that_holds_the_mark_is_agreed_on() -> None:
    ranges = agreed(
        {"x": (span(1, 30),)}, {"x": (Span(1, 5), Span(20, 30))}, known({1, 2, 3, 4, 5, *range(20, 31)})
    )
    assert ranges == {"x": ((20, 30),)}


def test_a_chain_unknown_here_is_nothing_we_share() -> None:
    assert agreed({"y": (span(1, 3),)}, {"x": (Span(1, 3),)}, set()) == {}


@given(st.lists(st.tuples(st.integers(1, 40), st.integers(0, 10))), st.integers(0, 50))
def test_outside_is_all_that_is_not_inside(starts: list[tuple[int, int]], last: int) -> None:
    ranges = [(first, first + more) for first, more in starts]
    inside = {number for first, end in ranges for number in range(first, end + 1)}
    found = [number for first, end in outside(ranges, last) for number in range(first, end + 1)]
    assert found == [number for number in range(1, last + 1) if number not in inside]


def test_holdings_survive_the_way_as_plain_values() -> None:
    held = {"x": (span(1, 9), span(12, 12)), "y": (span(3, 4),)}
    assert holdings_of(holdings_plain(held)) == held
    assert holdings_of(holdings_plain(held, marks=False))["x"] == (Span(1, 9), Span(12, 12))


@pytest.mark.parametrize(
    "plain",
    (
        None,
        [],
        5,
        {"x": 3},
        {"x": [[1]]},
        {"x": [[1, 2, [[1, "zz"]]]]},
        {"x": [[1, 2, [[1, "00"]]]]},
        {"x": [["a", 2, []]]},
    ),
)
def test_holdings_of_another_shape_are_refused(plain: object) -> None:
    if plain == []:
        assert holdings_of(plain) == {}
        return
    with pytest.raises(StoreError, match="cannot be read"):
        holdings_of(plain)
