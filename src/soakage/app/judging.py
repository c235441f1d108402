"""Judges the quantities of one record by the rules: which criteria, which decide, how far each may go."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from soakage.app.derive import Quantities
from soakage.app.derive_whole import corrected, correction
from soakage.app.guarding import with_conformity
from soakage.app.rules import Rules
from soakage.model.record import Record
from soakage.model.verdict import Finding, Judgement, QuantityValue, Status, capped
from soakage.quantities import lookup
from soakage.standards.criterion import Criterion
from soakage.standards.judge import Find, Subject, judge
from soakage.units import Measured, format_quantity

Facts = Mapping[str, object]
_CORRECTED = "_corrected"


def finder(record: Record, rules: Rules, found: Quantities) -> Find:
    """Return the function by which criteria ask for a quantity under given facts.

    Parameters
    ----------
    record : Record
        The record.
    rules : Rules
        Pick the temperature rule.
    found : Quantities
        What the readings gave.

    Returns
    -------
    callable
        Gives a quantity, or the reason there is none.
    """
    known: dict[tuple[str, str, float], QuantityValue | str] = {}

    def find(quantity_id: str, facts: Facts) -> QuantityValue | str:
        if quantity_id in found.blocked:
            return found.blocked[quantity_id]
        if not quantity_id.endswith(_CORRECTED):
            return found.values.get(quantity_id) or _why_missing(quantity_id, found)
        raw_id = quantity_id.removesuffix(_CORRECTED)
        raw = found.values.get(raw_id)
        if raw is None:
            return _why_missing(raw_id, found)
        use = rules.temperature_for(facts)
        if use is None:
            keys = " and ".join(f"'{key}'" for key in rules.correction_keys(facts)) or "the class"
            return f"No temperature rule can be chosen: {keys} not stated."
        place = (raw_id, use.rule, use.base)
        if place not in known:
            rule = rules.library.temperature_rules[use.rule]
            result = correction(rule, use.base, record.conditions)
            known[place] = result.reason if result.factor is None else corrected(raw, rule, result)
        return known[place]

    return find


def _why_missing(quantity_id: str, found: Quantities) -> str:
    return found.missing.get(quantity_id) or f"{lookup(quantity_id).name} is not in this record."


def judgements(
    record: Record,
    facts: Facts,
    rules: Rules,
    found: Quantities,
    references: Mapping[tuple[str, str], float],
) -> list[Judgement]:
    """Return every judgement the profile and the user's limits make on a record.

    Parameters
    ----------
    record : Record
        The record.
    facts : mapping
        What it states and what follows from its connection.
    rules : Rules
        Profile, criteria, own limits.
    found : Quantities
        What the readings gave.
    references : mapping
        Values of reference records by (factory, first or last; quantity).

    Returns
    -------
    list of Judgement
        In the order of the profile.
    """
    subject = Subject(facts, finder(record, rules, found), rules.correction_keys(facts), references)
    results: dict[str, Judgement] = {}
    for use in rules.profile.uses_for(facts):
        decides = record.test.method in use.decides or "*" in use.decides
        for reference in use.criteria:
            members = rules.profile.members(reference, rules.library, record.day)
            if not members:
                continue
            group = rules.library.groups.get(reference)
            judgement = judge(members, group, subject, decides=decides)
            if judgement is not None and judgement.criterion not in results:
                results[judgement.criterion] = (
                    _beside(judgement) if use.shown else _capped(judgement, use.cap)
                )
    for limit in rules.limits:
        results[limit.id] = _own_limit(limit, subject)
    missing = _demanded_missing(record, rules)
    if missing:
        names = ", ".join(f"'{key}'" for key in missing)
        reason = f"The profile {rules.profile.id} demands {names}, which the record does not state."
        results = {k: replace(j, status=Status.NOT_JUDGED, reason=reason) if j.status.rung in (0, 1) else j
                   for k, j in results.items()}  # fmt: skip
    guarded = rules.guarded or rules.profile.guarded
    return [with_conformity(j, subject.find(j.quantity, facts), guarded=guarded) for j in results.values()]


def _demanded_missing(record: Record, rules: Rules) -> list[str]:
    """Return the keys the profile demands and the record does not state."""
    if not rules.profile.demanded:
        return []
    stated = record.stated()
    if "winding_temperature" in stated:  # one temperature under two names
        stated["insulation_temperature"] = stated["winding_temperature"]
    return [key for key in rules.profile.demanded if key not in stated]


def _capped(judgement: Judgement, cap: Status | None) -> Judgement:
    status = capped(judgement.status, cap)
    if status is judgement.status:
        return judgement
    return replace(
        judgement, status=status, reason=f"{judgement.reason} (No more than {status} in this profile.)"
    )


def _beside(judgement: Judgement) -> Judgement:
    """Return a judgement of a criterion that is only shown: it counts for nothing."""
    if judgement.status.rung < 0:
        return judgement
    met = "met" if judgement.status is Status.SOUND else "not met"
    return replace(
        judgement,
        status=Status.NOT_APPLICABLE,
        reason=f"Shown beside; this profile does not judge by it. It would be {met}.",
    )


def _own_limit(limit: Criterion, subject: Subject) -> Judgement:
    """Judge a user's limit; raw, and said so, where no correction applies to the class."""
    if limit.quantity.endswith(_CORRECTED) and subject.facts.get("class") == "low-voltage-installation":
        raw_id = limit.quantity.removesuffix(_CORRECTED)
        name = f"{lookup(raw_id).name}, your own limit (as read: no correction applies)"
        limit = replace(limit, quantity=raw_id, name=name)
    if limit.quantity == "insulation_resistance_60s" and isinstance(
        subject.find(limit.quantity, subject.facts), str
    ):
        limit = replace(limit, quantity="insulation_resistance")
    judgement = judge((limit,), None, subject, decides=True)
    if judgement is None:
        raise ValueError("a user's limit applies to every record")
    return judgement


def turned(judgements_made: list[Judgement], findings: tuple[Finding, ...]) -> list[Judgement]:
    """Return the judgements, breaches made *invalid test* where a condition can turn bad into good.

    Parameters
    ----------
    judgements_made : list of Judgement
        As judged.
    findings : tuple of Finding
        Made on the reading.

    Returns
    -------
    list of Judgement
    """
    turning = [finding for finding in findings if finding.turns]
    if not turning:
        return judgements_made
    return [
        replace(
            judgement,
            status=Status.INVALID_TEST,
            reason=f"{turning[0].sentence} Read was {_value(judgement)}; it gives no ground to energise.",
        )
        if judgement.status.rung >= 0
        else judgement
        for judgement in judgements_made
    ]


def _value(judgement: Judgement) -> str:
    if judgement.value is None:
        return "nothing"
    return format_quantity(Measured(judgement.value, judgement.bound), lookup(judgement.quantity).dimension)
