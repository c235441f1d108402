"""Whether a slow relaxation, as of a weak layer, explains the bend of a ramp as well as a knee does."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats

SETTLED_FROM = 0.04  # share of the top voltage from which the healthy basis holds
AS_WELL = 1.05  # sums of squares this near count as equal
_TIMES = np.geomspace(10.0, 10_000.0, 25)  # s
_ONSETS = np.linspace(0.1, 0.95, 35)


def relaxation_explains(time: ArrayLike, voltage: ArrayLike, current: ArrayLike) -> bool:
    """Compare two extensions of a healthy ramp: one relaxation of any time, and one hinge or bow from any onset.

    Parameters
    ----------
    time : array_like, shape (n,)
        Times since the ramp began [s], rising.
    voltage, current : array_like, shape (n,)
        Voltages [V] and currents [A], all above 0.

    Returns
    -------
    bool
        True when the relaxation leaves as little as the hinge: the bend is then no sign of a dependence on
        voltage. False too where there are too few readings to tell.

    References
    ----------
    A branch of resistance and capacitance in series takes r C (1 - e^(-t/RC)) on a ramp (derived); the healthy
    basis {1, ln V, sqrt V, V} (derived).
    """
    t, v, i = floats(time), floats(voltage), floats(current)
    top = v.max()
    kept = v >= SETTLED_FROM * top
    t, v, i = t[kept], v[kept] / top, i[kept]
    if t.size < 2 * 6:
        return False
    healthy = np.stack([np.ones_like(v), np.log(v), np.sqrt(v), v], axis=1) / i[:, None]
    one = np.ones_like(v)
    slow = [_left(healthy, -np.expm1(-t / tau) / i, one) for tau in _TIMES]
    bent = [
        _left(healthy, np.maximum(v - onset, 0.0) ** power / i, one) for onset in _ONSETS for power in (1, 2)
    ]
    return bool(min(slow) <= AS_WELL * min(bent))


def _left(healthy: Floats, extra: Floats, wanted: Floats) -> float:
    """Return the relative sum of squares left by the healthy basis with one more current, which only adds."""
    design = np.column_stack([healthy, extra])
    scale = np.linalg.norm(design, axis=0)
    scale[scale == 0] = 1.0
    solution, *_ = np.linalg.lstsq(design / scale, wanted, rcond=None)
    if solution[-1] < 0:
        return np.inf
    return float(((design / scale @ solution - wanted) ** 2).sum())
