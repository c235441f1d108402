"""Single pairs of a transformer's insulation from the readings they need: for explaining, and by hand.

A whole set of readings is solved in :mod:`soakage.physics.network`, with its uncertainty.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Input, formula
from soakage.physics.network import two_winding_network

# Rounding alone must not resolve the difference of large equal readings.
_RESOLVED = 1e-9


@formula(
    id="winding_to_earth_resistance",
    name="Resistance of one of two windings to earth",
    expression="R_HE = 2 / (1/R1 - 1/R2 + 1/R3)",
    inputs=(
        Input("reading_h", "ohm", "This winding against the other and earth, R1", "reading"),
        Input("reading_l", "ohm", "The other against this one and earth, R2", "reading"),
        Input("reading_hl", "ohm", "Both joined against earth, R3", "reading"),
    ),
    unit="ohm",
    source="sums of conductances",
    verified="derived",
    example=Example(
        {"reading_h": "1333.3333 MOhm", "reading_l": "800 MOhm", "reading_hl": "666.66667 MOhm"},
        2000e6, 1e-6, "4000, 2000 and 1000 MOhm and back; derived",
    ),
    validity="a difference above 0",
)  # fmt: skip
def winding_to_earth_resistance(reading: ArrayLike) -> Floats:
    """Resistance of the first winding to earth from the three readings of a pair.

    Parameters
    ----------
    reading : array_like, shape (..., 3)
        This winding against the other and earth, the other likewise, both joined against earth [ohm].

    Returns
    -------
    ndarray of float, shape (...)
        Resistance [ohm]; NaN where not resolved.

    References
    ----------
    R_HE = 2/(1/R1 - 1/R2 + 1/R3) (derived).
    """
    return two_winding_network(reading).resistance[..., 1]


@formula(
    id="three_winding_to_winding_resistance",
    name="Resistance between two of three windings",
    expression="R_HL = 2 / (1/m_h + 1/m_l - 1/m_hl)",
    inputs=(
        Input("m_h", "ohm", "One winding against all the rest and earth"),
        Input("m_l", "ohm", "The other against all the rest and earth"),
        Input("m_hl", "ohm", "Both joined against all the rest and earth"),
    ),
    unit="ohm",
    source="sums of conductances",
    verified="derived",
    example=Example(
        {"m_h": "500 MOhm", "m_l": "250 MOhm", "m_hl": "200 MOhm"}, 2e9, 1e-9,
        "0.5 nS between them makes readings of 2, 4 and 5 nS; derived",
    ),
    validity="a difference above 0",
)  # fmt: skip
def three_winding_to_winding_resistance(m_h: ArrayLike, m_l: ArrayLike, m_hl: ArrayLike) -> Floats:
    """Resistance between two windings while the third stands with earth.

    Parameters
    ----------
    m_h, m_l : array_like
        Each of the two against all the rest and earth [ohm].
    m_hl : array_like
        Both joined against all the rest and earth [ohm].

    Returns
    -------
    ndarray of float
        Resistance [ohm]; NaN where the conductance does not stand above 0.

    References
    ----------
    g_HL = (M_H + M_L - M_HL)/2 (derived).
    """
    return _resistance((m_h, m_l, m_hl), (1.0, 1.0, -1.0))


@formula(
    id="three_winding_to_earth_resistance",
    name="Resistance of one of three windings to earth",
    expression="R_HE = 2 / (1/m_hl + 1/m_ht - 1/m_l - 1/m_t)",
    inputs=(
        Input("m_l", "ohm", "Second winding against all the rest and earth"),
        Input("m_t", "ohm", "Third winding against all the rest and earth"),
        Input("m_hl", "ohm", "This winding and the second joined against all the rest and earth"),
        Input("m_ht", "ohm", "This winding and the third joined against all the rest and earth"),
    ),
    unit="ohm",
    source="sums of conductances",
    verified="derived",
    example=Example(
        {"m_l": "250 MOhm", "m_t": "166.6666667 MOhm", "m_hl": "200 MOhm", "m_ht": "142.8571429 MOhm"},
        1e9, 1e-6, "1 nS to earth among readings of 4, 6, 5 and 7 nS; derived",
    ),
    validity="a difference above 0",
)  # fmt: skip
def three_winding_to_earth_resistance(
    m_l: ArrayLike, m_t: ArrayLike, m_hl: ArrayLike, m_ht: ArrayLike
) -> Floats:
    """Resistance of one winding to earth from four of the readings of three windings.

    Parameters
    ----------
    m_l, m_t : array_like
        The two other windings, each against all the rest and earth [ohm].
    m_hl, m_ht : array_like
        This winding joined with each of them, against all the rest and earth [ohm].

    Returns
    -------
    ndarray of float
        Resistance [ohm]; NaN where the conductance does not stand above 0.

    References
    ----------
    g_HE = (M_HL + M_HT - M_L - M_T)/2 (derived).
    """
    return _resistance((m_l, m_t, m_hl, m_ht), (-1.0, -1.0, 1.0, 1.0))


def _resistance(readings: tuple[ArrayLike, ...], signs: tuple[float, ...]) -> Floats:
    reading = np.stack(np.broadcast_arrays(*map(floats, readings)), axis=-1)
    conductance = 1.0 / np.where(reading > 0, reading, np.nan)
    total = 0.5 * (conductance * np.array(signs)).sum(axis=-1)
    return np.asarray(1.0 / np.where(total > _RESOLVED * conductance.max(axis=-1), total, np.nan))
