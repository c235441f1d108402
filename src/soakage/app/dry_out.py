"""How far a drying has come, from the records of one asset made for that purpose and given together."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta

from soakage.app.dry_out_cautions import HOUR, cautions
from soakage.app.result import DryOut, DryOutPoint, Estimate, Evaluated
from soakage.app.visits import asset_key, section_name
from soakage.model.record import Record
from soakage.model.verdict import QuantityValue, Status
from soakage.physics.dry_out import (
    FALLING,
    FALLING_AGAIN,
    FEWEST_FOR_FIT,
    STEADY,
    TOO_FEW,
    Approach,
    Course,
    drying_course,
    exponential_approach,
)
from soakage.standards.library import Library
from soakage.units import format_quantity

PURPOSE = "drying"
_RAW = ("insulation_resistance_60s", "insulation_resistance")
_INDEX = "polarization_index"
_MEANS = {
    TOO_FEW: "too few readings to say how far it has come",
    FALLING: "the resistance is still falling",
    "at its minimum": "the resistance is at the bottom of its curve; steady there is not dried",
    "rising": "the resistance is rising",
    "levelling off": "the resistance is levelling off",
    STEADY: "the resistance is steady",
    FALLING_AGAIN: "the resistance falls again after its rise: look for moisture coming in, or a wrong temperature",
}


def dry_outs(evaluated: Sequence[Evaluated], library: Library) -> tuple[DryOut, ...]:
    """Return one dry-out for each winding of which records made for drying were given.

    Parameters
    ----------
    evaluated : sequence of Evaluated
        All records.
    library : Library
        The criteria files, for the figures of the stop rule.

    Returns
    -------
    tuple of DryOut
        A record that stands alone, or without anything that names its asset, makes none.
    """
    series: dict[tuple[tuple[str, ...], str], list[int]] = {}
    for place, item in enumerate(evaluated):
        if item.record.paper.purpose == PURPOSE and asset_key(item.record):
            series.setdefault((asset_key(item.record), section_name(item.record)), []).append(place)
    sections = Counter(key for key, _ in series)
    return tuple(
        _dry_out(evaluated, places, library, section if sections[key] > 1 else "")
        for (key, section), places in series.items()
        if len(places) > 1
    )


def _dry_out(evaluated: Sequence[Evaluated], places: Sequence[int], library: Library, section: str) -> DryOut:
    first = evaluated[places[0]].record
    rule, base, points, left_out = _points(evaluated, places)
    small = first.asset.rated_power is not None and (
        first.asset.rated_power <= library.thresholds["dry-out.small-power"].value
    )
    hold = library.thresholds[f"dry-out.steady-{'small' if small else 'large'}"].value
    tolerance = library.thresholds["dry-out.steady-change"].value
    time, resistance = [p.elapsed for p in points], [p.resistance for p in points]
    course = drying_course(time, resistance, hold, tolerance)
    fit = exponential_approach(time, resistance, hold, tolerance)
    known = math.isfinite(fit.time_constant) and course.stage != FALLING_AGAIN
    index_met, index_said = _index(evaluated[points[-1].record]) if points else (None, "no reading is usable")
    stop = course.stage == STEADY and index_met is True
    title = ", ".join(part for part in (first.asset.title, section) if part)
    reason = "" if known else _why_none(course, points)
    said = (
        f"{title}: {_stage_text(course, points)}. {_approach_text(fit, points, hold) if known else reason}"
        f"{_stop_text(course, hold, index_said, stop=stop)}"
    )
    return DryOut(
        asset=title,
        points=tuple(points),
        rule=rule,
        base_temperature=base,
        stage=course.stage,
        minimum=course.minimum if course.fell and course.stage not in (FALLING, TOO_FEW) else None,
        time_constant=_estimate(fit.time_constant, fit.time_constant_low, fit.time_constant_high)
        if known
        else None,
        levels_at=_estimate(fit.levels_at, fit.earliest, fit.latest) if known else None,
        level=fit.level if known else None,
        reason=reason,
        steady_for=course.steady_for,
        steady_needed=hold,
        index_met=index_met,
        stop=stop,
        sentence=said,
        cautions=(*left_out, *cautions(points, library, small=small)),
    )


def _points(
    evaluated: Sequence[Evaluated], places: Sequence[int]
) -> tuple[str, float | None, list[DryOutPoint], list[str]]:
    """Return the temperature rule, its base, the usable readings by time, and what was left out."""
    read = [(place, _raw(evaluated[place]), _corrected(evaluated[place])) for place in places]
    rules = Counter((c.rule, c.base_temperature) for _, _, c in read if c is not None)
    rule, base = rules.most_common(1)[0][0] if rules else (None, None)
    alike = len({evaluated[place].record.conditions.winding_temperature for place in places}) == 1
    points, left_out = [], []
    for place, raw, referred in read:
        record = evaluated[place].record
        used = referred if rules else raw if alike else None
        at = _moment(record)
        if at is None:
            left_out.append(f"{_named(record)}: left out, 'started' gives no time of day.")
        elif raw is None or used is None or (rules and (used.rule, used.base_temperature) != (rule, base)):
            left_out.append(f"{_named(record)}: left out, no resistance at the temperature of the others.")
        elif used.bound is not None:
            left_out.append(f"{_named(record)}: left out, its resistance is only a bound.")
        else:
            index = evaluated[place].quantities.get(_INDEX)
            temperature = record.conditions.winding_temperature
            value = index.value if index is not None and index.bound is None else None
            points.append(DryOutPoint(place, at, 0.0, used.value, raw.value, temperature, value))
    return rule or "", base, list(_in_time(points)), left_out


def _in_time(points: list[DryOutPoint]) -> Iterator[DryOutPoint]:
    """Yield the points by time, counted from the first; of two at one moment the one given last."""
    latest = {point.at: point for point in points}
    start = min(latest, default=None)
    for at in sorted(latest):
        p = latest[at]
        elapsed = (at - start).total_seconds() if start is not None else 0.0
        yield DryOutPoint(p.record, at, elapsed, p.resistance, p.as_read, p.temperature, p.index)


def _moment(record: Record) -> datetime | None:
    started = record.test.started
    if not isinstance(started, datetime):
        return None
    # A time without a zone is local; within one drying it is compared with its like only.
    return started if started.tzinfo is not None else started.replace(tzinfo=UTC)


def _raw(item: Evaluated) -> QuantityValue | None:
    return next((item.quantities[name] for name in _RAW if name in item.quantities), None)


def _corrected(item: Evaluated) -> QuantityValue | None:
    names = (f"{name}_corrected" for name in _RAW)
    return next((item.quantities[name] for name in names if name in item.quantities), None)


def _named(record: Record) -> str:
    started = record.test.started
    return record.origin.file or (started.isoformat() if started else record.title)


def _index(item: Evaluated) -> tuple[bool | None, str]:
    """Return whether the last record's index meets its minimum, and that in words."""
    judged = [j for j in item.judgements if j.quantity == _INDEX and j.limit is not None and j.limit.lower]
    if _INDEX not in item.quantities:
        return None, "the last reading has no polarization index"
    value = format_quantity(item.quantities[_INDEX].value, "ratio")
    deciding = next((j for j in judged if j.status.rung >= 0), None)
    if deciding is None:
        return None, f"the index of {value} is not judged"
    met = deciding.status is Status.SOUND
    limit = deciding.limit.text if deciding.limit else ""
    return met, f"the index of {value} {'meets' if met else 'does not meet'} its minimum ({limit})"


def _estimate(value: float, lower: float, upper: float) -> Estimate:
    return Estimate(value, lower if math.isfinite(lower) else None, upper if math.isfinite(upper) else None)


def _why_none(course: Course, points: Sequence[DryOutPoint]) -> str:
    if course.stage == FALLING_AGAIN:
        return "No level is estimated while it falls."
    return (
        f"When it levels off can not be estimated yet: it takes {FEWEST_FOR_FIT} readings from the steepest rise on "
        f"({len(points)} readings so far)."
    )


def _hours(seconds: float) -> str:
    return f"{seconds / HOUR:.1f}".removesuffix(".0") + "\N{NO-BREAK SPACE}h"


def _clock(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%M}"


def _stage_text(course: Course, points: Sequence[DryOutPoint]) -> str:
    text = _MEANS[course.stage]
    if course.fell and course.rose:
        lowest = points[course.minimum]
        text += (
            f", after a minimum of {format_quantity(lowest.resistance, 'resistance')} at {_clock(lowest.at)}"
        )
    return text


def _approach_text(fit: Approach, points: Sequence[DryOutPoint], hold: float) -> str:
    start = points[0].at
    ends = [fit.time_constant_low, fit.time_constant_high]
    between = " to ".join(_hours(end) if math.isfinite(end) else "not known yet" for end in ends)
    moments = [
        _clock(start + timedelta(seconds=end)) if math.isfinite(end) else "not known yet"
        for end in (fit.levels_at, fit.earliest, fit.latest)
    ]
    return (
        f"If nothing changes it tends to {format_quantity(fit.level, 'resistance')} with a time constant of "
        f"{_hours(fit.time_constant)} ({between}, 90 %) and counts as level from {moments[0]} "
        f"({moments[1]} to {moments[2]}, 90 %); {_hours(hold)} of readings must then confirm it."
    )


def _stop_text(course: Course, hold: float, index_said: str, *, stop: bool) -> str:
    steady = f"steady for {_hours(course.steady_for)} of {_hours(hold)}"
    if stop:
        return (
            f" The stop rule is met: {steady}, and {index_said}. Let it cool, test it again, and leave the decision to "
            "the responsible engineer."
        )
    return f" The stop rule is not met: {steady}; {index_said}. Keep reading, the same way, every few hours."
