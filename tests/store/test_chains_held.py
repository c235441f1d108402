"""Chains verified in one pass, against the plain way that holds everything at once."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.app.journal import START, Entry, TrailFault, trail_faults
from soakage.store.trail import ChainsHeld
from trusting import entry

OWN, OTHER = "a" * 32, "b" * 32


def chain(length: int, store: str = OWN) -> list[Entry]:
    made: list[Entry] = []
    for number in range(1, length + 1):
        previous = made[-1].hash if made else START
        made.append(entry(number, store=store, previous=previous, body={"set": {"year": number}}))
    return made


def verify(
    entries: list[Entry], owed: dict[str, tuple[int, str]] | None = None, own: tuple[str, ...] = (OWN,)
) -> tuple[list[TrailFault], ChainsHeld]:
    held = ChainsHeld(owed or {}, own)
    order = sorted(entries, key=lambda one: (one.store, one.number, one.hash))
    return list(held.faults(order)), held


def end(made: list[Entry]) -> tuple[int, str]:
    return (made[-1].number, made[-1].hash)


@given(length=st.integers(1, 12), other=st.integers(0, 12), drop=st.sets(st.integers(0, 23)))
def test_it_finds_what_the_plain_way_finds(length: int, other: int, drop: set[int]) -> None:
    mine, theirs = chain(length), chain(other, OTHER)
    left = [one for place, one in enumerate(mine + theirs) if place not in drop]
    plain, gaps = trail_faults(left, own=[OWN])
    found, held = verify(left, {OWN: end(mine)})
    missing_end = mine[-1] not in left
    assert len(found) == len(plain) + missing_end
    assert held.gaps == gaps
    assert held.entries == len(left)


@given(length=st.integers(2, 10), place=st.integers(0, 9))
def test_whatever_is_taken_from_our_chain_is_missed(length: int, place: int) -> None:
    mine = chain(length)
    left = [one for number, one in enumerate(mine) if number != place % length]
    assert verify(left, {OWN: end(mine)})[0] != []


def test_a_whole_chain_holds_and_an_empty_one_too() -> None:
    assert verify(chain(5), {OWN: end(chain(5))})[0] == []
    assert verify([], {OWN: (0, START)})[0] == []


def test_an_entry_behind_the_last_one_is_no_entry_of_ours() -> None:
    longer = chain(6)
    (fault,) = verify(longer, {OWN: end(longer[:5])})[0]
    assert (fault.number, fault.problem) == (6, "It stands behind the last entry that this store wrote.")


def test_another_last_entry_is_told() -> None:
    mine = chain(3)
    other = entry(3, previous=mine[1].hash, body={"set": {"year": 99}})
    faults = verify([*mine[:2], other], {OWN: end(mine)})[0]
    assert [fault.problem for fault in faults] == [
        "The last entry of this chain is missing, or another is there."
    ]


def test_a_chain_restored_with_must_stay_whole_up_to_where_it_was() -> None:
    theirs = chain(6, OTHER)
    owed = {OTHER: end(theirs[:4])}
    assert verify(theirs, owed)[0] == []  # what came later came by a merge
    assert verify([*theirs[:4], theirs[5]], owed)[0] == []  # a gap behind what is owed
    faults, _ = verify([theirs[0], *theirs[2:]], owed)
    assert [(fault.number, fault.problem) for fault in faults] == [(3, "The entry before it is missing.")]


def test_a_copy_that_was_written_to_is_counted_and_is_no_fault() -> None:
    theirs = chain(3, OTHER)
    second = entry(3, store=OTHER, previous=theirs[1].hash, body={"set": {"year": 99}})
    faults, held = verify([*theirs, second])
    assert (faults, held.forks, held.gaps) == ([], 1, 0)


@pytest.mark.parametrize(
    ("later", "problem"),
    (
        (entry(2, previous="1" * 64), "It does not follow the entry before it."),
        (entry(2, previous=chain(1)[0].hash, at=1), "It is older than the entry before it."),
    ),
)
def test_an_entry_out_of_place_is_told(later: Entry, problem: str) -> None:
    (fault,) = verify([*chain(1), later], own=())[0]
    assert fault.problem == problem


def test_the_first_names_nothing_before_it() -> None:
    (fault,) = verify([entry(1, previous="1" * 64)])[0]
    assert fault.problem == "It is the first and names one before it."
