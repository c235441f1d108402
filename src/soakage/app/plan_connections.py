"""Which terminals are live, earthed and guarded, in which order, and which pairs that tells apart."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from types import MappingProxyType

import numpy as np

from soakage.model.asset import Asset
from soakage.model.connection import is_earth, winding_of

_EARTHED_PART = {
    "rotating-machine": "frame",
    "transformer": "tank",
    "cable": "screen",
    "switchgear": "earth",
    "low-voltage-installation": "PE",
    "apparatus": "earth",
}
_TERMINALS = {
    "rotating-machine": ("U", "V", "W"),
    "transformer": ("H", "L"),
    "cable": ("L1", "L2", "L3"),
    "switchgear": ("L1", "L2", "L3"),
    "low-voltage-installation": ("L", "N"),
    "apparatus": ("terminals",),
}
_ONE_WINDING = ("field", "armature")
_NUMBERED = ("rotating-machine", "transformer")  # whose terminals carry the number of an end


@dataclass(frozen=True, slots=True)
class Terminals:
    """Live parts of an asset and the part they are insulated from.

    Parameters
    ----------
    live : tuple of str
        Parts that can be live: phases, windings, cores, conductors.
    earth : str
        The part that is earthed.
    assumed : str
        What was not stated, as a sentence; else empty.
    joined : mapping of str to tuple of str
        Terminals of a part that has several, all joined for the test.
    """

    live: tuple[str, ...]
    earth: str
    assumed: str = ""
    joined: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def nodes(self) -> tuple[str, ...]:
        """Every part, the earthed one last."""
        return (*self.live, self.earth)

    @property
    def pairs(self) -> tuple[tuple[str, str], ...]:
        """Every pair of parts."""
        return tuple(combinations(self.nodes, 2))

    def names(self, parts: Iterable[str]) -> tuple[str, ...]:
        """Return every terminal of these parts."""
        return tuple(name for part in parts for name in self.joined.get(part, (part,)))


@dataclass(frozen=True, slots=True)
class Connection:
    """One connection of a plan.

    Parameters
    ----------
    methods : tuple of str
        Ids of the methods made on it; the longest first.
    tested, earthed, guarded : tuple of str
        Terminals live, earthed and on guard; a terminal in none of them stays open.
    parts : tuple of str
        Parts of the asset that are live: a phase, a winding, two windings joined.
    voltage : float or None
        Direct voltage [V]; None where no table gives one.
    observes : tuple of (str, str)
        Pairs of terminals whose insulation carries current to the meter.
    note : str
        What to mind; may be empty.
    """

    methods: tuple[str, ...]
    tested: tuple[str, ...]
    earthed: tuple[str, ...]
    guarded: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    voltage: float | None = None
    observes: tuple[tuple[str, str], ...] = ()
    note: str = ""

    @property
    def title(self) -> str:
        """What is live, as a person says it; of a schedule the two conductors."""
        if "circuit" in self.methods:
            return f"{self.tested[0]}–{self.earthed[0]}"
        return " + ".join(self.parts or self.tested)


def terminals(asset: Asset) -> Terminals:
    """Return the live parts of an asset and the part earthed, as stated or the usual ones of its class.

    Parameters
    ----------
    asset : Asset
        Nameplate; `terminals`, `cores` and `winding_voltages` are read in this order.

    Returns
    -------
    Terminals
        At least one live part.
    """
    asset_class = asset.asset_class or "apparatus"
    usual_earth = _EARTHED_PART.get(asset_class, "earth")
    stated = asset.terminals or asset.cores or tuple(asset.winding_voltages or ())
    if stated:
        earths = [name for name in stated if is_earth(name)]
        earth = earths[-1] if earths else usual_earth
        live = tuple(dict.fromkeys(name for name in stated if name != earth))
        if live:
            groups = _grouped(live, numbered=asset_class in _NUMBERED)
            several = {part: names for part, names in groups.items() if names != (part,)}
            return Terminals(tuple(groups), earth, joined=MappingProxyType(several))
    if asset.winding in _ONE_WINDING:
        return Terminals((asset.winding,), usual_earth)
    live = _TERMINALS.get(asset_class, _TERMINALS["apparatus"])
    return Terminals(
        live, usual_earth, f"Terminals not stated: {', '.join((*live, usual_earth))} are taken; check them."
    )


def _grouped(live: Iterable[str], *, numbered: bool) -> dict[str, tuple[str, ...]]:
    """Return the terminals of each part: U1 and U2 are the ends of U."""
    groups: dict[str, tuple[str, ...]] = {}
    for name in live:
        part = winding_of(name) if numbered and not is_earth(name) else name
        groups[part] = (*groups.get(part, ()), name)
    return groups


def observed(tested: Iterable[str], earthed: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Return the pairs whose insulation carries current to the meter: live to earthed, guarded left out."""
    far = tuple(earthed)
    return tuple((near, other) for near in tested for other in far)


def one_by_one(parts: Terminals, method: str) -> tuple[Connection, ...]:
    """Return each live part against all the others and the earthed part."""
    return tuple(_against_rest(parts, (name,), method) for name in parts.live)


def joined(parts: Terminals, method: str) -> tuple[Connection, ...]:
    """Return the one connection of all live parts together against the earthed part."""
    return (_against_rest(parts, parts.live, method),)


def full_set(parts: Terminals, method: str) -> tuple[Connection, ...]:
    """Return the connections that tell every pair apart; from three live parts on one more, as a check.

    Each live part alone, then each two joined, against all the rest: as many readings as there are pairs.
    """
    groups: list[tuple[str, ...]] = [(name,) for name in parts.live]
    groups += list(combinations(parts.live, 2))
    if len(parts.live) > len(groups[-1]):
        groups.append(parts.live)
    return tuple(_against_rest(parts, group, method) for group in groups)


def each_pair(parts: Terminals, method: str) -> tuple[Connection, ...]:
    """Return every pair read directly with the other conductors left open, to the earthed part first."""
    to_earth = [pair for pair in parts.pairs if parts.earth in pair]
    between = [pair for pair in parts.pairs if parts.earth not in pair]
    return tuple(
        Connection(
            (method,), parts.names((near,)), parts.names((far,)), parts=(near,), observes=((near, far),)
        )
        for near, far in (*to_earth, *between)
    )


def sheath(parts: Terminals, method: str) -> tuple[Connection, ...]:
    """Return the connection of a cable's oversheath: screen live against earth, the cores joined to it."""
    screens = (parts.earth, *parts.names(parts.live))
    return (
        Connection(
            (method,), screens, ("earth",), parts=(parts.earth,), observes=((parts.earth, "earth"),),
            note="Lift the screen's earth at both ends; join the cores to the screen.",
        ),
    )  # fmt: skip


def incidence(
    pairs: Sequence[tuple[str, str]], connections: Iterable[Connection]
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Return which pair's conductance is in which reading.

    Parameters
    ----------
    pairs : sequence of (str, str)
        Unknown conductances, one column each.
    connections : iterable of Connection
        Readings, one row each.

    Returns
    -------
    ndarray, shape (connections, pairs)
        1 where the pair carries current to the meter, else 0.
    """
    rows = [{frozenset(pair) for pair in connection.observes} for connection in connections]
    return np.array(
        [[float(frozenset(pair) in row) for pair in pairs] for row in rows], dtype=np.float64
    ).reshape(len(rows), len(pairs))


def told_apart(
    pairs: Sequence[tuple[str, str]], connections: Iterable[Connection]
) -> tuple[tuple[str, str], ...]:
    """Return the pairs whose own resistance follows from the readings.

    A pair follows when its unit row lies in the row space of the incidence: adding it leaves the rank.

    Parameters
    ----------
    pairs : sequence of (str, str)
        Every pair of terminals.
    connections : iterable of Connection
        The readings.

    Returns
    -------
    tuple of (str, str)
        Those of `pairs` that follow, in their order.
    """
    rows = incidence(pairs, connections)
    if not rows.size:
        return ()
    rank = np.linalg.matrix_rank(rows)
    unit = np.eye(len(pairs))
    return tuple(
        pair
        for place, pair in enumerate(pairs)
        if np.linalg.matrix_rank(np.vstack([rows, unit[place]])) == rank
    )


def _against_rest(parts: Terminals, group: tuple[str, ...], method: str) -> Connection:
    rest = tuple(name for name in parts.nodes if name not in group)
    return Connection(
        (method,), parts.names(group), parts.names(rest), parts=group, observes=observed(group, rest)
    )
