"""Charge, energy, time and earthing of a plan against the circuit they stand for."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import epsilon_0
from scipy.integrate import quad

from soakage.app.plan_charging import (
    CHARGE_TIME,
    STEPS,
    USUAL_RATE,
    charging,
    earthing,
    from_geometry,
    time_under_voltage,
)
from soakage.methods import method, methods
from soakage.methods.base import Shape
from soakage.model.asset import Asset
from soakage.physics.memory import residual_current_share
from soakage.standards.library import library

FARADS = st.floats(1e-11, 1e-4)
VOLTS = st.floats(50.0, 6e4)
AMPERES = st.floats(1e-5, 0.1)


@given(FARADS, VOLTS)
def test_charge_and_energy_are_those_of_a_capacitor(farads: float, volts: float) -> None:
    found = charging(volts, capacitance=farads)
    assert found.charge == pytest.approx(quad(lambda _: farads, 0.0, volts)[0], rel=1e-9)
    assert found.energy == pytest.approx(quad(lambda v: farads * v, 0.0, volts)[0], rel=1e-9)
    assert (found.time, found.current) == (None, None)


@given(FARADS, VOLTS, AMPERES)
def test_the_time_is_that_of_a_constant_current(farads: float, volts: float, amperes: float) -> None:
    found = charging(volts, capacitance=farads, current_limit=amperes)
    assert found.current == amperes
    # Within 1 % of the voltage: 99 % of the charge has flowed (derived).
    assert found.time is not None
    assert found.time * amperes == pytest.approx(0.99 * farads * volts, rel=1e-9)


@given(FARADS, VOLTS, st.floats(1.0, 200.0))
def test_the_current_of_a_ramp_brings_the_whole_charge(farads: float, volts: float, rate: float) -> None:
    found = charging(volts, capacitance=farads, ramp_rate=rate)
    assert found.time == pytest.approx(volts / rate)
    assert found.current is not None
    assert found.time is not None
    assert found.charge == pytest.approx(found.current * found.time, rel=1e-9)


# Capacitance that reaches a threshold at a voltage (derived from E = C U^2/2 and Q = C U).
@pytest.mark.parametrize(
    ("volts", "farads", "joules", "coulombs"),
    (
        (500.0, 2.8e-6, 0.35, 1.4e-3),
        (1000.0, 500e-9, 0.25, 500e-6),
        (2500.0, 112e-9, 0.35, 280e-6),
        (5000.0, 9e-9, 0.1125, 45e-6),
        (10000.0, 200e-9, 10.0, 2e-3),
        (15000.0, 3e-9, 0.3375, 45e-6),
    ),
)
def test_thresholds(volts: float, farads: float, joules: float, coulombs: float) -> None:
    found = charging(volts, capacitance=farads)
    assert found.energy == pytest.approx(joules, rel=1e-6)
    assert found.charge == pytest.approx(coulombs, rel=1e-6)


@pytest.mark.parametrize(
    ("volts", "farads", "rate", "words"),
    (
        (5000.0, None, None, ("t = C V / I", "capacitance not known")),
        (None, 1e-6, None, ("t = C V / I", "test voltage not known")),
        (None, None, None, ("t = C V / I", "capacitance not known")),
        (5000.0, None, 16.7, ("I = C dV/dt", "capacitance not known")),
        (None, 1e-6, 16.7, ("I = C dV/dt", "test voltage not known")),
    ),
)
def test_without_a_figure_the_formula_stands(
    volts: float | None, farads: float | None, rate: float | None, words: tuple[str, ...]
) -> None:
    found = charging(volts, capacitance=farads, ramp_rate=rate, current_limit=3e-3)
    assert all(word in found.text for word in words)
    assert (found.charge, found.energy, found.current, found.time) == (None,) * 4
    assert not re.search(r"\d", found.text), "no typical figure is made up"
    assert found.capacitance == farads


def test_the_source_of_a_capacitance_is_said() -> None:
    found = charging(5000.0, capacitance=88e-9, source="measured on 3 March", current_limit=3e-3)
    plain = found.text.replace("\u00a0", " ")
    for words in ("88 nF", "measured on 3 March", "5 kV", "440 µC", "1.10 J", "3 mA", "0.15 s"):
        assert words in plain


@given(st.floats(1.0, 10.0), st.floats(1.0, 1e4), st.floats(1e-3, 0.05), st.floats(1.05, 5.0))
def test_the_capacitance_of_a_core_is_the_field_s(
    permittivity: float, length: float, inner: float, ratio: float
) -> None:
    asset = Asset(
        asset_class="cable", length=length, conductor_diameter=inner, insulation_diameter=inner * ratio
    )
    # Voltage between the conductors for one coulomb: the integral of the radial field.
    volts = quad(
        lambda r: 1 / (2 * math.pi * epsilon_0 * permittivity * length * r), inner / 2, inner * ratio / 2
    )[0]
    assert from_geometry(asset, permittivity) == pytest.approx(1 / volts, rel=1e-6)


@pytest.mark.parametrize("lacking", ("length", "conductor_diameter", "insulation_diameter", "permittivity"))
def test_no_capacitance_from_half_a_geometry(lacking: str) -> None:
    stated = {"length": 100.0, "conductor_diameter": 0.01, "insulation_diameter": 0.02}
    asset = Asset(**{key: value for key, value in stated.items() if key != lacking})  # type: ignore[arg-type]
    assert from_geometry(asset, None if lacking == "permittivity" else 2.3) is None


@pytest.mark.parametrize("outer", (0.01, 0.005, 0.0))
def test_diameters_that_do_not_fit_give_nothing(outer: float) -> None:
    asset = Asset(length=100.0, conductor_diameter=0.01, insulation_diameter=outer)
    assert from_geometry(asset, 2.3) is None


# ---- time under voltage, and earthing ---------------------------------------------------------------------
@pytest.mark.parametrize(
    ("name", "seconds"),
    (
        ("insulation-resistance", 60.0),
        ("timed-insulation-resistance", 120.0),
        ("dielectric-absorption-ratio", 60.0),
        ("polarization-index", 600.0),
        ("dielectric-discharge", 1800.0),  # usually 30 min (common practice)
        ("step-voltage", 300.0),
        ("terminal-set", 60.0),
        ("circuit", 60.0),
        ("cable-core", 60.0),
        ("cable-sheath", 60.0),
        ("ramp", 60.0),  # its top not known
    ),
)
def test_how_long_a_test_keeps_its_voltage_on(name: str, seconds: float) -> None:
    assert time_under_voltage(method(name), library(), None) == seconds


@given(VOLTS)
def test_a_ramp_takes_the_time_of_its_rise(volts: float) -> None:
    assert time_under_voltage(method("ramp"), library(), volts) == pytest.approx(volts * 60 / 1000)


def test_the_charge_before_a_discharge_is_the_one_of_the_files() -> None:
    assert library().thresholds[CHARGE_TIME].value == 1800.0
    assert method("dielectric-discharge").shape is Shape.DISCHARGE
    assert STEPS * 60.0 == 300.0
    assert pytest.approx(1000.0) == USUAL_RATE * 60


@given(st.floats(1.0, 1e5))
def test_earthing_is_at_least_four_times(held: float) -> None:
    found = earthing(held, library())
    assert found.time == pytest.approx(4 * held)
    assert found.under_voltage == held
    assert "4 times" in found.text
    assert found.verified == "memory"


@given(st.floats(60.0, 1e4), st.floats(0.4, 1.2))
def test_a_known_exponent_lengthens_it_until_one_percent_is_left(held: float, exponent: float) -> None:
    found = earthing(held, library(), exponent=exponent)
    assert found.time >= 4 * held * (1 - 1e-12)
    left = float(residual_current_share(exponent, held, found.time))
    assert left <= 0.01 * (1 + 1e-6)
    if found.time > 4 * held * (1 + 1e-9):
        assert left == pytest.approx(0.01, rel=1e-3)
        assert found.verified == "derived"
        assert "1 %" in found.text.replace("\u00a0", " ")


@pytest.mark.parametrize("exponent", (None, 0.0))
def test_without_an_exponent_only_the_multiple_counts(exponent: float | None) -> None:
    assert earthing(600.0, library(), exponent=exponent).time == 2400.0


@pytest.mark.parametrize("name", sorted(methods()))
def test_a_later_earth_is_never_shorter_for_more_voltage(name: str) -> None:
    times = [time_under_voltage(method(name), library(), volts) for volts in (1e3, 5e3, 2e4)]
    assert times == sorted(times)
