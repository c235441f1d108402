"""Discharge: capacitance only from a transient that was seen, two layers against their circuit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from soakage.physics.currents import staircase_current
from soakage.physics.discharge import REASONS, discharge_current, transient_capacitance
from soakage.physics.indices import dielectric_discharge
from soakage.physics.layers import two_layer_discharge_current
from soakage.physics.memory import residual_current, residual_current_share, residual_share_time
from soakage.physics.responses import PowerLaw

ABSORBED = 5.291161237330324e-8


def transient(
    capacitance: float, resistance: float, step: float, n: float = 0.8
) -> tuple[np.ndarray, np.ndarray]:
    t = np.arange(1, 201) * step
    law = PowerLaw(ABSORBED / 10, n, 3e-10, resistance, capacitance)
    return t, staircase_current(law, t, [0.0], [5000.0])


@pytest.mark.parametrize("n", (0.6, 0.8, 1.0))
def test_a_transient_read_often_enough_gives_its_capacitance(n: float) -> None:
    t, current = transient(1e-6, 1e6, 0.05, n)
    found = transient_capacitance(t, current, 5000.0)
    assert found.reason == 0
    # The absorption beside it is taken with one exponent: within 2 % over the published ones.
    assert found.capacitance == pytest.approx(1e-6, rel=0.02)
    assert found.time_constant == pytest.approx(1.0, rel=0.02)
    assert found.readings >= 10


@given(st.floats(1e-9, 1e-5), st.floats(1e4, 1e7))
def test_a_pure_exponential_is_found_without_error(capacitance: float, resistance: float) -> None:
    tau = capacitance * resistance
    t = np.arange(1, 121) * tau / 20
    found = transient_capacitance(t, -1000.0 / resistance * np.exp(-t / tau), 1000.0)
    assert found.capacitance == pytest.approx(capacitance, rel=1e-3)


def test_a_transient_read_too_seldom_gives_none_and_says_why() -> None:
    t, current = transient(1e-6, 1e6, 0.2)
    found = transient_capacitance(t, current, 5000.0)
    assert np.isnan(found.capacitance)
    assert REASONS[int(found.reason)].startswith("fewer than ten readings")


def test_a_current_that_does_not_decay_gives_none_and_says_why() -> None:
    t = np.arange(1.0, 101.0)
    found = transient_capacitance(t, np.full(100, 1e-6), 1000.0)
    assert np.isnan(found.capacitance)
    assert REASONS[int(found.reason)].startswith("the readings show no")


def test_a_batch_of_transients_equals_one_by_one() -> None:
    t, first = transient(1e-6, 1e6, 0.05)
    second = np.where(np.arange(200) % 7 == 3, np.nan, 2.0 * first)
    both = transient_capacitance(t, np.stack([first, second]), [5000.0, 10000.0])
    assert both.capacitance.shape == (2,)
    assert both.capacitance[0] == transient_capacitance(t, first, 5000.0).capacitance
    assert both.capacitance[1] == pytest.approx(1e-6, rel=0.02)


def test_the_discharge_current_is_read_from_the_short_circuit_on() -> None:
    t = np.arange(0.0, 2000.0)
    law = PowerLaw(ABSORBED, 0.7, 3e-10)
    current = staircase_current(law, t, [0.0, 1800.0], [500.0, 0.0])
    read = discharge_current(t, current, 1800.0)
    expected = 500.0 * ABSORBED * (60.01**-0.7 - 1860.01**-0.7)
    assert read.value == pytest.approx(expected, rel=1e-9)
    assert np.isnan(discharge_current(t, current, 1800.0, after=300.0).value)
    # No conduction in it: a leaky winding discharges as a dry one.
    leaky = staircase_current(PowerLaw(ABSORBED, 0.7, 3e-8), t, [0.0, 1800.0], [500.0, 0.0])
    assert discharge_current(t, leaky, 1800.0).value == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("charged", (300.0, 1800.0))
def test_two_layers_against_an_integration_of_their_circuit(charged: float) -> None:
    c1, c2, g1, g2, volts = 0.2e-6, 0.3e-6, 0.1e-9, 4e-9, 1000.0

    def rates(_: float, v: np.ndarray, source: float) -> list[float]:
        # One current through both layers: c1 v1' + g1 v1 = c2 v2' + g2 v2, v1 + v2 = source.
        return [(g2 * (source - v[0]) - g1 * v[0]) / (c1 + c2)]

    start = [volts * c2 / (c1 + c2)]
    end = solve_ivp(rates, (0, charged), start, args=(volts,), rtol=1e-10, atol=1e-9).y[:, -1]
    # The short circuit takes the charge of both in series at once and leaves what the boundary holds.
    held = [end[0] - volts * c2 / (c1 + c2)]
    v1 = float(solve_ivp(rates, (0, 60), held, args=(0.0,), rtol=1e-10, atol=1e-9).y[0, -1])
    slope = rates(0.0, np.array([v1]), 0.0)[0]
    current = c1 * slope + g1 * v1
    assert two_layer_discharge_current(60.0, volts, c1, c2, g1, g2, charged) == pytest.approx(
        -current, rel=1e-6
    )


@given(st.floats(1e-9, 1e-6), st.floats(1e-11, 1e-8), st.floats(0.1, 10.0))
def test_a_homogeneous_insulation_has_no_dielectric_discharge(c: float, g: float, share: float) -> None:
    current = two_layer_discharge_current(60.0, 1000.0, c, share * c, g, share * g)
    assert dielectric_discharge(current, 1000.0, c) < 1e-12


@given(st.floats(0.3, 1.3), st.floats(30.0, 4000.0), st.floats(1e-3, 0.5))
def test_the_residual_share_time_gives_its_share_and_grows_as_the_share_shrinks(
    n: float, held: float, share: float
) -> None:
    wait = float(residual_share_time(n, held, share))
    reached = float(residual_current_share(n, held, wait))
    assert reached <= share * (1 + 1e-9)
    if wait > 0:
        assert reached == pytest.approx(share, rel=1e-6)
    assert residual_share_time(n, held, share / 2) >= wait


def test_residual_current_is_the_superposition_of_the_earlier_test() -> None:
    law = PowerLaw(ABSORBED, 0.8, 1e-10, offset=0.0)
    whole = staircase_current(law, [600.0 + 900.0 + 60.0], [0.0, 600.0], [5000.0, 0.0])
    assert residual_current(60.0, 5000.0, ABSORBED, 0.8, 600.0, 900.0) == pytest.approx(whole[0], rel=1e-9)
