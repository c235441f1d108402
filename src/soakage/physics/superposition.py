"""Current of a linear insulation under any recorded voltage: jumps and straight pieces, in closed form.

A voltage is given by its corners; two corners at one time are a jump.  A staircase, a ramp, a source that
sags, an earlier test and a short circuit are all lists of corners, and lists follow one another.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Floats, floats
from soakage.physics.responses import Response


class Corners(NamedTuple):
    """A voltage made of straight pieces and jumps; 0 V before the first corner, level after the last.

    Parameters
    ----------
    time : ndarray of float, shape (k,)
        When, never falling [s]; two corners at one time are a jump.
    voltage : ndarray of float, shape (k,)
        Voltage there [V].
    """

    time: Floats
    voltage: Floats


def voltage_current(response: Response, time: ArrayLike, corners: Corners) -> Floats:
    """Superpose the answers to every jump and to every change of slope of a voltage.

    Parameters
    ----------
    response : Response
        The insulation: :class:`~soakage.physics.responses.PowerLaw` or
        :class:`~soakage.physics.responses.Branches`, any leading axes.
    time : array_like, shape (n,)
        Times [s].
    corners : Corners
        The voltage.

    Returns
    -------
    ndarray of float, shape (..., n)
        Current [A].  A sample at the very moment of a jump belongs to the voltage before it.  NaN on
        slopes for a power law without offset and with an exponent of 1 or more, which has no value there.

    Raises
    ------
    UsageError
        When times and voltages of the corners are not equally many, or the times fall.

    References
    ----------
    Superposition of a linear dielectric (derived); agrees with quadrature to 1e-9 and with ngspice to 1e-5.
    """
    t, when, volts = np.atleast_1d(floats(time)), floats(corners.time), floats(corners.voltage)
    if when.shape != volts.shape or when.ndim != 1 or (np.diff(when) < 0).any():
        raise UsageError(
            f"Corners need one voltage per time, in the order of time. Given: {when.shape} times, "
            f"{volts.shape} voltages. Sort them; give a jump as two corners at one time."
        )
    gaps, rises = np.diff(when), np.diff(volts)
    # A jump has no slope; the piece after it begins with its own.
    slopes = np.where(gaps > 0, rises / np.where(gaps > 0, gaps, 1.0), 0.0)
    bends = np.diff(slopes, prepend=0.0, append=0.0)
    jumps = np.concatenate([volts[:1], np.where(gaps > 0, 0.0, rises)])
    current = np.zeros(t.shape)
    for begin, jump, bend in zip(when, jumps, bends, strict=True):
        since = t - begin
        after, later = since > 0, np.where(since > 0, since, 1.0)
        if jump:
            current = current + np.where(after, jump * response.step(later), 0.0)
        if bend:
            current = current + np.where(after, bend * response.ramp(later), 0.0)
    return current if np.ndim(time) else current[..., 0]


def recorded_corners(time: ArrayLike, voltage: ArrayLike, edges: ArrayLike = ()) -> Corners:
    """Read the rows of a record as a voltage: straight from row to row, but jumping at the edges.

    Parameters
    ----------
    time : array_like, shape (n,)
        Times of the rows, rising [s].
    voltage : array_like, shape (n,)
        Their voltages [V]; rows without one are left out.
    edges : array_like, shape (k,), optional
        When the voltage jumped [s]: up to each it stands as in the row before, from it as in the row after.

    Returns
    -------
    Corners

    References
    ----------
    The house's reading of records: a level stands from its edge, a sag is straight between rows (practice).
    """
    t, v = floats(time), floats(voltage)
    t, v = t[~np.isnan(v)], v[~np.isnan(v)]
    moments, levels = [t], [v]
    for edge in floats(edges):
        # A row at the very edge still shows the level before it.
        after = int(np.searchsorted(t, edge, side="right"))
        moments.append(np.array([edge, edge]))
        levels.append(np.array([v[after - 1] if after else 0.0, v[after] if after < v.size else v[-1]]))
    # Edges stand behind the rows of their moment; a stable sort leaves them in that order.
    order = np.argsort(np.concatenate(moments), kind="stable")
    return Corners(np.concatenate(moments)[order], np.concatenate(levels)[order])


def earlier_test(test_voltage: float, held: float, earthed: float) -> Corners:
    """Write a test that ended before time 0 as corners of the voltage; a negative voltage is its polarity.

    Parameters
    ----------
    test_voltage : float
        Its voltage [V].
    held : float
        How long it stood [s].
    earthed : float
        How long the insulation has been earthed since [s].

    Returns
    -------
    Corners
        Four corners, all before or at time 0.

    References
    ----------
    Superposition of a linear dielectric (derived).
    """
    begin, end = -earthed - held, -earthed
    return Corners(np.array([begin, begin, end, end]), np.array([0.0, test_voltage, test_voltage, 0.0]))


def joined(first: Corners, second: Corners) -> Corners:
    """Let one voltage follow another, the second beginning from 0 V.

    Parameters
    ----------
    first, second : Corners
        The first ends at 0 V before the second begins.

    Returns
    -------
    Corners

    References
    ----------
    None: two lists, one after the other.
    """
    begin = second.time[:1]
    return Corners(
        np.concatenate([first.time, begin, second.time]),
        np.concatenate([first.voltage, np.zeros(begin.size), second.voltage]),
    )
