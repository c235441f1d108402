"""The trail of a store: of one thing or of all, and whether it holds."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import select

from soakage.app.journal import Entry
from soakage.app.lookup import asset_or_test
from soakage.app.ports import KnownAsset
from soakage.app.trail_json import verified_json
from soakage.errors import UsageError
from soakage.store import schema
from soakage.store.memory import StoreMemory
from soakage.store.store import Store
from soakage.store.trail import ChainsHeld, entries, of_asset, of_subject, owed_chains, own_chains, told


def trail_of(hands: StoreMemory, subject: str | None = None, site: str | None = None) -> Iterator[Entry]:
    """Yield the entries on an asset or a test in order, or all there are.

    Parameters
    ----------
    hands : StoreMemory
        The store.
    subject : str, optional
        As typed; also the whole id of something that was purged.
    site : str, optional
        Where the asset is.

    Raises
    ------
    UsageError
        If there is no such thing, or several.
    """
    condition = None
    if subject is not None:
        try:
            found = asset_or_test(hands, subject, site)
        except UsageError:
            kind = _kind_of(hands.store, subject)
            if kind is None:
                raise
            condition = of_subject(kind, subject)
        else:
            condition = of_asset(found.id) if isinstance(found, KnownAsset) else of_subject("test", found.id)
    with hands.store.reading() as connection:
        yield from told(connection, condition)


def _kind_of(store: Store, subject: str) -> str | None:
    """Return the kind of what has this very id in the journal, where the register has nothing of it."""
    with store.reading() as connection:
        kinds = (
            select(schema.purged.c.kind).where(schema.purged.c.subject == subject),
            select(schema.entry.c.kind).where(schema.entry.c.subject == subject).limit(1),
        )
        for query in kinds:
            kind = connection.execute(query).scalars().first()
            if kind is not None:
                return str(kind)
    return None


def verified(store: Store) -> dict[str, Any]:
    """Return whether every chain of the journal holds, as plain values."""
    with store.reading() as connection:
        held = ChainsHeld(owed_chains(connection), own_chains(connection))
        faults = list(held.faults(entries(connection)))
    return verified_json(held.entries, held.gaps, held.forks, faults)
