"""Checks on what the record states: conditions, connection, instrument, how the test ended."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import numpy as np

from soakage.app.cautions import VOLTAGE_FOUND_AC, VOLTAGE_FOUND_DC
from soakage.app.check import Check, Examined
from soakage.app.plan_voltage import span
from soakage.methods.base import Shape
from soakage.model.connection import floating, winding_part
from soakage.model.test import VoltageFound
from soakage.model.verdict import Finding, Status
from soakage.units import format_quantity

LOW_VOLTAGE = "low-voltage-installation"
_LINES = {"alternating": VOLTAGE_FOUND_AC, "direct": VOLTAGE_FOUND_DC}


def voltage_found(seen: Examined) -> Iterator[Finding]:
    """Voltage found on the terminals before the test, above the stricter of the published lines."""
    found = seen.record.test.voltage_found or VoltageFound()
    for kind, value in (("alternating", found.ac), ("direct", found.dc)):
        lines = [seen.library.thresholds[line] for line in _LINES[kind]]
        strictest = min(lines, key=lambda line: line.value)
        if value is not None and abs(value) > strictest.value:
            names = " and ".join(line.standard.name for line in lines)
            yield Finding(
                "voltage_found",
                f"{format_quantity(abs(value), 'voltage')} {kind} voltage was found on the terminals before the "
                f"test, above {format_quantity(strictest.value, 'voltage', trim=True)} "
                f"({strictest.standard.name}, the stricter of {names}).",
                Status.INVESTIGATE,
                "Find where the voltage comes from, remove it, prove dead, and test again.",
            )


def below_dew_point(seen: Examined) -> Iterator[Finding]:
    """Winding at or below the dew point of the air around it."""
    temperature = seen.record.conditions.winding_temperature
    dew = seen.quantities.values.get("dew_point")
    if temperature is not None and dew is not None and temperature <= dew.value:
        yield Finding(
            "below_dew_point",
            f"At {format_quantity(temperature, 'temperature')} the insulation was at or below the dew point of "
            f"the air, {format_quantity(dew.value, 'temperature')}: a film of water on the surface falsifies "
            "resistance and index.",
            Status.INVESTIGATE,
            "Warm the insulation above the dew point and test again; do not trend this reading.",
        )


def temperature_missing(seen: Examined) -> Iterator[Finding]:
    """Temperature of the insulation not stated."""
    if seen.record.asset.asset_class != LOW_VOLTAGE and seen.record.conditions.winding_temperature is None:
        yield Finding(
            "temperature_missing",
            "The temperature of the insulation is not stated; nothing is corrected or judged at a base temperature.",
            remedy="Measure and enter the temperature of the insulation.",
        )


def humidity_missing(seen: Examined) -> Iterator[Finding]:
    """Air temperature or humidity not stated."""
    if seen.record.asset.asset_class != LOW_VOLTAGE and "dew_point" in seen.quantities.missing:
        yield Finding(
            "humidity_missing", f"{seen.quantities.missing['dew_point']} The dew point is not known."
        )


def correction_flag(seen: Examined) -> Iterator[Finding]:
    """Temperature correction far from its base, outside its range, or without a rule."""
    correction = seen.correction
    if correction.flag:
        yield Finding("correction_far_from_base", correction.flag)
    elif correction.reason and seen.record.conditions.winding_temperature is not None:
        if correction.rule is None:
            yield Finding("temperature_rule_open", correction.reason)
        else:
            yield Finding("correction_out_of_range", correction.reason)


def calibration_expired(seen: Examined) -> Iterator[Finding]:
    """Calibration of the instrument expired on the day of the test."""
    due, day = seen.record.instrument.calibration_due, seen.record.day
    if due is not None and day is not None and due < day:
        yield Finding(
            "calibration_expired",
            f"The calibration of the instrument ran out on {_date(due)}, before the test of {_date(day)}.",
            Status.WATCH,
            "Have the instrument checked, and repeat the test if it is out of tolerance.",
        )


def _date(day: date) -> str:
    return f"{day.day}\u00a0{day:%B}\u00a0{day.year}"


def residual_discharge(seen: Examined) -> Iterator[Finding]:
    """Charge of an earlier test still flowing back."""
    earlier = seen.record.test.previous_test
    if earlier is None:
        return
    multiple = seen.threshold("ieee-43-2013.earthing-multiple")
    needed = multiple * earlier.held
    if earlier.earthed < needed:
        yield Finding(
            "residual_discharge",
            f"The test before held {format_quantity(earlier.voltage, 'voltage')} for "
            f"{format_quantity(earlier.held, 'time')} and was earthed for "
            f"{format_quantity(earlier.earthed, 'time')}, less than {format_quantity(needed, 'time')} "
            f"({multiple:g} times): its discharge current raises resistance and index.",
            Status.INVESTIGATE,
            "Earth for the minimum time and test again.",
        )


def terminals(seen: Examined) -> Iterator[Finding]:
    """Terminals not given, or floating."""
    record = seen.record
    if record.asset.asset_class in (LOW_VOLTAGE, "cable") and not record.test.tested:
        return
    if not record.test.tested:
        whole = record.asset.asset_class == "rotating-machine"
        yield Finding(
            "terminals_not_given",
            "The terminals tested, earthed and guarded are not stated"
            + ("; they are taken as the whole winding to frame." if whole else "."),
            remedy="State tested, earthed and guarded terminals.",
        )
    for name in floating(record):
        yield Finding(
            "terminal_floating",
            f"Terminal {name} was neither tested, earthed nor guarded: it floated, and what flows through it is "
            "not known.",
            Status.WATCH,
            f"Earth or guard {name} and test again.",
        )
    if record.asset.asset_class == "rotating-machine" and winding_part(record) is None:
        yield Finding(
            "winding_part_unclear",
            "The sets given are neither the whole winding nor one phase with all others earthed or on guard; the "
            "limit is tried at each possibility.",
            remedy="State all terminals of the machine.",
        )


def how_it_ended(seen: Examined) -> Iterator[Finding]:
    """Trip, breakdown, flashover, or a test stopped early."""
    test = seen.record.test
    if test.ended in (None, "complete"):
        return
    place = "".join(
        f" {word} {format_quantity(value, dimension)}"
        for word, value, dimension in (
            ("at", test.ended_voltage, "voltage"),
            ("after", test.ended_at, "time"),
        )
        if value is not None
    )
    what: dict[str, tuple[str, str, Status | None, str]] = {
        "breakdown": ("broke_down", "The insulation broke down", Status.UNFIT,
                      "Keep it out of service; find the fault and repair it."),
        "flashover": ("flashed_over", "The insulation flashed over", Status.UNFIT,
                      "Keep it out of service; find the path, clean or repair it, and test again."),
        "tripped": ("tripped", "The test tripped", Status.INVESTIGATE,
                    "Explain the trip before anything else is done."),
        "stopped": ("stopped", "The test was stopped", None, ""),
    }  # fmt: skip
    code, words, status, remedy = what[str(test.ended)]
    yield Finding(code, f"{words}{place}.", status, remedy)


def test_voltage(seen: Examined) -> Iterator[Finding]:
    """Test voltage against the table of its method."""
    voltage = seen.record.test.test_voltage
    if seen.method.shape in (Shape.STEPS, Shape.RAMP) and (seen.record.readings.voltage > 0).any():
        voltage = float(np.nanmax(seen.record.readings.voltage))
    if voltage is None:
        return
    for table in seen.voltage_tables:
        given = seen.facts.get(table.of)
        if given is None or not all(c.holds(seen.facts.get(c.key)) for c in table.applies):
            continue
        row = span(table, float(given))  # type: ignore[arg-type]
        if row is None:
            continue
        low, high, _ = row
        words = f"{format_quantity(low, 'voltage')}"
        if high != low:
            words += f" to {format_quantity(high, 'voltage')}"
        set_to = format_quantity(voltage, "voltage")
        if voltage > high * 1.01:
            yield Finding(
                "test_voltage_above_table",
                f"The test voltage, {set_to}, is above the {words} of {table.name} ({table.standard.name}).",
                remedy="Ask the owner and the maker whether that voltage was agreed.",
            )
        elif voltage < low * 0.99 and seen.method.voltage_role != "overvoltage":
            yield Finding(
                "test_voltage_below_table",
                f"The test voltage, {set_to}, is below the {words} of {table.name} ({table.standard.name}): faults "
                "that show only at voltage may be missed.",
            )


def time_not_stated(seen: Examined) -> Iterator[Finding]:
    """Find a spot reading without its time."""
    time = seen.record.readings.time
    if len(time) == 1 and time[0] != time[0] and seen.record.test.method != "circuit":
        yield Finding(
            "time_not_stated", "The time of the reading is not stated; it is judged as the 60 s value."
        )


def still_cooling(seen: Examined) -> Iterator[Finding]:
    """Find a transformer much warmer than the air around it."""
    conditions = seen.record.conditions
    if seen.record.asset.asset_class != "transformer":
        return
    warm, air = conditions.winding_temperature, conditions.ambient_temperature
    if warm is not None and air is not None and warm - air > seen.threshold("reading-checks.still-cooling"):
        yield Finding(
            "still_cooling",
            f"The unit was {warm - air:.0f}\u00a0K warmer than the air and may still have been cooling: its "
            "temperature is then not that of a unit at rest.",
        )


def surface_state(seen: Examined) -> Iterator[Finding]:
    """Surfaces stated damp or wet."""
    surface = seen.record.conditions.surface
    if surface in ("damp", "wet"):
        yield Finding(
            "surface_not_dry",
            f"The surfaces were {surface}: surface leakage is in the reading.",
            Status.WATCH,
            "Clean and dry the surfaces, or guard them, and test again.",
        )


STATED: tuple[Check, ...] = (
    voltage_found, below_dew_point, temperature_missing, humidity_missing, correction_flag,
    calibration_expired, residual_discharge, terminals, how_it_ended, test_voltage, time_not_stated,
    still_cooling, surface_state,
)  # fmt: skip
