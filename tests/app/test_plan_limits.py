"""What a plan says will judge its readings, row by row of the published tables."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.app.plan import Plan, plan
from soakage.app.plan_criteria import READ_AT_DEGC, Expected
from soakage.app.rules import default_rules, user_limits
from soakage.model.asset import Asset

MACHINE = Asset(
    asset_class="rotating-machine", rated_voltage=6600.0, winding="form-wound", insulation="epoxy-mica",
    thermal_class="155", year=2004, neutral="closed",
)  # fmt: skip
PHASES = replace(MACHINE, neutral="opened")


def one(found: Plan, start: str) -> Expected:
    (entry,) = [e for e in found.criteria if e.id.startswith(start)]
    return entry


def lower(found: Plan, start: str) -> float | None:
    limit = one(found, start).limit
    assert limit is not None
    return limit.lower


# IEEE Std 43, cl. 12.3 (secondary): minimum at 40 degC of the whole winding, in MOhm.
MINIMA = (
    ({"winding": "field", "rated_voltage": 480.0}, 1.48),
    ({"winding": "field", "rated_voltage": 250.0, "year": 2015}, 1.25),
    ({"year": 1965, "rated_voltage": 4160.0}, 5.16),
    ({"year": 1965, "rated_voltage": 13800.0}, 14.8),
    ({"year": 1950, "winding": "random-wound", "rated_voltage": 480.0}, 1.48),
    ({"year": 1980}, 100.0),
    ({"year": 2004, "rated_voltage": 13800.0}, 100.0),
    ({"rated_voltage": 1000.0}, 100.0),
    ({"rated_voltage": 999.0}, 5.0),
    ({"rated_voltage": 690.0}, 5.0),
    ({"winding": "random-wound", "rated_voltage": 400.0}, 5.0),
    ({"winding": "armature", "rated_voltage": 600.0}, 5.0),
)


@pytest.mark.parametrize(("changed", "megohms"), MINIMA)
def test_the_minimum_of_a_whole_winding(changed: dict[str, Any], megohms: float) -> None:
    found = plan(replace(MACHINE, **changed))
    assert lower(found, "ieee-43-2013.minimum-resistance") == pytest.approx(megohms * 1e6, rel=1e-9)
    assert one(found, "ieee-43-2013.minimum-resistance").decides


@pytest.mark.parametrize(("changed", "megohms"), [row for row in MINIMA if "winding" not in row[0]])
def test_a_phase_with_the_others_earthed_is_expected_at_twice(
    changed: dict[str, Any], megohms: float
) -> None:
    # From memory of IEEE Std 43: one phase with the others earthed reads about twice the whole winding.
    found = plan(replace(PHASES, **changed))
    assert lower(found, "ieee-43-2013.minimum-resistance") == pytest.approx(2 * megohms * 1e6, rel=1e-9)


# K to 40 degC at 20, 25, 30 degC: the thermosetting rule of 2013 (memory) and halving per 10 K (secondary).
@pytest.mark.parametrize(
    ("insulation", "factors"),
    (("epoxy-mica", (0.7622, 0.8186, 0.8770)), ("asphalt-mica", (0.2500, 0.3536, 0.5000))),
)
def test_the_reading_on_a_cool_winding(insulation: str, factors: tuple[float, ...]) -> None:
    entry = one(plan(replace(MACHINE, insulation=insulation)), "ieee-43-2013.minimum-resistance")
    assert [t for t, _ in entry.readings] == list(READ_AT_DEGC)
    assert [r for _, r in entry.readings] == pytest.approx([1e8 / k for k in factors], rel=2e-4)
    assert entry.rule
    assert entry.rule_verified in ("memory", "secondary")


# IEEE Std 43, cl. 12.2 (secondary): 1.5 for class 105, 2.0 from class 130 on; class 120 is not named there.
@pytest.mark.parametrize(
    ("thermal_class", "index"), (("105", 1.5), ("130", 2.0), ("155", 2.0), ("180", 2.0), ("200", 2.0))
)
def test_the_minimum_index(thermal_class: str, index: float) -> None:
    found = plan(replace(MACHINE, thermal_class=thermal_class))
    assert lower(found, "ieee-43-2013.minimum-polarization-index") == index


@pytest.mark.parametrize("thermal_class", ("120", None))
def test_an_index_of_a_class_that_is_not_named_has_no_single_limit(thermal_class: str | None) -> None:
    found = plan(replace(MACHINE, thermal_class=thermal_class)).criteria
    rows = [e for e in found if e.id.startswith("ieee-43-2013.minimum-polarization-index")]
    assert all("thermal class" in e.reason for e in rows)
    assert len(rows) == (0 if thermal_class == "120" else 2)


# ANSI/NETA ATS-2025, Table 100.1 (secondary): rating, MOhm at 20 degC; the first row not below the rating.
TABLE_100_1 = (
    (250.0, 25.0), (600.0, 100.0), (1000.0, 100.0), (2500.0, 500.0), (5000.0, 1500.0), (8000.0, 2500.0),
    (15000.0, 5000.0), (25000.0, 10000.0), (34500.0, 100000.0), (46000.0, 100000.0), (145000.0, 100000.0),
)  # fmt: skip
BETWEEN = (
    (120.0, 25.0), (251.0, 100.0), (690.0, 100.0), (1001.0, 500.0), (4160.0, 1500.0), (6600.0, 2500.0),
    (12000.0, 5000.0), (15001.0, 10000.0), (33000.0, 100000.0),
)  # fmt: skip


@pytest.mark.parametrize(("rated", "megohms"), TABLE_100_1 + BETWEEN)
@pytest.mark.parametrize("asset_class", ("switchgear", "apparatus"))
def test_apparatus_by_its_rating(asset_class: str, rated: float, megohms: float) -> None:
    found = plan(Asset(asset_class=asset_class, rated_voltage=rated))
    entry = one(found, "neta-100-1.minimum-resistance")
    assert entry.limit is not None
    assert entry.limit.lower == pytest.approx(megohms * 1e6)
    # Table 100.14.1, solid (secondary): 1.00, 1.25 and 1.58 at 20, 25 and 30 degC.
    assert [r for _, r in entry.readings] == pytest.approx([megohms * 1e6 / k for k in (1.0, 1.25, 1.58)])


# ANSI/NETA ATS-2025, Table 100.5 (secondary): winding rating, MOhm liquid filled and dry.
@pytest.mark.parametrize(
    ("rated", "liquid", "dry"),
    (
        (433.0, 100.0, 500.0),
        (600.0, 100.0, 500.0),
        (601.0, 1000.0, 5000.0),
        (5000.0, 1000.0, 5000.0),
        (5001.0, 5000.0, 25000.0),
        (132e3, 5000.0, 25000.0),
    ),
)
@pytest.mark.parametrize("filling", ("oil", "ester", "dry"))
def test_transformer_windings(rated: float, liquid: float, dry: float, filling: str) -> None:
    asset = Asset(asset_class="transformer", filling=filling, winding_voltages={"A": rated, "B": rated})
    entry = one(plan(asset), "neta-100-5")
    assert entry.limit is not None
    megohms = dry if filling == "dry" else liquid
    assert entry.limit.lower == pytest.approx(megohms * 1e6)
    # Table 100.14.1 (secondary): oil 1.00, 1.40, 1.98; solid 1.00, 1.25, 1.58.
    factors = (1.0, 1.25, 1.58) if filling == "dry" else (1.0, 1.40, 1.98)
    assert [r for _, r in entry.readings] == pytest.approx([megohms * 1e6 / k for k in factors])
    assert set(entry.for_what) == {"A", "B"}, "joined windings are not judged by the table"


@pytest.mark.parametrize("filling", ("oil", "dry"))
def test_the_one_floor_of_a_transformer_s_index(filling: str) -> None:
    # NETA MTS/ATS 7.2 (secondary): not below 1.0.
    asset = Asset(asset_class="transformer", filling=filling, winding_voltages={"H": 11e3, "L": 433.0})
    assert lower(plan(asset), "neta-mts-2019.transformer-polarization-index") == 1.0


# IEC 60364-6:2016, Table 6.1 (secondary).
@pytest.mark.parametrize("nominal", (120.0, 230.0, 400.0, 500.0, 501.0, 690.0, 1000.0))
def test_a_circuit_has_one_megohm_whatever_its_voltage(nominal: float) -> None:
    found = plan(Asset(asset_class="low-voltage-installation", nominal_voltage=nominal))
    assert [e.limit.lower for e in found.criteria if e.limit] == [1e6]
    assert all(e.readings == () and e.rule == "" for e in found.criteria)


# ---- cables -----------------------------------------------------------------------------------------------
@given(st.floats(1.0, 40.0), st.floats(10.0, 20000.0))
def test_a_cable_of_stated_length_by_its_length(kilovolts: float, metres: float) -> None:
    # (kV + 1) MOhm for 1000 ft, UFGS cable sections (from memory): 15 kV and 2000 ft are 8.0 MOhm (derived).
    asset = Asset(asset_class="cable", rated_voltage=kilovolts * 1e3, length=metres)
    rows = [e for e in plan(asset).criteria if e.limit and "ufgs" in e.id]
    assert rows
    for entry in rows:
        assert entry.limit is not None
        assert entry.limit.lower == pytest.approx((kilovolts + 1) * 304.8 / metres * 1e6, rel=1e-6)


@pytest.mark.parametrize("rated", (600.0, 5e3, 15e3, 35e3))
def test_a_cable_below_one_megohm_is_to_be_explained_whatever_it_is(rated: float) -> None:
    found = plan(Asset(asset_class="cable", rated_voltage=rated))
    assert lower(found, "practice.cable-minimum") == 1e6
    assert lower(found, "practice.shorted") == 1e5


# ---- a limit of the user ----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("text", "quantity", "value"),
    (
        ("200 MOhm", "insulation_resistance_60s", 2e8),
        ("polarization_index 1.5", "polarization_index", 1.5),
        ("dielectric_absorption_ratio 1.25", "dielectric_absorption_ratio", 1.25),
        ("insulation_resistance_600s 1 GOhm", "insulation_resistance_600s", 1e9),
    ),
)
def test_a_limit_of_the_user_decides_and_is_marked(text: str, quantity: str, value: float) -> None:
    rules = replace(default_rules(), limits=user_limits([text]))
    (entry,) = [e for e in plan(MACHINE, rules=rules).criteria if e.verified == "user"]
    assert entry.quantity.removesuffix("_corrected") == quantity
    assert entry.limit is not None
    assert entry.limit.lower == pytest.approx(value)
    assert entry.decides


# ---- missing keys -----------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("asset", "words"),
    (
        (replace(MACHINE, rated_voltage=None), "rated"),
        (replace(MACHINE, winding=None), "winding"),
        (replace(MACHINE, year=None), "year"),
        (replace(MACHINE, thermal_class=None), "thermal class"),
        (Asset(asset_class="switchgear"), "rated_voltage"),
        (Asset(asset_class="transformer", winding_voltages={"H": 11e3, "L": 433.0}), "filling"),
    ),
)
def test_what_is_missing_is_named(asset: Asset, words: str) -> None:
    assert any(words in e.reason for e in plan(asset).criteria)


@pytest.mark.parametrize("asset", (MACHINE, PHASES, Asset(asset_class="switchgear", rated_voltage=12e3)))
def test_no_reading_is_asked_for_that_is_not_a_number(asset: Asset) -> None:
    for entry in plan(asset).criteria:
        assert all(math.isfinite(r) and r > 0 for _, r in entry.readings)
        assert entry.verified in ("read", "secondary", "memory", "practice", "derived", "user")
        assert entry.name
        assert len(set(entry.for_what)) == len(entry.for_what)
