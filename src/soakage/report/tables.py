"""Tables of a report: quantities, criteria, steps, ramp, schedule, pairs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from soakage.app.result import Evaluated
from soakage.errors import UsageError
from soakage.model.verdict import Judgement, QuantityValue
from soakage.quantities import lookup, resistance_mark
from soakage.report.figures import DASH, NOT_DECLARED, column, dimension_of, hang, printed
from soakage.standards.criterion import VERIFIED_TEXT, Verified
from soakage.standards.library import library
from soakage.units import Bound, format_quantity

Table = dict[str, Any]
_MOST_RAMP_ROWS = 12
# With their sources among the conditions and the cautions.
_TOLD_ELSEWHERE = ("dew_point", "earthing_time")
_MORE = {False: "At other marks, as read:", True: "At other marks, corrected by the same rule:"}
UNCERTAINTY_NOTE = (
    "± is the expanded uncertainty, k\u00a0=\u00a02, about 95\u00a0% coverage, from the accuracy the "
    "instrument declares; a temperature rule’s own error is not in it."
)
BOUND_NOTE = "A figure with > or < is a bound: the truth lies on that side and no uncertainty is given."


def quantities(evaluated: Evaluated) -> Table:
    """Return the quantities with uncertainty, bound, and how each was obtained."""
    told, more = _told(evaluated)
    prefix = _common_prefix(told)
    shown = [(quantity, printed(quantity, prefix=prefix)) for quantity in told]
    sources = dict.fromkeys((q.source, _verified(q)) for q in told if q.source)
    rows = [
        {
            "id": quantity.id,
            "name": name_of(quantity.id),
            "sub": _refers_to_line_above([q.id for q in told], quantity),
            "value": cell.value,
            "plus_minus": cell.plus_minus,
            "unit": cell.unit,
            "how": _how(quantity),
            "source": list(sources).index((quantity.source, _verified(quantity))) + 1
            if quantity.source
            else 0,
        }
        for quantity, cell in shown
    ]
    notes = [f"{_MORE[corrected]} {text}." for corrected, text in _more_texts(more, prefix)]
    notes += [UNCERTAINTY_NOTE] if any(q.uncertainty is not None for q, _ in shown) else []
    if any(q.uncertainty is None and q.bound is None for q, _ in shown):
        notes.append("Not declared: the accuracy of an input was not given, so there is no uncertainty.")
    if any(q.bound is not None for q, _ in shown):
        notes.append(BOUND_NOTE)
    whole, part = hang([cell.value for _, cell in shown])
    figures = [cell.plus_minus for _, cell in shown if cell.plus_minus != NOT_DECLARED]
    plus_whole, plus_part = hang(figures or ["0"])
    return {
        "rows": rows, "notes": notes,
        "sources": [
            {"number": n, "source": source.rstrip("."), "verified": verified}
            for n, (source, verified) in enumerate(sources, start=1)
        ],
        "whole": whole, "part": part,
        "plus_whole": plus_whole, "plus_part": plus_part,
    }  # fmt: skip


def _common_prefix(values: Iterable[QuantityValue]) -> str | None:
    """Return the prefix of the first resistance: one unit down the column where four digits allow it."""
    for quantity in values:
        if dimension_of(quantity.id) == "resistance" and math.isfinite(quantity.value):
            symbol = printed(quantity).unit
            return symbol[:-1] or ""
    return None


def _told(evaluated: Evaluated) -> tuple[list[QuantityValue], list[QuantityValue]]:
    """Return the quantities with a row of their own, and the resistances at marks the method is not made for.

    A corrected value follows its raw one.
    """
    wanted = {*evaluated.method.quantities, *(j.quantity for j in evaluated.judgements)}
    told: list[QuantityValue] = []
    more: list[QuantityValue] = []
    values = evaluated.quantities
    for quantity in values.values():
        raw = quantity.id.removesuffix("_corrected")
        if quantity.id in _TOLD_ELSEWHERE or (raw != quantity.id and raw in values):
            continue
        pair = [quantity, *([values[f"{raw}_corrected"]] if f"{raw}_corrected" in values else [])]
        for one in pair:
            incidental = resistance_mark(one.id) is not None and one.id not in wanted
            (more if incidental else told).append(one)
    return told, more


def _more_texts(more: Sequence[QuantityValue], prefix: str | None) -> list[tuple[bool, str]]:
    """Return the resistances at other marks as text, raw and corrected."""
    texts = []
    for corrected in (False, True):
        found = [q for q in more if q.id.endswith("_corrected") is corrected]
        shown = [
            f"{format_quantity(resistance_mark(q.id) or 0.0, 'time')} "
            f"{printed(q, prefix=prefix).with_uncertainty}"
            for q in found
        ]
        if shown:
            texts.append((corrected, ", ".join(shown)))
    return texts


def _verified(quantity: QuantityValue) -> str:
    """Return in words how the source of a quantity was verified; nothing where it was read or says so itself."""
    try:
        text = verified_text(lookup(quantity.id).verified)
    except UsageError:
        return ""
    return "" if "no source" in quantity.source and "no source" in text else text


def _refers_to_line_above(ids: Sequence[str], quantity: QuantityValue) -> str:
    """Return the short name of a corrected value that follows its raw one."""
    place = ids.index(quantity.id)
    if place and quantity.id == f"{ids[place - 1]}_corrected" and quantity.base_temperature is not None:
        return f"at {format_quantity(quantity.base_temperature, 'temperature')}"
    return ""


def name_of(quantity_id: str) -> str:
    """Return what the trade calls a quantity; its id where the glossary has none."""
    try:
        return lookup(quantity_id).name
    except UsageError:
        return quantity_id


def _how(quantity: QuantityValue) -> str:
    """Say how a value was obtained: formula, rule, base temperature."""
    parts = [quantity.formula]
    if quantity.rule and not _names_rule(quantity):
        parts.append(quantity.rule)
    if quantity.base_temperature is not None:
        parts.append(f"base {format_quantity(quantity.base_temperature, 'temperature')}")
    return "; ".join(filter(None, parts))


def _names_rule(quantity: QuantityValue) -> bool:
    """Return True where the formula says the rule's name already."""
    rule = library().temperature_rules.get(quantity.rule or "")
    return rule is not None and rule.name in quantity.formula


def criteria(judgements: Sequence[Judgement], values: Mapping[str, QuantityValue]) -> Table:
    """Return the criteria, the worst first, with what each rests on.

    Parameters
    ----------
    judgements : sequence of Judgement
        Neediest first.
    values : mapping of str to QuantityValue
        The quantities of the record.

    Returns
    -------
    dict
        Rows and a note.
    """
    rows = [_criterion(judgement, values.get(judgement.quantity)) for judgement in judgements]
    notes = []
    if any(j.decides for j in judgements):
        notes.append("Deciding: the verdict cannot be better while it is not judged.")
    if not rows:
        notes.append("No criterion was found for this record, so nothing was judged.")
    return {"rows": rows, "notes": notes}


def _criterion(judgement: Judgement, quantity: QuantityValue | None) -> Table:
    value = DASH
    if judgement.value is not None and math.isfinite(judgement.value):
        same = quantity is not None and math.isclose(quantity.value, judgement.value, rel_tol=1e-9)
        shown = (
            quantity
            if same and quantity is not None
            else QuantityValue(judgement.quantity, judgement.value, judgement.bound)
        )
        value = printed(shown).whole
    limit, _, aside = (judgement.limit.text if judgement.limit is not None else DASH).partition(" (")
    return {
        "id": judgement.criterion,
        "name": judgement.name,
        "quantity": name_of(judgement.quantity),
        "value": value,
        "limit": limit,
        "limit_note": f"Limit: {aside.removesuffix(')')}." if aside else "",
        "status": str(judgement.status),
        "reason": judgement.reason,
        "source": judgement.source,
        "verified": verified_text(judgement.verified, own=judgement.user_limit),
        "decides": judgement.decides,
        "own": judgement.user_limit,
    }


def verified_text(verified: str, *, own: bool = False) -> str:
    """Return in words how a source was verified; nothing where it was read."""
    if own:
        return VERIFIED_TEXT[Verified.USER]
    try:
        return VERIFIED_TEXT[Verified(verified)]
    except ValueError:
        return f"Verified: {verified}."


def step_table(evaluated: Evaluated) -> Table | None:
    """Return the holds of a step test."""
    steps = evaluated.steps
    if not steps:
        return None
    columns = [
        ("Step", "", [str(i) for i in range(1, len(steps) + 1)]),
        _column("Voltage", [s.voltage for s in steps], "voltage"),
        _column("Hold", [s.hold for s in steps], "time"),
        _column("Current", [s.current for s in steps], "current"),
        _column("Resistance", [s.resistance for s in steps], "resistance", [s.bound for s in steps]),
    ]
    return _columns(columns, "Current and resistance at the end of each hold.")


def ramp_table(evaluated: Evaluated) -> Table | None:
    """Return the points of a ramp, every so many where there are more than a page holds."""
    rows = evaluated.ramp
    if not rows:
        return None
    every = math.ceil(len(rows) / _MOST_RAMP_ROWS)
    shown = list(rows[::every])
    if shown[-1] is not rows[-1]:
        shown.append(rows[-1])
    columns = [
        _column("Time", [r.time for r in shown], "time"),
        _column("Voltage", [r.voltage for r in shown], "voltage"),
        _column("Current", [r.current for r in shown], "current"),
        _column("Apparent capacitance", [r.apparent_capacitance for r in shown], "capacitance"),
    ]
    note = "On a ramp voltage over current is no resistance; the apparent capacitance is an upper bound."
    if every > 1:
        note += f" Every {every}th of {len(rows)} points is printed."
    return _columns(columns, note)


def _column(
    head: str, values: Iterable[float], dimension: str, bounds: Sequence[Bound | None] = ()
) -> tuple[str, str, list[str]]:
    listed = list(values)
    if dimension == "time":
        return head, "s", [f"{v:.0f}" if math.isfinite(v) else DASH for v in listed]
    texts, unit = column(listed, dimension, bounds)
    return head, unit, texts


def _columns(columns: Sequence[tuple[str, str, list[str]]], note: str) -> Table:
    return {
        "head": [[head, unit] for head, unit, _ in columns],
        "hang": [list(hang(texts)) for _, _, texts in columns],
        "rows": [list(row) for row in zip(*(texts for _, _, texts in columns), strict=True)],
        "note": note,
    }
