"""Explains any id of the house: quantity, formula, criterion, temperature rule, table, threshold, method."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from soakage.errors import UsageError
from soakage.methods import methods
from soakage.methods.base import Method
from soakage.model.verdict import Limit
from soakage.physics.formula import Formula, catalogue
from soakage.quantities import GLOSSARY, Quantity, lookup
from soakage.standards.criterion import (
    Condition,
    Criterion,
    Group,
    Kind,
    Reference,
    TemperatureRule,
    Threshold,
    VoltageTable,
)
from soakage.standards.formulas import FORMULAS
from soakage.standards.library import Library
from soakage.standards.limits import limit_for
from soakage.standards.parsing import key_dimension
from soakage.units import celsius, format_quantity

Entry = (
    Quantity | Formula | Criterion | Group | TemperatureRule | VoltageTable | Threshold | Reference | Method
)


@dataclass(frozen=True, slots=True)
class Explanation:
    """What is said about one id.

    Parameters
    ----------
    id : str
        The id.
    kind : str
        What it is: quantity, criterion, temperature rule, ...
    title : str
        Its name.
    definition : str
        What it is, in a sentence or two.
    formula : str
        The formula in plain text; empty where there is none.
    source : str
        Where it stands.
    verified : str
        How that was verified.
    example : str
        A worked example; empty where there is none.
    details : tuple of (str, str)
        Further lines: what applies, limits, rows, inputs.
    entry : object
        The entry itself, for working it with the user's numbers.
    """

    id: str
    kind: str
    title: str
    definition: str
    formula: str
    source: str
    verified: str
    example: str
    details: tuple[tuple[str, str], ...] = ()
    entry: Entry | None = field(default=None, compare=False, repr=False)


def formula_of(quantity_id: str) -> Formula | None:
    """Return the formula that works out a quantity, or None where it takes a whole record."""
    known = catalogue()
    if quantity_id in known:
        return known[quantity_id]
    if quantity_id.startswith("insulation_resistance") and not quantity_id.endswith("_corrected"):
        return known["insulation_resistance"]
    return known["resistance_ratio"] if quantity_id.startswith("resistance_ratio_") else None


def known_ids(library: Library) -> list[str]:
    """Return every id that can be explained."""
    shelves: tuple[Mapping[str, object], ...] = (
        GLOSSARY, catalogue(), library.criteria, library.groups, library.temperature_rules,
        library.voltage_tables, library.thresholds, library.references, methods(),
    )  # fmt: skip
    return sorted({name for shelf in shelves for name in shelf})


def explain(name: str, library: Library) -> Explanation:
    """Return what is known about an id.

    Parameters
    ----------
    name : str
        Id of a quantity, formula, criterion, group, temperature rule, table, threshold or method.
    library : Library
        The criteria files.

    Returns
    -------
    Explanation

    Raises
    ------
    UsageError
        If nothing has this id; the nearest ids are named.
    """
    found = _in_library(name, library)
    if found is not None:
        return found
    try:
        return _quantity(lookup(name), library)
    except UsageError:
        if name in catalogue():
            return _formula(catalogue()[name])
    near = difflib.get_close_matches(name, known_ids(library), n=5, cutoff=0.5)
    hint = f" Did you mean: {', '.join(near)}?" if near else ""
    raise UsageError(f"Nothing is called {name!r}.{hint} 'soakage explain' alone lists every id.")


def _in_library(name: str, library: Library) -> Explanation | None:
    if name in library.criteria:
        return _criterion(library.criteria[name])
    if name in library.temperature_rules:
        return _temperature_rule(library.temperature_rules[name])
    if name in library.voltage_tables:
        return _voltage_table(library.voltage_tables[name])
    if name in library.thresholds:
        return _threshold(library.thresholds[name])
    if name in library.references:
        return _reference(library.references[name])
    if name in methods():
        return _method(methods()[name])
    return _group(library.groups[name], library) if name in library.groups else None


def _inputs(formula: Formula) -> Iterator[tuple[str, str]]:
    for entry in formula.inputs:
        yield entry.name, f"[{entry.unit}] {entry.definition}{_default(entry.default)}"


def _default(value: float | None) -> str:
    if value is None:
        return ""
    return f", {value:g} unless given" if math.isfinite(value) else ", none unless given"


def _worked(formula: Formula) -> str:
    given = ", ".join(f"{key}={value}" for key, value in formula.example.inputs.items())
    return f"{given} gives {formula.example.expected:g} {formula.unit} ({formula.example.source})"


def _formula(formula: Formula) -> Explanation:
    details = [*_inputs(formula)]
    if formula.validity:
        details.append(("holds for", formula.validity))
    return Explanation(
        formula.id, "formula", formula.name, formula.name + ".", formula.expression, formula.source,
        formula.verified, _worked(formula), tuple(details), formula,
    )  # fmt: skip


def _quantity(quantity: Quantity, library: Library) -> Explanation:
    formula = formula_of(quantity.id)
    details = list(_inputs(formula)) if formula else []
    judged = [c.id for c in library.criteria.values() if c.quantity == quantity.id]
    if judged:
        details.append(("judged by", ", ".join(judged)))
    return Explanation(
        quantity.id, "quantity", quantity.name, quantity.definition, quantity.expression, quantity.source,
        quantity.verified, _worked(formula) if formula else "", tuple(details), formula or quantity,
    )  # fmt: skip


def _source(entry: Criterion | TemperatureRule | VoltageTable | Threshold | Reference) -> str:
    text = f"{entry.standard.name}, {entry.clause}" if entry.clause else entry.standard.name
    return f"{text} (as reported by {entry.reported_by})" if entry.reported_by else text


def _conditions(entry: Criterion | TemperatureRule | VoltageTable) -> str:
    return "; ".join(condition_text(condition) for condition in entry.applies) or "everything"


def condition_text(condition: Condition) -> str:
    """Return a condition of a criteria file in words."""
    if condition.stated is not None:
        return f"{condition.key} {'stated' if condition.stated else 'not stated'}"
    words = [f"{condition.key} {' or '.join(condition.words)}"] if condition.words else []
    if condition.other_than:
        words.append(f"{condition.key} other than {' or '.join(condition.other_than)}")
    ends = (
        ("from", condition.start), ("above", condition.above), ("below", condition.below),
        ("up to", condition.to),
    )  # fmt: skip
    for word, value in ends:
        if value is not None:
            words.append(f"{condition.key} {word} {key_text(condition.key, value)}")
    return ", ".join(words)


def key_text(key: str, value: float) -> str:
    """Return a value of a nameplate key or derived fact with its unit."""
    dimension = key_dimension(key)
    return f"{value:g}" if dimension == "ratio" else format_quantity(value, dimension, trim=True)


def rule_text(criterion: Criterion) -> str:
    """Return the rule of a criterion in words, before any nameplate value is known."""
    dimension = lookup(criterion.quantity).dimension
    side = "at least" if criterion.sense == "lower" else "at most"
    match criterion.kind:
        case Kind.BAND:
            limit = limit_for(criterion, {}, {})
            return limit.text if isinstance(limit, Limit) else limit
        case Kind.CONSTANT:
            return f"{side} {format_quantity(criterion.limit or 0.0, dimension)}"
        case Kind.SPREAD:
            return f"{criterion.measure} among sister sections {side} {criterion.limit:g}"
        case Kind.LINEAR:
            base = format_quantity(criterion.intercept, dimension)
            per = format_quantity(criterion.slope * 1e3, dimension)
            return f"{side} {base} + {per} for each {key_text(criterion.of, 1e3)} of {criterion.of}"
        case Kind.TABLE:
            rows = "; ".join(
                f"{key_text(criterion.of, key)}: {format_quantity(value, dimension)}"
                for key, value in criterion.rows
            )
            return f"{side}, by {criterion.of} ({criterion.row_rule}): {rows}"
        case Kind.FORMULA:
            return f"{side} {FORMULAS[criterion.formula].text} with {dict(criterion.coefficients)}"
        case _:
            return f"{side} {criterion.limit:g} of the {criterion.reference} value"


def _criterion(criterion: Criterion) -> Explanation:
    details = [("quantity", criterion.quantity), ("applies to", _conditions(criterion))]
    if criterion.base_temperature is not None:
        details.append(("base temperature", format_quantity(criterion.base_temperature, "temperature")))
    if criterion.multiplier_key:
        multiples = ", ".join(f"{k} {v:g}" for k, v in criterion.multipliers.items())
        details.append(
            (f"multiple by {criterion.multiplier_key}", f"{multiples} ({criterion.multiplier_verified})")
        )
    details += [("not applicable", waiver.reason) for waiver in criterion.waivers]
    details.append(("a breach", f"{criterion.breach}: {criterion.breach_means}"))
    if criterion.notes:
        details.append(("note", criterion.notes))
    dimension = lookup(criterion.quantity).dimension
    example = criterion.examples[0]
    return Explanation(
        criterion.id, "criterion", criterion.name, criterion.rationale, rule_text(criterion), _source(criterion),
        str(criterion.verified),
        f"{format_quantity(example.value, dimension)} is {example.status}",
        tuple(details), criterion,
    )  # fmt: skip


def _group(group: Group, library: Library) -> Explanation:
    members = library.members(group.id)
    details = [(member.id, f"{rule_text(member)}; for {_conditions(member)}") for member in members]
    if group.none:
        details.append(("none of these", group.none))
    first = members[0]
    return Explanation(
        group.id, "group of criteria", group.name, "Alternatives, of which one holds for an asset.", "",
        _source(first), str(first.verified), "", tuple(details), group,
    )  # fmt: skip


def _temperature_rule(rule: TemperatureRule) -> Explanation:
    details = []
    for piece in rule.pieces:
        ends = " to ".join(
            format_quantity(value + 273.15, "temperature") if value is not None else "no printed end"
            for value in (piece.start, piece.to)
        )
        what = {
            "halving": f"halves per {piece.interval or 0:g} K",
            "exponential": f"exp(-{piece.coefficient or 0:g} (1/(T + {piece.zero:g}) - 1/(T_base + {piece.zero:g})))",
            "per-ten-kelvin": f"{piece.ratio or 0:g} per 10 K",
            "table": "; ".join(
                f"{t:.4g} degC {k:g}" for t, k in zip(piece.temperatures, piece.factors, strict=True)
            ),
        }.get(piece.form, piece.form)
        details.append((ends, what))
    if rule.flag_beyond is not None:
        details.append(("flagged", f"beyond {rule.flag_beyond:g} K from the base"))
    example = ""
    if rule.examples:
        t, base, k = rule.examples[0]
        example = f"K = {k:g} at {t:g} degC, base {base:g} degC"
    return Explanation(
        rule.id, "temperature rule", rule.name, rule.rationale, "R_base = K R", _source(rule), str(rule.verified),
        example, tuple(details), rule,
    )  # fmt: skip


def _voltage_table(table: VoltageTable) -> Explanation:
    details = [("applies to", _conditions(table))]
    for row in table.rows:
        end = (
            f"below {key_text(table.of, row.below)}"
            if row.below is not None
            else f"up to {key_text(table.of, row.to)}"
            if row.to is not None
            else "above"
        )
        volts = format_quantity(row.low, "voltage", trim=True)
        if row.high != row.low:
            volts += f" to {format_quantity(row.high, 'voltage', trim=True)}"
        details.append((f"{table.of} {end}", volts))
    if table.factor_low is not None:
        span = {table.factor_low: f"{table.factor_low:g}", table.factor_high: f"{table.factor_high or 0:g}"}
        added = f" plus {format_quantity(table.offset, 'voltage', trim=True)}" if table.offset else ""
        details.append(("factor", f"{' to '.join(span.values())} times {table.of}{added}"))
    if table.cap is not None:
        details.append(("never above", format_quantity(table.cap, "voltage", trim=True)))
    if table.caution:
        details.append(("caution", table.caution))
    example = ""
    if table.examples:
        given, low, high = table.examples[0]
        example = f"{key_text(table.of, given)}: {low:g} V to {high:g} V"
    return Explanation(
        table.id, f"test voltage ({table.role})", table.name, table.rationale, "", _source(table),
        str(table.verified), example, tuple(details), table,
    )  # fmt: skip


def _threshold(threshold: Threshold) -> Explanation:
    if threshold.dimension == "temperature":
        value = f"{celsius(threshold.value):g} degC"
    elif threshold.dimension in ("ratio", "count", "number"):
        value = f"{threshold.value:g}"
    else:
        value = format_quantity(threshold.value, threshold.dimension, trim=True)
    return Explanation(
        threshold.id, "threshold", threshold.name, threshold.rationale, value, _source(threshold),
        str(threshold.verified), "", (), threshold,
    )  # fmt: skip


def _reference(reference: Reference) -> Explanation:
    details = [(row[0], "; ".join(row[1:])) for row in (reference.columns, *reference.rows)]
    if reference.caution:
        details.insert(0, ("caution", reference.caution))
    return Explanation(
        reference.id, "table for reading only", reference.name, reference.rationale, "", _source(reference),
        str(reference.verified), "", tuple(details), reference,
    )  # fmt: skip


def _method(method: Method) -> Explanation:
    details = [(f"{number}.", step) for number, step in enumerate(method.procedure, start=1)]
    marks = ", ".join(
        format_quantity(mark.time, "time") + (" into the discharge" if mark.after_discharge else "")
        for mark in method.marks
    )
    details += [
        ("classes", ", ".join(method.classes)),
        ("marks", marks or "none"),
        ("quantities", ", ".join(method.quantities)),
        ("needs", ", ".join(method.needs)),
        ("limits of use", method.limits_of_use),
    ]
    return Explanation(
        method.id, "test method", method.title, method.purpose, "", method.source, method.verified, "",
        tuple(details), method,
    )  # fmt: skip
