"""Which direct voltage a plan asks for, from which row of which table, and why there within the row."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from soakage.app.rules import Rules
from soakage.model.asset import Asset
from soakage.model.keys import KEYS
from soakage.standards.criterion import VoltageTable
from soakage.units import format_quantity

INSULATION_RESISTANCE, OVERVOLTAGE = "insulation-resistance", "overvoltage"
_GENTLE_PURPOSES = {"after-fault": "the insulation may be damaged", "drying": "the insulation may be wet"}


@dataclass(frozen=True, slots=True)
class Voltage:
    """A direct voltage to test with.

    Parameters
    ----------
    value : float
        Proposed [V].
    low, high : float
        Ends of what the table allows [V].
    table : str
        Id of the table.
    row : str
        The row in words.
    source, verified : str
        Where the table stands and how that was verified.
    why : str
        Why this value within the range.
    caution : str
        The table's own caution; may be empty.
    """

    value: float
    low: float
    high: float
    table: str
    row: str
    source: str
    verified: str
    why: str
    caution: str = ""


def table_for(rules: Rules, facts: Mapping[str, object], role: str) -> VoltageTable | None:
    """Return the table of test voltages that the rule set names for these facts.

    Parameters
    ----------
    rules : Rules
        Name the tables per class.
    facts : mapping of str to object
        Nameplate keys and derived facts, SI.
    role : str
        insulation-resistance or overvoltage; tables of withstand voltages are never picked.

    Returns
    -------
    VoltageTable or None
        The first whose conditions all hold and whose key is stated.
    """
    if role not in (INSULATION_RESISTANCE, OVERVOLTAGE):
        return None
    for table in rules.profile.voltage_tables(facts, role, rules.library):
        if table.role != role or facts.get(table.of) is None:
            continue
        if all(condition.holds(facts.get(condition.key)) is True for condition in table.applies):
            return table
    return None


def span(table: VoltageTable, given: float) -> tuple[float, float, str] | None:
    """Return (low, high, row in words) of a table for a key value in SI, or None where no row holds."""
    name = table.of.replace("_", " ")
    if table.factor_low is not None and table.factor_high is not None:
        top = table.cap if table.cap is not None else math.inf
        low, high = (min(f * given + table.offset, top) for f in (table.factor_low, table.factor_high))
        capped = f", at most {_volts(top)}" if table.cap is not None else ""
        return low, high, f"{name} {_shown(given, table.of)}{capped}"
    over = ""
    for row in table.rows:
        if row.below is not None and given < row.below:
            return row.low, row.high, f"{name} {over}below {_volts(row.below)}"
        if row.to is not None and given <= row.to:
            return row.low, row.high, f"{name} {over}up to {_volts(row.to)}"
        if row.below is None and row.to is None:
            return row.low, row.high, f"{name} {over or 'any'}".removesuffix(", ")
        over = f"from {_volts(row.below)}, " if row.below is not None else f"above {_volts(row.to or 0.0)}, "
    return None


def choose(
    rules: Rules,
    asset: Asset,
    facts: Mapping[str, object],
    *,
    role: str = INSULATION_RESISTANCE,
    purpose: str | None = None,
) -> Voltage | None:
    """Return the voltage to plan with: the high end of the row unless something speaks for the low end.

    Parameters
    ----------
    rules : Rules
        Name the tables per class.
    asset : Asset
        Nameplate.
    facts : mapping of str to object
        Nameplate keys and derived facts, SI.
    role : str
        insulation-resistance, or overvoltage (then always the low end).
    purpose : str or None
        Why the test is made.

    Returns
    -------
    Voltage or None
        None where no table applies or no row holds.
    """
    table = table_for(rules, facts, role)
    if table is None:
        return None
    found = span(table, float(facts[table.of]))  # type: ignore[arg-type]
    if found is None:
        return None
    low, high, row = found
    value, why = _within(low, high, role, asset, purpose)
    source = f"{table.standard.name}, {table.clause}" if table.clause else table.standard.name
    return Voltage(value, low, high, table.id, row, source, str(table.verified), why, table.caution)


def _within(low: float, high: float, role: str, asset: Asset, purpose: str | None) -> tuple[float, str]:
    if low == high:
        return high, "The table gives one value."
    if role == OVERVOLTAGE:
        return low, "The low end of the range; the owner may ask for more."
    if purpose in _GENTLE_PURPOSES:
        return low, f"The low end of the range: {_GENTLE_PURPOSES[purpose]}."
    if asset.insulation_family == "thermoplastic":
        return low, "The low end of the range: thermoplastic insulation is old insulation."
    return high, (
        "The high end of the range, unless earlier tests were made lower: then the same as then, or the "
        "results do not compare."
    )


def _shown(given: float, key: str) -> str:
    return format_quantity(given, KEYS[key].dimension if key in KEYS else "voltage", trim=True)


def _volts(value: float) -> str:
    return format_quantity(value, "voltage", trim=True)
