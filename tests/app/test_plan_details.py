"""Notes, order, rising tests and connections of a plan, one rule at a time."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.app.plan import Plan, plan
from soakage.app.plan_connections import (
    Terminals,
    each_pair,
    full_set,
    incidence,
    joined,
    observed,
    one_by_one,
    sheath,
    terminals,
    told_apart,
)
from soakage.app.plan_rising import AFTER_INDEX, CONSENT, REPAIR, STOP_RULE
from soakage.app.plan_sheet import schedule_rows, sheet_names, sheet_values
from soakage.app.plan_voltage import span, table_for
from soakage.app.rules import default_rules
from soakage.model.asset import Asset

GENERATOR = Asset(
    name="G1", asset_class="rotating-machine", rated_voltage=13800.0, winding="form-wound",
    insulation="epoxy-mica", thermal_class="155", year=2004,
)  # fmt: skip
OIL = Asset(name="T1", asset_class="transformer", filling="oil", winding_voltages={"H": 33e3, "L": 433.0})
CABLE = Asset(name="C1", asset_class="cable", rated_voltage=15e3, length=600.0, cores=("L1", "L2", "L3"))
PANEL = Asset(name="P1", asset_class="low-voltage-installation", nominal_voltage=230.0)
BOARD = Asset(name="B1", asset_class="switchgear", rated_voltage=12e3)
NAMES = ("A", "B", "C", "D", "F")


def notes(found: Plan) -> str:
    return "\n".join(found.notes)


# ---- notes ------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("asset", "purpose", "words", "others"),
    (
        (GENERATOR, None, ("Terminals not stated: U, V, W, frame", "open star point"), ("oversheath",)),
        (replace(GENERATOR, terminals=("U", "V", "W", "frame")), None, ("star point",), ("not stated",)),
        (replace(GENERATOR, neutral="closed"), None, (), ("star point",)),
        (replace(GENERATOR, neutral="opened"), None, (), ("star point",)),
        (replace(GENERATOR, winding="field"), None, (), ("star point", "not stated: U")),
        (replace(GENERATOR, rated_voltage=None), None, ("No test voltage for U, V, W", "rated_voltage"), ()),
        (Asset(asset_class="transformer"), None, ("H, L, tank", "winding_voltages"), ()),
        (OIL, None, (), ("not stated", "No test voltage")),
        (CABLE, None, ("all insulation between",), ("oversheath", "not stated")),
        (CABLE, "acceptance", ("The voltage for the oversheath is the maker's",), ()),
        (replace(CABLE, rated_voltage=None), None, ("No test voltage for L1, L2, L3", "rated_voltage"), ()),
        (PANEL, None, ("Conductors not named stay open",), ("all insulation between",)),
        (replace(PANEL, nominal_voltage=None), None, ("nominal_voltage",), ()),
        (BOARD, None, ("L1, L2, L3, earth", "all insulation between"), ("terminal set",)),
    ),
)
def test_what_a_plan_says_about_itself(
    asset: Asset, purpose: str | None, words: tuple[str, ...], others: tuple[str, ...]
) -> None:
    text = notes(plan(asset, purpose=purpose))
    assert [word for word in words if word not in text] == []
    assert [word for word in others if word in text] == []


def test_a_terminal_set_is_named_where_it_could_tell_more() -> None:
    assert "terminal set, asked for by name" in notes(plan(GENERATOR))
    assert "terminal set" not in notes(plan(GENERATOR, methods=("terminal-set",)))
    assert "terminal set" not in notes(plan(CABLE))


@pytest.mark.parametrize("asset", (GENERATOR, OIL, CABLE, PANEL, BOARD))
def test_every_note_is_a_sentence(asset: Asset) -> None:
    for note in plan(asset, purpose="acceptance").notes:
        assert note.endswith(".")
        assert note[0].isupper()


# ---- order ------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("asset", "asked", "order"),
    (
        (GENERATOR, (), ["polarization-index"] * 3),
        (GENERATOR, ("ramp",), ["polarization-index"] * 3 + ["ramp"] * 3),
        (GENERATOR, ("ramp", "dielectric-absorption-ratio"), ["dielectric-absorption-ratio"] * 3 + ["ramp"] * 3),
        (
            GENERATOR, ("step-voltage", "polarization-index", "insulation-resistance"),
            ["polarization-index"] * 3 + ["insulation-resistance"] * 3 + ["step-voltage"] * 3,
        ),
        (replace(GENERATOR, neutral="closed"), ("ramp",), ["polarization-index", "ramp"]),
        (CABLE, ("cable-sheath", "cable-core"), ["cable-sheath"] + ["cable-core"] * 3),
        (BOARD, ("step-voltage",), ["dielectric-absorption-ratio"] * 3 + ["step-voltage"] * 3),
        (PANEL, (), ["circuit"] * 3),
    ),
)  # fmt: skip
def test_the_order_of_the_connections(asset: Asset, asked: tuple[str, ...], order: list[str]) -> None:
    assert [c.methods[0] for c in plan(asset, methods=asked).connections] == order


def test_a_method_asked_for_twice_is_made_once() -> None:
    twice = plan(BOARD, methods=("insulation-resistance", "insulation-resistance"))
    assert twice == plan(BOARD, methods=("insulation-resistance",))


def test_the_set_has_one_voltage_and_the_index_each_its_own() -> None:
    # ANSI/NETA Table 100.5 (secondary): 5 kV for 33 kV, 1 kV for 433 V.
    voltages = {(c.title, c.methods[0]): c.voltage for c in plan(OIL).connections}
    assert {v for (_, m), v in voltages.items() if m == "terminal-set"} == {1000.0}
    assert voltages["H", "polarization-index"] == 5000.0
    assert voltages["L", "polarization-index"] == 1000.0


# ---- rising tests -----------------------------------------------------------------------------------------
@given(st.floats(2301.0, 30e3), st.sampled_from(("step-voltage", "ramp")))
def test_the_top_of_a_maintenance_overvoltage(rated: float, name: str) -> None:
    # 1.7 times 1.25 E to 1.5 E (IEEE Std 95-2002, secondary).
    (found,) = plan(replace(GENERATOR, rated_voltage=rated), methods=(name,)).rising
    assert found.overvoltage
    assert found.voltage.low == pytest.approx(1.7 * 1.25 * rated, rel=1e-9)
    assert found.voltage.high == pytest.approx(1.7 * 1.5 * rated, rel=1e-9)
    assert found.voltage.value == found.voltage.low
    assert found.conditions == (AFTER_INDEX, CONSENT, STOP_RULE, REPAIR)
    if found.steps:
        assert [b - a for a, b in pairwise((0.0, *found.steps))] == pytest.approx(
            [found.voltage.value / 5] * 5
        )


@given(st.floats(100.0, 2299.0))
def test_no_overvoltage_on_a_small_machine(rated: float) -> None:
    (found,) = plan(replace(GENERATOR, rated_voltage=rated), methods=("step-voltage",)).rising
    assert not found.overvoltage
    assert found.conditions == ()


@pytest.mark.parametrize(
    ("condition", "words"),
    (
        (AFTER_INDEX, ("resistance and the index", "this visit", "signed")),
        (CONSENT, ("owner consents in writing",)),
        (STOP_RULE, ("abrupt rise", "break in its slope", "grows while the voltage stands")),
        (REPAIR, ("way to repair is agreed",)),
    ),
)
def test_what_must_stand_in_writing(condition: str, words: tuple[str, ...]) -> None:
    assert all(word in condition for word in words)


# ---- voltage tables ---------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "asset_class", ("rotating-machine", "transformer", "switchgear", "cable", "apparatus")
)
@given(first=st.floats(1.0, 5e5), second=st.floats(1.0, 5e5))
def test_a_higher_rating_never_asks_for_a_lower_voltage(
    asset_class: str, first: float, second: float
) -> None:
    rules = default_rules()
    key = "tested_winding_voltage" if asset_class == "transformer" else "rated_voltage"
    facts = {"class": asset_class, key: min(first, second), "winding": "form-wound", "filling": "oil"}
    table = table_for(rules, facts, "insulation-resistance")
    assert table is not None
    low, high = span(table, min(first, second)), span(table, max(first, second))
    assert low is not None
    assert high is not None
    assert low[0] <= high[0]
    assert low[1] <= high[1]
    assert low[2]


@pytest.mark.parametrize("role", ("withstand", "factory", "", "overvoltage "))
def test_no_other_role_names_a_table(role: str) -> None:
    assert table_for(default_rules(), {"class": "cable", "rated_voltage": 15e3}, role) is None


# ---- connections ------------------------------------------------------------------------------------------
@pytest.mark.parametrize("count", (1, 2, 3, 4, 5))
def test_how_many_connections_each_way_takes(count: int) -> None:
    parts = Terminals(NAMES[:count], "earth")
    assert len(one_by_one(parts, "m")) == count
    assert len(joined(parts, "m")) == 1
    assert len(each_pair(parts, "m")) == len(parts.pairs) == count * (count + 1) // 2
    check = 1 if count >= 3 else 0
    assert len(full_set(parts, "m")) == count + count * (count - 1) // 2 + check
    assert len(sheath(parts, "m")) == 1


@pytest.mark.parametrize("count", (2, 3, 4, 5))
@given(data=st.data())
def test_a_full_set_gives_back_any_network(count: int, data: st.DataObject) -> None:
    parts = Terminals(NAMES[:count], "earth")
    pairs = parts.pairs
    siemens = np.array(data.draw(st.lists(st.floats(1e-3, 1.0), min_size=len(pairs), max_size=len(pairs))))
    rows = incidence(pairs, full_set(parts, "m"))
    # Each reading by Kirchhoff's law: what crosses from the live group to the rest.
    readings = []
    for c in full_set(parts, "m"):
        live = set(c.parts)
        readings.append(
            sum(g for g, (a, b) in zip(siemens, pairs, strict=True) if (a in live) != (b in live))
        )
    np.testing.assert_allclose(rows @ siemens, readings, rtol=1e-12)
    solved = np.linalg.lstsq(rows, np.array(readings), rcond=None)[0]
    np.testing.assert_allclose(solved, siemens, rtol=1e-6, atol=1e-9)
    assert told_apart(pairs, full_set(parts, "m")) == pairs


@pytest.mark.parametrize("count", (2, 3, 4))
def test_what_is_observed_is_live_to_earthed_and_nothing_guarded(count: int) -> None:
    for size in range(1, count):
        for live in combinations(NAMES[:count], size):
            far = tuple(name for name in NAMES[:count] if name not in live)
            assert set(observed(live, far)) == {(a, b) for a in live for b in far}
    assert observed(("A",), ()) == ()


@pytest.mark.parametrize(
    ("asset", "live", "earth"),
    (
        (Asset(asset_class="transformer", winding_voltages={"HV": 1.0, "LV": 2.0}), ("HV", "LV"), "tank"),
        (Asset(asset_class="cable", cores=("1", "2")), ("1", "2"), "screen"),
        (Asset(asset_class="cable", terminals=("L1", "screen")), ("L1",), "screen"),
        (Asset(asset_class="rotating-machine", winding="field"), ("field",), "frame"),
        (Asset(asset_class="rotating-machine", winding="armature"), ("armature",), "frame"),
        (Asset(asset_class="switchgear", terminals=("L1", "L2", "L3", "PE")), ("L1", "L2", "L3"), "PE"),
        (Asset(asset_class="rotating-machine", terminals=("frame",)), ("U", "V", "W"), "frame"),
        (Asset(), ("terminals",), "earth"),
    ),
)
def test_the_parts_of_an_asset(asset: Asset, live: tuple[str, ...], earth: str) -> None:
    found = terminals(asset)
    assert (found.live, found.earth) == (live, earth)
    assert found.nodes == (*live, earth)


# ---- sheets -----------------------------------------------------------------------------------------------
@pytest.mark.parametrize("asset", (GENERATOR, OIL, CABLE, BOARD))
def test_every_connection_has_a_sheet_of_its_own_name(asset: Asset) -> None:
    found = plan(asset)
    names = sheet_names(found, "x.csv")
    assert len(set(names)) == len(found.connections)
    for place, c in enumerate(found.connections):
        values, marks, columns = sheet_values(found, place)
        assert values["tested"] == list(c.tested)
        assert values["earthed"] == list(c.earthed)
        assert values["class"] == asset.asset_class
        assert list(marks) == sorted(marks)
        assert columns[0].startswith("time")
    assert schedule_rows(found) == ()


@given(st.integers(2, 5))
def test_a_schedule_has_a_row_for_every_pair(count: int) -> None:
    names = (*(f"L{k}" for k in range(1, count)), "N", "PE")
    found = plan(replace(PANEL, terminals=names, circuit="Kitchen"))
    rows = schedule_rows(found)
    assert len(rows) == len(names) * (len(names) - 1) // 2
    assert {frozenset(row[1].split("-")) for row in rows} == {frozenset(p) for p in combinations(names, 2)}
    assert all(row[0] == "Kitchen" and row[3:] == ("", "") for row in rows)
    assert [("PE" in row[1]) for row in rows] == sorted((("PE" in row[1]) for row in rows), reverse=True)
