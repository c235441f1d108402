"""One change: all of it or nothing; only what changes; nothing purged comes back; nothing forged comes in."""

from __future__ import annotations

from dataclasses import replace

import pytest
from sqlalchemy import func, select

from engines import NewAddress
from soakage.app.journal import HERE, START
from soakage.errors import StoreError
from soakage.model.stated import digest
from soakage.store import schema
from soakage.store.address import address
from soakage.store.checking import checked
from soakage.store.store import Store
from soakage.store.trail import entries, own_chains, told
from soakage.store.writing import Writer
from trusting import PERSON, clock, entry, everything, kept

PUMP = "p" * 32


def state(store: Store, subject: str = PUMP) -> dict[str, object]:
    with store.writing(PERSON) as writer:
        return dict(writer.folded("asset", subject).values)


def test_nothing_of_a_change_is_kept_when_its_block_fails(made_address: str) -> None:
    with kept(made_address) as store:
        with store.reading() as connection:
            before = everything(connection)

        def change(writer: Writer) -> None:
            writer.state("asset", PUMP, {"asset": "Pump"})
            writer.blob(b"a photograph")
            writer.flush()  # even what was flushed already
            writer.state("asset", PUMP, {"tag": "P-1"})
            raise ZeroDivisionError

        with pytest.raises(ZeroDivisionError), store.writing(PERSON) as writer:
            change(writer)
        with store.reading() as connection:
            assert everything(connection) == before
        assert checked(store).whole


def test_a_change_is_there_for_the_next_to_open_it(store_address: str) -> None:
    with Store(address(store_address), now=clock()) as store, store.writing(PERSON) as writer:
        writer.state("asset", PUMP, {"asset": "Pump", "class": "rotating-machine", "year": 1999})
    with Store(address(store_address)) as store, store.reading() as connection:
        (row,) = connection.execute(select(schema.asset)).mappings()
        assert (row["name"], row["class"], row["year"], row["retired"]) == (
            "Pump",
            "rotating-machine",
            1999,
            False,
        )
        (made,) = entries(connection)
        assert (made.person, made.number, made.previous) == (PERSON, 1, START)
        assert own_chains(connection)[store.id] == (1, made.hash)


def test_only_what_changes_is_stated_with_what_it_was(made_address: str) -> None:
    with Store(address(made_address)) as store:
        with store.writing(PERSON) as writer:
            writer.state("asset", PUMP, {"asset": "Pump", "year": 1999})
        with store.writing(PERSON) as writer:
            assert writer.state("asset", PUMP, {"asset": "Pump", "year": 1999}) is None
            made = writer.state("asset", PUMP, {"asset": "Pump", "year": 2001}, reason="plate read")
            assert made is not None
            assert (made.body, made.reason) == ('{"set":{"year":2001},"was":{"year":1999}}', "plate read")
        assert state(store)["year"] == 2001


def test_time_goes_on_even_when_the_clock_goes_back(made_address: str) -> None:
    times = iter((5_000, 3_000, 1_000))
    with Store(address(made_address), now=lambda: next(times)) as store:
        for year in (1, 2, 3):
            with store.writing(PERSON) as writer:
                writer.state("asset", PUMP, {"year": year})
        with store.reading() as connection:
            assert [one.at for one in told(connection)] == [5_000, 5_001, 5_002]
        assert checked(store).whole


def test_what_is_not_shared_stands_on_a_chain_of_its_own(made_address: str) -> None:
    with Store(address(made_address)) as store:
        with store.writing(PERSON) as writer:
            writer.state("setting", "theme", {"value": "dark"}, shared=False)
            writer.state("asset", PUMP, {"asset": "Pump"})
        with store.reading() as connection:
            assert [one.kind for one in entries(connection, shared_only=True)] == ["asset"]
            assert {one.store for one in entries(connection)} == {store.id, store.id + HERE}
            assert connection.execute(select(schema.setting.c.value)).scalars().all() == ['"dark"']


def test_the_same_bytes_are_kept_once(made_address: str) -> None:
    with Store(address(made_address)) as store:
        for _ in range(2):
            with store.writing(PERSON) as writer:
                assert writer.blob(b"photograph" * 50) == digest(b"photograph" * 50)
        with store.reading() as connection:
            assert connection.execute(select(func.count()).select_from(schema.blob)).scalar_one() == 1
            assert store.blob(connection, digest(b"photograph" * 50)) == b"photograph" * 50
            with pytest.raises(StoreError, match="is not here"):
                store.blob(connection, "0" * 64)


# Entries of others


def test_entries_are_taken_once_and_a_conflict_keeps_both(made_address: str) -> None:
    mine = entry(1, store="b" * 32, subject=PUMP, body={"set": {"year": 1999}})
    theirs = entry(1, store="c" * 32, subject=PUMP, body={"set": {"year": 2001}})
    with Store(address(made_address)) as store:
        with store.writing(PERSON) as writer:
            assert writer.adopt([theirs, mine, theirs]) == 2
        with store.writing(PERSON) as writer:
            assert writer.adopt([mine, theirs]) == 0
        with store.reading() as connection:
            (row,) = connection.execute(select(schema.conflict)).mappings()
        assert ("1999" in row["claims"], "2001" in row["claims"], row["field"]) == (True, True, "year")
        assert checked(store).conflicts == [f"asset {PUMP}: year"]
        with store.writing(PERSON) as writer:
            shown = writer.folded("asset", PUMP).values["year"]
            writer.state("asset", PUMP, {"year": shown})  # the very value shown settles it
        assert (checked(store).conflicts, checked(store).whole) == ([], True)
        assert state(store)["year"] == shown


@pytest.mark.parametrize("forged", ({"person": "Someone else"}, {"body": '{"set":{"year":1}}'}, {"at": 5}))
def test_a_forged_entry_is_refused_with_all_that_came_beside_it(
    made_address: str, forged: dict[str, object]
) -> None:
    good = entry(1, store="b" * 32, subject=PUMP, body={"set": {"tag": "P-1"}})
    real = entry(1, store="c" * 32, subject=PUMP, body={"set": {"year": 1999}})
    bad = replace(real, **forged)  # type: ignore[arg-type]
    with Store(address(made_address)) as store:
        with (
            pytest.raises(StoreError, match=r"cannot be taken.*Nothing of it was kept"),
            store.writing(PERSON) as writer,
        ):
            writer.adopt([good, bad])
        with store.reading() as connection:
            assert list(entries(connection)) == []


def test_a_kind_of_a_newer_version_is_refused_in_words(made_address: str) -> None:
    with (
        Store(address(made_address)) as store,
        pytest.raises(StoreError, match=r"'fleet'; this Soakage knows .*Use a newer Soakage"),
        store.writing(PERSON) as writer,
    ):
        writer.adopt([entry(1, store="b" * 32, kind="fleet")])


def test_a_body_that_came_late_is_filled_in(made_address: str) -> None:
    whole = entry(1, store="b" * 32, subject=PUMP, body={"set": {"year": 1999}})
    with Store(address(made_address)) as store:
        with store.writing(PERSON) as writer:
            writer.adopt([replace(whole, body=None)])
        assert state(store) == {}
        with store.writing(PERSON) as writer:
            assert writer.adopt([whole]) == 0  # the entry itself was known
        assert state(store) == {"year": 1999}
        assert checked(store).whole


# Purging


def purge(store: Store, test: str) -> None:
    with store.writing(PERSON) as writer:
        writer.add("test", test, "purged", {"file": "export.zip"}, reason="asked for")


def test_purging_drops_what_only_that_test_names(made_address: str) -> None:
    with kept(made_address, 2) as store:
        with store.reading() as connection:
            before = connection.execute(select(schema.test.c.id, schema.test.c.readings)).all()
            blobs = set(connection.execute(select(schema.blob.c.sha256)).scalars())
        (gone, readings), (stays, others) = before
        shared = others
        with store.writing(PERSON) as writer:  # a content that both name stays
            body = {"name": "a", "media_type": "b", "sha256": shared, "size": 1}
            writer.add("test", gone, "attached", body)
        purge(store, gone)
        with store.reading() as connection:
            left = set(connection.execute(select(schema.blob.c.sha256)).scalars())
            tests = set(connection.execute(select(schema.test.c.id)).scalars())
            bodies = connection.execute(
                select(schema.entry.c.action).where(
                    schema.entry.c.subject == gone, schema.entry.c.body.is_not(None)
                )
            ).scalars()
            assert list(bodies) == ["purged"]
        assert (readings in left, shared in left, tests) == (False, True, {stays})
        assert len(blobs - left) == 3  # readings, the file, the result
        checkup = checked(store)
        assert (checkup.whole, checkup.flaws) == (True, [])


def test_a_purged_test_does_not_come_back_by_a_merge(new_made: NewAddress) -> None:
    with kept(new_made(), 2) as store, Store(address(new_made())) as other:
        with store.reading() as connection:
            all_of_it = list(entries(connection, shared_only=True))
            blobs = [
                store.blob(connection, row.sha256) for row in connection.execute(select(schema.blob.c.sha256))
            ]
            test = connection.execute(select(schema.test.c.id).order_by(schema.test.c.id)).scalars().first()
        purge(store, str(test))
        with store.reading() as connection:
            purged = [one for one in entries(connection) if one.action == "purged"]
        # the purge first, what it removed afterwards; and the other way round
        for order in ((purged, all_of_it), (all_of_it, purged)):
            for part in order:
                with other.writing(PERSON) as writer:
                    for content in blobs:
                        writer.blob(content)
                    writer.adopt(part)
            with other.reading() as connection:
                found = connection.execute(
                    select(schema.entry.c.hash).where(
                        schema.entry.c.subject == test,
                        schema.entry.c.body.is_not(None),
                        schema.entry.c.action != "purged",
                    )
                ).all()
                assert found == []
                assert test not in set(connection.execute(select(schema.test.c.id)).scalars())


# Chains


def test_new_chains_leave_the_old_ones_whole(made_address: str) -> None:
    with kept(made_address, 1) as store:
        old = store.id
        with store.writing(PERSON) as writer:
            writer.begin_chains("f" * 32)
            writer.add("asset", PUMP, "stated", {"set": {"asset": "Pump"}})
        assert store.id == "f" * 32
        with store.reading() as connection:
            assert own_chains(connection)["f" * 32][0] == 1
            assert {one.store for one in entries(connection)} == {old, "f" * 32, "f" * 32 + HERE}
        assert checked(store).whole
