"""What an earlier test leaves in the insulation, and how long earthing takes to fade it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Input, formula

_HELD = Input("held", "s", "Time the earlier voltage stood")
_EXPONENT = Input("absorption_exponent", "1", "Exponent n of the absorption current")
_MARK = Input("mark", "s", "Time in the new test the share is taken at", default=60.0)


@formula(
    id="residual_current",
    name="Residual discharge current of an earlier test",
    expression="I = -V A [(t + t_r)^-n - (t + t_r + t_c)^-n]",
    inputs=(
        Input("time", "s", "Time since the new test began, or since the short circuit with earthed 0"),
        Input("test_voltage", "V", "Voltage of the earlier test"),
        Input("absorption_coefficient", "S s^n", "A of the absorption current V A t^-n"),
        _EXPONENT,
        _HELD,
        Input("earthed", "s", "Time earthed since, t_r", default=0.0),
    ),
    unit="A",
    source="superposition of a linear dielectric",
    verified="derived",
    example=Example(
        {"time": "60 s", "test_voltage": "1 V", "absorption_coefficient": "1", "absorption_exponent": "0.7",
         "held": "1800 s"},
        -0.9095 * 60**-0.7, 2e-4, "share 0.91 of the pure power law; derived",
    ),
    validity="times above 0",
)  # fmt: skip
def residual_current(
    time: ArrayLike,
    test_voltage: ArrayLike,
    absorption_coefficient: ArrayLike,
    absorption_exponent: ArrayLike,
    held: ArrayLike,
    earthed: ArrayLike = 0.0,
) -> Floats:
    """Find the current an earlier test still sends back, against its own direction.

    Parameters
    ----------
    time : array_like
        Time since the new test began [s].
    test_voltage : array_like
        Voltage of the earlier test [V].
    absorption_coefficient, absorption_exponent : array_like
        A [S s^n] and n [1].
    held : array_like
        How long that voltage stood [s].
    earthed : array_like, optional
        How long it has been earthed before the new test [s].

    Returns
    -------
    ndarray of float
        Current [A], of the sign opposite to the earlier voltage; NaN unless the times are positive.

    References
    ----------
    Superposition of a linear dielectric (derived).
    """
    n = floats(absorption_exponent)
    since = floats(time) + floats(earthed)
    since = np.where(since > 0, since, np.nan)
    fading = since**-n - (since + floats(held)) ** -n
    return -floats(test_voltage) * floats(absorption_coefficient) * fading


@formula(
    id="residual_current_share",
    name="Residual current as a share of the new absorption current",
    expression="|V'/V| t^n [(t + t_r)^-n - (t + t_r + t_c)^-n]",
    inputs=(
        _EXPONENT,
        _HELD,
        Input("earthed", "s", "Time earthed since, t_r"),
        Input("voltage_ratio", "1", "Earlier voltage over the new one", default=1.0),
        _MARK,
    ),
    unit="1",
    source="superposition of a linear dielectric",
    verified="derived",
    example=Example(
        {"absorption_exponent": "0.8", "held": "600 s", "earthed": "2100 s"}, 0.01, 3e-2,
        "1 % after 3.5 times the time held; derived",
    ),
    validity="times above 0",
)  # fmt: skip
def residual_current_share(
    absorption_exponent: ArrayLike,
    held: ArrayLike,
    earthed: ArrayLike,
    voltage_ratio: ArrayLike = 1.0,
    mark: ArrayLike = 60.0,
) -> Floats:
    """Residual current of an earlier test over the absorption current of the new one at a mark.

    Parameters
    ----------
    absorption_exponent : array_like
        n [1].
    held, earthed : array_like
        How long the earlier voltage stood and how long it has been earthed since [s].
    voltage_ratio : array_like, optional
        Earlier voltage over the new one [1].
    mark : array_like, optional
        Time in the new test [s].

    Returns
    -------
    ndarray of float
        Share [1]; the size of the absorption cancels.

    References
    ----------
    Superposition of a linear dielectric (derived).
    """
    t, n = floats(mark), floats(absorption_exponent)
    return np.abs(residual_current(t, voltage_ratio, 1.0, n, held, earthed)) * t**n


@formula(
    id="residual_share_time",
    name="Earthing time until the residual current is a chosen share",
    expression="solve |V'/V| t^n [(t + t_r)^-n - (t + t_r + t_c)^-n] = x for t_r",
    inputs=(
        _EXPONENT,
        _HELD,
        Input("share", "1", "Wanted share of the new absorption current, x", default=0.01),
        Input("voltage_ratio", "1", "Earlier voltage over the new one", default=1.0),
        _MARK,
    ),
    unit="s",
    source="superposition of a linear dielectric",
    verified="derived",
    example=Example(
        {"absorption_exponent": "0.8", "held": "600 s"}, 2100.0, 2e-2, "3.5 times the time held; derived"
    ),
    validity="positive exponent, times and share",
)
def residual_share_time(
    absorption_exponent: ArrayLike,
    held: ArrayLike,
    share: ArrayLike = 0.01,
    voltage_ratio: ArrayLike = 1.0,
    mark: ArrayLike = 60.0,
) -> Floats:
    """Time to keep earthed until the memory of an earlier test is a chosen share: a minimum for the plan.

    Parameters
    ----------
    absorption_exponent : array_like
        n [1].
    held : array_like
        How long the earlier voltage stood [s].
    share : array_like, optional
        Wanted share at the mark [1].
    voltage_ratio : array_like, optional
        Earlier voltage over the new one [1].
    mark : array_like, optional
        Time in the new test [s].

    Returns
    -------
    ndarray of float
        Time [s]; 0 where the share is met at once; NaN for inputs that are not positive.

    References
    ----------
    Superposition of a linear dielectric, solved by bisection (derived).
    """
    n, tc, x, ratio, t = np.broadcast_arrays(
        *map(floats, (absorption_exponent, held, share, voltage_ratio, mark))
    )
    valid = (n > 0) & (tc > 0) & (x > 0) & (ratio > 0) & (t > 0)
    low, high = np.zeros(n.shape), np.where(valid, t + tc, np.nan)
    with np.errstate(invalid="ignore"):
        # The share falls steadily with the time earthed: double until it is met, then halve the gap.
        for _ in range(200):
            short = residual_current_share(n, tc, high, ratio, t) > x
            if not short.any():
                break
            high = np.where(short, 2.0 * high, high)
        for _ in range(60):
            middle = 0.5 * (low + high)
            above = residual_current_share(n, tc, middle, ratio, t) > x
            low, high = np.where(above, middle, low), np.where(above, high, middle)
        met = residual_current_share(n, tc, np.zeros(n.shape), ratio, t) <= x
    return np.where(valid, np.where(met, 0.0, high), np.nan)[()]
