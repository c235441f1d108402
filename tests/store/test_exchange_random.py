"""Random work on several stores and random exchanges between them: in the end all agree, and nothing is lost."""

from __future__ import annotations

import os
from collections.abc import Callable
from itertools import count
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    precondition,
    rule,
    run_state_machine_as_test,
)

from engines import NewAddress
from exchanging import Desk, asset_id, id_of_test, meet
from soakage.app.exchange import Scope
from soakage.app.folding import body_of
from soakage.app.holdings import Holdings
from soakage.app.journal import Entry
from soakage.store import parcels as parcelling

PEOPLE = ("Ann Invented", "Bo Invented", "Cy Invented")
DESKS = st.integers(0, len(PEOPLE) - 1)
ASSETS, SECTIONS, DAYS = st.integers(0, 2), st.sampled_from("UV"), st.integers(0, 1)
PHASES = (Phase.explicit, Phase.reuse, Phase.generate)
EXAMPLES = {"sqlite": 12, "postgresql": 3}


def conflicts_by_hand(group: list[Entry]) -> set[str]:
    """The fields of a subject with several values nobody chose between, by walking the parents one by one."""
    by_hash = {entry.hash: entry for entry in group}

    def sees(later: Entry, earlier: Entry) -> bool:
        return any(
            parent == earlier.hash or (parent in by_hash and sees(by_hash[parent], earlier))
            for parent in later.parents
        )

    found = set()
    for field in {name for entry in group for name in body_of(entry).get("set", {})}:
        wrote = [entry for entry in group if field in body_of(entry).get("set", {})]
        live = [entry for entry in wrote if not any(sees(other, entry) for other in wrote)]
        values = {repr(body_of(entry)["set"][field]) for entry in live}
        if field in ("content", "withdrawn"):
            for signed in (entry for entry in group if entry.action == "signed"):
                if not any(sees(other, signed) or sees(signed, other) for other in live):
                    values.add(repr(body_of(signed)["content"] if field == "content" else False))
        if len(values) > 1:
            found.add(field)
    return found


class Exchanges(RuleBasedStateMachine):
    """Three stores; what was acknowledged on any of them is remembered by the test."""

    desks: list[Desk]
    names = count()

    def __init__(self) -> None:
        super().__init__()
        self.sent: list[bytes] = []
        self.told: list[Holdings] = []

    @initialize(copied=st.booleans())
    def begin(self, copied: bool) -> None:
        for desk in self.desks:
            desk.clear(f"store{next(self.names)}")
        if copied:  # someone takes the file of a store along and works on in both
            self.desks[0].receive(0)
            self.desks[1].copy(self.desks[0])

    def _a_test(self, desk: int, pick: int) -> str | None:
        tests = self.desks[desk].tests()
        return tests[pick % len(tests)] if tests else None

    @rule(desk=DESKS, asset=ASSETS, section=SECTIONS, day=DAYS)
    def receive(self, desk: int, asset: int, section: str, day: int) -> None:
        self.desks[desk].receive(asset, section, day)

    @rule(
        desk=DESKS,
        asset=ASSETS,
        field=st.sampled_from(("year", "asset", "insulation")),
        value=st.integers(1, 3),
    )
    def edit(self, desk: int, asset: int, field: str, value: int) -> None:
        self.desks[desk].edit(asset, {field: value if field == "year" else f"Word {value}"})

    @rule(desk=DESKS, asset=ASSETS, section=SECTIONS, day=DAYS, current=st.sampled_from((11.0, 12.0)))
    def revise(self, desk: int, asset: int, section: str, day: int, current: float) -> None:
        if id_of_test(asset, section, day) in self.desks[desk].tests():
            self.desks[desk].revise(asset, section, day, current)

    @rule(desk=DESKS, pick=st.integers(0, 9), action=st.sampled_from(("withdrawn", "reinstated")))
    def withdraw(self, desk: int, pick: int, action: str) -> None:
        if test := self._a_test(desk, pick):
            self.desks[desk].mark(test, action, {"set": {"withdrawn": action == "withdrawn"}})

    @rule(desk=DESKS, pick=st.integers(0, 9))
    def purge(self, desk: int, pick: int) -> None:
        if pick < 3 and (test := self._a_test(desk, pick)):
            self.desks[desk].mark(test, "purged", {})

    @rule(desk=DESKS, pick=st.integers(0, 9), status=st.sampled_from(("sound", "watch", "investigate")))
    def judge(self, desk: int, pick: int, status: str) -> None:
        if test := self._a_test(desk, pick):
            self.desks[desk].judge(test, status)

    @rule(desk=DESKS, pick=st.integers(0, 9))
    def sign(self, desk: int, pick: int) -> None:
        if test := self._a_test(desk, pick):
            self.desks[desk].sign(test)

    @rule(desk=DESKS, asset=ASSETS, text=st.sampled_from(("a noise", "oil on the floor")))
    def note(self, desk: int, asset: int, text: str) -> None:
        self.desks[desk].note(asset, text)
        self.desks[desk].attach(asset, text.encode() * 20)

    @rule(desk=DESKS, take=st.integers(0, 3))
    def settle(self, desk: int, take: int) -> None:
        self.desks[desk].settle(take)

    @rule(source=DESKS, onto=DESKS, asset=ASSETS, part=st.booleans(), most=st.none() | st.integers(0, 3))
    def exchange(self, source: int, onto: int, asset: int, part: bool, most: int | None) -> None:
        scope = (
            Scope(assets=(asset_id(asset),))
            if part and asset_id(asset) in self.desks[source].assets()
            else None
        )
        self.sent.append(self.desks[source].bundle(scope))
        self._give(onto, self.sent[-1], most)

    @rule(source=DESKS, onto=DESKS)
    def pull(self, source: int, onto: int) -> None:
        self.told.append(self.desks[onto].holds())
        self._give(onto, self.desks[source].bundle(since=self.told[-1]))

    @precondition(lambda self: self.sent)
    @rule(pick=st.integers(0, 20), onto=DESKS)
    def take_an_old_one(self, pick: int, onto: int) -> None:
        self._give(onto, self.sent[pick % len(self.sent)])

    @precondition(lambda self: self.told)
    @rule(pick=st.integers(0, 20), source=DESKS, onto=DESKS)
    def ask_as_of_old(self, pick: int, source: int, onto: int) -> None:
        self._give(onto, self.desks[source].bundle(since=self.told[pick % len(self.told)]))

    def _give(self, onto: int, data: bytes, most: int | None = None) -> None:
        """Let a store take a bundle; what was acknowledged there is there afterwards."""
        before = set(self.desks[onto].shared())
        self.desks[onto].take(data, most)
        assert before <= set(self.desks[onto].shared())

    def teardown(self) -> None:
        self.known = {own for desk in self.desks for own in desk.shared()}
        meet(self.desks)
        first = self.desks[0].everything()
        for desk in self.desks[1:]:
            other = desk.everything()
            for table in first:
                assert other[table] == first[table], table
        for desk in self.desks:
            assert desk.faults() == []
        shared = self.desks[0].shared()
        assert set(shared) == self.known
        groups: dict[tuple[str, str], list[Entry]] = {}
        for entry in shared.values():
            groups.setdefault((entry.kind, entry.subject), []).append(entry)
        wanted = {
            (*key, field)
            for key, group in groups.items()
            if not any(entry.action == "purged" for entry in group)
            for field in conflicts_by_hand(group)
        }
        assert self._conflicts() == wanted

    def _conflicts(self) -> set[tuple[str, str, str]]:
        import json

        found = [json.loads(row) for row in self.desks[0].everything()["conflict"]]
        return {(row["kind"], row["subject"], row["field"]) for row in found}


def skewed(offset: int) -> Callable[[], int]:
    ticks = count(1_000_000 + offset)
    return lambda: next(ticks)


def test_after_any_work_and_any_exchanges_all_agree(
    engine: str, new_made: NewAddress, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parcelling, "SUBJECTS", 2)
    # clocks that are apart: one is always ahead, so that times say nothing about who saw what
    opened = [Desk(new_made(), person, skewed(7 * place)) for place, person in enumerate(PEOPLE)]

    class Here(Exchanges):
        desks = opened

    chosen: dict[str, Any] = {"derandomize": True} if os.environ.get("CI") == "true" else {}
    try:
        run_state_machine_as_test(
            Here,
            settings=settings(
                max_examples=EXAMPLES[engine],
                stateful_step_count=20,
                deadline=None,
                phases=PHASES,
                suppress_health_check=list(HealthCheck),
                **chosen,
            ),
        )
    finally:
        for desk in opened:
            desk.store.close()
