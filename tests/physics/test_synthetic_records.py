"""Records made from a known truth: what the tables of steps, ramps and discharges find back."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.physics.bounds import EXACT, LOWER, UPPER
from soakage.physics.currents import ramp_current, staircase_current
from soakage.physics.discharge import discharge_current, transient_capacitance
from soakage.physics.indices import dielectric_discharge
from soakage.physics.linearity import voltage_dependence
from soakage.physics.ramp import (
    apparent_capacitance,
    current_at_voltage,
    fitted_ramp,
    ramp_capacitance_bound,
    ramp_rate,
)
from soakage.physics.resistance import at_mark, insulation_resistance
from soakage.physics.responses import PowerLaw
from soakage.physics.steps import equal_holds, step_levels, step_table

LAW = PowerLaw(absorption_coefficient=8e-9, absorption_exponent=0.8, conductance=2e-10, offset=0.0)
LEVELS = st.lists(st.sampled_from((500.0, 1e3, 2e3, 3e3, 4e3, 5e3)), min_size=2, max_size=6, unique=True)


# ---- staircases -------------------------------------------------------------------------------------------
def logged(levels: list[float], hold: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return a record read once a second; the row at an edge still shows the level before."""
    time = np.arange(1.0, len(levels) * hold + 1)
    volts = np.repeat(levels, hold).astype(float)
    edges = [float(hold * k) for k in range(len(levels))]
    return time, volts, staircase_current(LAW, time, edges, levels)


@given(LEVELS, st.integers(20, 90))
def test_every_level_of_a_logged_staircase_is_found(levels: list[float], hold: int) -> None:
    time, volts, current = logged(sorted(levels), hold)
    found = step_table(time, volts, current)
    assert found.voltage.tolist() == sorted(levels)
    assert found.start.tolist() == [float(hold * k) for k in range(len(levels))]
    assert found.hold.tolist() == [float(hold)] * len(levels)
    assert found.equal_holds
    ends = np.arange(1, len(levels) + 1) * hold - 1
    np.testing.assert_allclose(found.current, current[ends], rtol=1e-12)
    np.testing.assert_allclose(found.resistance, volts[ends] / current[ends], rtol=1e-12)
    assert not found.bound.any()


@given(LEVELS, st.integers(20, 90), st.floats(0.001, 0.02))
def test_a_voltage_that_wanders_a_little_is_still_one_level(
    levels: list[float], hold: int, wobble: float
) -> None:
    time, volts, current = logged(sorted(levels), hold)
    noisy = volts * (1 + wobble * np.sin(time))
    found = step_table(time, noisy, current)
    assert len(found.voltage) == len(levels)
    np.testing.assert_allclose(found.voltage, sorted(levels), rtol=wobble)


@given(LEVELS, st.integers(20, 60))
def test_end_of_hold_rows_give_the_table_of_the_whole_record(levels: list[float], hold: int) -> None:
    time, volts, current = logged(sorted(levels), hold)
    ends = np.arange(1, len(levels) + 1) * hold - 1
    whole, typed = step_table(time, volts, current), step_table(time[ends], volts[ends], current[ends])
    np.testing.assert_allclose(typed.resistance, whole.resistance, rtol=1e-12)
    np.testing.assert_allclose(typed.hold, whole.hold)


@given(st.lists(st.integers(30, 300), min_size=2, max_size=6))
def test_unequal_holds_are_seen_for_what_they_are(holds: list[int]) -> None:
    ends = np.cumsum(holds).astype(float)
    volts = 1000.0 * np.arange(1, len(holds) + 1)
    found = step_table(ends, volts, volts / 1e9)
    assert found.hold.tolist() == [float(hold) for hold in holds]
    middle = float(np.median(holds))
    assert found.equal_holds == all(abs(hold - middle) <= 0.05 * middle for hold in holds)
    assert found.equal_holds == equal_holds(holds)


@given(st.floats(1e7, 1e12), st.integers(2, 8), st.sampled_from((0.0, 0.25)))
def test_a_resistor_has_one_resistance_at_every_step(ohms: float, count: int, falls: float) -> None:
    volts = 1000.0 * np.arange(1, count + 1)
    current = volts / ohms
    current[-1] /= 1 - falls  # a quarter lower is on the line of 25 % (practice)
    found = step_table(60.0 * np.arange(1, count + 1), volts, current)
    fall = voltage_dependence(found.resistance[0], found.resistance[-1])
    assert fall == pytest.approx(falls, abs=1e-9)


@pytest.mark.parametrize(("kind", "turned"), ((LOWER, UPPER), (UPPER, LOWER), (EXACT, EXACT)))
def test_a_bound_of_the_last_current_turns_over(kind: int, turned: int) -> None:
    bounds = np.array([0, kind, 0], np.int8)
    found = step_table([60.0, 120.0, 180.0], [1e3, 2e3, 3e3], [1e-6, 2e-6, 3e-6], current_bound=bounds)
    assert found.bound.tolist() == [0, turned, 0]


@pytest.mark.parametrize(
    ("edges", "labels"),
    (
        ([0.0, 60.0, 120.0], [0, 0, 1, 1, 2]),
        ([0.0, 100.0], [0, 0, 0, 1, 1]),
        ([0.0], [0, 0, 0, 0, 0]),
    ),
)
def test_stated_edges_decide(edges: list[float], labels: list[int]) -> None:
    found, start = step_levels([30.0, 60.0, 90.0, 120.0, 150.0], [1e3, 1e3, 2e3, 2e3, 3e3], edges)
    assert found.tolist() == labels
    assert start.tolist() == edges


# ---- ramps ------------------------------------------------------------------------------------------------
@given(st.floats(1.0, 100.0), st.floats(-500.0, 500.0), st.sets(st.integers(1, 58), max_size=5))
def test_a_rate_is_found_through_gaps_and_a_wild_reading(rate: float, start: float, gaps: set[int]) -> None:
    time = 5.0 * np.arange(60)
    volts = rate * time + start
    volts[list(gaps)] = np.nan
    assert ramp_rate(time, volts) == pytest.approx(rate, rel=1e-6)
    wild = volts.copy()
    wild[30] += 50 * rate * 300
    assert ramp_rate(time, wild) == pytest.approx(rate, rel=1e-6)


@given(st.floats(1.0, 100.0))
def test_a_wobble_is_the_spread_about_the_line(rate: float) -> None:
    time = np.arange(400.0)
    noise = 3.0 * np.sin(1.7 * time)
    found = fitted_ramp(time, rate * time + noise)
    assert found.rate == pytest.approx(rate, abs=0.01)
    assert found.wobble == pytest.approx(3.0 / math.sqrt(2), rel=0.05)
    assert found.start_voltage == pytest.approx(0.0, abs=1.0)


@given(st.floats(1e-8, 1e-6), st.floats(5.0, 50.0), st.floats(0.0, 1e-10))
def test_a_capacitance_from_a_ramp_is_never_below_the_true_one(
    farads: float, rate: float, siemens: float
) -> None:
    law = PowerLaw(3e-9, 0.7, conductance=siemens, series_resistance=1e4, capacitance=farads)
    time = 5.0 * np.arange(1, 181)
    current = ramp_current(law, time, rate)
    found = ramp_capacitance_bound(rate * time, current, rate)
    assert found.bound == UPPER
    assert found.value >= farads * (1 - 1e-9)
    assert found.value <= apparent_capacitance(current, rate).max()


@given(st.floats(0.05, 0.95))
def test_the_current_at_a_voltage_lies_on_the_chord(share: float) -> None:
    time, volts, current = [0.0, 60.0, 120.0], [0.0, 1e3, 2e3], [1e-6, 2e-6, 6e-6]
    level = 2e3 * share
    expected = np.interp(level, volts, current)
    found = np.asarray(current_at_voltage(time, volts, current, [level]))
    assert found[0] == pytest.approx(float(expected), rel=1e-9)


# ---- discharges -------------------------------------------------------------------------------------------
@given(st.floats(1e-7, 5e-6), st.floats(0.5, 4.0), st.floats(100.0, 5000.0))
def test_a_transient_gives_its_capacitance(farads: float, tau: float, volts: float) -> None:
    time = np.arange(0.02, 12.0, 0.02)
    current = farads * volts / tau * np.exp(-time / tau)
    found = transient_capacitance(time, current, volts)
    assert found.reason == 0
    assert found.capacitance == pytest.approx(farads, rel=0.01)
    assert found.time_constant == pytest.approx(tau, rel=0.01)


@given(st.floats(0.3, 1.1), st.floats(60.0, 3600.0), st.floats(-1.0, 1.0))
def test_the_discharge_current_is_read_a_minute_in(n: float, held: float, sign: float) -> None:
    time = np.concatenate(
        [np.linspace(1.0, held, 40), held + np.array([5.0, 15.0, 30.0, 60.0, 120.0, 300.0])]
    )
    law = PowerLaw(5e-9, n, offset=0.0)
    current = staircase_current(law, time, [0.0, held], [1000.0, 0.0]) * math.copysign(1.0, sign)
    found = discharge_current(time, current, held)
    expected = 1000.0 * 5e-9 * (60.0**-n - (60.0 + held) ** -n)
    assert found.value == pytest.approx(expected, rel=1e-9)
    # In mA/(V F): the current over voltage and capacitance, conduction has no part in it (derived).
    assert 1e3 * dielectric_discharge(found.value, 1000.0, 1e-6) == pytest.approx(
        1e3 * expected / 1000.0 / 1e-6, rel=1e-9
    )


# ---- marks ------------------------------------------------------------------------------------------------
@given(st.floats(0.2, 1.3), st.lists(st.floats(10.0, 900.0), min_size=3, max_size=12, unique=True))
def test_a_power_law_is_read_exactly_between_its_readings(n: float, times: list[float]) -> None:
    time = np.sort(times)
    current = 1e-6 * (time / 60.0) ** -n
    marks = np.sqrt(time[1:] * time[:-1])
    found = at_mark(time, current, marks)
    np.testing.assert_allclose(found.value, 1e-6 * (marks / 60.0) ** -n, rtol=1e-9)
    ohms = at_mark(time, insulation_resistance(5000.0, current), marks)
    np.testing.assert_allclose(ohms.value * found.value, 5000.0, rtol=1e-9)


@given(st.lists(st.floats(1e-9, 1e-5), min_size=2, max_size=6), st.integers(1, 4))
def test_records_of_one_clock_are_read_together(currents: list[float], copies: int) -> None:
    time = 30.0 * np.arange(1, len(currents) + 1)
    batch = np.array([[value * (k + 1) for value in currents] for k in range(copies)])
    found = at_mark(time, batch, [45.0, 60.0])
    for k in range(copies):
        one = at_mark(time, batch[k], [45.0, 60.0])
        np.testing.assert_allclose(found.value[k], one.value, rtol=1e-12)
