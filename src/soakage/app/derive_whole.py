"""Quantities that belong to the test as a whole: correction, discharge, steps, ramp, charge, dew point."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from soakage.app.derive import Quantities, bound_of
from soakage.app.result import RampRow, StepRow
from soakage.app.uncertainty import with_temperature
from soakage.app.window import Window
from soakage.methods.base import Method, Shape
from soakage.model.record import Record
from soakage.model.test import Conditions
from soakage.model.verdict import QuantityValue
from soakage.physics.bounds import Bounded, ratio
from soakage.physics.charge import stored_energy
from soakage.physics.discharge import REASONS, discharge_current, transient_capacitance
from soakage.physics.earthing import minimum_earthing_time
from soakage.physics.humidity import dew_point
from soakage.physics.indices import dielectric_discharge
from soakage.physics.ramp import apparent_capacitance, current_at_voltage, fitted_ramp, ramp_capacitance_bound
from soakage.physics.steps import StepTable
from soakage.quantities import resistance_mark
from soakage.standards.criterion import TemperatureRule
from soakage.standards.temperature import factor, sensitivity
from soakage.units import celsius, format_quantity, kelvin

DISCHARGE_MARK = 60.0
RAMP_ROWS = 10


@dataclass(frozen=True, slots=True)
class Correction:
    """The temperature rule used for a record, its base [degC], and what came of it.

    `doubt` is what the uncertainty of the temperature brings to the corrected value, relative [1].
    """

    rule: TemperatureRule | None
    base: float | None
    factor: float | None
    reason: str = ""
    flag: str = ""
    doubt: float = 0.0


def corrected(quantity: QuantityValue, rule: TemperatureRule, settled: Correction) -> QuantityValue:
    """Return a resistance referred to the base temperature of a rule.

    Parameters
    ----------
    quantity : QuantityValue
        A resistance as read.
    rule : TemperatureRule
        The rule the factor came from.
    settled : Correction
        Base temperature and factor.

    Returns
    -------
    QuantityValue
        With the temperature in its budget where the uncertainty of both is stated.
    """
    k = settled.factor if settled.factor is not None else float("nan")
    value = replace(
        quantity,
        id=f"{quantity.id}_corrected",
        value=quantity.value * k,
        uncertainty=None if quantity.uncertainty is None else quantity.uncertainty * k,
        formula=f"K R, K = {k:.4g} ({rule.name})",
        source=f"{rule.standard.name}, {rule.clause}" if rule.clause else rule.standard.name,
        rule=rule.id,
        base_temperature=None if settled.base is None else kelvin(settled.base),
        inputs={quantity.id: format_quantity(quantity.value, "resistance"), "K": f"{k:.4g}"},
        budget=tuple(replace(part, uncertainty=part.uncertainty * k) for part in quantity.budget),
    )
    return with_temperature(value, settled.doubt)


def correctable(quantity_id: str) -> bool:
    """Return True for the resistances that a temperature rule may correct."""
    return quantity_id == "insulation_resistance" or (
        resistance_mark(quantity_id) is not None and not quantity_id.endswith("_corrected")
    )


def correction(rule: TemperatureRule, base: float, conditions: Conditions) -> Correction:
    """Return the factor of a rule for the temperature stated, or why there is none."""
    temperature = conditions.winding_temperature
    if temperature is None:
        return Correction(rule, base, None, "The temperature of the insulation is not stated.")
    result = factor(rule, celsius(temperature), base)
    doubt = 0.0
    if conditions.temperature_uncertainty is not None and result.value is not None:
        slope = sensitivity(rule, celsius(temperature), base) or 0.0
        doubt = abs(slope) * conditions.temperature_uncertainty
    return Correction(rule, base, result.value, result.reason, result.flag, doubt)


def derive_dew_point(record: Record, found: Quantities) -> None:
    """Add the dew point where air temperature and humidity are stated."""
    conditions = record.conditions
    if conditions.ambient_temperature is None or conditions.relative_humidity is None:
        found.missing["dew_point"] = "Air temperature or relative humidity is not stated."
        return
    value = float(dew_point(celsius(conditions.ambient_temperature), conditions.relative_humidity))
    if np.isnan(value):
        found.missing["dew_point"] = "Air temperature or humidity is outside the range of the formula."
        return
    inputs = {
        "ambient_temperature": format_quantity(conditions.ambient_temperature, "temperature"),
        "relative_humidity": format_quantity(conditions.relative_humidity, "humidity"),
    }
    found.add("dew_point", kelvin(value), inputs=inputs)


def time_under_voltage(record: Record, method: Method) -> float | None:
    """Return how long voltage stood on the object [s], or None where the record does not tell."""
    test = record.test
    if test.ended_at is not None:
        return test.ended_at
    if test.discharge_started is not None:
        return test.discharge_started
    time = record.readings.time
    if method.shape is Shape.SPOT and np.isnan(time).all():
        return None
    return float(np.nanmax(time)) if (~np.isnan(time)).any() else None


def derive_charge(record: Record, method: Method, window: Window | None, found: Quantities) -> None:
    """Add capacitance, stored energy and minimum earthing time."""
    capacitance = record.test.capacitance
    voltage = record.test.test_voltage
    if capacitance is not None:
        found.add("capacitance", capacitance, formula="as stated in the record", source="the record")
    elif window is not None and not np.isnan(window.time).any():
        transient = transient_capacitance(window.time, window.current, window.level)
        if np.isnan(transient.capacitance):
            found.missing["capacitance"] = (
                f"Not stated, and from the readings: {REASONS[int(transient.reason)]}."
            )
        else:
            capacitance = float(transient.capacitance)
            found.add("capacitance", capacitance)
    else:
        found.missing["capacitance"] = "Not stated."
    if window is not None and not np.isnan(window.level):
        voltage = window.level
    if capacitance is not None and voltage is not None:
        found.add("stored_energy", float(stored_energy(capacitance, voltage)))
    held = time_under_voltage(record, method)
    if held is None:
        found.missing["earthing_time"] = "The time under voltage is not stated."
    else:
        inputs = {"time under voltage": format_quantity(held, "time")}
        found.add("earthing_time", float(minimum_earthing_time(held)), inputs=inputs)


def derive_discharge(record: Record, window: Window | None, charge_time: float, found: Quantities) -> None:
    """Add dielectric discharge; block it where the charge was shorter than the usual charging time.

    Parameters
    ----------
    record : Record
        The record.
    window : Window or None
        Readings under the charging voltage.
    charge_time : float
        Usual charging time [s], from the criteria files.
    found : Quantities
        Where it is added.
    """
    started = record.test.discharge_started
    if started is None:
        found.missing["dielectric_discharge"] = "The record has no discharge ('discharge_started')."
        return
    capacitance = found.values.get("capacitance")
    readings = record.readings
    value = np.nan
    if (readings.time > started).any():
        value = float(discharge_current(readings.time, readings.current, started, DISCHARGE_MARK).value)
    voltage = window.level if window is not None else record.test.test_voltage
    if np.isnan(value):
        found.missing["dielectric_discharge"] = "No discharge current stands at 60 s into the discharge."
    elif capacitance is None:
        found.missing["dielectric_discharge"] = "Capacitance missing."
    elif voltage is None or np.isnan(voltage):
        found.missing["dielectric_discharge"] = "The charging voltage is not known."
    else:
        found.add(
            "dielectric_discharge",
            float(dielectric_discharge(value, voltage, capacitance.value)),
            inputs={
                "discharge current at 60 s": format_quantity(float(value), "current"),
                "charging voltage": format_quantity(float(voltage), "voltage"),
                "capacitance": format_quantity(capacitance.value, "capacitance"),
            },
        )
        if started < charge_time:
            found.blocked["dielectric_discharge"] = (
                f"The charge lasted {format_quantity(started, 'time')}, less than "
                f"{format_quantity(charge_time, 'time')}: absorption had not ended."
            )


def derive_steps(table: StepTable | None, found: Quantities) -> tuple[StepRow, ...]:
    """Add the fall of resistance with voltage and return the step table."""
    if table is None:
        return ()
    rows = tuple(
        StepRow(float(v), float(h), float(i), float(r), bound_of(b))
        for v, h, i, r, b in zip(
            table.voltage, table.hold, table.current, table.resistance, table.bound, strict=True
        )
    )
    if len(rows) < 2:
        found.missing["voltage_dependence"] = "The record has only one voltage step."
        return rows
    first, last = (Bounded(table.resistance[k], table.bound[k]) for k in (0, -1))
    rest = ratio(last, first)
    if np.isnan(rest.value):
        found.missing["voltage_dependence"] = "The first or the last step gives no resistance to compare."
        return rows
    # what is left bounds the fall from the other side
    found.add("voltage_dependence", 1.0 - float(rest.value), bound_of(-int(rest.bound)))
    if not table.equal_holds:
        found.blocked["voltage_dependence"] = (
            "The holds are not equal: the current of earlier steps alone can show a fall that is none."
        )
    return rows


def derive_ramp(
    record: Record, method: Method, found: Quantities
) -> tuple[tuple[RampRow, ...], float | None]:
    """Add the apparent capacitance of a ramp; return its table and the measured rate [V/s]."""
    if method.shape is not Shape.RAMP:
        return (), None
    readings = record.readings
    good = ~(np.isnan(readings.time) | np.isnan(readings.voltage) | np.isnan(readings.current))
    time, voltage, current = (a[good] for a in (readings.time, readings.voltage, readings.current))
    line = fitted_ramp(time, voltage) if len(time) > 1 else None
    if line is None or not line.rate > 0:
        found.missing["apparent_capacitance"] = "The voltage of the ramp does not rise."
        return (), None
    rate = float(line.rate)
    bound = ramp_capacitance_bound(voltage, current, line.rate)
    if not np.isnan(bound.value):
        inputs = {"measured ramp rate": format_quantity(rate, "ramp_rate")}
        found.add("apparent_capacitance", float(bound.value), bound_of(int(bound.bound)), inputs=inputs)
    levels = np.linspace(voltage.max() / RAMP_ROWS, voltage.max(), RAMP_ROWS)
    currents = current_at_voltage(time, voltage, current, levels)
    rows = tuple(
        RampRow(
            float((v - line.start_voltage) / rate), float(v), float(i), float(apparent_capacitance(i, rate))
        )
        for v, i in zip(levels, currents, strict=True)
        if not np.isnan(i)
    )
    return rows, rate
