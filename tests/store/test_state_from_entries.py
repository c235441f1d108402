"""State from the set of entries: whatever order they come in; two that did not see each other are both kept."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.app.folding import Folded, body_of, fold
from soakage.app.journal import START, Entry, entry_faults, trail_faults
from trusting import entry

FIELDS = ("tag", "serial", "year")
VALUES = st.one_of(st.none(), st.integers(0, 3), st.sampled_from(["A-1", "B-2"]))


@st.composite
def histories(draw: st.DrawFn) -> list[Entry]:
    """Entries of up to three stores on one asset; each saw some of those before it."""
    made: list[Entry] = []
    ends: dict[str, tuple[int, str]] = {}
    for _ in range(draw(st.integers(1, 9))):
        store = draw(st.sampled_from("abc")) * 32
        number, previous = ends.get(store, (0, START))
        names = draw(st.lists(st.sampled_from(FIELDS), min_size=1, unique=True))
        seen = draw(st.lists(st.sampled_from(made), unique_by=lambda one: one.hash)) if made else []
        one = entry(
            number + 1,
            store=store,
            previous=previous,
            at=draw(st.integers(1, 6)) + 10 * number,
            parents=tuple(other.hash for other in seen),
            body={"set": {name: draw(VALUES) for name in names}},
        )
        ends[store] = (one.number, one.hash)
        made.append(one)
    return made


def plain(folded: Folded) -> tuple[object, ...]:
    return dict(folded.values), folded.heads, dict(folded.conflicts), dict(folded.writers)


@given(history=histories(), seed=st.integers(0, 1000), again=st.integers(0, 3))
def test_the_state_does_not_depend_on_the_order_or_on_repeats(
    history: list[Entry], seed: int, again: int
) -> None:
    shuffled = history + history[:again]
    random.Random(seed).shuffle(shuffled)  # noqa: S311 - an order, no secret
    assert plain(fold(shuffled)) == plain(fold(history))


def seen_by(history: list[Entry]) -> dict[str, set[str]]:
    """All that each entry saw, the plain way: what it names, and what those saw."""
    by_hash = {one.hash: one for one in history}

    def all_seen(own: str) -> set[str]:
        found = {parent for parent in by_hash[own].parents if parent in by_hash}
        return found.union(*(all_seen(parent) for parent in found)) if found else found

    return {own: all_seen(own) for own in by_hash}


@given(history=histories())
def test_a_field_is_in_conflict_when_two_set_it_unseen_and_differ(history: list[Entry]) -> None:
    seen = seen_by(history)
    folded = fold(history)
    for name in FIELDS:
        wrote = [one for one in history if name in body_of(one)["set"]]
        live = [one for one in wrote if not any(one.hash in seen[other.hash] for other in wrote)]
        values = [body_of(one)["set"][name] for one in live]
        apart = len({repr(value) for value in values}) > 1
        assert (name in folded.conflicts) is apart
        if apart:
            assert {repr(claim.value) for claim in folded.conflicts[name]} == {
                repr(value) for value in values
            }
        last = max(live, key=lambda one: (one.at, one.hash)) if live else None
        assert folded.values.get(name) == (body_of(last)["set"][name] if last else None)


@given(history=histories())
def test_heads_are_what_nobody_has_seen(history: list[Entry]) -> None:
    seen = set().union(*seen_by(history).values())
    assert set(fold(history).heads) == {one.hash for one in history} - seen


@given(history=histories())
def test_one_that_saw_all_settles_every_conflict(history: list[Entry]) -> None:
    folded = fold(history)
    latest = max(one.at for one in history) + 1
    settled = entry(
        1,
        store="d" * 32,
        at=latest,
        parents=folded.heads,
        body={"set": dict.fromkeys(folded.conflicts, "settled")},
    )
    after = fold([*history, settled])
    assert dict(after.conflicts) == {}
    assert after.heads == (settled.hash,)
    assert all(after.values[name] == "settled" for name in folded.conflicts)


def test_two_edits_that_agree_are_no_conflict() -> None:
    first = entry(1, store="a" * 32, body={"set": {"tag": "KF-1"}})
    second = entry(1, store="b" * 32, body={"set": {"tag": "KF-1"}})
    folded = fold([first, second])
    assert (dict(folded.values), dict(folded.conflicts)) == ({"tag": "KF-1"}, {})


def test_nothing_folds_to_nothing_and_a_purged_body_is_empty() -> None:
    assert fold([]) == Folded()
    one = entry(1, body={"set": {"tag": "KF-1"}})
    gone = Entry(**{name: getattr(one, name) for name in one.__dataclass_fields__} | {"body": None})
    assert body_of(gone) == {}
    assert entry_faults(gone) == []  # the chain holds without the body


# Hashes


@pytest.mark.parametrize(
    ("name", "value"),
    (
        ("person", "Someone else"),
        ("at", 1),
        ("action", "revised"),
        ("subject", "x"),
        ("reason", "another"),
        ("number", 2),
        ("previous", "1" * 64),
        ("identity", "account"),
        ("parents", ("1" * 64,)),
        ("body", '{"set":{"tag":"X"}}'),
        ("body_sha256", "2" * 64),
    ),
)
def test_every_field_is_held_by_the_hash(name: str, value: object) -> None:
    one = entry(1, body={"set": {"tag": "KF-1"}})
    assert entry_faults(one) == []
    changed = Entry(**{part: getattr(one, part) for part in one.__dataclass_fields__} | {name: value})
    assert entry_faults(changed) != []


def test_a_chain_tells_what_is_missing_and_what_is_out_of_place() -> None:
    first = entry(1)
    second = entry(2, previous=first.hash)
    third = entry(3, previous=second.hash)
    assert trail_faults([third, first, second], own=["a" * 32]) == ([], 0)
    faults, gaps = trail_faults([first, third], own=["a" * 32])
    assert [(fault.number, gaps) for fault in faults] == [(3, 0)]
    assert trail_faults([first, third]) == ([], 1)  # of another store a part may have come
    jumped = entry(4, previous=second.hash)
    faults, _ = trail_faults([first, second, jumped])
    assert [fault.problem for fault in faults] == ["It does not follow the entry it names."]
