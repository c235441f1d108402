"""Resistances between the terminals of one asset, from the readings of one visit with terminals joined."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soakage.app.derive import Quantities, bound_of
from soakage.app.result import Network, NextReading, Pair
from soakage.app.uncertainty import GAIN
from soakage.model.connection import is_earth, live_parts, winding_of
from soakage.model.record import Record
from soakage.model.verdict import QuantityValue
from soakage.physics.terminal_connection import Connection, determined_pairs
from soakage.physics.terminal_network import ASSUMED_RELATIVE, TerminalNetwork, terminal_network
from soakage.physics.terminal_suggestion import next_connection
from soakage.units import Bound

_CODES = {Bound.LOWER: 1, Bound.UPPER: -1, None: 0}
TERMINAL_SET = "terminal-set"
LEAST_NODES, MOST_NODES = 3, 8
LEAST_READINGS = 2


@dataclass(frozen=True, slots=True)
class _Reading:
    """One reading of the network and the record it came from."""

    record: Record
    connection: Connection
    value: QuantityValue


def network(records: Sequence[Record], group: Sequence[int], found: Sequence[Quantities]) -> Network | None:
    """Return the network of one visit, or None where its readings say nothing about single pairs.

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
        Of a terminal set whatever its readings resolve, with what to read next; of other methods, phase by
        phase or core by core, only where at least one pair is resolved.
    """
    members = [(records[place], found[place]) for place in group if records[place].origin.row is None]
    sets = [(record, got) for record, got in members if record.test.method == TERMINAL_SET]
    if len(sets or members) < LEAST_READINGS:
        return None
    nodes, earth = _nodes([record for record, _ in sets or members])
    if not LEAST_NODES <= len(nodes) <= MOST_NODES:
        return None
    readings = _readings(sets or members, nodes, earth, repeated=bool(sets))
    if len(readings) < LEAST_READINGS:
        return None
    if not sets and not determined_pairs(nodes, [reading.connection for reading in readings]).any():
        return None
    solved = _solved(nodes, readings)
    if not sets and not solved.resolved.any():
        return None
    return _told(nodes, earth, readings, solved)


def _nodes(records: Sequence[Record]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the nodes of the asset, live ones first, and which of them are earth."""
    live: dict[str, str] = {}
    earth: dict[str, str] = {}
    apart = False
    for record in records:
        test, asset = record.test, record.asset
        for name in (*test.tested, *asset.terminals, *asset.cores, *test.earthed, *test.guarded):
            (earth if is_earth(name) else live).setdefault(_node(name).casefold(), _node(name))
        on_guard, live_earth = (any(map(is_earth, names)) for names in (test.guarded, test.tested))
        apart |= live_earth or (on_guard and any(map(is_earth, test.earthed)))
    names = tuple(earth.values()) or ("earth",)
    # Screen, tank and frame are one node unless a reading is taken between them.
    return (*live.values(), *(names if apart else names[:1])), names


def _node(name: str) -> str:
    return name.strip() if is_earth(name) else winding_of(name)


def _readings(
    members: Sequence[tuple[Record, Quantities]],
    nodes: tuple[str, ...],
    earth: tuple[str, ...],
    *,
    repeated: bool,
) -> list[_Reading]:
    readings: list[_Reading] = []
    for record, found in members:
        value = found.values.get("insulation_resistance_60s") or found.values.get("insulation_resistance")
        connection = _connection(record, nodes, earth)
        if value is None or connection is None or not value.value > 0:
            continue
        if repeated or connection not in [reading.connection for reading in readings]:
            readings.append(_Reading(record, connection, value))
    return readings


def _connection(record: Record, nodes: tuple[str, ...], earth: tuple[str, ...]) -> Connection | None:
    """Return a record's connection in nodes; an earthed set that is not stated is all the rest."""
    test = record.test
    known = {name.casefold(): name for name in nodes}
    one = known.get(earth[0].casefold(), earth[0])
    tested, earthed, guarded = (
        tuple(dict.fromkeys(known.get(_node(name).casefold(), one) for name in names))
        for names in (test.tested, test.earthed, test.guarded)
    )
    if not tested or (not live_parts(test.tested) and len(earth) == 1):
        return None
    if not earthed:
        earthed = tuple(name for name in nodes if name not in (*tested, *guarded))
    sets = (set(tested), set(earthed), set(guarded))
    if sum(map(len, sets)) != len(set().union(*sets)) or not earthed:
        return None
    return Connection(*(tuple(name for name in nodes if name in part) for part in sets))


def _solved(nodes: tuple[str, ...], readings: Sequence[_Reading]) -> TerminalNetwork:
    resistance = np.array([reading.value.value for reading in readings])
    bound = np.array([_CODES[reading.value.bound] for reading in readings], dtype=np.int8)
    connections = [reading.connection for reading in readings]
    if any(r.value.uncertainty is None and r.value.bound is None for r in readings):
        return terminal_network(nodes, connections, resistance, None, bound)
    gain = _shared_gain(readings)
    relative = np.array(
        [(r.value.uncertainty or ASSUMED_RELATIVE * r.value.value) / r.value.value for r in readings]
    )
    own = np.sqrt(np.maximum(relative**2 - gain**2, (0.01 * relative) ** 2))
    return terminal_network(nodes, connections, resistance, own * resistance, bound, gain)


def _shared_gain(readings: Sequence[_Reading]) -> float:
    """Return the relative gain error that all readings share: one instrument on one range; else 0."""
    instruments = {
        (r.record.instrument.name, r.record.instrument.serial, r.record.instrument.accuracy) for r in readings
    }
    gains = [
        part.uncertainty / r.value.value for r in readings for part in r.value.budget if part.name == GAIN
    ]
    alike = len(instruments) == 1 and len(gains) == len(readings)
    return gains[0] if alike and np.ptp(gains) < 1e-9 else 0.0


def _told(
    nodes: tuple[str, ...], earth: tuple[str, ...], readings: Sequence[_Reading], solved: TerminalNetwork
) -> Network:
    pairs = [_pair(solved, k) for k in range(len(solved.pairs))]
    # Pairs of live parts first, as a connection list reads.
    pairs.sort(key=lambda pair: any(name in earth for name in pair.between))
    open_pairs = [pair for pair in pairs if not pair.resolved]
    probability = solved.probability
    return Network(
        asset=readings[0].record.asset.title,
        pairs=tuple(pairs),
        consistent=solved.consistent if solved.degrees else None,
        probability=probability if np.isfinite(probability) else None,
        suggestion=_next(nodes, earth, readings, solved, open_pairs),
        set_aside=tuple(
            f"{readings[k].record.title}: a terminal floats, and the readings do not give the paths through it."
            for k in solved.set_aside
        ),
    )


def _pair(solved: TerminalNetwork, k: int) -> Pair:
    resolved = bool(solved.resolved[k])
    uncertainty, lowest = float(solved.uncertainty[k]), float(solved.lowest[k])
    return Pair(
        between=solved.pairs[k],
        resistance=float(solved.resistance[k]) if resolved else None,
        bound=bound_of(solved.bound[k]) if resolved else None,
        uncertainty=uncertainty if resolved and np.isfinite(uncertainty) else None,
        resolved=resolved,
        at_least=lowest if np.isfinite(lowest) else None,
    )


def _next(
    nodes: tuple[str, ...],
    earth: tuple[str, ...],
    readings: Sequence[_Reading],
    solved: TerminalNetwork,
    open_pairs: Sequence[Pair],
) -> NextReading | None:
    agrees = solved.consistent
    if not open_pairs and agrees:
        return None
    connections = [reading.connection for reading in readings]
    chosen = next_connection(nodes, connections, solved, [name for name in nodes if name in earth])
    names = [f"{' to '.join(pair.between)}" for pair in open_pairs]
    why = f"not resolved: {', '.join(names)}" if names else "the readings do not agree"
    guard = f", {' and '.join(chosen.guarded)} on guard" if chosen.guarded else ""
    sentence = (
        f"Read next {' and '.join(chosen.tested)} against {' and '.join(chosen.earthed)}{guard}, the same way and at "
        f"the same temperature ({why})."
    )
    return NextReading(chosen.tested, chosen.earthed, chosen.guarded, sentence)
