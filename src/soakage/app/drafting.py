"""A record with its quantities and findings, before sisters are compared and anything is judged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from soakage.app.check import Examined
from soakage.app.checks_readings import READINGS
from soakage.app.checks_stated import STATED
from soakage.app.derive import Quantities, derive_decomposition, derive_resistances
from soakage.app.derive_whole import (
    Correction,
    correctable,
    corrected,
    correction,
    derive_charge,
    derive_dew_point,
    derive_discharge,
    derive_ramp,
    derive_steps,
)
from soakage.app.facts import facts as facts_of
from soakage.app.result import RampRow, StepRow
from soakage.app.rules import Rules
from soakage.app.uncertainty import add_uncertainty
from soakage.app.window import Window, hold_window, later_holds, table_of_steps, upright
from soakage.methods import method as method_of
from soakage.methods.base import Method
from soakage.model.record import Record
from soakage.model.verdict import Finding
from soakage.physics.steps import StepTable
from soakage.quantities import ratio_marks
from soakage.units import format_quantity

CHECKS = (*STATED, *READINGS)


@dataclass(frozen=True, slots=True)
class Draft:
    """A record with its quantities and findings, before sisters are compared and anything is judged."""

    record: Record
    method: Method
    facts: Mapping[str, object]
    window: Window | None
    found: Quantities
    steps: tuple[StepRow, ...]
    ramp: tuple[RampRow, ...]
    ramp_rate: float | None
    findings: tuple[Finding, ...]
    checks_passed: int


def draft(record: Record, rules: Rules) -> Draft:
    """Return a record's quantities and findings.

    Parameters
    ----------
    record : Record
        The record.
    rules : Rules
        What judges.

    Returns
    -------
    Draft
    """
    received, record = record, upright(record)
    method = method_of(record.test.method)
    facts = facts_of(record)
    library = rules.library
    table = table_of_steps(record, method)
    window = hold_window(
        record, method, library.thresholds["practice.voltage-standing-tolerance"].value, table
    )
    found = Quantities()
    derive_resistances(record, method, window, rules.ratios, found)
    derive_decomposition(window, found)
    derive_charge(record, method, window, found)
    derive_discharge(record, window, library.thresholds["practice.discharge-charge-time"].value, found)
    step_rows = derive_steps(table, found)
    ramp_rows, ramp_rate = derive_ramp(record, method, found)
    _length(record, found)
    add_uncertainty(record, window, found, step_rows)
    settled = _correct(record, facts, rules, found)
    derive_dew_point(record, found)
    _block_early_ratios(window, found)
    findings, passed = _examine(record, method, facts, rules, window, table, ramp_rate, found, settled)
    return Draft(received, method, facts, window, found, step_rows, ramp_rows, ramp_rate, findings, passed)


def _length(record: Record, found: Quantities) -> None:
    """Add resistance times length of a cable."""
    if record.asset.asset_class != "cable":
        return
    reading = found.values.get("insulation_resistance_60s") or found.values.get("insulation_resistance")
    length = record.asset.length
    if length is None:
        found.missing["resistance_length"] = "The length of the cable is not stated."
    elif reading is not None:
        inputs = {
            reading.id: format_quantity(reading.value, "resistance"),
            "length": format_quantity(length, "length"),
        }
        found.add("resistance_length", reading.value * length, reading.bound, inputs=inputs)


def _correct(record: Record, facts: Mapping[str, object], rules: Rules, found: Quantities) -> Correction:
    """Add corrected resistances where one temperature rule is settled."""
    use = rules.temperature_for(facts)
    if use is None:
        keys = rules.correction_keys(facts)
        reason = f"No temperature rule can be chosen: {', '.join(keys)} not stated." if keys else ""
        return Correction(None, None, None, reason)
    rule = rules.library.temperature_rules[use.rule]
    settled = correction(rule, use.base, record.conditions)
    for quantity_id, quantity in list(found.values.items()):
        if correctable(quantity_id):
            if settled.factor is None:
                found.missing[f"{quantity_id}_corrected"] = settled.reason
            else:
                value = corrected(quantity, rule, settled)
                found.values[value.id] = value
    return settled


def _block_early_ratios(window: Window | None, found: Quantities) -> None:
    """Keep ratios from being judged whose earlier mark came before the voltage stood."""
    if window is None or window.stands_at is None or window.stands_at <= float(window.time[0]):
        return
    for quantity_id in found.values:
        marks = ratio_marks(quantity_id)
        if marks is not None and min(marks) < window.stands_at:
            found.blocked[quantity_id] = (
                f"The voltage stood only from {format_quantity(window.stands_at, 'time')}; the ratio uses an "
                "earlier mark."
                if np.isfinite(window.stands_at)
                else "The voltage never stood at one level; a ratio wants one constant voltage."
            )


def _examine(
    record: Record,
    method: Method,
    facts: Mapping[str, object],
    rules: Rules,
    window: Window | None,
    table: StepTable | None,
    ramp_rate: float | None,
    found: Quantities,
    settled: Correction,
) -> tuple[tuple[Finding, ...], int]:
    """Run every check; return the findings, worst first, and how many checks found nothing."""
    tables = rules.profile.voltage_tables(facts, method.voltage_role, rules.library)
    tolerance = rules.library.thresholds["practice.voltage-standing-tolerance"].value
    seen = Examined(
        record, method, facts, window, table, ramp_rate, found, settled, tables, rules.library,
        later_holds(record, tolerance, table),
    )  # fmt: skip
    findings: list[Finding] = list(record.findings)
    passed = 0
    for check in CHECKS:
        made = list(check(seen))
        passed += not made
        findings += made
    return worst_first(findings), passed


def worst_first(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return findings in the order of what they still allow, worst first, else as made."""
    return tuple(sorted(findings, key=lambda f: f.status.rung if f.status else -1, reverse=True))
