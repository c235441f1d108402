"""What a store holds of each chain, and what it holds that another does not."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection, Select, and_, func, or_, select

from soakage.app.exchange import Subject
from soakage.app.holdings import Break, Holdings, Ranges, Span, agreed, holdings_of, marked, outside, spans_of
from soakage.app.journal import HERE
from soakage.store import schema
from soakage.store.asking import batches

MOST_SUBJECTS = 200_000  # changed ones that are told apart; where more changed, everything is sent
_SHARED = schema.entry.c.store.not_like(f"%{HERE}")


def holdings(connection: Connection, *, marks: bool = True) -> Holdings:
    """Return the spans of each shared chain that are held without a gap.

    Parameters
    ----------
    connection : Connection
        Reading.
    marks : bool
        Whether hashes are told along, which another store needs.

    Returns
    -------
    Holdings
        A chain that was written on in two copies of a store is left out: it is sent whole.
    """
    entry = schema.entry
    by_chain: dict[str, list[Break]] = {}
    for row in connection.execute(_breaks()):
        by_chain.setdefault(row.store, []).append(Break(row.number, row.hash, row.before))
    query = select(entry.c.store, func.max(entry.c.number)).where(_SHARED).group_by(entry.c.store)
    last = {row[0]: row[1] for row in connection.execute(query)}
    found = {
        chain: tuple(Span(*ends) for ends in spans_of(breaks, last[chain]))
        for chain, breaks in by_chain.items()
    }
    found = {chain: spans for chain, spans in found.items() if spans}
    if not marks:
        return found
    return {
        chain: tuple(_with_marks(connection, chain, span) for span in spans) for chain, spans in found.items()
    }


def _breaks() -> Select[Any]:
    """Return the question for entries that do not continue the one before them as it is held."""
    entry = schema.entry
    chain, order = entry.c.store, (entry.c.number, entry.c.hash)
    line = (
        select(
            entry.c.store,
            entry.c.number,
            entry.c.hash,
            entry.c.previous,
            func.lag(entry.c.number).over(partition_by=chain, order_by=order).label("before"),
            func.lag(entry.c.hash).over(partition_by=chain, order_by=order).label("before_hash"),
        )
        .where(_SHARED)
        .subquery()
    )
    follows = and_(line.c.before == line.c.number - 1, line.c.before_hash == line.c.previous)
    return (
        select(line.c.store, line.c.number, line.c.hash, line.c.before)
        .where(or_(line.c.before.is_(None), ~follows))
        .order_by(line.c.store, line.c.number, line.c.hash)
    )


def _with_marks(connection: Connection, chain: str, span: Span) -> Span:
    entry = schema.entry
    numbers = marked(span.first, span.last)
    query = select(entry.c.number, entry.c.hash).where(entry.c.store == chain, entry.c.number.in_(numbers))
    hashes = {row.number: row.hash for row in connection.execute(query)}
    return replace(span, marks=tuple((number, hashes[number]) for number in numbers))


def held_by_both(connection: Connection, theirs: Holdings) -> Ranges:
    """Return what is here and, by what another store says it holds, there too."""
    entry = schema.entry
    told = [own for spans in theirs.values() for span in spans for _, own in span.marks]
    known: set[str] = set()
    for part in batches(told):
        known.update(connection.execute(select(entry.c.hash).where(entry.c.hash.in_(part))).scalars())
    return agreed(theirs, holdings(connection, marks=False), known)


def changed_subjects(connection: Connection, held: Ranges) -> set[Subject] | None:
    """Return the subjects with an entry outside of what is held there; None where they are too many to tell apart.

    Parameters
    ----------
    connection : Connection
        Reading.
    held : mapping
        Ranges of numbers by chain that the other side has.

    Returns
    -------
    set of (str, str), or None
    """
    entry = schema.entry
    query = select(entry.c.store, func.max(entry.c.number)).where(_SHARED).group_by(entry.c.store)
    found: set[Subject] = set()
    for chain, last in [(row[0], row[1]) for row in connection.execute(query)]:
        for first, end in outside(held.get(chain, ()), last):
            for subject in _between(connection, chain, first, end):
                found.add(subject)
                if len(found) > MOST_SUBJECTS:
                    return None
    return found


def _between(connection: Connection, chain: str, first: int, end: int) -> Iterator[Subject]:
    entry = schema.entry
    query = (
        select(entry.c.kind, entry.c.subject)
        .where(entry.c.store == chain, entry.c.number.between(first, end))
        .order_by(entry.c.number)
        .execution_options(yield_per=1000)
    )
    with connection.execute(query) as found:  # whoever has seen enough leaves in the middle
        for row in found:
            yield row.kind, row.subject


def held_at(connection: Connection, own: str, at: int) -> Ranges:
    """Return what this store is known to have held at a time; whatever is not certain is left out.

    Parameters
    ----------
    connection : Connection
        Reading.
    own : str
        Id of this store: its own chain tells the time of each entry; of others the log of merges tells.
    at : int
        Microseconds since 1970 UTC.

    Returns
    -------
    Ranges
    """
    entry = schema.entry
    last = connection.execute(
        select(func.max(entry.c.number)).where(entry.c.store == own, entry.c.at < at)
    ).scalar()
    logged = (
        select(entry.c.body)
        .where(entry.c.kind == "setting", entry.c.action == "merged", entry.c.at < at)
        .where(entry.c.store.like(f"%{HERE}"), entry.c.body.is_not(None))
        .order_by(entry.c.at.desc())
        .limit(1)
    )
    body = connection.execute(logged).scalar()
    held = holdings_of(json.loads(body)["holds"] or {}) if body else {}
    ranges = {chain: tuple((span.first, span.last) for span in spans) for chain, spans in held.items()}
    return ranges | ({own: ((1, last),)} if last else {})
