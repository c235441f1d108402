"""The signs a record shows, as numbers that the cause files ask for; absent where they cannot be had."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from soakage.app.visits import Spread, section_name
from soakage.model.connection import winding_part
from soakage.model.record import Record
from soakage.model.verdict import Finding, Judgement, QuantityValue, Status
from soakage.standards.library import Library
from soakage.units import Bound, format_quantity

ALIKE, ODD, FAR = 1.5, 2.0, 20.0  # spreads among sister sections: alike, one departs, one does not belong
GUARD_HELPS = 1.5
NEW_FROM = 1970
_RESISTANCES = ("insulation_resistance", "insulation_resistance_60s", "insulation_resistance_60s_corrected")
_RATIOS = ("polarization_index", "dielectric_absorption_ratio", "absorption_ratio_60_15")


@dataclass(slots=True)
class Features:
    """Features by name, and the same as text with units."""

    values: dict[str, float] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)

    def flag(self, name: str, holds: object) -> None:
        """Set a sign that is there or not; one that is not there stays absent."""
        if holds:
            self.values[name] = 1.0

    def number(self, name: str, value: float, dimension: str) -> None:
        """Set a measured sign with its text."""
        self.values[name] = value
        self.texts[name] = format_quantity(value, dimension, digits=2)


@dataclass(frozen=True, slots=True)
class Signs:
    """What features are read from: one record with what was said about it, and its mates of the visit."""

    record: Record
    quantities: Mapping[str, QuantityValue]
    findings: Sequence[Finding]
    judgements: Sequence[Judgement]
    spread: Spread | None
    mates: Sequence[tuple[Record, Mapping[str, QuantityValue]]]


def features(signs: Signs, library: Library) -> Features:
    """Return the features of one record.

    Parameters
    ----------
    signs : Signs
        The record and what was said about it.
    library : Library
        Holds the figures features are cut at.

    Returns
    -------
    Features
    """
    found = Features()
    codes = {finding.code for finding in signs.findings}
    _climate(signs, found)
    _sections(signs, found)
    _level(signs, found)
    _voltage(signs, found, codes)
    _layers(signs, found, codes, library)
    _set_up(signs, found, codes)
    return found


def _climate(signs: Signs, found: Features) -> None:
    conditions = signs.record.conditions
    dew = signs.quantities.get("dew_point")
    if dew is not None and conditions.winding_temperature is not None:
        found.number("dew_margin", conditions.winding_temperature - dew.value, "temperature_difference")
    if conditions.relative_humidity is not None:
        found.number("humidity", conditions.relative_humidity, "humidity")
    found.flag("surface_not_dry", conditions.surface in ("damp", "wet"))


def _sections(signs: Signs, found: Features) -> None:
    spread, reading = signs.spread, signs.quantities.get("insulation_resistance_60s")
    if spread is not None:
        value = spread.quantity.value
        found.flag("sections_alike", value < ALIKE and spread.quantity.bound is None)
        others = [
            q["insulation_resistance_60s"].value for _, q in signs.mates if "insulation_resistance_60s" in q
        ]
        this_one = spread.odd == section_name(signs.record)
        if reading is not None and others and value >= ODD and this_one:
            low = reading.value < min(others)
            found.flag("odd_section", low)
            found.flag("high_beside_sisters", not low and value >= FAR)
    for record, quantities in signs.mates:
        other = quantities.get("insulation_resistance_60s")
        same = set(record.test.tested) == set(signs.record.test.tested)
        guarded = record.test.guarded and not signs.record.test.guarded
        if same and guarded and other is not None and reading is not None:
            found.flag("guard_helps", other.value > GUARD_HELPS * reading.value)
    found.flag(
        "whole_winding",
        signs.record.asset.asset_class == "rotating-machine"
        and signs.record.test.tested
        and winding_part(signs.record) == "whole",
    )


def _low(judgement: Judgement, quantities: Sequence[str]) -> bool:
    return judgement.quantity in quantities and judgement.status.rung >= Status.WATCH.rung


def _level(signs: Signs, found: Features) -> None:
    below = any(_low(j, _RESISTANCES) and j.status.rung >= Status.INVESTIGATE.rung for j in signs.judgements)
    ratio = any(_low(j, _RATIOS) for j in signs.judgements)
    found.flag("below_minimum", below)
    found.flag(
        "leaky",
        below
        or ratio
        or "odd_section" in found.values
        or any(_low(j, _RESISTANCES) for j in signs.judgements),
    )
    share = _conduction_share(signs)
    if share is not None:
        found.number("conduction_share", share, "fraction")


def _conduction_share(signs: Signs) -> float | None:
    reading = signs.quantities.get("insulation_resistance_60s")
    fitted = signs.quantities.get("conductance_fitted")
    if reading is None or reading.bound is not None:
        return None
    if fitted is not None:
        return min(1.0, fitted.value * reading.value)
    current, voltage = signs.quantities.get("conduction_current"), signs.record.test.test_voltage
    if current is None or not voltage:
        return None
    return min(1.0, current.value * reading.value / voltage)


def _voltage(signs: Signs, found: Features, codes: set[str]) -> None:
    excess, fall = signs.quantities.get("excess_current_share"), signs.quantities.get("voltage_dependence")
    if excess is not None:
        found.number("excess_share", excess.value, "fraction")
    if fall is not None and fall.bound is not Bound.UPPER and "unequal_holds" not in codes:
        found.number("voltage_fall", fall.value, "fraction")
    found.flag("knee", "knee_voltage" in signs.quantities)
    found.flag("broke_down", codes & {"broke_down", "flashed_over"})
    speaks = (
        any(_low(j, ("excess_current_share", "voltage_dependence")) for j in signs.judgements)
        or {"knee", "broke_down"} & found.values.keys()
    )
    found.flag("voltage_sign", speaks)


def _layers(signs: Signs, found: Features, codes: set[str], library: Library) -> None:
    asset, index = signs.record.asset, signs.quantities.get("polarization_index")
    found.flag("discharge_high", any(_low(j, ("dielectric_discharge",)) for j in signs.judgements))
    found.flag("discharge_beyond_fit", "discharge_beyond_fit" in codes)
    low = any(_low(j, (*_RESISTANCES, *_RATIOS)) for j in signs.judgements)
    found.flag("index_good", not low and index is not None)
    brittle = library.thresholds["ieee-43-2013.brittle-index"].value
    found.flag("index_high", index is not None and index.value > brittle)
    if asset.insulation_family:
        found.flag(asset.insulation_family, holds=True)
    found.flag("before_1970", asset.year is not None and asset.year < NEW_FROM)


def _set_up(signs: Signs, found: Features, codes: set[str]) -> None:
    readings = signs.record.readings
    found.flag("no_voltage", "no_voltage" in codes)
    found.flag("all_over_range", len(readings) > 1 and bool((readings.bound == 1).all()))
    found.flag("floating", "terminal_floating" in codes)
    found.flag("scatter", codes & {"noise", "current_not_settling"})
    speaks = {"no_voltage", "all_over_range", "floating", "scatter", "high_beside_sisters"}
    found.flag("set_up_sign", speaks & found.values.keys())
    found.flag("collapsed", "voltage_collapsed" in codes)
    found.flag(
        "at_limit",
        any("current limit" in f.sentence for f in signs.findings if f.code == "voltage_collapsed"),
    )
    found.flag("attached", signs.record.conditions.attached)
    found.flag("short_earthing", "residual_discharge" in codes)
    found.flag("negative_current", "current_sign_change" in codes)
    left = signs.quantities.get("residual_current_share")
    if left is not None:
        found.number("residual_share", left.value, "fraction")
    found.flag("charge_sign", {"short_earthing", "negative_current"} & found.values.keys())
