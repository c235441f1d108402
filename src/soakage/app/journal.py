"""The journal: every change as an entry that names its author and its predecessor, chained by hashes; pure.

Each store writes one chain.  Merging brings the chains of other stores along, entry by entry, unchanged.
What a store holds follows from the *set* of its entries and from nothing else (:mod:`soakage.app.folding`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from typing import Any

from soakage.model.stated import canonical, digest

START = "0" * 64
STATED_IDENTITY = "stated, not authenticated"
ACCOUNT_IDENTITY = "account, by password"
HERE = ".here"  # ending of the chain that is not shared: settings, exchanges, backups


@dataclass(frozen=True, slots=True)
class Entry:
    """One change.

    Parameters
    ----------
    store : str
        Chain it stands on: the id of the store that wrote it.
    number : int
        Place on that chain, from 1.
    previous : str
        Hash of the entry before it on the chain; `START` for the first.
    at : int
        When, in microseconds since 1970 UTC, by the clock of that store; rises along the chain.
    person : str
        Who.
    identity : str
        How far the name can be trusted: `STATED_IDENTITY`, or that it is an account's.
    kind : str
        Kind of thing changed: site, asset, instrument, person, recipe, test, setting.
    subject : str
        Its id.
    action : str
        What was done: stated, received, revised, withdrawn, judged, noted, ...
    parents : tuple of str
        Entries on the same subject that its author saw last: the heads of its history.
    reason : str
        Why; empty where none is owed.
    body_sha256 : str
        Hash of the body; stays when the body is purged, so that the chain still holds.
    body : str or None
        Canonical JSON: ``set`` and ``was`` of the fields changed, and what the action brings; None once purged.
    hash : str
        Hash of all of the above but the body.
    """

    store: str
    number: int
    previous: str
    at: int
    person: str
    identity: str
    kind: str
    subject: str
    action: str
    parents: tuple[str, ...]
    reason: str
    body_sha256: str
    body: str | None
    hash: str


_HASHED = tuple(part.name for part in fields(Entry) if part.name not in ("body", "hash"))


def entry_hash(values: Mapping[str, Any]) -> str:
    """Return the hash of an entry's fields, its body left out (the hash of the body is among them)."""
    return digest(canonical([[*values[name]] if name == "parents" else values[name] for name in _HASHED]))


def made_entry(**values: Any) -> Entry:  # noqa: ANN401 - the fields of Entry
    """Return an entry with its hashes.

    Parameters
    ----------
    **values
        Fields of :class:`Entry` without the hashes; `body` is a mapping.

    Returns
    -------
    Entry
    """
    body = canonical(values.pop("body"))
    values["parents"] = tuple(sorted(values["parents"]))
    values["body_sha256"] = digest(body)
    return Entry(**values, body=body, hash=entry_hash(values))


@dataclass(frozen=True, slots=True)
class TrailFault:
    """Something wrong with the trail: the chain, the place on it, the entry's hash, what is wrong."""

    store: str
    number: int
    hash: str
    problem: str


def entry_faults(entry: Entry) -> list[str]:
    """Return what is wrong with one entry by itself; empty where its hashes hold."""
    values = {name: getattr(entry, name) for name in _HASHED}
    problems = []
    if entry_hash(values) != entry.hash:
        problems.append("It is not what was written: its hash does not fit.")
    if entry.body is not None and digest(entry.body) != entry.body_sha256:
        problems.append("Its content is not what was written: the hash of the content does not fit.")
    return problems


def trail_faults(entries: Iterable[Entry], own: Iterable[str] = ()) -> tuple[list[TrailFault], int]:
    """Verify chains.

    Parameters
    ----------
    entries : iterable of Entry
        In any order.
    own : iterable of str
        Chains that must be whole. Of other chains a part may have been brought; their gaps are counted.

    Returns
    -------
    faults : list of TrailFault
        What does not hold.
    gaps : int
        Entries of other chains whose predecessor was not brought along.
    """
    whole = set(own)
    known: dict[str, tuple[str, int, int]] = {}
    links: list[tuple[str, int, int, str, str]] = []
    faults = []
    for entry in entries:
        faults += [
            TrailFault(entry.store, entry.number, entry.hash, problem) for problem in entry_faults(entry)
        ]
        known[entry.hash] = (entry.store, entry.number, entry.at)
        links.append((entry.store, entry.number, entry.at, entry.hash, entry.previous))
    gaps = 0
    for store, number, at, own_hash, previous in links:
        if number == 1:
            if previous != START:
                faults.append(TrailFault(store, number, own_hash, "It is the first and names one before it."))
        elif previous not in known:
            if store in whole:
                faults.append(TrailFault(store, number, own_hash, "The entry before it is missing."))
            else:
                gaps += 1
        elif known[previous][:2] != (store, number - 1) or known[previous][2] > at:
            faults.append(TrailFault(store, number, own_hash, "It does not follow the entry it names."))
    return faults, gaps
