"""The result as plain text for a terminal: readable without colour, at 80 columns or more."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from soakage.app.conclude import judged_text, quantity_text
from soakage.app.result import Evaluated, Evaluation, Network, Pair
from soakage.cli.diagnosis_text import diagnosis_text
from soakage.cli.dry_out_text import dry_out_text
from soakage.cli.uncertainty_text import budget_text, conformity_text
from soakage.cli.wrapping import width, wrapped
from soakage.model.verdict import Judgement, QuantityValue
from soakage.quantities import lookup, resistance_mark
from soakage.standards.criterion import sourced
from soakage.units import Measured, format_quantity

AFTERWARDS = (
    "Local codes and licensed practice come first. Prove dead, discharge, earth and wait; earth again: charge "
    "returns. Whoever signs decides."
)


def evaluation_text(evaluation: Evaluation) -> Iterator[str]:
    """Yield the lines of the whole result."""
    schedule = [e for e in evaluation.records if e.record.origin.row is not None]
    for evaluated in evaluation.records:
        if evaluated not in schedule:
            yield from record_text(evaluated)
            yield ""
    if schedule:
        yield from schedule_text(schedule)
        yield ""
    for visit in evaluation.visits:
        if len(visit.members) > 1:
            name = f" ({visit.name})" if visit.name else ""
            yield wrapped(f"{visit.asset}{name}: {str(visit.status).upper()}. {visit.sentence}", "  ", "")
    for network in evaluation.networks:
        yield from network_text(network)
    for dry_out in evaluation.dry_out:
        yield from dry_out_text(dry_out)
    yield wrapped(
        f"Rules: {evaluation.rules.profile_title} (profile {evaluation.rules.profile}). {AFTERWARDS}"
    )


def record_text(evaluated: Evaluated) -> Iterator[str]:
    """Yield the lines of one record: verdict first, then why."""
    record = evaluated.record
    where = f"  [{record.origin.file}]" if record.origin.file else ""
    yield wrapped(f"{record.title}: {evaluated.method.title}{where}", "  ", "")
    yield "-" * width()
    yield f"  {str(evaluated.verdict.status).upper()}"
    yield wrapped(evaluated.verdict.sentence, "  ")
    yield ""
    yield "  Quantities"
    rows = [(lookup(q.id).name, quantity_text(q), uncertainty_text(q), how_text(q)) for q in shown(evaluated)]
    yield from _table(rows)
    if all(q.uncertainty is None for q in evaluated.quantities.values()):
        yield "    (no accuracy of the instrument declared: no uncertainty)"
    judged = {judgement.quantity for judgement in evaluated.judgements}
    yield from budget_text(q for q in evaluated.quantities.values() if q.id in judged)
    yield from _steps(evaluated)
    yield ""
    yield "  Criteria"
    for judgement in evaluated.judgements:
        yield from judgement_text(judgement)
    yield ""
    yield wrapped(
        f"Findings ({evaluated.checks_passed} of {evaluated.checks_made} checks found nothing)", "  "
    )
    for finding in evaluated.findings:
        mark = f"[{finding.status}] " if finding.status else ""
        yield wrapped(f"{finding.code}: {mark}{finding.sentence}", "      ", "    - ")
    yield from diagnosis_text(evaluated)
    if evaluated.not_tested:
        yield ""
        yield "  Not tested"
        for entry in evaluated.not_tested:
            yield wrapped(f"{entry.what}: {entry.why}", "      ", "    - ")
    yield ""
    yield "  What to do next"
    for number, action in enumerate(evaluated.verdict.actions, start=1):
        yield wrapped(action, "       ", f"    {number}. ")


def shown(evaluated: Evaluated) -> list[QuantityValue]:
    """Return the quantities a reader wants: corrected values only at marks that carry a criterion."""
    judged = {judgement.quantity for judgement in evaluated.judgements}
    wanted = judged | set(evaluated.method.quantities)
    return [
        q
        for q in evaluated.quantities.values()
        if not q.id.endswith("_corrected") or q.id in wanted or resistance_mark(q.id) is None
    ]


def uncertainty_text(quantity: QuantityValue) -> str:
    """Return the expanded uncertainty, 95 %, or nothing where none was declared."""
    if quantity.uncertainty is None:
        return ""
    return "± " + format_quantity(2 * quantity.uncertainty, lookup(quantity.id).dimension, digits=2)


def how_text(quantity: QuantityValue) -> str:
    """Return in one phrase how a quantity was obtained."""
    return quantity.formula


def judgement_text(judgement: Judgement) -> Iterator[str]:
    """Yield the lines of one judgement."""
    value = judged_text(judgement)
    limit = judgement.limit.text if judgement.limit else "no limit"
    yield wrapped(f"{judgement.status}: {judgement.name}: {value}; {limit}", "      ", "    - ")
    source = sourced(judgement.source, judgement.verified)
    reason = "" if judgement.reason == "Met." else f" {judgement.reason}"
    yield wrapped(f"{source}{reason}{conformity_text(judgement)}", "      ")


def _table(rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    widths = [max((len(row[k]) for row in rows), default=0) for k in range(3)]
    for name, value, uncertainty, how in rows:
        line = f"    {name:<{widths[0]}}  {value:>{widths[1]}}"
        if widths[2]:
            line += f"  {uncertainty:<{widths[2]}}"
        if len(line.rstrip()) > width():
            yield f"    {name}"
            line = f"      {value}  {uncertainty}"
        if not how or len(line) + 2 + len(how) <= width():
            yield f"{line}  {how}".rstrip()
        else:
            yield line.rstrip()
            yield wrapped(how, "        ", "      ")


def _steps(evaluated: Evaluated) -> Iterator[str]:
    if evaluated.steps:
        yield ""
        yield "  Steps (end of hold)"
        yield from _table(
            [
                (
                    format_quantity(row.voltage, "voltage"),
                    format_quantity(row.current, "current") if row.current == row.current else "\N{EN DASH}",
                    "",
                    f"{format_quantity(row.resistance, 'resistance')} after {format_quantity(row.hold, 'time')}"
                    if row.resistance == row.resistance
                    else "",
                )
                for row in evaluated.steps
            ]
        )
    if evaluated.ramp and evaluated.measured_ramp_rate is not None:
        yield ""
        yield f"  Ramp ({format_quantity(evaluated.measured_ramp_rate, 'ramp_rate')} measured)"
        yield from _table(
            [
                (
                    format_quantity(row.voltage, "voltage"),
                    format_quantity(row.current, "current"),
                    "",
                    f"apparent capacitance {format_quantity(row.apparent_capacitance, 'capacitance')}",
                )
                for row in evaluated.ramp
            ]
        )


def schedule_text(schedule: Sequence[Evaluated]) -> Iterator[str]:
    """Yield the lines of a schedule of circuits: one table."""
    yield f"Circuits  [{schedule[0].record.origin.file}]"
    yield "-" * width()
    rows = []
    for evaluated in schedule:
        asset = evaluated.record.asset
        quantity = evaluated.quantities.get("insulation_resistance")
        limit = next((j.limit.text for j in evaluated.judgements if j.limit), "no limit")
        rows.append(
            (
                f"{asset.circuit or ''}  {asset.between or ''}".strip(),
                quantity_text(quantity) if quantity else "\N{EN DASH}",
                str(evaluated.verdict.status),
                limit,
            )
        )
    yield from _table(rows)


def network_text(network: Network) -> Iterator[str]:
    """Yield the lines of one network."""
    yield f"{network.asset}: resistance between terminals"
    for pair in network.pairs:
        yield f"    {' to '.join(pair.between):<24}  {_pair_text(pair)}"
    if network.consistent is not None:
        chance = "" if network.probability is None else f" (p = {network.probability:.2g})"
        agree = "consistent" if network.consistent else "not consistent: read again"
        yield f"    check reading: {agree}{chance}"
    for sentence in network.set_aside:
        yield wrapped(f"set aside: {sentence}", "      ", "    ")
    if network.suggestion is not None:
        yield wrapped(network.suggestion.sentence, "      ", "    ")


def _pair_text(pair: Pair) -> str:
    if pair.resistance is not None:
        text = format_quantity(Measured(pair.resistance, pair.bound), "resistance")
        doubt = (
            None
            if pair.uncertainty is None
            else format_quantity(2 * pair.uncertainty, "resistance", digits=2)
        )
        return text if doubt is None else f"{text}  ± {doubt}"
    if pair.at_least is None:
        return "not resolved"
    return f"not resolved; at least {format_quantity(pair.at_least, 'resistance', digits=2)}"
