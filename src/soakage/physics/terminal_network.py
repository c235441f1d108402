"""The insulation between any terminals, from any set of readings with some of them joined.

A reading is the sum of the conductances between its tested and its earthed set; guarded terminals drop
out.  The pairs are solved for together, none below 0, each reading weighted by its uncertainty; what the
readings cannot tell apart is named, and readings beyond what is needed check the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Bounds, Flags, Floats, floats
from soakage.physics.network import RESOLVED_FROM
from soakage.physics.terminal_connection import (
    Connection,
    ConnectionLike,
    connection_of,
    floating_terminals,
    seen_conductance,
    terminal_pairs,
)
from soakage.physics.terminal_range import RANK, conductance_range

# Taken for readings without uncertainties, to weight them and to check them.  Ours, practice.
ASSUMED_RELATIVE = 0.01
# Two standard deviations of one check, both sides.
CONSISTENT_FROM = 0.0455
_ITERATIONS = 200
_SETTLED = 1e-10
# A range is closed, the value known, when its ends are this near, relative to the largest reading.
_CLOSED = 1e-7


class TerminalNetwork(NamedTuple):
    """Insulation of each pair of terminals.

    Parameters
    ----------
    pairs : tuple of (str, str)
        The pairs, in the order of all arrays.
    resistance : ndarray of float, shape (p,)
        Resistance [ohm]; NaN where not resolved.
    uncertainty : ndarray of float, shape (p,)
        Its standard uncertainty [ohm]; NaN where not resolved or none was given.
    bound : ndarray of int8, shape (p,)
        0 a value, +1 a lower bound, -1 an upper bound.
    resolved : ndarray of bool, shape (p,)
        Whether the readings tell this pair from the others and from nothing.
    lowest, highest : ndarray of float, shape (p,)
        Ends of what the readings allow, two standard uncertainties included where the pair is determined [ohm].
    conductance : ndarray of float, shape (p,)
        Solution with none below 0 [S]; where the readings leave a choice, one of the possible.
    residual : ndarray of float, shape (n,)
        Reading less what the solution gives, in standard uncertainties [1]; NaN for readings set aside.
    degrees : int
        Readings beyond those needed.
    chi_square : float
        Weighted sum of squares of what they miss [1].
    probability : float
        Chance of missing by as much or more; NaN without redundancy or without uncertainties.
    consistent : bool
        Whether they agree; True where nothing checks.
    set_aside : tuple of int
        Places of readings not used: a floating terminal whose network the readings do not give.
    """

    pairs: tuple[tuple[str, str], ...]
    resistance: Floats
    uncertainty: Floats
    bound: Bounds
    resolved: Flags
    lowest: Floats
    highest: Floats
    conductance: Floats
    residual: Floats
    degrees: int
    chi_square: float
    probability: float
    consistent: bool
    set_aside: tuple[int, ...]


class _Readings(NamedTuple):
    connections: tuple[Connection, ...]
    reading: Floats
    sigma: Floats
    kind: Bounds


def terminal_network(
    terminals: Sequence[str],
    connections: Sequence[ConnectionLike],
    resistance: ArrayLike,
    uncertainty: ArrayLike | None = None,
    bound: ArrayLike | None = None,
    common_gain: float = 0.0,
) -> TerminalNetwork:
    """Solve for the resistance of each pair of terminals by weighted non-negative least squares.

    Parameters
    ----------
    terminals : sequence of str
        Names of all terminals, earth among them.
    connections : sequence of Connection
        One for each reading; terminals in none of its sets float.
    resistance : array_like, shape (n,)
        Readings [ohm], all at one time mark, one voltage and one temperature, each after full earthing.
    uncertainty : array_like, shape (n,), optional
        Their standard uncertainties, independent of one another [ohm].
    bound : array_like of int, shape (n,), optional
        0 a value, +1 a lower bound, -1 an upper bound.
    common_gain : float, optional
        Relative standard uncertainty that all readings share [1]: it scales the whole network, so it neither
        hides a pair nor shows in the check.

    Returns
    -------
    TerminalNetwork

    Raises
    ------
    UsageError
        When counts do not match, a connection does not fit or no reading is positive.

    References
    ----------
    Sums of conductances and nodal analysis (derived); weighted least squares and its covariance, JCGM 100
    H.3 as the linear case (memory); chi-square of the residuals (derived).
    """
    stated = uncertainty is not None
    given = _checked(terminals, connections, resistance, uncertainty, bound)
    aside: tuple[int, ...] = ()
    solution, slopes, settled = _iterated(terminals, given)
    loose = tuple(k for k, c in enumerate(given.connections) if floating_terminals(terminals, c))
    # A floating terminal is solved for only where the rest of the network then is known to the last pair.
    if loose and (not settled or _rank(slopes, given) < slopes.shape[1]):
        aside = loose
        kept = [k for k in range(len(given.reading)) if k not in loose]
        solution, slopes, _ = _iterated(terminals, _picked(given, kept))
    else:
        kept = list(range(len(given.reading)))
    used = _picked(given, kept)
    return _described(
        terminals, used, solution, slopes, _Told(stated, common_gain, kept, len(given.reading), aside)
    )


class _Told(NamedTuple):
    stated: bool
    common_gain: float
    kept: list[int]
    total: int
    aside: tuple[int, ...]


def _checked(
    terminals: Sequence[str],
    connections: Sequence[ConnectionLike],
    resistance: ArrayLike,
    uncertainty: ArrayLike | None,
    bound: ArrayLike | None,
) -> _Readings:
    r = floats(resistance)
    kind = np.zeros(r.shape, np.int8) if bound is None else np.asarray(bound, np.int8)
    u = ASSUMED_RELATIVE * r if uncertainty is None else floats(uncertainty)
    if r.ndim != 1 or not len(connections) == len(r) == len(kind) == len(u):
        raise UsageError(
            f"Each reading needs a connection, and a bound and an uncertainty where given. Given: "
            f"{len(connections)} connections, {r.shape} readings, {u.shape} uncertainties, {kind.shape} bounds."
        )
    if not ((r > 0) & (u > 0)).all() or len(r) == 0:
        raise UsageError(
            "Readings and uncertainties of a network are numbers above 0. "
            f"Given: {r.tolist()}. Leave out readings that are missing."
        )
    made = tuple(connection_of(terminals, entry) for entry in connections)
    # A bound on a resistance is the opposite bound on its conductance.
    return _Readings(made, 1.0 / r, u / r**2, -kind)


def _picked(given: _Readings, kept: Sequence[int]) -> _Readings:
    places = list(kept)
    return _Readings(
        tuple(given.connections[k] for k in places),
        given.reading[places],
        given.sigma[places],
        given.kind[places],
    )


def _slopes(terminals: Sequence[str], given: _Readings, g: Floats) -> Floats:
    count = len(terminal_pairs(terminals))
    rows = [seen_conductance(g, terminals, entry).slope for entry in given.connections]
    return np.array(rows, dtype=np.float64).reshape(len(rows), count)


def _rank(slopes: Floats, given: _Readings) -> int:
    values = slopes[given.kind == 0]
    return int(np.linalg.matrix_rank(values, tol=RANK)) if values.size else 0


def _iterated(terminals: Sequence[str], given: _Readings) -> tuple[Floats, Floats, bool]:
    """Solve; with floating terminals again and again, each time with the slopes of the last solution."""
    count = len(terminal_pairs(terminals))
    g = np.full(count, float(given.reading.mean()) if len(given.reading) else 1e-12) / len(terminals)
    slopes = _slopes(terminals, given, g)
    loose = any(floating_terminals(terminals, entry) for entry in given.connections)
    for _ in range(_ITERATIONS if loose else 1):
        # The reading is of first degree in the conductances: slopes times solution is the reading itself.
        new = _non_negative(slopes, given)
        step = float(np.abs(new - g).max(initial=0.0))
        g = new if not loose else 0.5 * (new + g)
        slopes = _slopes(terminals, given, g) if loose else slopes
        if not loose or step <= _SETTLED * float(given.reading.max()):
            return g, slopes, True
    return g, slopes, False


def _non_negative(slopes: Floats, given: _Readings) -> Floats:
    """Weighted least squares with nothing below 0; a bound has slack to its own side."""
    from scipy.optimize import nnls

    if not len(given.reading):
        return np.zeros(slopes.shape[1])
    scale = float(given.reading.max())
    weight = scale / given.sigma
    slack = np.diag(-given.kind.astype(np.float64))[:, given.kind != 0]
    # A conductance known to be at most the reading falls short of it by its slack.
    matrix = np.hstack([slopes, slack]) * weight[:, None]
    solution, _ = nnls(matrix, given.reading / scale * weight, maxiter=100 * matrix.shape[1])
    return np.asarray(solution[: slopes.shape[1]] * scale, dtype=np.float64)


def _described(
    terminals: Sequence[str], given: _Readings, g: Floats, slopes: Floats, told: _Told
) -> TerminalNetwork:
    from scipy.special import chdtrc

    scale = float(given.reading.max()) if len(given.reading) else 1.0
    fitted = slopes @ g
    value = given.kind == 0
    breached = ~value & (given.kind * (fitted - given.reading) < 0)
    missed = np.where(value | breached, (given.reading - fitted) / given.sigma, 0.0)
    free = slopes[value | breached][:, g > RANK * scale]
    degrees = len(free) - (int(np.linalg.matrix_rank(free, tol=RANK)) if free.size else 0)
    chi_square = float(missed @ missed)
    tail = float(chdtrc(degrees, chi_square)) if degrees > 0 else float("nan")
    low, high, low_bound, high_bound = conductance_range(slopes, given.reading, given.kind, g)
    spread = _spread(slopes[value] / given.sigma[value, None], g.shape[0])
    closed = high - low <= _CLOSED * scale
    by_bound = (low_bound | high_bound) & np.isfinite(high)
    margin = told.stated * RESOLVED_FROM * np.where(closed, spread, 0.0)
    clear = (g > margin) | ~closed
    kind = np.where(closed | ~by_bound, 0, np.where(high_bound, 1, -1)).astype(np.int8)
    end = np.where(kind == -1, low, np.where(kind == 1, high, g))
    resolved = clear & (closed | by_bound) & (end > RANK * scale)
    ohms = 1.0 / np.where(resolved, end, np.nan)
    relative = np.hypot(spread / np.where(resolved, end, np.nan), told.common_gain)
    deviation = np.where(closed & told.stated, ohms * relative, np.nan)
    residual = np.full(told.total, np.nan)
    residual[told.kept] = missed
    return TerminalNetwork(
        terminal_pairs(terminals),
        ohms,
        deviation,
        kind,
        resolved,
        _inverse(high + margin, scale),
        _inverse(low - margin, scale),
        g,
        residual,
        degrees,
        chi_square,
        tail if told.stated else float("nan"),
        bool(degrees == 0 or tail >= CONSISTENT_FROM),
        told.aside,
    )


def _inverse(conductance: Floats, scale: float) -> Floats:
    some = conductance > RANK * scale
    return np.where(some, 1.0 / np.where(some, conductance, 1.0), np.inf)


def _spread(weighted: Floats, count: int) -> Floats:
    """Return the standard uncertainty of each pair; that of an undetermined one is not used."""
    if not weighted.size:
        return np.zeros(count)
    inverse = np.linalg.pinv(weighted, rcond=1e-10)
    return np.asarray(np.sqrt((inverse**2).sum(axis=1)), dtype=np.float64)
