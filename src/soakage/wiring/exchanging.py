"""Exchange between stores for the doors: bundles out, bundles in, conflicts and how they are settled."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from soakage.app.exchange import Conflict, Merged, Scope
from soakage.app.lookup import the_asset
from soakage.app.settling import Settled, meant, settle, taken
from soakage.errors import UsageError
from soakage.model.keys import KEYS
from soakage.store.bundle import Counts, Head, save_bundle
from soakage.store.conflicts import conflicts
from soakage.store.holding import changed_subjects, held_at, held_by_both, holdings
from soakage.store.memory import StoreMemory
from soakage.store.merging import merge
from soakage.store.parcels import parcels
from soakage.store.store import microseconds
from soakage.store.unbundle import BundleReader
from soakage.wiring.changing import plain_values


def bundled(
    hands: StoreMemory, out: str, *, site: str | None = None, assets: Sequence[str] = (), since: str | None = None
) -> tuple[str, Counts]:  # fmt: skip
    """Write a bundle of a store or of a part of it.

    Parameters
    ----------
    hands : StoreMemory
        The store.
    out : str
        The file to be written.
    site : str, optional
        Only the assets of this site; with assets, where those are.
    assets : sequence of str
        Only these, as a person calls them.
    since : str, optional
        A day, or the file of a bundle: only what changed after that.

    Returns
    -------
    part : str
        What of the store it holds, in words; empty for all of it.
    counts : Counts

    Raises
    ------
    UsageError
        If the file cannot be written, or an asset, a site or the day is not known.
    """
    ids = tuple(dict.fromkeys(the_asset(hands, asset, site).id for asset in assets))
    scope = Scope(assets=ids) if ids else Scope(site=site)
    words = [f"asset {asset}" for asset in assets] or ([f"site {site}"] if site else [])
    if since is not None:
        words.append(f"changed since {since}")
    part = ", ".join(words)
    told = _told(since)
    name = hands.store.id
    with hands.store.reading() as connection:
        changed = None
        if isinstance(told, int):
            changed = changed_subjects(connection, held_at(connection, name, told))
        elif told is not None:
            changed = changed_subjects(connection, held_by_both(connection, told.holds))
        head = Head(name, microseconds(), hands.person, part, holdings(connection))
        return part, save_bundle(Path(out), head, parcels(connection, scope, changed))


def _told(since: str | None) -> Head | int | None:
    """Return what a bundle says of itself, or a day in microseconds since 1970 UTC."""
    if since is None:
        return None
    if Path(since).is_file():
        with opened(since) as reader:
            return reader.head
    try:
        day = date.fromisoformat(since.strip())
    except ValueError:
        raise UsageError(
            f"--since {since}: there is no such file, and it is no day. Give a bundle, or a day as 2026-03-14."
        ) from None
    return int(datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp()) * 1_000_000


@contextmanager
def opened(path: str) -> Iterator[BundleReader]:
    """Give a bundle to be read.

    Raises
    ------
    UsageError
        If the file cannot be read.
    StoreError
        If it is no bundle.
    """
    try:
        with Path(path).open("rb") as stream:
            yield BundleReader(stream, path)
    except OSError as problem:
        raise UsageError(f"{path}: {problem.strerror or problem}. Give a file that can be read.") from None


def verified(path: str) -> Head:
    """Read a bundle from end to end, holding every hash; return what it says of itself.

    Raises
    ------
    StoreError
        If anything in it is not what was written.
    """
    with opened(path) as reader:
        for parcel in reader.parcels():
            for _ in parcel.blobs:
                pass
        return reader.head


def merged(
    hands: StoreMemory,
    files: Sequence[str],
    *,
    dry_run: bool = False,
    progress: Callable[[int], None] | None = None,
) -> Iterator[tuple[str, Head, Merged]]:
    """Take bundles; all of them are verified before the first is taken.

    Parameters
    ----------
    hands : StoreMemory
        Into which store.
    files : sequence of str
        Bundles.
    dry_run : bool
        Say what would come of each by itself, and keep nothing.
    progress : callable, optional
        Called with the number of entries of a bundle that are done.

    Yields
    ------
    file : str
    head : Head
        What the bundle says of itself.
    merged : Merged

    Raises
    ------
    StoreError
        If one is damaged: nothing is taken. If one cannot be taken: what was taken before is kept.
    """
    heads = [verified(file) for file in files]
    for file, head in zip(files, heads, strict=True):
        with opened(file) as reader:
            yield (
                file,
                head,
                merge(
                    hands.store,
                    hands.person,
                    reader.parcels(),
                    source=head.store,
                    file=Path(file).name,
                    dry_run=dry_run,
                    progress=progress,
                    identity=hands.identity,
                ),
            )


def conflicts_of(hands: StoreMemory) -> list[Conflict]:
    """Return the conflicts of a store."""
    with hands.store.reading() as connection:
        return conflicts(connection)


def settled(
    hands: StoreMemory, subject: str, field: str, *, value: str | None = None, take: int | None = None, reason: str = ""
) -> Settled:  # fmt: skip
    """Settle a conflict.

    Parameters
    ----------
    hands : StoreMemory
        The store.
    subject, field : str
        What is in conflict, as a person calls it.
    value : str, optional
        The value that shall stand, as typed.
    take : int, optional
        Number of the claim that shall stand.
    reason : str
        Why.

    Raises
    ------
    UsageError
        If not one of value and take is given, or nothing such is in conflict.
    InputError
        If the value cannot be read.
    """
    if (value is None) == (take is None):
        raise UsageError("Give the value that shall stand, or --take with the number of one that is there.")
    conflict = meant(conflicts_of(hands), subject, field)
    chosen = taken(conflict, take) if take is not None else _read(conflict, value or "")
    with hands.changing() as change:
        return settle(change, conflict, chosen, reason)


def _read(conflict: Conflict, text: str) -> Any:  # noqa: ANN401 - a plain value
    if conflict.kind in ("asset", "instrument") and conflict.field in KEYS:
        return plain_values({conflict.field: text})[0][conflict.field]
    if all(isinstance(claim.value, str | None) for claim in conflict.claims):
        return text
    raise UsageError(f"{conflict.field}: one of the values is chosen. Give --take with its number.")
