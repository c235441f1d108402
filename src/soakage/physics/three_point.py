"""The 1, 3.16 and 10 minute readings: conduction current, exponent and size of the absorption.

For I = C + K t^-n read at times in geometric progression the three unknowns follow in closed form.
A hand check: reading noise is multiplied 4 to 84 times in C (derived), so it is not an estimate to lean on.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Bounds, Floats, floats
from soakage.physics.formula import Example, Input, formula

# Why there is no decomposition; ThreePoint.reason indexes this table.
REASONS = (
    "",
    "the three currents do not fall ever more slowly, as a decaying power law does",
    "the three currents would leave a negative conduction current",
    "a current is missing",
)
MARKS = (60.0, 60.0 * np.sqrt(10.0), 600.0)
_INPUTS = (
    Input("current_60s", "A", "Current at 60 s"),
    Input("current_190s", "A", "Current at 189.7 s (3.16 min)"),
    Input("current_600s", "A", "Current at 600 s"),
)
_EXAMPLE = {"current_60s": "11.5 uA", "current_190s": "5.48107 uA", "current_600s": "3.08489 uA"}
_SOURCE = "IEEE Std 95 for its use; algebra derived"
_VALIDITY = "currents that fall ever more slowly and leave a conduction current of 0 or more"


class ThreePoint(NamedTuple):
    """What three currents in geometric progression of time say.

    Parameters
    ----------
    conduction_current : ndarray of float
        The part that does not decay [A].
    absorption_exponent : ndarray of float
        n of K t^-n [1].
    absorption_decade_ratio : ndarray of float
        N, absorption current at the first over that at the last reading [1].
    reason : ndarray of int8
        0, or the index in :data:`REASONS` of why the other fields are NaN.
    """

    conduction_current: Floats
    absorption_exponent: Floats
    absorption_decade_ratio: Floats
    reason: Bounds


def three_point(current_60s: ArrayLike, current_190s: ArrayLike, current_600s: ArrayLike) -> ThreePoint:
    """Split three currents at 60, 189.7 and 600 s into conduction and absorption.

    Parameters
    ----------
    current_60s, current_190s, current_600s : array_like
        Currents at 60 s, 60 sqrt(10) s and 600 s [A]; shapes broadcast.

    Returns
    -------
    ThreePoint
        NaN with a reason where the three are no decaying power law on a conduction of 0 or more.

    References
    ----------
    C = (I1 I10 - I3^2) / (I1 + I10 - 2 I3), N = ((I1 - I3)/(I3 - I10))^2, n = lg N: use in IEEE Std 95
    (memory), algebra derived.
    """
    i1, i3, i10 = np.broadcast_arrays(floats(current_60s), floats(current_190s), floats(current_600s))
    bend = i1 + i10 - 2.0 * i3
    # The square root of N is (i1 - i3)/(i3 - i10): above 1 for any decay, which a positive bend of a
    # falling record ensures.
    with np.errstate(divide="ignore", invalid="ignore"):
        conduction = (i1 * i10 - i3**2) / bend
        decade = ((i1 - i3) / (i3 - i10)) ** 2
    # A record of pure absorption lands on 0 only to rounding.
    conduction = np.where(np.abs(conduction) < 1e-12 * np.abs(i10), 0.0, conduction)
    reason = np.where((bend > 0) & (i3 > i10), np.where(conduction < 0, 2, 0), 1)
    reason = np.where(np.isnan(bend), 3, reason).astype(np.int8)
    good = reason == 0
    with np.errstate(divide="ignore", invalid="ignore"):
        exponent = np.log10(decade)
    blank = np.where(good, 0.0, np.nan)
    return ThreePoint(
        np.where(good, conduction, blank),
        np.where(good, exponent, blank),
        np.where(good, decade, blank),
        reason,
    )


@formula(
    id="conduction_current",
    name="Conduction current from three readings",
    expression="I_c = (I1 I10 - I3^2) / (I1 + I10 - 2 I3)",
    inputs=_INPUTS,
    unit="A",
    source=_SOURCE,
    verified="memory",
    example=Example(_EXAMPLE, 1.5e-6, 1e-4, "I = 10 t^-0.8 + 1.5 uA, t in min; derived"),
    validity=_VALIDITY,
)
def conduction_current(current_60s: ArrayLike, current_190s: ArrayLike, current_600s: ArrayLike) -> Floats:
    """Conduction current of :func:`three_point`.

    Parameters
    ----------
    current_60s, current_190s, current_600s : array_like
        Currents at 60, 189.7 and 600 s [A].

    Returns
    -------
    ndarray of float
        Conduction current [A] or NaN.

    References
    ----------
    As :func:`three_point`.
    """
    return three_point(current_60s, current_190s, current_600s).conduction_current


@formula(
    id="absorption_exponent",
    name="Absorption exponent from three readings",
    expression="n = lg N, N = ((I1 - I3) / (I3 - I10))^2",
    inputs=_INPUTS,
    unit="1",
    source=_SOURCE,
    verified="memory",
    example=Example(_EXAMPLE, 0.8, 1e-4, "I = 10 t^-0.8 + 1.5 uA, t in min; derived"),
    validity=_VALIDITY,
)
def absorption_exponent(current_60s: ArrayLike, current_190s: ArrayLike, current_600s: ArrayLike) -> Floats:
    """Absorption exponent of :func:`three_point`.

    Parameters
    ----------
    current_60s, current_190s, current_600s : array_like
        Currents at 60, 189.7 and 600 s [A].

    Returns
    -------
    ndarray of float
        n [1] or NaN.

    References
    ----------
    As :func:`three_point`.
    """
    return three_point(current_60s, current_190s, current_600s).absorption_exponent


@formula(
    id="absorption_coefficient",
    name="Absorption coefficient from three readings",
    expression="A = (I1 - I_c) 60^n / V",
    inputs=(*_INPUTS, Input("test_voltage", "V", "Constant voltage of the test")),
    unit="S s^n",
    source=_SOURCE,
    verified="memory",
    example=Example(
        {**_EXAMPLE, "test_voltage": "5 kV"},
        10e-6 * 60**0.8 / 5000,
        2e-4,
        "I = 10 t^-0.8 + 1.5 uA, t in min; derived",
    ),
    validity=_VALIDITY,
)
def absorption_coefficient(
    current_60s: ArrayLike, current_190s: ArrayLike, current_600s: ArrayLike, test_voltage: ArrayLike
) -> Floats:
    """Size A of the absorption current V A t^-n, t in seconds.

    Parameters
    ----------
    current_60s, current_190s, current_600s : array_like
        Currents at 60, 189.7 and 600 s [A].
    test_voltage : array_like
        Constant voltage [V].

    Returns
    -------
    ndarray of float
        A [S s^n] or NaN.

    References
    ----------
    As :func:`three_point`; I(t) = V (A t^-n + G), derived.
    """
    parts = three_point(current_60s, current_190s, current_600s)
    absorption = floats(current_60s) - parts.conduction_current
    return absorption * 60.0**parts.absorption_exponent / floats(test_voltage)
