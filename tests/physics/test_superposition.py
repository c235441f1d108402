"""Any recorded voltage against quadrature, its ladder, the earlier formulas and the circuit of its branches."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from soakage.errors import UsageError
from soakage.physics.currents import ramp_current, staircase_current
from soakage.physics.memory import residual_current
from soakage.physics.recovery import recovery_voltage
from soakage.physics.responses import Branches, PowerLaw, power_law_ladder
from soakage.physics.superposition import Corners, earlier_test, joined, recorded_corners, voltage_current

# Up, a step, a steep slope, a sag and a short circuit.
WHEN = np.array([0.0, 0.0, 100.0, 100.0, 160.0, 400.0, 400.0])
VOLTS = np.array([0.0, 1000.0, 1000.0, 2000.0, 4000.0, 3500.0, 0.0])
CORNERS = Corners(WHEN, VOLTS)


def by_quadrature(law: PowerLaw, at: float) -> float:
    def answer(since: float) -> float:
        return float(law.step(np.array([since]))[0])

    total = 0.0
    for (a, va), (b, vb) in itertools.pairwise(zip(WHEN, VOLTS, strict=True)):
        if a >= at or va == vb:
            continue
        if a == b:
            total += (vb - va) * answer(at - a)
            continue
        low, high = max(at - b, 0.0), at - a
        pieces = np.unique(np.concatenate([[low, high], np.geomspace(1e-4, high, 25)]))
        pieces = pieces[(pieces >= low) & (pieces <= high)]
        parts = [quad(answer, x, y, epsrel=1e-13, epsabs=0.0)[0] for x, y in itertools.pairwise(pieces)]
        total += (vb - va) / (b - a) * sum(parts)
    return total


@pytest.mark.parametrize("n", (0.1, 0.6, 0.8, 1.0, 1.2, 1.6))
def test_any_voltage_agrees_with_quadrature(n: float) -> None:
    law = PowerLaw(1e-9, n, 1e-11, 1e6, 0.25e-6)
    times = [5.0, 100.0, 130.0, 300.0, 401.0, 900.0]
    expected = [by_quadrature(law, at) for at in times]
    np.testing.assert_allclose(voltage_current(law, times, CORNERS), expected, rtol=1e-9)


@pytest.mark.parametrize("n", (0.6, 0.8, 1.0, 1.2))
def test_the_ladder_of_three_a_decade_follows_the_power_law(n: float) -> None:
    t = np.concatenate(
        [np.arange(2.0, 99.0, 5.0), np.arange(102.0, 399.0, 9.0), np.arange(405.0, 2000.0, 50.0)]
    )
    ladder = power_law_ladder(1e-9, n, 0.01, 1e6, 3, offset=0.01)
    # Without the sag: where a current passes through 0 a relative departure says nothing.
    held = Corners(WHEN, np.where(VOLTS == 3500.0, 4000.0, VOLTS))
    exact = voltage_current(PowerLaw(1e-9, n), t, held)
    departure = np.abs(voltage_current(ladder.branches, t, held) / exact - 1)
    assert departure[t < 400].max() < 2e-4
    # After the short circuit two large parts all but cancel, and the ripple counts for more.
    assert departure.max() < 5e-4
    assert ladder.ripple < 2e-4


def test_steps_and_ramps_are_corners_too() -> None:
    t = np.arange(1.0, 300.0, 7.0)
    law = PowerLaw([1e-9, 3e-9], [0.7, 1.1], 1e-11, 1e6, 1e-7)
    stairs = Corners(np.array([0.0, 0, 60, 60, 120, 120]), np.array([0.0, 1e3, 1e3, 2e3, 2e3, 0.0]))
    np.testing.assert_allclose(
        voltage_current(law, t, stairs),
        staircase_current(law, t, [0.0, 60.0, 120.0], [1e3, 2e3, 0.0]),
        rtol=1e-12,
    )
    rise = Corners(np.array([0.0, 200.0]), np.array([0.0, 5000.0]))
    np.testing.assert_allclose(
        voltage_current(law, t, rise), ramp_current(law, t, 25.0, until=200.0), rtol=1e-9
    )


def test_edges_that_take_time_are_slopes_as_the_circuit_simulator_has_seen_them() -> None:
    # The same staircase, short circuit and ramp that are held against ngspice elsewhere.
    law = Branches([2e9, 12e9, 100e9], [0.8e-9, 6e-9, 30e-9], 0.25e-9)
    t = np.arange(0.1, 120.0, 0.7)
    edges, levels = np.array([1.0, 31.0, 61.0]), np.array([1e3, 2e3, 0.0])
    corners = Corners(np.array([1.0, 1.5, 31.0, 31.5, 61.0, 61.5]), np.array([0.0, 1e3, 1e3, 2e3, 2e3, 0.0]))
    np.testing.assert_allclose(
        voltage_current(law, t, corners), staircase_current(law, t, edges, levels, 0.5), rtol=1e-9, atol=1e-20
    )


def test_without_offset_slopes_need_an_exponent_below_one_and_steps_do_not() -> None:
    rise = Corners(np.array([0.0, 10.0]), np.array([0.0, 1.0]))
    jump = Corners(np.array([0.0, 0.0]), np.array([0.0, 1.0]))
    assert np.isnan(voltage_current(PowerLaw(1.0, 1.2, offset=0.0), 5.0, rise))
    assert voltage_current(PowerLaw(1.0, 1.2, offset=0.0), 5.0, jump) == pytest.approx(5.0**-1.2)
    assert voltage_current(PowerLaw(1.0, 0.8, offset=0.0), 5.0, rise) == pytest.approx(0.1 * 5**0.2 / 0.2)


@given(st.floats(0.1, 1.6), st.floats(1.0, 1e4), st.floats(0.0, 500.0))
def test_voltages_add_and_times_shift(n: float, volts: float, later: float) -> None:
    law = PowerLaw(1e-9, n, 1e-11)
    t = np.array([3.0, 77.0, 450.0])
    one = voltage_current(law, t, CORNERS)
    np.testing.assert_allclose(
        voltage_current(law, t, Corners(WHEN, volts * VOLTS)), volts * one, rtol=1e-9, atol=1e-22
    )
    moved = voltage_current(law, t + later, Corners(WHEN + later, VOLTS))
    np.testing.assert_allclose(moved, one, rtol=1e-6)


def test_an_earlier_test_leaves_its_residual_current() -> None:
    law = PowerLaw(1e-9, 0.8, 2e-11, offset=0.0)
    new = Corners(np.array([0.0, 0.0]), np.array([0.0, 500.0]))
    whole = voltage_current(law, [60.0], joined(earlier_test(5000.0, 600.0, 900.0), new))
    alone = voltage_current(law, [60.0], new)
    left = residual_current(60.0, 5000.0, 1e-9, 0.8, 600.0, 900.0)
    np.testing.assert_allclose(whole - alone, left, rtol=1e-9)


def test_rows_become_straight_pieces_that_jump_at_the_edges() -> None:
    read = recorded_corners([1.0, 60.0, 61.0, 120.0], [1000.0, 990.0, 2000.0, np.nan], [0.0, 60.0])
    np.testing.assert_array_equal(read.time, [0.0, 0.0, 1.0, 60.0, 60.0, 60.0, 61.0])
    np.testing.assert_array_equal(read.voltage, [0.0, 1e3, 1e3, 990.0, 990.0, 2e3, 2e3])
    # A sag lowers the conduction at once and takes absorbed charge back.
    law = PowerLaw(1e-9, 0.8, 1e-10)
    level = staircase_current(law, [59.0], [0.0, 60.0], [1e3, 2e3])
    assert voltage_current(law, [59.0], read) < level


def test_corners_out_of_order_are_refused() -> None:
    with pytest.raises(UsageError, match="order of time"):
        voltage_current(PowerLaw(1.0, 0.8), 1.0, Corners(np.array([1.0, 0.0]), np.array([0.0, 1.0])))


@pytest.mark.parametrize(
    ("n", "held", "peak"),
    (
        (0.6, 60.0, 0.084), (0.6, 600.0, 0.113), (0.6, 1800.0, 0.121),
        (0.8, 60.0, 0.055), (0.8, 600.0, 0.061), (0.8, 1800.0, 0.058),
    ),
)  # fmt: skip
def test_the_voltage_that_returns_after_an_early_un_earthing(n: float, held: float, peak: float) -> None:
    # Peaks from a stepped solution in steps of 1 s (derived), short circuit half as long as the charge.
    ladder = power_law_ladder(0.05, n, 1e-2, 1e5, 3, offset=1e-5).branches
    leaky = Branches(ladder.resistance, ladder.capacitance, float(np.asarray(ladder.conductance)) + 1e-4)
    found = recovery_voltage(leaky, 1.0, [1.0, 1e6], 1.0, held, held / 2)
    # The stepping of the first figures costs up to 4 % of them.
    assert found.peak == pytest.approx(peak, rel=0.04)
    assert found.voltage[0] == pytest.approx(found.initial_slope, rel=0.2)
    assert abs(found.voltage[1]) < 1e-2 * found.peak


def test_recovery_agrees_with_an_integration_of_the_circuit() -> None:
    r, c, g, c0 = np.array([2e9, 5e9]), np.array([5e-9, 40e-9]), 1e-10, 20e-9
    left = 1000.0 * -np.expm1(-300.0 / (r * c)) * np.exp(-60.0 / (r * c))

    def rates(_: float, y: np.ndarray) -> np.ndarray:
        flow = (y[0] - y[1:]) / r
        return np.concatenate([[-(g * y[0] + flow.sum()) / c0], flow / c])

    times = np.array([10.0, 100.0, 400.0])
    solved = solve_ivp(rates, (0, 400), [0.0, *left], method="LSODA", t_eval=times, rtol=1e-10, atol=1e-9).y[
        0
    ]
    found = recovery_voltage(Branches(r, c, g), c0, times, 1000.0, 300.0, 60.0)
    np.testing.assert_allclose(found.voltage, solved, rtol=1e-6)
    assert found.peak >= found.voltage.max()
    mirrored = recovery_voltage(Branches(r, c, g), c0, times, -1000.0, 300.0, 60.0)
    assert mirrored.peak == pytest.approx(-found.peak)
    assert mirrored.peak_time == pytest.approx(found.peak_time, rel=1e-6)
