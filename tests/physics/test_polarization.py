"""Charge and discharge held against each other, the two-layer circuit as a check from outside the power law."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.errors import UsageError
from soakage.physics.currents import staircase_current
from soakage.physics.discharge_model import dielectric_discharge_model, discharge_check
from soakage.physics.layers import pdc_conductivity, two_layer_discharge_current
from soakage.physics.polarization import material_conductivity, pdc_conductance, polarization_fit
from soakage.physics.responses import Branches, PowerLaw, Response

TIME = np.arange(5.0, 600.0, 5.0)


def pair(law: Response, held: float = 600.0, volts: float = 1000.0) -> tuple[np.ndarray, np.ndarray]:
    charge = staircase_current(law, TIME, [0.0], [volts])
    return charge, staircase_current(law, TIME + held, [0.0, held], [volts, 0.0])


@given(st.floats(0.3, 1.4), st.floats(1e-13, 1e-10))
def test_conduction_comes_back_without_the_residue_of_a_short_charge(n: float, g: float) -> None:
    charge, back = pair(PowerLaw(1e-9, n, g, offset=0.0))
    fit = polarization_fit(TIME, charge, back, 1000.0, 600.0)
    assert fit.absorption_exponent == pytest.approx(n, abs=1e-5)
    assert fit.absorption_coefficient == pytest.approx(1e-9, rel=1e-4)
    assert fit.conductance == pytest.approx(g, rel=2e-3, abs=2e-16)
    plain = (charge[-1] + back[-1]) / 1000.0
    assert plain / g - 1 == pytest.approx(fit.residue_share, rel=1e-2, abs=1e-6)


def test_noise_is_carried_into_the_conductance() -> None:
    random = np.random.default_rng(6)
    charge, back = pair(PowerLaw(1e-9, 0.8, 2e-12, offset=0.0))
    fits = [
        polarization_fit(
            TIME, charge * (1 + 0.01 * random.normal(size=TIME.size)),
            back * (1 + 0.01 * random.normal(size=TIME.size)), 1000.0, 600.0,
        )
        for _ in range(40)
    ]  # fmt: skip
    assert np.mean([fit.conductance for fit in fits]) == pytest.approx(2e-12, rel=0.02)
    assert np.std([fit.conductance for fit in fits]) < 0.05 * 2e-12


def test_at_the_time_of_charging_two_to_the_minus_n_of_the_absorption_is_left() -> None:
    # 57 % at n 0.8 (derived).
    charge, back = pair(PowerLaw(1e-9, 0.8, 0.0, offset=0.0))
    plain = (charge[-1] + back[-1]) / 1000.0 / (1e-9 * TIME[-1] ** -0.8)
    assert plain == pytest.approx((1 + 600 / TIME[-1]) ** -0.8, rel=1e-9)
    assert plain == pytest.approx(0.574, abs=0.003)
    taken_off = pdc_conductance(charge, back, 1000.0, 1e-9, 0.8, TIME, 600.0)
    assert np.abs(taken_off).max() < 1e-18


def test_the_discharge_is_foretold_by_the_charge() -> None:
    _, back = pair(PowerLaw(1e-9, 0.8, 1e-10, offset=0.0))
    linear = discharge_check(TIME, back, 1000.0, 600.0, 1e-9, 0.8)
    assert linear.ratio == pytest.approx(1.0, rel=1e-9)
    assert linear.lower == pytest.approx(linear.upper, rel=1e-9)
    np.testing.assert_allclose(linear.predicted, back, rtol=1e-9)
    # Two layers discharge as one exponential: the ratio runs away over the readings.
    layers = two_layer_discharge_current(TIME, 1000.0, 0.2e-6, 0.2e-6, 0.1e-9, 4e-9, 600.0)
    other = discharge_check(TIME, layers, 1000.0, 600.0, 1e-9, 0.8)
    assert other.upper > 1.5 * other.lower


def test_two_layers_conduct_as_their_series_after_a_long_charge() -> None:
    c, g1, g2 = 0.2e-6, 0.1e-9, 0.4e-9
    # The circuit of two layers is one branch beside its final conductance and series capacitance (derived).
    final, tau = g1 * g2 / (g1 + g2), 2 * c / (g1 + g2)
    share = (c * g2 - c * g1) ** 2 / ((g1 + g2) * (2 * c) ** 2)
    law = Branches([1 / share], [tau * share], final)
    charge, back = pair(law, held=50 * tau)
    np.testing.assert_allclose(-back, two_layer_discharge_current(TIME, 1000.0, c, c, g1, g2), rtol=1e-9)
    np.testing.assert_allclose((charge + back) / 1000.0, final, rtol=1e-9)
    sigma = material_conductivity(final, 1e-9)
    assert pdc_conductivity(charge[0], back[0], 1000.0, 1e-9) == pytest.approx(sigma, rel=1e-9)


def test_no_conduction_is_in_the_foretold_dielectric_discharge() -> None:
    _, back = pair(PowerLaw(1e-9, 0.8, 5e-9, offset=0.0), held=1800.0)
    at = int(np.flatnonzero(TIME == 60.0)[0])
    foretold = dielectric_discharge_model(1e-9, 0.8, 0.5e-6, 1800.0)
    assert foretold == pytest.approx(-back[at] / 1000.0 / 0.5e-6, rel=1e-9)
    assert np.isnan(dielectric_discharge_model(1e-9, 0.8, 0.0, 1800.0))


def test_too_few_readings_are_refused() -> None:
    with pytest.raises(UsageError, match="from 5 common times"):
        polarization_fit(TIME[:4], TIME[:4], TIME[:4], 1000.0, 600.0)
