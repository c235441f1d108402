"""Plays the invented history: visits, weather, and what the instrument showed; the same each time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta, timezone
from functools import cache
from math import cos, exp, log, tau
from zlib import crc32

import numpy as np

from soakage.demo.history_fleet import CREWS, Member
from soakage.demo.history_kinds import SPOT, Part
from soakage.demo.history_truth import YEAR, AssetTruth, EditionChange, Event, Section, Slip
from soakage.demo.scenario import NOTE
from soakage.model.asset import Asset
from soakage.model.readings import Readings
from soakage.model.record import Record
from soakage.model.test import Accuracy, Conditions, Instrument, Paper, Test
from soakage.physics.absorption import absorption_ratio_model
from soakage.physics.arrays import Floats, floats
from soakage.standards.library import library
from soakage.standards.temperature import factor
from soakage.units import kelvin

SPAN = 10  # years: levels stand for the day so long before the end
NOISE = 0.05  # of ln R from visit to visit: weather, connection, the state of the surface
SCATTER = 0.003  # of one reading
SLIP = 1000.0
# At the start of a series the absorption alone would show this many times the resistance at 60 s; of a later fall
# it takes the half, leakage the other.
_ABSORPTION = 1.25
_LEAST_LEAKAGE, _MOST_LEAKAGE = 0.03, 0.98
_AMPERES_READ_FROM = 5.0  # years before the end: from then on the instruments show a current
_COLDEST, _WARMEST = 11.0, 38.0  # degC: inside the rules of temperature
_DAMP = 0.75
_DAY_SPREAD = 10
_EARLIER = 3  # years: longer than any time between visits
_BETWEEN_SECTIONS = timedelta(minutes=40)


@dataclass(frozen=True, slots=True)
class _Visit:
    day: date
    ambient: float
    insulation: float
    humidity: float
    noise: tuple[float, ...]
    seed: int


def origin(until: date) -> date:
    """Return the day the levels of the fleet stand for."""
    return before(until, SPAN)


def before(until: date, years: float) -> date:
    """Return the day so many years before another."""
    return until - timedelta(days=round(years * YEAR))


def truth_of(member: Member, until: date) -> AssetTruth:
    """Return the truth of one asset, its mis-entered value apart.

    Parameters
    ----------
    member : Member
        An asset of the fleet.
    until : date
        End of the history.

    Returns
    -------
    AssetTruth
    """
    kind = member.kind
    sections = tuple(
        Section(part.name, member.level * part.share, member.own_slopes.get(part.name, member.slope))
        for part in kind.parts
    )
    changed = member.edition_change
    return AssetTruth(
        member.site, member.name, member.tag, _serial(member), kind.plate["asset_class"], sections, origin(until),
        "insulation_resistance_60s_corrected" if kind.rule else "insulation_resistance",
        kind.rule, kind.base if kind.rule else None, NOISE,
        events=tuple(Event(h.kind, before(until, h.before_end), h.step, h.slope) for h in member.happenings),
        season=member.season,
        edition_change=None if changed is None else EditionChange(
            before(until, changed), "ieee-43-2000", "ieee-43-2013", "edition-2000", "default"
        ),
        top=member.top,
        decommissioned=None if member.decommissioned is None else before(until, member.decommissioned),
        kept_by_hand_until=None if member.kept_by_hand is None else before(until, member.kept_by_hand),
        what=member.what,
    )  # fmt: skip


def played(member: Member, years: int, until: date) -> tuple[list[Record], Slip | None]:
    """Play the history of one asset.

    Parameters
    ----------
    member : Member
        An asset of the fleet.
    years : int
        How far back it goes.
    until : date
        Its end.

    Returns
    -------
    records : list of Record
        By time.
    slip : Slip or None
        The mis-entered value, where this asset has one inside these years.
    """
    truth = truth_of(member, until)
    first = before(until, years)
    # Visits from before the first day too: what happened since the one before belongs to a record.
    visits = list(_visits(member, truth, before(first, _EARLIER), until))
    records: list[Record] = []
    slip = None
    for back, visit in reversed(list(enumerate(visits))):
        if visit.day < first:
            continue
        previous = visits[back + 1].day if back + 1 < len(visits) else None
        for place, part in enumerate(member.kind.parts):
            record = _record(member, truth, part, place, visit, previous, until)
            if member.slip == back and place == 0:
                meant = float(record.readings.resistance[0])
                entered = _figures(np.array([meant / SLIP]))
                slip = Slip(visit.day, part.name, float(entered[0]), meant)
                record = replace(record, readings=replace(record.readings, resistance=entered))
            records.append(record)
    return records, slip


def _serial(member: Member) -> str:
    return f"invented-{CREWS[member.site][0]}-{member.tag}"


def _visits(member: Member, truth: AssetTruth, first: date, until: date) -> Iterator[_Visit]:
    """Give the visits from the last one back, so that a shorter history is the end of a longer one."""
    noise = np.random.default_rng([SPAN, crc32(_serial(member).encode())])
    back = 0
    while True:
        planned = until - timedelta(days=member.last + round(back * member.every * YEAR))
        spread = int(noise.integers(-_DAY_SPREAD, _DAY_SPREAD + 1))
        draws = noise.standard_normal(3)
        scatter = NOISE * noise.standard_normal(len(member.kind.parts))
        seed = int(noise.integers(2**32))
        day = planned + timedelta(days=spread)
        day -= timedelta(days=max(day.weekday() - 4, 0))  # nobody tests on a Sunday
        if day < first:
            return
        back += 1
        if truth.decommissioned is not None and day >= truth.decommissioned:
            continue
        year = tau * day.timetuple().tm_yday / YEAR
        ambient = 17.0 + 6.0 * cos(year - tau * 200 / YEAR) + 1.5 * draws[0]
        swing = 0.2 if member.season else 0.06
        humidity = 0.56 - swing * cos(year - tau * 200 / YEAR) + 0.03 * draws[1]
        insulation = min(max(ambient + member.kind.warmth + draws[2], _COLDEST), _WARMEST)
        yield _Visit(
            day, _half(ambient), _half(insulation), round(float(humidity), 2), tuple(scatter.tolist()), seed
        )


def _half(temperature: float) -> float:
    return round(2 * temperature) / 2


@cache
def _factor(rule: str, temperature_degC: float, base_degC: float) -> float:  # noqa: N803
    found = factor(library().temperature_rules[rule], temperature_degC, base_degC).value
    if found is None:
        raise AssertionError(f"{rule} says nothing at {temperature_degC:g} degC")
    return found


def _figures(values: Floats) -> Floats:
    """Return values as an instrument shows them: four figures."""
    return floats([float(f"{value:.4g}") for value in values.tolist()])


def _record(
    member: Member,
    truth: AssetTruth,
    part: Part,
    place: int,
    visit: _Visit,
    previous: date | None,
    until: date,
) -> Record:
    by_hand = truth.kept_by_hand_until is not None and visit.day < truth.kept_by_hand_until
    fresh = [
        event
        for event in truth.events
        if event.starts_series and event.day <= visit.day and (previous is None or event.day > previous)
    ]
    label, testers, zone = CREWS[member.site]
    late = visit.day >= before(until, SPAN / 2)
    plate = {**member.kind.plate, **member.plate, "year": _year(member, truth, visit.day)}
    section = None if "circuit" in part.plate else part.name
    asset = Asset(
        site=member.site, name=member.name, tag=member.tag, serial=truth.serial, section=section,
        **{**plate, **part.plate},
    )  # fmt: skip
    notes = " ".join([*_remarks(truth, visit.day, fresh), NOTE])
    readings = _readings(member, truth, part, place, visit, until, by_hand=by_hand)
    extra = {"invented": "yes"}
    if by_hand:
        return Record(
            asset, Test("insulation-resistance", started=visit.day), readings,
            Conditions(winding_temperature=kelvin(visit.insulation)), paper=Paper(notes=notes), extra=extra,
        )  # fmt: skip
    clock = time(8, 10, tzinfo=timezone(timedelta(hours=zone)))
    started = datetime.combine(visit.day, clock) + place * _BETWEEN_SECTIONS
    return Record(
        asset,
        Test(member.kind.method, part.voltage, started, part.tested, part.earthed),
        readings,
        Conditions(
            winding_temperature=kelvin(visit.insulation) if member.kind.rule else None,
            temperature_method=member.kind.thermometer if member.kind.rule else None,
            ambient_temperature=kelvin(visit.ambient),
            relative_humidity=visit.humidity,
            surface="dry" if visit.humidity < _DAMP else "damp",
        ),
        Instrument(
            "demo instrument (invented)", f"invented-{label}-{2 if late else 1}", _calibrated(visit.day),
            accuracy=(Accuracy(member.top, 0.05, 0.5e-9, None, 0.5),),
        ),
        Paper(
            visit=f"visit {visit.day:%Y-%m}", tested_by=testers[late], notes=notes,
            purpose="after-repair" if fresh else "maintenance",
        ),
        extra=extra,
    )  # fmt: skip


def _year(member: Member, truth: AssetTruth, day: date) -> int:
    """Return the year of the insulation: a rewind resets it."""
    rewound = [event.day.year for event in truth.events if event.kind == "rewind" and event.day <= day]
    return max(rewound, default=member.year)


_SAID = {"rewind": "Rewound", "refill": "Oil treated and refilled", "repair": "Joint repaired"}


def _remarks(truth: AssetTruth, day: date, fresh: list[Event]) -> Iterator[str]:
    yield from (f"{_SAID[event.kind]} on {event.day.isoformat()}." for event in fresh)
    if truth.edition_change is not None:
        changed = truth.edition_change
        yield f"The plant judged this by {changed.before if day < changed.day else changed.after}."
    if truth.decommissioned is not None:
        yield f"To go out of service on {truth.decommissioned.isoformat()}."


def _calibrated(day: date) -> date:
    """Return the day the yearly calibration runs out, in January."""
    return date(day.year + 1, 1, 31) if day > date(day.year, 1, 31) else date(day.year, 1, 31)


def _readings(
    member: Member, truth: AssetTruth, part: Part, place: int, visit: _Visit, until: date, *, by_hand: bool
) -> Readings:
    kind = member.kind
    noise = np.random.default_rng([visit.seed, place])
    clean = truth.log_resistance(part.name, visit.day)
    start = (
        truth.log_resistance(part.name, truth.series(visit.day))
        if truth.season is None
        else log(truth.section(part.name).level)
    )
    share = min(max(1.0 - exp((clean - start) / 2) / _ABSORPTION, _LEAST_LEAKAGE), _MOST_LEAKAGE)
    at_minute = exp(clean + visit.noise[place])
    if kind.rule:
        at_minute /= _factor(kind.rule, visit.insulation, kind.base)
    marks = floats(SPOT if by_hand else kind.marks)
    resistance = at_minute * absorption_ratio_model(kind.exponent, share, marks, 60.0)
    resistance = _figures(resistance * (1 + SCATTER * noise.standard_normal(len(marks))))
    bound = np.zeros(len(marks), np.int8)
    if by_hand:
        nothing = np.full(1, np.nan)
        return Readings(nothing, nothing, nothing, resistance, bound, resistance_given=True)
    voltage = np.round(part.voltage * (1 + 0.001 * noise.random(len(marks))))
    if kind.plate["asset_class"] == "low-voltage-installation":
        marks = np.full(1, np.nan)
    if member.top is not None:
        bound[resistance > member.top] = 1
        resistance = np.minimum(resistance, member.top)
    elif len(marks) > 1 and visit.day >= before(until, _AMPERES_READ_FROM):
        current = _figures(voltage / resistance)
        return Readings(marks, voltage, current, voltage / current, bound)
    return Readings(
        marks, voltage, voltage / resistance, resistance, bound, current_derived=True, resistance_given=True
    )
