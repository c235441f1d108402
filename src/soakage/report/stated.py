"""What a report says of what was stated: the asset, the connection, the test, the conditions."""

from __future__ import annotations

from typing import Any

import numpy as np

from soakage.app.result import Evaluated
from soakage.methods.base import Shape
from soakage.model.record import Record
from soakage.model.test import Accuracy
from soakage.report.drawn import charging
from soakage.report.figures import counted, day, listed, printed, quantity_text
from soakage.units import celsius, format_quantity

Content = dict[str, Any]

_CLASS = {
    "rotating-machine": "Machine", "transformer": "Transformer", "cable": "Cable", "switchgear": "Switchgear",
    "low-voltage-installation": "Installation", "apparatus": "Apparatus",
}  # fmt: skip
_MOST_BOXES = 6
_LONGEST_NAME = 9


def asset_rows(record: Record) -> list[list[str]]:
    """Return identity and nameplate."""
    asset = record.asset
    volts = asset.rated_voltage if asset.rated_voltage is not None else asset.nominal_voltage
    kind = [
        quantity_text(volts, "voltage", trim=True) if volts is not None else "",
        quantity_text(asset.rated_power, "power", trim=True) if asset.rated_power is not None else "",
        {"ac": "alternating current", "dc": "direct current"}.get(asset.machine_current or "", ""),
        asset.connection or "",
        f"length {quantity_text(asset.length, 'length', trim=True)}" if asset.length is not None else "",
        f"cores {listed(asset.cores)}" if asset.cores else "",
    ]
    insulation = [
        asset.winding or "",
        _family(record),
        f"class {asset.thermal_class}" if asset.thermal_class else "",
        {"oil": "oil-filled", "ester": "ester-filled", "dry": "dry"}.get(asset.filling or "", ""),
        f"made {asset.year}" if asset.year is not None else "",
        f"cooling {asset.cooling}" if asset.cooling else "",
        f"star point {asset.neutral}" if asset.neutral else "",
    ]
    windings = [
        f"{name} {quantity_text(volts, 'voltage', trim=True)}"
        for name, volts in (asset.winding_voltages or {}).items()
    ]
    diameters = [
        f"{word} {quantity_text(value, 'length', trim=True)}"
        for word, value in (
            ("conductor", asset.conductor_diameter), ("over insulation", asset.insulation_diameter),
            ("sheath", asset.sheath_thickness),
        )
        if value is not None
    ]  # fmt: skip
    rows = [
        ["Site", asset.site or ""],
        ["Circuit", ", ".join(filter(None, (asset.circuit, asset.between)))],
        [
            _CLASS.get(asset.asset_class or "", "Class"),
            ", ".join(filter(None, kind)) or "nameplate not stated",
        ],
        ["Windings", ", ".join(windings)],
        ["Insulation", ", ".join(filter(None, insulation))],
        ["Diameters", ", ".join(diameters)],
        ["In service", f"since {day(asset.in_service_since)}" if asset.in_service_since else ""],
        ["Tested", listed(record.test.tested) or "terminals not stated"],
        ["Earthed", listed(record.test.earthed)],
        ["Guarded", listed(record.test.guarded)],
        ["Floating", listed(floating(record))],
        ["Attached", listed(record.conditions.attached)],
    ]
    return [row for row in rows if row[1]]


def _family(record: Record) -> str:
    word, family = record.asset.insulation, record.asset.insulation_family
    if not word:
        return ""
    return word if family in (None, word) else f"{word} (read as {family})"


def floating(record: Record) -> tuple[str, ...]:
    """Return the terminals that are named in none of tested, earthed and guarded."""
    named = {*record.test.tested, *record.test.earthed, *record.test.guarded}
    return tuple(name for name in record.asset.terminals if name not in named)


def connection(record: Record) -> Content | None:
    """Return the terminals on their rails; None where none was stated."""
    test = record.test
    rails = (
        ("live", test.tested), ("guard", test.guarded), ("floating", floating(record)),
        ("earth", test.earthed),
    )  # fmt: skip
    if not test.tested:
        return None
    words = {"live": "live", "guard": "guarded", "floating": "floating", "earth": "earthed"}
    crowded = sum(len(names) for _, names in rails) > _MOST_BOXES or any(
        len(name) > _LONGEST_NAME for _, names in rails for name in names
    )
    items = []
    for rail, names in rails:
        if crowded and len(names) > 1:
            items.append({"name": f"{len(names)}\u00a0ends", "rail": rail, "legs": 2})
        else:
            items += [{"name": _short(name), "rail": rail, "legs": 1} for name in names]
    minus = "−" if (test.polarity or "").lower().lstrip().startswith(("neg", "-", "−")) else ""
    live = f"{minus}{set_voltage(test.test_voltage)}" if test.test_voltage is not None else ""
    alt = "; ".join(f"{words[rail]}: {listed(names)}" for rail, names in rails if names)
    return {"items": items, "live": live, "alt": f"Connection drawn as rails. {alt}."}


def _short(name: str) -> str:
    return name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 1]}…"


def test_rows(evaluated: Evaluated) -> list[list[str]]:
    """Return paper, voltage and instrument."""
    record = evaluated.record
    paper, test, instrument = record.paper, record.test, record.instrument
    name = [instrument.name or "", f"serial no. {instrument.serial}" if instrument.serial else ""]
    rows = [
        ["Purpose", (paper.purpose or "").replace("-", " ")],
        ["Permit", paper.permit or "not stated"],
        ["Work order", paper.work_order or ""],
        ["Visit", paper.visit or ""],
        ["Gas-free cert.", paper.gas_free_certificate or ""],
        ["Voltage", _voltage(evaluated)],
        ["Found before", _found(record)],
        ["Test before", _previous(record)],
        ["Ended", _ended(record)],
        ["Instrument", ", ".join(filter(None, name)) or "not stated"],
        [
            "Calibration",
            f"valid to {day(instrument.calibration_due)}" if instrument.calibration_due else "not stated",
        ],
        ["Accuracy", "; ".join(map(_accuracy, instrument.accuracy)) or "not declared"],
        ["Current limit", f"at most {_amps(instrument.current_limit)}" if instrument.current_limit else ""],
        [
            "Capacitance",
            quantity_text(test.capacitance, "capacitance") if test.capacitance is not None else "",
        ],
    ]
    return [row for row in rows if row[1]]


def set_voltage(value: float) -> str:
    """Return a voltage as it was set, without zeros that only pad."""
    return format_quantity(value, "voltage", trim=True)


def _amps(value: float) -> str:
    return format_quantity(value, "current", trim=True)


def _voltage(evaluated: Evaluated) -> str:
    record, shape = evaluated.record, evaluated.method.shape
    polarity = f", {record.test.polarity}" if record.test.polarity else ""
    if shape is Shape.STEPS and evaluated.steps:
        steps = ", ".join(set_voltage(step.voltage) for step in evaluated.steps[:8])
        more = " …" if len(evaluated.steps) > 8 else ""
        return f"{counted(len(evaluated.steps), 'step')}: {steps}{more}{polarity}"
    if shape is Shape.RAMP:
        measured = evaluated.measured_ramp_rate
        stated = record.test.ramp_rate
        said = f"rising at {format_quantity(measured, 'ramp_rate')} as read" if measured else "rising"
        return (
            said
            + (f", {format_quantity(stated, 'ramp_rate', trim=True)} stated" if stated else "")
            + polarity
        )
    set_to = record.test.test_voltage
    if record.readings.voltage_assumed:
        return f"{quantity_text(set_to, 'voltage', trim=True)} as stated; no voltage was recorded{polarity}"
    held = record.readings.voltage[charging(evaluated)]
    held = held[np.isfinite(held) & (held != 0)]
    if held.size and np.median(held) < 0:
        polarity = polarity or ", negative"
    held = np.abs(held)
    if not held.size:
        return f"{quantity_text(set_to, 'voltage', trim=True)}{polarity}"
    low, high = (format_quantity(float(edge), "voltage", digits=4) for edge in (held.min(), held.max()))
    said = low if low == high else f"{low} to {high}"
    return f"{said} as read" + (f", {set_voltage(set_to)} set" if set_to is not None else "") + polarity


def _found(record: Record) -> str:
    found = record.test.voltage_found
    if found is None:
        return ""
    parts = [
        f"{format_quantity(v, 'voltage')} {w}"
        for v, w in ((found.dc, "dc"), (found.ac, "ac"))
        if v is not None
    ]
    return ", ".join(parts)


def _previous(record: Record) -> str:
    before = record.test.previous_test
    if before is None:
        return ""
    return (
        f"{set_voltage(before.voltage)} for {format_quantity(before.held, 'time')}, then earthed "
        f"{format_quantity(before.earthed, 'time')}"
    )


def _ended(record: Record) -> str:
    test = record.test
    if test.ended in (None, "complete"):
        return ""
    at = f" at {format_quantity(test.ended_at, 'time')}" if test.ended_at is not None else ""
    volts = f", {set_voltage(test.ended_voltage)}" if test.ended_voltage is not None else ""
    return f"{test.ended}{at}{volts}"


def _accuracy(row: Accuracy) -> str:
    parts = [
        f"{format_quantity(row.reading, 'fraction', trim=True)} of reading"
        if row.reading is not None
        else "",
        f"offset {_amps(row.offset)}" if row.offset is not None else "",
        f"last digit {format_quantity(row.resolution, 'resistance', trim=True)}"
        if row.resolution is not None
        else "",
        f"time to {format_quantity(row.timing, 'time')}" if row.timing is not None else "",
    ]
    upto = f"to {format_quantity(row.range, 'resistance', trim=True)}: " if row.range is not None else ""
    return upto + ", ".join(filter(None, parts))


def body_word(record: Record) -> str:
    """Return what the class calls the part whose temperature counts."""
    return "winding" if record.asset.asset_class == "rotating-machine" else "insulation"


def condition_rows(evaluated: Evaluated) -> list[list[str]]:
    """Return air, dew point and the temperature of the part under test."""
    conditions, word = evaluated.record.conditions, body_word(evaluated.record)
    air = quantity_text(conditions.ambient_temperature, "temperature")
    humidity = quantity_text(conditions.relative_humidity, "humidity")
    dew = evaluated.quantities.get("dew_point")
    warm = conditions.winding_temperature
    body = quantity_text(warm, "temperature") if warm is not None else "not stated"
    if warm is not None and dew is not None:
        margin = warm - dew.value
        side = "above" if margin > 0 else "below"
        body += (
            f", so {format_quantity(abs(margin), 'temperature_difference', digits=2)} {side} the dew point"
        )
    if warm is not None:
        body += f"; {conditions.temperature_method or 'how it was found is not stated'}"
        if conditions.temperature_uncertainty is not None:
            doubt = format_quantity(conditions.temperature_uncertainty, "temperature_difference")
            body += f"; standard uncertainty {doubt}"
    stopped = conditions.hours_out_of_service
    before = [
        f"out of service {format_quantity(stopped, 'time')}" if stopped is not None else "",
        f"surface {conditions.surface}" if conditions.surface else "",
    ]
    rows = [
        ["Air", f"{air}, {humidity} relative humidity".replace("–,", "temperature not stated,")
         .replace("– relative humidity", "humidity not stated")],
        ["Dew point", f"{printed(dew).with_uncertainty} ({dew.source})" if dew else ""],
        [word.capitalize(), body],
        ["Before", "; ".join(filter(None, before))],
    ]  # fmt: skip
    return [row for row in rows if row[1]]


def thermo(evaluated: Evaluated) -> Content | None:
    """Return dew point, air and part on one scale [degC]; None without a dew point and one of the others."""
    dew, conditions = evaluated.quantities.get("dew_point"), evaluated.record.conditions
    air, warm = conditions.ambient_temperature, conditions.winding_temperature
    if dew is None or (air is None and warm is None):
        return None
    word = body_word(evaluated.record)
    values = {"dew point": dew.value, "air": air, word: warm}
    said = ", ".join(
        f"{name} {quantity_text(t, 'temperature')}" for name, t in values.items() if t is not None
    )
    return {
        "dew": round(celsius(dew.value), 2),
        "air": round(celsius(air), 2) if air is not None else None,
        "body": [word, round(celsius(warm), 2)] if warm is not None else None,
        "alt": f"Temperatures on one scale: {said}.",
    }
