"""Every formula of the catalogue in other base units: a result that depends on the unit is wrong."""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.physics.formula import Formula, Input, catalogue

# Exponents of volt, ampere, second, metre, kelvin in each unit of the catalogue (SI brochure, from memory).
UNITS: dict[str, tuple[float, ...]] = {
    "1": (0, 0, 0, 0, 0), "V": (1, 0, 0, 0, 0), "A": (0, 1, 0, 0, 0), "s": (0, 0, 1, 0, 0),
    "m": (0, 0, 0, 1, 0), "K": (0, 0, 0, 0, 1), "1/K": (0, 0, 0, 0, -1), "ohm": (1, -1, 0, 0, 0),
    "S": (-1, 1, 0, 0, 0), "F": (-1, 1, 1, 0, 0), "C": (0, 1, 1, 0, 0), "J": (1, 1, 1, 0, 0),
    "V/s": (1, 0, -1, 0, 0), "ohm m": (1, -1, 0, 1, 0), "S/m": (-1, 1, 0, -1, 0), "A/(V F)": (0, 0, -1, 0, 0),
}  # fmt: skip
# Not in these units: a temperature on a scale, an energy per molecule, a coefficient whose unit hangs on
# its exponent (held below), constants of nature that carry farads and metres, a share taken at 60 s.
ON_A_SCALE = {"degC", "eV"}
CARRIES_A_CONSTANT = {"pdc_conductivity", "cable_capacitance", "absorption_ratio_model"}
HOMOGENEOUS = tuple(
    sorted(
        name
        for name, entry in catalogue().items()
        if not {entry.unit, *(i.unit for i in entry.inputs)} & {*ON_A_SCALE, "S s^n"}
        and name not in CARRIES_A_CONSTANT
    )
)
SCALES = (
    (2.0, 1.0, 1.0, 1.0, 1.0), (1.0, 0.5, 1.0, 1.0, 1.0), (1.0, 1.0, 60.0, 1.0, 1.0), (1.0, 1.0, 1.0, 0.3048, 1.0),
    (1.0, 1.0, 1.0, 1.0, 1.8), (1e3, 1e-6, 3600.0, 1e-3, 0.1), (1e-3, 1e3, 1e-3, 1e3, 10.0),
)  # fmt: skip


def size(unit: str, scales: tuple[float, ...]) -> float:
    return float(math.prod(scale**power for scale, power in zip(scales, UNITS[unit], strict=True)))


def figure(entry: Input, text: str | None) -> float:
    """Return an input of the example in SI: read by hand, apart from the reader the example is given to."""
    if text is None:
        assert entry.default is not None
        return entry.default
    match = re.fullmatch(r"([+-]?[0-9.]+(?:e[+-]?\d+)?)\s*(.*)", text)
    assert match is not None, text
    return float(match[1]) * PREFIXED[match[2]]


PREFIXED = {
    "": 1.0, "V": 1.0, "kV": 1e3, "A": 1.0, "mA": 1e-3, "uA": 1e-6, "nA": 1e-9, "pA": 1e-12, "s": 1.0,
    "min": 60.0, "m": 1.0, "km": 1e3, "cm": 1e-2, "mm": 1e-3, "ft": 0.3048, "F": 1.0, "uF": 1e-6, "nF": 1e-9,
    "pF": 1e-12, "S": 1.0, "nS": 1e-9, "pS": 1e-12, "Ohm": 1.0, "ohm": 1.0, "kOhm": 1e3, "MOhm": 1e6,
    "GOhm": 1e9, "TOhm": 1e12, "J": 1.0, "C": 1.0, "uC": 1e-6, "%": 1e-2, "V/s": 1.0, "kV/min": 1000 / 60,
    "Ohm m": 1.0, "ohm m": 1.0, "K": 1.0, "Ohm*m": 1.0, "GOhm m": 1e9, "TOhm m": 1e12, "Ohm cm": 1e-2,
    "1/K": 1.0,
}  # fmt: skip


def called(entry: Formula, values: dict[str, float]) -> float:
    """Call a formula with its inputs; those that share a parameter are stacked on the last axis."""
    arguments: dict[str, Any] = {}
    for item in entry.inputs:
        parameter = item.parameter or item.name
        arguments.setdefault(parameter, []).append(values[item.name])
    shared = [item.parameter for item in entry.inputs if item.parameter]
    plain = {
        name: np.array(found) if shared.count(name) > 1 else found[0] for name, found in arguments.items()
    }
    result = np.asarray(entry.function(**plain), dtype=float)
    return float(result.reshape(-1)[0]) if result.ndim else float(result)


def example(entry: Formula) -> dict[str, float]:
    return {item.name: figure(item, entry.example.inputs.get(item.name)) for item in entry.inputs}


@pytest.mark.parametrize("name", HOMOGENEOUS)
def test_the_example_worked_by_hand(name: str) -> None:
    entry = catalogue()[name]
    assert called(entry, example(entry)) == pytest.approx(
        entry.example.expected, rel=entry.example.tolerance, abs=1e-300
    )


@pytest.mark.parametrize("name", HOMOGENEOUS)
@pytest.mark.parametrize("scales", SCALES)
def test_the_result_does_not_hang_on_the_units(name: str, scales: tuple[float, ...]) -> None:
    entry = catalogue()[name]
    values = example(entry)
    scaled = {item.name: values[item.name] * size(item.unit, scales) for item in entry.inputs}
    there = called(entry, scaled) / size(entry.unit, scales)
    assert there == pytest.approx(called(entry, values), rel=1e-9)


def test_most_of_the_catalogue_is_held_so() -> None:
    assert len(HOMOGENEOUS) >= 35
    assert set(catalogue()) >= CARRIES_A_CONSTANT


@pytest.mark.parametrize("n", (0.4, 0.8, 1.0, 1.2))
@given(scale=st.sampled_from((1e-3, 0.1, 10.0, 60.0)))
def test_a_power_law_in_another_unit_of_time(n: float, scale: float) -> None:
    # A in S s^n: in a unit of time of `scale` seconds the figure of A falls by scale^-n, that of a time by
    # 1/scale; the current in ampere stays.
    entry = catalogue()["step_current"]
    values = example(entry) | {"absorption_exponent": n, "offset": 0.02}
    other = values | {
        "time": values["time"] * scale,
        "offset": values["offset"] * scale,
        "absorption_coefficient": values["absorption_coefficient"] * scale**n,
        "capacitance": values["capacitance"] * scale,
    }
    assert called(entry, other) == pytest.approx(called(entry, values), rel=1e-9)


@pytest.mark.parametrize("name", ("residual_current_share", "residual_share_time"))
@given(scale=st.floats(1e-2, 1e2), n=st.floats(0.4, 1.2))
def test_memory_hangs_on_ratios_of_times_only(name: str, scale: float, n: float) -> None:
    entry = catalogue()[name]
    values = example(entry) | {"absorption_exponent": n}
    other = {item.name: values[item.name] * (scale if item.unit == "s" else 1.0) for item in entry.inputs}
    expected = called(entry, values) * (scale if entry.unit == "s" else 1.0)
    assert called(entry, other) == pytest.approx(expected, rel=1e-6)
