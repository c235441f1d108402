"""The named formulas of criteria, held against worked values and against the formulas' own algebra."""

from __future__ import annotations

import inspect
import math

import pytest

from soakage.errors import StandardDataError, ValidityError
from soakage.model.keys import KEYS
from soakage.standards.formulas import FORMULAS
from soakage.standards.library import library
from soakage.standards.parsing import DERIVED_DIMENSIONS

FOOT = 0.3048  # m, exact by definition (NIST SP 811, from memory)
MEGOHM = 1e6


def limit(formula: str, coefficients: dict[str, float], **inputs: float) -> float:
    return FORMULAS[formula].limit(inputs, coefficients)


# C E / sqrt(kVA): P. Gill, Electrical Power Equipment Maintenance and Testing, transformer chapter (memory);
# the numbers are arithmetic on it (derived).
@pytest.mark.parametrize(
    ("volts", "voltamperes", "constant", "megohms"),
    (
        (12_470.0, 1e6, 0.8, 315.5),
        (12_470.0, 1e6, 1.5, 591.5),
        (69e3, 10e6, 0.8, 552.0),
        (69e3 / math.sqrt(3), 10e6, 0.8, 318.7),
        (480.0, 150e3, 16.0, 627.1),
        (480.0, 150e3, 30.0, 1175.8),
    ),
)
def test_transformer_minimum(volts: float, voltamperes: float, constant: float, megohms: float) -> None:
    found = limit(
        "transformer-minimum", {"C": constant}, phase_voltage=volts, tested_winding_power=voltamperes
    )
    assert found / MEGOHM == pytest.approx(megohms, abs=0.05)


def test_the_two_sets_of_constants_differ_by_one_factor() -> None:
    # common practice in two textbooks, memory: 1.5 / 0.8 = 30 / 16 = 1.875
    criteria = library().criteria
    for filling in ("liquid-filled", "dry"):
        newer = criteria[f"transformer-formula.minimum-resistance.{filling}"].coefficients["C"]
        older = criteria[f"transformer-formula.minimum-resistance-older.{filling}"].coefficients["C"]
        assert older / newer == pytest.approx(1.875)


# RD 34.45-51.300-97, U / (1000 + 0.01 S) MOhm, U in V, S in kVA (memory).
@pytest.mark.parametrize(
    ("volts", "kilovoltamperes", "megohms"),
    ((10_500.0, 50_000.0, 10_500 / 1500), (6300.0, 0.001, 6.3), (20_000.0, 588_000.0, 20_000 / 6880)),
)
def test_machine_minimum_by_voltage_and_power(volts: float, kilovoltamperes: float, megohms: float) -> None:
    found = limit(
        "machine-voltage-over-power",
        {"base": 1000.0, "per_kva": 0.01},
        rated_voltage=volts,
        rated_power=kilovoltamperes * 1e3,
    )
    assert found / MEGOHM == pytest.approx(megohms, rel=1e-6)


def test_the_old_rule_and_the_norm_are_one_formula() -> None:
    # old AIEE rule V / (kVA/100 + 1000) (memory) and RD 34.45 U / (1000 + 0.01 S) (memory): the same numbers
    criteria = library().criteria
    assert (
        criteria["aiee-rule.minimum-resistance.formula"].coefficients
        == criteria["rd-34-45-1997.machine-minimum.formula"].coefficients
        == {"base": 1000.0, "per_kva": 0.01}
    )


# UFGS 33 71 02: (kV + 1) 1000 / L(ft) = (kV + 1) 304 800 / L(mm) (memory).
@pytest.mark.parametrize(
    ("kilovolts", "feet", "megohms"), ((15.0, 2000.0, 8.0), (15.0, 1000.0, 16.0), (5.0, 500.0, 12.0))
)
def test_cable_minimum_by_length(kilovolts: float, feet: float, megohms: float) -> None:
    found = limit(
        "cable-length-minimum",
        {"added_kv": 1.0, "feet": 1000.0},
        rated_voltage=kilovolts * 1e3,
        length=feet * FOOT,
    )
    assert found / MEGOHM == pytest.approx(megohms)
    millimetres = feet * FOOT * 1e3
    assert found / MEGOHM == pytest.approx((kilovolts + 1) * 304_800 / millimetres)


# ICEA: K 20 000, D/d = 0.9/0.5, 2 500 ft: 5 105.45 MOhm 1000 ft, 2 042.18 MOhm (memory, numbers derived).
def test_insulation_constant() -> None:
    shape = {"insulation_diameter": 0.9 * 0.0254, "conductor_diameter": 0.5 * 0.0254}
    assert limit("insulation-constant-minimum", {"K": 20_000.0}, **shape, length=1000 * FOOT) / MEGOHM == (
        pytest.approx(5105.45, abs=0.005)
    )
    assert limit("insulation-constant-minimum", {"K": 20_000.0}, **shape, length=2500 * FOOT) / MEGOHM == (
        pytest.approx(2042.18, abs=0.005)
    )


def test_insulation_constant_of_a_15_kv_cable_of_2000_ft() -> None:
    # K 20 000, D/d 1.8: 2 553 MOhm (derived), beside 8 MOhm by length and 5 000 MOhm by NETA Table 100.1
    found = limit(
        "insulation-constant-minimum",
        {"K": 20_000.0},
        insulation_diameter=0.018,
        conductor_diameter=0.010,
        length=2000 * FOOT,
    )
    assert found / MEGOHM == pytest.approx(2553, abs=0.5)


def test_the_two_insulation_constants_are_one_physics() -> None:
    # 1 MOhm 1000 ft = 0.3048 MOhm km (derived)
    shape = {"insulation_diameter": 0.02, "conductor_diameter": 0.01, "length": 777.0}
    in_feet = limit("insulation-constant-minimum", {"K": 1000.0}, **shape)
    in_kilometres = limit("insulation-constant-km-minimum", {"Ki": 304.8}, **shape)
    assert in_feet == pytest.approx(in_kilometres)


def test_ki_is_the_resistivity_formula() -> None:
    # IEC 60502-1: rho = 2 pi l R / ln(D/d), Ki = 0.367e-11 rho (ohm cm) (memory; constant derived)
    resistivity = 1e13  # ohm cm: PVC/A at 20 degC, Table 13
    found = limit(
        "insulation-constant-km-minimum",
        {"Ki": 36.7},
        insulation_diameter=0.010,
        conductor_diameter=0.005,
        length=500.0,
    )
    exact = resistivity * 1e-2 * math.log(2) / (2 * math.pi * 500.0)
    assert found == pytest.approx(exact, rel=2e-3)


# US Army SB 740-91-01 (read): 100 MOhm, 2 % per degF lower above 82 degF, higher below 60 degF.
@pytest.mark.parametrize(
    ("fahrenheit", "megohms"), ((60, 100), (70, 100), (82, 100), (83, 98), (92, 80), (59, 102), (50, 120))
)
def test_limit_by_fahrenheit(fahrenheit: float, megohms: float) -> None:
    kelvin = (fahrenheit - 32) / 1.8 + 273.15
    found = limit(
        "share-per-fahrenheit-minimum",
        {"limit": 100.0, "low": 60.0, "high": 82.0, "share": 0.02},
        winding_temperature=kelvin,
    )
    assert found / MEGOHM == pytest.approx(megohms, rel=1e-9)


def test_a_rule_that_leaves_no_limit_says_so() -> None:
    with pytest.raises(ValidityError, match="ends at 132 degF"):
        limit(
            "share-per-fahrenheit-minimum",
            {"limit": 100.0, "low": 60.0, "high": 82.0, "share": 0.02},
            winding_temperature=(140 - 32) / 1.8 + 273.15,
        )


@pytest.mark.parametrize(
    ("formula", "coefficients", "inputs", "named"),
    (
        ("transformer-minimum", {"C": 0.8}, {"phase_voltage": 480.0, "tested_winding_power": 0.0}, "power"),
        (
            "machine-voltage-over-power",
            {"base": 1000.0, "per_kva": 0.01},
            {"rated_voltage": -1.0, "rated_power": 1e6},
            "rated_voltage",
        ),
        (
            "cable-length-minimum",
            {"added_kv": 1.0, "feet": 1000.0},
            {"rated_voltage": 15e3, "length": math.nan},
            "length",
        ),
        (
            "insulation-constant-minimum",
            {"K": 500.0},
            {"insulation_diameter": 0.01, "conductor_diameter": 0.01, "length": 10.0},
            "must be the larger",
        ),
        (
            "insulation-constant-km-minimum",
            {"Ki": 36.7},
            {"insulation_diameter": 0.01, "conductor_diameter": 0.0, "length": 10.0},
            "conductor_diameter",
        ),
    ),
)
def test_outside_its_range_a_formula_raises(
    formula: str, coefficients: dict[str, float], inputs: dict[str, float], named: str
) -> None:
    with pytest.raises(ValidityError, match=named):
        limit(formula, coefficients, **inputs)


@pytest.mark.parametrize("given", ({}, {"C": 0.8, "D": 1.0}, {"c": 0.8}))
def test_other_coefficients_than_declared_are_refused(given: dict[str, float]) -> None:
    with pytest.raises(StandardDataError, match="transformer-minimum takes the coefficients \\['C'\\]"):
        limit("transformer-minimum", given, phase_voltage=480.0, tested_winding_power=150e3)


@pytest.mark.parametrize("name", FORMULAS)
def test_a_formula_declares_what_it_takes(name: str) -> None:
    entry = FORMULAS[name]
    assert entry.id == name
    assert set(inspect.signature(entry.function).parameters) == {*entry.inputs, *entry.coefficients}
    assert entry.text
    assert entry.source
    assert entry.validity
    assert entry.verified in ("read", "secondary", "memory", "practice", "derived")


@pytest.mark.parametrize("name", FORMULAS)
def test_its_inputs_are_keys_of_the_record_or_derived_facts(name: str) -> None:
    for key, dimension in FORMULAS[name].inputs.items():
        known = DERIVED_DIMENSIONS.get(key) or KEYS[key].dimension
        assert dimension == known


def test_every_formula_a_criterion_names_is_there_with_its_coefficients_and_none_is_idle() -> None:
    used = set()
    for criterion in library().criteria.values():
        if criterion.formula:
            used.add(criterion.formula)
            assert set(criterion.coefficients) == set(FORMULAS[criterion.formula].coefficients), criterion.id
    assert used == set(FORMULAS)
