"""Uncertainty of a ratio of two readings of one test, where the instrument's gain error cancels."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Input, formula


@formula(
    id="resistance_ratio_uncertainty",
    name="Relative uncertainty of a ratio of two marks of one test",
    expression="sqrt(2 u^2 + ((1 - k) p)^2 2/3 + (I0 (R2 - R1)/V)^2/3 + ((n1 dt/t1)^2 + (n2 dt/t2)^2)/3)",
    inputs=(
        Input("later", "ohm", "Resistance at the later mark, R2"),
        Input("earlier", "ohm", "Resistance at the earlier mark, R1"),
        Input("repeatability", "1", "Relative standard uncertainty of one reading, u", default=0.0),
        Input("of_reading", "1", "Half-width declared as a fraction of the reading, p", default=0.0),
        Input("common_gain", "1", "1 when both readings share range and gain, 0 when not, k", default=1.0),
        Input("current_offset", "A", "Half-width of the zero error of the current, I0", default=0.0),
        Input("test_voltage", "V", "Test voltage, V", default=math.inf),
        Input("timing", "s", "Half-width of the error of either time, dt", default=0.0),
        Input("time_later", "s", "Later mark, t2", default=600.0),
        Input("time_earlier", "s", "Earlier mark, t1", default=60.0),
        Input("slope_later", "1", "d ln R / d ln t at the later mark, n2", default=0.0),
        Input("slope_earlier", "1", "d ln R / d ln t at the earlier mark, n1", default=0.0),
    ),
    unit="1",
    source="JCGM 100, 5.2.2, applied",
    verified="derived",
    example=Example(
        {"later": "4 GOhm", "earlier": "1 GOhm", "of_reading": "5 %", "timing": "1 s", "slope_earlier": "0.8",
         "slope_later": "0.8"},
        0.8 / 60 / math.sqrt(3.0) * math.sqrt(1.01), 1e-9, "gain cancels, timing stays; derived",
    ),
    validity="two positive readings",
)  # fmt: skip
def resistance_ratio_uncertainty(
    later: ArrayLike,
    earlier: ArrayLike,
    repeatability: ArrayLike = 0.0,
    of_reading: ArrayLike = 0.0,
    common_gain: ArrayLike = 1.0,
    current_offset: ArrayLike = 0.0,
    test_voltage: ArrayLike = math.inf,
    timing: ArrayLike = 0.0,
    time_later: ArrayLike = 600.0,
    time_earlier: ArrayLike = 60.0,
    slope_later: ArrayLike = 0.0,
    slope_earlier: ArrayLike = 0.0,
) -> Floats:
    """Relative standard uncertainty of a polarization index or any ratio of two marks.

    Parameters
    ----------
    later, earlier : array_like
        Resistances at the marks [ohm].
    repeatability : array_like, optional
        Relative standard uncertainty of each reading by itself, resolution and noise [1].
    of_reading : array_like, optional
        Declared limit as a fraction of the reading [1].
    common_gain : array_like, optional
        Share of it common to both readings [1]: 1 on one range, 0 after a change of range.
    current_offset : array_like, optional
        Limit of the zero error of the current, common to both [A].
    test_voltage : array_like, optional
        Voltage [V], needed with an offset.
    timing : array_like, optional
        Limit of the error of each time [s].
    time_later, time_earlier : array_like, optional
        Marks [s].
    slope_later, slope_earlier : array_like, optional
        d ln R / d ln t there [1].

    Returns
    -------
    ndarray of float
        Relative standard uncertainty [1]; NaN unless both readings are positive.

    References
    ----------
    JCGM 100, 5.2.2 (memory); common errors of V/I: gain cancels, offset leaves I0 (R2 - R1)/V (derived).
    """
    r2, r1 = floats(later), floats(earlier)
    good = (r2 > 0) & (r1 > 0)
    gain = (1.0 - floats(common_gain)) * floats(of_reading)
    offset = floats(current_offset) * (r2 - r1) / floats(test_voltage)
    slip = floats(timing)
    late = floats(slope_later) * slip / floats(time_later)
    early = floats(slope_earlier) * slip / floats(time_earlier)
    rectangular = 2.0 * gain**2 + offset**2 + late**2 + early**2
    return np.where(good, np.sqrt(2.0 * floats(repeatability) ** 2 + rectangular / 3.0), np.nan)[()]
