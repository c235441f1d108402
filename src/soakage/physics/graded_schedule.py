"""Steps of graded length: each held until the absorption current is in proportion to the voltage again.

Read at the ends of such holds, a healthy winding gives a straight line through the origin.  The lengths
hold for one exponent; once the first hold has told the exponent, the rest is planned anew.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Input, formula

# First hold, as the trade has it: ten minutes, which also gives the index.
FIRST_HOLD = 600.0
_HALVINGS = 80
# Half width of a two-sided 90 % interval of Student's t by degrees of freedom 1 to 10, then the normal value.
_STUDENT_90 = (6.314, 2.920, 2.353, 2.132, 2.015, 1.943, 1.895, 1.860, 1.833, 1.812)
_NORMAL_90 = 1.645


class GradedSchedule(NamedTuple):
    """Levels and holds of a graded test.

    Parameters
    ----------
    voltage : ndarray of float, shape (k,)
        Levels [V].
    start : ndarray of float, shape (k,)
        When each begins [s].
    hold : ndarray of float, shape (k,)
        How long each is held; the current is read at its end [s].
    absorption_exponent : float
        Exponent it was planned for [1].
    """

    voltage: Floats
    start: Floats
    hold: Floats
    absorption_exponent: float


class StraightLine(NamedTuple):
    """A line through the origin, and what the last reading departs from it by.

    Parameters
    ----------
    conductance, conductance_uncertainty : float
        Slope of the readings before the last and its standard uncertainty [S].
    departure : float
        Last reading over the line, less 1 [1]; above 0 when the current bends upwards.
    lower, upper : float
        90 % interval of that departure [1].
    straight : bool
        Whether 0 lies in the interval.
    """

    conductance: float
    conductance_uncertainty: float
    departure: float
    lower: float
    upper: float
    straight: bool


@formula(
    id="graded_hold",
    name="Hold of the second step of a graded test",
    expression="solve V1 (t1 + d)^-n + (V2 - V1) d^-n = V2 t1^-n for d",
    inputs=(
        Input("absorption_exponent", "1", "Exponent n of the absorption current"),
        Input("voltage_1", "V", "First level, V1"),
        Input("voltage_2", "V", "Second level, V2"),
        Input("first_hold", "s", "Hold of the first level, t1", default=FIRST_HOLD),
    ),
    unit="s",
    source="superposition of a linear dielectric",
    verified="derived",
    example=Example(
        {"absorption_exponent": "0.8", "voltage_1": "1 kV", "voltage_2": "1.1 kV"}, 2.782 * 60, 3e-4,
        "steps of a tenth of the first level; derived",
    ),
    validity="a positive exponent and a rising voltage",
)  # fmt: skip
def graded_hold(
    absorption_exponent: float, voltage_1: float, voltage_2: float, first_hold: float = FIRST_HOLD
) -> float:
    """Find how long the second level is held.

    Parameters
    ----------
    absorption_exponent : float
        n [1].
    voltage_1, voltage_2 : float
        First and second level [V].
    first_hold : float, optional
        Hold of the first [s].

    Returns
    -------
    float
        Hold [s]; NaN unless the exponent is positive and the voltage rises.

    References
    ----------
    Superposition of a linear dielectric (derived).
    """
    if not (absorption_exponent > 0 and 0 < voltage_1 < voltage_2 and first_hold > 0):
        return float("nan")
    return float(graded_schedule([voltage_1, voltage_2], absorption_exponent, first_hold).hold[1])


def graded_levels(target_voltage: float, first_share: float = 1.0 / 3.0, steps: int = 10) -> Floats:
    """Lay the levels of a graded test: the first, then equal steps to the top.

    Parameters
    ----------
    target_voltage : float
        Highest voltage [V].
    first_share : float, optional
        First level as a share of it [1].
    steps : int, optional
        Equal steps after the first.

    Returns
    -------
    ndarray of float, shape (steps + 1,)
        Levels [V].

    Raises
    ------
    UsageError
        When voltage, share or count make no rising test.

    References
    ----------
    A first step of about a third of the highest voltage: practice of stepped tests (memory).
    """
    if not (target_voltage > 0 and 0 < first_share < 1 and steps >= 1):
        raise UsageError(
            f"A graded test needs a voltage above 0, a first share between 0 and 1 and at least one step. "
            f"Given: {target_voltage:g} V, {first_share:g}, {steps}."
        )
    return np.linspace(first_share * target_voltage, target_voltage, steps + 1)


def graded_schedule(
    levels: ArrayLike,
    absorption_exponent: float,
    first_hold: float = FIRST_HOLD,
    held: ArrayLike = (),
) -> GradedSchedule:
    """Plan the holds, all of them or those that are still to come.

    Parameters
    ----------
    levels : array_like, shape (k,)
        Levels, rising [V].
    absorption_exponent : float
        n: assumed, or fitted to the first hold [1].
    first_hold : float, optional
        Hold of the first level [s].
    held : array_like, shape (j,), optional
        Holds that have been made already, the first among them [s]; only the others are planned.

    Returns
    -------
    GradedSchedule

    Raises
    ------
    UsageError
        When the levels do not rise, the exponent is not positive, or more holds were made than there are
        levels.

    References
    ----------
    sum_j dV_j (T_k - T_(j-1))^-n = V_k T_1^-n (derived), solved by bisection; the sum falls steadily.
    """
    v, made = floats(levels), floats(held)
    steps = np.diff(v, prepend=0.0)
    n = absorption_exponent
    if (steps <= 0).any() or not n > 0 or not first_hold > 0 or made.size > v.size:
        raise UsageError(
            f"A graded schedule needs rising levels above 0, an exponent above 0, a first hold above 0 and at "
            f"most as many holds made as levels. Given: levels {v.tolist()} V, n {n:g}, first hold "
            f"{first_hold:g} s, {made.size} made."
        )
    holds = list(made) if made.size else [first_hold]
    for k in range(len(holds), v.size):
        begun = np.concatenate([[0.0], np.cumsum(holds)])
        goal = v[k] * holds[0] ** -n
        low, high = 0.0, holds[0]
        while _absorbed(steps[: k + 1], begun, high, n) > goal:
            low, high = high, 2.0 * high
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            above = _absorbed(steps[: k + 1], begun, middle, n) > goal
            low, high = (middle, high) if above else (low, middle)
        holds.append(high)
    hold = np.array(holds)
    return GradedSchedule(v, np.concatenate([[0.0], np.cumsum(hold)[:-1]]), hold, n)


def _absorbed(steps: Floats, begun: Floats, since: float, n: float) -> float:
    """Absorption current this long after the last edge, per unit of A."""
    return float((steps * (begun[-1] + since - begun) ** -n).sum())


def straight_line(voltage: ArrayLike, current: ArrayLike) -> StraightLine:
    """Hold the last end-of-hold reading of a graded test against the line of those before it.

    Parameters
    ----------
    voltage : array_like, shape (k,)
        Levels, rising, at least three [V].
    current : array_like, shape (k,)
        Current at the end of each hold [A].

    Returns
    -------
    StraightLine

    Raises
    ------
    UsageError
        When there are fewer than three readings.

    References
    ----------
    Least squares through the origin with relative errors alike, prediction interval of Student's t (derived).
    """
    v, i = floats(voltage), floats(current)
    kept = (v > 0) & np.isfinite(i)
    v, i = v[kept], i[kept]
    if v.size < 3:
        raise UsageError(f"A straight line is judged from three readings on. Given: {v.size}.")
    each = i / v
    before = each[:-1]
    slope, free = float(before.mean()), before.size - 1
    spread = float(before.std(ddof=1))
    wide = (_STUDENT_90[free - 1] if free <= len(_STUDENT_90) else _NORMAL_90) * spread
    wide *= float(np.sqrt(1.0 + 1.0 / before.size)) / abs(slope)
    departure = float(each[-1] / slope - 1.0)
    lower, upper = departure - wide, departure + wide
    return StraightLine(slope, spread / before.size**0.5, departure, lower, upper, lower <= 0.0 <= upper)
