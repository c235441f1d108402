"""From the entries on one subject to its state, whatever order they came in; pure.

Each entry sets some fields and names the entries its author saw.  For each field those entries count that
set it and that no later one which set it has seen.  Where they agree there is one value; where they do not,
two people changed it without seeing each other: both values are kept as a conflict until someone settles it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from soakage.app.journal import Entry
from soakage.model.stated import canonical

_SPOKEN_FOR = ("content", "withdrawn")  # what a sign-off of a test stands for


@dataclass(frozen=True, slots=True)
class Claim:
    """One of several values of a field: the value, who set it, when [us UTC], and by which entry."""

    value: Any
    person: str
    at: int
    entry: str


@dataclass(frozen=True, slots=True)
class Folded:
    """State of one subject.

    Parameters
    ----------
    values : mapping
        Value by field; of a conflict the one set last.
    heads : tuple of str
        Entries that no other on the subject has seen: the parents of the next change.
    conflicts : mapping of str to tuple of Claim
        Fields with several values that nobody settled yet, the one set last first.
    writers : mapping of str to str
        Entry that set the value of each field.
    first, last : Entry or None
        Of those that set anything, by time of writing.
    """

    values: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))
    heads: tuple[str, ...] = ()
    conflicts: Mapping[str, tuple[Claim, ...]] = field(default_factory=lambda: MappingProxyType({}))
    writers: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    first: Entry | None = None
    last: Entry | None = None


def body_of(entry: Entry) -> dict[str, Any]:
    """Return the body of an entry; empty once purged."""
    body = json.loads(entry.body) if entry.body is not None else {}
    return body if isinstance(body, dict) else {}


def fold(entries: Iterable[Entry]) -> Folded:
    """Return the state that entries on one subject give.

    Parameters
    ----------
    entries : iterable of Entry
        All on the same subject, in any order; those that set nothing too, for who saw what goes through them.

    Returns
    -------
    Folded
        A sign-off speaks for the revision it names: one that changed or withdrew the test without having seen
        it is in conflict with it.
    """
    by_hash = {entry.hash: entry for entry in entries}
    bodies = {own: body_of(entry) for own, entry in by_hash.items()}
    sets = {own: body.get("set", {}) for own, body in bodies.items()}
    order = sorted((entry for own, entry in by_hash.items() if "set" in bodies[own]), key=_when)
    if len(by_hash) == 1 and order:
        only = order[0]
        values = {name: value for name, value in sets[only.hash].items() if value is not None}
        return Folded(values, (only.hash,), {}, dict.fromkeys(values, only.hash), only, only)
    seen = _ancestors(by_hash)
    older = frozenset().union(*seen.values())
    heads = tuple(sorted(own for own in by_hash if own not in older))
    signed = {own: bodies[own].get("content") for own, entry in by_hash.items() if entry.action == "signed"}
    writers: dict[str, list[Entry]] = {}
    for entry in order:
        for name in sets[entry.hash]:
            writers.setdefault(name, []).append(entry)
    values, conflicts, last_writers = {}, {}, {}
    for name, wrote in writers.items():
        live = {
            entry.hash: sets[entry.hash][name]
            for entry in wrote
            if not any(entry.hash in seen[other.hash] for other in wrote)
        }
        if name in _SPOKEN_FOR:
            live |= {
                own: content if name == "content" else False
                for own, content in signed.items()
                if not any(own in seen[other] for other in live)
                and not any(other in seen[own] for other in live)
            }
        ranked = sorted((by_hash[own] for own in live), key=_when, reverse=True)
        last_writers[name] = ranked[0].hash
        claims = {canonical(live[entry.hash]): _claim(entry, live[entry.hash]) for entry in reversed(ranked)}
        if live[ranked[0].hash] is not None:
            values[name] = live[ranked[0].hash]
        if len(claims) > 1:
            conflicts[name] = tuple(
                sorted(claims.values(), key=lambda claim: (claim.at, claim.entry), reverse=True)
            )
    first, last = (order[0], order[-1]) if order else (None, None)
    return Folded(values, heads, conflicts, last_writers, first, last)


def _when(entry: Entry) -> tuple[int, str]:
    return entry.at, entry.hash


def _claim(entry: Entry, value: object) -> Claim:
    return Claim(value, entry.person, entry.at, entry.hash)


def _ancestors(by_hash: Mapping[str, Entry]) -> dict[str, frozenset[str]]:
    """Return, for each entry, all that it or what it saw has seen."""
    known: dict[str, frozenset[str]] = {}
    waiting = list(by_hash)
    while waiting:
        own = waiting[-1]
        parents = [parent for parent in by_hash[own].parents if parent in by_hash]
        unknown = [parent for parent in parents if parent not in known]
        if unknown:
            waiting += unknown
            continue
        known[own] = frozenset(parents).union(*(known[parent] for parent in parents))
        waiting.pop()
    return known
