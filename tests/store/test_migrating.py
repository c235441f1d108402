"""The schema on both engines: what the steps make is what the code says; old stores come along, newer are refused."""

from __future__ import annotations

from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Connection, inspect

from soakage.store import schema
from soakage.store.address import address
from soakage.store.engine import engine_of
from soakage.store.migrating import TABLE, brought_up_to_date


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
