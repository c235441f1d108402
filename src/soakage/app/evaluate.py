"""The one path of every door: records in, everything said about them out; pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

from soakage import __version__
from soakage.app.archive import Archive, complete_tests
from soakage.app.causes import with_causes
from soakage.app.conclude import conclude
from soakage.app.diagnose import EXCESS_CRITERION, Curve, Diagnosis, diagnose, forecast
from soakage.app.drafting import CHECKS, Draft, draft, worst_first
from soakage.app.dry_out import dry_outs
from soakage.app.judging import judgements, turned
from soakage.app.networks import network
from soakage.app.result import Evaluated, Evaluation, NotTested, RuleNames, Visit
from soakage.app.rules import Rules, default_rules
from soakage.app.visits import Spread, asset_key, section_name, sister_spreads, visit_groups
from soakage.app.window import upright
from soakage.errors import Fault
from soakage.model.connection import tested_windings
from soakage.model.record import Record
from soakage.model.verdict import Judgement, Status, worst
from soakage.quantities import lookup
from soakage.units import Measured, format_quantity

Progress = Callable[[int, int], None]
References = Mapping[tuple[str, str], float]


def evaluate(
    records: Sequence[Record],
    rules: Rules | None = None,
    errors: Iterable[Fault] = (),
    progress: Progress | None = None,
    archive: Sequence[Record] | None = None,
    earlier: Sequence[References] | None = None,
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
    archive : sequence of Record, optional
        Earlier tests: the complete ones among them rescale the band of a forecast; they are not judged.
    earlier : sequence of mapping, optional
        For each record, figures of tests made before all of these, by (factory, first or last; quantity).

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
    curves = [
        Curve(upright(item.record), item.method, item.window, item.found, item.steps) for item in drafts
    ]
    diagnoses = diagnose(curves, rules.library.criteria[EXCESS_CRITERION].limit or 0.0)
    drafts = [
        replace(item, findings=worst_first((*item.findings, *told.findings)))
        for item, told in zip(drafts, diagnoses, strict=True)
    ]
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
    references = _references(records, drafts, earlier or [{}] * len(records))
    past = None if archive is None else complete_tests(archive, rules)
    evaluated = tuple(
        _told(_evaluated(item, rules, reference, spreads.get(place)), curves[place], diagnoses[place], past)
        for place, (item, reference) in enumerate(zip(drafts, references, strict=True))
    )
    evaluated = with_causes(evaluated, groups, spreads, rules.library)
    return Evaluation(
        records=evaluated,
        visits=tuple(_visit(evaluated, group, spreads) for group in groups),
        networks=tuple(networks),
        errors=tuple(errors),
        rules=RuleNames(
            rules.profile.id,
            rules.profile.title,
            rules.profile.sha256,
            rules.library.digest,
            __version__,
            rules.profile.wording,
        ),
        dry_out=dry_outs(evaluated, rules.library),
    )


def _told(item: Evaluated, curve: Curve, told: Diagnosis, past: Archive | None) -> Evaluated:
    """Add what the whole curve tells."""
    return replace(
        item,
        fit=told.fit,
        step_conductances=told.step_conductances,
        knee=told.knee,
        ramp_split=told.ramp_split,
        graded=told.graded,
        forecast=forecast(curve, item.judgements, past),
    )


def _references(
    records: Sequence[Record], drafts: Sequence[Draft], earlier: Sequence[References]
) -> list[dict[tuple[str, str], float]]:
    """Return, for each record, the first and last earlier values of the same section tested the same way."""
    references = [dict(figures) for figures in earlier]
    order = sorted(
        (place for place, record in enumerate(records) if record.day is not None and asset_key(record)),
        key=lambda place: str(records[place].day),
    )
    seen: dict[tuple[object, ...], dict[tuple[str, str], float]] = {}
    for place in order:
        record, item = records[place], drafts[place]
        alike = (asset_key(record), section_name(record), record.test.method, record.test.test_voltage)
        known = seen.setdefault(alike, dict(earlier[place]))
        references[place] = dict(known)
        for quantity_id, quantity in item.found.values.items():
            if quantity.bound is not None:
                continue
            known.setdefault(("first", quantity_id), quantity.value)
            known["last", quantity_id] = quantity.value
            if record.paper.purpose == "acceptance":
                known.setdefault(("factory", quantity_id), quantity.value)
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
