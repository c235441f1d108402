"""A backup is the store as it was at one moment, on either engine; brought back it goes on with a chain of its own."""

from __future__ import annotations

import multiprocessing
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import delete, insert, select, update

from engines import NewAddress
from soakage.app.journal import HERE
from soakage.errors import StoreError, UsageError
from soakage.store import backup as backups
from soakage.store import schema
from soakage.store.address import Address, address
from soakage.store.backup import back_up
from soakage.store.checking import checked
from soakage.store.engine import resting_engine
from soakage.store.restoring import restore
from soakage.store.store import Store
from soakage.store.trail import entries, owed_chains
from trusting import PERSON, everything, kept, spoil
from trusting import raw as raw_connection

NOON = datetime(2026, 3, 14, 12, tzinfo=UTC)
OF_THE_PLACE = {"chain", "entry", "session"}


def content(store: Store) -> dict[str, list[tuple[object, ...]]]:
    with store.reading() as connection:
        return everything(connection)


def in_backup(path: Path) -> dict[str, list[tuple[object, ...]]]:
    engine = resting_engine(path)
    with engine.connect() as connection:
        found = everything(connection)
    engine.dispose()
    return found


def add_account(place: str) -> None:
    spoil(
        place,
        insert(schema.account).values(
            name="anna", hash="$argon2id$x", role="read", closed=False, made=1, changed=1
        ),
        insert(schema.session).values(key="ab" * 32, account="anna", made=1, used=1),
        insert(schema.draft).values(id="d" * 32, person=PERSON, begun=1, changed=2, fields="{}"),
        insert(schema.draft_row).values(draft="d" * 32, number=1, at=1, fields='{"resistance":1.5}'),
    )


def keep_writing(place: str, until: str) -> None:
    with Store(address(place)) as store:
        for year in range(10_000):
            if Path(until).exists():
                return
            with store.writing("another") as writer:
                writer.state("asset", "w" * 32, {"year": year})


def test_a_backup_is_every_row_but_the_sessions(made_address: str, tmp_path: Path) -> None:
    with kept(made_address) as store:
        add_account(made_address)
        before = content(store)
        made = back_up(store, tmp_path / "b.sqlite", PERSON)
        after = in_backup(made.path)
        assert len(before.pop("session")) == 1
        assert after.pop("session") == []
        assert after == before
        assert (made.checkup.whole, made.noted, made.size) == (True, True, made.path.stat().st_size)
        assert made.counts["test"] == 3
        assert sorted(path.name for path in tmp_path.iterdir() if "b.sqlite" in path.name) == ["b.sqlite"]
        with store.reading() as connection:
            (note,) = [one for one in entries(connection) if one.action == "backed_up"]
        assert (note.store, note.person) == (store.id + HERE, PERSON)
        assert checked(store).whole


def test_a_backup_while_another_writes_is_one_moment(made_address: str, tmp_path: Path) -> None:
    spawn = multiprocessing.get_context("spawn")
    with kept(made_address) as store:
        stop = tmp_path / "stop"
        other = spawn.Process(target=keep_writing, args=(made_address, str(stop)))
        other.start()
        try:
            sizes = []
            for number in range(4):
                made = back_up(store, tmp_path / f"{number}.sqlite", PERSON)
                assert (made.checkup.whole, made.checkup.flaws) == (True, [])
                sizes.append(made.counts["entry"])
        finally:
            stop.touch()
            other.join(60)
        assert sizes == sorted(sizes)
        assert checked(store).whole


def test_nothing_is_overwritten_unasked(made_address: str, tmp_path: Path) -> None:
    path = tmp_path / "b.sqlite"
    path.write_bytes(b"mine")
    with kept(made_address, 1) as store:
        with pytest.raises(UsageError, match="--force"):
            back_up(store, path, PERSON)
        assert path.read_bytes() == b"mine"
        assert back_up(store, path, PERSON, force=True).checkup.whole
        if store.where.path is not None:
            with pytest.raises(UsageError, match="the store itself"):
                back_up(store, store.where.path, PERSON, force=True)


def test_a_backup_of_a_damaged_store_never_replaces_a_good_one(made_address: str, tmp_path: Path) -> None:
    path = tmp_path / "b.sqlite"
    with kept(made_address, 1) as store:
        back_up(store, path, PERSON)
        good = path.read_bytes()
        spoil(made_address, update(schema.entry).values(reason="put in"))
        with pytest.raises(StoreError, match="the backup that is there was kept"):
            back_up(store, path, PERSON, force=True)
        assert path.read_bytes() == good
        made = back_up(store, tmp_path / "as-it-is.sqlite", PERSON)
        assert not made.checkup.whole


def test_a_backup_that_is_not_the_store_is_no_backup(
    made_address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = backups._write

    def loses_a_row(connection: object, part: Path) -> None:
        real(connection, part)  # type: ignore[arg-type]
        with raw_connection(str(part)) as file:
            file.execute("delete from blob where rowid = 1")

    monkeypatch.setattr(backups, "_write", loses_a_row)
    with kept(made_address, 1) as store:
        with pytest.raises(StoreError, match="not what the store is"):
            back_up(store, tmp_path / "b.sqlite", PERSON)
        assert list(tmp_path.glob("*b.sqlite*")) == []


def test_there_is_nothing_to_back_up_and_nowhere_to_write(tmp_path: Path) -> None:
    with (
        Store(Address(path=tmp_path / "none.sqlite")) as store,
        pytest.raises(UsageError, match="no store yet"),
    ):
        back_up(store, tmp_path / "b.sqlite", PERSON)
    with (
        kept(str(tmp_path / "a.sqlite"), 1) as store,
        pytest.raises(StoreError, match="No backup was written"),
    ):
        back_up(store, tmp_path / "no" / "folder" / "b.sqlite", PERSON)


# And back


def test_a_restored_store_is_what_was_backed_up_and_has_a_chain_of_its_own(
    new_made: NewAddress, tmp_path: Path
) -> None:
    place = new_made()
    with kept(place) as store, Store(address(new_made())) as other:
        add_account(place)
        before, name = content(store), store.id
        path = back_up(store, tmp_path / "b.sqlite", PERSON).path
        done = restore(path, other, PERSON)
        after = content(other)
        for table in set(schema.metadata.tables) - OF_THE_PLACE:
            assert after[table] == before[table], table
        assert after["session"] == []
        assert set(before["entry"]) < set(after["entry"])
        assert (done.was, done.kept, done.rebuilt) == (name, None, False)
        assert done.store == other.id != name
        with other.reading() as connection:
            owed = owed_chains(connection)
            assert owed[name][0] > 0
            assert {one.action for one in entries(connection) if one.store == other.id + HERE} == {
                "begun",
                "restored",
            }
        assert checked(other).whole
        # both are written to, and neither writes the other's chain
        for each in (store, other):
            with each.writing(PERSON) as writer:
                writer.state("asset", "p" * 32, {"asset": "Pump"})
        with other.reading() as connection:
            theirs = [one for one in entries(connection) if one.subject == "p" * 32]
        with store.writing(PERSON) as writer:
            writer.adopt(theirs)
        checkup = checked(store)
        assert (checkup.whole, checkup.forks) == (True, 0)


def test_what_the_chain_of_old_lost_afterwards_is_found(new_made: NewAddress, tmp_path: Path) -> None:
    with kept(new_made(), 1) as store:
        name = store.id
        path = back_up(store, tmp_path / "b.sqlite", PERSON).path
    place = new_made()
    with Store(address(place)) as other:
        restore(path, other, PERSON)
        last = (
            select(schema.entry.c.hash)
            .where(schema.entry.c.store == name)
            .order_by(schema.entry.c.number.desc())
        )
        with other.reading() as connection:
            end = connection.execute(last).scalars().first()
        spoil(place, delete(schema.entry).where(schema.entry.c.hash == end))
        assert checked(other).found["journal"] == 1


def test_a_store_that_holds_something_is_backed_up_before_it_is_replaced(
    new_made: NewAddress, tmp_path: Path
) -> None:
    with kept(new_made(), 1) as store:
        path = back_up(store, tmp_path / "b.sqlite", PERSON).path
    with kept(new_made(), 2, skip=5) as other:
        before = content(other)
        with pytest.raises(UsageError, match="--force"):
            restore(path, other, PERSON)
        assert content(other) == before
        done = restore(path, other, PERSON, force=True, keep=tmp_path / "kept.sqlite", now=lambda: NOON)
        assert done.kept == tmp_path / "kept.sqlite"
        assert in_backup(done.kept)["test"] == before["test"]
        assert (done.counts["test"], checked(other).whole) == (1, True)
        with other.writing(PERSON) as writer:
            writer.state("asset", "p" * 32, {"asset": "Pump"})
        assert checked(other).whole


def test_a_damaged_backup_replaces_nothing(new_made: NewAddress, tmp_path: Path) -> None:
    with kept(new_made(), 1) as store:
        path = back_up(store, tmp_path / "b.sqlite", PERSON).path
    spoiled = tmp_path / "spoiled.sqlite"
    shutil.copy(path, spoiled)
    spoil(str(spoiled), update(schema.entry).values(reason="put in"))
    cut = tmp_path / "cut.sqlite"
    cut.write_bytes(path.read_bytes()[:30_000])
    nothing = tmp_path / "nothing.sqlite"
    nothing.write_bytes(b"no database at all" * 500)
    with kept(new_made(), 2, skip=5) as other:
        before = content(other)
        for bad in (spoiled, cut, nothing):
            with pytest.raises(StoreError, match=r"damaged|cannot be brought back|no store of Soakage"):
                restore(bad, other, PERSON, force=True)
        with pytest.raises(UsageError, match="no such file"):
            restore(tmp_path / "none.sqlite", other, PERSON, force=True)
        assert content(other) == before


def test_a_backup_with_spoiled_tables_comes_back_whole(new_made: NewAddress, tmp_path: Path) -> None:
    place = new_made()
    with kept(place, 1) as store, Store(address(new_made())) as other:
        before = content(store)
        spoil(place, update(schema.test).values(status="sound"), delete(schema.figure))
        path = back_up(store, tmp_path / "b.sqlite", PERSON).path
        assert restore(path, other, PERSON).rebuilt
        assert checked(other).whole
        assert content(other)["figure"] == before["figure"]


def test_a_store_too_damaged_to_read_is_set_aside(tmp_path: Path) -> None:
    with kept(str(tmp_path / "a.sqlite"), 1) as store:
        path = back_up(store, tmp_path / "b.sqlite", PERSON).path
    place = tmp_path / "broken.sqlite"
    place.write_bytes(b"something else altogether" * 400)
    with Store(Address(path=place)) as store:
        with pytest.raises(UsageError, match="--force"):
            restore(path, store, PERSON)
        done = restore(path, store, PERSON, force=True, now=lambda: NOON)
        assert done.kept == tmp_path / "broken-before-20260314-120000.sqlite"
        assert done.kept.read_bytes() == b"something else altogether" * 400
        assert (checked(store).whole, done.counts["test"]) == (True, 1)


def test_a_backup_of_an_old_schema_comes_back(new_made: NewAddress, tmp_path: Path) -> None:
    old = min((Path(__file__).parent / "old").glob("*.sqlite"))
    copy = tmp_path / old.name
    shutil.copy(old, copy)
    with Store(address(new_made())) as store:
        assert restore(copy, store, PERSON).counts["test"] == 3
        assert checked(store).whole
    same = copy.read_bytes() == old.read_bytes()
    assert (same, sorted(tmp_path.glob(f"{old.name}*"))) == (True, [copy])  # it is read as it lies


@pytest.mark.parametrize("first", ("sqlite", "postgresql"))
def test_a_backup_of_one_engine_comes_back_on_the_other(
    first: str, postgres_server: str, tmp_path: Path
) -> None:
    import psycopg
    from sqlalchemy import make_url

    name = f"test_moving_{first}"
    plain = postgres_server.replace("+psycopg", "", 1)
    with psycopg.connect(plain, autocommit=True) as server:
        server.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)".encode())
        server.execute(f"CREATE DATABASE {name}".encode())
    office = make_url(postgres_server).set(database=name).render_as_string(hide_password=False)
    laptop = str(tmp_path / "laptop.sqlite")
    places = (laptop, office) if first == "sqlite" else (office, laptop)
    with kept(places[0], 2) as store, Store(address(places[1])) as other:
        before = content(store)
        restore(back_up(store, tmp_path / "b.sqlite", PERSON).path, other, PERSON)
        after = content(other)
        for table in set(schema.metadata.tables) - OF_THE_PLACE:
            assert after[table] == before[table], table
        assert checked(other).whole
    with psycopg.connect(plain, autocommit=True) as server:
        server.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)".encode())
