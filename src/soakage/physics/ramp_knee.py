"""The knee of a whole ramp: the first look on the way up that passes counts, as it would have live."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Flags, Floats, floats
from soakage.physics.ramp_watch import KneeLook, RampWatch


class RampKnee(NamedTuple):
    """The knee of a whole ramp; every array has the leading axes of the current.

    Parameters
    ----------
    found : ndarray of bool, shape (...)
        Whether a knee was found.
    knee_voltage, detected_voltage : ndarray of float, shape (...)
        Where it began, and where it was told [V]; NaN where none was found.
    excess_share, excess_uncertainty : ndarray of float, shape (...)
        Current beyond the healthy curve over it, where it was told or else at the end [1].
    confidence : ndarray of float, shape (...)
        The highest confidence of all looks [1].
    looks : tuple of KneeLook
        Every look on the way up.
    """

    found: Flags
    knee_voltage: Floats
    detected_voltage: Floats
    excess_share: Floats
    excess_uncertainty: Floats
    confidence: Floats
    looks: tuple[KneeLook, ...]


def ramp_knee(
    time: ArrayLike, voltage: ArrayLike, current: ArrayLike, top_voltage: float | None = None
) -> RampKnee:
    """Look for the knee of a ramp as it would have been found live: the first look that passes counts.

    Parameters
    ----------
    time : array_like, shape (n,)
        Times [s], rising.
    voltage : array_like, shape (n,)
        Voltages [V].
    current : array_like, shape (..., n)
        Currents [A]; ramps of one voltage may be given at once.
    top_voltage : float, optional
        Voltage the ramp was meant to reach [V]; else the highest of its readings.

    Returns
    -------
    RampKnee

    Raises
    ------
    UsageError
        When no voltage is above 0.

    References
    ----------
    Generalized likelihood ratio of a hinge on {1, ln V, sqrt V, V}, which holds healthy ramps to 0.07 %
    (derived); thresholds by simulation (derived).
    """
    t, v, i = floats(time), floats(voltage), floats(current)
    watch = RampWatch(float(np.nanmax(v)) if top_voltage is None else top_voltage)
    told = ((watch.add(float(t[k]), float(v[k]), i[..., k])) for k in range(t.size) if v[k] == v[k])
    looks = tuple(look for look in told if look is not None)
    nan = np.full(i.shape[:-1], np.nan)
    if not looks:
        return RampKnee(np.zeros(i.shape[:-1], np.bool_), nan, nan, nan, nan, nan, ())
    passed = np.stack([look.found for look in looks])
    found = np.asarray(passed.any(axis=0))
    at = np.where(found, passed.argmax(axis=0), len(looks) - 1)[None]

    def there(values: list[Floats]) -> Floats:
        return np.asarray(np.take_along_axis(np.stack(values), at, axis=0)[0])

    return RampKnee(
        found,
        np.where(found, there([look.onset for look in looks]), np.nan),
        np.where(found, there([np.full(found.shape, look.voltage) for look in looks]), np.nan),
        there([look.excess_share for look in looks]),
        there([look.excess_uncertainty for look in looks]),
        np.max([look.confidence for look in looks], axis=0),
        looks,
    )
