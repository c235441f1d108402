"""Merging, case by case on both engines: what is one thing, what is in conflict, what is refused, what is told."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from dataclasses import replace
from itertools import count
from typing import Any

import pytest
from sqlalchemy import select

from engines import ENGINES, addresses
from exchanging import Desk, asset_id, id_of_test, meet, record, small_parcels
from soakage.app.exchange import Parcel, Scope
from soakage.app.journal import HERE, Entry, made_entry
from soakage.app.keeping import instrument_id
from soakage.errors import StoreError, UsageError
from soakage.model.stated import content_id, digest
from soakage.store import merging as merging_module
from soakage.store import parcels as parcelling
from soakage.store import schema
from soakage.store.conflicts import conflicts
from soakage.store.holding import changed_subjects, held_at
from soakage.store.merging import Merging, merge
from soakage.store.trail import entries
from soakage.store.unbundle import BundleReader
from soakage.store.writing import Writer

NAMES = ("Ann Invented", "Bo Invented", "Cy Invented")


@pytest.fixture(scope="module", params=ENGINES)
def opened(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Desk]]:
    """Three stores for all tests here: to make one takes longer than what is tested."""
    ticks = count(1_000_000)
    with addresses(request, tmp_path_factory.mktemp("merging"), len(NAMES)) as made:
        desks = [Desk(where, name, lambda: next(ticks)) for where, name in zip(made, NAMES, strict=True)]
        yield desks
        for desk in desks:
            desk.store.close()


@pytest.fixture
def desks(opened: list[Desk]) -> list[Desk]:
    """Two laptops and an office, each with an empty store; one clock for all."""
    for number, desk in enumerate(opened):
        desk.clear(f"store{number}")
    return opened


def row(desk: Desk, table: Any, name: str) -> dict[str, Any]:
    with desk.store.reading() as connection:
        return dict(connection.execute(select(table).where(table.c.id == name)).mappings().one())


# One thing


def test_the_same_header_on_two_laptops_is_one_asset(desks: list[Desk]) -> None:
    desks[0].receive(0, "U")
    desks[1].receive(0, "V")
    meet(desks)
    for desk in desks:
        assert desk.assets() == [asset_id(0)]
        assert desk.tests() == sorted([id_of_test(0, "U"), id_of_test(0, "V")])
        assert desk.everything()["conflict"] == []
        plate = json.loads(row(desk, schema.asset, asset_id(0))["fields"])
        assert {name for name in plate if name.startswith("section:")} == {"section:U", "section:V"}


def test_a_name_changed_here_and_a_plate_edited_there_are_both_kept(desks: list[Desk]) -> None:
    desks[0].receive(0)
    meet(desks)
    desks[0].edit(0, {"asset": "Pump 0, rebuilt"})
    desks[1].edit(0, {"year": 2004})
    meet(desks)
    for desk in desks:
        found = row(desk, schema.asset, asset_id(0))
        assert (found["name"], found["year"]) == ("Pump 0, rebuilt", 2004)
        assert desk.everything()["conflict"] == []


def test_the_same_test_brought_twice_is_one_with_both_verdicts(desks: list[Desk]) -> None:
    for desk, status in zip(desks, ("sound", "watch"), strict=False):
        desk.receive(0)
        desk.judge(id_of_test(), status)
    told = desks[2].take(desks[0].bundle()).merged
    assert (told.counts["tests"], told.counts["verdicts"]) == (1, 1)
    told = desks[2].take(desks[1].bundle()).merged
    assert "tests" not in told.counts
    assert (told.counts["tests received on both"], told.counts["verdicts"]) == (1, 1)
    found = row(desks[2], schema.test, id_of_test())
    assert (found["status"], found["revision"]) == ("watch", 2)  # the verdict given last stands
    statuses = {json.loads(one)["status"] for one in desks[2].everything()["verdict"]}
    assert statuses == {"sound", "watch"}
    (instrument,) = desks[2].everything()["instrument"]
    assert json.loads(instrument)["id"] == instrument_id(record())


def test_the_same_file_attached_on_two_laptops_is_kept_once_and_both_say_so(desks: list[Desk]) -> None:
    for desk in desks[:2]:
        desk.receive(0)
        desk.attach(0, b"a photograph" * 50)
        desk.note(0, "oil")
    meet(desks)
    everything = desks[2].everything()
    assert len([r for r in everything["remark"] if json.loads(r)["action"] == "attached"]) == 2
    assert len([r for r in everything["remark"] if json.loads(r)["action"] == "noted"]) == 2
    assert everything["blob"].count(digest(b"a photograph" * 50)) == 1


# Conflicts


def in_conflict(desk: Desk) -> list[tuple[str, list[Any]]]:
    with desk.store.reading() as connection:
        return [(one.field, [claim.value for claim in one.claims]) for one in conflicts(connection)]


def test_two_edits_of_one_plate_are_a_conflict_until_settled_anywhere(desks: list[Desk]) -> None:
    desks[0].receive(0)
    meet(desks)
    desks[0].edit(0, {"year": 2001})
    desks[1].edit(0, {"year": 2002})
    told = desks[0].take(desks[1].bundle()).merged
    (conflict,) = told.conflicts
    assert (conflict.kind, conflict.title, conflict.field) == ("asset", "Pump 0", "year")
    assert [(c.value, c.person) for c in conflict.claims] == [(2002, NAMES[1]), (2001, NAMES[0])]
    meet(desks)
    for desk in desks:
        assert in_conflict(desk) == [("year", [2002, 2001])]
        assert row(desk, schema.asset, asset_id(0))["year"] == 2002
    desks[2].settle(1)
    meet(desks)
    for desk in desks:
        assert in_conflict(desk) == []
        assert row(desk, schema.asset, asset_id(0))["year"] == 2001
    with desks[1].store.reading() as connection:
        years = [json.loads(e.body or "{}").get("set", {}).get("year") for e in entries(connection)]
    assert {2001, 2002} <= set(years)


def test_the_same_edit_made_twice_is_no_conflict(desks: list[Desk]) -> None:
    desks[0].receive(0)
    meet(desks)
    for desk in desks:
        desk.edit(0, {"year": 2001})
    meet(desks)
    assert in_conflict(desks[1]) == []


def test_of_two_revisions_made_apart_one_is_chosen(desks: list[Desk]) -> None:
    desks[0].receive(0)
    meet(desks)
    desks[0].revise(0, "U", 0, 11.0)
    desks[1].revise(0, "U", 0, 12.0)
    meet(desks)
    first, second = (content_id(record(0, "U", 0, current)) for current in (11.0, 12.0))
    assert in_conflict(desks[2]) == [("content", [second, first])]
    assert row(desks[2], schema.test, id_of_test())["review"] == "draft"
    desks[1].settle(1)
    meet(desks)
    for desk in desks:
        found = row(desk, schema.test, id_of_test())
        assert (found["content"], found["revision"]) == (first, 3)
        assert in_conflict(desk) == []


def test_a_sign_off_and_a_revision_made_apart_are_shown_to_someone(desks: list[Desk]) -> None:
    desks[0].receive(0)
    desks[0].judge(id_of_test(), "sound")
    meet(desks)
    desks[0].sign(id_of_test())
    desks[1].revise(0, "U", 0, 12.0)
    meet(desks)
    original = content_id(record())
    assert in_conflict(desks[2]) == [("content", [content_id(record(0, "U", 0, 12.0)), original])]
    desks[2].settle(1)
    meet(desks)
    for desk in desks:
        found = row(desk, schema.test, id_of_test())
        assert (found["content"], found["review"], found["reviewer"]) == (original, "signed", NAMES[0])


# What was removed


def test_what_was_purged_here_does_not_come_back_from_there(desks: list[Desk]) -> None:
    desks[0].receive(0)
    stale = desks[0].bundle()
    meet(desks)
    desks[1].mark(id_of_test(), "purged", {})
    told = desks[1].take(stale).merged
    assert told.entries == 0
    meet(desks)
    for desk in desks:
        assert desk.tests() == []
        assert desk.faults() == []
    readings = digest(f"file of 0 U 0 brought by {NAMES[0]}".encode() * 9)
    assert all(readings not in desk.everything()["blob"] for desk in desks)


def test_a_purge_reaches_a_store_that_judged_meanwhile(desks: list[Desk]) -> None:
    desks[0].receive(0)
    meet(desks)
    desks[1].mark(id_of_test(), "purged", {})
    desks[0].judge(id_of_test(), "watch")
    told = desks[1].take(desks[0].bundle()).merged
    assert told.counts == {"kept out, for it was removed here": 1}
    told = desks[0].take(desks[1].bundle()).merged
    assert told.counts == {"removed for good": 1}
    meet(desks)
    assert [desk.tests() for desk in desks] == [[], [], []]
    assert [desk.faults() for desk in desks] == [[], [], []]


def test_a_withdrawal_travels_with_its_reason(desks: list[Desk]) -> None:
    desks[0].receive(0)
    desks[0].mark(id_of_test(), "withdrawn", {"set": {"withdrawn": True}})
    told = desks[1].take(desks[0].bundle()).merged
    assert told.counts["withdrawals"] == 1
    assert row(desks[1], schema.test, id_of_test())["state"] == "withdrawn"


# What is told


def test_sections_that_came_together_are_to_be_judged_again(desks: list[Desk]) -> None:
    desks[0].receive(0, "U")
    desks[1].receive(0, "V")
    desks[1].receive(1, "U")
    (met,) = desks[0].take(desks[1].bundle()).merged.together
    assert (met.asset, met.day) == (asset_id(0), "2026-03-10")
    assert met.title == "Pump 0, 2026-03-10"
    assert desks[0].take(desks[1].bundle()).merged.together == []


def test_a_visit_that_came_whole_is_not(desks: list[Desk], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parcelling, "SUBJECTS", 1)
    for section in "UV":
        desks[1].receive(0, section)
    assert desks[0].take(desks[1].bundle()).merged.together == []


def test_the_log_says_what_was_merged_from_whom_by_whom_and_stays_here(desks: list[Desk]) -> None:
    desks[0].receive(0)
    desks[1].take(desks[0].bundle())
    with desks[1].store.reading() as connection:
        (logged,) = [e for e in entries(connection) if e.store == f"store1{HERE}"]
    body = json.loads(logged.body or "{}")
    assert (logged.person, logged.action) == (NAMES[1], "merged")
    assert (body["from"], body["file"], body["counts"]["tests"]) == ("store0", "a.bundle", 1)
    assert all(not e.store.endswith(HERE) for p in small_parcels(desks[1].bundle()) for e in p.entries)
    desks[1].take(desks[0].bundle())  # nothing new: nothing to log
    with desks[1].store.reading() as connection:
        assert sum(e.store == f"store1{HERE}" for e in entries(connection)) == 1


def test_a_dry_run_tells_the_same_and_keeps_nothing(desks: list[Desk]) -> None:
    for section in "UV":
        desks[0].receive(0, section)
    desks[1].receive(0, "W")
    desks[1].edit(0, {"year": 1990})
    desks[0].edit(0, {"year": 1991})
    before = desks[1].everything()
    parcels = list(small_parcels(desks[0].bundle()))
    tried = merge(
        desks[1].store, "x", BundleReader(io.BytesIO(desks[0].bundle()), "b").parcels(), dry_run=True
    )
    assert desks[1].everything() == before
    assert len(parcels) == 1
    done = desks[1].take(desks[0].bundle()).merged
    for part in ("entries", "known", "counts", "assets", "conflicts", "together"):
        assert getattr(tried, part) == getattr(done, part), part


# Parts


def test_a_part_holds_an_asset_with_what_belongs_to_it_and_nothing_else(desks: list[Desk]) -> None:
    for asset in (0, 1, 2):
        desks[0].receive(asset)
        desks[0].note(asset, "a noise")
    desks[1].take(desks[0].bundle(Scope(assets=(asset_id(1),))))
    assert desks[1].assets() == [asset_id(1)]
    assert desks[1].tests() == [id_of_test(1)]
    whole = desks[1].everything()
    assert [json.loads(r)["name"] for r in whole["site"]] == ["Site 1"]
    assert (len(whole["instrument"]), len(whole["visit"]), len(whole["remark"])) == (1, 1, 1)
    assert desks[1].faults() == []
    desks[2].take(desks[0].bundle(Scope(site="Site 0")))
    assert desks[2].assets() == sorted([asset_id(0), asset_id(2)])


def test_a_site_nobody_knows_is_said(desks: list[Desk]) -> None:
    with pytest.raises(UsageError, match="No asset is at a site called 'Site 9'"):
        desks[0].bundle(Scope(site="Site 9"))


def test_only_what_the_other_lacks_is_sent(desks: list[Desk]) -> None:
    for asset in range(3):
        desks[0].receive(asset)
    desks[1].take(desks[0].bundle())
    desks[0].receive(0, "V")
    sent = [e for p in small_parcels(desks[0].bundle(since=desks[1].holds())) for e in p.entries]
    assert {e.subject for e in sent if e.kind == "test"} == {id_of_test(0, "V")}
    assert {e.subject for e in sent if e.kind == "asset"} == {asset_id(0)}
    desks[1].take(desks[0].bundle(since=desks[1].holds()))
    assert list(small_parcels(desks[0].bundle(since=desks[1].holds()))) == []


def test_since_a_day_sends_what_came_by_a_merge_after_it_however_old_that_is(desks: list[Desk]) -> None:
    desks[0].receive(0)
    desks[1].receive(1)
    desks[0].take(desks[1].bundle())
    desks[1].receive(2)  # written before the day, brought after it
    day = desks[0].store._now()
    desks[0].receive(0, "V")
    desks[0].take(desks[1].bundle())
    with desks[0].store.reading() as connection:
        changed = changed_subjects(connection, held_at(connection, "store0", day))
    assert changed is not None
    assert {name for kind, name in changed if kind == "test"} == {id_of_test(0, "V"), id_of_test(2)}


def test_where_too_much_changed_everything_is_sent(
    desks: list[Desk], monkeypatch: pytest.MonkeyPatch
) -> None:
    desks[0].receive(0)
    monkeypatch.setattr("soakage.store.holding.MOST_SUBJECTS", 1)
    with desks[0].store.reading() as connection:
        assert changed_subjects(connection, {}) is None
    assert desks[0].bundle(since={}) == desks[0].bundle()


# Broken off


def test_a_merge_that_broke_in_the_middle_of_a_parcel_kept_none_of_it_and_goes_on(
    desks: list[Desk], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parcelling, "SUBJECTS", 2)
    for asset in range(3):
        desks[0].receive(asset)
        desks[0].attach(asset, bytes(100))
    data = desks[0].bundle()
    flush, calls = Writer.flush, count()

    def breaking(self: Writer) -> list[Entry]:
        made = flush(self)
        if next(calls) == 5:
            raise KeyboardInterrupt
        return made

    monkeypatch.setattr(Writer, "flush", breaking)
    with pytest.raises(KeyboardInterrupt):
        desks[1].take(data)
    monkeypatch.setattr(Writer, "flush", flush)
    assert desks[1].faults() == []
    assert 0 < len(desks[1].shared()) < len(desks[0].shared())
    desks[1].take(data)
    assert desks[1].everything() == desks[0].everything()


def test_large_contents_are_written_as_they_come(desks: list[Desk], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(merging_module, "_HELD", 100)
    desks[0].receive(0)
    for number in range(5):
        desks[0].attach(0, bytes([number]) * 90)
    desks[1].take(desks[0].bundle())
    assert desks[1].everything() == desks[0].everything()


# Refused


def forged(**values: Any) -> Entry:
    whole: dict[str, Any] = {
        "store": "elsewhere", "number": 2, "previous": digest("before"), "at": 5, "person": "X",
        "identity": "stated, not authenticated", "kind": "asset", "subject": "s1", "action": "stated", "parents": [],
        "reason": "", "body": {"set": {"year": 1}},
    }  # fmt: skip
    return made_entry(**(whole | values))


REFUSED = {
    "newer": (forged(kind="turbine"), "does not know. Use a newer"),
    "private": (forged(store=f"elsewhere{HERE}"), "belongs to its own store"),
    "long": (forged(subject="s" * 65), "too long"),
    "place": (forged(number=1), "not where it says"),
    "zero": (forged(number=0), "not where it says"),
    "orphan": (forged(parents=[digest("nobody")]), "neither here nor with it"),
    "empty": (replace(forged(), body=None), "content is missing"),
    "changed": (replace(forged(), reason="other"), "not what was written"),
    "readings": (
        forged(
            kind="test", action="received",
            body={"set": {"content": "c"}, "of": {}, "record": {"readings": digest("r")}},
        ),
        "that it needs is missing",
    ),
    "verdict": (forged(kind="test", action="judged", body={"result": digest("r")}), "that it needs is missing"),
    "senseless": (
        forged(kind="test", action="received", body={"set": {"content": "c"}, "of": {}, "record": {}}),
        "cannot be understood",
    ),
}  # fmt: skip


@pytest.mark.parametrize("how", REFUSED)
def test_what_does_not_hold_is_refused_and_changes_nothing(desks: list[Desk], how: str) -> None:
    entry, words = REFUSED[how]
    desks[0].receive(0)
    before = desks[0].everything()
    good = forged(number=9, subject="s9")
    with pytest.raises(StoreError, match=words) as problem:
        Merging(desks[0].store, "X").take(Parcel([good, entry]))
    assert "Nothing that came with it was kept" in str(problem.value)
    assert desks[0].everything() == before


def test_entries_that_do_not_follow_one_another_are_refused(desks: list[Desk]) -> None:
    first = forged(number=1, previous="0" * 64, at=100)
    Merging(desks[0].store, "X").take(Parcel([first]))
    for wrong in (
        forged(number=3, previous=first.hash, at=200),
        forged(number=2, previous=first.hash, at=50),
    ):
        with pytest.raises(StoreError, match="does not follow"):
            Merging(desks[0].store, "X").take(Parcel([wrong]))
    before = forged(number=7, subject="s2", at=300)
    after = forged(number=8, subject="s3", at=200, previous=before.hash)
    Merging(desks[0].store, "X").take(Parcel([after]))
    with pytest.raises(StoreError, match="does not follow"):  # the later one is here already
        Merging(desks[0].store, "X").take(Parcel([before]))


def test_what_was_taken_before_a_refusal_is_kept_and_logged(desks: list[Desk]) -> None:
    with pytest.raises(StoreError, match="newer"):
        merge(desks[0].store, "X", [Parcel([forged()]), Parcel([REFUSED["newer"][0]])], source="elsewhere")
    assert list(desks[0].shared().values()) == [forged()]
    with desks[0].store.reading() as connection:
        (logged,) = [e for e in entries(connection) if e.action == "merged"]
    assert json.loads(logged.body or "{}")["entries"] == 1


# Copies


def test_a_store_that_meets_its_own_unknown_entries_goes_on_under_a_new_name(desks: list[Desk]) -> None:
    desks[0].receive(0)
    desks[1].copy(desks[0])  # the file was copied to another laptop
    desks[0].edit(0, {"year": 2001})
    desks[1].edit(0, {"insulation": "mica"})
    told = desks[0].take(desks[1].bundle(since=desks[0].holds())).merged
    assert told.entries > 0
    assert desks[0].store.id != "store0"
    desks[0].note(0, "after the copies met")
    meet(desks)
    assert [desk.faults() for desk in desks] == [[], [], []]
    assert desks[1].everything() == desks[0].everything() == desks[2].everything()
    found = row(desks[2], schema.asset, asset_id(0))
    assert (found["year"], found["insulation"]) == (2001, "mica")
