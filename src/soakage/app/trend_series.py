"""Sorts points into series that may be compared, and says why each earlier series ended."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time

from soakage.app.history import NEW_INSULATION, AssetEvent, HistoryPoint
from soakage.app.trend_result import Condition, EarlierSeries
from soakage.units import celsius, format_quantity

AFTER_REPAIR = "after-repair"
# What belongs to the air, to the visit or to the test, not to one section's insulation.
NOT_OF_A_SECTION = ("dew_point", "stored_energy", "earthing_time", "phase_spread", "residual_current_share")
_DAYS_A_YEAR = 365.25
_START = datetime(2000, 1, 1)  # noqa: DTZ001 - years are counted in local days, as the records state them
_NOON = time(12)


@dataclass(frozen=True, slots=True)
class Series:
    """One section, quantity and way of testing: the current points by time, and what came before."""

    section: str
    quantity: str
    condition: Condition
    points: tuple[HistoryPoint, ...]
    earlier: tuple[EarlierSeries, ...]


def years(at: date | datetime) -> float:
    """Return a moment in years of 365.25 days since the start of 2000; a bare day is its noon."""
    moment = at.replace(tzinfo=None) if isinstance(at, datetime) else datetime.combine(at, _NOON)
    return (moment - _START).total_seconds() / 86400.0 / _DAYS_A_YEAR


def day_of(year: float) -> date | None:
    """Return the day of a moment from :func:`years`, or None where no calendar reaches."""
    ordinal = _START.toordinal() + year * _DAYS_A_YEAR
    return date.fromordinal(int(ordinal)) if 1 <= ordinal <= date.max.toordinal() else None


def series(points: Sequence[HistoryPoint], events: Sequence[AssetEvent] = ()) -> tuple[Series, ...]:
    """Return the series of one asset, each with those before it.

    Parameters
    ----------
    points : sequence of HistoryPoint
        Of one asset, in any order.
    events : sequence of AssetEvent
        What was done to it.

    Returns
    -------
    tuple of Series
        By section and quantity in order of first appearance. Two ways of testing used side by side make two series;
        one that replaced the other makes the other its earlier series.
    """
    groups: dict[tuple[str, str], list[HistoryPoint]] = {}
    for point in sorted(points, key=lambda p: (years(p.at), p.test)):
        if point.quantity not in NOT_OF_A_SECTION:
            groups.setdefault((point.section, point.quantity), []).append(point)
    return tuple(
        _joined(section, quantity, chain, events)
        for (section, quantity), found in groups.items()
        for chain in _chains(found)
    )


def without_doubles(found: Sequence[Series]) -> tuple[Series, ...]:
    """Return the series without those of resistances as read whose every test has a corrected one too."""
    corrected = {
        (one.section, one.quantity, point.test)
        for one in found
        for point in (*one.points, *(p for part in one.earlier for p in part.points))
    }
    return tuple(
        one
        for one in found
        if not all(
            (one.section, f"{one.quantity}_corrected", point.test) in corrected for point in one.points
        )
    )


def condition(point: HistoryPoint) -> Condition:
    """Return what has to be alike before a point is compared with another."""
    sets = (point.tested, point.earthed, point.guarded, point.attached)
    tested, earthed, guarded, attached = (tuple(sorted(set(names), key=str.casefold)) for names in sets)
    return Condition(
        point.method, point.test_voltage, point.rule, point.base_temperature, tested, earthed, guarded, attached,
        point.neutral,
    )  # fmt: skip


def differences(before: Condition, after: Condition) -> tuple[str, ...]:
    """Return in words what two ways of testing do not share."""
    said = []
    for name, one, other in zip(_NAMES, _words(before), _words(after), strict=True):
        if one.casefold() != other.casefold():
            said.append(f"{name}: {one} before, {other} after")
    return tuple(said)


_NAMES = (
    "method", "test voltage", "temperature rule", "base temperature", "tested", "earthed", "guarded",
    "left connected", "neutral",
)  # fmt: skip


def _words(kind: Condition) -> tuple[str, ...]:
    volts = (
        "not stated"
        if kind.test_voltage is None
        else format_quantity(kind.test_voltage, "voltage", trim=True)
    )
    base = kind.base_temperature
    warm = "none" if base is None else f"{celsius(base):g} °C"
    sets = (kind.tested, kind.earthed, kind.guarded, kind.attached)
    return (
        kind.method or "not stated", volts, kind.rule or "none", warm,
        *(", ".join(names) or "none" for names in sets), kind.neutral or "not stated",
    )  # fmt: skip


def _chains(points: Sequence[HistoryPoint]) -> list[list[list[HistoryPoint]]]:
    """Return chains of lines; a line follows another where it starts after that one's last day."""
    lines: dict[tuple[str, ...], list[HistoryPoint]] = {}
    for point in points:
        # Case apart: two hands write one terminal in two ways.
        lines.setdefault(tuple(word.casefold() for word in _words(condition(point))), []).append(point)
    chains: list[list[list[HistoryPoint]]] = []
    for line in lines.values():
        kind = condition(line[0])
        ended = [chain for chain in chains if chain[-1][-1].day < line[0].day]
        if ended:
            nearest = min(ended, key=lambda chain: len(differences(condition(chain[-1][-1]), kind)))
            nearest.append(line)
        else:
            chains.append([line])
    return chains


def _joined(
    section: str, quantity: str, chain: Sequence[Sequence[HistoryPoint]], events: Sequence[AssetEvent]
) -> Series:
    parts: list[EarlierSeries] = []
    for line in chain:
        if parts:
            last = parts[-1].points[-1]
            changed = "; ".join(differences(condition(last), condition(line[0])))
            renewed = _renewed(last, line[0], last, events)
            parts[-1] = replace(parts[-1], ended_by="; ".join(filter(None, (renewed, changed))))
        parts += _parts(line, events)
    return Series(section, quantity, condition(parts[-1].points[-1]), parts[-1].points, tuple(parts[:-1]))


def _parts(line: Sequence[HistoryPoint], events: Sequence[AssetEvent]) -> Iterator[EarlierSeries]:
    """Yield a line cut wherever the insulation became another one."""
    current = [line[0]]
    known = line[0]
    for point in line[1:]:
        reason = _renewed(current[-1], point, known, events)
        if reason:
            yield EarlierSeries(tuple(current), reason)
            current, known = [], point
        current.append(point)
        known = replace(known, year=point.year or known.year, filling=point.filling or known.filling)
    yield EarlierSeries(tuple(current), "")


def _renewed(
    before: HistoryPoint, after: HistoryPoint, known: HistoryPoint, events: Sequence[AssetEvent]
) -> str:
    """Return why the insulation of a point is another one than before, or nothing."""
    for event in events:
        concerns = not event.section or event.section == after.section
        if concerns and event.kind in NEW_INSULATION and before.day < event.at <= after.day:
            return f"{event.kind} on {event.at.isoformat()}" + (f": {event.text}" if event.text else "")
    if after.year and known.year and after.year != known.year:
        return f"rewind: insulation of {after.year}, before of {known.year}"
    if after.filling and known.filling and after.filling.casefold() != known.filling.casefold():
        return f"refill: {known.filling} before, {after.filling} after"
    repaired = after.purpose == AFTER_REPAIR
    if repaired and not (before.purpose == AFTER_REPAIR and before.day == after.day):
        return f"repair: the test of {after.day.isoformat()} was made after one"
    return ""
