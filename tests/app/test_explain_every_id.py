"""Everything that has an id is explained, and its own worked examples come out when worked by the same door."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from importlib.resources import files

import pytest

from soakage.app.explain import (
    Explanation,
    condition_text,
    explain,
    formula_of,
    key_text,
    known_ids,
    rule_text,
)
from soakage.app.explain_compute import Worked, compute
from soakage.cli.explain_text import explanation_json, explanation_text, profile_text
from soakage.errors import UsageError
from soakage.methods import methods
from soakage.model.keys import KEYS, Kind
from soakage.physics.formula import catalogue
from soakage.quantities import GLOSSARY, lookup
from soakage.standards.criterion import Condition, Criterion
from soakage.standards.criterion import Kind as Rule
from soakage.standards.library import library
from soakage.standards.parsing import key_dimension
from soakage.standards.profile import profile
from soakage.units import Bound

LIBRARY = library()
PROFILES = sorted(
    item.name.removesuffix(".toml") for item in (files("soakage.standards") / "data" / "profiles").iterdir()
)
IDS = known_ids(LIBRARY)
UNITS = {
    "resistance": "ohm", "voltage": "V", "current": "A", "capacitance": "F", "time": "s", "temperature": "K",
    "power": "W",
    "length": "m", "resistance_length": "ohm m", "dielectric_discharge": "A/(V F)", "conductance": "S", "energy": "J",
    "charge": "C", "temperature_difference": "K", "ramp_rate": "V/s",
}  # fmt: skip
VERIFIED = ("read", "secondary", "memory", "practice", "derived", "user", "")


def words(value: float, dimension: str, bound: str | None = None) -> str:
    sign = "" if bound is None else {Bound.LOWER: "> ", Bound.UPPER: "< "}[Bound(bound)]
    if dimension == "fraction":
        return f"{sign}{100 * value:.12g} %"
    return f"{sign}{value!r} {UNITS.get(dimension, '')}".strip()


def work(name: str, given: Mapping[str, str]) -> Worked:
    return compute(explain(name, LIBRARY), given, LIBRARY)


# ------------------------------------------------------------------------------------------------ what is said
@pytest.mark.parametrize("shelf", range(10))
def test_every_id_says_what_it_is_and_where_it_stands(shelf: int) -> None:
    for name in IDS[shelf::10]:
        said = explain(name, LIBRARY)
        assert said.id == name
        assert said.kind
        assert said.title
        assert said.definition.strip(), name
        assert said.source.strip(), name
        assert said.verified in VERIFIED, name
        assert all(key and text for key, text in said.details), name


@pytest.mark.parametrize("columns", ("60", "110"))
def test_every_explanation_fits_its_width(columns: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    for name in IDS:
        said = explain(name, LIBRARY)
        for text in explanation_text(said, None):
            for line in text.splitlines():
                whole = max(map(len, line.split(" ")))
                assert len(line) <= max(int(columns), whole + 30), line
                assert "\x1b" not in line
                assert not re.search(r"\bnan\b|\bNone\b|\binf\b", line), (name, line)


def test_every_explanation_is_json() -> None:
    for name in IDS:
        shown = explanation_json(explain(name, LIBRARY), None)
        json.dumps(shown, allow_nan=False)
        assert set(shown) == {
            "id", "kind", "title", "definition", "formula", "source", "verified", "example", "details",
        }  # fmt: skip


def test_every_shelf_is_listed_once_and_in_order() -> None:
    assert sorted(set(IDS)) == IDS
    for shelf in (
        GLOSSARY,
        catalogue(),
        LIBRARY.criteria,
        LIBRARY.temperature_rules,
        LIBRARY.thresholds,
        methods(),
    ):
        assert set(shelf) <= set(IDS)


@pytest.mark.parametrize(
    ("name", "kind"),
    (
        ("polarization_index", "quantity"), ("ieee-43-2013.thermosetting", "temperature rule"),
        ("ieee-43-2013.minimum-resistance.form-wound", "criterion"),
        ("ieee-43-2013.minimum-resistance", "group of criteria"),
        ("practice.voltage-standing-tolerance", "threshold"), ("step-voltage", "test method"),
        ("ieee-43-2000.test-voltage", "test voltage (insulation-resistance)"), ("residual_share_time", "formula"),
        ("insulation_resistance_45s", "quantity"), ("resistance_ratio_120s_30s", "quantity"),
    ),
)  # fmt: skip
def test_kinds(name: str, kind: str) -> None:
    assert explain(name, LIBRARY).kind == kind


@pytest.mark.parametrize(
    ("slip", "near"),
    (
        ("polarisation_index", "polarization_index"),
        ("dewpoint", "dew_point"),
        ("ieee-43-2013.thermosettng", "ieee-43-2013.thermosetting"),
        ("step-votlage", "step-voltage"),
        ("insulation_resistance_corected", "insulation_resistance_corrected"),
    ),
)
def test_a_slip_is_answered_with_the_nearest(slip: str, near: str) -> None:
    with pytest.raises(UsageError) as raised:
        explain(slip, LIBRARY)
    assert f"Nothing is called {slip!r}." in str(raised.value)
    assert near in str(raised.value)


@pytest.mark.parametrize(
    "name", ("", "q", "\N{SNOWMAN}", "x" * 200, "../../etc/passwd", "polarization_index ")
)
def test_what_is_nothing_is_refused(name: str) -> None:
    with pytest.raises(UsageError, match="Nothing is called"):
        explain(name, LIBRARY)


# ------------------------------------------------------------------------------------------- formulas worked
@pytest.mark.parametrize("name", sorted(catalogue()))
def test_the_example_of_a_formula_comes_out(name: str) -> None:
    """The expected figure and its source stand on the formula's own card."""
    formula = catalogue()[name]
    worked = work(name, formula.example.inputs)
    value = worked.value - 273.15 if formula.unit == "degC" else worked.value
    expected, tolerance = formula.example.expected, formula.example.tolerance
    assert value == pytest.approx(expected, rel=tolerance, abs=tolerance if expected == 0 else 1e-30)
    assert worked.text
    assert set(worked.inputs) == set(formula.example.inputs)
    shown = explanation_json(explain(name, LIBRARY), worked)
    json.dumps(shown, allow_nan=False)
    assert shown["value"] == worked.value


@pytest.mark.parametrize("name", sorted(catalogue()))
def test_a_formula_without_its_inputs_is_refused_in_words(name: str) -> None:
    required = [entry.name for entry in catalogue()[name].inputs if entry.default is None]
    if not required:
        return
    for left_out in required:
        given = {k: v for k, v in catalogue()[name].example.inputs.items() if k != left_out}
        if not given:
            continue
        with pytest.raises(UsageError) as raised:
            work(name, given)
        assert left_out in str(raised.value)


@pytest.mark.parametrize("name", sorted(catalogue()))
def test_an_input_that_means_nothing_is_refused(name: str) -> None:
    with pytest.raises(UsageError) as raised:
        work(name, {**catalogue()[name].example.inputs, "frobnication": "1"})
    assert "frobnication" in str(raised.value)


@pytest.mark.parametrize("name", sorted(catalogue()))
@pytest.mark.parametrize("text", ("", "plenty", "5 5", "1 parsec"))
def test_an_input_that_is_no_figure_is_refused(name: str, text: str) -> None:
    formula = catalogue()[name]
    first = formula.inputs[0].name
    with pytest.raises(UsageError) as raised:
        work(name, {**formula.example.inputs, first: text})
    assert first in str(raised.value)


def test_a_quantity_and_its_formula_agree_on_name_and_unit() -> None:
    for name, quantity in GLOSSARY.items():
        formula = formula_of(name)
        if formula is None or formula.id != name:
            continue
        unit = "K" if formula.unit == "degC" else formula.unit
        assert unit == quantity.unit or quantity.unit in ("%", "1", "degC", "K"), name


# -------------------------------------------------------------------------------------------- criteria worked
def facts_as_typed(facts: Mapping[str, object]) -> dict[str, str] | None:
    given = {}
    for key, value in facts.items():
        if key == "reference":
            return None
        if isinstance(value, float | int) and not isinstance(value, bool):
            given[key] = words(float(value), key_dimension(key)) if key != "year" else f"{value:g}"
        else:
            given[key] = str(value)
    return given


def takes(entry: Criterion) -> bool:
    return entry.kind not in (Rule.REFERENCE, Rule.SPREAD)


CASES = [(c, e) for c in LIBRARY.criteria.values() if takes(c) for e in c.examples]


@pytest.mark.parametrize("place", range(0, len(CASES), 5))
def test_the_examples_of_a_criterion_come_out_when_explained(place: int) -> None:
    """On the limit and just off it; the figures stand in the criteria files with their sources."""
    for entry, example in CASES[place : place + 5]:
        given = facts_as_typed(example.facts)
        waived = example.status in ("not applicable", "not judged", "invalid test")
        if given is None or waived:
            continue
        dimension = lookup(entry.quantity).dimension
        given = {
            k: v
            for k, v in given.items()
            if k in KEYS
            or k
            in (
                "tested_winding_voltage",
                "tested_winding_power",
                "phase_voltage",
                "winding_part",
                "winding_connection",
                "windings_joined",
            )
        }
        given[entry.quantity] = words(example.value, dimension, example.bound)
        worked = work(entry.id, given)
        assert worked.status == str(example.status), (entry.id, given)
        if example.limit is not None:
            assert worked.value == pytest.approx(example.limit, rel=1e-9)


@pytest.mark.parametrize("kind", tuple(Rule))
def test_the_rule_of_every_kind_reads_as_one(kind: Rule) -> None:
    of_kind = [c for c in LIBRARY.criteria.values() if c.kind is kind]
    assert of_kind, f"no criterion of kind {kind} ships"
    for criterion in of_kind:
        text = rule_text(criterion)
        if kind is not Rule.BAND:
            assert "at least" in text or "at most" in text, (criterion.id, text)
        assert re.search(r"\d", text), criterion.id


@pytest.mark.parametrize(
    ("condition", "text"),
    (
        (Condition("class", words=("cable",)), "class cable"),
        (Condition("class", words=("cable", "switchgear")), "class cable or switchgear"),
        (Condition("insulation", other_than=("epr",)), "insulation other than epr"),
        (
            Condition("rated_voltage", above=1e3, to=5e3),
            "rated_voltage above 1\N{NO-BREAK SPACE}kV, rated_voltage up to 5\N{NO-BREAK SPACE}kV",
        ),
        (Condition("rated_voltage", start=2.4e3), "rated_voltage from 2.4\N{NO-BREAK SPACE}kV"),
        (Condition("year", below=1970.0), "year below 1970"),
        (Condition("length", stated=True), "length stated"),
        (Condition("length", stated=False), "length not stated"),
    ),
)
def test_a_condition_in_words(condition: Condition, text: str) -> None:
    assert condition_text(condition) == text


def test_a_condition_that_does_not_hold_is_said() -> None:
    name = "ieee-43-2013.minimum-resistance.form-wound"
    with pytest.raises(UsageError, match="does not apply"):
        work(name, {"class": "cable"})


@pytest.mark.parametrize("key", [k.name for k in KEYS.values() if k.kind is Kind.NUMBER])
def test_each_key_prints_with_its_unit(key: str) -> None:
    text = key_text(key, 1e3)
    assert re.match(r"[\d−]", text)
    assert ("\N{NO-BREAK SPACE}" in text) == (key_dimension(key) != "ratio")


# --------------------------------------------------------------------------------- temperature and voltage worked
@pytest.mark.parametrize("name", sorted(LIBRARY.temperature_rules))
def test_the_examples_of_a_temperature_rule_come_out(name: str) -> None:
    """The factors stand in the criteria files with their sources."""
    for temperature, base, factor in LIBRARY.temperature_rules[name].examples:
        given = {"winding_temperature": f"{temperature!r} degC", "base_temperature": f"{base!r} degC"}
        assert work(name, given).value == pytest.approx(factor, rel=6e-3)
        corrected = work(name, {**given, "insulation_resistance": "100 MOhm"})
        assert corrected.value == pytest.approx(1e8 * factor, rel=6e-3)
        assert corrected.unit == "ohm"
        assert corrected.inputs["winding_temperature"] == pytest.approx(temperature + 273.15)


@pytest.mark.parametrize("name", sorted(LIBRARY.temperature_rules))
@pytest.mark.parametrize(
    "given", ({}, {"base_temperature": "40 degC"}, {"winding_temperature": "40 degC", "year": "1"})
)
def test_a_temperature_rule_wants_its_temperature(name: str, given: dict[str, str]) -> None:
    with pytest.raises(UsageError, match="takes winding_temperature"):
        work(name, given)


@pytest.mark.parametrize("name", sorted(LIBRARY.voltage_tables))
def test_the_examples_of_a_voltage_table_come_out(name: str) -> None:
    table = LIBRARY.voltage_tables[name]
    for value, low, high in table.examples:
        worked = work(name, {table.of: words(value, key_dimension(table.of))})
        assert worked.inputs["lower"] == pytest.approx(low)
        assert worked.inputs["upper"] == pytest.approx(high)
        assert worked.unit == "V"
    with pytest.raises(UsageError, match=f"takes {table.of}"):
        work(name, {"frobnication": "1"})


@pytest.mark.parametrize("temperature", ("10 degC", "40 degC", "75 degC"))
def test_a_corrected_quantity_is_raw_times_factor(temperature: str) -> None:
    rule = "ieee-43-2013.thermoplastic"
    given = {
        "insulation_resistance_60s": "1 GOhm",
        "winding_temperature": temperature,
        "temperature_rule": rule,
    }
    worked = work("insulation_resistance_60s_corrected", given)
    alone = work(rule, {"winding_temperature": temperature})
    assert worked.value == pytest.approx(1e9 * alone.value)
    assert worked.inputs["temperature_rule"] == rule


@pytest.mark.parametrize(
    "given",
    (
        {"insulation_resistance_60s": "1 GOhm", "winding_temperature": "40 degC"},
        {"insulation_resistance_60s": "1 GOhm", "winding_temperature": "40 degC", "temperature_rule": "hot"},
        {"winding_temperature": "40 degC", "temperature_rule": "ieee-43-2013.thermoplastic"},
    ),
)
def test_a_corrected_quantity_without_its_parts_names_them(given: dict[str, str]) -> None:
    with pytest.raises(
        UsageError, match="takes insulation_resistance_60s, winding_temperature and temperature_rule"
    ):
        work("insulation_resistance_60s_corrected", given)


@pytest.mark.parametrize(
    "name", ("step-voltage", "practice.voltage-standing-tolerance", "ieee-43-2013.minimum-resistance")
)
def test_what_has_no_formula_says_so(name: str) -> None:
    with pytest.raises(UsageError, match="has no formula to work with numbers"):
        work(name, {"rated_voltage": "6.6 kV"})


# ------------------------------------------------------------------------------------------------------ profiles
@pytest.mark.parametrize("name", PROFILES)
def test_a_profile_is_printed_with_every_criterion_it_uses(name: str) -> None:
    shown = profile(name)
    text = " ".join(" ".join(profile_text(shown, LIBRARY)).split())
    assert shown.title in text
    for use in shown.uses:
        for criterion in use.criteria:
            assert criterion in text
    for rule in shown.temperatures:
        assert rule.rule in text
    assert all(math.isfinite(rule.base) for rule in shown.temperatures)


def test_an_explanation_is_equal_whatever_it_is_worked_with() -> None:
    one = explain("dew_point", LIBRARY)
    assert one == explain("dew_point", LIBRARY)
    assert isinstance(one, Explanation)
    assert one != explain("polarization_index", LIBRARY)
