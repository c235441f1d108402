"""Forms the limit a criterion sets for one record: one function per kind of limit."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from functools import lru_cache
from itertools import pairwise

from soakage.model.verdict import Limit, Status
from soakage.quantities import lookup
from soakage.standards.criterion import Criterion, Kind
from soakage.standards.formulas import FORMULAS
from soakage.units import format_quantity

_PARTS = {
    "phase-others-earthed": "one phase with the others earthed",
    "phase-others-guarded": "one phase with the others on guard",
}
_STATED_AS = {  # derived facts by the keys of the record they follow from
    "tested_winding_voltage": "the voltage of this winding ('winding_voltages')",
    "tested_winding_power": "the power of this winding ('winding_powers')",
    "phase_voltage": "the voltage and connection of this winding ('winding_voltages', 'connection')",
}
Facts = Mapping[str, object]
References = Mapping[tuple[str, str], float]


def limit_for(criterion: Criterion, facts: Facts, references: References) -> Limit | str:
    """Return the limit for these facts in SI, or the reason none can be formed.

    Parameters
    ----------
    criterion : Criterion
        The criterion.
    facts : mapping
        Stated keys in SI and derived facts.
    references : mapping
        Values of reference records by (factory, first or last; quantity id).

    Returns
    -------
    Limit or str
        The limit, or a sentence naming what is missing.
    """
    if criterion.kind is Kind.BAND:
        dimension = lookup(criterion.quantity).dimension
        return _limit(criterion, None, None, _band_text(dimension, criterion.edges, criterion.statuses))
    figure = _FIGURES[criterion.kind](criterion, facts, references)
    if isinstance(figure, str):
        return figure
    if criterion.multiplier_key:
        part = facts.get(criterion.multiplier_key, "whole")
        figure *= criterion.multipliers.get(str(part), 1.0)
    lower = figure if criterion.sense == "lower" else None
    upper = figure if criterion.sense == "upper" else None
    return _limit(criterion, lower, upper, limit_text(criterion, figure, facts))


def _limit(criterion: Criterion, lower: float | None, upper: float | None, text: str) -> Limit:
    unit = lookup(criterion.quantity).unit
    return Limit(str(criterion.kind), lower, upper, unit, text)


def limit_text(criterion: Criterion, figure: float, facts: Facts) -> str:
    """Return a limit in words: side, figure with unit, base temperature, and a multiple where one was taken."""
    side = "at least" if criterion.sense == "lower" else "at most"
    text = f"{side} {format_quantity(figure, lookup(criterion.quantity).dimension)}"
    if criterion.base_temperature is not None:
        text += f" at {format_quantity(criterion.base_temperature, 'temperature')}"
    factor = criterion.multipliers.get(str(facts.get(criterion.multiplier_key, "whole")), 1.0)
    if factor != 1.0:
        word = str(facts[criterion.multiplier_key])
        part = _PARTS.get(word, word)
        text += f" ({factor:g} times the whole winding's, for {part}; {criterion.multiplier_verified})"
    return text


@lru_cache(maxsize=1024)
def _band_text(dimension: str, edges: tuple[float, ...], statuses: tuple[Status, ...]) -> str:
    texts = [format_quantity(edge, dimension) for edge in edges]
    parts = [f"below {texts[0]} {statuses[0]}"]
    parts += [
        f"{low} to {high} {status}" for low, high, status in zip(texts, texts[1:], statuses[1:], strict=False)
    ]
    parts.append(f"from {texts[-1]} {statuses[-1]}")
    return ", ".join(parts)


def _constant(criterion: Criterion, _facts: Facts, _references: References) -> float | str:
    return criterion.limit if criterion.limit is not None else "The criterion gives no figure."


def _given(criterion: Criterion, key: str, facts: Facts) -> float | str:
    value = facts.get(key)
    if value is None:
        return f"{_STATED_AS.get(key, repr(key))} is not stated; {criterion.name} needs it."
    return float(value)  # type: ignore[arg-type]


def _linear(criterion: Criterion, facts: Facts, _references: References) -> float | str:
    value = _given(criterion, criterion.of, facts)
    return value if isinstance(value, str) else criterion.intercept + criterion.slope * value


def _table(criterion: Criterion, facts: Facts, _references: References) -> float | str:
    value = _given(criterion, criterion.of, facts)
    if isinstance(value, str):
        return value
    rows = criterion.rows
    if criterion.row_rule == "ln-interpolated":
        if not rows[0][0] <= value <= rows[-1][0]:
            return f"'{criterion.of}' is outside the table of {criterion.source}."
        for (x0, y0), (x1, y1) in pairwise(rows):
            if x0 <= value <= x1:
                share = (value - x0) / (x1 - x0)
                return math.exp(math.log(y0) + share * (math.log(y1) - math.log(y0)))
    for key, limit in rows:
        if value <= key * (1 + 1e-12):
            return limit
    if criterion.beyond_last:
        return rows[-1][1]
    return f"'{criterion.of}' is above the last row of {criterion.source}."


def _formula(criterion: Criterion, facts: Facts, _references: References) -> float | str:
    entry = FORMULAS[criterion.formula]
    values: dict[str, float] = {}
    for key in entry.inputs:
        value = _given(criterion, key, facts)
        if isinstance(value, str):
            return value
        values[key] = value
    return entry.limit(values, criterion.coefficients)


def _reference(criterion: Criterion, _facts: Facts, references: References) -> float | str:
    value = references.get((criterion.reference, criterion.quantity))
    if value is None or criterion.limit is None:
        return f"No {criterion.reference} record of this asset is at hand to compare with."
    return criterion.limit * value


_FIGURES: dict[Kind, Callable[[Criterion, Facts, References], float | str]] = {
    Kind.CONSTANT: _constant,
    Kind.SPREAD: _constant,
    Kind.LINEAR: _linear,
    Kind.TABLE: _table,
    Kind.FORMULA: _formula,
    Kind.REFERENCE: _reference,
}
