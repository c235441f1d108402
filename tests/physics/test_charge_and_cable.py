"""Charge, earthing and cables against integration of the circuit or field they describe."""

from __future__ import annotations

import math

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants
from scipy.integrate import quad, solve_ivp

from soakage.physics.cable import (
    MEGOHM_THOUSAND_FEET,
    VACUUM_PERMITTIVITY,
    cable_insulation_thickness,
    cable_resistance,
    cable_resistance_from_constant,
    cable_resistivity,
)
from soakage.physics.cable_constants import cable_capacitance, insulation_constant, resistance_length
from soakage.physics.charge import (
    charging_current,
    charging_time,
    stored_charge,
    stored_energy,
    threshold_capacitance_charge,
    threshold_capacitance_energy,
)
from soakage.physics.earthing import decay_time, minimum_earthing_time
from soakage.physics.indirect import (
    self_discharge_resistance,
    series_voltmeter_resistance,
    voltmeter_resistance,
)

POSITIVE = st.floats(1e-3, 1e3)
BORE = st.floats(1e-3, 0.1)
WALL = st.floats(1.05, 4.0)


@pytest.mark.parametrize(("limit", "series"), ((3e-3, 0.0), (3e-3, 5e5), (20e-3, 5e5), (1.0, 1e6)))
def test_charging_time_against_an_integration_with_a_current_limit(limit: float, series: float) -> None:
    c, volts, within = 1e-6, 5000.0, 0.01

    def rate(_: float, v: np.ndarray) -> list[float]:
        free = (volts - v[0]) / series if series else math.inf
        return [min(limit, free) / c]

    def reached(_: float, v: np.ndarray) -> float:
        return float(v[0] - volts * (1 - within))

    reached.terminal = True  # type: ignore[attr-defined]
    run = solve_ivp(rate, (0.0, 100.0), [0.0], events=reached, rtol=1e-9, atol=1e-6, max_step=0.05)
    assert run.t_events is not None
    assert charging_time(c, volts, limit, series, within) == pytest.approx(run.t_events[0][0], rel=1e-5)


def test_charging_needs_a_current_and_a_voltage() -> None:
    assert np.isnan(charging_time(1e-6, 5000.0, 0.0))
    assert np.isnan(charging_time(1e-6, 0.0, 1e-3))
    assert np.isnan(charging_time(1e-6, 5000.0, 1e-3, within=0.0))


@given(POSITIVE, POSITIVE)
def test_thresholds_are_the_inverse_of_energy_and_charge(energy: float, volts: float) -> None:
    assert stored_energy(threshold_capacitance_energy(energy, volts), volts) == pytest.approx(
        energy, rel=1e-12
    )
    assert stored_charge(threshold_capacitance_charge(energy, volts), volts) == pytest.approx(
        energy, rel=1e-12
    )


def test_energy_is_what_charging_puts_in() -> None:
    # A ramp for a second: constant current, voltage rising evenly.
    c, rate = 0.5e-6, 1000.0
    energy = quad(lambda t: charging_current(c, rate) * rate * t, 0.0, 1.0)[0]
    assert stored_energy(c, rate) == pytest.approx(energy)


@given(st.floats(1e4, 1e9), st.floats(1e-9, 1e-5), st.floats(60.0, 1e4))
def test_decay_and_self_discharge_are_one_exponential(r: float, c: float, volts: float) -> None:
    seconds = float(decay_time(r, c, volts))
    assert volts * math.exp(-seconds / (r * c)) == pytest.approx(50.0, rel=1e-9)
    assert self_discharge_resistance(c, volts, 50.0, seconds) == pytest.approx(r, rel=1e-9)


def test_a_voltage_already_below_the_end_takes_no_time() -> None:
    assert decay_time(1e6, 1e-6, 40.0) == 0.0
    assert np.isnan(decay_time(1e6, 1e-6, 0.0))


@given(st.floats(0.0, 1e5), st.floats(0.0, 1e6))
def test_earthing_is_never_shorter_than_either_rule(held: float, residual: float) -> None:
    minimum = float(minimum_earthing_time(held, residual))
    assert minimum >= 4 * held
    assert minimum >= residual
    assert minimum in (4 * held, residual)


def test_a_missing_time_gives_no_earthing_time() -> None:
    assert np.isnan(minimum_earthing_time(np.nan))
    assert np.isnan(minimum_earthing_time(-1.0))


@given(st.floats(1e3, 1e6), st.floats(1e4, 1e8), st.floats(10.0, 1e3))
def test_the_voltmeter_method_finds_the_divider_it_was_given(r_v: float, r_i: float, volts: float) -> None:
    series = 40e3
    assert voltmeter_resistance(series, volts, volts * r_v / (r_v + series)) == pytest.approx(r_v, rel=1e-6)
    reading = volts * r_v / (r_v + r_i)
    assert series_voltmeter_resistance(volts, reading, r_v) == pytest.approx(r_i, rel=1e-6)


@given(BORE, WALL, st.floats(1.0, 1e4))
def test_cable_resistance_is_the_radial_integral(bore: float, wall: float, length: float) -> None:
    rho = 1e13
    integral = quad(lambda r: rho / (2 * math.pi * r * length), bore / 2, bore * wall / 2)[0]
    resistance = cable_resistance(rho, length, bore, bore * wall)
    assert resistance == pytest.approx(integral, rel=1e-9)
    assert cable_resistivity(resistance, length, bore, bore * wall) == pytest.approx(rho, rel=1e-9)
    thickness = cable_insulation_thickness(resistance, length, bore, rho)
    assert thickness == pytest.approx(bore * (wall - 1) / 2, rel=1e-9)


@given(BORE, WALL, st.floats(1.0, 1e4))
def test_resistance_falls_with_length_and_their_product_does_not(
    bore: float, wall: float, length: float
) -> None:
    short, long = (cable_resistance(1e13, metres, bore, bore * wall) for metres in (length, 100 * length))
    assert short == pytest.approx(100 * float(long), rel=1e-12)
    assert resistance_length(short, length) == pytest.approx(float(resistance_length(long, 100 * length)))


@given(BORE, WALL)
def test_both_forms_of_the_insulation_constant_agree(bore: float, wall: float) -> None:
    rho = 5e12
    by_constant = cable_resistance_from_constant(insulation_constant(rho), 1000.0, bore, bore * wall)
    assert by_constant == pytest.approx(float(cable_resistance(rho, 1000.0, bore, bore * wall)), rel=1e-12)


def test_resistance_and_capacitance_of_a_wall_are_one_time_constant() -> None:
    # R C = rho eps for any shape of field.
    r = cable_resistance(1e13, 500.0, 0.01, 0.02)
    c = cable_capacitance(2.3, 500.0, 0.01, 0.02)
    assert r * c == pytest.approx(1e13 * 2.3 * constants.epsilon_0, rel=1e-8)


def test_constants_are_the_published_ones() -> None:
    assert pytest.approx(constants.epsilon_0, rel=1e-9) == VACUUM_PERMITTIVITY
    bridge: float = pint.UnitRegistry()("1 megaohm * 1000 foot").to("ohm * metre").magnitude
    assert pytest.approx(bridge, rel=1e-12) == MEGOHM_THOUSAND_FEET


@pytest.mark.parametrize(("inner", "outer"), ((0.02, 0.01), (0.01, 0.01), (0.0, 0.01)))
def test_a_wall_without_thickness_has_no_value(inner: float, outer: float) -> None:
    assert np.isnan(cable_resistance(1e13, 1.0, inner, outer))
    assert np.isnan(cable_resistivity(1e9, 1.0, inner, outer))
    assert np.isnan(cable_capacitance(2.3, 1.0, inner, outer))
    assert np.isnan(cable_resistance_from_constant(1e12, 1.0, inner, outer))
