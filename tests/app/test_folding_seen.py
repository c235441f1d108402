"""Who saw what, through entries of every kind: a note between two edits, a sign-off beside a revision."""

from __future__ import annotations

from itertools import permutations
from typing import Any

from soakage.app.folding import fold
from soakage.app.journal import START, Entry, made_entry

_CLOCK = iter(range(1, 1_000_000))


def entry(action: str, body: dict[str, Any], *parents: Entry, kind: str = "test", person: str = "A") -> Entry:
    return made_entry(
        store="here",
        number=next(_CLOCK),
        previous=START,
        at=next(_CLOCK),
        person=person,
        identity="stated, not authenticated",
        kind=kind,
        subject="one",
        action=action,
        parents=[parent.hash for parent in parents],
        reason="",
        body=body,
    )


def test_an_edit_after_a_note_has_seen_the_edit_before_it() -> None:
    first = entry("stated", {"set": {"year": 2001}}, kind="asset")
    note = entry("noted", {"text": "the plate is hard to read"}, first, kind="asset")
    second = entry("stated", {"set": {"year": 2007}}, note, kind="asset")
    for order in permutations((first, note, second)):
        state = fold(order)
        assert state.values == {"year": 2007}
        assert state.conflicts == {}
        assert state.heads == (second.hash,)


def test_notes_alone_set_nothing() -> None:
    first = entry("noted", {"text": "heard a noise"}, kind="asset")
    second = entry("noted", {"text": "heard it again"}, first, kind="asset")
    state = fold((second, first))
    assert (state.values, state.conflicts, state.first, state.last) == ({}, {}, None, None)
    assert state.heads == (second.hash,)


def test_a_sign_off_and_a_revision_apart_are_in_conflict() -> None:
    received = entry("received", {"set": {"content": "c0"}})
    signed = entry("signed", {"content": "c0"}, received, person="Signer")
    revised = entry("revised", {"set": {"content": "c1"}}, received, person="Reviser")
    state = fold((revised, signed, received))
    assert [(claim.value, claim.person) for claim in state.conflicts["content"]] == [
        ("c1", "Reviser"),
        ("c0", "Signer"),
    ]
    for choice in ("c0", "c1"):
        settled = entry("stated", {"set": {"content": choice}}, signed, revised)
        after = fold((settled, revised, signed, received))
        assert (after.values["content"], after.conflicts) == (choice, {})


def test_a_revision_that_saw_the_sign_off_is_no_conflict() -> None:
    received = entry("received", {"set": {"content": "c0"}})
    signed = entry("signed", {"content": "c0"}, received)
    revised = entry("revised", {"set": {"content": "c1"}}, signed)
    assert fold((received, signed, revised)).conflicts == {}
    again = entry("signed", {"content": "c1"}, revised)
    state = fold((received, signed, revised, again))
    assert (state.values["content"], state.conflicts) == ("c1", {})


def test_a_sign_off_of_what_both_hold_is_no_conflict() -> None:
    received = entry("received", {"set": {"content": "c0"}})
    also = entry("received", {"set": {"content": "c0"}}, person="B")
    signed = entry("signed", {"content": "c0"}, received)
    state = fold((also, signed, received))
    assert (state.values["content"], state.conflicts) == ("c0", {})


def test_a_withdrawal_that_did_not_see_the_sign_off_is_in_conflict_with_it() -> None:
    received = entry("received", {"set": {"content": "c0"}})
    signed = entry("signed", {"content": "c0"}, received)
    withdrawn = entry("withdrawn", {"set": {"withdrawn": True}}, received)
    assert {claim.value for claim in fold((received, signed, withdrawn)).conflicts["withdrawn"]} == {
        True,
        False,
    }
    after = entry("withdrawn", {"set": {"withdrawn": True}}, signed)
    assert fold((received, signed, after)).conflicts == {}


def test_a_sign_off_after_a_withdrawal_was_taken_back_leaves_it_so() -> None:
    received = entry("received", {"set": {"content": "c0"}})
    withdrawn = entry("withdrawn", {"set": {"withdrawn": True}}, received)
    back = entry("reinstated", {"set": {"withdrawn": False}}, withdrawn)
    signed = entry("signed", {"content": "c0"}, back)
    state = fold((signed, back, withdrawn, received))
    assert (state.values["withdrawn"], state.conflicts) == (False, {})


def test_a_sign_off_and_a_withdrawal_taken_back_agree() -> None:
    received = entry("received", {"set": {"content": "c0"}})
    signed = entry("signed", {"content": "c0"}, received)
    withdrawn = entry("withdrawn", {"set": {"withdrawn": True}}, received)
    back = entry("reinstated", {"set": {"withdrawn": False}}, withdrawn)
    assert fold((received, signed, withdrawn, back)).conflicts == {}
