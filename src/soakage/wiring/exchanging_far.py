"""Two stores exchange over the network what the other does not hold; broken off, the next time brings the rest."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from typing import IO, Any

from soakage.app.exchange import Merged, Parcel
from soakage.app.holdings import Holdings
from soakage.store.bundle import Head, write_bundle
from soakage.store.frames import Written
from soakage.store.holding import changed_subjects, held_by_both, holdings
from soakage.store.memory import StoreMemory
from soakage.store.merging import merge
from soakage.store.parcels import parcels
from soakage.store.store import microseconds
from soakage.store.unbundle import BundleReader
from soakage.wiring.remote import Remote

PIECE = 32 << 20  # bytes sent before the other side keeps them
_IN_MEMORY = 4 << 20
Told = Callable[[str, int, int], None]


def lacking(hands: StoreMemory, theirs: Holdings, out: Written) -> None:
    """Write what a store holds and another does not as one bundle.

    Parameters
    ----------
    hands : StoreMemory
        The store.
    theirs : Holdings
        What the other says it holds.
    out : binary file
        Written to as it is read.
    """
    name = hands.store.id
    with hands.store.reading() as connection:
        changed = changed_subjects(connection, held_by_both(connection, theirs))
        head = Head(name, microseconds(), hands.person, "what the other does not hold", holdings(connection))
        write_bundle(out, head, parcels(connection, None, changed))


def pulled(
    hands: StoreMemory, remote: Remote, *, dry_run: bool = False, told: Told = lambda *_: None
) -> Merged:
    """Take what another store holds and this one does not; what arrived before a break is kept.

    Parameters
    ----------
    hands : StoreMemory
        This store.
    remote : Remote
        A session with the other.
    dry_run : bool
        Say what would come of it and keep nothing.
    told : callable
        Called with a sentence, done and of how many: 0 where that is not known.

    Raises
    ------
    StoreError
        If the connection fails, or something in what comes is not what was written.
    """
    with hands.store.reading() as connection:
        held = holdings(connection)
    with remote.pull(held) as stream:
        reader = BundleReader(stream, str(remote.place))
        return merge(
            hands.store, hands.person, reader.parcels(), source=reader.head.store, file=str(remote.place),
            dry_run=dry_run, identity=hands.identity,
            progress=lambda done: told(f"{done} entries have come", 0, 0),
        )  # fmt: skip


def pushed(
    hands: StoreMemory, remote: Remote, *, dry_run: bool = False, told: Told = lambda *_: None
) -> dict[str, Any]:
    """Send another store what this one holds and it does not, piece by piece, each kept before the next.

    Parameters
    ----------
    hands, remote, dry_run, told
        As for :func:`pulled`.

    Returns
    -------
    dict
        One of ``files`` in the shape of ``merge --json``: what came of all pieces together.

    Raises
    ------
    StoreError, UsageError
        If the connection fails, or the other store refuses something.
    """
    other, theirs = remote.holdings()
    name = hands.store.id
    total: dict[str, Any] = {
        "file": str(remote.place), "store": other, "entries": 0, "known": 0, "new": {}, "assets": [], "conflicts": [],
        "rejudge": [],
    }  # fmt: skip
    with hands.store.reading() as connection:
        changed = changed_subjects(connection, held_by_both(connection, theirs))
        if changed == set():
            return total
        head = Head(name, microseconds(), hands.person, "what the other does not hold", holdings(connection))
        source = parcels(connection, None, changed)
        sent = 0
        while (first := next(source, None)) is not None:
            with tempfile.SpooledTemporaryFile(_IN_MEMORY) as bundle:
                write_bundle(bundle, head, _some(first, source, bundle))
                size = bundle.tell()
                bundle.seek(0)
                before = sent

                def step(done: int, of: int, before: int = before) -> None:
                    told(f"{(before + done) >> 10} KiB sent", done, of)

                answer = remote.push(bundle, size, dry_run=dry_run, sent=step)
            sent += size
            _add(total, answer)
    return total


def _some(first: Parcel, source: Iterator[Parcel], out: IO[bytes]) -> Iterator[Parcel]:
    """Yield parcels until enough of them stand in a bundle."""
    yield first
    while out.tell() < PIECE and (parcel := next(source, None)) is not None:
        yield parcel


def _add(total: dict[str, Any], answer: dict[str, Any]) -> None:
    for part in answer["files"]:
        total["entries"] += part["entries"]
        total["known"] += part["known"]
        for what, number in part["new"].items():
            total["new"][what] = total["new"].get(what, 0) + number
        for name in ("assets", "conflicts", "rejudge"):
            total[name] += part[name]
