"""Checks on the readings: bounds, voltage, the run of resistance and current, marks, holds."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from soakage.app.check import Check, Examined
from soakage.app.window import MANY, Run, Window, middle
from soakage.methods.base import Shape
from soakage.model.verdict import Finding, Status
from soakage.quantities import resistance_id, resistance_mark
from soakage.standards.judge import TOLERANCE
from soakage.units import Bound, format_quantity

OLD_BEFORE = 1970


def _beyond(value: float, line: float) -> bool:
    """Say whether a value is above a line; one typed as the line is not, whatever its last binary digit."""
    return value > line * (1 + TOLERANCE)


def bounds(seen: Examined) -> Iterator[Finding]:
    """Over-range and under-range readings."""
    readings = seen.record.readings
    for code, name, words in ((1, "over_range", "over"), (-1, "under_range", "under")):
        count = int((readings.bound == code).sum())
        if count:
            yield Finding(
                name,
                f"{count} of {len(readings)} readings {'is' if count == 1 else 'are'} {words} range: a bound on "
                "the resistance, not a figure.",
            )


def voltage_level(seen: Examined) -> Iterator[Finding]:
    """No voltage, voltage collapsed at the current limit, or off its set value."""
    window, wanted = seen.window, seen.record.test.test_voltage
    if window is None or wanted is None or seen.record.readings.voltage_assumed:
        return
    if seen.method.shape is Shape.STEPS or np.isnan(window.level):
        return
    given, set_to = format_quantity(window.level, "voltage"), format_quantity(wanted, "voltage")
    if window.level <= seen.threshold("reading-checks.no-voltage") * wanted:
        yield Finding(
            "no_voltage",
            f"The voltage read {given} where {set_to} was set: nothing was tested.",
            remedy="Check instrument, leads and connection, and test again.",
            turns=True,
        )
        return
    limit = seen.record.instrument.current_limit
    currents = window.current[~np.isnan(window.current)]
    limited = (
        limit is not None
        and len(currents) > 0
        and middle(currents) >= seen.threshold("reading-checks.at-current-limit") * limit
    )
    if window.level < seen.threshold("reading-checks.voltage-collapsed") * wanted:
        why = " while the instrument stood at its current limit" if limited else ""
        yield Finding(
            "voltage_collapsed",
            f"The voltage stood at {given} where {set_to} was set{why}: the insulation takes all the current the "
            "instrument gives, or a lead, an earth or attached equipment loads it.",
            Status.INVESTIGATE,
            "Check leads and what is still attached; if it stays, the insulation itself conducts.",
        )
    elif _beyond(abs(window.level - wanted), seen.threshold("reading-checks.voltage-off-set-value") * wanted):
        yield Finding(
            "voltage_off_set_value",
            f"The voltage stood at {given}, not at the {set_to} set.",
            Status.WATCH,
            "Compare only with tests at the same voltage.",
        )


def voltage_sag(seen: Examined) -> Iterator[Finding]:
    """Voltage that falls inside one hold."""
    if seen.record.readings.voltage_assumed:
        return
    fall = max((_sag(window) for window in seen.holds), default=0.0)
    if _beyond(fall, seen.threshold("reading-checks.voltage-sag")):
        yield Finding(
            "voltage_sag",
            f"The voltage fell by {fall:.1%} inside the hold: the capacitance gave charge back into the reading. "
            "The insulation may load the instrument, or the instrument does not hold its voltage.",
            Status.INVESTIGATE,
            "Repeat with an instrument that holds the voltage; if it sags again, look for the load.",
        )


def _sag(window: Window) -> float:
    voltage = window.voltage[~np.isnan(window.voltage)]
    if len(voltage) < 2 or voltage.max() <= 0:
        return 0.0
    peak = int(np.argmax(voltage))
    return 1 - float(voltage[peak:].min()) / float(voltage[peak])


def voltage_standing(seen: Examined) -> Iterator[Finding]:
    """Voltage that does not stand before the first mark used: ratios with that mark are blocked."""
    window = seen.window
    if window is None or seen.record.readings.voltage_assumed or np.isnan(window.time).any():
        return
    if seen.method.shape is Shape.SPOT:
        return
    stands = window.stands_at
    if stands is None or stands <= float(window.time[0]):
        return
    late = [q for q in seen.quantities.values if _mark_before(q, stands)]
    if late and np.isinf(stands):
        yield Finding(
            "voltage_not_standing",
            "The voltage never stood within the tolerance of one level. Ratios are not judged.",
            remedy="Repeat with an instrument that holds its voltage.",
        )
    elif late:
        yield Finding(
            "voltage_not_standing",
            f"The voltage reached its level only at {format_quantity(stands, 'time')}; before that the current "
            "still charged the capacitance. Ratios that use an earlier mark are not judged.",
        )


def _mark_before(quantity_id: str, stands: float) -> bool:
    mark = resistance_mark(quantity_id)
    return mark is not None and mark < stands


def _fall(seen: Run) -> tuple[float, float]:
    """Return the fall of the resistance from its highest value, and how much of it noise may make."""
    groups = np.array_split(np.log(seen.resistance), min(len(seen.time), MANY))
    levels = np.array([middle(group) for group in groups])
    noise_margin = 4 * seen.scatter * np.sqrt(2 / len(groups[0]))
    return 1 - float(np.exp(levels[-1] - levels.max())), float(noise_margin)


def resistance_falling(seen: Examined) -> Iterator[Finding]:
    """Resistance that falls while the voltage stands."""
    least = seen.threshold("reading-checks.resistance-falling")
    falls = [_fall(run) for run in seen.runs]
    fall = max(
        (fall for fall, noise_margin in falls if _beyond(fall, max(least, noise_margin))), default=None
    )
    if fall is not None:
        yield Finding(
            "resistance_falling",
            f"The resistance fell by {fall:.0%} from its highest value while the voltage stood: conduction grows "
            "under voltage, or the set-up drifts (warming, a damp surface, a lead).",
            Status.INVESTIGATE,
            "Do not raise the voltage. Clean and dry, check the leads, and test again.",
        )


def current_sign(seen: Examined) -> Iterator[Finding]:
    """Find current at or below zero while the voltage stands."""
    window = seen.window
    readings = seen.record.readings
    current, voltage, time = readings.current, readings.voltage, readings.time
    started = seen.record.test.discharge_started
    wrong = (current <= 0) & (voltage > 0) & (readings.bound == 0)
    if started is not None:
        wrong &= ~(time >= started)
    if window is not None and wrong.any():
        first = time[int(np.argmax(wrong))]
        place = "" if np.isnan(first) else f" (first at {format_quantity(float(first), 'time')})"
        yield Finding(
            "current_sign_change",
            f"{int(wrong.sum())} current readings are zero or negative while the voltage stood{place}: charge of "
            "an earlier test flows back, or something induces a current. Those readings give no resistance.",
            Status.INVESTIGATE,
            "Earth for the minimum time, look for induced voltage, and test again.",
        )


def current_settling(seen: Examined) -> Iterator[Finding]:
    """Noise on the current, or a current that does not settle."""
    scatter = max((run.scatter for run in seen.runs), default=0.0)
    if scatter > seen.threshold("reading-checks.not-settling"):
        yield Finding(
            "current_not_settling",
            f"The current does not settle: neighbouring readings scatter by {scatter:.0%}. Partial breakdown or a "
            "loose surface does this, and so does pick-up in the leads.",
            Status.INVESTIGATE,
            "Shield and move the leads; if it stays, stop and look for the source.",
        )
    elif scatter > seen.threshold("reading-checks.noise"):
        yield Finding(
            "noise",
            f"Neighbouring readings scatter by {scatter:.0%}; a ratio of two of them is no better than that.",
            Status.WATCH,
            "Average the readings over whole mains periods, or shield the leads.",
        )


def marks_missed(seen: Examined) -> Iterator[Finding]:
    """Find marks of the method that the readings do not reach, from either side."""
    for mark in seen.method.marks:
        if not mark.required or mark.after_discharge or seen.method.shape is Shape.STEPS:
            continue
        why = seen.quantities.missing.get(resistance_id(mark.time))
        if why and resistance_id(mark.time) not in seen.quantities.values:
            yield Finding("mark_missed", why, remedy="Read at every mark of the method next time.")


def unequal_holds(seen: Examined) -> Iterator[Finding]:
    """Find holds of a step test that differ."""
    steps = seen.steps
    if steps is not None and not steps.equal_holds:
        holds = ", ".join(format_quantity(float(hold), "time") for hold in steps.hold)
        yield Finding(
            "unequal_holds",
            f"The holds differ ({holds}): the fall of resistance with voltage is shown but not judged.",
        )


def index_ambiguous(seen: Examined) -> Iterator[Finding]:
    """Resistance so high that the index is ambiguous."""
    if seen.record.asset.asset_class != "rotating-machine":
        return
    line = seen.threshold("ieee-43-2013.index-not-judged-above")
    value = seen.quantities.values.get("insulation_resistance_60s_corrected")
    if value is not None and value.value > line and value.bound is not Bound.UPPER:
        yield Finding(
            "index_ambiguous",
            f"The 60 s resistance at the base temperature, {format_quantity(value.value, 'resistance')}, is above "
            f"{format_quantity(line, 'resistance', trim=True)}: indices and ratios are shown, not judged.",
        )


def index_very_high(seen: Examined) -> Iterator[Finding]:
    """Find an index so high, on old insulation, that it suggests dried and brittle insulation."""
    asset = seen.record.asset
    old = asset.insulation_family == "thermoplastic" or (
        asset.insulation_family is None and asset.year is not None and asset.year < OLD_BEFORE
    )
    value = seen.quantities.values.get("polarization_index")
    line = seen.threshold("ieee-43-2013.brittle-index")
    if asset.asset_class == "rotating-machine" and old and value is not None and value.value > line:
        yield Finding(
            "index_very_high",
            f"The index, {format_quantity(value.value, 'ratio')}, is above {line:g} on old insulation: that "
            "suggests dried, brittle insulation rather than a good one.",
            Status.WATCH,
            "Look at the winding for brittle, cracked or loose insulation.",
        )


def ramp_rate_off(seen: Examined) -> Iterator[Finding]:
    """Measured ramp rate against the stated."""
    stated, measured = seen.record.test.ramp_rate, seen.ramp_rate
    if stated is None or measured is None:
        return
    if abs(measured - stated) > seen.threshold("reading-checks.ramp-rate") * stated:
        yield Finding(
            "ramp_rate_off",
            f"The readings rise at {format_quantity(measured, 'ramp_rate')}, not at the "
            f"{format_quantity(stated, 'ramp_rate')} stated; the rate of the readings is used.",
        )


READINGS: tuple[Check, ...] = (
    bounds, voltage_level, voltage_sag, voltage_standing, resistance_falling, current_sign, current_settling,
    marks_missed, unequal_holds, index_ambiguous, index_very_high, ramp_rate_off,
)  # fmt: skip
