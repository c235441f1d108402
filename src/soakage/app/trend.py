"""Trends of one asset: a robust line for each series, and everything it is held against. Pure: today is given."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from soakage.app.history import AssetEvent, HistoryPoint
from soakage.app.peers import Peers, peer_rank
from soakage.app.trend_beside import CODES, fall, sisters_of
from soakage.app.trend_notes import bound_notes, climate_notes, event_notes, shift_notes, suspect_notes
from soakage.app.trend_reach import reach
from soakage.app.trend_result import (
    Humidity,
    Monotone,
    Season,
    Shift,
    Slope,
    Trend,
    TrendLimit,
)
from soakage.app.trend_series import Series, series, without_doubles, years
from soakage.physics.arrays import Bounds, Floats
from soakage.physics.change_point import level_shift
from soakage.physics.season import yearly_season
from soakage.physics.slope import Line, mann_kendall, theil_sen
from soakage.quantities import lookup
from soakage.standards.criterion import sourced
from soakage.standards.library import Library

GUIDANCE = "iec-60034-27-4-2018.introduction"
LOGARITHM, ITSELF = "ln", "none"
# These may be zero or negative, or are no ratio scale: their slope is of the value itself.
_PLAIN_DIMENSIONS = ("fraction", "temperature")
_FEWEST_FOR_RANKS = 4
_FEWEST_FOR_HUMIDITY = 5


@dataclass(frozen=True, slots=True)
class _Course:
    """The values a line is drawn through."""

    points: tuple[HistoryPoint, ...]
    time: Floats
    value: Floats
    bound: Bounds
    line: Line | None
    reason: str

    @property
    def departures(self) -> Floats:
        """Values less the line; NaN for bounds."""
        if self.line is None:
            return np.full(self.time.shape, np.nan)
        course = self.line.level + self.line.slope * (self.time - self.line.time)
        return np.where(self.bound == 0, self.value - course, np.nan)


def trends(
    points: Sequence[HistoryPoint],
    events: Sequence[AssetEvent] = (),
    limits: Mapping[tuple[str, str], Sequence[TrendLimit]] | None = None,
    peers: Peers | None = None,
    *,
    library: Library,
    today: date,
) -> tuple[Trend, ...]:
    """Return the trend of each section and quantity of one asset.

    Parameters
    ----------
    points : sequence of HistoryPoint
        All points of one asset, in any order.
    events : sequence of AssetEvent
        What was done to it between tests.
    limits : mapping of (section, quantity) to sequence of TrendLimit
        The criteria that may be reached.
    peers : Peers or None
        Other assets to compare with.
    library : Library
        The criteria files, for the lines of this tool and the guidance beside each date.
    today : date
        Ages, horizons and dates are told from this day.

    Returns
    -------
    tuple of Trend
        In order of first appearance; where a section is tested in two ways side by side, one for each. A resistance
        as read is left out where all its tests have a corrected one.
    """
    caution = guidance(library)
    return tuple(
        _trend(found, points, events, (limits or {}).get((found.section, found.quantity), ()), peers, library, today,
               caution)
        for found in without_doubles(series(points, events))
    )  # fmt: skip


def guidance(library: Library) -> str:
    """Return what published guidance holds of foretelling a failure from trends."""
    said = library.references[GUIDANCE]
    return (
        "Published guidance holds that trends of insulation resistance and polarization index can not predict time "
        f"to failure. {sourced(f'{said.standard.name}, introduction', said.verified)}"
    )


def transform(quantity: str) -> str:
    """Return ``ln`` where the slope of a quantity is of its natural logarithm, else ``none``."""
    return ITSELF if lookup(quantity).dimension in _PLAIN_DIMENSIONS else LOGARITHM


def _trend(
    found: Series,
    points: Sequence[HistoryPoint],
    events: Sequence[AssetEvent],
    limits: Sequence[TrendLimit],
    peers: Peers | None,
    library: Library,
    today: date,
    caution: str,
) -> Trend:
    lines = library.thresholds
    significance = lines["trends.significance"].value
    whole = _course(found, library)
    latest = found.points[-1]
    shift = _shift(whole, significance)
    course = whole if shift is None else _since(found, shift, library)
    slope = _slope(course)
    season = _season(course, int(lines["trends.season-fewest"].value))
    humidity = _humidity(course)
    suspects = _suspects(course, lines["trends.suspect-scatter"].value, lines["trends.suspect-factor"].value)
    reached, reason = reach(
        course.line, slope, course.reason, limits, library, today, transform(found.quantity)
    )
    comparable = not _unlike_temperatures(found, library)
    return Trend(
        section=found.section,
        quantity=found.quantity,
        condition=found.condition,
        transform=transform(found.quantity),
        points=found.points,
        earlier=found.earlier,
        slope=slope,
        slope_reason=course.reason,
        line_from=course.points[0].day if slope is not None else None,
        mann_kendall=_monotone(whole) if comparable else None,
        change_point=shift,
        fall_from_last=fall(found.points, -2) if comparable else None,
        fall_from_first=fall(found.points, 0) if comparable else None,
        sisters=sisters_of(latest, points),
        peers=peer_rank(latest, peers, library, today) if peers is not None else None,
        season=season,
        humidity=humidity,
        reaches=reached,
        reason=reason,
        suspects=tuple(point.test for point in suspects),
        notes=(
            *bound_notes(whole.bound),
            *event_notes(found, events),
            *shift_notes(shift),
            *climate_notes(season, humidity, significance),
            *suspect_notes(suspects),
        ),
        caution=caution,
    )


def _course(found: Series, library: Library) -> _Course:
    usable = tuple(p for p in found.points if transform(found.quantity) == ITSELF or p.value > 0)
    value = np.array([p.value for p in usable])
    if transform(found.quantity) == LOGARITHM:
        value = np.log(value)
    time = np.array([years(p.at) for p in usable])
    bound = np.array([CODES[p.bound] for p in usable], dtype=np.int8)
    reason = _unlike_temperatures(found, library) or _too_few(bound, time, library)
    line = None if reason else theil_sen(time, value, bound)
    if line is not None and not np.isfinite(line.slope + line.level):
        line, reason = None, "Too many readings are only bounds: the direction of the line stays open."
    return _Course(usable, time, value, bound, line, reason)


def _since(found: Series, shift: Shift, library: Library) -> _Course:
    """Return the readings from a change of level on: no line is drawn across it."""
    later = _course(replace(found, points=tuple(p for p in found.points if p.day >= shift.at)), library)
    if not later.reason:
        return later
    return replace(
        later, reason=f"The level changed with the test of {shift.at.isoformat()}. Since then: {later.reason}"
    )


def _too_few(bound: Bounds, time: Floats, library: Library) -> str:
    fewest = int(library.thresholds["trends.fewest"].value)
    values = int((bound == 0).sum())
    if values < fewest:
        beside = f" and {len(bound) - values} that are only bounds" if len(bound) > values else ""
        return (
            f"Not enough readings: {values}{beside}, at least {fewest} values are needed. With fewer no "
            "distribution-free 95\N{NO-BREAK SPACE}% interval of a slope exists."
        )
    return "" if np.ptp(time) > 0 else "All readings are of one moment."


def _unlike_temperatures(found: Series, library: Library) -> str:
    """Return why resistances without a temperature rule are not compared, or nothing."""
    if found.condition.rule is not None or lookup(found.quantity).dimension != "resistance":
        return ""
    stated = [p.temperature for p in found.points if p.temperature is not None]
    band = library.thresholds["trends.temperature-band"].value
    if len(found.points) < 2:
        return ""
    if len(stated) < len(found.points):
        return (
            "Not referred to one temperature, and the temperature of the winding is not stated in every test."
        )
    if max(stated) - min(stated) > band:
        width = f"{max(stated) - min(stated):.0f}\N{NO-BREAK SPACE}K"
        return (
            f"Not referred to one temperature, and the temperatures of the winding range over {width}; up to "
            f"{band:g}\N{NO-BREAK SPACE}K they are compared."
        )
    return ""


def _slope(course: _Course) -> Slope | None:
    if course.line is None:
        return None
    ends = [float(end) if np.isfinite(end) else None for end in (course.line.lower, course.line.upper)]
    return Slope(float(course.line.slope), ends[0], ends[1])


def _monotone(course: _Course) -> Monotone | None:
    if len(course.time) < _FEWEST_FOR_RANKS:
        return None
    test = mann_kendall(course.time, course.value, course.bound)
    if not np.isfinite(test.p):
        return None
    return Monotone(float(test.score), float(test.tau), float(test.p), bool(test.exact))


def _shift(course: _Course, significance: float) -> Shift | None:
    if course.line is None:
        return None
    shift = level_shift(course.time, course.value, course.bound)
    if not (shift.p <= significance and shift.beats_line and np.isfinite(shift.size)):
        return None
    return Shift(course.points[int(shift.place)].day, float(shift.size), float(shift.p))


def _season(course: _Course, fewest: int) -> Season | None:
    away = course.departures
    if np.isfinite(away).sum() < fewest:
        return None
    found = yearly_season(course.time, away)
    if not np.isfinite(found.p):
        return None
    return Season(float(found.amplitude), int(float(found.peak) * 365.25) % 365 + 1, float(found.p))


def _humidity(course: _Course) -> Humidity | None:
    stated = np.array(
        [math.nan if p.relative_humidity is None else p.relative_humidity for p in course.points]
    )
    away = course.departures
    count = int((np.isfinite(stated) & np.isfinite(away)).sum())
    if count < _FEWEST_FOR_HUMIDITY:
        return None
    test = mann_kendall(stated, away)
    return Humidity(float(test.tau), float(test.p), count) if np.isfinite(test.p) else None


def _suspects(course: _Course, scatters: float, factor: float) -> list[HistoryPoint]:
    """Return points too far from the line for scatter; only of logarithms, where a slip is a factor."""
    if course.line is None or transform(course.points[0].quantity) == ITSELF:
        return []
    far = np.abs(course.departures) > max(scatters * float(course.line.scatter), math.log(factor))
    return [point for point, doubted in zip(course.points, far, strict=True) if doubted]
