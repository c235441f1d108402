"""The limit of each kind for one record, and the words it is printed in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.model.verdict import Limit
from soakage.standards.criterion import Criterion, Kind
from soakage.standards.library import library
from soakage.standards.limits import limit_for

LIBRARY = library()
CRITERIA = LIBRARY.criteria
FORM_WOUND = CRITERIA["ieee-43-2013.minimum-resistance.form-wound"]
FIELD = CRITERIA["ieee-43-2013.minimum-resistance.field"]
APPARATUS = CRITERIA["neta-100-1.minimum-resistance.apparatus"]
OIL = CRITERIA["neta-100-5.minimum-resistance.liquid-filled"]
SPREAD = CRITERIA["gb-50150-2006.phase-spread.machine"]
BAND = CRITERIA["practice.polarization-index-band.form-wound"]
LENGTH = CRITERIA["ufgs-33-71-02.minimum-resistance.by-length"]


def lower(criterion: Criterion, **facts: object) -> float:
    limit = limit_for(criterion, facts, {})
    assert isinstance(limit, Limit), limit
    assert limit.lower is not None
    return limit.lower


def refusal(
    criterion: Criterion, references: Mapping[tuple[str, str], float] | None = None, **facts: object
) -> str:
    limit = limit_for(criterion, facts, references or {})
    assert isinstance(limit, str)
    return limit


def test_a_constant_with_its_base_and_the_part_of_the_winding() -> None:
    limit = limit_for(FORM_WOUND, {}, {})
    assert limit == Limit("constant", 100e6, None, "ohm", "at least 100\u00a0MΩ at 40\u00a0°C")
    part = limit_for(FORM_WOUND, {"winding_part": "phase-others-earthed"}, {})
    assert isinstance(part, Limit)
    assert part.lower == 200e6
    assert "2 times the whole winding's" in part.text
    assert "others earthed" in part.text
    assert "memory" in part.text


@given(st.floats(100.0, 30e3), st.floats(100.0, 30e3))
def test_a_linear_limit_rises_with_the_voltage(a: float, b: float) -> None:
    assert (lower(FIELD, rated_voltage=a) <= lower(FIELD, rated_voltage=b)) or a > b
    assert lower(FIELD, rated_voltage=a) == pytest.approx(1e6 + a * 1e3)  # kV + 1 (secondary)


def test_a_linear_limit_without_its_key_names_it() -> None:
    assert "'rated_voltage' is not stated" in refusal(FIELD)


@pytest.mark.parametrize(
    ("volts", "megohm"),
    ((1.0, 25), (250.0, 25), (250.0001, 100), (600.0, 100), (1000.0, 100), (1000.1, 500), (5000.0, 1500),
     (8000.0, 2500), (8001.0, 5000), (25e3, 10000), (25.1e3, 100000), (765e3, 100000)),
)  # fmt: skip
def test_the_first_row_not_below_the_rating(volts: float, megohm: float) -> None:
    # ANSI/NETA ATS-2025 Table 100.1 (secondary)
    assert lower(APPARATUS, rated_voltage=volts) == megohm * 1e6


@given(st.floats(1.0, 800e3), st.floats(1.0, 800e3))
def test_a_higher_rating_never_asks_less(a: float, b: float) -> None:
    small, large = sorted((a, b))
    assert lower(APPARATUS, rated_voltage=small) <= lower(APPARATUS, rated_voltage=large)


def test_a_table_that_ends_says_so() -> None:
    assert "above the last row" in refusal(replace(APPARATUS, beyond_last=False), rated_voltage=50e3)


def test_a_derived_fact_is_named_by_the_keys_of_the_record() -> None:
    assert "winding_voltages" in refusal(OIL)


def test_between_two_rows_the_logarithm_is_interpolated_where_the_rule_says_so() -> None:
    sloped = replace(APPARATUS, rows=((100.0, 1e6), (200.0, 1e8)), row_rule="ln-interpolated")
    assert lower(sloped, rated_voltage=150.0) == pytest.approx(1e7)
    assert lower(sloped, rated_voltage=100.0) == pytest.approx(1e6)
    assert "outside the table" in refusal(sloped, rated_voltage=99.0)
    assert "outside the table" in refusal(sloped, rated_voltage=201.0)


def test_a_band_prints_its_edges_and_our_status() -> None:
    limit = limit_for(BAND, {}, {})
    assert isinstance(limit, Limit)
    assert (limit.kind, limit.lower, limit.upper, limit.unit) == ("band", None, None, "1")
    assert limit.text.startswith("below 1.50 watch")
    assert limit.text.endswith("from 2.00 sound")


def test_an_upper_limit_stands_above() -> None:
    limit = limit_for(SPREAD, {}, {})
    assert isinstance(limit, Limit)
    assert (limit.lower, limit.upper) == (None, 2.0)
    assert limit.text.startswith("at most 2")


@pytest.mark.parametrize(
    ("kilovolts", "feet", "megohm"), ((15.0, 2000.0, 8.0), (15.0, 1000.0, 16.0), (0.6, 400.0, 4.0))
)
def test_a_formula_takes_its_inputs_from_the_record(kilovolts: float, feet: float, megohm: float) -> None:
    # 39 of the worked examples (rule memory, number derived)
    assert lower(LENGTH, rated_voltage=kilovolts * 1e3, length=feet * 0.3048) == pytest.approx(megohm * 1e6)
    assert "'rated_voltage'" in refusal(LENGTH, length=100.0)
    assert "'length'" in refusal(LENGTH, rated_voltage=15e3)


@pytest.mark.parametrize(
    "criterion", [c for c in CRITERIA.values() if c.kind is Kind.REFERENCE], ids=lambda c: c.id
)
def test_a_share_of_a_reference_record(criterion: Criterion) -> None:
    assert "No " in refusal(criterion)
    limit = limit_for(criterion, {}, {(criterion.reference, criterion.quantity): 1000e6})
    assert isinstance(limit, Limit)
    assert (limit.lower or limit.upper) == pytest.approx((criterion.limit or 0.0) * 1000e6)


@pytest.mark.parametrize("criterion", CRITERIA.values(), ids=lambda c: c.id)
def test_every_limit_is_formed_from_its_first_example_or_names_a_key(criterion: Criterion) -> None:
    facts = criterion.examples[0].facts
    references = {(criterion.reference, criterion.quantity): float(str(facts.get("reference", 1.0)))}
    limit = limit_for(criterion, facts, references)
    assert isinstance(limit, Limit), limit
    assert limit.text
    assert limit.kind == criterion.kind
    assert "\u00a0" in limit.text or limit.unit == "1", "no-break spaces between number and unit"
