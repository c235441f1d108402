"""What a reader of a trend has to know beside its figures, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from soakage.app.history import NEW_INSULATION, AssetEvent, HistoryPoint
from soakage.app.trend_result import Humidity, Season, Shift
from soakage.app.trend_series import Series
from soakage.physics.arrays import Bounds
from soakage.quantities import lookup
from soakage.units import format_quantity


def bound_notes(bound: Bounds) -> list[str]:
    """Return what part bounds take, where there are any."""
    bounds = int((bound != 0).sum())
    if not bounds:
        return []
    said = (
        f"{bounds} of {len(bound)} readings are bounds: each takes part only where it decides whether a reading lies "
        "above or below another, never as a number."
    )
    return [said]


def event_notes(found: Series, events: Sequence[AssetEvent]) -> list[str]:
    """Return events inside a series that do not end it."""
    first, last = found.points[0].day, found.points[-1].day
    return [
        f"{event.kind} on {event.at.isoformat()}{': ' if event.text else ''}{event.text}; the series goes on, its "
        "level may have changed by it."
        for event in events
        if event.kind not in NEW_INSULATION
        and first < event.at <= last
        and (not event.section or event.section == found.section)
    ]


def shift_notes(shift: Shift | None) -> list[str]:
    """Return what a change of level means."""
    if shift is None:
        return []
    said = (
        f"The level changed with the test of {shift.at.isoformat()}; two levels lie nearer to the readings than one "
        "line. The slope is of the tests since then. Look for what was done."
    )
    return [said]


def climate_notes(season: Season | None, humidity: Humidity | None, significance: float) -> list[str]:
    """Return what season and humidity say, where they say anything."""
    notes = []
    if season is not None and season.p <= significance:
        notes.append(
            "The departures from the line follow the season; nothing is corrected for it. Compare tests of one season."
        )
    if humidity is not None and humidity.p <= significance:
        way = "lower" if humidity.tau < 0 else "higher"
        notes.append(
            f"Values are {way} in humid air; nothing is corrected for it. Compare tests of like humidity."
        )
    return notes


def suspect_notes(suspects: Sequence[HistoryPoint]) -> list[str]:
    """Return which values to look up again."""
    return [
        f"The {format_quantity(p.value, lookup(p.quantity).dimension)} of {p.day.isoformat()} lies too far from the "
        "line for scatter: look for a slip of unit or digit in the record. It stays in the series."
        for p in suspects
    ]
