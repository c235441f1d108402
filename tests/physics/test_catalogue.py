"""Every formula's own example gives its printed figure, through the same door ``explain`` uses."""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from soakage.errors import DiscoveryError, UsageError, ValidityError
from soakage.physics import formula as cards
from soakage.physics.formula import Example, Formula, Input, catalogue
from soakage.units import celsius, parse

DIMENSION = {
    "V": "voltage",
    "A": "current",
    "ohm": "resistance",
    "F": "capacitance",
    "s": "time",
    "degC": "temperature",
    "K": "temperature_difference",
    "1": "ratio",
    "J": "energy",
    "C": "charge",
    "S": "conductance",
    "V/s": "ramp_rate",
    "A/(V F)": "dielectric_discharge",
    "ohm m": "resistivity",
    "m": "length",
}
# Units with no spelling of their own in the table of units: given as bare numbers in SI.
BARE = {"S s^n", "S/m", "eV", "1/K"}


def si(text: str, unit: str) -> float:
    if unit in BARE:
        return float(text)
    if text.endswith(" K") and unit == "K":
        return float(text.removesuffix(" K"))
    value = parse(text, DIMENSION[unit]).value
    return celsius(value) if unit == "degC" else value


def worked(card: Formula) -> float:
    units = {entry.name: entry.unit for entry in card.inputs}
    return card.compute(**{name: si(text, units[name]) for name, text in card.example.inputs.items()})


@pytest.mark.parametrize("id_", catalogue())
def test_the_example_gives_its_figure(id_: str) -> None:
    card = catalogue()[id_]
    expected = card.example.expected
    relative = card.example.tolerance * abs(expected) if expected else card.example.tolerance
    assert abs(worked(card) - expected) <= relative


@pytest.mark.parametrize("id_", catalogue())
def test_every_card_is_whole(id_: str) -> None:
    card = catalogue()[id_]
    assert all((card.name, card.expression, card.source, card.example.source, card.unit))
    assert any(card.example.source.endswith(status) for status in cards.STATUSES)
    accepted = set(inspect.signature(card.function).parameters)
    assert {entry.argument for entry in card.inputs} <= accepted
    for entry in card.inputs:
        assert entry.unit in DIMENSION or entry.unit in BARE
        assert entry.definition


@pytest.mark.parametrize("id_", catalogue())
def test_a_default_on_the_card_is_the_function_s_own(id_: str) -> None:
    card = catalogue()[id_]
    parameters = inspect.signature(card.function).parameters
    for entry in card.inputs:
        default = parameters[entry.argument].default
        if entry.default is None:
            assert default is inspect.Parameter.empty
        else:
            assert entry.default == default


def test_quantities_that_are_computed_by_one_formula_are_in_the_catalogue() -> None:
    computed = {
        "insulation_resistance", "dielectric_absorption_ratio", "absorption_ratio_60_15",
        "polarization_index", "dielectric_discharge", "apparent_capacitance", "conduction_current",
        "absorption_exponent", "voltage_dependence", "phase_spread", "dew_point", "stored_energy",
        "earthing_time", "resistance_length",
    }  # fmt: skip
    assert computed <= catalogue().keys()


def test_no_function_is_wrapped() -> None:
    for card in catalogue().values():
        assert not hasattr(card.function, "__wrapped__")
        assert card.function.__module__ in cards.MODULES


def card_of(function: Callable[..., Any], id_: str = "doubled", verified: str = "derived") -> Formula:
    return Formula(
        id_, "Twice", "2 x", (Input("x", "1", "A number"), Input("y", "1", "Another", default=1.0)), "1",
        "arithmetic", verified, Example({"x": "1"}, 2.0, 0.0, "derived"), function, "x above 0",
    )  # fmt: skip


def test_wrong_and_missing_inputs_are_all_named_at_once() -> None:
    card = card_of(lambda x, y=1.0: 2 * x * y)
    with pytest.raises(UsageError, match=r"missing: x; not an input: a, b.*x \[1\], y \[1\]"):
        card.compute(a=1.0, b=2.0)
    assert card.compute(x=2.0) == 4.0
    assert card.compute(x=2.0, y=3.0) == 12.0


def test_a_formula_without_a_value_there_says_where_it_holds() -> None:
    card = card_of(lambda x, y=1.0: math.nan * x * y)
    with pytest.raises(ValidityError, match="x above 0"):
        card.compute(x=-1.0)


def test_inputs_that_share_a_parameter_are_stacked_on_the_last_axis() -> None:
    inputs = tuple(Input(f"x{k}", "1", "A number", "a") for k in (1, 2, 3))
    card = Formula("sum", "Sum", "x1 + x2 + x3", inputs, "1", "arithmetic", "derived",
                   Example({}, 0.0, 0.0, "derived"), np.sum)  # fmt: skip
    assert card.compute(x1=1.0, x2=2.0, x3=4.0) == 7.0


def test_a_status_that_does_not_exist_is_refused() -> None:
    with pytest.raises(DiscoveryError, match="verified='heard'"):
        card_of(lambda x: x, verified="heard")


def test_two_formulas_of_one_id_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    from soakage.physics import charge

    def impostor(x: float) -> float:
        return x

    impostor.__module__ = charge.__name__
    monkeypatch.setattr(charge, "IMPOSTOR", card_of(impostor, "stored_energy"), raising=False)
    with pytest.raises(DiscoveryError, match=r"'stored_energy' is declared by .*another id"):
        catalogue()
