"""Temperature rules and dew point against their tables and against outside libraries."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pvlib.atmosphere import rh_from_tdew, tdew_from_rh

from soakage.errors import UsageError
from soakage.physics import humidity
from soakage.physics.energy import activation_factor, equivalent_activation_energy, halving_interval
from soakage.physics.humidity import dew_point, dew_point_margin, relative_humidity
from soakage.physics.temperature import (
    BOLTZMANN_EV,
    exponential_factor,
    halving_factor,
    per_10k_factor,
)
from soakage.physics.temperature_tables import composed_factor, table_factor

AIR = st.floats(-40.0, 59.0)
SHARE = st.floats(0.05, 1.0)
NETA_T = np.arange(-10.0, 111.0, 5.0)
# ANSI/NETA ATS-2025 Table 100.14.1, oil and solid (secondary).
OIL = np.array([
    0.125, 0.180, 0.25, 0.36, 0.50, 0.75, 1.00, 1.40, 1.98, 2.80, 3.95, 5.60, 7.85, 11.20, 15.85, 22.40,
    31.75, 44.70, 63.50, 89.789, 127.00, 180.00, 245.00, 359.15, 509.00,
])  # fmt: skip
SOLID = np.array([
    0.25, 0.32, 0.40, 0.50, 0.63, 0.81, 1.00, 1.25, 1.58, 2.00, 2.50, 3.15, 3.98, 5.00, 6.30, 7.90, 10.00,
    12.60, 15.80, 20.00, 25.20, 31.60, 40.00, 50.40, 63.20,
])  # fmt: skip


@given(AIR, SHARE)
def test_dew_point_agrees_with_pvlib(temperature: float, share: float) -> None:
    # pvlib.atmosphere with its default constants, WMO-No. 8.
    assert dew_point(temperature, share) == pytest.approx(tdew_from_rh(temperature, 100 * share), abs=1e-9)


@given(AIR, st.floats(0.1, 30.0))
def test_relative_humidity_agrees_with_pvlib(temperature: float, below: float) -> None:
    dew = temperature - below
    mine = relative_humidity(temperature, dew)
    assert 100 * mine == pytest.approx(rh_from_tdew(temperature, dew), rel=1e-9)


@given(st.floats(1.0, 50.0), st.floats(0.3, 1.0))
def test_dew_point_agrees_with_psychrolib_above_freezing(temperature: float, share: float) -> None:
    # psychrolib follows ASHRAE Fundamentals; below 0 degC it gives the frost point instead.
    psychrolib.SetUnitSystem(psychrolib.SI)
    dew = float(dew_point(temperature, share))
    if dew > 0.5:
        assert dew == pytest.approx(psychrolib.GetTDewPointFromRelHum(temperature, share), abs=0.06)


@given(AIR, SHARE)
def test_humidity_and_dew_point_undo_each_other(temperature: float, share: float) -> None:
    dew = dew_point(temperature, share)
    assert relative_humidity(temperature, min(float(dew), temperature)) == pytest.approx(share, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "kelvins"), (("ALDUCHOV_ESKRIDGE", 0.0105), ("BOLTON", 0.0315), ("OLDER", 0.0595))
)
def test_published_constants_lie_as_close_as_stated(name: str, kelvins: float) -> None:
    constants = getattr(humidity, name)
    upper = min(40.0, constants.upper)
    t, rh = np.meshgrid(np.linspace(0.0, upper, 81), np.linspace(0.3, 1.0, 71))
    apart = np.abs(dew_point(t, rh, constants) - dew_point(t, rh)).max()
    assert apart <= kelvins


def test_a_winding_below_the_dew_point_has_a_negative_margin() -> None:
    assert dew_point_margin(16.0, 25.0, 0.6) < 0 < dew_point_margin(18.0, 25.0, 0.6)


@given(st.floats(-10.0, 110.0))
def test_a_table_is_read_between_its_two_rows(temperature: float) -> None:
    for table in (OIL, SOLID):
        factor = float(table_factor(temperature, NETA_T, table))
        row = int(np.searchsorted(NETA_T, temperature))
        low, high = table[max(row - 1, 0)], table[min(row, table.size - 1)]
        assert low * (1 - 1e-12) <= factor <= high * (1 + 1e-12)


def test_printed_rows_are_returned_as_printed_and_nothing_beyond_them() -> None:
    np.testing.assert_allclose(table_factor(NETA_T, NETA_T, OIL), OIL, rtol=1e-14)
    assert np.isnan(table_factor([-10.01, 110.01], NETA_T, OIL)).all()


def test_the_table_departs_from_the_doubling_rule_as_stated() -> None:
    oil = OIL / halving_factor(NETA_T, 10.0, 20.0) - 1
    assert oil[NETA_T == 15.0] == pytest.approx(0.061, abs=1e-3)
    assert oil[NETA_T == 100.0] == pytest.approx(-0.043, abs=1e-3)
    others = (NETA_T != 15.0) & (NETA_T != 100.0)
    assert np.abs(oil[others]).max() < 0.02
    solid = SOLID / halving_factor(NETA_T, 15.0, 20.0) - 1
    assert solid[NETA_T == 15.0] == pytest.approx(0.021, abs=1e-3)


def test_a_table_that_does_not_rise_is_refused() -> None:
    with pytest.raises(UsageError, match="do not rise"):
        table_factor(20.0, [20.0, 10.0], [1.0, 0.5])


@given(st.floats(-20.0, 120.0), st.floats(-20.0, 120.0), st.floats(5.0, 20.0))
def test_halving_composes_and_reverses(first: float, second: float, interval: float) -> None:
    there, back = halving_factor(first, interval, second), halving_factor(second, interval, first)
    assert there * back == pytest.approx(1.0, rel=1e-12)
    assert halving_factor(first + interval, interval, second) == pytest.approx(2 * there, rel=1e-12)


@given(st.floats(40.0, 85.0))
def test_the_thermosetting_rule_is_an_activation_energy_of_0_36_ev(temperature: float) -> None:
    # IEEE Std 43-2013 (memory): B = 4230 K; it rounds 273.15 to 273, worth less than 0.2 %.
    printed = exponential_factor(temperature, 4230.0)
    energy = 4230.0 * BOLTZMANN_EV
    exact = activation_factor(temperature, energy, 40.0)
    assert energy == pytest.approx(0.36, abs=0.005)
    assert printed == pytest.approx(float(exact), rel=2e-3)


def test_every_rule_is_one_at_its_base_and_nothing_outside_its_range() -> None:
    assert halving_factor(40.0) == 1.0
    assert exponential_factor(40.0, 4230.0) == 1.0
    assert per_10k_factor(20.0) == 1.0
    assert activation_factor(20.0, 1.1) == 1.0
    assert composed_factor(0.0, [1.0, 5.0], [1.04, 1.22]) == 1.0
    for factor in (
        halving_factor(71.0, upper_degC=70.0),
        exponential_factor(39.9, 4230.0, lower_degC=40.0),
        per_10k_factor(9.0, lower_degC=10.0),
        activation_factor(-300.0, 1.1),
    ):
        assert np.isnan(factor)


def test_the_choice_of_rule_decides_a_verdict() -> None:
    # 100 MOhm at 20 degC is 25.0 or 76.2 MOhm at 40 degC (derived).
    assert 100 * halving_factor(20.0) == pytest.approx(25.0)
    assert 100 * exponential_factor(20.0, 1245.0) == pytest.approx(76.2, abs=0.05)


@given(st.floats(5.0, 25.0), st.floats(10.0, 40.0), st.floats(5.0, 40.0))
def test_a_winding_s_own_interval_is_found_back(interval: float, cooler: float, rise: float) -> None:
    warm = 1e9 * 2.0 ** (-rise / interval)
    assert halving_interval(cooler, 1e9, cooler + rise, warm) == pytest.approx(interval, rel=1e-9)


def test_the_equivalent_energy_has_the_slope_of_its_halving_rule() -> None:
    energy = equivalent_activation_energy(45.0, 10.0)
    assert activation_factor(45.05, energy, 44.95) == pytest.approx(
        float(halving_factor(45.05, 10.0, 44.95)), rel=1e-6
    )


@given(st.integers(-60, 60))
def test_composed_rows_stay_near_the_rule_they_print(difference: int) -> None:
    # RD 34.45-51.300-97 (memory): the rows are 1.5^(dT/10) rounded.
    rows, k = [1, 2, 3, 4, 5, 10, 15, 20, 25, 30], [1.04, 1.08, 1.13, 1.17, 1.22, 1.5, 1.84, 2.25, 2.75, 3.40]
    assert composed_factor(difference, rows, k) == pytest.approx(1.5 ** (difference / 10), rel=0.03)
    assert composed_factor(difference, rows, k) * composed_factor(-difference, rows, k) == pytest.approx(1.0)
