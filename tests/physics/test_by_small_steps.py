"""Currents against brute force: the circuit stepped through time, the history cut into small steps."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from soakage.physics.currents import (
    power_law_ramp_current,
    ramp_current,
    staircase_current,
    step_current,
)
from soakage.physics.layers import two_layer_discharge_current
from soakage.physics.memory import residual_current, residual_current_share, residual_share_time
from soakage.physics.responses import Branches, PowerLaw

BRANCHES = Branches(resistance=[2e9, 5e9, 2e10], capacitance=[1e-9, 4e-9, 5e-9], conductance=3e-11)
LAW = PowerLaw(absorption_coefficient=5e-9, absorption_exponent=0.8, conductance=2e-10, offset=0.0)
TIMES = np.array([0.5, 3.0, 15.0, 59.0, 61.0, 118.0, 200.0, 400.0])
EDGES, LEVELS = [0.0, 60.0, 120.0, 300.0], [1000.0, 2000.0, 500.0, 0.0]


def voltage_of(time: float) -> float:
    """Return the voltage of the staircase just before a time."""
    return ([0.0] + [level for edge, level in zip(EDGES, LEVELS, strict=True) if edge < time])[-1]


def stepped(branches: Branches, times: np.ndarray) -> list[float]:
    """Return the current of R-C branches by integrating each capacitor between the edges."""
    r, c = np.asarray(branches.resistance), np.asarray(branches.capacitance)
    marks = sorted({0.0, *EDGES, *times.tolist()})
    charge, found = np.zeros(len(r)), {}

    def rate(_: float, u: np.ndarray, volts: float) -> np.ndarray:
        return np.asarray((volts - u) / (r * c))

    for begin, end in pairwise(marks):
        volts = voltage_of(end)
        run = solve_ivp(rate, (begin, end), charge, args=(volts,), rtol=1e-9, atol=1e-12, method="DOP853")
        charge = run.y[:, -1]
        found[end] = float(((volts - charge) / r).sum() + float(np.asarray(branches.conductance)) * volts)
    return [found[time] for time in times.tolist()]


def test_a_staircase_of_branches_is_its_circuit() -> None:
    np.testing.assert_allclose(
        staircase_current(BRANCHES, TIMES, EDGES, LEVELS), stepped(BRANCHES, TIMES), rtol=1e-7
    )


@pytest.mark.parametrize("response", (BRANCHES, LAW), ids=("branches", "power law"))
def test_a_staircase_is_the_sum_of_steps_begun_at_its_edges(response: Branches | PowerLaw) -> None:
    total = np.zeros(TIMES.shape)
    for k, edge in enumerate(EDGES):
        change = LEVELS[k] - (LEVELS[k - 1] if k else 0.0)
        for at, time in enumerate(TIMES):
            if time > edge:
                total[at] += change * float(response.step(np.array([time - edge]))[0])
    np.testing.assert_allclose(staircase_current(response, TIMES, EDGES, LEVELS), total, rtol=1e-12)


@pytest.mark.parametrize("response", (BRANCHES, LAW), ids=("branches", "power law"))
@pytest.mark.parametrize("pieces", (200, 2000))
def test_a_ramp_is_a_staircase_of_many_small_steps(response: Branches | PowerLaw, pieces: int) -> None:
    rate, top = 20.0, 300.0
    edges = np.linspace(0.0, top, pieces, endpoint=False)
    # The mean of the levels just before and just after each moment: error of second order.
    levels = rate * (edges + top / pieces)
    time = np.array([100.0 + top / pieces / 2, 250.0 + top / pieces / 2])
    small = staircase_current(response, time, edges, levels)
    whole = ramp_current(response, time, rate)
    np.testing.assert_allclose(whole, small, rtol=60.0 / pieces)


@pytest.mark.parametrize("n", (0.3, 0.6, 0.8, 0.95, 1.0, 1.1, 1.3))
@pytest.mark.parametrize("offset", (0.01, 0.5))
@pytest.mark.parametrize("time", (5.0, 900.0))
def test_the_ramp_of_a_power_law_is_the_integral_of_its_steps(n: float, offset: float, time: float) -> None:
    rate, a = 33.0, 2e-9
    inside = quad(
        lambda x: rate * a * (x + offset) ** -n,
        0.0,
        time,
        points=[offset, 10 * offset],
        limit=200,
        epsabs=0.0,
    )[0]
    found = power_law_ramp_current(time, rate, a, n, offset=offset)
    assert found == pytest.approx(inside, rel=1e-6)


@pytest.mark.parametrize("until", (60.0, 200.0))
def test_a_ramp_that_is_held_goes_on_by_superposition(until: float) -> None:
    held = ramp_current(BRANCHES, TIMES, 10.0, until)
    down = ramp_current(BRANCHES, np.maximum(TIMES - until, 0.0), 10.0)
    np.testing.assert_allclose(held, ramp_current(BRANCHES, TIMES, 10.0) - down, rtol=1e-12)


@given(st.floats(1e5, 1e7), st.floats(1e-8, 1e-6), st.floats(0.01, 3.0))
def test_charging_through_a_resistance_is_the_circuit_s_exponential(r: float, c: float, taus: float) -> None:
    time, volts = taus * r * c, 5000.0
    run = solve_ivp(lambda _, u: (volts - u) / (r * c), (0.0, time), [0.0], rtol=1e-10, atol=1e-8)
    expected = (volts - run.y[0, -1]) / r
    found = step_current(time, volts, 0.0, 0.8, capacitance=c, series_resistance=r)
    assert found == pytest.approx(expected, rel=1e-6)


@given(st.floats(1e-8, 1e-6), st.floats(1e-8, 1e-6), st.floats(1e-11, 1e-8), st.floats(1e-11, 1e-8))
def test_two_layers_discharge_as_their_circuit_does(c1: float, c2: float, g1: float, g2: float) -> None:
    # Charged for t_c at U, then short-circuited: the voltage of the first layer is the only state.
    volts, held, after = 1000.0, 1800.0, 60.0

    def rate(_: float, u: np.ndarray, total: float) -> np.ndarray:
        return np.asarray((g2 * (total - u) - g1 * u) / (c1 + c2))

    first = volts * c2 / (c1 + c2)
    charged = solve_ivp(rate, (0.0, held), [first], args=(volts,), rtol=1e-10, atol=1e-9).y[0, -1]
    shorted = charged - volts * c2 / (c1 + c2)
    u = solve_ivp(rate, (0.0, after), [shorted], args=(0.0,), rtol=1e-10, atol=1e-12).y[0, -1]
    # Through the short: conduction and displacement of the first layer.
    slope = float(rate(after, np.array([u]), 0.0)[0])
    current = abs(g1 * u + c1 * slope)
    found = two_layer_discharge_current(after, volts, c1, c2, g1, g2, held)
    assert found == pytest.approx(current, rel=1e-4, abs=1e-9 * volts * (g1 + g2))


# ---- memory -----------------------------------------------------------------------------------------------
@given(st.floats(0.4, 1.2), st.floats(30.0, 3600.0), st.floats(0.0, 7200.0), st.floats(1.0, 600.0))
def test_the_memory_of_a_test_is_two_steps_of_the_past(
    n: float, held: float, earthed: float, time: float
) -> None:
    law = PowerLaw(absorption_coefficient=1e-9, absorption_exponent=n, offset=0.0)
    at = held + earthed + time
    expected = staircase_current(law, at, [0.0, held], [1000.0, 0.0])
    assert residual_current(time, 1000.0, 1e-9, n, held, earthed) == pytest.approx(float(expected), rel=1e-9)


@given(st.floats(0.4, 1.2), st.floats(30.0, 3600.0), st.floats(0.002, 0.2), st.floats(0.3, 3.0))
def test_the_time_for_a_share_is_where_the_share_is_met(
    n: float, held: float, share: float, ratio: float
) -> None:
    found = float(residual_share_time(n, held, share, ratio))

    def left(earthed: float) -> float:
        a, b = 60.0 + earthed, 60.0 + earthed + held
        return float(ratio * (a**-n - b**-n) / 60.0**-n)

    if left(0.0) <= share:
        assert found == 0.0
        return
    low, high = 0.0, 1e9
    for _ in range(200):
        middle = math.sqrt((low + 1.0) * (high + 1.0)) - 1.0
        low, high = (middle, high) if left(middle) > share else (low, middle)
    assert found == pytest.approx(low, rel=1e-6)
    assert residual_current_share(n, held, found, ratio) == pytest.approx(share, rel=1e-6)


@pytest.mark.parametrize("ratio", (0.0, -1.0, math.nan))
@pytest.mark.parametrize("name", ("absorption_exponent", "held", "share", "voltage_ratio", "mark"))
def test_no_time_for_what_is_not_positive(name: str, ratio: float) -> None:
    stated = {"absorption_exponent": 0.8, "held": 600.0, "share": 0.01, "voltage_ratio": 1.0, "mark": 60.0}
    assert np.isnan(residual_share_time(**(stated | {name: ratio})))
    assert np.isfinite(residual_share_time(**stated))


def test_a_higher_voltage_before_leaves_a_longer_memory() -> None:
    times = residual_share_time(0.8, 600.0, 0.01, [0.5, 1.0, 2.0, 4.0])
    assert (np.diff(times) > 0).all()
