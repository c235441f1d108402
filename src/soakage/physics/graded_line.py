"""Whether a staircase was graded: the exponent its holds were made for, and how well they keep to it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import floats

# Exponents looked through.  Below the first the absorption hardly decays, and any holds would do.
_TRIALS = np.linspace(0.3, 1.4, 221)


class GradedHolds(NamedTuple):
    """How holds are graded.

    Parameters
    ----------
    absorption_exponent : float
        Exponent for which the absorption is nearest to being in proportion to the voltage at every end [1].
    departure : float
        Largest departure from that proportion, as a share of it [1].
    """

    absorption_exponent: float
    departure: float


def graded_holds(voltage: ArrayLike, hold: ArrayLike) -> GradedHolds:
    """Find the exponent for which a staircase is graded.

    Parameters
    ----------
    voltage : array_like, shape (k,)
        Levels, at least three, rising [V].
    hold : array_like, shape (k,)
        How long each was held, one after the other [s].

    Returns
    -------
    GradedHolds

    Raises
    ------
    UsageError
        When there are fewer than three levels, they do not rise, or a hold is not above 0.

    References
    ----------
    sum_j dV_j (T_k - T_(j-1))^-n = V_k T_1^-n at every end (derived).
    """
    v, held = floats(voltage), floats(hold)
    steps = np.diff(v, prepend=0.0)
    if v.size < 3 or v.shape != held.shape or not (steps > 0).all() or not (held > 0).all():
        raise UsageError(
            "Graded holds are told from three rising levels on, each held for a time above 0. "
            f"Given: levels {v.tolist()} V, holds {held.tolist()} s."
        )
    ends = np.cumsum(held)
    begun = np.concatenate([[0.0], ends[:-1]])
    since = np.where(ends[:, None] > begun, ends[:, None] - begun, np.inf)
    absorbed = (steps * since ** -_TRIALS[:, None, None]).sum(axis=-1)
    wanted = v * held[0] ** -_TRIALS[:, None]
    worst = np.abs(absorbed / wanted - 1.0).max(axis=-1)
    best = int(worst.argmin())
    return GradedHolds(float(_TRIALS[best]), float(worst[best]))
