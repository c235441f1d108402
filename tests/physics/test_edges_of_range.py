"""Where a formula ends: nought, negative, infinite and missing inputs give nothing, never a wrong number."""

from __future__ import annotations

import importlib
import math
from typing import Any

import numpy as np
import pytest

from calls import CALLS
from soakage.errors import UsageError
from soakage.physics.currents import staircase_current
from soakage.physics.discharge import discharge_current
from soakage.physics.network import three_winding_network, two_winding_network
from soakage.physics.ramp import current_at_voltage, fitted_ramp, ramp_capacitance_bound
from soakage.physics.resistance import at_mark
from soakage.physics.responses import Branches
from soakage.physics.steps import step_table
from soakage.physics.temperature_tables import table_factor

NOTHING = math.nan
INF = math.inf
# function, arguments, result: nan is «nothing can be said».
EDGES: tuple[tuple[str, tuple[float, ...], float], ...] = (
    ("resistance.insulation_resistance", (5000.0, 0.0), NOTHING),
    ("resistance.insulation_resistance", (5000.0, -1e-9), NOTHING),
    ("resistance.insulation_resistance", (5000.0, NOTHING), NOTHING),
    ("resistance.insulation_resistance", (NOTHING, 1e-9), NOTHING),
    ("indices.resistance_ratio", (1e9, 0.0), NOTHING),
    ("indices.resistance_ratio", (0.0, 1e9), NOTHING),
    ("indices.resistance_ratio", (-1e9, 1e9), NOTHING),
    ("indices.resistance_ratio", (1e9, -1e9), NOTHING),
    ("indices.dielectric_discharge", (1e-8, 0.0, 1e-7), NOTHING),
    ("indices.dielectric_discharge", (1e-8, 1000.0, 0.0), NOTHING),
    ("indices.dielectric_discharge", (1e-8, 1000.0, -1e-7), NOTHING),
    ("indices.dielectric_discharge", (0.0, 1000.0, 1e-7), 0.0),
    ("linearity.voltage_dependence", (0.0, 1e9), NOTHING),
    ("linearity.voltage_dependence", (1e9, 0.0), NOTHING),
    ("linearity.voltage_dependence", (1e9, 1e9), 0.0),
    ("linearity.nonlinearity_coefficient", (1e-5, 0.0, 1e-6, 1e3), NOTHING),
    ("linearity.nonlinearity_coefficient", (1e-5, 1e4, 0.0, 1e3), NOTHING),
    ("charge.stored_energy", (0.0, 5000.0), 0.0),
    ("charge.stored_energy", (1e-7, -5000.0), 1.25),
    ("charge.stored_charge", (1e-7, 0.0), 0.0),
    ("charge.threshold_capacitance_energy", (0.25, 0.0), NOTHING),
    ("charge.threshold_capacitance_charge", (45e-6, 0.0), NOTHING),
    ("charge.charging_time", (0.0, 5000.0, 1e-3), NOTHING),
    ("charge.charging_time", (1e-6, 0.0, 1e-3), NOTHING),
    ("charge.charging_time", (1e-6, -5000.0, 1e-3), NOTHING),
    ("charge.charging_time", (1e-6, 5000.0, 0.0), NOTHING),
    ("charge.charging_time", (1e-6, 5000.0, -1e-3), NOTHING),
    ("charge.charging_time", (1e-6, 5000.0, 1e-3, -1.0), NOTHING),
    ("charge.charging_time", (1e-6, 5000.0, 1e-3, 0.0, 0.0), NOTHING),
    ("charge.charging_time", (1e-6, 5000.0, 1e-3, 0.0, 1.0), NOTHING),
    ("earthing.minimum_earthing_time", (0.0,), 0.0),
    ("earthing.minimum_earthing_time", (-1.0,), NOTHING),
    ("earthing.minimum_earthing_time", (NOTHING,), NOTHING),
    ("earthing.minimum_earthing_time", (600.0, NOTHING), NOTHING),
    ("earthing.minimum_earthing_time", (600.0, 2400.0), 2400.0),
    ("earthing.minimum_earthing_time", (600.0, 2401.0), 2401.0),
    ("earthing.decay_time", (1e6, 1e-7, 50.0), 0.0),
    ("earthing.decay_time", (1e6, 1e-7, 49.0), 0.0),
    ("earthing.decay_time", (1e6, 1e-7, 0.0), NOTHING),
    ("earthing.decay_time", (1e6, 1e-7, 5000.0, 0.0), NOTHING),
    ("earthing.decay_time", (0.0, 1e-7, 5000.0), NOTHING),
    ("earthing.decay_time", (1e6, 0.0, 5000.0), NOTHING),
    ("earthing.decay_time", (NOTHING, 1e-7, 5000.0), NOTHING),
    ("indirect.self_discharge_resistance", (1e-9, 100.0, 100.0, 10.0), NOTHING),
    ("indirect.self_discharge_resistance", (1e-9, 100.0, 110.0, 10.0), NOTHING),
    ("indirect.self_discharge_resistance", (1e-9, 100.0, 0.0, 10.0), NOTHING),
    ("indirect.voltmeter_resistance", (4e4, 100.0, 100.0), NOTHING),
    ("indirect.voltmeter_resistance", (4e4, 100.0, 110.0), NOTHING),
    ("indirect.series_voltmeter_resistance", (440.0, 0.0, 33e3), NOTHING),
    ("temperature.halving_factor", (40.0,), 1.0),
    ("temperature.halving_factor", (NOTHING,), NOTHING),
    ("temperature.halving_factor", (40.0, 10.0, 40.0, 41.0), NOTHING),
    ("temperature.halving_factor", (40.0, 10.0, 40.0, -INF, 39.0), NOTHING),
    ("temperature.halving_factor", (85.0, 10.0, 40.0, 40.0, 85.0), 22.627416998),
    ("temperature.exponential_factor", (39.999, 4230.0, 40.0, 40.0, 85.0), NOTHING),
    ("temperature.exponential_factor", (85.001, 4230.0, 40.0, 40.0, 85.0), NOTHING),
    ("temperature.exponential_factor", (40.0, 4230.0, 40.0, 40.0, 85.0), 1.0),
    ("temperature.per_10k_factor", (20.0,), 1.0),
    ("energy.activation_factor", (-273.15, 1.0), NOTHING),
    ("energy.activation_factor", (-300.0, 1.0), NOTHING),
    ("energy.halving_interval", (20.0, 1e9, 20.0, 5e8), NOTHING),
    ("energy.halving_interval", (20.0, 1e9, 30.0, 1e9), NOTHING),
    ("energy.halving_interval", (20.0, 1e9, 30.0, 2e9), NOTHING),
    ("energy.halving_interval", (20.0, 0.0, 30.0, 1e9), NOTHING),
    ("humidity.dew_point", (20.0, 0.0), NOTHING),
    ("humidity.dew_point", (20.0, -0.1), NOTHING),
    ("humidity.dew_point", (20.0, 1.001), NOTHING),
    ("humidity.dew_point", (20.0, 1.0), 20.0),
    ("humidity.dew_point", (-45.0, 1.0), -45.0),
    ("humidity.dew_point", (-45.1, 0.5), NOTHING),
    ("humidity.dew_point", (60.0, 1.0), 60.0),
    ("humidity.dew_point", (60.1, 0.5), NOTHING),
    ("humidity.relative_humidity", (20.0, 20.0), 1.0),
    ("humidity.relative_humidity", (20.0, 20.1), NOTHING),
    ("humidity.relative_humidity", (20.0, -243.12), NOTHING),
    ("humidity.dew_point_margin", (20.0, 20.0, 1.0), 0.0),
    ("humidity.dew_point_margin", (20.0, 20.0, 0.0), NOTHING),
    ("cable.cable_resistance", (1e13, 0.0, 0.01, 0.02), NOTHING),
    ("cable.cable_resistance", (1e13, -1.0, 0.01, 0.02), NOTHING),
    ("cable.cable_resistance", (1e13, 100.0, 0.02, 0.02), NOTHING),
    ("cable.cable_resistance", (1e13, 100.0, 0.03, 0.02), NOTHING),
    ("cable.cable_resistance", (1e13, 100.0, 0.0, 0.02), NOTHING),
    ("cable.cable_resistance_from_constant", (6e12, 0.0, 0.01, 0.02), NOTHING),
    ("cable.cable_insulation_thickness", (1e9, 100.0, 0.01, 0.0), NOTHING),
    ("cable.cable_insulation_thickness", (1e9, -100.0, 0.01, 1e13), NOTHING),
    ("cable.cable_insulation_thickness", (1e9, 100.0, 0.0, 1e13), NOTHING),
    ("cable_constants.cable_capacitance", (2.3, 0.0, 0.01, 0.02), NOTHING),
    ("cable_constants.cable_capacitance", (2.3, -1.0, 0.01, 0.02), NOTHING),
    ("cable.cable_resistivity", (1e9, 100.0, 0.02, 0.02), NOTHING),
    ("cable.cable_resistivity", (1e9, 0.0, 0.01, 0.02), NOTHING),
    ("cable_constants.cable_capacitance", (2.3, 100.0, 0.02, 0.02), NOTHING),
    ("cable_constants.cable_capacitance", (2.3, 100.0, 0.0, 0.02), NOTHING),
    ("cable_constants.resistance_length", (1e9, 0.0), NOTHING),
    ("cable_constants.resistance_length", (1e9, -5.0), NOTHING),
    ("memory.residual_share_time", (0.8, 600.0, 1.0), 0.0),
    ("memory.residual_share_time", (0.8, 600.0, 0.01, 0.0), NOTHING),
    ("memory.residual_share_time", (0.8, 600.0, 0.0), NOTHING),
    ("layers.two_layer_discharge_current", (60.0, 1000.0, 2e-7, 2e-7, 1e-10, 1e-10), 0.0),
    ("layers.pdc_conductivity", (5e-9, -1e-9, 0.0, 1e-8), NOTHING),
    ("layers.pdc_conductivity", (5e-9, -1e-9, 1000.0, 0.0), NOTHING),
    ("conformity.conformity_probability", (10.0, 0.0, 9.0), NOTHING),
    ("conformity.conformity_probability", (10.0, -1.0, 9.0), NOTHING),
    ("conformity.conformity_probability", (10.0, 1.0), 1.0),
    ("conformity.conformity_probability", (10.0, 1.0, 10.0), 0.5),
    ("conformity.conformity_probability", (10.0, 1.0, -INF, 10.0), 0.5),
    ("conformity.resistance_conformity_probability", (0.0, 0.1, 1e8), NOTHING),
    ("conformity.resistance_conformity_probability", (1e8, 0.1, 0.0), NOTHING),
    ("conformity.resistance_conformity_probability", (1e8, 0.0, 1e7), NOTHING),
    ("conformity.guard_band", (1.0, 0.0), NOTHING),
    ("conformity.guard_band", (1.0, 1.0), NOTHING),
    ("conformity.guard_band", (1.0, 0.5), 0.0),
    ("conformity.normal_probability", (INF,), 1.0),
    ("conformity.normal_probability", (-INF,), 0.0),
    ("uncertainty.ratio_uncertainty", (0.1, 0.1, 1.0), 0.0),
    ("uncertainty.ratio_uncertainty", (0.1, 0.1, 1.01), NOTHING),
    ("uncertainty.ratio_uncertainty", (0.1, 0.1, -1.01), NOTHING),
    ("uncertainty.product_uncertainty", (0.1, 0.1, -1.0), 0.0),
    ("uncertainty_ratio.resistance_ratio_uncertainty", (0.0, 1e9), NOTHING),
    ("uncertainty_ratio.resistance_ratio_uncertainty", (1e9, -1e9), NOTHING),
    ("uncertainty_ratio.resistance_ratio_uncertainty", (2e9, 1e9), 0.0),
)


def called(name: str, *arguments: Any) -> Any:
    module, short = name.rsplit(".", 1)
    return getattr(importlib.import_module(f"soakage.physics.{module}"), short)(*arguments)


@pytest.mark.parametrize(
    ("name", "arguments", "expected"), EDGES, ids=[f"{n.split('.')[1]}{a}" for n, a, _ in EDGES]
)
def test_an_edge(name: str, arguments: tuple[float, ...], expected: float) -> None:
    found = float(called(name, *arguments))
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-12, nan_ok=True)
    batch = np.asarray(called(name, *([value] * 2 for value in arguments)))
    np.testing.assert_allclose(batch, [expected, expected], rtol=1e-9, atol=1e-12)


# Which way a result goes when one argument grows and the others stay: +1 up, -1 down (derived).
WAYS: tuple[tuple[str, str, int], ...] = (
    ("resistance.insulation_resistance", "test_voltage", 1),
    ("resistance.insulation_resistance", "current", -1),
    ("indices.resistance_ratio", "later", 1),
    ("indices.resistance_ratio", "earlier", -1),
    ("linearity.voltage_dependence", "last", -1),
    ("absorption.absorption_ratio_model", "conduction_share_60s", -1),
    ("charge.stored_energy", "test_voltage", 1),
    ("charge.charging_time", "capacitance", 1),
    ("charge.charging_time", "current_limit", -1),
    ("charge.charging_time", "within", -1),
    ("earthing.minimum_earthing_time", "residual_share_time", 1),
    ("earthing.decay_time", "test_voltage", 1),
    ("earthing.decay_time", "end_voltage", -1),
    ("memory.residual_current_share", "held", 1),
    ("memory.residual_current_share", "earthed", -1),
    ("memory.residual_share_time", "held", 1),
    ("memory.residual_share_time", "share", -1),
    ("memory.residual_share_time", "absorption_exponent", -1),
    ("temperature.halving_factor", "winding_temperature_degC", 1),
    ("temperature.halving_factor", "base_temperature_degC", -1),
    ("temperature.exponential_factor", "winding_temperature_degC", 1),
    ("temperature.per_10k_factor", "winding_temperature_degC", 1),
    ("energy.activation_factor", "winding_temperature_degC", 1),
    ("humidity.dew_point", "relative_humidity", 1),
    ("humidity.dew_point", "ambient_temperature_degC", 1),
    ("humidity.relative_humidity", "ambient_temperature_degC", -1),
    ("humidity.dew_point_margin", "winding_temperature_degC", 1),
    ("humidity.dew_point_margin", "relative_humidity", -1),
    ("cable.cable_resistance", "length", -1),
    ("cable.cable_resistance", "insulation_diameter", 1),
    ("cable.cable_resistance", "conductor_diameter", -1),
    ("cable.cable_insulation_thickness", "insulation_resistance", 1),
    ("cable_constants.cable_capacitance", "insulation_diameter", -1),
    ("uncertainty.corrected_uncertainty", "temperature_uncertainty", 1),
    ("uncertainty.ratio_uncertainty", "correlation", -1),
    ("uncertainty.product_uncertainty", "correlation", 1),
    ("conformity.resistance_conformity_probability", "insulation_resistance", 1),
    ("conformity.resistance_conformity_probability", "minimum", -1),
    ("conformity.guard_band", "probability", 1),
)
EXAMPLES = dict(CALLS)


@pytest.mark.parametrize(("name", "argument", "way"), WAYS, ids=[f"{n}-{a}" for n, a, _ in WAYS])
def test_the_way_a_result_goes(name: str, argument: str, way: int) -> None:
    inputs = EXAMPLES[name]
    low, high = min(inputs[argument]), max(inputs[argument])
    grid = np.linspace(low, high, 41) if high > low else np.linspace(low / 2, low * 2, 41)
    others = {key: value[1] for key, value in inputs.items() if key != argument}
    module, short = name.rsplit(".", 1)
    function = getattr(importlib.import_module(f"soakage.physics.{module}"), short)
    found = np.asarray(function(**{argument: grid}, **others))
    moves = np.diff(found[np.isfinite(found)])
    assert (way * moves >= -1e-12 * np.nanmax(np.abs(found))).all()
    assert (way * moves > 0).any()


# ---- functions of whole records ---------------------------------------------------------------------------
@pytest.mark.parametrize("mark", (-1.0, 0.0, 14.9, 600.1, math.nan, math.inf))
def test_no_value_at_a_mark_outside_the_readings(mark: float) -> None:
    found = at_mark([15.0, 60.0, 600.0], [1e9, 2e9, 4e9], [mark])
    assert np.isnan(found.value[0])
    assert found.bound[0] == 0


@pytest.mark.parametrize(("bound", "kind"), (((1, 1, 1), 1), ((-1, -1, -1), -1), ((0, 0, 0), 0)))
def test_a_mark_takes_the_bound_of_its_readings(bound: tuple[int, ...], kind: int) -> None:
    found = at_mark([15.0, 60.0, 600.0], [1e9, 2e9, 4e9], [60.0, 300.0], np.array(bound, np.int8))
    assert found.bound.tolist() == [kind, kind]
    assert found.value[0] == pytest.approx(2e9)


def test_one_reading_is_its_own_mark() -> None:
    assert at_mark([60.0], [2e9], [60.0]).value[0] == 2e9
    assert np.isnan(at_mark([60.0], [2e9], [30.0]).value[0])


@pytest.mark.parametrize("volts", ([math.nan] * 4, [math.nan, 5.0, math.nan, math.nan]))
def test_a_ramp_of_fewer_than_two_readings_has_no_rate(volts: list[float]) -> None:
    assert np.isnan(fitted_ramp([0.0, 1.0, 2.0, 3.0], volts).rate)


def test_a_level_beyond_the_ramp_has_no_current() -> None:
    found = np.asarray(
        current_at_voltage([0.0, 60.0, 120.0], [0.0, 1e3, 2e3], [0.0, 1e-6, 3e-6], [2001.0, -1.0])
    )
    assert np.isnan(found).all()


@pytest.mark.parametrize("rate", (0.0, math.nan))
def test_a_ramp_that_does_not_rise_bounds_no_capacitance(rate: float) -> None:
    found = ramp_capacitance_bound([100.0, 5000.0, 10000.0], [2e-6, 6e-6, 7e-6], rate)
    assert np.isnan(found.value).all()


@pytest.mark.parametrize("started", (1e6, math.nan))
def test_no_discharge_current_before_the_discharge(started: float) -> None:
    found = discharge_current([1799.0, 1860.0, 1900.0], [1e-6, -4e-8, -3e-8], started)
    assert np.isnan(found.value)


@pytest.mark.parametrize("count", (0, 1, 2, 4))
def test_a_network_of_too_few_or_many_readings_is_refused(count: int) -> None:
    with pytest.raises(UsageError, match="readings H, L, HL"):
        two_winding_network([1e9] * count)
    with pytest.raises(UsageError, match="HLT"):
        three_winding_network([1e9] * count)


@pytest.mark.parametrize("reading", (0.0, -1e9, math.nan))
def test_a_network_with_a_reading_that_is_none_resolves_nothing(reading: float) -> None:
    found = two_winding_network([1e9, reading, 1e9])
    assert not found.resolved.any()
    assert np.isnan(found.resistance).all()


@pytest.mark.parametrize("rows", ([20.0, 20.0], [30.0, 20.0], [10.0, 30.0, 20.0]))
def test_rows_that_do_not_rise_are_refused(rows: list[float]) -> None:
    with pytest.raises(UsageError, match="do not rise"):
        table_factor(20.0, rows, [1.0] * len(rows))


@pytest.mark.parametrize(("edges", "levels"), (([0.0], [1.0, 2.0]), ([0.0, 60.0], [1.0]), ([[0.0]], [[1.0]])))
def test_a_staircase_of_another_shape_is_refused(edges: list[Any], levels: list[Any]) -> None:
    with pytest.raises(UsageError, match="one level per edge"):
        staircase_current(Branches([1e9], [1e-9]), [1.0], edges, levels)


def test_before_the_first_edge_there_is_no_current() -> None:
    found = staircase_current(Branches([1e9], [1e-9], 1e-9), [1.0, 5.0, 9.0, 11.0], [10.0], [1000.0])
    assert found[:3].tolist() == [0.0, 0.0, 0.0]
    assert found[3] > 0


@pytest.mark.parametrize(
    ("time", "volts", "words"),
    (
        ([60.0, 120.0, 180.0], [0.0, 0.0, 0.0], "carries a voltage"),
        ([60.0, 120.0, 180.0], [math.nan] * 3, "carries a voltage"),
        ([60.0, 60.0, 180.0], [1e3, 2e3, 3e3], "do not rise"),
        ([60.0, 180.0, 120.0], [1e3, 2e3, 3e3], "do not rise"),
    ),
)
def test_a_record_that_has_no_levels_is_refused(time: list[float], volts: list[float], words: str) -> None:
    with pytest.raises(UsageError, match=words):
        step_table(time, volts, [1e-6, 1e-6, 1e-6])
