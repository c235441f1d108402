"""The glossary: every id of the contract, timed ids, and the marks inside an id."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.errors import UsageError
from soakage.quantities import (
    GLOSSARY,
    Quantity,
    lookup,
    ratio_id,
    ratio_marks,
    resistance_id,
    resistance_mark,
    seconds_text,
)
from soakage.unit_table import DIMENSIONS

SECONDS = st.integers(1, 100_000).map(float) | st.integers(1, 999).map(lambda tenths: tenths / 10)
NAMED = {
    "dielectric_absorption_ratio": (60.0, 30.0),
    "absorption_ratio_60_15": (60.0, 15.0),
    "polarization_index": (600.0, 60.0),
}


@pytest.mark.parametrize(
    ("quantity", "unit"),
    (
        ("insulation_resistance", "ohm"),
        ("insulation_resistance_60s", "ohm"),
        ("insulation_resistance_30s", "ohm"),
        ("insulation_resistance_600s", "ohm"),
        ("insulation_resistance_60s_corrected", "ohm"),
        ("insulation_resistance_corrected", "ohm"),
        ("insulation_resistance_600s_corrected", "ohm"),
        ("dielectric_absorption_ratio", "1"),
        ("absorption_ratio_60_15", "1"),
        ("polarization_index", "1"),
        ("resistance_ratio_300s_30s", "1"),
        ("dielectric_discharge", "A/(V F)"),
        ("capacitance", "F"),
        ("apparent_capacitance", "F"),
        ("conduction_current", "A"),
        ("absorption_exponent", "1"),
        ("voltage_dependence", "1"),
        ("phase_spread", "1"),
        ("dew_point", "K"),
        ("stored_energy", "J"),
        ("earthing_time", "s"),
    ),
)
def test_every_id_of_the_contract_is_there_in_si(quantity: str, unit: str) -> None:
    found = lookup(quantity)
    assert found.id == quantity
    assert found.unit == unit


@pytest.mark.parametrize("name", sorted(GLOSSARY))
def test_an_entry_is_whole(name: str) -> None:
    entry = GLOSSARY[name]
    assert entry.id == name
    assert entry.symbol
    assert entry.name[0].isupper()
    assert entry.definition.endswith(".")
    assert entry.expression
    assert entry.source
    assert entry.verified in ("read", "secondary", "memory", "practice", "derived")
    assert entry.dimension in DIMENSIONS


def test_symbols_and_names_are_used_once() -> None:
    for of in ("symbol", "name"):
        words = [getattr(entry, of) for entry in GLOSSARY.values()]
        assert len(set(words)) == len(words)


@given(SECONDS)
def test_a_resistance_at_a_mark_knows_its_mark(seconds: float) -> None:
    for corrected in (False, True):
        name = resistance_id(seconds, corrected=corrected)
        assert resistance_mark(name) == seconds
        assert ratio_marks(name) is None
        found = lookup(name)
        assert found.id == name
        assert seconds_text(seconds) in found.name
        assert found.dimension == "resistance"


@given(SECONDS, SECONDS)
def test_a_ratio_knows_its_marks(later: float, earlier: float) -> None:
    name = ratio_id(later, earlier)
    assert ratio_marks(name) == (later, earlier)
    assert resistance_mark(name) is None
    assert lookup(name).unit == "1"


@pytest.mark.parametrize(("name", "marks"), NAMED.items())
def test_a_ratio_with_a_name_keeps_its_name(name: str, marks: tuple[float, float]) -> None:
    assert ratio_id(*marks) == name
    assert ratio_marks(name) == marks
    assert ratio_id(*reversed(marks)) != name


@pytest.mark.parametrize(("seconds", "text"), ((60.0, "60"), (7.5, "7.5"), (0.1, "0.1"), (600, "600")))
def test_marks_are_written_short(seconds: float, text: str) -> None:
    assert seconds_text(seconds) == text


@pytest.mark.parametrize(
    "name",
    (
        "", "insulation resistance", "insulation_resistance_60", "insulation_resistance_s",
        "insulation_resistance_-60s", "insulation_resistance_1e3s", "insulation_resistance_60s_", "PI",
        "resistance_ratio_600s", "resistance_ratio_600_60", "polarization_index ", "Polarization_index",
        "insulation_resistance_.5s", "insulation_resistance_60s_corrected_corrected",
    ),
)  # fmt: skip
def test_another_id_is_refused_with_those_known(name: str) -> None:
    assert resistance_mark(name) is None
    assert ratio_marks(name) is None
    with pytest.raises(UsageError) as caught:
        lookup(name)
    assert repr(name) in str(caught.value)
    assert "polarization_index" in str(caught.value)
    assert "insulation_resistance_<t>s" in str(caught.value)


def test_a_timed_entry_takes_source_and_status_of_its_base() -> None:
    base, timed = lookup("insulation_resistance"), lookup("insulation_resistance_45s")
    assert (timed.unit, timed.source, timed.verified) == (base.unit, base.source, base.verified)
    assert timed != base
    assert isinstance(timed, Quantity)
    assert timed.expression == "V / I(45 s)"
    assert replace(timed, id=base.id) != base
    assert "R45" in timed.symbol
    assert "45 s" in timed.definition.replace("\u00a0", " ")
