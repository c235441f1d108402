"""Groups records of one asset and visit, and compares their sister sections."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soakage.app.derive import Quantities
from soakage.app.uncertainty import budgeted, spread_parts
from soakage.model.connection import live_parts
from soakage.model.record import Record
from soakage.model.verdict import QuantityValue
from soakage.physics.spread import phase_spread_bounded
from soakage.quantities import lookup
from soakage.units import Bound, format_quantity

_CODES = {Bound.LOWER: 1, Bound.UPPER: -1, None: 0}
_BOUNDS = {1: Bound.LOWER, -1: Bound.UPPER, 0: None}
SISTER_CLASSES = ("rotating-machine", "cable", "switchgear")


@dataclass(frozen=True, slots=True)
class Spread:
    """Spread among sister sections: records compared, value, and the section that departs most."""

    members: tuple[int, ...]
    quantity: QuantityValue
    odd: str


def asset_key(record: Record) -> tuple[str, ...]:
    """Return what tells one asset from another, empty where nothing does."""
    asset = record.asset
    parts = (asset.site, asset.name, asset.tag, asset.serial)
    return tuple(part or "" for part in parts) if any(parts[1:]) else ()


def visit_groups(records: Sequence[Record]) -> list[tuple[int, ...]]:
    """Return the places of the records of each asset and visit, in order of appearance.

    Parameters
    ----------
    records : sequence of Record
        In the order given.

    Returns
    -------
    list of tuple of int
        A record with neither visit nor day stands alone; rows of one schedule file belong together.
    """
    groups: dict[object, list[int]] = {}
    for place, record in enumerate(records):
        key = asset_key(record)
        visit: object = record.paper.visit or record.day
        if record.origin.row is not None:
            group: object = ("schedule", record.origin.file, record.origin.sha256)
        elif key and visit is not None:
            group = (key, visit)
        else:
            group = ("alone", place)
        groups.setdefault(group, []).append(place)
    return [tuple(places) for places in groups.values()]


def section_name(record: Record) -> str:
    """Return the section a record is of: as stated, else its circuit and conductors, else its live parts."""
    asset, live = record.asset, ", ".join(live_parts(record.test.tested))
    of_circuit = (
        ", ".join(part for part in (asset.circuit, asset.between or live) if part) if asset.circuit else ""
    )
    return asset.section or of_circuit or live or record.title


def sister_spreads(
    records: Sequence[Record], group: Sequence[int], found: Sequence[Quantities]
) -> list[Spread]:
    """Return the spread of the 60 s resistance among sister sections of one visit.

    Parameters
    ----------
    records : sequence of Record
        All records.
    group : sequence of int
        Places of one visit.
    found : sequence of Quantities
        Of all records.

    Returns
    -------
    list of Spread
        One for each method with at least two sections tested the same way.
    """
    kinds: dict[tuple[object, ...], dict[str, int]] = {}
    for place in group:
        record = records[place]
        if record.asset.asset_class not in SISTER_CLASSES or len(live_parts(record.test.tested)) > 1:
            continue
        alike = (record.test.method, record.test.test_voltage, bool(record.test.guarded), record.asset.cores)
        if "insulation_resistance_60s" in found[place].values:
            # a section read again counts with its last reading
            kinds.setdefault(alike, {})[section_name(record)] = place
    spreads = [
        _spread(records, sorted(places.values()), found) for places in kinds.values() if len(places) > 1
    ]
    return [spread for spread in spreads if spread is not None]


def _spread(records: Sequence[Record], places: Sequence[int], found: Sequence[Quantities]) -> Spread | None:
    corrected_id, raw_id = "insulation_resistance_60s_corrected", "insulation_resistance_60s"
    all_corrected = all(corrected_id in found[place].values for place in places)
    used = corrected_id if all_corrected else raw_id
    values = [found[place].values[used] for place in places]
    resistance = np.array([value.value for value in values])
    result = phase_spread_bounded(
        resistance, np.array([_CODES[value.bound] for value in values], dtype=np.int8)
    )
    if np.isnan(result.value):  # bounds of one kind say nothing about their ratio
        return None
    entry = lookup("phase_spread")
    middle = float(np.median(np.log(resistance)))
    odd = int(np.argmax(np.abs(np.log(resistance) - middle)))
    inputs = {
        section_name(records[place]): format_quantity(value.value, "resistance")
        for place, value in zip(places, values, strict=True)
    }
    quantity = QuantityValue(
        "phase_spread",
        float(result.value),
        _BOUNDS[int(result.bound)],
        formula=f"{entry.expression}, of {lookup(used).name.lower()}",
        source=entry.source,
        inputs=inputs,
    )
    if quantity.bound is None:
        largest, smallest = values[int(np.argmax(resistance))], values[int(np.argmin(resistance))]
        instruments = {records[place].instrument for place in places}
        parts = spread_parts(largest, smallest, one_instrument=len(instruments) == 1)
        quantity = budgeted(quantity, parts)
    return Spread(tuple(places), quantity, section_name(records[places[odd]]))
