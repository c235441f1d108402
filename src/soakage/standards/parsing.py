"""Turns the TOML tables of a criteria file into the values of :mod:`soakage.standards.criterion`.

Quantities in the files carry their units ("100 MOhm", "40 degC") and are read by
:mod:`soakage.units`; a bare number stands for a ratio.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Any, TypeVar

from soakage.errors import StandardDataError
from soakage.model.keys import KEYS
from soakage.model.verdict import Status
from soakage.quantities import lookup
from soakage.standards.criterion import (
    Condition,
    Criterion,
    Example,
    Group,
    Kind,
    Piece,
    Reference,
    Standard,
    TemperatureRule,
    Threshold,
    Verified,
    VoltageRow,
    VoltageTable,
    Waiver,
)
from soakage.units import parse

Table = dict[str, Any]
_Words = TypeVar("_Words", bound=StrEnum)

DERIVED_DIMENSIONS = {
    "tested_winding_voltage": "voltage",
    "tested_winding_power": "power",
    "phase_voltage": "voltage",
}


def number(value: object, dimension: str) -> float:
    """Return a number of the file in SI: text with a unit, or a bare number for a ratio."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        if dimension not in ("ratio", "fraction", "count", "year", ""):
            raise StandardDataError(f"{value!r} needs a unit of {dimension}, as text.")
        return float(value)
    return parse(str(value), dimension).value


def key_dimension(key: str) -> str:
    """Return the dimension of a nameplate key, derived fact or resistance; ``ratio`` where it has none."""
    if key in DERIVED_DIMENSIONS:
        return DERIVED_DIMENSIONS[key]
    if key not in KEYS and key.startswith("insulation_resistance"):
        return lookup(key).dimension
    return (KEYS[key].dimension if key in KEYS else "") or "ratio"


def _word(words: type[_Words], value: object, key: str) -> _Words:
    try:
        return words(str(value))
    except ValueError:
        raise StandardDataError(f"{key} is {value!r}; allowed: {', '.join(words)}.") from None


def _known(table: Table, allowed: set[str]) -> None:
    unknown = set(table) - allowed
    if unknown:
        raise StandardDataError(f"unknown keys {sorted(unknown)}; known: {sorted(allowed)}.")


_ENDS = ("from", "above", "below", "to")


def read_conditions(table: Mapping[str, object]) -> tuple[Condition, ...]:
    """Return the conditions of an ``applies`` or ``when`` table."""
    conditions = []
    for key, wanted in table.items():
        if isinstance(wanted, list):
            conditions.append(Condition(key, words=tuple(str(word) for word in wanted)))
        elif isinstance(wanted, dict):
            _known(wanted, {*_ENDS, "stated", "not"})
            dimension = key_dimension(key)
            ends = {end: number(wanted[end], dimension) for end in _ENDS if end in wanted}
            conditions.append(
                Condition(
                    key,
                    other_than=tuple(str(word) for word in wanted.get("not", ())),
                    start=ends.get("from"),
                    above=ends.get("above"),
                    below=ends.get("below"),
                    to=ends.get("to"),
                    stated=wanted.get("stated"),
                )
            )
        else:
            raise StandardDataError(f"condition on {key!r}: a list of words or a range is needed.")
    return tuple(conditions)


_PROOF = {"id", "name", "clause", "verified", "reported_by", "rationale"}


def _proof(table: Table, standard: Standard) -> dict[str, Any]:
    """Return what every entry carries: id, name, standard, clause and how it was verified."""
    verified = _word(Verified, table["verified"], "verified")
    if verified is Verified.SECONDARY and not table.get("reported_by"):
        raise StandardDataError("a secondary entry names who reports it (reported_by).")
    return {
        "id": str(table["id"]),
        "name": str(table["name"]),
        "standard": standard,
        "clause": str(table.get("clause", "")),
        "verified": verified,
        "reported_by": str(table.get("reported_by", "")),
        "rationale": str(table["rationale"]),
    }


_CRITERION_KEYS = _PROOF | {
    "group", "quantity", "kind", "sense", "breach", "breach_means", "applies", "limit", "of", "per", "slope",
    "intercept", "rows", "row_rule", "beyond_last", "edges", "statuses", "at_edge", "formula",
    "coefficients", "reference", "measure", "base_temperature", "multiplier", "waived", "methods", "notes",
    "examples",
}  # fmt: skip


def read_criterion(table: Table, standard: Standard) -> Criterion:
    """Return one criterion of a criteria file."""
    _known(table, _CRITERION_KEYS)
    dimension = lookup(table["quantity"]).dimension
    kind = _word(Kind, table["kind"], "kind")
    of = str(table.get("of", ""))
    per = number(table["per"], key_dimension(of)) if "per" in table else 1.0
    multiplier = dict(table.get("multiplier", {}))
    multiplier_key = str(multiplier.pop("key", ""))
    multiplier_verified = multiplier.pop("verified", None)
    limit_dimension = "ratio" if kind in (Kind.REFERENCE, Kind.SPREAD) else dimension
    sense = str(table.get("sense", "lower"))
    if sense not in ("lower", "upper"):
        raise StandardDataError(f"sense is {sense!r}; allowed: lower, upper.")
    criterion = Criterion(
        **_proof(table, standard),
        group=str(table.get("group", table["id"])),
        quantity=str(table["quantity"]),
        kind=kind,
        sense=sense,
        breach=_word(Status, table.get("breach", "investigate"), "breach"),
        breach_means=str(table["breach_means"]),
        applies=read_conditions(table.get("applies", {})),
        limit=number(table["limit"], limit_dimension) if "limit" in table else None,
        of=of,
        slope=number(table.get("slope", 0), dimension) / per if "slope" in table else 0.0,
        intercept=number(table["intercept"], dimension) if "intercept" in table else 0.0,
        rows=tuple(
            (number(row[0], key_dimension(of)), number(row[1], dimension)) for row in table.get("rows", [])
        ),
        row_rule=str(table.get("row_rule", "next-higher")),
        beyond_last=bool(table.get("beyond_last", False)),
        edges=tuple(number(edge, dimension) for edge in table.get("edges", [])),
        statuses=tuple(_word(Status, status, "status") for status in table.get("statuses", [])),
        at_edge=tuple(str(side) for side in table.get("at_edge", [])),
        formula=str(table.get("formula", "")),
        coefficients=MappingProxyType({k: float(v) for k, v in table.get("coefficients", {}).items()}),
        reference=str(table.get("reference", "")),
        measure=str(table.get("measure", "")),
        base_temperature=number(table["base_temperature"], "temperature")
        if "base_temperature" in table
        else None,
        multiplier_key=multiplier_key,
        multipliers=MappingProxyType({k: float(v) for k, v in multiplier.items()}),
        multiplier_verified=_word(Verified, multiplier_verified, "verified") if multiplier_verified else None,
        waivers=tuple(_waiver(entry) for entry in table.get("waived", [])),
        methods=tuple(str(method) for method in table.get("methods", [])),
        notes=str(table.get("notes", "")),
        examples=tuple(_example(entry, dimension) for entry in table.get("examples", [])),
    )
    _complete(criterion)
    return criterion


def _complete(criterion: Criterion) -> None:
    """Refuse a criterion whose kind lacks what it needs."""
    needs = {
        Kind.CONSTANT: (criterion.limit is not None, "limit"),
        Kind.LINEAR: (bool(criterion.of), "of, slope, per and intercept"),
        Kind.TABLE: (bool(criterion.of and criterion.rows), "of and rows"),
        Kind.BAND: (
            bool(criterion.edges) and len(criterion.statuses) == len(criterion.edges) + 1,
            "edges, and one status more than edges",
        ),
        Kind.FORMULA: (bool(criterion.formula), "formula and coefficients"),
        Kind.REFERENCE: (
            criterion.reference in ("factory", "first", "last") and criterion.limit is not None,
            "reference (factory, first or last) and limit",
        ),
        Kind.SPREAD: (bool(criterion.measure) and criterion.limit is not None, "measure and limit"),
    }
    met, needed = needs[criterion.kind]
    if not met:
        raise StandardDataError(f"a {criterion.kind} criterion lacks what its kind needs; give {needed}.")
    if criterion.at_edge and len(criterion.at_edge) != len(criterion.edges):
        raise StandardDataError("at_edge gives a side (lower or upper) for each edge.")
    if not criterion.examples:
        raise StandardDataError("examples on the limit and just off it are needed: they are its tests.")


def _waiver(table: Table) -> Waiver:
    _known(table, {"reason", "when", "quantity", "above"})
    quantity = str(table.get("quantity", ""))
    return Waiver(
        reason=str(table["reason"]),
        when=read_conditions(table.get("when", {})),
        quantity=quantity,
        above=number(table["above"], lookup(quantity).dimension) if quantity else None,
    )


def _example(table: Table, dimension: str) -> Example:
    _known(table, {"facts", "value", "status", "limit"})
    facts: dict[str, object] = {}
    for key, value in table.get("facts", {}).items():
        key_unit = dimension if key == "reference" else key_dimension(key)
        facts[key] = number(value, key_unit) if key_unit != "ratio" else value
    if isinstance(table["value"], int | float):
        value, bound = number(table["value"], dimension), None
    else:
        measured = parse(str(table["value"]), dimension)
        value, bound = measured.value, measured.bound
    limit = number(table["limit"], dimension) if "limit" in table else None
    return Example(MappingProxyType(facts), value, bound, _word(Status, table["status"], "status"), limit)


def read_group(table: Table, standard: Standard) -> Group:
    """Return one group of alternative criteria."""
    _known(table, {"id", "name", "quantity", "none"})
    del standard
    return Group(table["id"], table["name"], table["quantity"], table.get("none", ""))


def _celsius(value: object) -> float:
    return parse(str(value), "temperature").value - 273.15


def read_temperature_rule(table: Table, standard: Standard) -> TemperatureRule:
    """Return one temperature rule; temperatures become degC."""
    _known(table, _PROOF | {"pieces", "base", "flag_beyond", "applies", "examples", "notes"})
    pieces = []
    for entry in table["pieces"]:
        _known(
            entry,
            {"form", "from", "to", "interval", "coefficient", "zero", "ratio", "temperatures", "factors"},
        )
        temperatures = tuple(
            _celsius(value) if isinstance(value, str) else float(value)
            for value in entry.get("temperatures", [])
        )
        factors = tuple(float(value) for value in entry.get("factors", []))
        if len(temperatures) != len(factors):
            raise StandardDataError("temperatures and factors differ in number.")
        pieces.append(
            Piece(
                form=entry["form"],
                start=_celsius(entry["from"]) if "from" in entry else None,
                to=_celsius(entry["to"]) if "to" in entry else None,
                interval=number(entry["interval"], "temperature_difference") if "interval" in entry else None,
                coefficient=number(entry["coefficient"], "temperature_difference")
                if "coefficient" in entry
                else None,
                zero=float(entry.get("zero", 273.0)),
                ratio=float(entry["ratio"]) if "ratio" in entry else None,
                temperatures=temperatures,
                factors=factors,
            )
        )
    return TemperatureRule(
        **_proof(table, standard),
        pieces=tuple(pieces),
        base=_celsius(table["base"]) if "base" in table else None,
        flag_beyond=number(table["flag_beyond"], "temperature_difference")
        if "flag_beyond" in table
        else None,
        applies=read_conditions(table.get("applies", {})),
        examples=tuple(
            (_celsius(entry["temperature"]), _celsius(entry["base"]), float(entry["factor"]))
            for entry in table["examples"]
        ),
        notes=str(table.get("notes", "")),
    )


def read_voltage_table(table: Table, standard: Standard) -> VoltageTable:
    """Return one table of test voltages."""
    _known(
        table,
        _PROOF
        | {"applies", "of", "role", "rows", "factor_low", "factor_high", "per", "offset", "cap", "caution",
           "examples"},
    )  # fmt: skip
    of, role = str(table["of"]), str(table["role"])
    if role not in ("insulation-resistance", "overvoltage", "withstand"):
        raise StandardDataError(f"role is {role!r}; allowed: insulation-resistance, overvoltage, withstand.")
    dimension = key_dimension(of)
    rows = tuple(
        VoltageRow(
            below=number(row["below"], dimension) if "below" in row else None,
            to=number(row["to"], dimension) if "to" in row else None,
            low=number(row["low"], "voltage"),
            high=number(row["high"], "voltage"),
        )
        for row in table.get("rows", [])
    )
    return VoltageTable(
        **_proof(table, standard),
        applies=read_conditions(table.get("applies", {})),
        of=of,
        role=role,
        rows=rows,
        factor_low=_factor(table, "factor_low", dimension),
        factor_high=_factor(table, "factor_high", dimension),
        offset=number(table["offset"], "voltage") if "offset" in table else 0.0,
        cap=number(table["cap"], "voltage") if "cap" in table else None,
        caution=str(table.get("caution", "")),
        examples=tuple(
            (
                number(entry["given"], dimension),
                number(entry["low"], "voltage"),
                number(entry["high"], "voltage"),
            )
            for entry in table["examples"]
        ),
    )


def _factor(table: Table, name: str, dimension: str) -> float | None:
    """Return volts per SI unit of the key: a bare number of a voltage, or a voltage `per` a key value."""
    if name not in table:
        return None
    if "per" in table:
        return number(table[name], "voltage") / number(table["per"], dimension)
    return number(table[name], "ratio")


def read_threshold(table: Table, standard: Standard) -> Threshold:
    """Return one threshold."""
    _known(table, _PROOF | {"value", "dimension", "unit"})
    dimension = str(table["dimension"])
    return Threshold(
        **_proof(table, standard),
        value=number(table["value"], dimension),
        unit=str(table.get("unit", "")),
        dimension=dimension,
    )


def read_reference(table: Table, standard: Standard) -> Reference:
    """Return one table kept for reading only."""
    _known(table, _PROOF | {"columns", "rows", "caution"})
    columns = tuple(str(column) for column in table["columns"])
    rows = tuple(tuple(str(cell) for cell in row) for row in table["rows"])
    if any(len(row) != len(columns) for row in rows):
        raise StandardDataError("each row needs one cell per column.")
    return Reference(
        **_proof(table, standard), columns=columns, rows=rows, caution=str(table.get("caution", ""))
    )
