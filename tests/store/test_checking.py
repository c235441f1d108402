"""Whatever is spoiled behind the back of a store is found; tables are made anew, the journal never."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from sqlalchemy import Executable, delete, insert, select, update

from soakage.errors import StoreError
from soakage.model.stated import digest
from soakage.store import schema
from soakage.store.address import address
from soakage.store.checking import check_connection, checked, repaired
from soakage.store.checkup import (
    CONTENT,
    ENGINE,
    JOURNAL,
    LEFT,
    REMEDIES,
    SHOWN,
    TABLES,
    Checkup,
    checkup_json,
)
from soakage.store.engine import engine_of
from soakage.store.store import Store
from trusting import PERSON, everything, kept, spoil

HASH = "ab" * 32
ENTRY = schema.entry.c


def body(action: str, change: dict[str, object]) -> Executable:
    return update(schema.entry).where(ENTRY.action == action).values(**change)


SPOILED: dict[str, tuple[str, Callable[[], Executable]]] = {
    "a reason is put in": (JOURNAL, lambda: body("received", {"reason": "another"})),
    "a person is put in": (JOURNAL, lambda: body("judged", {"person": "Someone else"})),
    "a body is put in": (JOURNAL, lambda: body("judged", {"body": '{"set":{}}'})),
    "a body is no json": (JOURNAL, lambda: body("judged", {"body": "{"})),
    "parents are no json": (JOURNAL, lambda: body("judged", {"parents": "x"})),
    "the last entries are gone": (JOURNAL, lambda: delete(schema.entry).where(ENTRY.action == "judged")),
    "the first entry is gone": (JOURNAL, lambda: delete(schema.entry).where(ENTRY.number == 1)),
    "the head is another": (JOURNAL, lambda: update(schema.chain).values(head=HASH, number=3)),
    "its own name is gone": (JOURNAL, lambda: delete(schema.chain)),
    "a content is another": (CONTENT, lambda: update(schema.blob).values(content=b"other")),
    "a packing is another": (CONTENT, lambda: update(schema.blob).values(packing="zlib")),
    "contents are gone": (CONTENT, lambda: delete(schema.blob)),
    "a content is left over": (
        LEFT,
        lambda: insert(schema.blob).values(sha256=digest(b"x"), packing="none", content=b"x"),
    ),
    "a status is nicer": (
        TABLES,
        lambda: update(schema.test).values(status="sound", sentence="All is well."),
    ),
    "a figure is higher": (
        TABLES,
        lambda: update(schema.figure).values(value=schema.figure.c.value * 1.000001),
    ),
    "figures are gone": (TABLES, lambda: delete(schema.figure)),
    "a verdict is another's": (TABLES, lambda: update(schema.verdict).values(person="Someone else")),
    "a finding is gone": (TABLES, lambda: delete(schema.finding)),
    "a nameplate is another": (TABLES, lambda: update(schema.asset).values(rated_voltage=11e3)),
    "an asset is too much": (
        TABLES,
        lambda: insert(schema.asset).values(id="x" * 32, name="Ghost", retired=False, fields="{}"),
    ),
    "a standing is better": (TABLES, lambda: update(schema.standing).values(status="sound", tests=99)),
    "a standing is gone": (TABLES, lambda: delete(schema.standing)),
    "a standing is too much": (
        TABLES,
        lambda: insert(schema.standing).values(asset="x" * 32, tests=1, status="sound", unsigned=0),
    ),
    "a conflict is too much": (
        TABLES,
        lambda: insert(schema.conflict).values(kind="asset", subject="x" * 32, field="tag", claims="[]"),
    ),
    "a purge is too much": (
        TABLES,
        lambda: insert(schema.purged).values(kind="test", subject="x" * 32, entry=HASH),
    ),
    "a visit is gone": (TABLES, lambda: delete(schema.visit)),
    "an instrument is gone": (TABLES, lambda: delete(schema.instrument)),
    "a site is called otherwise": (TABLES, lambda: update(schema.site).values(name="Elsewhere")),
}


@pytest.fixture
def place(made_address: str) -> str:
    with kept(made_address, 3) as store:
        assert checked(store).whole
    return made_address


def test_whatever_is_spoiled_is_found_in_its_part(place: str) -> None:
    # each in a transaction that is taken back: the next one finds the store whole again
    engine = engine_of(address(place))
    wrong = []
    with engine.connect().execution_options(writing=True) as connection:
        for what, (part, spoiling) in SPOILED.items():
            with connection.begin() as change:
                connection.execute(spoiling())
                checkup = check_connection(connection)
                change.rollback()
            if not checkup.found[part] or (part in (TABLES, LEFT) and set(checkup.found) != {part}):
                wrong.append((what, checkup.found))
    engine.dispose()
    assert wrong == []
    with Store(address(place)) as store:
        assert checked(store).whole


def test_a_check_changes_nothing(place: str) -> None:
    spoil(place, *(spoiling() for part, spoiling in SPOILED.values() if part == TABLES))
    with Store(address(place)) as store:
        with store.reading() as connection:
            before = everything(connection)
        assert checked(store).found[TABLES] > 10
        with store.reading() as connection:
            assert everything(connection) == before


def test_spoiled_tables_are_made_anew_and_nothing_else(place: str) -> None:
    with Store(address(place)) as store:
        with store.reading() as connection:
            before = everything(connection)
        spoil(place, *(spoiling() for part, spoiling in SPOILED.values() if part == TABLES))
        assert repaired(store, checked(store), PERSON) > 0
        checkup = checked(store)
        assert (checkup.whole, checkup.flaws) == (True, [])
        with store.reading() as connection:
            after = everything(connection)
            noted = connection.execute(select(ENTRY.action, ENTRY.store).order_by(ENTRY.at.desc())).first()
    assert noted is not None
    assert (noted.action, noted.store.endswith(".here")) == ("repaired", True)
    for table in schema.FOLLOWS:
        assert after[table.name] == before[table.name]
    assert set(before["entry"]) < set(after["entry"])
    assert before["blob"] == after["blob"]


@pytest.mark.parametrize("part", (JOURNAL, ENGINE))
def test_nothing_is_made_from_what_does_not_hold(place: str, part: str) -> None:
    checkup = Checkup()
    checkup.add(part, "chain 1", "It does not fit.")
    with Store(address(place)) as store:
        with pytest.raises(StoreError, match="nothing was made anew"):
            repaired(store, checkup, PERSON)
        assert checked(store).whole


def test_a_journal_that_cannot_be_read_is_left_as_it_is(place: str) -> None:
    spoil(place, body("judged", {"body": "{"}))
    with Store(address(place)) as store:
        with store.reading() as connection:
            before = everything(connection)
        with pytest.raises(StoreError, match="The journal cannot be read"):
            repaired(store, Checkup(), PERSON)
        with store.reading() as connection:
            assert everything(connection) == before


def test_a_store_that_does_not_exist_is_whole(store_address: str) -> None:
    with Store(address(store_address)) as store:
        assert checkup_json(checked(store)) == {
            "whole": True, "entries": 0, "contents": 0, "subjects": 0, "gaps": 0, "forks": 0, "conflicts": [],
            "found": {}, "flaws": [],
        }  # fmt: skip
    if not store_address.startswith("postgresql"):
        assert address(store_address).missing  # and was not made by looking at it


def test_what_was_looked_at_is_counted(place: str) -> None:
    with Store(address(place)) as store:
        checkup = checked(store)
        with store.reading() as connection:
            rows = {name: len(found) for name, found in everything(connection).items()}
    assert (checkup.entries, checkup.contents) == (rows["entry"], rows["blob"])
    kinds = ("site", "asset", "instrument", "person", "recipe", "setting", "visit", "test")
    assert checkup.subjects == sum(rows[kind] for kind in kinds)


def test_of_very_many_flaws_some_are_told_and_all_counted() -> None:
    checkup = Checkup()
    for number in range(SHOWN + 50):
        checkup.add(TABLES, f"row {number}", "It is missing.")
    checkup.add(JOURNAL, "chain 1", "It does not fit.")
    assert (len(checkup.flaws), checkup.found[TABLES], checkup.whole) == (SHOWN + 1, SHOWN + 50, False)
    told = checkup_json(checkup)
    assert told["found"] == {TABLES: SHOWN + 50, JOURNAL: 1}
    assert all(flaw["remedy"] for flaw in told["flaws"])
    assert set(REMEDIES) == {ENGINE, JOURNAL, CONTENT, TABLES, LEFT}
