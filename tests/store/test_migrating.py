"""The schema on both engines: what the steps make is what the code says; old stores come along, newer are refused."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import psycopg
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Connection, inspect, select, text

from engines import NewAddress
from soakage.errors import StoreError
from soakage.store import migrating, schema
from soakage.store.address import address
from soakage.store.checking import checked
from soakage.store.engine import engine_of
from soakage.store.memory import StoreMemory
from soakage.store.migrating import TABLE, brought_up_to_date
from soakage.store.store import Store
from tools import old_store
from tools.old_store import fill
from tools.steps import StepFailedError

OLD = Path(__file__).parent / "old"
VERSIONS = sorted(path.stem for path in OLD.glob("*.sqlite"))
MIGRATIONS = Path(migrating.__file__).parent / "migrations"
STEP = """
from alembic import op
import sqlalchemy as sa

revision, down_revision, branch_labels, depends_on = "9001", "{before}", None, None


def upgrade():
    op.create_table("later", sa.Column("id", sa.Integer(), primary_key=True))
    op.execute("update chain set number = number + 1000")
    {then}
"""


def differences(connection: Connection) -> list[str]:
    """Return what the tables have otherwise than the code says, by alembic's own comparison and our own."""
    context = MigrationContext.configure(connection, opts={"compare_type": True})
    found = [str(item) for item in compare_metadata(context, schema.metadata) if TABLE not in str(item)]
    look = inspect(connection)
    for table in schema.metadata.sorted_tables:
        keys = look.get_pk_constraint(table.name)
        wanted = [column.name for column in table.primary_key.columns]
        if keys["constrained_columns"] != wanted or keys["name"] != table.primary_key.name:
            found.append(f"{table.name}: {keys} is not {wanted}")
        foreign = {
            (tuple(key["constrained_columns"]), key["referred_table"], str(key["options"].get("ondelete")))
            for key in look.get_foreign_keys(table.name)
        }
        said = {((key.parent.name,), key.column.table.name, str(key.ondelete)) for key in table.foreign_keys}
        if foreign != said:
            found.append(f"{table.name}: {foreign} are not {said}")
    return found


def test_the_steps_make_exactly_the_tables_of_the_code(store_address: str) -> None:
    where = address(store_address)
    engine = engine_of(where)
    brought_up_to_date(engine, where, "a" * 32)
    with engine.connect() as connection:
        assert differences(connection) == []
        tables = set(inspect(connection).get_table_names())
    engine.dispose()
    assert tables == {*schema.metadata.tables, TABLE}


def bring_old(version: str, place: str) -> None:
    """Put a saved store of an old version at an address."""
    if place.startswith("postgresql"):
        with closing(psycopg.connect(place.replace("+psycopg", "", 1), autocommit=True)) as server:
            server.execute((OLD / f"{version}.sql").read_text(encoding="utf-8").encode())
    else:
        shutil.copy(OLD / f"{version}.sqlite", place)


def version_of(place: str) -> str:
    engine = engine_of(address(place))
    with engine.connect() as connection:
        found = connection.execute(text("select version_num from alembic_version")).scalar_one()
    engine.dispose()
    return str(found)


def test_every_version_was_saved_on_both_engines() -> None:
    steps = sorted(path.name[1:5] for path in (MIGRATIONS / "versions").glob("v*.py"))
    assert steps == VERSIONS == sorted(path.stem for path in OLD.glob("*.sql"))
    assert steps[-1] == schema.VERSION


@pytest.mark.parametrize("version", VERSIONS)
def test_a_store_of_an_old_version_comes_along_whole(version: str, store_address: str) -> None:
    bring_old(version, store_address)
    with Store(address(store_address)) as store:
        checkup = checked(store)
        assert (checkup.whole, checkup.flaws) == (True, [])
        with store.reading() as connection:
            assert differences(connection) == []
            states = {
                row.id: row.state for row in connection.execute(select(schema.test.c.id, schema.test.c.state))
            }
            purged = connection.execute(select(schema.purged.c.subject)).scalars().all()
            setting = connection.execute(select(schema.setting.c.value)).scalars().all()
        memory = StoreMemory(store, "N. Invented")
        tests = memory.tests(ids=states)
        assert sorted(states.values()) == ["current", "current", "withdrawn"]
        assert len(purged) == 1
        assert setting == ['"dark"']
        assert all(test.status and len(test.record.readings) > 0 for test in tests)
        with store.writing("N. Invented") as writer:  # and it is written to as before
            writer.add("test", tests[0].id, "noted", {"text": "later"})
        assert checked(store).whole
    assert version_of(store_address) == schema.VERSION


@pytest.fixture
def next_step(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of steps with one more than there is, which a test writes."""
    folder = tmp_path / "steps"
    shutil.copytree(MIGRATIONS, folder, ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setattr(migrating, "SCRIPTS", str(folder))
    monkeypatch.setattr(schema, "VERSION", "9001")
    return folder / "versions" / "v9001_later.py"


def test_a_step_that_is_broken_off_leaves_the_old_version_whole(next_step: Path, store_address: str) -> None:
    bring_old(VERSIONS[-1], store_address)
    next_step.write_text(
        STEP.format(before=VERSIONS[-1], then='raise RuntimeError("power")'), encoding="utf-8"
    )
    with Store(address(store_address)) as store, pytest.raises(RuntimeError, match="power"), store.reading():
        pass
    assert version_of(store_address) == VERSIONS[-1]
    engine = engine_of(address(store_address))
    with engine.connect() as connection:
        assert "later" not in inspect(connection).get_table_names()
        assert connection.execute(text("select max(number) from chain")).scalar_one() < 1000
    engine.dispose()
    # the same step, whole this time, goes through without any repair
    next_step.write_text(STEP.format(before=VERSIONS[-1], then=""), encoding="utf-8")
    with Store(address(store_address)) as store, store.reading() as connection:
        assert "later" in inspect(connection).get_table_names()
    assert version_of(store_address) == "9001"


def test_a_newer_schema_is_refused_and_left_alone(store_address: str) -> None:
    bring_old(VERSIONS[-1], store_address)
    engine = engine_of(address(store_address))
    with engine.connect().execution_options(writing=True) as connection, connection.begin():
        connection.execute(text("update alembic_version set version_num = '9999'"))
    engine.dispose()
    with (
        Store(address(store_address)) as store,
        pytest.raises(StoreError, match=r"9999.*Use a newer Soakage; nothing was changed"),
        store.reading(),
    ):
        pass
    assert version_of(store_address) == "9999"


def test_a_database_of_something_else_is_left_alone(store_address: str) -> None:
    engine = engine_of(address(store_address))
    with engine.connect().execution_options(writing=True) as connection, connection.begin():
        connection.execute(text("create table stamps (id integer primary key)"))
    with Store(address(store_address)) as store:
        for door in (store.reading, lambda: store.writing("N. Invented")):
            with pytest.raises(StoreError, match=r"other tables \(stamps\)"), door():
                pass
    with engine.connect() as connection:
        assert inspect(connection).get_table_names() == ["stamps"]
    engine.dispose()


def test_two_that_open_a_new_store_at_once_make_one(new_address: NewAddress) -> None:
    where = address(new_address())
    first, second = engine_of(where), engine_of(where)
    brought_up_to_date(first, where, "a" * 32)
    brought_up_to_date(second, where, "b" * 32)
    with second.connect() as connection:
        names = (
            connection.execute(select(schema.chain.c.store).order_by(schema.chain.c.store)).scalars().all()
        )
    first.dispose()
    second.dispose()
    assert names == ["a" * 32, "a" * 32 + ".here"]


def test_the_next_version_can_be_saved_and_no_saved_one_is_made_anew(store_address: str) -> None:
    fill(store_address)
    with Store(address(store_address)) as store:
        checkup = checked(store)
        assert (checkup.whole, checkup.flaws) == (True, [])
    before = {path: path.read_bytes() for path in OLD.iterdir()}
    with pytest.raises(StepFailedError, match="never made anew"):
        old_store.main()
    assert {path: path.read_bytes() for path in OLD.iterdir()} == before


def test_the_saved_file_of_each_version_is_of_that_version() -> None:
    for version in VERSIONS:
        with closing(sqlite3.connect(f"file:{OLD / version}.sqlite?mode=ro", uri=True)) as file:
            assert file.execute("select version_num from alembic_version").fetchall() == [(version,)]
            assert file.execute("pragma integrity_check").fetchall() == [("ok",)]
