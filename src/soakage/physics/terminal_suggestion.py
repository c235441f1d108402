"""Which reading to take next so that the network of terminals is known best."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np

from soakage.errors import UsageError
from soakage.physics.arrays import Floats
from soakage.physics.terminal_connection import Connection, ConnectionLike, connection_of, seen_conductance
from soakage.physics.terminal_network import ASSUMED_RELATIVE, TerminalNetwork

# Beyond this many terminals only sets of one or two live terminals are tried: the number of sets grows as 3^n.
ALL_SETS_UP_TO = 7
# A connection with this share of the best gain is as good if it is simpler: a guard is one more lead to get wrong.
_AS_GOOD = 0.8
_AS_GOOD_UNGUARDED = 0.5


def candidate_connections(terminals: Sequence[str], earth: Sequence[str] = ()) -> tuple[Connection, ...]:
    """Return every connection without a floating terminal, the simplest first.

    Parameters
    ----------
    terminals : sequence of str
        Names of all terminals.
    earth : sequence of str, optional
        Frame, tank, screen: never live.

    Returns
    -------
    tuple of Connection
        By number of guarded and then of live terminals; of a pair that only swaps what is live for what is
        earthed, one.

    References
    ----------
    None: an enumeration.
    """
    found: dict[tuple[frozenset[frozenset[str]], frozenset[str]], Connection] = {}
    for roles in product("TEG", repeat=len(terminals)):
        tested, earthed, guarded = (
            tuple(name for name, role in zip(terminals, roles, strict=True) if role == wanted)
            for wanted in "TEG"
        )
        few = len(terminals) <= ALL_SETS_UP_TO or len(tested) <= 2
        if tested and earthed and few and not set(tested) & set(earth):
            # Reciprocity: live and earthed swapped read the same.
            key = (frozenset((frozenset(tested), frozenset(earthed))), frozenset(guarded))
            found.setdefault(key, Connection(tested, earthed, guarded))
    return tuple(sorted(found.values(), key=lambda c: (len(c.guarded), len(c.tested))))


def next_connection(
    terminals: Sequence[str],
    connections: Sequence[ConnectionLike],
    network: TerminalNetwork,
    earth: Sequence[str] = (),
    relative: float = ASSUMED_RELATIVE,
) -> Connection:
    """Return the connection, not yet read, whose reading would say most about the network.

    Parameters
    ----------
    terminals : sequence of str
        Names of all terminals.
    connections : sequence of Connection
        Those read.
    network : TerminalNetwork
        What they gave.
    earth : sequence of str, optional
        Frame, tank, screen: never live.
    relative : float, optional
        Relative standard uncertainty to expect of a reading [1].

    Returns
    -------
    Connection
        The simplest that comes near the best gain: four fifths of it, without a guard half.

    Raises
    ------
    UsageError
        When there are fewer than two terminals or all of them are earth.

    References
    ----------
    Gain in the determinant of the information matrix, ln(1 + r C r/u^2), C the covariance known so far
    (D-optimal design; derived).  Pairs the readings leave open enter with an uncertainty as large as the
    largest conductance.
    """
    candidates = list(_not_read(terminals, connections, earth))
    if not candidates:
        raise UsageError(
            f"No connection is left to read. Terminals: {', '.join(terminals)}; earth: {', '.join(earth)}. "
            "A network needs at least two terminals, one of which may be live."
        )
    g = network.conductance
    scale = float(g.max(initial=0.0)) or 1.0
    known = [connection_of(terminals, c) for k, c in enumerate(connections) if k not in network.set_aside]
    information = np.eye(len(g))
    for connection in known:
        information += _information(g / scale, terminals, connection, relative)[1]
    covariance = np.linalg.inv(information)
    gains = []
    for connection in candidates:
        row, _ = _information(g / scale, terminals, connection, relative)
        gains.append(float(np.log1p(row @ covariance @ row)))
    best = max(gains)
    return next(
        c
        for c, gain in zip(candidates, gains, strict=True)
        if gain >= (_AS_GOOD if c.guarded else _AS_GOOD_UNGUARDED) * best
    )


def _not_read(
    terminals: Sequence[str], connections: Sequence[ConnectionLike], earth: Sequence[str]
) -> Iterator[Connection]:
    read = {_key(connection_of(terminals, connection)) for connection in connections}
    for candidate in candidate_connections(terminals, earth):
        if _key(candidate) not in read:
            yield candidate


def _key(connection: Connection) -> tuple[frozenset[frozenset[str]], frozenset[str]]:
    sides = frozenset((frozenset(connection.tested), frozenset(connection.earthed)))
    return sides, frozenset(connection.guarded)


def _information(
    g: Floats, terminals: Sequence[str], connection: Connection, relative: float
) -> tuple[Floats, Floats]:
    seen = seen_conductance(g, terminals, connection)
    # A reading of next to nothing is still no better than a share of the largest conductance.
    sigma = relative * max(float(seen.conductance), relative)
    row = seen.slope / sigma
    return row, np.outer(row, row)
