"""The one path of every door: records in, everything said about them out; pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from soakage import __version__
from soakage.app.causes import with_causes
from soakage.app.check import Examined
from soakage.app.checks_readings import READINGS
from soakage.app.checks_stated import STATED
from soakage.app.conclude import conclude
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
from soakage.app.judging import judgements, turned
from soakage.app.networks import network
from soakage.app.result import Evaluated, Evaluation, NotTested, RampRow, RuleNames, StepRow, Visit
from soakage.app.rules import Rules, default_rules
from soakage.app.uncertainty import add_uncertainty
from soakage.app.visits import Spread, asset_key, section_name, sister_spreads, visit_groups
from soakage.app.window import Window, hold_window, later_holds, table_of_steps, upright
from soakage.errors import Fault
from soakage.methods import method as method_of
from soakage.methods.base import Method
from soakage.model.connection import tested_windings
from soakage.model.record import Record
from soakage.model.verdict import Finding, Judgement, Status, worst
from soakage.physics.steps import StepTable
from soakage.quantities import lookup, ratio_marks
from soakage.units import Measured, format_quantity

CHECKS = (*STATED, *READINGS)
Progress = Callable[[int, int], None]


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


def evaluate(
    records: Sequence[Record],
    rules: Rules | None = None,
    errors: Iterable[Fault] = (),
    progress: Progress | None = None,
) -> Evaluation:
    """Evaluate records: quantities, checks, judgements, verdicts, visits, networks.

    Parameters
    ----------
    records : sequence of Record
        In the order to be reported.
    rules : Rules, optional
        What judges; the default profile unless given.
    errors : iterable of Fault
        Faults of files that could not be read; carried along.
    progress : callable, optional
        Called with (done, total) after each record.

    Returns
    -------
    Evaluation
    """
    rules = rules or default_rules()
    drafts = []
    for number, record in enumerate(records, start=1):
        drafts.append(draft(record, rules))
        if progress is not None:
            progress(number, len(records))
    found = [item.found for item in drafts]
    groups = visit_groups(records)
    spreads: dict[int, Spread] = {}
    networks = []
    for group in groups:
        for spread in sister_spreads(records, group, found):
            for place in spread.members:
                found[place].values["phase_spread"] = spread.quantity
                spreads[place] = spread
        solved = network(records, group, found)
        if solved is not None:
            networks.append(solved)
    references = _references(records, drafts)
    evaluated = tuple(
        _evaluated(item, rules, reference, spreads.get(place))
        for place, (item, reference) in enumerate(zip(drafts, references, strict=True))
    )
    evaluated = with_causes(evaluated, groups, spreads, rules.library)
    return Evaluation(
        records=evaluated,
        visits=tuple(_visit(evaluated, group, spreads) for group in groups),
        networks=tuple(networks),
        errors=tuple(errors),
        rules=RuleNames(
            rules.profile.id, rules.profile.title, rules.profile.sha256, rules.library.digest, __version__
        ),
    )


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
    add_uncertainty(record, window, found)
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
    settled = correction(rule, use.base, record.conditions.winding_temperature)
    for quantity_id, quantity in list(found.values.items()):
        if correctable(quantity_id):
            if settled.factor is None:
                found.missing[f"{quantity_id}_corrected"] = settled.reason
            else:
                value = corrected(quantity, rule, use.base, settled.factor)
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
    findings.sort(key=lambda finding: finding.status.rung if finding.status else -1, reverse=True)
    return tuple(findings), passed


def _references(records: Sequence[Record], drafts: Sequence[Draft]) -> list[dict[tuple[str, str], float]]:
    """Return, for each record, the first and last earlier values of the same section tested the same way."""
    references: list[dict[tuple[str, str], float]] = [{} for _ in records]
    order = sorted(
        (place for place, record in enumerate(records) if record.day is not None and asset_key(record)),
        key=lambda place: str(records[place].day),
    )
    seen: dict[tuple[object, ...], dict[tuple[str, str], float]] = {}
    for place in order:
        record, item = records[place], drafts[place]
        alike = (asset_key(record), section_name(record), record.test.method, record.test.test_voltage)
        known = seen.setdefault(alike, {})
        references[place] = dict(known)
        for quantity_id, quantity in item.found.values.items():
            known.setdefault(("first", quantity_id), quantity.value)
            known["last", quantity_id] = quantity.value
    return references


_NEED = {Status.UNFIT: 0, Status.INVESTIGATE: 1, Status.INVALID_TEST: 2, Status.NOT_JUDGED: 3, Status.WATCH: 4,
         Status.SOUND: 5, Status.NOT_APPLICABLE: 6}  # fmt: skip


def _evaluated(
    item: Draft, rules: Rules, references: Mapping[tuple[str, str], float], spread: Spread | None
) -> Evaluated:
    made = turned(judgements(item.record, item.facts, rules, item.found, references), item.findings)
    if spread is not None:
        made = [
            replace(j, reason=f"{j.reason.rstrip('.')}. {spread.odd} departs most.")
            if j.quantity == "phase_spread" and j.status.rung > 0
            else j
            for j in made
        ]
    kept, untested = _sorted_out(item, made)
    return Evaluated(
        record=item.record,
        method=item.method,
        quantities=item.found.values,
        findings=item.findings,
        judgements=tuple(sorted(kept, key=lambda j: (_NEED[j.status], not j.decides))),
        verdict=conclude(item.record, kept, item.findings),
        checks_made=len(CHECKS),
        checks_passed=item.checks_passed,
        not_tested=untested,
        steps=item.steps,
        ramp=item.ramp,
        measured_ramp_rate=item.ramp_rate,
    )


def _sorted_out(item: Draft, made: Sequence[Judgement]) -> tuple[list[Judgement], tuple[NotTested, ...]]:
    """Part the judgements that speak of this test from those whose quantity it was not made for."""
    kept = []
    untested: dict[str, NotTested] = {}
    for judgement in made:
        spoken = judgement.decides or judgement.quantity in item.method.quantities
        if judgement.value is not None or spoken or judgement.status.rung >= 0:
            kept.append(judgement)
        else:
            untested[judgement.quantity] = NotTested(judgement.name, judgement.reason)
    for quantity_id in item.method.quantities:
        if quantity_id not in item.found.values and quantity_id not in untested:
            reason = item.found.missing.get(quantity_id, "The readings do not give it.")
            untested[quantity_id] = NotTested(lookup(quantity_id).name, reason)
    return kept, tuple(untested.values())


def _visit(evaluated: Sequence[Evaluated], group: Sequence[int], spreads: Mapping[int, Spread]) -> Visit:
    members = [evaluated[place] for place in group]
    record = members[0].record
    statuses = [member.verdict.status for member in members]
    status = worst(statuses) or Status.NOT_JUDGED
    # a reading of joined windings is no judgement of its own: it serves the network
    single = [m for m in members if len(tested_windings(m.record)) < 2 or m.method.id != "terminal-set"]
    held = [m.verdict.status for m in single if m.verdict.status in (Status.NOT_JUDGED, Status.INVALID_TEST)]
    if held and status.rung < Status.INVESTIGATE.rung:
        status = held[0]
    counts = {word: statuses.count(word) for word in _NEED if word in statuses}
    sentence = ", ".join(f"{count} {word}" for word, count in counts.items())
    noun = "record" if len(group) == 1 else "records"
    sentence = f"{len(group)} {noun}: {sentence}."
    spread = next((spreads[place] for place in group if place in spreads), None)
    if spread is not None:
        value = format_quantity(Measured(spread.quantity.value, spread.quantity.bound), "ratio")
        sentence += f" The sections spread by {value} (largest over smallest 60 s resistance)"
        sentence += f"; {spread.odd} departs most." if spread.quantity.value > 1 else "."
    day = record.day
    return Visit(
        asset=record.asset.title,
        name=record.paper.visit or (day.isoformat() if day else ""),
        members=tuple(group),
        status=status,
        sentence=sentence,
    )
