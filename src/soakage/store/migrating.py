"""Brings the schema of a store up to date: each step in one transaction with the note that it was taken."""

from __future__ import annotations

from sqlalchemy import Connection, Engine, insert, inspect, select, text

from soakage.app.journal import HERE, START
from soakage.errors import StoreError
from soakage.store import schema
from soakage.store.address import Address

TABLE = "alembic_version"
SCRIPTS = "soakage.store:migrations"  # where alembic finds the steps; a fault run puts a further one there


def brought_up_to_date(engine: Engine, where: Address, name: str) -> None:
    """Make the tables of a new store, or migrate those of an old one; quick where nothing is to be done.

    Parameters
    ----------
    engine : Engine
        Of the store.
    where : Address
        For messages.
    name : str
        Id the store gets if it is new; empty for one in memory that is never written.

    Raises
    ------
    StoreError
        If the database belongs to something else, or to a newer Soakage.
    """
    with engine.connect() as connection:
        at = _version(connection)
        if at == schema.VERSION:
            return
        if at is None and (others := set(inspect(connection).get_table_names())):
            raise StoreError(
                f"{where}: this database holds other tables ({', '.join(sorted(others)[:3])}) and no store of "
                "Soakage. Choose an empty one."
            )
    with engine.connect().execution_options(writing=True) as connection, connection.begin():
        if connection.dialect.name == "postgresql":
            # two that open a new store at once: one makes it, the other waits
            connection.execute(text("select pg_advisory_xact_lock(7364961)"))
        at = _version(connection)
        if at == schema.VERSION:
            return
        _migrate(connection, where, at)
        if name and connection.execute(select(schema.chain.c.store)).first() is None:
            rows = [{"store": own, "number": 0, "head": START, "at": 0} for own in (name, name + HERE)]
            connection.execute(insert(schema.chain), rows)


def _version(connection: Connection) -> str | None:
    if not inspect(connection).has_table(TABLE):
        return None
    return connection.execute(text(f"select version_num from {TABLE}")).scalar()  # noqa: S608 - our own constant


def _migrate(connection: Connection, where: Address, at: str | None) -> None:
    from alembic import command
    from alembic.config import Config
    from alembic.util import CommandError

    config = Config()
    config.set_main_option("script_location", SCRIPTS)
    config.attributes["connection"] = connection
    try:
        command.upgrade(config, "head")
    except CommandError as problem:
        raise StoreError(
            f"{where}: its schema is {at}, which this Soakage does not know ({problem}). Use a newer Soakage; "
            "nothing was changed."
        ) from problem
