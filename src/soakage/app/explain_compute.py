"""Works an explained id with the user's own numbers."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from soakage.app.explain import Explanation, condition_text
from soakage.app.plan_voltage import span
from soakage.errors import QuantityError, UsageError
from soakage.model.keys import KEYS, Kind
from soakage.physics.formula import Formula, Input
from soakage.quantities import lookup
from soakage.standards.criterion import Criterion, TemperatureRule, VoltageTable
from soakage.standards.judge import status_of
from soakage.standards.library import Library
from soakage.standards.limits import limit_for
from soakage.standards.parsing import DERIVED_DIMENSIONS, key_dimension
from soakage.standards.temperature import factor
from soakage.units import Measured, celsius, format_quantity, kelvin, parse

_DERIVED_WORDS = ("winding_part", "winding_connection", "windings_joined")
_DIMENSIONS = {
    "ohm": ("resistance",), "V": ("voltage",), "A": ("current",), "F": ("capacitance",), "S": ("conductance",),
    "s": ("time",), "1": ("ratio", "fraction"), "degC": ("temperature",), "K": ("temperature_difference",),
    "V/s": ("ramp_rate",), "J": ("energy",), "C": ("charge",), "m": ("length",),
    "ohm m": ("resistance_length", "resistivity"), "A/(V F)": ("dielectric_discharge",),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Worked:
    """A result in SI with its inputs in SI; `text` is the result in words."""

    value: float
    unit: str
    inputs: Mapping[str, float | str]
    text: str
    status: str = ""


def compute(explanation: Explanation, given: Mapping[str, str], library: Library) -> Worked:
    """Work a formula, limit, temperature rule or voltage table.

    Parameters
    ----------
    explanation : Explanation
        What was asked for.
    given : mapping of str to str
        Inputs by name, with units, as typed.
    library : Library
        Holds the temperature rules a corrected value may name.

    Returns
    -------
    Worked
        In SI; temperatures in kelvin.

    Raises
    ------
    UsageError
        If an input is missing, unknown or unreadable, or the id cannot be worked.
    ValidityError
        If the formula has no value there.
    """
    entry = explanation.entry
    if isinstance(entry, Formula):
        return _formula(entry, given)
    if isinstance(entry, Criterion):
        return _criterion(entry, given)
    if isinstance(entry, TemperatureRule):
        return _temperature(entry, given)
    if isinstance(entry, VoltageTable):
        return _voltage(entry, given)
    if explanation.id.endswith("_corrected"):
        return _corrected(explanation.id, given, library)
    raise UsageError(f"{explanation.id} is a {explanation.kind}: it has no formula to work with numbers.")


def _read(name: str, text: str, dimensions: tuple[str, ...]) -> float:
    return _measured(name, text, dimensions).value


def _measured(name: str, text: str, dimensions: tuple[str, ...]) -> Measured:
    problem: QuantityError | None = None
    for dimension in dimensions:
        try:
            return parse(text, dimension)
        except QuantityError as error:
            problem = problem or error
    raise UsageError(f"{name}={text}: {problem}")


def _input(entry: Input, text: str) -> float:
    if entry.unit in _DIMENSIONS:
        value = _read(entry.name, text, _DIMENSIONS[entry.unit])
        return celsius(value) if entry.unit == "degC" else value
    figure, _, unit = text.strip().partition(" ")
    try:
        value = float(figure)
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or unit.strip() not in ("", entry.unit):
        raise UsageError(f"{entry.name}={text}: a number in {entry.unit} is needed.")
    return value


def _formula(entry: Formula, given: Mapping[str, str]) -> Worked:
    known = {item.name: item for item in entry.inputs}
    values = {name: _input(known[name], text) for name, text in given.items() if name in known}
    unknown = {name: 0.0 for name in given if name not in known}
    result = entry.compute(**values, **unknown)
    unit = entry.unit
    if unit == "degC":
        result, unit = kelvin(result), "K"
        text = format_quantity(result, "temperature", digits=4)
    elif unit in _DIMENSIONS:
        text = format_quantity(result, _DIMENSIONS[unit][0], digits=4)
    else:
        text = f"{result:.6g} {unit}"
    si = {name: kelvin(v) if known[name].unit == "degC" else v for name, v in values.items()}
    return Worked(result, unit, si, text)


def _refuse_unknown(entry_id: str, given: Mapping[str, str], allowed: Iterable[str]) -> None:
    """Refuse names that mean nothing here; the nearest are named."""
    known = sorted(set(allowed))
    for name in given:
        if name not in known:
            near = difflib.get_close_matches(name, known, n=3, cutoff=0.5)
            hint = f" Did you mean: {', '.join(near)}?" if near else f" It takes: {', '.join(known)}."
            raise UsageError(f"{entry_id} takes no {name!r}.{hint}")


def _facts(given: Mapping[str, str], quantity: str) -> tuple[dict[str, object], Measured | None]:
    facts: dict[str, object] = {}
    value = None
    for name, text in given.items():
        if name == quantity:
            value = _measured(name, text, (lookup(quantity).dimension,))
        elif name in DERIVED_DIMENSIONS or (name in KEYS and KEYS[name].kind is Kind.NUMBER):
            facts[name] = _read(name, text, (key_dimension(name),))
        elif name == "year":
            facts[name] = _read(name, text, ("number",))
        else:
            facts[name] = text
    return facts, value


def _criterion(entry: Criterion, given: Mapping[str, str]) -> Worked:
    _refuse_unknown(entry.id, given, (*KEYS, *DERIVED_DIMENSIONS, *_DERIVED_WORDS, entry.quantity))
    facts, value = _facts(given, entry.quantity)
    for condition in entry.applies:
        if condition.holds(facts.get(condition.key)) is False and condition.key in facts:
            raise UsageError(f"{entry.id} does not apply: it is for {condition_text(condition)}.")
    limit = limit_for(entry, facts, {})
    if isinstance(limit, str):
        raise UsageError(f"{entry.id}: {limit} Give it as key=value.")
    figure = limit.lower if limit.lower is not None else limit.upper
    status = reason = ""
    if value is not None:
        status_word, reason = status_of(entry, limit, value.value, value.bound)
        status = str(status_word)
    if figure is None:
        if value is None:
            raise UsageError(f"{entry.id} is a band: give {entry.quantity}=value to see where it falls.")
        figure = value.value
    text = limit.text + (f"; {status}: {reason}" if status else "")
    inputs = {k: v if isinstance(v, float | int) else str(v) for k, v in facts.items()}
    if value is not None:
        inputs[entry.quantity] = value.value
    return Worked(figure, limit.unit, inputs, text, status)


def _temperature(entry: TemperatureRule, given: Mapping[str, str]) -> Worked:
    allowed = ("winding_temperature", "insulation_temperature", "base_temperature", "insulation_resistance")
    unknown = [name for name in given if name not in allowed]
    stated = given.get("winding_temperature") or given.get("insulation_temperature")
    if unknown or stated is None:
        raise UsageError(f"{entry.id} takes winding_temperature, and may take {', '.join(allowed[2:])}.")
    temperature = celsius(_read("winding_temperature", stated, ("temperature",)))
    base_text = given.get("base_temperature")
    usual = entry.base if entry.base is not None else 40.0
    base = celsius(_read("base_temperature", base_text, ("temperature",))) if base_text else usual
    result = factor(entry, temperature, base)
    if result.value is None:
        raise UsageError(f"{entry.id}: {result.reason}")
    inputs: dict[str, float | str] = {
        "winding_temperature": kelvin(temperature),
        "base_temperature": kelvin(base),
    }
    text = f"K = {result.value:.5g}. {result.flag}".strip()
    if "insulation_resistance" in given:
        resistance = _read("insulation_resistance", given["insulation_resistance"], ("resistance",))
        inputs["insulation_resistance"] = resistance
        corrected = resistance * result.value
        shown = format_quantity(corrected, "resistance", digits=4)
        return Worked(corrected, "ohm", inputs, f"{shown} ({text})")
    return Worked(result.value, "1", inputs, text)


def _corrected(quantity_id: str, given: Mapping[str, str], library: Library) -> Worked:
    raw_id = quantity_id.removesuffix("_corrected")
    rule_id = given.get("temperature_rule", "")
    if rule_id not in library.temperature_rules or raw_id not in given:
        known = ", ".join(sorted(library.temperature_rules))
        raise UsageError(
            f"{quantity_id} takes {raw_id}, winding_temperature and temperature_rule (one of {known}); "
            "base_temperature may be given."
        )
    rest = {k: v for k, v in given.items() if k not in (raw_id, "temperature_rule")}
    worked = _temperature(
        library.temperature_rules[rule_id], {**rest, "insulation_resistance": given[raw_id]}
    )
    return Worked(worked.value, worked.unit, {**worked.inputs, "temperature_rule": rule_id}, worked.text)


def _voltage(entry: VoltageTable, given: Mapping[str, str]) -> Worked:
    if entry.of not in given:
        raise UsageError(f"{entry.id} takes {entry.of}. Give it as {entry.of}=value.")
    value = _read(entry.of, given[entry.of], (key_dimension(entry.of),))
    found = span(entry, value)
    if found is None:
        raise UsageError(f"{entry.id} has no row for {entry.of} = {given[entry.of]}.")
    low, high, row = found
    text = f"{format_quantity(low, 'voltage', trim=True)} to {format_quantity(high, 'voltage', trim=True)} ({row})"
    return Worked(high, "V", {entry.of: value, "lower": low, "upper": high}, text)
