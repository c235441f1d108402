"""Resistances between windings and to earth from a terminal set, in closed form."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from soakage.app.derive import Quantities, bound_of
from soakage.app.result import Network, Pair
from soakage.model.connection import live_parts
from soakage.model.record import Record
from soakage.model.verdict import QuantityValue
from soakage.physics.network import Network as Solved
from soakage.physics.network import three_winding_network, two_winding_network
from soakage.units import Bound

_CODES = {Bound.LOWER: 1, Bound.UPPER: -1, None: 0}
TWO, THREE = 2, 3


def network(records: Sequence[Record], group: Sequence[int], found: Sequence[Quantities]) -> Network | None:
    """Return the network of one visit's terminal set, or None where the readings make no closed form.

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
    Network or None
        Pairs of windings, then each winding to earth.
    """
    places = [place for place in group if records[place].test.method == "terminal-set"]
    readings: dict[frozenset[str], QuantityValue] = {}
    for place in places:
        record, live = records[place], live_parts(records[place].test.tested)
        reading = _reading(found[place])
        if live and reading is not None and not live_parts(record.test.guarded):
            readings.setdefault(frozenset(live), reading)
    windings = list(dict.fromkeys(part for p in places for part in live_parts(records[p].test.tested)))
    if len(windings) not in (TWO, THREE):
        return None
    sets = [frozenset(c) for size in range(1, len(windings) + 1) for c in combinations(windings, size)]
    needed = sets if len(windings) == TWO else sets[:-1]
    if any(wanted not in readings for wanted in needed):
        return None
    chosen = [readings.get(wanted) for wanted in sets]
    resistance = np.array([q.value if q else np.nan for q in chosen])
    bound = np.array([_CODES[q.bound] if q else 0 for q in chosen], dtype=np.int8)
    known = [q.uncertainty if q else np.nan for q in chosen]
    uncertainty = np.array(known, dtype=float) if all(u is not None for u in known) else None
    solve = two_winding_network if len(windings) == TWO else three_winding_network
    solved = solve(resistance, uncertainty, bound)
    earth = _earth_name(records, places)
    pairs = [*combinations(windings, 2), *((winding, earth) for winding in windings)]
    checked = len(windings) == THREE and sets[-1] in readings
    return Network(
        asset=records[places[0]].asset.title,
        pairs=tuple(_pair(pair, solved, k, stated=uncertainty is not None) for k, pair in enumerate(pairs)),
        consistent=bool(solved.consistent) if checked else None,
    )


def _reading(found: Quantities) -> QuantityValue | None:
    return found.values.get("insulation_resistance_60s") or found.values.get("insulation_resistance")


def _earth_name(records: Sequence[Record], places: Sequence[int]) -> str:
    names = [name for place in places for name in records[place].test.earthed if not live_parts([name])]
    return names[0] if names else "earth"


def _pair(between: tuple[str, str], solved: Solved, k: int, *, stated: bool) -> Pair:
    resolved = bool(solved.resolved[k])
    uncertainty = float(solved.uncertainty[k])
    return Pair(
        between=between,
        resistance=float(solved.resistance[k]) if resolved else None,
        bound=bound_of(solved.bound[k]) if resolved else None,
        uncertainty=uncertainty if resolved and stated and np.isfinite(uncertainty) else None,
        resolved=resolved,
    )
