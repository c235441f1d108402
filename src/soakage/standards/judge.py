"""Judges a record's quantities against criteria: pure, and the same for every kind of limit.

A missing nameplate value is tried at each possibility: where all agree that is the judgement, else it
is *not judged* and the key is named.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from soakage.model.keys import KEYS
from soakage.model.verdict import Judgement, Limit, QuantityValue, Status, worst
from soakage.standards.criterion import Criterion, Group, Kind, Waiver
from soakage.standards.limits import limit_for
from soakage.units import Bound, format_quantity

Facts = Mapping[str, object]
Find = Callable[[str, Facts], QuantityValue | str]

TOLERANCE = 1e-9  # relative: a value typed as the limit meets it, whatever its last binary digit

ENUMERABLE = ("year", "insulation", "winding", "filling", "thermal_class", "current", "winding_part",
              "winding_connection", "rated_voltage")  # fmt: skip
_WORDS = {
    "insulation": ("thermosetting", "thermoplastic"),
    "winding_part": ("whole", "phase-others-earthed", "phase-others-guarded"),
    "winding_connection": ("wye", "delta"),
}


@dataclass(frozen=True, slots=True)
class Subject:
    """What is judged.

    Parameters
    ----------
    facts : mapping
        Stated keys in SI and derived facts.
    find : callable
        Returns a quantity under given facts, or the reason there is none.
    correction_keys : tuple of str
        Keys the corrected quantities hang on.
    references : mapping
        Values of reference records by (factory, first or last; quantity id).
    """

    facts: Facts
    find: Find
    correction_keys: tuple[str, ...] = ()
    references: Mapping[tuple[str, str], float] | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one criterion says under one set of facts."""

    criterion: Criterion | None
    status: Status
    reason: str
    limit: Limit | None = None
    value: QuantityValue | None = None


def status_of(criterion: Criterion, limit: Limit, value: float, bound: Bound | None) -> tuple[Status, str]:
    """Return the status of a value against a limit, and the reason in words.

    Parameters
    ----------
    criterion : Criterion
        Gives the kind of limit and what a breach means.
    limit : Limit
        The limit formed for the record.
    value : float
        In SI.
    bound : Bound or None
        Set when the value only bounds the truth.

    Returns
    -------
    status : Status
        On the ladder, or *not judged* where a bound decides nothing.
    reason : str
        One sentence.
    """
    if criterion.kind is Kind.BAND:
        return _band(criterion, limit, value, bound)
    edge = limit.lower if limit.lower is not None else limit.upper
    if edge is None:
        return Status.NOT_JUDGED, "The criterion gives no limit for this record."
    lower = limit.lower is not None
    close = abs(value - edge) <= TOLERANCE * abs(edge)
    above, below = value > edge or close, value < edge or close
    if bound is None:
        met = above if lower else below
    elif (bound is Bound.LOWER and above) or (bound is Bound.UPPER and below):
        met = (bound is Bound.LOWER) == lower
    else:
        side = "at least" if bound is Bound.LOWER else "at most"
        return Status.NOT_JUDGED, f"The reading is only known to be {side} its figure; that does not decide."
    return (Status.SOUND, "Met.") if met else (criterion.breach, criterion.breach_means)


def _band(criterion: Criterion, limit: Limit, value: float, bound: Bound | None) -> tuple[Status, str]:
    place = 0
    for index, edge in enumerate(criterion.edges):
        side = criterion.at_edge[index] if criterion.at_edge else "upper"
        on_edge = abs(value - edge) <= TOLERANCE * abs(edge)
        if (on_edge and side == "upper") or (not on_edge and value > edge):
            place = index + 1
    reach = {None: {place}, Bound.LOWER: set(range(place, len(criterion.statuses)))}.get(
        bound, set(range(place + 1))
    )
    statuses = {criterion.statuses[index] for index in reach}
    if len(statuses) > 1:
        return Status.NOT_JUDGED, "The reading is a bound that reaches over an edge of the band."
    status = statuses.pop()
    return status, "Met." if status is Status.SOUND else f"{limit.text}: {criterion.breach_means}"


def _waived(criterion: Criterion, facts: Facts, find: Find) -> str | None:
    """Return the reason the criterion is not applicable, or None."""
    for waiver in criterion.waivers:
        if all(condition.holds(facts.get(condition.key)) for condition in waiver.when) and _above(
            waiver, facts, find
        ):
            return waiver.reason
    return None


def _above(waiver: Waiver, facts: Facts, find: Find) -> bool:
    if not waiver.quantity or waiver.above is None:
        return True
    found = find(waiver.quantity, facts)
    if isinstance(found, str):
        return False
    return found.bound is not Bound.UPPER and found.value > waiver.above * (1 + TOLERANCE)


def _outcome(members: Sequence[Criterion], group: Group | None, subject: Subject, assumed: Facts) -> Outcome:
    """Return what the one criterion that applies says when every fact it hangs on is given."""
    facts = {**subject.facts, **assumed} if assumed else subject.facts
    unknown: list[str] = []
    for criterion in members:
        held = [(condition.key, condition.holds(facts.get(condition.key))) for condition in criterion.applies]
        if not all(holds for _, holds in held):
            if all(holds is not False for _, holds in held):
                unknown += [key for key, holds in held if holds is None]
            continue
        method = facts.get("method")
        if criterion.methods and method not in criterion.methods:
            continue
        # a value that stands for all it could be picks a row, but gives no figure to compute with
        formed_from = facts
        if criterion.of in assumed:
            formed_from = {key: value for key, value in facts.items() if key != criterion.of}
        limit = limit_for(criterion, formed_from, subject.references or {})
        reason = _waived(criterion, facts, subject.find)
        formed = None if isinstance(limit, str) else limit
        found = subject.find(criterion.quantity, facts)
        value = None if isinstance(found, str) else found
        if reason:
            return Outcome(criterion, Status.NOT_APPLICABLE, reason, formed, value)
        if isinstance(limit, str):
            return Outcome(criterion, Status.NOT_JUDGED, limit, None, value)
        if isinstance(found, str):
            return Outcome(criterion, Status.NOT_JUDGED, found, limit)
        other = _other_base(criterion, found)
        if other:
            return Outcome(criterion, Status.NOT_JUDGED, other, limit, found)
        status, reason = status_of(criterion, limit, found.value, found.bound)
        return Outcome(criterion, status, reason, limit, found)
    if unknown:
        keys = " and ".join(f"'{key}'" for key in dict.fromkeys(unknown))
        return Outcome(None, Status.NOT_JUDGED, f"{keys} not stated; the limit hangs on it.")
    return Outcome(None, Status.NOT_APPLICABLE, group.none if group else "")


def _other_base(criterion: Criterion, found: QuantityValue) -> str:
    base = criterion.base_temperature
    if base is None or found.base_temperature is None or abs(base - found.base_temperature) < TOLERANCE:
        return ""
    given, needed = (format_quantity(t, "temperature") for t in (found.base_temperature, base))
    return f"The limit stands at {needed}, the value was referred to {given} by {found.rule}: never mixed."


def _possibilities(key: str, members: Sequence[Criterion]) -> list[object]:
    """Return values that stand for everything a missing key could be."""
    conditions = [
        condition
        for criterion in members
        for condition in (*criterion.applies, *(c for w in criterion.waivers for c in w.when))
        if condition.key == key and condition.stated is None
    ]
    if any(condition.words for condition in conditions) or key in _WORDS:
        words = KEYS[key].words if key in KEYS else ()
        return list(words or _WORDS.get(key, ()))
    edges = {e for c in conditions for e in (c.start, c.below, c.to) if e is not None}
    return [*sorted({value for edge in edges for value in (edge - 1, edge, edge + 1)})]


def _missing(members: Sequence[Criterion], subject: Subject) -> list[str]:
    """Return the missing keys that the judgement may hang on."""
    keys = [c.key for m in members for c in m.applies if c.stated is None]
    keys += [
        c.key for m in members for w in m.waivers for c in w.when if c.stated is None and len(w.when) < 2
    ]
    keys += [m.multiplier_key for m in members if m.multiplier_key]
    asked = [q for m in members for q in (m.quantity, *(w.quantity for w in m.waivers))]
    if any(quantity.endswith("_corrected") for quantity in asked):
        keys += subject.correction_keys
    return [key for key in dict.fromkeys(keys) if key in ENUMERABLE and subject.facts.get(key) is None]


def judge(
    members: Sequence[Criterion],
    group: Group | None,
    subject: Subject,
    *,
    decides: bool = False,
) -> Judgement | None:
    """Judge a record by the one criterion of a group that applies to it.

    Parameters
    ----------
    members : sequence of Criterion
        Alternatives, of which one holds for an asset.
    group : Group or None
        Its entry, where the criteria stand in a group.
    subject : Subject
        What is judged.
    decides : bool
        Whether the absence of this judgement holds the verdict back.

    Returns
    -------
    Judgement or None
        None where no criterion of the group applies and nothing need be said about it.
    """
    missing = _missing(members, subject)
    choices = [_possibilities(key, members) for key in missing]
    outcomes: list[tuple[dict[str, object], Outcome]] = []
    for combination in product(*choices):
        assumed = dict(zip(missing, combination, strict=True))
        outcomes.append((assumed, _outcome(members, group, subject, assumed)))
    judged = [out for _, out in outcomes if out.criterion is not None]
    if not judged:
        return _none_applies(members, group, outcomes, decides=decides)
    chosen = judged[0] if len(judged) == 1 else _strictest(judged)
    if decides:  # of a deciding rule, a possibility that no row describes is one not judged
        outcomes = [(assumed, _unjudged(out)) for assumed, out in outcomes]
    if {out.status for _, out in outcomes} == {chosen.status}:
        if missing and chosen.status.rung >= 0:
            reason = f"{chosen.reason} Judged at each possible {_names(missing)}; all agree."
            chosen = replace(chosen, reason=reason)
        return _judgement(chosen, decides=decides)
    return _judgement(
        replace(chosen, status=Status.NOT_JUDGED, reason=_dependence(missing, outcomes)), decides=decides
    )


def _unjudged(out: Outcome) -> Outcome:
    """Return the outcome, *not judged* where no criterion of a deciding rule applies."""
    return replace(out, status=Status.NOT_JUDGED) if out.criterion is None else out


def _names(keys: Sequence[str]) -> str:
    return ", ".join(key.replace("_", " ") for key in keys)


def _dependence(missing: Sequence[str], judged: Sequence[tuple[dict[str, object], Outcome]]) -> str:
    """Say which missing keys decide, and what would follow from each value."""
    deciding = [key for key in missing if _matters(key, judged)] or list(missing)
    seen: dict[str, list[tuple[str, ...]]] = {}
    for assumed, out in judged:
        seen.setdefault(str(out.status), []).append(tuple(_word(assumed[key]) for key in deciding))
    whole = [
        list(dict.fromkeys(values)) for values in zip(*(c for cs in seen.values() for c in cs), strict=True)
    ]
    cases = "; ".join(
        f"{status} for {' or for '.join(_cases(deciding, whole, dict.fromkeys(combinations)))}"
        for status, combinations in seen.items()
    )
    keys = " and ".join(f"'{key}'" for key in deciding)  # as they are typed: they are what to give
    return f"Hangs on {keys}, which the record does not state ({cases})."


def _word(value: object) -> str:
    return f"{value:.9g}" if isinstance(value, float) else str(value)


def _cases(
    keys: Sequence[str], whole: Sequence[list[str]], combinations: Iterable[tuple[str, ...]]
) -> list[str]:
    """Return combinations of values in as few words as they allow: values that share all the rest, together."""
    rests: dict[str, list[tuple[str, ...]]] = {}
    for first, *rest in combinations:
        rests.setdefault(first, []).append(tuple(rest))
    together: dict[tuple[tuple[str, ...], ...], list[str]] = {}
    for value, others in rests.items():
        together.setdefault(tuple(others), []).append(value)
    said = []
    for shared, values in together.items():
        name = _names(keys[:1])
        words = f"any {name}" if len(values) == len(whole[0]) > 1 else f"{name} {_either(values)}"
        tails = _cases(keys[1:], whole[1:], shared) if len(keys) > 1 else []
        said.append(words + (f" with {' or '.join(tails)}" if tails else ""))
    return said


def _either(values: Sequence[str]) -> str:
    return " or ".join(filter(None, (", ".join(values[:-1]), values[-1])))


def _matters(key: str, judged: Sequence[tuple[dict[str, object], Outcome]]) -> bool:
    by_rest: dict[tuple[tuple[str, object], ...], set[Status]] = {}
    for assumed, out in judged:
        rest = tuple((k, v) for k, v in assumed.items() if k != key)
        by_rest.setdefault(rest, set()).add(out.status)
    return any(len(statuses) > 1 for statuses in by_rest.values())


def _strictest(outcomes: Sequence[Outcome]) -> Outcome:
    """Return the outcome that says most: the worst status, then the tightest limit."""
    top = worst(out.status for out in outcomes)
    pool = [out for out in outcomes if out.status is top] if top else list(outcomes)

    def tightness(out: Outcome) -> float:
        if out.limit is None:
            return float("-inf")
        if out.limit.lower is not None:
            return out.limit.lower
        return -out.limit.upper if out.limit.upper is not None else float("-inf")

    return max(pool, key=tightness)


def _none_applies(
    members: Sequence[Criterion],
    group: Group | None,
    outcomes: Sequence[tuple[dict[str, object], Outcome]],
    *,
    decides: bool,
) -> Judgement | None:
    unknown = next((out.reason for _, out in outcomes if out.status is Status.NOT_JUDGED), "")
    if group is None or not (group.none or unknown):
        return None
    first = members[0]
    return Judgement(
        criterion=group.id,
        name=group.name,
        quantity=group.quantity,
        limit=None,
        status=Status.NOT_JUDGED if decides or unknown else Status.NOT_APPLICABLE,
        reason=unknown or group.none,
        source=first.source,
        verified=str(first.verified),
        decides=decides,
        data_hash=first.standard.sha256,
    )


def _judgement(out: Outcome, *, decides: bool) -> Judgement:
    criterion = out.criterion
    if criterion is None:
        raise ValueError("an outcome without a criterion is no judgement")
    return Judgement(
        criterion=criterion.id,
        name=criterion.name,
        quantity=criterion.quantity,
        limit=out.limit,
        status=out.status,
        reason=out.reason,
        source=criterion.source,
        verified=str(criterion.verified),
        decides=decides,
        user_limit=criterion.verified == "user",
        value=out.value.value if out.value else None,
        bound=out.value.bound if out.value else None,
        data_hash=criterion.standard.sha256,
    )
