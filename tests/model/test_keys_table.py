"""The table of keys against the format: groups, words, kinds, and the words of the trade."""

from __future__ import annotations

from dataclasses import fields

import pytest

from soakage.methods import methods, words
from soakage.model.asset import Asset
from soakage.model.keys import (
    CLASSES,
    KEYS,
    PURPOSES,
    THERMAL_CLASSES,
    THERMAL_LETTERS,
    THERMOPLASTIC_WORDS,
    THERMOSETTING_WORDS,
    Kind,
    insulation_family,
)
from soakage.model.test import Conditions, Instrument, Paper
from soakage.model.test import Test as Made
from soakage.units import parse

PARTS = {"asset": Asset, "conditions": Conditions, "instrument": Instrument, "paper": Paper, "test": Made}
IDENTITY = (
    "permit", "gas_free_certificate", "hazardous_area", "report_number", "revision", "revision_reason",
    "licence_number", "site", "asset", "tag", "serial", "section", "purpose", "work_order", "visit",
    "tested_by", "witnessed_by", "approved_by", "notes",
)  # fmt: skip
EVERY_CLASS = ("class", "rated_voltage", "rated_power", "insulation", "year", "terminals")
OF_A_CLASS = (
    "winding", "current", "thermal_class", "neutral", "cooling", "filling", "connection", "winding_voltages",
    "winding_powers", "length", "conductor_diameter", "insulation_diameter", "cores", "sheath_thickness",
    "in_service_since", "nominal_voltage", "circuit", "between",
)  # fmt: skip
CONDITIONS = (
    "winding_temperature", "insulation_temperature", "temperature_uncertainty", "temperature_method",
    "ambient_temperature", "relative_humidity", "surface", "hours_out_of_service", "attached",
)  # fmt: skip
TEST = (
    "method", "test_voltage", "started", "tested", "earthed", "guarded", "polarity", "steps", "hold",
    "ramp_rate", "capacitance", "discharge_started", "voltage_found", "ended", "ended_at", "ended_voltage",
    "previous_test",
)  # fmt: skip
INSTRUMENT = ("instrument", "instrument_serial", "calibration_due", "current_limit", "accuracy")


def test_the_keys_are_those_of_the_format_and_no_others() -> None:
    assert set(KEYS) == {*IDENTITY, *EVERY_CLASS, *OF_A_CLASS, *CONDITIONS, *TEST, *INSTRUMENT}


@pytest.mark.parametrize("name", sorted(KEYS))
def test_every_key_has_a_place_in_the_model(name: str) -> None:
    key = KEYS[name]
    assert key.name == name
    assert key.field in {field.name for field in fields(PARTS[key.part])}
    assert key.meaning.endswith(".")
    assert (key.kind is Kind.WORD) == bool(words(key))
    assert (key.kind in (Kind.NUMBER, Kind.NUMBERS)) == bool(key.dimension)


@pytest.mark.parametrize("part", sorted(PARTS))
def test_every_field_of_the_model_has_its_key(part: str) -> None:
    named = {key.field for key in KEYS.values() if key.part == part}
    assert {field.name for field in fields(PARTS[part])} == named


@pytest.mark.parametrize(
    ("key", "allowed"),
    (
        ("hazardous_area", ("yes", "no")),
        ("purpose", ("acceptance", "maintenance", "after-repair", "after-fault", "drying")),
        ("winding", ("form-wound", "random-wound", "field", "armature")),
        ("current", ("ac", "dc")),
        ("neutral", ("opened", "closed")),
        ("filling", ("oil", "ester", "dry")),
        ("surface", ("dry", "damp", "wet")),
        ("ended", ("complete", "stopped", "tripped", "breakdown", "flashover")),
        ("class", CLASSES),
    ),
)
def test_the_words_of_a_key(key: str, allowed: tuple[str, ...]) -> None:
    assert KEYS[key].words == words(KEYS[key]) == allowed


def test_classes_and_purposes_are_those_of_the_format() -> None:
    assert CLASSES == (
        "rotating-machine", "transformer", "cable", "switchgear", "low-voltage-installation", "apparatus",
    )  # fmt: skip
    assert len(PURPOSES) == 5


def test_the_words_of_the_method_are_those_of_the_files_that_declare_one() -> None:
    assert words(KEYS["method"]) == tuple(methods())
    assert words(KEYS["class"]) == CLASSES
    assert words(KEYS["asset"]) == ()
    assert set(methods()) == {
        "insulation-resistance", "timed-insulation-resistance", "dielectric-absorption-ratio",
        "polarization-index", "dielectric-discharge", "step-voltage", "ramp", "terminal-set", "circuit",
        "cable-core", "cable-sheath",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("key", "text", "value"),
    (
        ("rated_voltage", "6.6 kV", 6600.0),
        ("rated_power", "900 kW", 900e3),
        ("length", "609.6 m", 609.6),
        ("conductor_diameter", "10 mm", 0.010),
        ("winding_temperature", "27.5 degC", 300.65),
        ("relative_humidity", "55 %", 0.55),
        ("hold", "60 s", 60.0),
        ("ramp_rate", "1 kV/min", 1000.0 / 60.0),
        ("capacitance", "0.5 uF", 0.5e-6),
        ("current_limit", "3 mA", 3e-3),
        ("hours_out_of_service", "36 h", 129600.0),
    ),
)
def test_the_dimension_of_a_number(key: str, text: str, value: float) -> None:
    assert parse(text, KEYS[key].dimension).value == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("letter", "degrees"),
    (("A", "105"), ("E", "120"), ("B", "130"), ("F", "155"), ("H", "180"), ("N", "200"), ("R", "220")),
)
def test_thermal_letters(letter: str, degrees: str) -> None:
    # IEC 60085 (from memory): the letters and their temperatures.
    assert THERMAL_LETTERS[letter] == degrees
    assert degrees in THERMAL_CLASSES


@pytest.mark.parametrize("word", THERMOSETTING_WORDS)
def test_thermosetting_words(word: str) -> None:
    assert insulation_family(word) == "thermosetting"
    assert insulation_family(f"  {word.upper()} ") == "thermosetting"


@pytest.mark.parametrize("word", THERMOPLASTIC_WORDS)
def test_thermoplastic_words(word: str) -> None:
    assert insulation_family(word) == "thermoplastic"
    assert insulation_family(word.title()) == "thermoplastic"


@pytest.mark.parametrize("word", ("epoxy-mica", "epoxy mica", "Epoxy_Mica", "VPI", "epoxy  mica"))
def test_words_are_read_however_they_are_joined(word: str) -> None:
    assert insulation_family(word) == "thermosetting"


@pytest.mark.parametrize("word", ("", "mica", "paper", "XLPE", "epoxyd", "not asphalt", "thermo"))
def test_a_word_that_names_neither_family_is_none(word: str) -> None:
    assert insulation_family(word) is None


def test_no_word_names_both_families() -> None:
    assert not set(THERMOSETTING_WORDS) & set(THERMOPLASTIC_WORDS)
