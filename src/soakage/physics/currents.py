"""Currents under steps, staircases, ramps and short circuits, by superposition.

The insulation is linear here: what a test shows beyond this is a finding, not part of the model.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Floats, floats
from soakage.physics.formula import Example, Input, formula
from soakage.physics.responses import EDGE_OFFSET, PowerLaw, Response

_MODEL = (
    Input("capacitance", "F", "Geometric capacitance", default=0.0),
    Input("series_resistance", "ohm", "Resistance between source and insulation", default=0.0),
    Input("absorption_coefficient", "S s^n", "A of the absorption current V A t^-n"),
    Input("absorption_exponent", "1", "Exponent n of the absorption current"),
    Input("conductance", "S", "Bulk and surface conduction", default=0.0),
)


def staircase_current(
    response: Response, time: ArrayLike, edges: ArrayLike, levels: ArrayLike, edge_duration: float = 0.0
) -> Floats:
    """Superpose the answers to every change of voltage; a level of 0 is a short circuit.

    Parameters
    ----------
    response : Response
        The insulation: :class:`PowerLaw` or :class:`Branches`, any leading axes.
    time : array_like, shape (n,) or (..., n)
        Times [s].
    edges : array_like, shape (k,)
        When each level begins [s], in any spacing.
    levels : array_like, shape (k,)
        Voltage that then stands [V]; 0 V stands before the first edge.
    edge_duration : float, optional
        Time each edge takes, rising evenly [s]; 0 for a jump.

    Returns
    -------
    ndarray of float, shape (..., n)
        Current [A].  A sample at the very moment of an edge belongs to the level before it.

    Raises
    ------
    UsageError
        When edges and levels are not equally many.

    References
    ----------
    Superposition of a linear dielectric (derived); agrees with ngspice to 3.5e-6 from 5 s after an edge.
    """
    t, begin, voltage = np.atleast_1d(floats(time)), floats(edges), floats(levels)
    if begin.shape != voltage.shape or begin.ndim != 1:
        raise UsageError(
            f"A staircase needs one level per edge. Given: {begin.shape} edges, {voltage.shape} levels."
        )
    current = np.zeros(t.shape)
    for edge, change in zip(begin, np.diff(voltage, prepend=0.0), strict=True):
        since = t - edge
        if edge_duration > 0.0:
            answer = response.ramp(np.maximum(since, 0.0))
            answer = (answer - response.ramp(np.maximum(since - edge_duration, 0.0))) / edge_duration
        else:
            answer = np.where(since > 0, response.step(np.where(since > 0, since, 1.0)), 0.0)
        current = current + change * answer
    return current if np.ndim(time) else current[..., 0]


def ramp_current(response: Response, time: ArrayLike, ramp_rate: ArrayLike, until: float = np.inf) -> Floats:
    """Find the current while the voltage rises evenly from 0, and while it is held afterwards.

    Parameters
    ----------
    response : Response
        The insulation, any leading axes.
    time : array_like, shape (n,)
        Times since the ramp began [s].
    ramp_rate : array_like, shape () or (...)
        Rate of rise [V/s].
    until : float, optional
        When the rise ends and the voltage is held [s].

    Returns
    -------
    ndarray of float, shape (..., n)
        Current [A]; 0 before the ramp.

    References
    ----------
    Superposition of a linear dielectric: I = r C (1 - e^(-t/RC)) + r A t^(1-n)/(1-n) + G V (derived).
    """
    t, rate = np.atleast_1d(floats(time)), floats(ramp_rate)
    answer = response.ramp(np.maximum(t, 0.0))
    if np.isfinite(until):
        answer = answer - response.ramp(np.maximum(t - until, 0.0))
    current = (rate[..., None] if rate.ndim else rate) * answer
    return current if np.ndim(time) else current[..., 0]


@formula(
    id="step_current",
    name="Current after a step of voltage",
    expression="I = V [e^(-t/(Rs C))/Rs + A (t + t0)^-n + G]",
    inputs=(
        Input("time", "s", "Time since the voltage was applied"),
        Input("test_voltage", "V", "Voltage of the step"),
        *_MODEL,
        Input("offset", "s", "Time added in the power law, t0", default=EDGE_OFFSET),
    ),
    unit="A",
    source="IEEE Std 43-2013 for the four currents; closed form derived",
    verified="memory",
    example=Example(
        {"time": "60 s", "test_voltage": "5 kV", "capacitance": "0.5 uF", "series_resistance": "0.5 MOhm",
         "absorption_coefficient": "5.291161e-08", "absorption_exponent": "0.8", "conductance": "0.3 nS",
         "offset": "0 s"},
        11.5e-6, 1e-5, "10 uA at 1 min, n 0.8, 1.5 uA of leakage; derived",
    ),
    validity="a linear insulation, times above 0",
)  # fmt: skip
def step_current(
    time: ArrayLike,
    test_voltage: ArrayLike,
    absorption_coefficient: ArrayLike,
    absorption_exponent: ArrayLike,
    conductance: ArrayLike = 0.0,
    capacitance: ArrayLike = 0.0,
    series_resistance: ArrayLike = 0.0,
    offset: float = EDGE_OFFSET,
) -> Floats:
    """Charging, absorption and conduction after one step.

    Parameters
    ----------
    time : array_like, shape () or (n,)
        Time since the step [s].
    test_voltage, absorption_coefficient, absorption_exponent : array_like, shape () or (...)
        Voltage [V], A [S s^n] and n [1].
    conductance, capacitance, series_resistance : array_like, shape () or (...), optional
        Conduction [S], geometric capacitance [F] and the resistance it charges through [ohm].
    offset : float, optional
        Time added to that since the edge in the power law [s].

    Returns
    -------
    ndarray of float, shape (..., n)
        Current [A]; 0 up to and at the edge.

    References
    ----------
    Four currents of IEEE Std 43-2013 (memory); closed form derived.
    """
    volts = floats(test_voltage)
    law = PowerLaw(
        absorption_coefficient, absorption_exponent, conductance, series_resistance, capacitance, offset
    )
    per_volt = staircase_current(law, time, [0.0], [1.0])
    return per_volt * (volts[..., None] if volts.ndim and np.ndim(time) else volts)


@formula(
    id="power_law_ramp_current",
    name="Current of a healthy ramp",
    expression="I = r [C (1 - e^(-t/(Rs C))) + A ((t + t0)^(1-n) - t0^(1-n))/(1 - n) + G t]",
    inputs=(
        Input("time", "s", "Time since the ramp began"),
        Input("ramp_rate", "V/s", "Rate of rise of the voltage"),
        *_MODEL,
        Input("offset", "s", "Time added in the power law, t0", default=EDGE_OFFSET),
    ),
    unit="A",
    source="integral of the step current",
    verified="derived",
    example=Example(
        {"time": "15 min", "ramp_rate": "2 kV/min", "capacitance": "0.25 uF", "absorption_coefficient": "0",
         "absorption_exponent": "0.8"},
        8.333e-6, 1e-4, "C dV/dt of 0.25 uF at 2 kV/min; derived",
    ),
    validity="a linear insulation, times of 0 or more",
)  # fmt: skip
def power_law_ramp_current(
    time: ArrayLike,
    ramp_rate: ArrayLike,
    absorption_coefficient: ArrayLike,
    absorption_exponent: ArrayLike,
    conductance: ArrayLike = 0.0,
    capacitance: ArrayLike = 0.0,
    series_resistance: ArrayLike = 0.0,
    offset: float = EDGE_OFFSET,
) -> Floats:
    """Charging, absorption and conduction while the voltage rises evenly.

    Parameters
    ----------
    time : array_like, shape () or (n,)
        Time since the ramp began [s].
    ramp_rate, absorption_coefficient, absorption_exponent : array_like, shape () or (...)
        Rate [V/s], A [S s^n] and n [1].
    conductance, capacitance, series_resistance : array_like, shape () or (...), optional
        Conduction [S], geometric capacitance [F] and the resistance it charges through [ohm].
    offset : float, optional
        Time added in the power law [s]; with 0 an exponent of 1 or more has no value (NaN).

    Returns
    -------
    ndarray of float, shape (..., n)
        Current [A].

    References
    ----------
    Integral of the step current over the ramp (derived).
    """
    law = PowerLaw(
        absorption_coefficient, absorption_exponent, conductance, series_resistance, capacitance, offset
    )
    return ramp_current(law, time, ramp_rate)
