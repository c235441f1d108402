"""What a reading between joined terminals says: the sum of conductances it sees, and its slopes."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Flags, Floats, floats

# Conductance to nowhere, as a share of the largest: it keeps a node that floats alone from dividing by 0.
_LEAK = 1e-15
_RANK = 1e-9


class Connection(NamedTuple):
    """Which terminals are joined to what during one reading; all others float.

    Parameters
    ----------
    tested : tuple of str
        Live terminals, joined.
    earthed : tuple of str
        Terminals the measured current returns from, joined.
    guarded : tuple of str
        Terminals on guard: held at earth potential, their current not measured.
    """

    tested: tuple[str, ...]
    earthed: tuple[str, ...]
    guarded: tuple[str, ...] = ()


# A connection, or its sets of names in the same order, as data files hold them.
ConnectionLike: TypeAlias = Connection | Sequence[Sequence[str]]


class Seen(NamedTuple):
    """Conductance a connection reads, with its slopes.

    Parameters
    ----------
    conductance : ndarray of float, shape ()
        Measured current over test voltage [S].
    slope : ndarray of float, shape (p,)
        Its derivative to the conductance of each pair [1]; 0 to 1.
    """

    conductance: Floats
    slope: Floats


def terminal_pairs(terminals: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Return every pair of terminals, in the order used for all pairwise results.

    Parameters
    ----------
    terminals : sequence of str
        Names, each once.

    Returns
    -------
    tuple of (str, str)
        n(n - 1)/2 pairs: the first with each later one, then the second, and so on.

    References
    ----------
    None: an order of names.
    """
    return tuple(combinations(terminals, 2))


def connection_of(terminals: Sequence[str], connection: ConnectionLike) -> Connection:
    """Return a connection whose sets are checked against the terminals.

    Parameters
    ----------
    terminals : sequence of str
        Names of all terminals.
    connection : Connection or sequence of sequences of str
        Tested, earthed and perhaps guarded.

    Returns
    -------
    Connection

    Raises
    ------
    UsageError
        When a name is unknown or stands in two sets, or nothing is tested or earthed.

    References
    ----------
    None: a check of names.
    """
    made = Connection(*(tuple(part) for part in connection))
    named = [name for part in made for name in part]
    unknown = [name for name in named if name not in terminals]
    twice = sorted({name for name in named if named.count(name) > 1})
    if unknown or twice or not made.tested or not made.earthed:
        raise UsageError(
            f"A connection needs tested and earthed terminals, each in one set. Given: {made}. "
            f"Terminals: {', '.join(terminals)}. Unknown: {', '.join(unknown) or 'none'}; "
            f"in two sets: {', '.join(twice) or 'none'}."
        )
    return made


def floating_terminals(terminals: Sequence[str], connection: ConnectionLike) -> tuple[str, ...]:
    """Return the terminals a connection names in none of its sets.

    Parameters
    ----------
    terminals : sequence of str
        Names of all terminals.
    connection : Connection or sequence of sequences of str
        Tested, earthed and perhaps guarded.

    Returns
    -------
    tuple of str
        In the order of the terminals.

    References
    ----------
    None: a difference of sets.
    """
    named = {name for part in connection for name in part}
    return tuple(name for name in terminals if name not in named)


def seen_conductance(conductance: ArrayLike, terminals: Sequence[str], connection: ConnectionLike) -> Seen:
    """Conductance read by a connection: the pairs between tested and earthed, floating terminals eliminated.

    Parameters
    ----------
    conductance : array_like, shape (p,)
        Conductance of each pair [S], in the order of :func:`terminal_pairs`.
    terminals : sequence of str
        Names of all terminals.
    connection : Connection or sequence of sequences of str
        Tested, earthed and perhaps guarded; all others float.

    Returns
    -------
    Seen
        Without floating terminals the slopes are 1 for the pairs between tested and earthed, else 0,
        whatever the conductances; with them both depend on the network.

    Raises
    ------
    UsageError
        When the connection does not fit the terminals.

    References
    ----------
    Nodal analysis; floating nodes by the Schur complement of the conductance matrix; slopes from the
    reciprocity of a passive network, dG/dg_ab = (v_a - v_b)(w_b - w_a) with v the potentials under 1 V on
    the tested set and w those under 1 V on the earthed set, each with all else held at 0 V (derived).
    """
    made = connection_of(terminals, connection)
    g = floats(conductance)
    place = {name: k for k, name in enumerate(terminals)}
    pairs = np.array([(place[a], place[b]) for a, b in terminal_pairs(terminals)])
    loose = [place[name] for name in floating_terminals(terminals, made)]
    forward, back = np.zeros(len(terminals)), np.zeros(len(terminals))
    forward[[place[name] for name in made.tested]] = 1.0
    back[[place[name] for name in made.earthed]] = 1.0
    if loose:
        matrix = _nodal(g, pairs, len(terminals))
        inner = matrix[np.ix_(loose, loose)] + _LEAK * max(float(g.max(initial=0.0)), 1e-30) * np.eye(
            len(loose)
        )
        sides = matrix[loose] @ np.column_stack([forward, back])
        potentials = -np.linalg.solve(inner, sides)
        forward[loose], back[loose] = potentials.T
    a, b = pairs.T
    slope = (forward[a] - forward[b]) * (back[b] - back[a])
    return Seen(np.asarray(slope @ g), slope)


def determined_pairs(terminals: Sequence[str], connections: Sequence[ConnectionLike]) -> Flags:
    """Return which pairs exact readings by these connections would give, whatever they read.

    Parameters
    ----------
    terminals : sequence of str
        Names of all terminals.
    connections : sequence of Connection
        Those to be read; one with a floating terminal tells nothing here.

    Returns
    -------
    ndarray of bool, shape (p,)
        In the order of :func:`terminal_pairs`.

    Raises
    ------
    UsageError
        When a connection does not fit the terminals.

    References
    ----------
    A pair is determined where nothing of it lies in the null space of the slopes (derived).
    """
    count = len(terminal_pairs(terminals))
    whole = [c for c in connections if not floating_terminals(terminals, c)]
    if not whole:
        return np.zeros(count, np.bool_)
    slopes = np.array([seen_conductance(np.ones(count), terminals, c).slope for c in whole])
    _, singular, rows = np.linalg.svd(slopes)
    null = rows[int((singular > _RANK).sum()) :]
    return np.asarray(np.abs(null).max(axis=0, initial=0.0) <= _RANK)


def _nodal(g: Floats, pairs: Floats, count: int) -> Floats:
    matrix = np.zeros((count, count))
    for (a, b), value in zip(pairs, g, strict=True):
        matrix[a, a] += value
        matrix[b, b] += value
        matrix[a, b] -= value
        matrix[b, a] -= value
    return matrix
