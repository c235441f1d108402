"""The insulation between the windings and to earth, from readings with terminals joined.

Each reading is a sum of conductances.  They are solved for by subtraction, so a small one drowns in
the uncertainty of large ones: it is then *not resolved*, never a negative resistance.  All readings
must share their time mark, voltage and temperature, each after full earthing, or the sums do not hold.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Bounds, Flags, Floats, floats
from soakage.physics.formula import Example, Formula, Input

# Order of the readings (what stands against all the rest) and of the pairs that come out; E is earth.
TWO_WINDING_READINGS = ("H", "L", "HL")
TWO_WINDING_PAIRS = ("HL", "HE", "LE")
THREE_WINDING_READINGS = ("H", "L", "T", "HL", "HT", "LT", "HLT")
THREE_WINDING_PAIRS = ("HL", "HT", "LT", "HE", "LE", "TE")
# A conductance must stand this many standard uncertainties above 0.
RESOLVED_FROM = 2.0
# Without uncertainties the check reading may miss its sum by this fraction of itself.  Ours, practice.
CHECK_TOLERANCE = 0.05

_TWO = 0.5 * np.array([[1.0, 1.0, -1.0], [1.0, -1.0, 1.0], [-1.0, 1.0, 1.0]])
_THREE = 0.5 * np.array(
    [
        [1.0, 1.0, 0.0, -1.0, 0.0, 0.0, 0.0],
        [1.0, 0.0, 1.0, 0.0, -1.0, 0.0, 0.0],
        [0.0, 1.0, 1.0, 0.0, 0.0, -1.0, 0.0],
        [0.0, -1.0, -1.0, 1.0, 1.0, 0.0, 0.0],
        [-1.0, 0.0, -1.0, 1.0, 0.0, 1.0, 0.0],
        [-1.0, -1.0, 0.0, 0.0, 1.0, 1.0, 0.0],
    ]
)
_CHECK = np.array([1.0, 1.0, 1.0, -1.0, -1.0, -1.0, 1.0])


class Network(NamedTuple):
    """Insulation of each pair of terminals; the pairs on the last axis.

    Parameters
    ----------
    resistance : ndarray of float, shape (..., p)
        Resistance [ohm]; NaN where not resolved.
    uncertainty : ndarray of float, shape (..., p)
        Its standard uncertainty [ohm]; NaN where not resolved or none was given.
    bound : ndarray of int8, shape (..., p)
        0 a value, +1 a lower bound, -1 an upper bound.
    resolved : ndarray of bool, shape (..., p)
        Whether the conductance stands above its own uncertainty.
    conductance : ndarray of float, shape (..., p)
        Solution as it comes out [S], negative ones too.
    check : ndarray of float, shape (...)
        What the check reading misses its sum by [S]; NaN where there is none.
    consistent : ndarray of bool, shape (...)
        Whether that is within its uncertainty; True where there is no check reading.
    """

    resistance: Floats
    uncertainty: Floats
    bound: Bounds
    resolved: Flags
    conductance: Floats
    check: Floats
    consistent: Flags


def two_winding_network(
    resistance: ArrayLike, uncertainty: ArrayLike | None = None, bound: ArrayLike | None = None
) -> Network:
    """Solve a winding pair from three readings.

    Parameters
    ----------
    resistance : array_like, shape (..., 3)
        H against L and earth, L against H and earth, H and L joined against earth [ohm].
    uncertainty : array_like, shape (..., 3), optional
        Their standard uncertainties, independent [ohm].
    bound : array_like of int, shape (..., 3), optional
        0 a value, +1 a lower bound, -1 an upper bound.

    Returns
    -------
    Network
        H to L, H to earth, L to earth.

    Raises
    ------
    UsageError
        When the last axis has not three readings.

    References
    ----------
    g_HL = (G1 + G2 - G3)/2 and so on, u^2 = (u1^2 + u2^2 + u3^2)/4 (derived).
    """
    return _solved(_TWO, None, resistance, uncertainty, bound, TWO_WINDING_READINGS)


def three_winding_network(
    resistance: ArrayLike, uncertainty: ArrayLike | None = None, bound: ArrayLike | None = None
) -> Network:
    """Solve three windings from seven readings, the last of which checks the others.

    Parameters
    ----------
    resistance : array_like, shape (..., 7)
        H, L, T, HL, HT, LT, HLT, each joined and against all the rest and earth [ohm]; the last may be NaN.
    uncertainty : array_like, shape (..., 7), optional
        Their standard uncertainties, independent [ohm].
    bound : array_like of int, shape (..., 7), optional
        0 a value, +1 a lower bound, -1 an upper bound.

    Returns
    -------
    Network
        HL, HT, LT, HE, LE, TE.

    Raises
    ------
    UsageError
        When the last axis has not seven readings.

    References
    ----------
    g_HL = (M_H + M_L - M_HL)/2 and so on; M_H + M_L + M_T + M_HLT = M_HL + M_HT + M_LT (derived).
    """
    return _solved(_THREE, _CHECK, resistance, uncertainty, bound, THREE_WINDING_READINGS)


def _solved(
    matrix: Floats,
    check_row: Floats | None,
    resistance: ArrayLike,
    uncertainty: ArrayLike | None,
    bound: ArrayLike | None,
    names: tuple[str, ...],
) -> Network:
    r = floats(resistance)
    if r.shape[-1:] != (len(names),):
        raise UsageError(
            f"The network needs the readings {', '.join(names)} in this order. Given: {r.shape}."
        )
    reading = 1.0 / np.where(r > 0, r, np.nan)
    stated = uncertainty is not None
    noise = floats(uncertainty) * reading**2 if uncertainty is not None else np.zeros(r.shape)
    kinds = np.zeros(r.shape, np.int8) if bound is None else -np.asarray(bound, np.int8)
    used = np.abs(matrix).sum(axis=0) > 0
    solution = reading[..., used] @ matrix[:, used].T
    spread = np.sqrt(noise[..., used] ** 2 @ (matrix[:, used] ** 2).T)
    # A bound on a reading pushes the solution one way; pushed both ways it says nothing.
    pushes = kinds[..., None, :] * np.sign(matrix).astype(np.int8)
    up, down = (pushes > 0).any(axis=-1), (pushes < 0).any(axis=-1)
    resolved = (solution > 0) & (solution > RESOLVED_FROM * spread) & ~(up & down)
    # Rounding alone must not resolve the difference of two large equal readings.
    resolved &= solution > 1e-9 * np.nanmax(np.where(np.isnan(reading), 0.0, reading), axis=-1)[..., None]
    ohms = 1.0 / np.where(resolved, solution, np.nan)
    kind = np.where(resolved, down.astype(np.int8) - up.astype(np.int8), 0).astype(np.int8)
    deviation = ohms**2 * spread if stated else np.full(ohms.shape, np.nan)
    if check_row is None:
        missed, consistent = np.full(r.shape[:-1], np.nan), np.ones(r.shape[:-1], np.bool_)
    else:
        missed = reading @ check_row
        allowed = (
            RESOLVED_FROM * np.sqrt(noise**2 @ check_row**2) if stated else CHECK_TOLERANCE * reading[..., -1]
        )
        consistent = ~(np.abs(missed) > allowed) | (kinds != 0).any(axis=-1)
    return Network(ohms, deviation, kind, resolved, solution, missed, consistent)


def winding_to_winding_resistance(reading: ArrayLike) -> Floats:
    """Resistance between two windings from the three readings of the pair.

    Parameters
    ----------
    reading : array_like, shape (..., 3)
        H against L and earth, L against H and earth, H and L joined against earth [ohm].

    Returns
    -------
    ndarray of float, shape (...)
        Resistance [ohm]; NaN where not resolved.

    References
    ----------
    R_HL = 2/(1/R1 + 1/R2 - 1/R3) (derived).
    """
    return two_winding_network(reading).resistance[..., 0]


WINDING_TO_WINDING_RESISTANCE = Formula(
    "winding_to_winding_resistance", "Resistance between two windings", "R_HL = 2 / (1/R1 + 1/R2 - 1/R3)",
    (
        Input("reading_h", "ohm", "H against L and earth, R1", "reading"),
        Input("reading_l", "ohm", "L against H and earth, R2", "reading"),
        Input("reading_hl", "ohm", "H and L joined against earth, R3", "reading"),
    ),
    "ohm", "sums of conductances", "derived",
    Example(
        {"reading_h": "1333.3333 MOhm", "reading_l": "800 MOhm", "reading_hl": "666.66667 MOhm"},
        4000e6, 1e-6, "4000, 2000 and 1000 MOhm and back; derived",
    ),
    winding_to_winding_resistance, "a difference above 0",
)  # fmt: skip
