"""What the use cases need of a memory; :mod:`soakage.store` gives it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any, Protocol

from soakage.app.evaluate import References
from soakage.app.folding import Folded
from soakage.app.history import HistoryPoint
from soakage.app.journal import Entry
from soakage.app.peers import Kin
from soakage.model.record import Record


@dataclass(frozen=True, slots=True)
class KnownAsset:
    """An asset of the register: its id and plain value by key; `sections` are named ``section:NAME``."""

    id: str
    values: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class KnownTest:
    """A test in the store.

    Parameters
    ----------
    id : str
        Its id; stays through revisions.
    content : str
        Content id of the current revision.
    record : Record
        As received, nothing filled in.
    asset, visit, instrument : str or None
        Ids.
    section : str
        Section it is of.
    withdrawn : bool
        Whether it was withdrawn.
    review : str
        draft, reviewed or signed.
    status : str or None
        Of the verdict that stands.
    result : str or None
        Hash of the result that verdict was given with.
    """

    id: str
    content: str
    record: Record
    asset: str | None
    visit: str | None
    instrument: str | None
    section: str
    withdrawn: bool
    review: str
    status: str | None
    result: str | None


@dataclass(frozen=True, slots=True)
class PastTest:
    """One test of a history, without its readings.

    Parameters
    ----------
    id : str
        Its id.
    section : str
        Section it is of.
    day : str or None
        ISO 8601.
    stated : mapping
        Plain value by key of the record file.
    status : str or None
        Of the verdict that stands.
    result : str or None
        Hash of its result.
    figures : mapping of str to mapping
        Value, bound, uncertainty, rule and base temperature by quantity.
    visit : str or None
        Id of its visit.
    """

    id: str
    section: str
    day: str | None
    stated: Mapping[str, Any]
    status: str | None
    result: str | None
    figures: Mapping[str, Mapping[str, Any]]
    visit: str | None


@dataclass(frozen=True, slots=True)
class GivenVerdict:
    """One verdict of a test, as the journal has it.

    Parameters
    ----------
    test, entry : str
        The test's id, and the entry that gave it.
    content : str
        Content id of the revision judged.
    profile, profile_sha256, criteria_sha256, version : str
        What judged.
    status, sentence : str
        What was said.
    result : str
        Hash of the whole result.
    at : int
        When [us UTC].
    person, reason : str
        Who, and why.
    """

    test: str
    entry: str
    content: str
    profile: str
    profile_sha256: str
    criteria_sha256: str
    version: str
    status: str
    sentence: str
    result: str
    at: int
    person: str
    reason: str


class Change(Protocol):
    """One change of a memory: all of it is kept, or nothing."""

    def entries(self, kind: str, subject: str) -> list[Entry]:
        """Return the entries on a subject."""

    def look_up(self, subjects: Iterable[tuple[str, str]]) -> None:
        """Load many subjects at once."""

    def folded(self, kind: str, subject: str) -> Folded:
        """Return the state of a subject."""

    def add(
        self,
        kind: str,
        subject: str,
        action: str,
        body: Mapping[str, Any],
        *,
        reason: str = "",
        shared: bool = True,
    ) -> Entry:
        """Add one entry."""

    def state(
        self, kind: str, subject: str, values: Mapping[str, Any], *, reason: str = "", shared: bool = True
    ) -> Entry | None:
        """Set fields of a subject; None where nothing changes."""

    def blob(self, content: bytes) -> str:
        """Keep bytes; return their hash."""

    def readings(self, record: Record) -> str:
        """Keep the readings of a record; return their hash."""


class Memory(Protocol):
    """A register with its history."""

    def assets_like(
        self, names: Iterable[str], tags: Iterable[str], serials: Iterable[str]
    ) -> list[KnownAsset]:
        """Return the assets that have one of these names, tags or serial numbers."""

    def assets_nearly(self, names: Iterable[str]) -> list[KnownAsset]:
        """Return the assets whose name, tag or serial number is one of these, blanks and capitals apart."""

    def assets(self, ids: Iterable[str]) -> dict[str, KnownAsset]:
        """Return assets by id."""

    def register(self, *, site: str | None = None, asset_class: str | None = None) -> Iterator[KnownAsset]:
        """Yield the assets of the register, all or those of one site or class, in order of their id."""

    def instruments(self, ids: Iterable[str]) -> dict[str, Mapping[str, Any]]:
        """Return instruments as plain values by id."""

    def known_contents(self, contents: Iterable[str]) -> dict[str, str]:
        """Return, for each content id that any revision of any test has, the id of that test."""

    def tests(
        self, *, ids: Iterable[str] = (), visits: Iterable[str] = (), assets: Iterable[str] = ()
    ) -> list[KnownTest]:
        """Return tests by their id, visit or asset, withdrawn ones included, in order of day."""

    def tests_beginning(self, start: str) -> list[KnownTest]:
        """Return the tests whose id begins so; at most a few, to tell which are meant."""

    def blob(self, sha256: str) -> bytes:
        """Return bytes kept under a hash."""

    def purged(self, tests: Iterable[str]) -> dict[str, str]:
        """Return, for each of these tests that was purged, the entry that purged it."""

    def verdicts(self, tests: Iterable[str]) -> dict[str, list[GivenVerdict]]:
        """Return every verdict of tests by the test's id, in order of time."""

    def history(self, asset: str) -> list[PastTest]:
        """Return the current tests of an asset with their figures, in order of day."""

    def remarks(self, kind: str, subject: str) -> list[dict[str, Any]]:
        """Return what was added to a subject: action, person, at [us UTC], fields."""

    def peer_points(
        self, kin: Kin, quantities: Iterable[str], but: str
    ) -> Iterable[tuple[str, Kin, HistoryPoint]]:
        """Return the newest figures of assets of one kind, one asset left out."""

    def figures_before(self, tests: Iterable[KnownTest]) -> list[References]:
        """Return, for each test, figures of earlier ones alike by (factory, first or last; quantity)."""

    def changing(self) -> AbstractContextManager[Change]:
        """Begin a change in the name of the person who works here."""
