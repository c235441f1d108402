"""The criteria a plan's readings will meet: the limit, and what it means on the meter when it is cooler."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from soakage.app.rules import Rules
from soakage.methods.base import Method
from soakage.model.verdict import Limit
from soakage.standards.criterion import Condition, Criterion, Kind
from soakage.standards.limits import limit_for
from soakage.standards.temperature import factor

READ_AT_DEGC = (20.0, 25.0, 30.0)
_RESISTANCE = "insulation_resistance"
_COMPARED = (Kind.SPREAD, Kind.REFERENCE)


@dataclass(frozen=True, slots=True)
class Expected:
    """One criterion that will judge a reading of the plan.

    Parameters
    ----------
    id, name, quantity : str
        Of the criterion.
    limit : Limit or None
        In SI; None where it cannot be formed yet.
    reason : str
        Why not, or what it hangs on; may be empty.
    readings : tuple of (float, float)
        Temperature [degC] and the resistance read there [ohm] that just meets the limit.
    rule : str
        Name of the temperature rule of `readings`; empty without one.
    source, verified : str
        Where the criterion stands and how that was verified.
    rule_verified : str
        How the temperature rule was verified.
    decides : bool
        Whether the verdict cannot do without it.
    for_what : tuple of str
        Connections it is for, by what is live.
    """

    id: str
    name: str
    quantity: str
    limit: Limit | None
    reason: str
    readings: tuple[tuple[float, float], ...]
    rule: str
    source: str
    verified: str
    rule_verified: str
    decides: bool
    for_what: tuple[str, ...] = ()


def index_waived(rules: Rules, facts: Mapping[str, object]) -> str:
    """Return why the rule set would not judge a polarization index of this nameplate; else empty.

    Parameters
    ----------
    rules : Rules
        Name the criteria.
    facts : mapping of str to object
        Nameplate keys, SI.

    Returns
    -------
    str
        The reason the criterion itself gives.
    """
    for use in rules.profile.uses_for(facts):
        for reference in use.criteria:
            for criterion in rules.profile.members(reference, rules.library, None):
                if criterion.quantity != "polarization_index":
                    continue
                for waiver in criterion.waivers:
                    if waiver.when and not waiver.quantity and _all_hold(waiver.when, facts):
                        return waiver.reason
    return ""


def expected(rules: Rules, facts: Mapping[str, object], method: Method) -> Iterator[Expected]:
    """Yield the criteria that judge a test of this method under these facts.

    Parameters
    ----------
    rules : Rules
        Name the criteria, the user's own limits and the temperature rule.
    facts : mapping of str to object
        Of one connection, SI.
    method : Method
        Its quantities decide which criteria can be met.

    Yields
    ------
    Expected
        In the order of the rule set.
    """
    for use in rules.profile.uses_for(facts):
        for reference in use.criteria:
            for criterion in rules.profile.members(reference, rules.library, None):
                if not _meets(criterion, method, facts):
                    continue
                if any(_all_hold(w.when, facts) for w in criterion.waivers if w.when and not w.quantity):
                    continue
                decides = "*" in use.decides or method.id in use.decides
                yield _expected(rules, facts, criterion, decides=decides)
    for criterion in rules.limits:
        if _meets(criterion, method, facts):
            yield _expected(rules, facts, criterion, decides=True)


def _all_hold(conditions: tuple[Condition, ...], facts: Mapping[str, object]) -> bool:
    return all(condition.holds(facts.get(condition.key)) for condition in conditions)


def _meets(criterion: Criterion, method: Method, facts: Mapping[str, object]) -> bool:
    if criterion.methods and method.id not in criterion.methods:
        return False
    if any(condition.holds(facts.get(condition.key)) is False for condition in criterion.applies):
        return False
    made = set(method.quantities)
    spot = f"{_RESISTANCE}_60s"
    if _RESISTANCE in made:  # a reading without a time is taken as the one-minute value
        made |= {spot, f"{spot}_corrected", f"{_RESISTANCE}_corrected"}
    if criterion.kind is Kind.SPREAD:
        return spot in made and facts.get("winding_part") != "whole"
    return criterion.quantity in made or (criterion.quantity == _RESISTANCE and spot in made)


def _expected(rules: Rules, facts: Mapping[str, object], criterion: Criterion, *, decides: bool) -> Expected:
    found = limit_for(criterion, facts, {})
    limit = None if isinstance(found, str) else found
    reasons = [found] if isinstance(found, str) else []
    open_keys = [c.key for c in criterion.applies if c.holds(facts.get(c.key)) is None]
    if open_keys:
        reasons.append(f"Hangs on {', '.join(_word(key) for key in open_keys)}, not stated.")
    readings: tuple[tuple[float, float], ...] = ()
    name = verified = ""
    edge = limit.lower if limit is not None and criterion.kind not in _COMPARED else None
    if edge is not None and criterion.base_temperature is not None:
        use = rules.temperature_for(facts)
        if use is None:
            reasons.append("No temperature rule can be picked; state the insulation or the filling.")
        else:
            rule = rules.library.temperature_rules[use.rule]
            name, verified = rule.name, str(rule.verified)
            factors = [(t, factor(rule, t, use.base).value) for t in READ_AT_DEGC]
            readings = tuple((t, edge / k) for t, k in factors if k)
    return Expected(
        criterion.id, criterion.name, criterion.quantity, limit, " ".join(reasons), readings, name,
        criterion.source, str(criterion.verified), verified, decides,
    )  # fmt: skip


def _word(key: str) -> str:
    return key.replace("_", " ")
