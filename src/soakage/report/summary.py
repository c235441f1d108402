"""What a report says of many: the summary in front, schedules of circuits, resistances between terminals."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from soakage.app.result import Evaluated, Evaluation, Visit
from soakage.model.verdict import Status
from soakage.report.criteria import merged_bands
from soakage.report.figures import DASH, counted, day, dimension_of, listed, printed, quantity_text
from soakage.report.tables import name_of

Content = dict[str, Any]
Table = dict[str, Any]

NEED = (
    Status.UNFIT, Status.INVESTIGATE, Status.INVALID_TEST, Status.NOT_JUDGED, Status.WATCH, Status.SOUND,
    Status.NOT_APPLICABLE,
)  # fmt: skip
"""Statuses, the one that needs most first."""


def summary(evaluation: Evaluation) -> Content:
    """Return the first page of several records: counts, each visit's sentence, all records by need."""
    counts = Counter(e.verdict.status for e in evaluation.records)
    words = [f"{counts[status]}\u00a0{status}" for status in NEED if counts[status]]
    count = counted(len(evaluation.records), "record")
    sentence = f"{count}: {listed(words)}." if words else "No record was judged."
    if len(counts) == 1 and len(evaluation.records) > 1:
        sentence = f"{count}, all {next(iter(counts))}."
    if evaluation.errors:
        sentence += f" {counted(len(evaluation.errors), 'fault')} kept something from being read."
    numbered = sorted(
        enumerate(evaluation.records, start=1),
        key=lambda entry: (NEED.index(entry[1].verdict.status), entry[0]),
    )
    rows = []
    for number, evaluated in numbered:
        name, value, limit = key_figure(evaluated)
        rows.append(
            {
                "number": number,
                "status": str(evaluated.verdict.status),
                "title": _row_title(evaluated),
                "method": f"{evaluated.method.title}, {day(evaluated.record.day)}",
                "quantity": name,
                "value": value,
                "limit": limit,
                "next": evaluated.verdict.actions[0] if evaluated.verdict.actions else "",
                "section": evaluated.record.asset.section or "",
            }
        )
    return {
        "sentence": sentence,
        "rows": rows,
        "visits": [_visit(evaluation, visit) for visit in evaluation.visits if len(visit.members) > 1],
    }


def _row_title(evaluated: Evaluated) -> str:
    asset = evaluated.record.asset
    if evaluated.method.id == "circuit":
        return ", ".join(filter(None, (asset.circuit, asset.between))) or asset.title
    return evaluated.record.title


def _visit(evaluation: Evaluation, visit: Visit) -> Content:
    """Return a visit's sentence, with the spread among its sections where it was computed."""
    spread = next(
        (
            q
            for i in visit.members
            for name, q in evaluation.records[i].quantities.items()
            if name == "phase_spread"
        ),
        None,
    )
    said = (
        f"Largest over smallest resistance among its sections: {printed(spread).with_uncertainty}."
        if spread
        else ""
    )
    if "spread" in visit.sentence:
        said = ""
    return {
        "title": ", ".join(filter(None, (visit.asset, visit.name))),
        "status": str(visit.status),
        "sentence": visit.sentence,
        "spread": said,
    }


def schedule_rows(members: Sequence[Evaluated], *, with_notes: bool = True) -> list[Table]:
    """Return one row per reading of a schedule of circuits."""
    rows = []
    for evaluated in members:
        asset, test = evaluated.record.asset, evaluated.record.test
        reading = evaluated.quantities.get("insulation_resistance")
        judged = evaluated.judgements[0] if evaluated.judgements else None
        status = str(evaluated.verdict.status)
        rows.append(
            {
                "circuit": asset.circuit or asset.title,
                "between": asset.between or DASH,
                "voltage": quantity_text(test.test_voltage, "voltage", trim=True),
                "reading": printed(reading).whole if reading else DASH,
                "limit": judged.limit.text if judged and judged.limit else DASH,
                "status": status,
                "reason": "" if status == "sound" else evaluated.verdict.sentence,
                "note": (evaluated.record.paper.notes or "") if with_notes else "",
                "row": evaluated.record.origin.row,
            }
        )
    return rows


def key_figure(evaluated: Evaluated) -> tuple[str, str, str]:
    """Return name, value and limit of the figure a verdict rests on most, for summaries."""
    for judgement in evaluated.judgements:
        quantity = evaluated.quantities.get(judgement.quantity)
        if quantity is not None:
            limit = merged_bands(judgement.limit.text) if judgement.limit else DASH
            return name_of(quantity.id), printed(quantity).whole, limit
    for quantity in evaluated.quantities.values():
        if dimension_of(quantity.id) == "resistance":
            return name_of(quantity.id), printed(quantity).whole, DASH
    return DASH, DASH, DASH
