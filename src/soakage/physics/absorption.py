"""What the ratios of a power-law absorption beside a steady conduction must be."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Input, formula


@formula(
    id="absorption_ratio_model",
    name="Ratio of resistances of a power law with conduction",
    expression="[(1-s)(t1/60)^-n + s] / [(1-s)(t2/60)^-n + s]",
    inputs=(
        Input("absorption_exponent", "1", "Exponent n of the absorption current"),
        Input("conduction_share_60s", "1", "Conduction current over the whole current at 60 s, s"),
        Input("later", "s", "Later mark t2", default=600.0),
        Input("earlier", "s", "Earlier mark t1", default=60.0),
    ),
    unit="1",
    source="derived from I = V (A t^-n + G)",
    verified="derived",
    example=Example(
        {"absorption_exponent": "0.8", "conduction_share_60s": "0.2"}, 3.06, 2e-3, "table; derived"
    ),
    validity="a share of 0 to 1, positive times",
)
def absorption_ratio_model(
    absorption_exponent: ArrayLike,
    conduction_share_60s: ArrayLike,
    later: ArrayLike = 600.0,
    earlier: ArrayLike = 60.0,
) -> Floats:
    """Ratio of resistances at two times for absorption K t^-n beside a steady conduction.

    Parameters
    ----------
    absorption_exponent : array_like
        n [1].
    conduction_share_60s : array_like
        s, conduction current over total current at 60 s [1], 0 to 1.
    later, earlier : array_like, optional
        Marks [s]; 600 and 60 give the polarization index.

    Returns
    -------
    ndarray of float
        R(later)/R(earlier) [1]; NaN outside the validity.

    References
    ----------
    Closed form of I(t) = V (A t^-n + G), derived: PI = 1/((1-s) 10^-n + s), DAR = (1-s) 2^n + s.
    """
    n, s, t2, t1 = floats(absorption_exponent), floats(conduction_share_60s), floats(later), floats(earlier)
    valid = (s >= 0) & (s <= 1) & (t1 > 0) & (t2 > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        value = ((1 - s) * (t1 / 60.0) ** -n + s) / ((1 - s) * (t2 / 60.0) ** -n + s)
    return np.where(valid, value, np.nan)[()]
