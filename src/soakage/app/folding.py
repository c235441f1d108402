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
        By time of writing.
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
        All on the same subject, in any order.

    Returns
    -------
    Folded
    """
    by_hash = {entry.hash: entry for entry in entries}
    if not by_hash:
        return Folded()
    order = sorted(by_hash.values(), key=_when)
    sets = {entry.hash: body_of(entry).get("set", {}) for entry in order}
    if len(order) == 1:
        only = order[0]
        values = {name: value for name, value in sets[only.hash].items() if value is not None}
        return Folded(values, (only.hash,), {}, dict.fromkeys(values, only.hash), only, only)
    seen = _ancestors(by_hash)
    older = frozenset().union(*seen.values())
    heads = tuple(sorted(own for own in by_hash if own not in older))
    writers: dict[str, list[Entry]] = {}
    for entry in order:
        for name in sets[entry.hash]:
            writers.setdefault(name, []).append(entry)
    values, conflicts, last_writers = {}, {}, {}
    for name, wrote in writers.items():
        live = [entry for entry in wrote if not any(entry.hash in seen[other.hash] for other in wrote)]
        live.sort(key=_when, reverse=True)
        last_writers[name] = live[0].hash
        claims = {
            canonical(sets[entry.hash][name]): _claim(entry, sets[entry.hash][name])
            for entry in reversed(live)
        }
        if sets[live[0].hash][name] is not None:
            values[name] = sets[live[0].hash][name]
        if len(claims) > 1:
            conflicts[name] = tuple(
                sorted(claims.values(), key=lambda claim: (claim.at, claim.entry), reverse=True)
            )
    return Folded(values, heads, conflicts, last_writers, order[0], order[-1])


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
