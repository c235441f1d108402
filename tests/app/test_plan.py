"""Plans: which tests, what is refused, what is printed beside a rising voltage, what judges."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from typing import Any

import pytest

from soakage.app.cautions import STEPS
from soakage.app.plan import REFUSAL, Plan, plan
from soakage.app.plan_json import plan_json
from soakage.app.plan_methods import RISING, choose_methods
from soakage.app.rules import default_rules, user_limits
from soakage.errors import UsageError
from soakage.methods import methods
from soakage.model.asset import Asset
from soakage.model.keys import CLASSES

MOTOR = Asset(
    name="Feed pump 2 motor", asset_class="rotating-machine", rated_voltage=6600.0, winding="form-wound",
    insulation="epoxy-mica", thermal_class="155", year=2004,
)  # fmt: skip
GENERATOR = replace(MOTOR, rated_voltage=13800.0)
SMALL = Asset(asset_class="rotating-machine", rated_voltage=400.0, winding="random-wound", rated_power=15e3)
THREE = Asset(asset_class="transformer", filling="oil", winding_voltages={"H": 132e3, "L": 33e3, "T": 11e3})
CABLE = Asset(asset_class="cable", rated_voltage=15e3, length=609.6)
BOARD = Asset(asset_class="switchgear", rated_voltage=12e3)
PANEL = Asset(asset_class="low-voltage-installation", nominal_voltage=230.0)
EXAMPLES = (MOTOR, SMALL, THREE, CABLE, BOARD, PANEL, Asset(asset_class="apparatus", rated_voltage=600.0))


def ids(found: Plan) -> list[str]:
    return [entry.method.id for entry in found.methods]


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


# ---- which tests ------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("asset", "purpose", "expected"),
    (
        (MOTOR, None, ["polarization-index"]),
        (SMALL, None, ["dielectric-absorption-ratio"]),
        (replace(SMALL, rated_power=None), None, ["dielectric-absorption-ratio"]),
        (replace(SMALL, rated_power=500e3), None, ["polarization-index"]),
        (replace(MOTOR, winding="field"), None, ["insulation-resistance"]),
        (replace(MOTOR, cooling="water with undried passages"), None, ["insulation-resistance"]),
        (replace(MOTOR, winding=None), None, ["polarization-index"]),
        (THREE, None, ["terminal-set", "polarization-index"]),
        (CABLE, None, ["cable-core"]),
        (CABLE, "acceptance", ["cable-core", "cable-sheath"]),
        (replace(CABLE, sheath_thickness=0.0025), None, ["cable-core", "cable-sheath"]),
        (BOARD, None, ["insulation-resistance"]),
        (PANEL, None, ["circuit"]),
        (Asset(asset_class="apparatus"), None, ["insulation-resistance"]),
    ),
)
def test_usual_tests(asset: Asset, purpose: str | None, expected: list[str]) -> None:
    found = plan(asset, purpose=purpose)
    assert ids(found) == expected
    assert all(entry.why for entry in found.methods)


def test_the_reason_for_a_short_test_is_the_criterions_own() -> None:
    # 200 hp is 149.2 kW; small random windings absorb for too short a time (secondary, IEEE 43).
    (entry,) = plan(SMALL).methods
    assert "random" in entry.why.lower()


@pytest.mark.parametrize("asset", EXAMPLES, ids=lambda asset: asset.asset_class)
@pytest.mark.parametrize(
    "purpose", (None, "acceptance", "maintenance", "after-repair", "after-fault", "drying")
)
def test_rising_voltage_is_never_proposed(asset: Asset, purpose: str | None) -> None:
    found = plan(asset, purpose=purpose)
    assert all(entry.method.shape not in RISING for entry in found.methods)
    assert found.rising == ()


@pytest.mark.parametrize("asset", EXAMPLES, ids=lambda asset: asset.asset_class)
def test_no_withstand_voltage_is_ever_proposed(asset: Asset) -> None:
    shelf = default_rules().library
    for name in (None, *methods()):
        if name is not None and asset.asset_class not in methods()[name].classes:
            continue
        found = plan(asset, methods=(name,) if name else ())
        tables = [found.test_voltage.table] if found.test_voltage else []
        tables += [entry.voltage.table for entry in found.rising]
        assert all(shelf.voltage_tables[table].role != "withstand" for table in tables)
        # No connection goes above the top of the tables that were used.
        tops = [found.test_voltage.high] if found.test_voltage else []
        tops += [entry.voltage.high for entry in found.rising]
        assert all(c.voltage is None or c.voltage <= max(tops) for c in found.connections)


@pytest.mark.parametrize(
    ("asset", "name"), ((PANEL, "polarization-index"), (MOTOR, "circuit"), (CABLE, "terminal-set"))
)
def test_a_test_not_made_on_the_class_is_refused(asset: Asset, name: str) -> None:
    with pytest.raises(UsageError, match="not made on the class"):
        plan(asset, methods=(name,))


def test_an_unknown_test_is_refused() -> None:
    with pytest.raises(UsageError, match="No method is called"):
        plan(MOTOR, methods=("made-up",))


@pytest.mark.parametrize(
    ("asset", "stated", "words"),
    (
        (Asset(), {}, "class"),
        (Asset(asset_class="boat"), {}, "boat"),
        (MOTOR, {"purpose": "fun"}, "purpose"),
        (MOTOR, {"hazardous_area": "maybe"}, "hazardous_area"),
    ),
)
def test_words_outside_their_list_are_refused(asset: Asset, stated: dict[str, Any], words: str) -> None:
    with pytest.raises(UsageError, match=words):
        plan(asset, **stated)


# ---- hazardous area ---------------------------------------------------------------------------------------
@pytest.mark.parametrize("asset", EXAMPLES, ids=lambda asset: asset.asset_class)
@pytest.mark.parametrize("certificate", (None, "", "   "))
def test_nothing_is_planned_in_a_hazardous_area_without_a_certificate(
    asset: Asset, certificate: str | None
) -> None:
    found = plan(asset, hazardous_area="yes", gas_free_certificate=certificate)
    assert found.refusal == REFUSAL
    assert not any((found.methods, found.connections, found.criteria, found.checklist, found.rising))
    assert found.test_voltage is None
    assert "not stated" not in found.hazardous_area


def test_with_a_certificate_it_is_named() -> None:
    found = plan(MOTOR, hazardous_area="yes", gas_free_certificate="GF-118")
    assert not found.refusal
    assert found.hazardous_area == "Hazardous area: yes, gas-free certificate GF-118"
    assert any("gas-free" in caution.text for caution in found.cautions)


def test_what_is_not_stated_is_said() -> None:
    assert plan(MOTOR).hazardous_area == "Hazardous area: not stated"
    assert plan(MOTOR, hazardous_area="no").hazardous_area == "Hazardous area: no"


# ---- overvoltage ------------------------------------------------------------------------------------------
@pytest.mark.parametrize("name", ("step-voltage", "ramp"))
def test_an_overvoltage_test_stands_behind_what_must_pass_first(name: str) -> None:
    found = plan(GENERATOR, methods=(name,))
    assert ids(found) == ["polarization-index", name]
    order = [c.methods[0] for c in found.connections]
    assert order == sorted(order, key=["polarization-index", name].index)
    (rising,) = found.rising
    assert rising.overvoltage
    for words in ("met their limits", "consents in writing", "Stop at once", "repair"):
        assert any(words in condition for condition in rising.conditions)


def test_the_step_levels_are_equal_and_end_at_the_low_end() -> None:
    # 13.8 kV: 29.325 kV is 1.7 times 1.25 E (derived); five equal steps of a minute are common practice.
    (rising,) = plan(GENERATOR, methods=("step-voltage",)).rising
    assert rising.steps == pytest.approx([5865.0, 11730.0, 17595.0, 23460.0, 29325.0])
    assert rising.voltage.low <= rising.steps[-1] <= rising.voltage.high


def test_the_ramp_rises_at_its_usual_rate() -> None:
    # 1 kV/min is 16.667 V/s (read: paper on ramp tests).
    (rising,) = plan(GENERATOR, methods=("ramp",)).rising
    assert rising.rate == pytest.approx(16.667, rel=1e-4)
    assert rising.steps == ()


@pytest.mark.parametrize(
    "asset", (CABLE, BOARD, replace(MOTOR, rated_voltage=400.0), replace(GENERATOR, winding="random-wound"))
)
def test_where_no_overvoltage_rule_holds_the_steps_stay_within_the_rating(asset: Asset) -> None:
    found = plan(asset, methods=("step-voltage",))
    (rising,) = found.rising
    assert not rising.overvoltage
    assert rising.conditions == ()
    assert found.test_voltage is not None
    assert rising.steps[-1] <= found.test_voltage.high
    assert not any("consent" in caution.text for caution in found.cautions)
    assert any("at or below" in note for note in found.notes)


def test_a_rising_test_keeps_the_ratio_that_was_asked_for() -> None:
    found = plan(BOARD, methods=("step-voltage", "dielectric-absorption-ratio"))
    assert ids(found) == ["dielectric-absorption-ratio", "step-voltage"]
    chosen = choose_methods(BOARD, None, ("step-voltage",))
    assert chosen[0].method.id == "dielectric-absorption-ratio", "the index is not made on switchgear"


# ---- connections ------------------------------------------------------------------------------------------
@pytest.mark.parametrize("asset", EXAMPLES, ids=lambda asset: asset.asset_class)
def test_every_pair_is_seen_by_some_connection(asset: Asset) -> None:
    found = plan(asset)
    seen = {frozenset(pair) for c in found.connections for pair in c.observes}
    assert {frozenset(pair) for pair in found.pairs} <= seen


@pytest.mark.parametrize("asset", (THREE, replace(THREE, winding_voltages={"H": 11e3, "L": 433.0}), PANEL))
def test_sets_tell_every_pair_apart(asset: Asset) -> None:
    found = plan(asset)
    assert found.resolved == found.pairs


def test_a_terminal_set_asked_for_tells_the_phases_apart() -> None:
    assert plan(MOTOR).resolved == ()
    found = plan(MOTOR, methods=("terminal-set",))
    assert found.resolved == found.pairs
    assert len(found.connections) == 7


def test_a_closed_star_point_makes_one_test() -> None:
    (only,) = plan(replace(MOTOR, neutral="closed")).connections
    assert only.tested == ("U", "V", "W")
    assert not any("star point" in note for note in plan(replace(MOTOR, neutral="opened")).notes)
    assert any("star point" in note for note in plan(MOTOR).notes)


def test_ten_minutes_on_one_winding_give_the_set_its_reading_too() -> None:
    found = plan(THREE)
    assert len(found.connections) == 7
    singles = [c for c in found.connections if len(c.parts) == 1]
    assert all(c.methods == ("polarization-index", "terminal-set") for c in singles)


# ---- charging and earthing --------------------------------------------------------------------------------
def test_charging_without_a_capacitance_is_a_formula() -> None:
    found = plan(MOTOR).charging
    assert found is not None
    assert "capacitance not known" in found.text
    assert (found.capacitance, found.charge, found.energy, found.time, found.current) == (None,) * 5


def test_charging_with_a_capacitance() -> None:
    # 88 nF at 5 kV: 440 uC and 1.1 J; 1 uF to 5 kV at 3 mA takes 1.65 s (derived).
    found = plan(MOTOR, capacitance=88e-9).charging
    assert found is not None
    assert found.charge == pytest.approx(440e-6)
    assert found.energy == pytest.approx(1.1)
    assert found.time is None
    assert "not stated" in found.text
    timed = plan(MOTOR, capacitance=1e-6, current_limit=3e-3).charging
    assert timed is not None
    assert timed.time == pytest.approx(1.65)


def test_the_capacitance_of_a_cable_follows_from_its_geometry_and_a_stated_permittivity() -> None:
    # C = e/(18 ln(D/d)) nF/m, the form of IEC 60287-1-1 with 1/18 for 2 pi e0 in rounded figures (from memory).
    asset = replace(CABLE, length=1000.0, conductor_diameter=0.010, insulation_diameter=0.020)
    found = plan(asset, relative_permittivity=2.3).charging
    assert found is not None
    assert found.capacitance == pytest.approx(2.3 / (18 * 0.693147) * 1e-6, rel=2e-3)
    assert "geometry" in found.text
    for lacking in (plan(asset), plan(replace(asset, length=None), relative_permittivity=2.3)):
        assert lacking.charging is not None
        assert lacking.charging.capacitance is None
    stated = plan(asset, relative_permittivity=2.3, capacitance=1e-7).charging
    assert stated is not None
    assert stated.capacitance == 1e-7


def test_the_charging_current_of_a_ramp() -> None:
    # 0.5 uF at 1 kV/min: 8.333 uA (derived).
    found = plan(GENERATOR, methods=("ramp",), capacitance=0.5e-6).charging
    assert found is not None
    assert found.current == pytest.approx(8.333e-6, rel=1e-4)


@pytest.mark.parametrize(
    ("asset", "asked", "minutes"),
    (
        (MOTOR, (), 40.0),  # four times ten minutes: IEEE Std 43 (from memory)
        (SMALL, (), 4.0),
        (BOARD, (), 4.0),
        (MOTOR, ("dielectric-discharge",), 120.0),
    ),
)
def test_earthing_time(asset: Asset, asked: tuple[str, ...], minutes: float) -> None:
    found = plan(asset, methods=asked).earthing
    assert found is not None
    assert found.time == pytest.approx(60.0 * minutes)
    assert "4 times" in found.text


def test_the_residual_time_counts_where_it_is_longer() -> None:
    # For 1 % at the minute after ten minutes: n 0.6 needs 4.9 times, n 0.8 needs 3.5 times (derived).
    slow, fast = (plan(MOTOR, absorption_exponent=n).earthing for n in (0.6, 0.8))
    assert slow is not None
    assert fast is not None
    assert slow.time == pytest.approx(4.9 * 600.0, rel=0.02)
    assert slow.verified == "derived"
    assert fast.time == 2400.0


def test_each_connection_has_its_own_earthing_time() -> None:
    found = plan(THREE)
    assert [e.time for e in found.earthings] == [2400.0] * 3 + [240.0] * 4
    assert found.earthing is not None
    assert found.earthing.time == 2400.0


# ---- criteria ---------------------------------------------------------------------------------------------
def test_what_judges_a_form_wound_motor() -> None:
    found = {entry.id: entry for entry in plan(MOTOR).criteria}
    least = found["ieee-43-2013.minimum-resistance.form-wound"]
    # 100 MOhm for the whole winding, twice that for a phase with the others earthed (memory).
    assert least.limit is not None
    assert least.limit.lower == pytest.approx(200e6)
    # K of the thermosetting rule at 20, 25, 30 degC: 0.7622, 0.8186, 0.8770 (memory).
    assert [t for t, _ in least.readings] == [20.0, 25.0, 30.0]
    assert [r for _, r in least.readings] == pytest.approx(
        [200e6 / k for k in (0.7622, 0.8186, 0.8770)], rel=1e-3
    )
    assert least.decides
    index = found["ieee-43-2013.minimum-polarization-index.class-130-and-above"]
    assert index.limit is not None
    assert index.limit.lower == 2.0
    assert index.readings == ()
    assert "gb-50150-2006.phase-spread.machine" in found


def test_a_closed_star_point_halves_the_limit() -> None:
    found = {entry.id: entry for entry in plan(replace(MOTOR, neutral="closed")).criteria}
    limit = found["ieee-43-2013.minimum-resistance.form-wound"].limit
    assert limit is not None
    assert limit.lower == pytest.approx(100e6)
    assert "gb-50150-2006.phase-spread.machine" not in found


def test_what_hangs_on_a_missing_key_is_shown_with_the_key() -> None:
    found = plan(replace(MOTOR, year=None, insulation=None)).criteria
    rows = [entry for entry in found if entry.id.startswith("ieee-43-2013.minimum-resistance")]
    assert len(rows) > 1
    assert all("year" in entry.reason and "insulation" in entry.reason for entry in rows)
    assert all(entry.readings == () for entry in rows)


def test_windings_are_judged_each_by_its_own_row() -> None:
    # ANSI/NETA ATS-2025, Table 100.5, liquid filled: 600 V 100 MOhm, above 5 kV 5 GOhm (secondary).
    asset = Asset(asset_class="transformer", filling="oil", winding_voltages={"H": 11e3, "L": 433.0})
    rows = [e for e in plan(asset).criteria if e.id.startswith("neta-100-5")]
    assert {e.for_what: e.limit.lower for e in rows if e.limit} == {("H",): 5e9, ("L",): 100e6}


def test_a_low_voltage_circuit_has_one_megohm_and_no_temperature() -> None:
    # IEC 60364-6:2016, Table 6.1 (secondary).
    (entry,) = plan(PANEL).criteria
    assert entry.limit is not None
    assert entry.limit.lower == 1e6
    assert entry.readings == ()


def test_a_limit_of_the_user_is_among_them() -> None:
    rules = replace(default_rules(), limits=user_limits(["polarization_index 2.5"]))
    found = [entry for entry in plan(MOTOR, rules=rules).criteria if entry.verified == "user"]
    assert [entry.limit.lower for entry in found if entry.limit] == [2.5]


def test_a_criterion_says_which_connections_it_is_for() -> None:
    index = next(e for e in plan(THREE).criteria if e.quantity == "polarization_index")
    assert index.for_what == ("H", "L", "T")


# ---- the whole --------------------------------------------------------------------------------------------
@pytest.mark.parametrize("asset_class", CLASSES)
def test_a_plan_needs_nothing_but_the_class(asset_class: str) -> None:
    found = plan(Asset(asset_class=asset_class))
    assert found.connections
    assert found.cautions
    assert found.checklist[0].startswith("Permit")
    assert found.rules


@pytest.mark.parametrize("asset", EXAMPLES, ids=lambda asset: asset.asset_class)
def test_cautions_are_said_once_and_in_order(asset: Asset) -> None:
    for asked in ((), *((name,) for name, entry in methods().items() if asset.asset_class in entry.classes)):
        found = plan(asset, methods=asked).cautions
        assert len({caution.text for caution in found}) == len(found)
        steps = [caution.step for caution in found]
        assert steps == sorted(steps, key=STEPS.index)


def test_the_checklist_follows_the_star_point() -> None:
    assert any("opened; both ends" in item for item in plan(replace(MOTOR, neutral="opened")).checklist)
    assert any("closed; all phases" in item for item in plan(replace(MOTOR, neutral="closed")).checklist)
    assert not any("Star point" in item for item in plan(replace(MOTOR, winding="field")).checklist)


@pytest.mark.parametrize("asset", EXAMPLES, ids=lambda asset: asset.asset_class)
def test_json_has_the_keys_of_the_contract(asset: Asset) -> None:
    found = plan_json(plan(asset, hazardous_area="no"))
    text = json.dumps(found)
    contract = {
        "methods",
        "test_voltage",
        "connections",
        "marks",
        "charging",
        "criteria",
        "earthing_time",
        "cautions",
    }
    assert contract <= set(found)
    assert {"value", "unit", "source"} <= set(found["test_voltage"])
    assert all({"tested", "earthed", "guarded"} <= set(c) for c in found["connections"])
    assert found["earthing_time"]["unit"] == "s"
    assert found["refusal"] is None
    assert "NaN" not in text
    assert not re.search(r"\bsafe\b|is discharged|all clear|may be energi", text, re.IGNORECASE)


def test_json_of_a_refusal() -> None:
    found = plan_json(plan(MOTOR, hazardous_area="yes"))
    assert found["refusal"] == REFUSAL
    assert found["connections"] == found["methods"] == found["marks"] == []
    assert found["test_voltage"] is None
    assert found["charging"] is None
    assert found["earthing_time"] is None


def test_json_of_marks_and_steps() -> None:
    found = plan_json(plan(GENERATOR, methods=("step-voltage",)))
    times = [mark["time"] for mark in found["marks"] if mark["method"] == "polarization-index"]
    assert times == [15.0, 30.0, 60.0, 190.0, 300.0, 600.0]
    (rising,) = found["rising"]
    assert rising["overvoltage"] is True
    assert rising["hold"] == 60.0
    assert len(rising["steps"]) == 5
    assert [c["voltage"] for c in found["connections"]][-1] == pytest.approx(29325.0)
