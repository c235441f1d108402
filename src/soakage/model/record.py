"""One test of one connection: everything stated and read, as one frozen value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from operator import attrgetter
from types import MappingProxyType

from soakage.model.asset import Asset
from soakage.model.keys import KEYS
from soakage.model.readings import Readings
from soakage.model.test import Conditions, Instrument, Paper, Test
from soakage.model.verdict import Finding

_PLACES = tuple((key.name, attrgetter(f"{key.part}.{key.field}")) for key in KEYS.values())


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a record came from.

    Parameters
    ----------
    file : str
        Name of the file as given.
    sha256 : str
        Hash of the file's bytes.
    row : int or None
        Line of a schedule the record stands on.
    """

    file: str = ""
    sha256: str = ""
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Record:
    """One test of one connection.

    `extra` keeps keys the reader does not know; `findings` are those made while reading (a voltage
    column that was missing, a zone not stated, a trade word and how it was read).
    """

    asset: Asset
    test: Test
    readings: Readings
    conditions: Conditions = field(default_factory=Conditions)
    instrument: Instrument = field(default_factory=Instrument)
    paper: Paper = field(default_factory=Paper)
    origin: Origin = field(default_factory=Origin)
    extra: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    findings: tuple[Finding, ...] = ()

    def stated(self) -> dict[str, object]:
        """Return every stated key of the record file with its value in SI, in the table's order."""
        values: dict[str, object] = {}
        for name, place in _PLACES:
            value = place(self)
            if value is not None and value != ():
                values[name] = value
        values.pop("insulation_temperature", None)
        return values

    @property
    def day(self) -> date | None:
        """Calendar day the test started, or None where not stated."""
        started = self.test.started
        return started.date() if isinstance(started, datetime) else started

    @property
    def title(self) -> str:
        """Asset and section, or circuit and conductors, as a person would say them."""
        asset = self.asset
        parts = [asset.title, asset.section, asset.circuit, asset.between]
        return ", ".join(dict.fromkeys(part for part in parts if part))
