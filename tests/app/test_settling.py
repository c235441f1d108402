"""Which conflict is meant, which value stands, and what may not be chosen."""

from __future__ import annotations

from typing import Any

import pytest

from soakage.app.exchange import Conflict, Merged, Parcel, Scope, by_subject, hashes_in, look
from soakage.app.folding import Claim, Folded
from soakage.app.journal import START, Entry, made_entry
from soakage.app.settling import meant, settle, taken
from soakage.errors import UsageError
from soakage.model.stated import digest

CLAIMS = (Claim(2002, "B", 2, "e2"), Claim(2001, "A", 1, "e1"))
PUMP = Conflict("asset", "a" * 32, "Pump 3", "year", CLAIMS, ("Pump 3", "P-3"))
TWIN = Conflict("asset", "b" * 32, "Pump 3", "year", CLAIMS)
TEST = Conflict(
    "test", "c" * 32, "Pump 3, U", "content", (Claim("c1", "B", 2, "e2"), Claim("c0", "A", 1, "e1"))
)


class Ground:
    """A change of a memory that holds one subject in conflict."""

    def __init__(self, conflict: Conflict) -> None:
        self.now = Folded(conflicts={conflict.field: conflict.claims})
        self.stated: list[Any] = []

    def folded(self, kind: str, subject: str) -> Folded:
        del kind, subject
        return self.now

    def state(self, *what: Any, reason: str) -> None:
        self.stated.append((*what, reason))


@pytest.mark.parametrize("text", ("Pump 3", "P-3", "  Pump   3 ", "aaaaaaaa", "a" * 32))
def test_a_conflict_is_found_by_any_name_of_its_subject(text: str) -> None:
    assert meant([PUMP, TEST], text, "year") is PUMP


@pytest.mark.parametrize("text", ("Pump", "aaaaaaa", "p-3", ""))
def test_never_by_a_part_of_a_name(text: str) -> None:
    with pytest.raises(UsageError, match="is in conflict"):
        meant([PUMP, TEST], text, "year")


def test_two_of_one_name_are_told_apart_by_id() -> None:
    with pytest.raises(UsageError, match="aaaaaaaaaaaa, bbbbbbbbbbbb"):
        meant([PUMP, TWIN], "Pump 3", "year")
    assert meant([PUMP, TWIN], "bbbbbbbb", "year") is TWIN


def test_values_are_counted_as_they_are_listed() -> None:
    assert [taken(PUMP, number) for number in (1, 2)] == [2002, 2001]
    for number in (0, 3, -1):
        with pytest.raises(UsageError, match="1 to 2"):
            taken(PUMP, number)


def test_a_third_value_may_stand_for_an_asset_but_not_for_a_test() -> None:
    ground: Any = Ground(PUMP)
    assert settle(ground, PUMP, 2004, " Plate read again ").value == 2004
    assert ground.stated == [("asset", "a" * 32, {"year": 2004}, "Plate read again")]
    ground = Ground(TEST)
    with pytest.raises(UsageError, match="one of the values is chosen"):
        settle(ground, TEST, "c9")
    settle(ground, TEST, "c0")
    assert ground.stated == [("test", "c" * 32, {"content": "c0"}, "")]


def test_what_changed_since_it_was_shown_is_looked_at_again() -> None:
    ground: Any = Ground(PUMP)
    for now in ((), (*CLAIMS, Claim(2003, "C", 3, "e3"))):
        ground.now = Folded(conflicts={"year": now} if now else {})
        with pytest.raises(UsageError, match="changed meanwhile"):
            settle(ground, PUMP, 2001)
    assert ground.stated == []


def entry(number: int, action: str, body: dict[str, Any], kind: str = "asset") -> Entry:
    return made_entry(
        store="s", number=number, previous=START, at=number, person="A", identity="stated", kind=kind, subject="x",
        action=action, parents=[], reason="", body=body,
    )  # fmt: skip


def test_what_is_told_of_new_entries_is_what_they_bring() -> None:
    stated, note = entry(1, "stated", {"set": {"asset": "Pump"}}), entry(2, "noted", {"text": "hum"})
    merged = Merged()
    look(merged, ("asset", "x"), [], [stated, note])
    assert (merged.entries, merged.counts) == (2, {"assets": 1, "notes": 1})
    assert merged.assets == [("x", "Pump")]
    again = Merged()
    look(again, ("asset", "x"), [stated], [entry(3, "stated", {"set": {"asset": "Pump"}})])
    assert again.counts == {}  # the same stated twice is no edit


def test_bytes_are_named_by_their_hashes_wherever_they_stand() -> None:
    found = digest("x")
    one = entry(1, "attached", {"sha256": found, "text": f"as {digest('y')} says"})
    assert hashes_in([one]) == {found}
    assert list(by_subject([one])) == [("asset", "x")]
    assert Parcel([one]).blobs == ()
    assert (Scope().whole, Scope(site="S").whole, Scope(assets=("x",)).whole) == (True, False, False)
