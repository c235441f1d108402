"""The tables that follow, held against what the journal says they hold; a part at a time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, Table, select, union

from soakage.app.journal import Entry
from soakage.store import schema
from soakage.store.asking import BATCH, batches, rows, streamed
from soakage.store.checkup import TABLES, Checkup
from soakage.store.rows import KINDS, Row, rows_of
from soakage.store.standing import standings
from soakage.store.writing import Subject, entries_on

_OF_TEST = (schema.revision, schema.verdict, schema.figure, schema.finding)
_OF_ANY = (schema.remark, schema.conflict, schema.purged)


def subjects(connection: Connection) -> Iterator[list[Subject]]:
    """Yield all subjects there are entries on, a part at a time, each part of one kind."""
    table = schema.entry.c
    query = select(table.kind, table.subject).distinct().order_by(table.kind, table.subject)
    part: list[Subject] = []
    for row in streamed(connection, query):
        if part and (len(part) == BATCH or part[0][0] != row["kind"]):
            yield part
            part = []
        part.append((row["kind"], row["subject"]))
    if part:
        yield part


def compare_tables(connection: Connection, checkup: Checkup) -> None:
    """Make every row anew from the journal and note each that differs, is missing or is too much."""
    for part in subjects(connection):
        checkup.subjects += len(part)
        kind = part[0][0]
        if kind not in KINDS:
            checkup.add(TABLES, kind, "This Soakage does not know this kind of thing; a newer one wrote it.")
            continue
        wanted = _wanted(_entries(connection, part), checkup)
        names = [subject for _, subject in part]
        for table in _tables_of(kind):
            _compare(table, wanted.get(table.name, ()), _there(connection, table, kind, names), checkup)
    _strays(connection, checkup)
    _compare_standings(connection, checkup)


def _entries(connection: Connection, part: Sequence[Subject]) -> dict[Subject, list[Entry]]:
    """Return the entries on subjects; where some cannot be read, those of the others."""
    try:
        return entries_on(connection, part)
    except (ValueError, TypeError):
        found: dict[Subject, list[Entry]] = {}
        for key in part:
            with suppress(ValueError, TypeError):  # noted when the journal went by
                found |= entries_on(connection, [key])
        return found


def _wanted(entries: Mapping[Subject, Sequence[Entry]], checkup: Checkup) -> dict[str, list[Row]]:
    wanted: dict[str, list[Row]] = {}
    for key, found in entries.items():
        try:
            made = rows_of(*key, found)
        except (KeyError, TypeError, ValueError, AttributeError, StopIteration) as problem:
            checkup.add(TABLES, " ".join(key), f"Its rows cannot be made from the journal: {problem!r}.")
            continue
        for name, more in made.items():
            wanted.setdefault(name, []).extend(more)
    return wanted


def _tables_of(kind: str) -> tuple[Table, ...]:
    own = schema.metadata.tables[kind]
    return (own, *(_OF_TEST if kind == "test" else ()), *_OF_ANY)


def _there(connection: Connection, table: Table, kind: str, names: Sequence[str]) -> list[Row]:
    if table in _OF_ANY:
        query = select(table).where(table.c.kind == kind, table.c.subject.in_(names))
    else:
        query = select(table).where((table.c.test if table in _OF_TEST else table.c.id).in_(names))
    return list(rows(connection, query))


def _compare(table: Table, wanted: Iterable[Row], there: Iterable[Row], checkup: Checkup) -> None:
    keys = [column.name for column in table.primary_key.columns]
    empty = dict.fromkeys(column.name for column in table.columns)
    right = {tuple(row[key] for key in keys): empty | row for row in wanted}
    found = {tuple(row[key] for key in keys): row for row in there}
    for key in right.keys() | found.keys():
        place = f"{table.name} {' '.join(str(part) for part in key)}"
        if key not in found:
            checkup.add(TABLES, place, "The row is missing.")
        elif key not in right:
            checkup.add(TABLES, place, "The row is there and nothing in the journal makes it.")
        elif right[key] != found[key]:
            differing = [name for name in empty if right[key][name] != found[key][name]]
            checkup.add(TABLES, place, f"The row is not what the journal says: {', '.join(differing)}.")


def _strays(connection: Connection, checkup: Checkup) -> None:
    """Note rows of subjects that have no entry at all."""
    entry = schema.entry
    found: list[tuple[Table, Any, Any]] = [
        (schema.metadata.tables[kind], kind, schema.metadata.tables[kind].c.id) for kind in KINDS
    ]
    found += [(table, table.c.kind, table.c.subject) for table in _OF_ANY]
    for table, kind, subject in found:
        known = select(entry.c.hash).where(entry.c.kind == kind, entry.c.subject == subject).exists()
        for row in streamed(connection, select(table).where(~known)):
            place = " ".join(str(row[column.name]) for column in table.primary_key.columns)
            checkup.add(
                TABLES, f"{table.name} {place}", "The row is there and nothing in the journal makes it."
            )
    for table in _OF_TEST:
        known = select(schema.test.c.id).where(schema.test.c.id == table.c.test).exists()
        for row in streamed(connection, select(table.c.test).where(~known)):
            checkup.add(TABLES, f"{table.name} {row['test']}", "The row is of a test that is not there.")


def _compare_standings(connection: Connection, checkup: Checkup) -> None:
    tests, table = schema.test, schema.standing
    query = union(
        select(tests.c.asset.label("asset")).where(tests.c.asset.is_not(None)), select(table.c.asset)
    ).order_by("asset")
    names = (row["asset"] for row in streamed(connection, query))
    for _, part in groupby(enumerate(names), key=lambda item: item[0] // BATCH):
        for few in batches(name for _, name in part):
            wanted = [row for row in standings(connection, few).values() if row is not None]
            there = rows(connection, select(table).where(table.c.asset.in_(few)))
            _compare(table, wanted, there, checkup)
