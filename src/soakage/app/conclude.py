"""Combines judgements and findings into a verdict, with its sentence and what to do next."""

from __future__ import annotations

from collections.abc import Sequence

from soakage.model.record import Record
from soakage.model.verdict import Finding, Judgement, QuantityValue, Status, Verdict, worst
from soakage.quantities import lookup
from soakage.units import Measured, format_quantity

_KEEP_OUT = (
    "Do not energise it or test it at overvoltage until it has been treated and tested again; the decision is the "
    "responsible engineer's."
)
_EXPLAIN = "Explain it before energising: repeat, clean, dry, or make another test."


def conclude(record: Record, judgements: Sequence[Judgement], findings: Sequence[Finding]) -> Verdict:
    """Return the verdict on a record.

    Parameters
    ----------
    record : Record
        The record.
    judgements : sequence of Judgement
        All judgements made.
    findings : sequence of Finding
        All findings made.

    Returns
    -------
    Verdict
        The worst of all; held back where a deciding criterion could not be judged.
    """
    statuses = [j.status for j in judgements] + [f.status for f in findings if f.status]
    reached = worst(statuses)
    held = [j for j in judgements if j.decides and j.status in (Status.NOT_JUDGED, Status.INVALID_TEST)]
    decided = [j for j in judgements if j.decides and j.status.rung >= 0]
    if reached is not None and reached.rung >= Status.INVESTIGATE.rung:
        return Verdict(
            reached, _bad(record, reached, judgements, findings), _actions(reached, judgements, findings)
        )
    if held:
        invalid = any(j.status is Status.INVALID_TEST for j in held)
        status = Status.INVALID_TEST if invalid else Status.NOT_JUDGED
        first = next(j for j in held if j.status is status)
        return Verdict(
            status, f"{record.title}: {first.name}: {first.reason}", _actions(status, held, findings)
        )
    if reached is None or not decided:
        why = next(
            (j.reason for j in judgements if j.decides), "no criterion of the profile decides this test"
        )
        return Verdict(
            Status.NOT_JUDGED,
            f"{record.title}: not judged: {why[0].lower()}{why[1:]}".rstrip(".") + ".",
            _actions(Status.NOT_JUDGED, judgements, findings),
        )
    return Verdict(
        reached, _good(record, reached, judgements, findings), _actions(reached, judgements, findings)
    )


def judged_text(judgement: Judgement) -> str:
    """Return a judged value as a report prints it, a bound with its sign; a dash where there was none."""
    if judgement.value is None:
        return "\N{EN DASH}"
    return format_quantity(Measured(judgement.value, judgement.bound), lookup(judgement.quantity).dimension)


def quantity_text(quantity: QuantityValue) -> str:
    """Return a quantity as a report prints it, a bound with its sign."""
    return format_quantity(Measured(quantity.value, quantity.bound), lookup(quantity.id).dimension)


def _bad(record: Record, status: Status, judgements: Sequence[Judgement], findings: Sequence[Finding]) -> str:
    """Name the thing, the number and the limit; what is good comes with what is not."""
    broken = [j for j in judgements if j.status is status]
    noticed = [f.sentence for f in findings if f.status is status]
    if not broken:
        return f"{record.title}: {noticed[0]}"
    parts = [_breach(j) for j in broken]
    if status is Status.UNFIT and noticed:  # a breakdown is said before any figure
        parts[0] = f"{' '.join(noticed)} {parts[0][0].upper()}{parts[0][1:]}"
    met = [j for j in judgements if j.status is Status.SOUND and j.decides]
    good = f" It meets its {_join([_short(j) for j in met])}." if met else ""
    return f"{record.title}: {_join(parts)}.{good}"


def _breach(judgement: Judgement) -> str:
    value = judged_text(judgement)
    if judgement.limit is None:
        return f"{_short(judgement)} is {value}"
    if judgement.limit.kind == "band":
        return f"{_short(judgement)} is {value} ({judgement.limit.text})"
    spread = judgement.quantity == "phase_spread"
    named = f" ({judgement.reason.rstrip('.').rsplit('. ', 1)[-1]})" if spread else ""
    return f"{_short(judgement)} is {value}, where {judgement.limit.text} is required{named}"


def _short(judgement: Judgement) -> str:
    name = lookup(judgement.quantity).name
    return name if name[:2].isupper() else name[0].lower() + name[1:]


def _good(
    record: Record, status: Status, judgements: Sequence[Judgement], findings: Sequence[Finding]
) -> str:
    decided = [j for j in judgements if j.decides and j.status.rung >= 0]
    met = [j for j in decided if j.status is Status.SOUND]
    parts = [f"{_short(j)} {judged_text(j)}" + (f" ({j.limit.text})" if j.limit else "") for j in met]
    if len(met) == len(decided):
        sentence = f"{record.title}: meets every deciding criterion: {_join(parts)}."
    else:
        sentence = f"{record.title}: meets {_join(parts)}." if met else f"{record.title}:"
    if status is Status.WATCH:
        watched = [f"{_breach(j)}" for j in judgements if j.status is Status.WATCH]
        watched += [f.sentence.rstrip(".") for f in findings if f.status is Status.WATCH]
        sentence += f" To follow: {'; '.join(watched)}."
    return sentence


def _join(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def _actions(status: Status, judgements: Sequence[Judgement], findings: Sequence[Finding]) -> tuple[str, ...]:
    actions: list[str] = []
    if status is Status.UNFIT:
        actions.append(_KEEP_OUT)
    if status is Status.INVESTIGATE:
        actions.append(_EXPLAIN)
    ordered = sorted(findings, key=lambda f: f.status.rung if f.status else -1, reverse=True)
    actions += [f.remedy for f in ordered if f.remedy and (f.status or f.turns)]
    actions += [
        j.reason
        for j in judgements
        if j.status.rung >= Status.WATCH.rung and j.limit is not None and j.limit.kind != "band"
    ]
    actions += [f.remedy for f in ordered if f.remedy and not (f.status or f.turns)]
    if status in (Status.NOT_JUDGED, Status.INVALID_TEST):
        actions.append("Supply what is missing, or repeat the test, and judge again.")
    if status is Status.WATCH:
        actions.append("Repeat the same test the same way at the next opportunity and compare.")
    if status is Status.SOUND:
        actions.append("Keep this record; the next test is compared with it.")
    return tuple(dict.fromkeys(actions))
