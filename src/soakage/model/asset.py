"""The asset under test: nameplate, insulation, sections, terminals."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from soakage.model.keys import insulation_family


@dataclass(frozen=True, slots=True)
class Asset:
    """Identity and nameplate of the asset; every field is None or empty where not stated.

    Field names are the keys of the record file (:mod:`soakage.model.keys`), SI inside.
    `insulation` keeps the engineer's word; `insulation_family` is how it was read.
    """

    site: str | None = None
    name: str | None = None
    tag: str | None = None
    serial: str | None = None
    section: str | None = None
    asset_class: str | None = None
    rated_voltage: float | None = None
    rated_power: float | None = None
    insulation: str | None = None
    year: int | None = None
    terminals: tuple[str, ...] = ()
    winding: str | None = None
    machine_current: str | None = None
    thermal_class: str | None = None
    neutral: str | None = None
    cooling: str | None = None
    filling: str | None = None
    connection: str | None = None
    winding_voltages: Mapping[str, float] | None = None
    winding_powers: Mapping[str, float] | None = None
    length: float | None = None
    conductor_diameter: float | None = None
    insulation_diameter: float | None = None
    cores: tuple[str, ...] = ()
    sheath_thickness: float | None = None
    in_service_since: datetime | date | None = None
    nominal_voltage: float | None = None
    circuit: str | None = None
    between: str | None = None

    @property
    def insulation_family(self) -> str | None:
        """Thermosetting or thermoplastic, or None where the word names neither or is missing."""
        return insulation_family(self.insulation) if self.insulation else None

    @property
    def title(self) -> str:
        """The name a person would use: name, else tag, serial, circuit, else 'unnamed asset'."""
        return self.name or self.tag or self.serial or self.circuit or "unnamed asset"
