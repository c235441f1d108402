"""Sheets in the store, on both engines: kept row by row, once each, whole after a restart, gone once received."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from sqlalchemy import insert, select

from keeping import opened, stores_closed
from soakage.store import schema
from soakage.store.drafts import (
    MOST_ROWS,
    GoneError,
    OutOfTurnError,
    add_row,
    begin_draft,
    instruments_at_hand,
    kept_draft,
    remove_draft,
    set_up,
)
from soakage.store.waiting import unfinished

__all__ = ["stores_closed"]
SET_UP = {"title": "Feed pump 2 motor", "sheets": [], "header": {}, "ticks": {}}
NOBODY = "0" * 32


def row(key: str, **more: Any) -> dict[str, Any]:
    return {
        "key": key,
        "sheet": 0,
        "kind": "reading",
        "value": 1.08e9,
        "bound": None,
        "text": "1.08 GΩ",
    } | more


def test_a_sheet_is_there_as_it_was_begun(store_address: str) -> None:
    memory = opened(store_address)
    name = begin_draft(memory, None, SET_UP, now=lambda: 41)
    found = kept_draft(memory, name)
    assert found is not None
    assert (found.id, found.person, found.asset, found.begun, found.changed) == (
        name,
        "N. Invented",
        None,
        41,
        41,
    )
    assert found.fields == SET_UP
    assert found.rows == ()
    assert found.next == 1


def test_there_is_none_of_another_name(store_address: str) -> None:
    memory = opened(store_address)
    assert kept_draft(memory, NOBODY) is None
    begin_draft(memory, None, SET_UP)
    assert kept_draft(memory, NOBODY) is None


def test_rows_stand_in_order_with_the_time_the_server_was_told(store_address: str) -> None:
    memory = opened(store_address)
    name = begin_draft(memory, None, SET_UP, now=lambda: 1)
    for number in (1, 2, 3):
        assert add_row(memory, name, number, row(f"key-{number}"), now=iter((number * 10,)).__next__)
    found = kept_draft(memory, name)
    assert found is not None
    assert [(one.number, one.at, one.fields["key"]) for one in found.rows] == [
        (1, 10, "key-1"), (2, 20, "key-2"), (3, 30, "key-3"),
    ]  # fmt: skip
    assert found.rows[0].fields == row("key-1")
    assert found.changed == 30
    assert found.next == 4


def test_each_row_is_on_the_disk_when_it_is_acknowledged(store_address: str) -> None:
    memory = opened(store_address)
    name = begin_draft(memory, None, SET_UP)
    for number in range(1, 8):
        add_row(memory, name, number, row(f"key-{number}"))
        other = opened(store_address)  # a program that was started after the first one died
        found = kept_draft(other, name)
        assert found is not None
        assert len(found.rows) == number


def test_what_is_sent_twice_is_kept_once(store_address: str) -> None:
    memory = opened(store_address)
    name = begin_draft(memory, None, SET_UP)
    assert add_row(memory, name, 1, row("key-1"))
    assert not add_row(memory, name, 1, row("key-1", text="worked out again, otherwise"))
    assert add_row(memory, name, 2, row("key-2"))
    assert not add_row(memory, name, 1, row("key-1"))
    found = kept_draft(memory, name)
    assert found is not None
    assert [one.fields["text"] for one in found.rows] == ["1.08 GΩ", "1.08 GΩ"]


@pytest.mark.parametrize("number", (1, 3, 4, 100))
def test_a_row_out_of_turn_is_refused_and_nothing_changes(store_address: str, number: int) -> None:
    memory = opened(store_address)
    name = begin_draft(memory, None, SET_UP)
    add_row(memory, name, 1, row("key-1"))
    before = kept_draft(memory, name)
    with pytest.raises(OutOfTurnError, match="Allowed: 2"):
        add_row(memory, name, number, row("another"))
    assert kept_draft(memory, name) == before


def test_two_pages_cannot_take_one_number(store_address: str) -> None:
    memory = opened(store_address)
    name = begin_draft(memory, None, SET_UP)

    def page(who: int) -> str:
        try:
            add_row(memory, name, 1, row(f"page-{who}"))
        except OutOfTurnError:
            return "later"
        return "kept"

    with ThreadPoolExecutor(4) as pool:
        told = sorted(pool.map(page, range(4)))
    assert told == ["kept", "later", "later", "later"]


def test_nothing_is_added_to_a_sheet_that_is_gone(store_address: str) -> None:
    memory = opened(store_address)
    name = begin_draft(memory, None, SET_UP)
    remove_draft(memory, name)
    with pytest.raises(GoneError, match="no such sheet"):
        add_row(memory, name, 1, row("key-1"))
    with pytest.raises(GoneError):
        set_up(memory, name, lambda fields: fields)


def test_a_sheet_has_an_end(store_address: str) -> None:
    memory = opened(store_address)
    name = begin_draft(memory, None, SET_UP)
    with memory.store.writing("N. Invented") as writer:
        writer.connection.execute(
            insert(schema.draft_row).values(draft=name, number=MOST_ROWS, at=1, fields='{"key":"the last"}')
        )
    with pytest.raises(Exception, match=str(MOST_ROWS)):
        add_row(memory, name, MOST_ROWS + 1, row("one more"))


def test_what_was_set_up_changes_whole(store_address: str) -> None:
    memory = opened(store_address)
    name = begin_draft(memory, None, SET_UP, now=lambda: 1)

    def tick(fields: dict[str, Any]) -> dict[str, Any]:
        return {**fields, "ticks": {"Permit held": {"at": 5, "person": memory.person}}}

    assert set_up(memory, name, tick, now=lambda: 7)["ticks"] == {
        "Permit held": {"at": 5, "person": "N. Invented"}
    }
    found = kept_draft(memory, name)
    assert found is not None
    assert found.changed == 7
    assert found.fields["title"] == "Feed pump 2 motor"


def test_ticks_of_two_people_at_once_are_both_kept(store_address: str) -> None:
    memory = opened(store_address)
    name = begin_draft(memory, None, SET_UP)

    def tick(text: str) -> None:
        set_up(memory, name, lambda fields: {**fields, "ticks": {**fields["ticks"], text: 1}})

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(tick, "abcdefgh"))
    found = kept_draft(memory, name)
    assert found is not None
    assert set(found.fields["ticks"]) == set("abcdefgh")


def test_a_change_that_fails_changes_nothing(store_address: str) -> None:
    memory = opened(store_address)
    name = begin_draft(memory, None, SET_UP)

    def breaks(fields: dict[str, Any]) -> dict[str, Any]:
        raise KeyError(fields["title"])

    with pytest.raises(KeyError):
        set_up(memory, name, breaks)
    found = kept_draft(memory, name)
    assert found is not None
    assert found.fields == SET_UP


def test_what_is_removed_is_gone_with_its_rows(store_address: str) -> None:
    memory = opened(store_address)
    names = [begin_draft(memory, None, SET_UP) for _ in range(2)]
    for name in names:
        add_row(memory, name, 1, row("key-1"))
    assert remove_draft(memory, names[0])
    assert not remove_draft(memory, names[0])
    with memory.store.reading() as connection:
        left = list(connection.execute(select(schema.draft_row.c.draft)).scalars())
    assert left == [names[1]]


def test_a_sheet_is_of_this_place_and_in_no_chain(store_address: str) -> None:
    memory = opened(store_address)
    with memory.store.reading() as connection:
        before = connection.execute(select(schema.entry.c.hash)).all()
    name = begin_draft(memory, None, SET_UP)
    add_row(memory, name, 1, row("key-1"))
    with memory.store.reading() as connection:
        assert connection.execute(select(schema.entry.c.hash)).all() == before


def test_the_start_sees_what_is_unfinished(store_address: str) -> None:
    memory = opened(store_address)
    first = begin_draft(memory, None, SET_UP, now=lambda: 1)
    second = begin_draft(memory, None, SET_UP, now=lambda: 2)
    add_row(memory, first, 1, row("key-1", kind="started"), now=lambda: 3)
    add_row(memory, first, 2, row("key-2"), now=lambda: 4)
    with memory.store.reading() as connection:
        told = unfinished(connection, 5)
    assert [one["id"] for one in told] == [first, second]
    assert [one["readings"] for one in told] == [1, 0]
    assert told[0]["fields"]["title"] == "Feed pump 2 motor"


def test_instruments_are_at_hand_by_name(store_address: str) -> None:
    memory = opened(store_address)
    assert instruments_at_hand(memory) == []
    with memory.changing() as change:
        for name, serial in (("Meter 9", "B"), ("Meter 4", "A")):
            change.state("instrument", f"{serial:0>32}", {"instrument": name, "instrument_serial": serial})
    assert [(one["name"], one["serial"]) for one in instruments_at_hand(memory)] == [
        ("Meter 4", "A"),
        ("Meter 9", "B"),
    ]
    assert len(instruments_at_hand(memory, 1)) == 1
