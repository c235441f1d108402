"""A check of the whole store: the engine's own, the journal, every content, every table made anew; little memory."""

from __future__ import annotations

import json
from collections.abc import Iterator

from sqlalchemy import Column, Connection, Index, MetaData, Table, delete, insert, select, text
from sqlalchemy.exc import SQLAlchemyError

from soakage.app.folding import body_of
from soakage.app.journal import STATED_IDENTITY, Entry
from soakage.errors import StoreError
from soakage.model.stated import digest
from soakage.store import schema
from soakage.store.asking import STREAM, rows, streamed
from soakage.store.checkup import CONTENT, ENGINE, JOURNAL, LEFT, Checkup
from soakage.store.comparing import compare_tables, subjects
from soakage.store.packing import unpacked
from soakage.store.purging import blobs_named
from soakage.store.rows import rows_of
from soakage.store.saying import is_damage
from soakage.store.standing import refresh
from soakage.store.store import Store
from soakage.store.trail import ChainsHeld, owed_chains, own_chains
from soakage.store.writing import Writer, entries_on, entry_of

_CONFLICTS = 200
_named = Table("named_blob", MetaData(), Column("sha256", schema.Hash), prefixes=["TEMPORARY"])
_by_hash = Index("ix_named_blob_sha256", _named.c.sha256)


def checked(store: Store) -> Checkup:
    """Check a store; one that does not exist yet is whole.

    Parameters
    ----------
    store : Store
        Nothing of it is changed.

    Returns
    -------
    Checkup

    Raises
    ------
    StoreError
        If it cannot be opened or read at all.
    """
    if store.where.missing:
        return Checkup()
    try:
        with store.reading() as connection:
            return check_connection(connection)
    except StoreError as problem:
        if not is_damage(problem):
            raise
        checkup = Checkup()
        checkup.add(
            ENGINE, "file", f"It cannot be opened: {getattr(problem.__cause__, 'orig', problem.__cause__)}."
        )
        return checkup


def check_connection(connection: Connection) -> Checkup:
    """Check the store at the other end of a connection, all of it as it stands in this transaction."""
    checkup = Checkup()
    _check_engine(connection, checkup)
    try:
        connection.execute(text("drop table if exists temp.named_blob" if _is_file(connection) else _DROP))
        _named.create(connection)
        _check_journal(connection, checkup)
        _check_blobs(connection, checkup)
        compare_tables(connection, checkup)
        query = select(schema.conflict).order_by(schema.conflict.c.kind, schema.conflict.c.subject)
        for row in rows(connection, query.limit(_CONFLICTS)):
            checkup.conflicts.append(f"{row['kind']} {row['subject']}: {row['field']}")
        _named.drop(connection)
    except SQLAlchemyError as problem:
        if not _is_file(connection) or checkup.whole:
            raise
        checkup.add(ENGINE, "file", f"The rest of it cannot be read: {getattr(problem, 'orig', problem)}.")
    return checkup


_DROP = "drop table if exists pg_temp.named_blob"


def _is_file(connection: Connection) -> bool:
    return connection.dialect.name == "sqlite"


def _check_engine(connection: Connection, checkup: Checkup) -> None:
    """Let the engine look at itself; a server holds its foreign keys by itself and has no such command."""
    if not _is_file(connection):
        return
    try:
        for (said,) in connection.execute(text("pragma integrity_check(100)")):
            if said != "ok":
                checkup.add(ENGINE, "file", f"{said}.")
        for table, row, parent, _ in connection.execute(text("pragma foreign_key_check")):
            checkup.add(
                ENGINE, f"{table} {row or ''}".strip(), f"It is of a row of {parent} that is not there."
            )
    except SQLAlchemyError as problem:
        checkup.add(ENGINE, "file", f"{getattr(problem, 'orig', problem)}.")


def _check_journal(connection: Connection, checkup: Checkup) -> None:
    held = ChainsHeld(owed_chains(connection), own_chains(connection))
    if not own_chains(connection):
        checkup.add(JOURNAL, "chain", "The store has lost its own name.")
    needed: list[dict[str, object]] = []
    for entry in _readable(connection, checkup):
        try:
            for fault in held.feed(entry):
                checkup.add(JOURNAL, f"{fault.store[:12]} {fault.number}", fault.problem)
            names = blobs_named(body_of(entry))
        except (ValueError, TypeError, AttributeError):
            checkup.add(JOURNAL, f"{entry.store[:12]} {entry.number}", "It holds what no entry can hold.")
            continue
        needed += [{"sha256": name} for name in names]
        if len(needed) >= STREAM:
            connection.execute(insert(_named), needed)
            needed = []
    if needed:
        connection.execute(insert(_named), needed)
    for fault in held.missing():
        checkup.add(JOURNAL, f"{fault.store[:12]} {fault.number}", fault.problem)
    checkup.entries, checkup.gaps, checkup.forks = held.entries, held.gaps, held.forks


def _readable(connection: Connection, checkup: Checkup) -> Iterator[Entry]:
    table = schema.entry
    for row in streamed(connection, select(table).order_by(table.c.store, table.c.number, table.c.hash)):
        try:
            yield entry_of(row)
        except (ValueError, TypeError):
            checkup.add(JOURNAL, f"{row['store'][:12]} {row['number']}", "The entry cannot be read.")


def _check_blobs(connection: Connection, checkup: Checkup) -> None:
    for row in streamed(connection, select(schema.blob), part=16):
        checkup.contents += 1
        try:
            right = digest(unpacked(row)) == row["sha256"]
        except StoreError:
            right = False
        if not right:
            checkup.add(CONTENT, row["sha256"], "It is not what was kept: its hash does not fit.")
    blob = schema.blob.c.sha256
    there = select(blob).where(blob == _named.c.sha256).exists()
    for row in streamed(connection, select(_named.c.sha256).where(~there).distinct()):
        checkup.add(CONTENT, row["sha256"], "An entry names it and it is not here.")
    named = select(_named.c.sha256).where(blob == _named.c.sha256).exists()
    for row in streamed(connection, select(blob).where(~named)):
        checkup.add(LEFT, row["sha256"], "No entry names it.")


def repaired(store: Store, checkup: Checkup, person: str, identity: str = STATED_IDENTITY) -> int:
    """Make every table that follows anew; return of how many subjects.

    Parameters
    ----------
    store : Store
        What was checked.
    checkup : Checkup
        What was found.
    person, identity : str
        Who does it, and how far that name can be trusted.

    Raises
    ------
    StoreError
        If the journal or the file itself is damaged: tables made from that could hide it.
    """
    if checkup.found[JOURNAL] or checkup.found[ENGINE]:
        raise StoreError(
            f"{store.where}: the journal or the file itself is damaged, so nothing was made anew from it. See what "
            "'soakage check' found, and bring a backup back with 'soakage restore'."
        )
    with store.writing(person, identity) as writer:
        return repair(writer)


def repair(writer: Writer) -> int:
    """Make every table that follows anew from the journal; the journal itself is never touched.

    Parameters
    ----------
    writer : Writer
        Of a change; all of it is kept, or nothing.

    Returns
    -------
    int
        Subjects whose rows were made.

    Raises
    ------
    StoreError
        If the journal cannot be read.
    """
    connection = writer.connection
    for table in reversed(schema.FOLLOWS):
        connection.execute(delete(table))
    count = 0
    for part in subjects(connection):
        made: dict[str, list[dict[str, object]]] = {}
        try:
            for key, found in entries_on(connection, part).items():
                for name, more in rows_of(*key, found).items():
                    made.setdefault(name, []).extend(more)
        except (KeyError, TypeError, ValueError, StopIteration, json.JSONDecodeError) as problem:
            raise StoreError(
                f"The journal cannot be read ({part[0][0]}: {problem!r}). Nothing was changed. Bring a backup "
                "back with 'soakage restore'."
            ) from problem
        for table in schema.FOLLOWS:
            if table.name in made:
                connection.execute(insert(table), made[table.name])
        count += len(part)
        refresh(connection, {str(row["asset"]) for row in made.get("test", ()) if row["asset"]})
    writer.add("setting", "store", "repaired", {"subjects": count}, shared=False)
    return count
