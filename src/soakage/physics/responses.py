"""How a linear insulation answers one volt: to a step, and to a voltage that rises by one volt a second.

Everything a test applies is a sum of such steps and ramps.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats

# A power law has no value at the edge; the answer is taken this much later, as a real edge would.
EDGE_OFFSET = 0.01


class Response(Protocol):
    """Anything that answers a step and a ramp."""

    def step(self, since: Floats) -> Floats:
        """Give the current per volt [A/V] this long after a step [s]; time on the last axis, all above 0."""

    def ramp(self, since: Floats) -> Floats:
        """Give the current per volt a second [A s/V] this long after a ramp began [s]; all 0 or above."""


def _over_time(parameter: ArrayLike) -> Floats:
    """Give a parameter of shape (...) a time axis; a single number needs none."""
    value = floats(parameter)
    return value[..., None] if value.ndim else value


@dataclass(frozen=True, slots=True)
class PowerLaw:
    """Capacitance behind a series resistance, power-law absorption, and conduction.

    Parameters
    ----------
    absorption_coefficient : array_like, shape (...)
        A of the absorption current A t^-n per volt [S s^n].
    absorption_exponent : array_like, shape (...)
        n [1].
    conductance : array_like, shape (...)
        Bulk and surface conduction [S].
    series_resistance : array_like, shape (...)
        Resistance between source and insulation [ohm]; with 0 the charging current is over at once.
    capacitance : array_like, shape (...)
        Geometric capacitance [F].
    offset : float
        Time added to that since an edge in the power law [s]: keeps the current finite there.
    """

    absorption_coefficient: ArrayLike
    absorption_exponent: ArrayLike
    conductance: ArrayLike = 0.0
    series_resistance: ArrayLike = 0.0
    capacitance: ArrayLike = 0.0
    offset: float = EDGE_OFFSET

    def step(self, since: Floats) -> Floats:
        """Give the current per volt [A/V] this long after a step [s]; time on the last axis, all above 0."""
        r, c = _over_time(self.series_resistance), _over_time(self.capacitance)
        n, t = _over_time(self.absorption_exponent), since + self.offset
        charging = np.where(r * c > 0, 1.0, 0.0) / np.where(r > 0, r, 1.0)
        with np.errstate(under="ignore"):
            fast = charging * np.exp(-since / np.where(r * c > 0, r * c, 1.0))
        return fast + _over_time(self.absorption_coefficient) * t**-n + _over_time(self.conductance)

    def ramp(self, since: Floats) -> Floats:
        """Give the current per volt a second [A s/V] this long after a ramp began [s]; all 0 or above."""
        r, c = _over_time(self.series_resistance), _over_time(self.capacitance)
        with np.errstate(under="ignore"):
            # Without a resistance the charging current is there from the first moment of the ramp.
            lag = np.where(r * c > 0, np.exp(-since / np.where(r * c > 0, r * c, 1.0)), since <= 0)
        absorbed = _power_integral(since, _over_time(self.absorption_exponent), self.offset)
        return (
            c * (1.0 - lag)
            + _over_time(self.absorption_coefficient) * absorbed
            + _over_time(self.conductance) * since
        )


def _power_integral(since: Floats, n: Floats, offset: float) -> Floats:
    """Integral of (x + offset)^-n from 0; NaN where it does not exist (offset 0 and n of 1 or more)."""
    m = 1.0 - n
    if offset == 0.0:
        return np.where(m > 0, since**m / np.where(m > 0, m, 1.0), np.nan)
    stretch = np.log1p(since / offset)
    smooth = np.abs(m) > 1e-12
    steady = np.expm1(m * stretch) / np.where(smooth, m, 1.0)
    return offset**m * np.where(smooth, steady, stretch)


@dataclass(frozen=True, slots=True)
class Branches:
    """Series R-C branches side by side, and a conductance: the extended Debye form.

    Parameters
    ----------
    resistance : array_like, shape (..., m)
        Resistance of each branch [ohm].
    capacitance : array_like, shape (..., m)
        Capacitance of each branch [F]; a geometric capacitance behind a resistance is one of them.
    conductance : array_like, shape (...)
        Conduction beside them [S].
    """

    resistance: ArrayLike
    capacitance: ArrayLike
    conductance: ArrayLike = 0.0

    def step(self, since: Floats) -> Floats:
        """Give the current per volt [A/V] this long after a step [s]; time on the last axis, all above 0."""
        r = floats(self.resistance)[..., None, :]
        tau = r * floats(self.capacitance)[..., None, :]
        with np.errstate(under="ignore"):
            decay = np.exp(-since[..., None] / tau)
        return np.asarray((decay / r).sum(axis=-1)) + _over_time(self.conductance)

    def ramp(self, since: Floats) -> Floats:
        """Give the current per volt a second [A s/V] this long after a ramp began [s]; all 0 or above."""
        c = floats(self.capacitance)[..., None, :]
        tau = c * floats(self.resistance)[..., None, :]
        with np.errstate(under="ignore"):
            risen = -np.expm1(-since[..., None] / tau)
        return np.asarray((c * risen).sum(axis=-1)) + _over_time(self.conductance) * since


class Ladder(NamedTuple):
    """R-C branches that stand for a power law.

    Parameters
    ----------
    branches : Branches
        The branches; the slower ones that are left out are its conductance.
    ripple : float
        Largest relative departure from the power law that the spacing alone causes [1].
    """

    branches: Branches
    ripple: float


def power_law_ladder(
    absorption_coefficient: float,
    absorption_exponent: float,
    shortest: float,
    longest: float,
    per_decade: int = 2,
    offset: float = 0.0,
) -> Ladder:
    """Build R-C branches whose step current is A t^-n between two times.

    Parameters
    ----------
    absorption_coefficient : float
        A [S s^n].
    absorption_exponent : float
        n [1], above 0.
    shortest, longest : float
        Times between which the branches follow the power law [s].
    per_decade : int, optional
        Branches in a decade of time constants; two are enough for a simulation.
    offset : float, optional
        t0 of A (t + t0)^-n [s]: fades the branches much faster than it, so that ramps agree as well.

    Returns
    -------
    Ladder
        1/R_k = A h tau_k^-n / Gamma(n), C_k = tau_k/R_k with tau spaced by e^h, h = ln 10 / per decade,
        and one conductance A tau_edge^-n / Gamma(1+n) for all slower branches; its ripple is
        2 |Gamma(n + 2 pi i/h)| / Gamma(n).

    References
    ----------
    Gamma integral sampled evenly in ln tau, ripple by Poisson summation (derived); measured 0.095 % to
    0.22 % for two branches a decade (derived).
    """
    from scipy.special import gamma, loggamma

    n, h = absorption_exponent, np.log(10.0) / per_decade
    # Two decades of faster and three of slower branches: what is left out there is below the ripple.
    count = int(np.ceil((np.log10(longest / shortest) + 5.0) * per_decade)) + 1
    tau = shortest * 1e-2 * np.exp(h * np.arange(count))
    with np.errstate(under="ignore"):
        share = np.exp(-offset / tau)
    # A branch the offset fades altogether would have no resistance that can be written down.
    tau, share = tau[share > 1e-30], share[share > 1e-30]
    resistance = gamma(n) / (absorption_coefficient * h * tau**-n * share)
    edge = tau[-1] * np.exp(h / 2)
    tail = absorption_coefficient * edge**-n / gamma(1.0 + n)
    ripple = 2.0 * np.exp(loggamma(n + 2j * np.pi / h).real) / gamma(n)
    return Ladder(Branches(resistance, tau / resistance, float(tail)), float(ripple))
