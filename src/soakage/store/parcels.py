"""A store in parcels: subject by subject with all entries on each and the bytes they name, little at a time."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from itertools import islice

from sqlalchemy import ColumnElement, Connection, select

from soakage.app.exchange import Parcel, Scope, Subject, hashes_in
from soakage.app.journal import HERE
from soakage.app.register import identity
from soakage.errors import StoreError, UsageError
from soakage.model.stated import digest
from soakage.store import schema
from soakage.store.asking import batches, rows
from soakage.store.packing import unpacked
from soakage.store.rows import KINDS
from soakage.store.writing import entries_on

SUBJECTS = 100  # in one parcel
_ASSETS = 50  # whose tests are looked up at a time
_BLOBS = 8  # held in memory at a time
_PAGE = 1000
_FIRST = ("person", "recipe", "setting", "instrument", "site", "asset", "visit")


def parcels(
    connection: Connection, scope: Scope | None = None, changed: Collection[Subject] | None = None
) -> Iterator[Parcel]:
    """Yield what is shared of a store, things before the tests that name them, tests asset by asset.

    Parameters
    ----------
    connection : Connection
        Reading; it sees one state of the store throughout.
    scope : Scope, optional
        Only a part.
    changed : collection of (str, str), optional
        Only these subjects, by kind and id.

    Yields
    ------
    Parcel
        Its bytes are read while they are asked for.

    Raises
    ------
    UsageError
        If the site of the scope is not known.
    StoreError
        If bytes are missing or damaged.
    """
    part = scope or Scope()
    source = _all(connection) if part.whole else _part(connection, part)
    wanted = (key for key in source if changed is None or key in changed)
    while keys := list(islice(wanted, SUBJECTS)):
        found = entries_on(connection, keys)
        entries = [
            entry
            for key in keys
            for entry in sorted(found.get(key, ()), key=lambda entry: (entry.at, entry.hash))
            if not entry.store.endswith(HERE)
        ]
        if entries:
            yield Parcel(entries, _blobs(connection, sorted(hashes_in(entries))))


def _all(connection: Connection) -> Iterator[Subject]:
    for kind in (*_FIRST, *(kind for kind in KINDS if kind not in (*_FIRST, "test"))):
        yield from _of_kind(connection, kind)
    test = schema.test
    after = ""
    while assets := _assets_after(connection, after):
        yield from _tests(connection, test.c.asset.in_(assets))
        after = assets[-1]
    yield from _alone(connection)
    yield from _without_rows(connection)


def _part(connection: Connection, scope: Scope) -> Iterator[Subject]:
    assets = list(scope.assets) or _of_site(connection, scope.site or "")
    for kind in ("person", "recipe"):
        yield from _of_kind(connection, kind)
    asset, visit, test = schema.asset, schema.visit, schema.test
    sites: set[str] = set()
    instruments: set[str] = set()
    for part in batches(assets):
        query = select(asset.c.site).where(asset.c.id.in_(part), asset.c.site.is_not(None))
        sites.update(identity("site", name) for name in connection.execute(query).scalars())
        used = select(test.c.instrument).where(test.c.asset.in_(part), test.c.instrument.is_not(None))
        instruments.update(connection.execute(used.distinct()).scalars())
    yield from (("instrument", name) for name in sorted(instruments))
    yield from (("site", name) for name in sorted(sites))
    yield from (("asset", name) for name in assets)
    for some in _some(assets):
        visits = select(visit.c.id).where(visit.c.asset.in_(some)).order_by(visit.c.id)
        yield from (("visit", name) for name in connection.execute(visits).scalars().all())
    for some in _some(assets):
        yield from _tests(connection, test.c.asset.in_(some))
    gone = schema.purged
    for row in connection.execute(select(gone.c.kind, gone.c.subject)).all():
        yield row.kind, row.subject


def _of_site(connection: Connection, site: str) -> list[str]:
    asset = schema.asset
    found = connection.execute(select(asset.c.id).where(asset.c.site == site).order_by(asset.c.id)).scalars()
    names = list(found)
    if not names:
        raise UsageError(
            f"No asset is at a site called {site!r}. A name is matched whole: look it up with 'soakage list'."
        )
    return names


def _some(names: Sequence[str]) -> Iterator[Sequence[str]]:
    for start in range(0, len(names), _ASSETS):
        yield names[start : start + _ASSETS]


def _of_kind(connection: Connection, kind: str) -> Iterator[Subject]:
    """Yield the subjects of a kind in pages: a page is whole before the next is asked for."""
    entry = schema.entry
    after = ""
    while True:
        query = (
            select(entry.c.subject)
            .where(entry.c.kind == kind, entry.c.subject > after)
            .distinct()
            .order_by(entry.c.subject)
            .limit(_PAGE)
        )
        names = list(connection.execute(query).scalars())
        if not names:
            return
        yield from ((kind, name) for name in names)
        after = names[-1]


def _assets_after(connection: Connection, after: str) -> list[str]:
    test = schema.test
    query = select(test.c.asset).where(test.c.asset > after).distinct().order_by(test.c.asset).limit(_ASSETS)
    return [name for name in connection.execute(query).scalars() if name]


def _tests(connection: Connection, condition: ColumnElement[bool]) -> Iterator[Subject]:
    """Yield tests in pages, asset by asset."""
    test = schema.test
    query = select(test.c.id).where(condition).order_by(test.c.asset, test.c.id).limit(_PAGE)
    page = 0
    while names := list(connection.execute(query.offset(page * _PAGE)).scalars()):
        yield from (("test", name) for name in names)
        page += 1


def _alone(connection: Connection) -> Iterator[Subject]:
    """Yield the tests of no asset in pages."""
    test = schema.test
    after = ""
    while True:
        query = select(test.c.id).where(test.c.asset.is_(None), test.c.id > after)
        names = list(connection.execute(query.order_by(test.c.id).limit(_PAGE)).scalars())
        if not names:
            return
        yield from (("test", name) for name in names)
        after = names[-1]


def _without_rows(connection: Connection) -> Iterator[Subject]:
    """Yield the tests that no row stands for: those whose content was removed for good."""
    entry, test = schema.entry, schema.test
    query = (
        select(entry.c.subject)
        .outerjoin(test, test.c.id == entry.c.subject)
        .where(entry.c.kind == "test", test.c.id.is_(None))
        .distinct()
        .order_by(entry.c.subject)
    )
    for name in connection.execute(query).scalars().all():
        yield "test", name


def _blobs(connection: Connection, names: Iterable[str]) -> Iterator[tuple[str, bytes]]:
    blob = schema.blob
    for part in batches(names):
        known = sorted(connection.execute(select(blob.c.sha256).where(blob.c.sha256.in_(part))).scalars())
        for start in range(0, len(known), _BLOBS):
            query = select(blob).where(blob.c.sha256.in_(known[start : start + _BLOBS]))
            for row in list(rows(connection, query)):
                content = unpacked(row)
                if digest(content) != row["sha256"]:
                    raise StoreError(
                        f"The content {row['sha256'][:12]} is damaged: nothing was written. Run 'soakage check'."
                    )
                yield row["sha256"], content
