"""Rows of the searchable tables from entries: pure, whatever order; what came in part makes no wrong row."""

from __future__ import annotations

import json
import random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.app.journal import START, Entry
from soakage.model.stated import canonical
from soakage.store import schema
from soakage.store.rows import KINDS, fields_of, rows_of
from soakage.store.standing import INDEX, RESISTANCE, standing_of
from trusting import entry

A, B = "a" * 64, "b" * 64
HASH = "cd" * 32


def received(content: str, asset: str = "m" * 32) -> dict[str, Any]:
    of = {"section": "phase U", "visit": "v" * 32, "instrument": None, "method": "polarization-index",
          "test_voltage": 5000.0, "day": "2026-03-14", "started": None}  # fmt: skip
    record: dict[str, Any] = {
        "stated": {}, "extra": {}, "findings": [], "readings": HASH, "file": "a.csv", "file_sha256": HASH,
        "sha256": HASH, "row": None,
    }  # fmt: skip
    return {"set": {"content": content, "asset": asset}, "of": of, "record": record}


def judged(content: str, status: str = "sound", value: float = 2.5e9) -> dict[str, Any]:
    return {
        "content": content, "profile": "default", "profile_sha256": HASH, "criteria_sha256": HASH, "version": "1",
        "status": status, "sentence": f"It is {status}.", "result": HASH, "criteria": [],
        "figures": [{"quantity": RESISTANCE, "value": value, "bound": None, "uncertainty": None, "rule": "r",
                     "base_temperature": 40.0}],
        "findings": [{"code": "short", "sentence": "It ended early.", "status": None}],
    }  # fmt: skip


class History:
    """Entries on one test, each of which saw all before it."""

    def __init__(self) -> None:
        self.entries: list[Entry] = []

    def add(self, action: str, body: dict[str, Any], reason: str = "", person: str = "N. Invented") -> Entry:
        last = self.entries[-1] if self.entries else None
        made = entry(
            len(self.entries) + 1,
            previous=last.hash if last else START,
            kind="test",
            subject="t" * 32,
            action=action,
            parents=(last.hash,) if last else (),
            body=body,
            reason=reason,
            person=person,
        )
        self.entries.append(made)
        return made

    def rows(self) -> dict[str, list[dict[str, Any]]]:
        return rows_of("test", "t" * 32, self.entries)

    def test(self) -> dict[str, Any]:
        (row,) = self.rows()["test"]
        return row


@pytest.fixture
def history() -> History:
    made = History()
    made.add("received", received(A))
    made.add("judged", judged(A))
    return made


def test_a_test_has_its_record_its_verdict_and_its_figures(history: History) -> None:
    rows = history.rows()
    row = history.test()
    assert (row["content"], row["revision"], row["state"], row["review"]) == (A, 1, "current", "draft")
    assert (row["status"], row["verdict"], row["received"]) == (
        "sound", history.entries[1].hash, history.entries[0].hash,
    )  # fmt: skip
    assert [(figure["quantity"], figure["value"]) for figure in rows["figure"]] == [(RESISTANCE, 2.5e9)]
    assert [(finding["place"], finding["code"]) for finding in rows["finding"]] == [(0, "short")]
    assert {name for name, found in rows.items() if found} == {
        "test",
        "revision",
        "verdict",
        "figure",
        "finding",
    }


def test_a_verdict_on_an_older_revision_does_not_stand(history: History) -> None:
    history.add("revised", received(B), reason="Leads were swapped.")
    row = history.test()
    assert (row["content"], row["revision"], row["status"], row["verdict"]) == (B, 2, None, None)
    assert "figure" not in history.rows()
    assert len(history.rows()["verdict"]) == 1  # it is kept
    history.add("judged", judged(B, "watch"))
    assert (history.test()["status"], len(history.rows()["verdict"])) == ("watch", 2)
    assert [(row["number"], row["reason"]) for row in history.rows()["revision"]] == [
        (1, ""), (2, "Leads were swapped."),
    ]  # fmt: skip


def test_of_two_verdicts_the_last_stands_and_both_are_kept(history: History) -> None:
    second = history.add("judged", judged(A, "unfit", 1e6), reason="another edition")
    assert (history.test()["status"], history.test()["verdict"]) == ("unfit", second.hash)
    assert [row["status"] for row in history.rows()["verdict"]] == ["sound", "unfit"]
    assert [row["value"] for row in history.rows()["figure"]] == [1e6]


def test_a_sign_off_holds_for_its_revision_only(history: History) -> None:
    history.add("reviewed", {"content": A, "status": "sound", "text": ""}, person="R. Invented")
    assert (history.test()["review"], history.test()["reviewer"]) == ("reviewed", "R. Invented")
    history.add("signed", {"content": A, "status": "sound", "text": ""}, person="S. Invented")
    history.add("reviewed", {"content": A, "status": "sound", "text": ""}, person="Late")
    assert (history.test()["review"], history.test()["reviewer"]) == ("signed", "S. Invented")
    history.add("revised", received(B), reason="Leads were swapped.")
    assert (history.test()["review"], history.test()["reviewer"]) == ("draft", None)


def test_a_withdrawn_test_is_kept_and_marked(history: History) -> None:
    history.add("withdrawn", {"set": {"withdrawn": True}}, reason="Wrong winding.")
    assert (history.test()["state"], history.test()["status"]) == ("withdrawn", "sound")


def test_of_a_purged_test_only_that_is_left(history: History) -> None:
    purge = history.add("purged", {"file": "x.zip"}, reason="asked for")
    history.add("noted", {"text": "afterwards"})
    assert history.rows() == {"purged": [{"kind": "test", "subject": "t" * 32, "entry": purge.hash}]}


@given(seed=st.integers(0, 1000))
def test_rows_do_not_depend_on_the_order_of_entries(seed: int) -> None:
    made = History()
    made.add("received", received(A))
    made.add("judged", judged(A))
    made.add("noted", {"text": "hot day"})
    made.add("revised", received(B), reason="Leads were swapped.")
    made.add("judged", judged(B, "watch"))
    made.add("signed", {"content": B, "status": "watch", "text": ""})
    whole = made.rows()
    random.Random(seed).shuffle(made.entries)  # noqa: S311 - an order, no secret
    assert canonical(made.rows()) == canonical(whole)


@given(left=st.sets(st.integers(0, 4)))
def test_whatever_part_of_a_history_came_makes_rows_or_none(left: set[int]) -> None:
    made = History()
    made.add("received", received(A))
    made.add("judged", judged(A))
    made.add("withdrawn", {"set": {"withdrawn": True}}, reason="Wrong winding.")
    made.add("revised", received(B), reason="Leads were swapped.")
    made.add("noted", {"text": "hot day"})
    whole = list(made.entries)
    made.entries = [one for place, one in enumerate(whole) if place in left]
    rows = made.rows()
    has_record = bool(left & {0, 3})
    assert ("test" in rows) is has_record
    for name in ("verdict", "figure", "finding", "revision"):
        assert has_record or name not in rows  # no row of a test that is not there


def test_an_asset_has_its_plate_and_all_of_it_as_json() -> None:
    values = {
        "asset": "Pump",
        "tag": "P-1",
        "class": "cable",
        "rated_voltage": 12e3,
        "length": 840.0,
        "year": 1999,
    }
    (row,) = rows_of("asset", "m" * 32, [entry(1, body={"set": values})])["asset"]
    assert (row["name"], row["tag"], row["class"], row["year"], row["retired"]) == (
        "Pump",
        "P-1",
        "cable",
        1999,
        False,
    )
    assert fields_of(row) == values


def test_a_field_that_was_emptied_is_gone() -> None:
    first = entry(1, body={"set": {"asset": "Pump", "tag": "P-1"}})
    second = entry(2, previous=first.hash, parents=(first.hash,), body={"set": {"tag": None}})
    (row,) = rows_of("asset", "m" * 32, [second, first])["asset"]
    assert (row["tag"], fields_of(row)) == (None, {"asset": "Pump"})


def test_two_edits_unseen_are_a_conflict_with_both_values() -> None:
    first = entry(1, store="a" * 32, body={"set": {"year": 1999}})
    second = entry(1, store="b" * 32, at=first.at + 5, body={"set": {"year": 2001}})
    (row,) = rows_of("asset", "m" * 32, [first, second])["conflict"]
    assert [claim["value"] for claim in json.loads(row["claims"])] == [2001, 1999]
    assert (row["kind"], row["subject"], row["field"]) == ("asset", "m" * 32, "year")


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_a_table_of_its_name(kind: str) -> None:
    assert kind in schema.metadata.tables
    assert rows_of(kind, "m" * 32, []) == {}
    assert schema.metadata.tables[kind] in schema.FOLLOWS


# Where an asset stands


def one_test(number: int, day: str | None, **other: Any) -> dict[str, Any]:
    return {"id": f"{number}", "day": day, "visit": day, "state": "current", "status": "sound", "review": "draft",
            "section": "U", "method": "spot", "test_voltage": 5e3} | other  # fmt: skip


def figures(**values: float) -> dict[str, dict[str, dict[str, Any]]]:
    return {
        name.removeprefix("t"): {RESISTANCE: {"value": value, "bound": None, "rule": "r"}}
        for name, value in values.items()
    }


def test_an_asset_stands_where_its_newest_visit_stands() -> None:
    tests = [
        one_test(1, "2024-05-01", status="unfit"),
        one_test(2, "2025-05-01", status="watch"),
        one_test(3, "2025-05-01", status="sound", section="V", review="signed"),
    ]
    row = standing_of("m", tests, figures(t1=1e6, t2=2e9, t3=3e9))
    assert row is not None
    assert (row["status"], row["tests"], row["unsigned"], row["day"]) == ("watch", 3, 2, "2025-05-01")
    assert (row["resistance"], row["index"]) == (2e9, None)


@pytest.mark.parametrize(
    ("statuses", "worst"),
    (
        (("sound", "unfit", "watch"), "unfit"),
        (("sound", "investigate"), "investigate"),
        (("sound", None), "not judged"),
        (("watch", "invalid test"), "invalid test"),
        (("sound", "not applicable"), "sound"),
    ),
)
def test_the_worst_of_a_visit_counts(statuses: tuple[str | None, ...], worst: str) -> None:
    tests = [one_test(number, "2025-05-01", status=status) for number, status in enumerate(statuses)]
    row = standing_of("m", tests, {})
    assert row is not None
    assert row["status"].replace("_", " ") == worst


def test_a_fall_is_told_between_alike_only() -> None:
    def fall(*tests: dict[str, Any], **values: float) -> float | None:
        row = standing_of("m", tests, figures(**values))
        assert row is not None
        found: float | None = row["fall"]
        return found

    first, second = one_test(1, "2024-05-01"), one_test(2, "2025-05-01")
    # ln(1/2) by hand
    assert fall(first, second, t1=2e9, t2=1e9) == pytest.approx(-0.693147, abs=1e-6)
    assert fall(first, second | {"method": "polarization-index"}, t1=2e9, t2=1e9) is None
    assert fall(first, second | {"test_voltage": 1e3}, t1=2e9, t2=1e9) is None
    assert fall(first, second | {"section": "V"}, t1=2e9, t2=1e9) is None
    assert fall(first, t1=2e9) is None


def test_a_bound_is_no_figure_to_fall_from() -> None:
    tests = [one_test(1, "2024-05-01"), one_test(2, "2025-05-01")]
    found = figures(t1=2e9, t2=1e9)
    found["1"][RESISTANCE]["bound"] = "lower"
    row = standing_of("m", tests, found)
    assert row is not None
    assert row["fall"] is None


def test_an_asset_whose_tests_are_withdrawn_stands_nowhere() -> None:
    assert standing_of("m", [one_test(1, "2024-05-01", state="withdrawn")], {}) is None
    assert standing_of("m", [], {}) is None


def test_a_test_without_a_day_stands_alone() -> None:
    tests = [one_test(1, "2024-05-01"), one_test(2, None, status="unfit")]
    row = standing_of("m", tests, {})
    assert row is not None
    assert (row["status"], row["day"], row["visit"], row["tests"]) == ("sound", "2024-05-01", "2024-05-01", 2)
    assert INDEX not in row
