"""Two stores become one: what is taken, what is refused, what came of it; pure.

A merge is the union of the entries of both.  Everything on one subject travels together, with the bytes it names,
in a :class:`Parcel`; so whatever arrives can be understood, in any order and any number of times.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from soakage.app.folding import Claim, Folded, body_of, fold
from soakage.app.journal import HERE, START, Entry, entry_faults
from soakage.app.register import title_of

Subject = tuple[str, str]
BEGINS = ("received", "revised")
_HASH = re.compile(r'"([0-9a-f]{64})"')
_ID, _WORD = 64, 16  # longest id, longest name of a kind or an action


@dataclass(frozen=True, slots=True)
class Parcel:
    """What is taken in one step: all entries on some subjects, and the bytes they name, by hash."""

    entries: Sequence[Entry]
    blobs: Iterable[tuple[str, bytes]] = ()


@dataclass(frozen=True, slots=True)
class Scope:
    """Which part of a store is meant; all of it unless something is given.

    Parameters
    ----------
    site : str or None
        Only the assets of this site.
    assets : tuple of str
        Only these assets, by id, with what belongs to them.
    """

    site: str | None = None
    assets: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether all of the store is meant."""
        return self.site is None and not self.assets


@dataclass(frozen=True, slots=True)
class Conflict:
    """Values of one field that were set without seeing each other, the one set last first.

    Parameters
    ----------
    kind, subject : str
        What it is about.
    title : str
        What a person calls that.
    field : str
        Which field.
    claims : tuple of Claim
        The values.
    also : tuple of str
        Other names the subject goes by.
    """

    kind: str
    subject: str
    title: str
    field: str
    claims: tuple[Claim, ...]
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Together:
    """A visit whose sections came together from two stores: judged apart, to be judged again."""

    visit: str
    asset: str
    title: str
    day: str | None


@dataclass(slots=True)
class Merged:
    """What came of a merge so far.

    Parameters
    ----------
    source : str
        Store it came from.
    entries, known : int
        Entries that were new here, and that were here already.
    counts : dict of str to int
        What is new, by what it is: tests, revisions, verdicts, notes and so on.
    assets : list of (str, str)
        New ones: id and title.
    conflicts : list of Conflict
        Those that this merge brought.
    together : list of Together
        Visits to be judged again.
    dry_run : bool
        Whether nothing was kept.
    """

    source: str = ""
    entries: int = 0
    known: int = 0
    counts: dict[str, int] = field(default_factory=dict)
    assets: list[tuple[str, str]] = field(default_factory=list)
    conflicts: list[Conflict] = field(default_factory=list)
    together: list[Together] = field(default_factory=list)
    dry_run: bool = False

    def count(self, what: str, number: int = 1) -> None:
        """Count something that is new."""
        self.counts[what] = self.counts.get(what, 0) + number


def by_subject(entries: Iterable[Entry]) -> dict[Subject, list[Entry]]:
    """Return entries by what they are on."""
    found: dict[Subject, list[Entry]] = {}
    for entry in entries:
        found.setdefault((entry.kind, entry.subject), []).append(entry)
    return found


def hashes_in(entries: Iterable[Entry]) -> set[str]:
    """Return every hash that the contents of entries name; some are of bytes that are kept."""
    return {found for entry in entries if entry.body is not None for found in _HASH.findall(entry.body)}


def purged(entries: Iterable[Entry]) -> bool:
    """Return whether the content of their subject was removed for good."""
    return any(entry.action == "purged" for entry in entries)


def refusals(group: Sequence[Entry], before: Sequence[Entry], kinds: Iterable[str]) -> Iterator[str]:
    """Yield why entries on one subject cannot be taken.

    Parameters
    ----------
    group : sequence of Entry
        As they came.
    before : sequence of Entry
        Those on the subject that are here.
    kinds : iterable of str
        Kinds of subject that this Soakage knows.

    Yields
    ------
    str
        A sentence.
    """
    allowed = set(kinds)
    there = {entry.hash for entry in (*group, *before)}
    gone = purged((*group, *before))
    for entry in group:
        yield from entry_faults(entry)
        if entry.kind not in allowed:
            yield f"It is on a {entry.kind!r}, which this Soakage does not know. Use a newer one."
        if entry.store.endswith(HERE):
            yield "It belongs to its own store only."
        if max(len(entry.store), len(entry.subject)) > _ID or max(len(entry.kind), len(entry.action)) > _WORD:
            yield "One of its names is too long."
        if entry.number < 1 or entry.at < 0 or (entry.number == 1) != (entry.previous == START):
            yield "It is not where it says on its chain."
        if entry.body is None and not gone:
            yield "Its content is missing, and nobody removed it."
        if not there.issuperset(entry.parents):
            yield "It builds on entries that are neither here nor with it."


def misplaced(fresh: Iterable[Entry], around: Iterable[Entry]) -> Iterator[Entry]:
    """Yield entries that do not follow those they name, of chains as far as they are at hand.

    Parameters
    ----------
    fresh : iterable of Entry
        Those that are new.
    around : iterable of Entry
        Entries that are here and stand before or after them.
    """
    new = list(fresh)
    known = {entry.hash: entry for entry in (*around, *new)}
    for entry in known.values():
        before = known.get(entry.previous)
        if before is None:
            continue
        if (before.store, before.number) != (entry.store, entry.number - 1) or before.at > entry.at:
            yield entry


def look(merged: Merged, subject: Subject, before: Sequence[Entry], fresh: Sequence[Entry]) -> None:
    """Add to what came of a merge what the new entries on one subject bring.

    Parameters
    ----------
    merged : Merged
        So far.
    subject : (str, str)
        Kind and id.
    before : sequence of Entry
        Entries on it that were here.
    fresh : sequence of Entry
        New ones.
    """
    kind, name = subject
    after = [*before, *fresh]
    merged.entries += len(fresh)
    if purged(after):
        merged.count("removed for good" if not purged(before) else "kept out, for it was removed here")
        return
    state = fold(after)
    old = fold(before)
    if old.first is None and state.first is not None:
        merged.count(_NEW.get(kind, f"{kind}s"))
        if kind == "asset":
            merged.assets.append((name, title_of(state.values)))
    elif any(entry.action == "stated" for entry in fresh) and state.values != old.values:
        merged.count("edits")
    received = any(entry.action == "received" for entry in before)
    for entry in fresh:
        if entry.action == "received" and received:
            merged.count("tests received on both")
        elif entry.action in _TOLD:
            merged.count(_TOLD[entry.action])
    for changed, claims in state.conflicts.items():
        if old.conflicts.get(changed) != claims:
            merged.conflicts.append(Conflict(kind, name, subject_title(kind, state, after), changed, claims))


_NEW = {"person": "people"}
_TOLD = {
    "revised": "revisions",
    "judged": "verdicts",
    "noted": "notes",
    "attached": "attachments",
    "happened": "events",
    "calibrated": "calibrations",
    "withdrawn": "withdrawals",
    "reinstated": "withdrawals taken back",
    "reviewed": "reviews",
    "signed": "sign-offs",
}


def subject_title(kind: str, state: Folded, entries: Iterable[Entry]) -> str:
    """Return what a person would call a subject."""
    values: Mapping[str, Any] = state.values
    if kind == "asset":
        return title_of(values)
    if kind == "test":
        kept = [entry for entry in entries if entry.action in BEGINS]
        body = body_of(max(kept, key=lambda entry: (entry.at, entry.hash))) if kept else {}
        of, stated = body.get("of", {}), body.get("record", {}).get("stated", {})
        parts = (title_of(stated) if stated else None, of.get("section"), of.get("day"))
        return ", ".join(str(part) for part in parts if part) or "test"
    named = values.get("name") or values.get("instrument") or values.get("instrument_serial")
    return str(named or kind)


def visits_of(group: Iterable[Entry]) -> set[str]:
    """Return the visits that new records of a test belong to."""
    found = {body_of(entry).get("of", {}).get("visit") for entry in group if entry.action in BEGINS}
    return {visit for visit in found if isinstance(visit, str)}
