"""What is hidden in the invented history: how each asset ages, and what befell it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from math import cos, log, tau

YEAR = 365.25


@dataclass(frozen=True, slots=True)
class Section:
    """One section with its own line: resistance at the base temperature on the first day [ohm], slope [1/year]."""

    name: str
    level: float
    slope: float


@dataclass(frozen=True, slots=True)
class Event:
    """Something that changed the resistance from a day on.

    Parameters
    ----------
    kind : str
        ``rewind``, ``refill``, ``repair`` (a new series starts) or ``change`` (a change point in a series).
    day : date
        First day on which it holds.
    step : float
        What it adds to ln R.
    slope : float or None
        Slope of ln R from then on [1/year]; None where it stays.
    """

    kind: str
    day: date
    step: float
    slope: float | None = None

    @property
    def starts_series(self) -> bool:
        """Whether readings from before it tell nothing of those after it."""
        return self.kind != "change"


@dataclass(frozen=True, slots=True)
class Season:
    """A yearly swing of ln R with the humidity of the air: half its height, and the day of the year of its top."""

    amplitude: float
    driest_day: int


@dataclass(frozen=True, slots=True)
class EditionChange:
    """From `day` on the plant judged by another edition; ids of the documents and names of the rule sets."""

    day: date
    before: str
    after: str
    profile_before: str
    profile_after: str


@dataclass(frozen=True, slots=True)
class Slip:
    """A value entered in the wrong unit: where, what was entered and what was read [ohm]."""

    day: date
    section: str
    entered: float
    meant: float


@dataclass(frozen=True, slots=True)
class AssetTruth:
    """The truth of one asset.

    Parameters
    ----------
    site, asset, tag, serial, asset_class : str
        As its records state them.
    sections : tuple of Section
        Phases, windings, cores, bars or circuits.
    origin : date
        The day their levels stand for.
    quantity : str
        Id of the quantity whose logarithm runs on the line.
    rule : str or None
        Temperature rule the readings were made with; None where there is no correction.
    base_degC : float or None
        Its base.
    noise : float
        Standard deviation of ln R from visit to visit.
    events : tuple of Event
        In order of time.
    season : Season or None
        Of the one seasonal asset.
    edition_change : EditionChange or None
        Of the one asset judged by two editions.
    slip : Slip or None
        The one mis-entered value.
    top : float or None
        Resistance beyond which its instrument shows only a bound [ohm], where every reading is one.
    decommissioned : date or None
        Day it went out of service; no test is made from then on.
    kept_by_hand_until : date or None
        Before this day only date, resistance and temperature were kept.
    what : str
        What the asset is there to show.
    """

    site: str
    asset: str
    tag: str
    serial: str
    asset_class: str
    sections: tuple[Section, ...]
    origin: date
    quantity: str
    rule: str | None
    base_degC: float | None  # noqa: N815 - a temperature in Celsius is named so
    noise: float
    events: tuple[Event, ...] = ()
    season: Season | None = None
    edition_change: EditionChange | None = None
    slip: Slip | None = None
    top: float | None = None
    decommissioned: date | None = None
    kept_by_hand_until: date | None = None
    what: str = ""

    def section(self, name: str) -> Section:
        """Return the section of this name."""
        return next(section for section in self.sections if section.name == name)

    def slope(self, section: str, day: date) -> float:
        """Return the slope of ln R [1/year] of a section on a day, its season apart."""
        found = self.section(section).slope
        for event in self.events:
            if event.day <= day and event.slope is not None:
                found = event.slope
        return found

    def log_resistance(self, section: str, day: date) -> float:
        """Return ln(R/ohm) of a section at its base temperature on a day, without noise."""
        part = self.section(section)
        value, slope, since = log(part.level), part.slope, self.origin
        for event in self.events:
            if event.day > day:
                break
            value += slope * (event.day - since).days / YEAR + event.step
            since = event.day
            slope = slope if event.slope is None else event.slope
        value += slope * (day - since).days / YEAR
        if self.season is not None:
            value += self.season.amplitude * cos(
                tau * (day.timetuple().tm_yday - self.season.driest_day) / YEAR
            )
        return value

    def series(self, day: date) -> date:
        """Return the first day of the series a day belongs to: that of the last rewind, refill or repair."""
        starts = [event.day for event in self.events if event.starts_series and event.day <= day]
        return max(starts, default=self.origin)
