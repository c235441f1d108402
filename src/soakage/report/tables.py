"""Tables of a report: quantities, steps, ramp."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

from soakage.app.result import Evaluated
from soakage.errors import UsageError
from soakage.model.verdict import QuantityValue
from soakage.quantities import lookup, resistance_mark
from soakage.report.figures import DASH, column, dimension_of, hang, printed
from soakage.standards.criterion import VERIFIED_TEXT, Verified, sourced
from soakage.standards.library import library
from soakage.units import Bound, format_quantity

Table = dict[str, Any]
_MOST_RAMP_ROWS = 8
# With their sources among the conditions and the cautions.
_TOLD_ELSEWHERE = ("dew_point", "earthing_time")
# Said of the whole curve among the readings; the marks then only repeat it.
_FITTED = ("absorption_coefficient_fitted", "absorption_exponent_fitted", "conductance_fitted")
_FROM_MARKS = ("conduction_current", "absorption_exponent")
NOT_DECLARED = "not declared"
_PRACTICE = VERIFIED_TEXT[Verified.PRACTICE].lower().rstrip(".")
UNCERTAINTY_NOTE = (
    "±: expanded uncertainty, k\u00a0=\u00a02, about 95\u00a0% coverage, from the declared accuracy, without "
    "the temperature rule’s own error. A dash: none is worked out."
)
NOT_DECLARED_NOTE = "Not declared: the instrument’s accuracy was not given, so there is no uncertainty."
BOUND_NOTE = "> and <: a bound; the truth lies on that side and no uncertainty is given."


def quantities(evaluated: Evaluated) -> Table:
    """Return the quantities with uncertainty, bound, and how each was obtained."""
    told, more = _told(evaluated)
    prefix = _common_prefix(told)
    shown = [(quantity, printed(quantity, prefix=prefix)) for quantity in told]
    sources = list(dict.fromkeys(_source(q) for q in told if q.source))
    rows = [
        {
            "id": quantity.id,
            "name": name_of(quantity.id),
            "sub": _refers_to_line_above([q.id for q in told], quantity),
            "value": cell.value,
            "plus_minus": cell.plus_minus,
            "unknown": "" if cell.plus_minus or quantity.bound else unknown(evaluated),
            "unit": cell.unit,
            "how": _how(quantity),
            "source": sources.index(_source(quantity)) + 1 if quantity.source else 0,
        }
        for quantity, cell in shown
    ]
    notes = [f"From other marks, as read: {text}." for text in [_more_text(more, prefix)] if text]
    notes += _budget_notes(told)
    notes += [UNCERTAINTY_NOTE] if any(cell.plus_minus for _, cell in shown) else []
    notes += [NOT_DECLARED_NOTE] if any(row["unknown"] == NOT_DECLARED for row in rows) else []
    notes += [BOUND_NOTE] if any(q.bound is not None for q, _ in shown) else []
    whole, part = hang([cell.value for _, cell in shown])
    plus_whole, plus_part = hang([cell.plus_minus for _, cell in shown if cell.plus_minus] or ["0"])
    return {
        "rows": rows, "notes": notes,
        "sources": [
            {"number": n, "source": source, "verified": verified}
            for n, (source, verified) in enumerate(sources, start=1)
        ],
        "whole": whole, "part": part,
        "plus_whole": plus_whole, "plus_part": plus_part,
    }  # fmt: skip


def _budget_notes(told: Sequence[QuantityValue]) -> list[str]:
    """Return what makes up the uncertainty of the first figure that has a budget."""
    for quantity in told:
        if quantity.budget:
            return [f"The ± of {_lower(name_of(quantity.id))}: {budget_text(quantity)}."]
    return []


def budget_text(quantity: QuantityValue) -> str:
    """Return the contributions to an uncertainty with their shares of the variance, the largest first."""
    return ", ".join(
        f"{part.name} {format_quantity(part.share, 'fraction', digits=2)}"
        for part in quantity.budget
        if part.share >= 0.005
    )


def unknown(evaluated: Evaluated) -> str:
    """Say why a figure has no uncertainty: no accuracy was declared, or none is worked out for it."""
    return DASH if evaluated.record.instrument.accuracy else NOT_DECLARED


def _source(quantity: QuantityValue) -> tuple[str, str]:
    """Return the source of a quantity and how it was verified."""
    if not quantity.source:
        return "", ""
    try:
        return cited(quantity.source, lookup(quantity.id).verified)
    except UsageError:
        return cited(quantity.source, Verified.READ)


def cited(source: str, verified: str) -> tuple[str, str]:
    """Return a source as a sentence and how it was verified as another; what both say is said once."""
    source = source.rstrip(".")
    if source.lower().startswith(_PRACTICE):
        return "", f"{source[0].upper()}{source[1:]}."
    try:
        words = VERIFIED_TEXT[Verified(verified)]
        whole = sourced(source, verified) if source else words
    except ValueError:
        words = f"Verified: {verified}."
        whole = f"{source}. {words}"
    named = whole.removesuffix(words).strip()
    return (f"{named.rstrip('.')}." if named else ""), words


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
    followed = evaluated.fit is not None and evaluated.fit.follows_model
    values = evaluated.quantities
    for quantity in values.values():
        raw = quantity.id.removesuffix("_corrected")
        if quantity.id in (*_TOLD_ELSEWHERE, *_FITTED) or (raw != quantity.id and raw in values):
            continue
        pair = [quantity, *([values[f"{raw}_corrected"]] if f"{raw}_corrected" in values else [])]
        for one in pair:
            incidental = one.id not in wanted and resistance_mark(one.id) is not None
            incidental = incidental or (followed and one.id in _FROM_MARKS)
            (more if incidental else told).append(one)
    return told, more


def _more_text(more: Sequence[QuantityValue], prefix: str | None) -> str:
    """Return the resistances at other marks as text; their corrected values follow by the same factor."""
    return ", ".join(
        f"{_mark_name(q)} {printed(q, prefix=prefix).with_uncertainty}"
        for q in more
        if not q.id.endswith("_corrected")
    )


def _mark_name(quantity: QuantityValue) -> str:
    mark = resistance_mark(quantity.id)
    if mark is not None:
        return format_quantity(mark, "time")
    return _lower(name_of(quantity.id))


def _lower(name: str) -> str:
    return name if name[:2].isupper() else f"{name[0].lower()}{name[1:]}"


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
