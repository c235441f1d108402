"""``explain`` with one's own numbers: the worked values of the trade, each with its source and status."""

from __future__ import annotations

import pytest

from soakage.app.explain import explain, known_ids
from soakage.app.explain_compute import Worked, compute
from soakage.errors import SoakageError, UsageError, ValidityError
from soakage.standards.library import library

LIBRARY = library()
M = 1e6
HALVING = "ieee-43-2013.thermoplastic"
R, T, BASE = "insulation_resistance", "winding_temperature", "base_temperature"
R15, R30, R60, R600 = (f"insulation_resistance_{mark}s" for mark in (15, 30, 60, 600))


def work(name: str, **given: str) -> Worked:
    return compute(explain(name, LIBRARY), given, LIBRARY)


def refused(name: str, **given: str) -> str:
    with pytest.raises((UsageError, ValidityError)) as caught:
        work(name, **given)
    return str(caught.value)


@pytest.mark.parametrize(
    ("name", "given", "value", "unit"),
    (
        # M1 (secondary): R1 20 GOhm, R10 150 GOhm
        ("polarization_index", {R60: "20 GOhm", R600: "150 GOhm"}, 7.5, "1"),
        # worked values M6 of four currents (derived)
        ("polarization_index", {R60: "434.78 MOhm", R600: "1620.80 MOhm"}, 3.7278, "1"),
        ("dielectric_absorption_ratio", {R60: "434.78 MOhm", R30: "264.40 MOhm"}, 1.6444, "1"),
        ("absorption_ratio_60_15", {R60: "434.78 MOhm", R15: "157.16 MOhm"}, 2.7665, "1"),
        # M2 (secondary): 200 MOhm at 20 degC, halving, is 25 MOhm at 50 degC
        (HALVING, {R: "200 MOhm", T: "20 degC", BASE: "50 degC"}, 25 * M, "ohm"),
        # 17 (secondary, a textbook): 240 MOhm at 20 degC to 36 degC, 79.17 MOhm
        (HALVING, {R: "240 MOhm", T: "20 degC", BASE: "36 degC"}, 79.17 * M, "ohm"),
        # 1 (secondary): 2 MOhm at 40 degC, oil, 7.9 MOhm at 20 degC
        ("neta-100-14-1.oil", {R: "2 MOhm", T: "40 degC", BASE: "20 degC"}, 7.9 * M, "ohm"),
        # thermosetting (memory): 100 MOhm at 20 degC, 76.2 MOhm at 40 degC
        ("ieee-43-2013.thermosetting", {R: "100 MOhm", T: "20 degC"}, 76.22 * M, "ohm"),
        # M3 (derived): kV + 1
        ("ieee-43-2013.minimum-resistance.field", {"rated_voltage": "0.48 kV"}, 1.48 * M, "ohm"),
        ("ieee-43-2013.minimum-resistance.made-before-1970", {"rated_voltage": "4.16 kV"}, 5.16 * M, "ohm"),
        ("ieee-43-2013.minimum-resistance.made-before-1970", {"rated_voltage": "13.8 kV"}, 14.8 * M, "ohm"),
        # 39 (rule memory): 15 kV, 2 000 ft: 8.0 MOhm
        ("ufgs-33-71-02.minimum-resistance.by-length", {"rated_voltage": "15 kV", "length": "2000 ft"}, 8.0 * M, "ohm"),
        # worked values M11 (derived, Magnus) and 25 (secondary) of moist air
        ("dew_point", {"ambient_temperature": "25 degC", "relative_humidity": "60 %"}, 273.15 + 16.69, "K"),
        ("dew_point", {"ambient_temperature": "30 degC", "relative_humidity": "60 %"}, 273.15 + 21.39, "K"),
    ),
)  # fmt: skip
def test_worked_values(name: str, given: dict[str, str], value: float, unit: str) -> None:
    worked = work(name, **given)
    assert worked.value == pytest.approx(value, rel=2e-4)
    assert worked.unit == unit
    assert set(given) <= set(worked.inputs)
    assert all(isinstance(entry, float | int | str) for entry in worked.inputs.values())


@pytest.mark.parametrize(
    ("kelvin", "factor"), (("10 degC", 0.5), ("40 degC", 2.0), ("55 degC", 4.0), ("70 degC", 8.0))
)
def test_navy_factors_to_25_degrees(kelvin: str, factor: float) -> None:
    # M4 (derived from read, MIL-M-17413A)
    (rule,) = [name for name in LIBRARY.temperature_rules if name.startswith("mil-m-17413a")]
    assert work(rule, winding_temperature=kelvin, base_temperature="25 degC").value == pytest.approx(factor)


def formula_criteria() -> list[str]:
    return [c.id for c in LIBRARY.criteria.values() if c.id.startswith("transformer-formula")]


@pytest.mark.parametrize(
    ("coefficient", "volts", "power", "megohm"),
    (
        # 40, 41, 42 (rules memory, numbers derived); the voltage is line to line of a delta
        (0.8, "12470 V", "1000 kVA", 315.5), (1.5, "12470 V", "1000 kVA", 591.5), (0.8, "69 kV", "10 MVA", 552.0),
        (16.0, "480 V", "150 kVA", 627.1), (30.0, "480 V", "150 kVA", 1175.8), (0.8, "39837 V", "10 MVA", 318.7),
    ),
)  # fmt: skip
def test_the_transformer_formula(coefficient: float, volts: str, power: str, megohm: float) -> None:
    matching = [
        name for name in formula_criteria() if coefficient in LIBRARY.criteria[name].coefficients.values()
    ]
    assert matching
    for name in matching:
        worked = work(name, phase_voltage=volts, tested_winding_power=power)
        assert worked.value / M == pytest.approx(megohm, rel=2e-4)


def test_a_criterion_says_where_a_value_falls() -> None:
    name = "ieee-43-2013.minimum-resistance.form-wound"
    for value, status in (("100 MOhm", "sound"), ("99 MOhm", "unfit"), ("> 50 MOhm", "not judged"),
                          ("< 50 MOhm", "unfit")):  # fmt: skip
        assert work(name, insulation_resistance_60s_corrected=value).status == status
    band = "practice.polarization-index-band.form-wound"
    assert work(band, polarization_index="1.4").status == "watch"
    assert work(band, polarization_index="2.1").status == "sound"
    assert "give polarization_index=" in refused(band)


def test_a_part_of_a_winding_multiplies_its_minimum() -> None:
    name = "ieee-43-2013.minimum-resistance.form-wound"
    assert work(name, winding_part="phase-others-earthed").value == 200 * M
    assert work(name, winding_part="phase-others-guarded").value == 300 * M


@pytest.mark.parametrize(
    ("rated", "low", "high"), (("6.6 kV", 2500, 5000), ("400 V", 500, 500), ("13.8 kV", 5000, 10000))
)
def test_a_voltage_table_gives_its_row(rated: str, low: float, high: float) -> None:
    # IEEE 43-2000 Table 1 (secondary)
    worked = work("ieee-43-2000.test-voltage", rated_voltage=rated)
    assert (worked.inputs["lower"], worked.inputs["upper"]) == (low, high)


def test_a_corrected_value_names_its_rule() -> None:
    worked = work("insulation_resistance_60s_corrected", insulation_resistance_60s="100 MOhm",
                  winding_temperature="20 degC", temperature_rule="ieee-43-2013.thermoplastic")  # fmt: skip
    assert worked.value == pytest.approx(25 * M)
    assert worked.inputs["temperature_rule"] == "ieee-43-2013.thermoplastic"
    assert "temperature_rule" in refused(
        "insulation_resistance_60s_corrected", insulation_resistance_60s="1 MOhm"
    )


# ---- what is refused
@pytest.mark.parametrize(
    ("name", "given", "parts"),
    (
        ("polarization_index", {"insulation_resistance_60s": "1 GOhm"}, ("missing", "insulation_resistance_600s")),
        ("polarization_index", {"r10": "1"}, ("r10",)),
        ("polarization_index", {"insulation_resistance_60s": "1 V", "insulation_resistance_600s": "1 GOhm"}, ("1 V",)),
        ("ieee-43-2013.minimum-resistance.field", {"rated_volage": "480 V"}, ("rated_volage", "rated_voltage")),
        ("ieee-43-2013.minimum-resistance.field", {}, ("rated_voltage",)),
        ("ieee-43-2013.minimum-resistance.field", {"rated_voltage": "much"}, ("much",)),
        ("ieee-43-2013.minimum-resistance.form-wound", {"winding": "random-wound"}, ("does not apply", "form-wound")),
        ("ieee-43-2013.minimum-resistance.form-wound", {"year": "1960"}, ("does not apply", "1970")),
        ("ieee-43-2013.thermosetting", {"winding_temperature": "90 degC"}, ("outside the range",)),
        ("ieee-43-2013.thermosetting", {T: "20 degC", BASE: "20 degC"}, ("refers to",)),
        ("ieee-43-2013.thermosetting", {"base_temperature": "20 degC"}, ("winding_temperature",)),
        ("ieee-43-2000.test-voltage", {}, ("rated_voltage",)),
        ("ieee-43-2013.earthing-multiple", {"x": "1"}, ("no formula",)),
    ),
)  # fmt: skip
def test_what_cannot_be_worked_is_said(name: str, given: dict[str, str], parts: tuple[str, ...]) -> None:
    said = refused(name, **given)
    for part in parts:
        assert part in said


@pytest.mark.parametrize(
    ("typed", "meant"),
    (("polarisation_index", "polarization_index"), ("dew-point", "dew_point"),
     ("ieee-43-2013.thermoseting", "ieee-43-2013.thermosetting")),
)  # fmt: skip
def test_an_unknown_id_suggests_the_nearest(typed: str, meant: str) -> None:
    with pytest.raises(UsageError, match=meant):
        explain(typed, LIBRARY)


@pytest.mark.parametrize("name", known_ids(LIBRARY))
def test_every_id_is_explained_with_its_source_and_status(name: str) -> None:
    explanation = explain(name, LIBRARY)
    assert explanation.id == name
    assert explanation.title
    assert explanation.definition
    assert explanation.source
    assert explanation.verified in ("read", "secondary", "memory", "practice", "derived")
    assert not any(detail == ("", "") for detail in explanation.details)
    for _, text in explanation.details:
        assert "safe to" not in text.lower()


@pytest.mark.parametrize("name", known_ids(LIBRARY))
def test_no_id_breaks_when_it_is_asked_to_work_with_nothing_it_knows(name: str) -> None:
    with pytest.raises(SoakageError):
        work(name, nonsense="1")
