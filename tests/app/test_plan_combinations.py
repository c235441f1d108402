"""Plans over every class, method, purpose and kind of area: what must hold of each one."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import product

import pytest

from soakage.app.plan import REFUSAL, plan
from soakage.app.plan_charging import HOLD, STEPS, USUAL_RATE
from soakage.app.plan_json import plan_json
from soakage.app.rules import default_rules
from soakage.methods import methods
from soakage.methods.base import Shape
from soakage.model.asset import Asset
from soakage.model.connection import is_earth
from soakage.model.keys import CLASSES, PURPOSES
from soakage.quantities import lookup

ASSETS: dict[str, tuple[Asset, ...]] = {
    "rotating-machine": (
        Asset(asset_class="rotating-machine"),
        Asset(asset_class="rotating-machine", rated_voltage=6600.0, winding="form-wound", year=2004),
        Asset(asset_class="rotating-machine", rated_voltage=400.0, winding="random-wound", rated_power=15e3),
        Asset(asset_class="rotating-machine", rated_voltage=250.0, winding="field"),
        Asset(asset_class="rotating-machine", rated_voltage=13800.0, winding="form-wound", neutral="closed"),
    ),
    "transformer": (
        Asset(asset_class="transformer"),
        Asset(asset_class="transformer", filling="dry", winding_voltages={"H": 11e3, "L": 433.0}),
        Asset(asset_class="transformer", filling="oil", winding_voltages={"H": 132e3, "X": 33e3, "Y": 11e3}),
    ),
    "cable": (
        Asset(asset_class="cable"),
        Asset(asset_class="cable", rated_voltage=15e3, length=600.0, cores=("1", "2", "3"), sheath_thickness=2e-3),
        Asset(asset_class="cable", rated_voltage=600.0, cores=("L",)),
    ),
    "switchgear": (Asset(asset_class="switchgear"), Asset(asset_class="switchgear", rated_voltage=36e3)),
    "low-voltage-installation": (
        Asset(asset_class="low-voltage-installation"),
        Asset(asset_class="low-voltage-installation", nominal_voltage=400.0, terminals=("L1", "L2", "N", "PE")),
    ),
    "apparatus": (Asset(asset_class="apparatus"), Asset(asset_class="apparatus", rated_voltage=5000.0)),
}  # fmt: skip
CASES = tuple(
    (asset, name)
    for asset_class in CLASSES
    for asset, name in product(
        ASSETS[asset_class],
        (None, *(test for test, entry in methods().items() if asset_class in entry.classes)),
    )
)
IDS = [
    f"{asset.asset_class}-{asset.winding or asset.filling or asset.rated_voltage}-{n}" for asset, n in CASES
]
WITHSTAND = [
    table.id for table in default_rules().library.voltage_tables.values() if table.role == "withstand"
]


def asked(name: str | None) -> tuple[str, ...]:
    return (name,) if name else ()


@pytest.mark.parametrize(("asset", "name"), CASES, ids=IDS)
def test_whatever_the_purpose(asset: Asset, name: str | None) -> None:
    for purpose in (None, *PURPOSES):
        found = plan(asset, methods=asked(name), purpose=purpose, hazardous_area="no")
        assert not found.refusal
        assert found.connections
        assert found.paper.purpose == purpose
        made = {entry.method.id for entry in found.methods}
        assert name is None or name in made
        assert {test for c in found.connections for test in c.methods} == made
        assert all(entry.method.id in made for entry in found.methods)
        assert all((asset.asset_class or "") in entry.method.classes for entry in found.methods)
        assert found.rules == default_rules().profile.title
        assert len(found.earthings) == len(found.connections)


@pytest.mark.parametrize(("asset", "name"), CASES, ids=IDS)
def test_whatever_the_area(asset: Asset, name: str | None) -> None:
    without = plan(asset, methods=asked(name), hazardous_area="yes")
    assert without.refusal == REFUSAL
    assert not any((without.connections, without.methods, without.rising, without.criteria))
    assert (without.test_voltage, without.charging, without.earthing) == (None, None, None)
    with_it = plan(asset, methods=asked(name), hazardous_area="yes", gas_free_certificate="GF-9")
    open_ = plan(asset, methods=asked(name))
    closed = plan(asset, methods=asked(name), hazardous_area="no")
    assert with_it.connections == open_.connections == closed.connections
    assert len(with_it.cautions) == len(open_.cautions) == len(closed.cautions) + 1
    assert "not stated" in open_.hazardous_area
    assert "GF-9" in with_it.hazardous_area


@pytest.mark.parametrize(("asset", "name"), CASES, ids=IDS)
def test_every_connection_can_be_made(asset: Asset, name: str | None) -> None:
    for c in plan(asset, methods=asked(name)).connections:
        named = (*c.tested, *c.earthed, *c.guarded)
        assert c.tested
        assert c.earthed
        assert len(set(named)) == len(named), "no terminal is in two places"
        assert c.title
        assert all({near} <= {*c.tested, *c.parts} for near, _ in c.observes)
        assert c.observes
        if "cable-sheath" not in c.methods:
            assert not any(is_earth(terminal) for terminal in c.tested)


@pytest.mark.parametrize(("asset", "name"), CASES, ids=IDS)
def test_no_voltage_but_from_a_table_that_proposes(asset: Asset, name: str | None) -> None:
    for purpose in (None, "after-fault"):
        found = plan(asset, methods=asked(name), purpose=purpose)
        tops = [found.test_voltage.high] if found.test_voltage else []
        tops += [entry.voltage.high for entry in found.rising]
        for voltage in [v for v in (found.test_voltage, *(r.voltage for r in found.rising)) if v]:
            assert voltage.table not in WITHSTAND
            assert voltage.low <= voltage.value <= voltage.high
            assert voltage.source
            assert voltage.why.endswith(".")
        for c in found.connections:
            assert c.voltage is None or 0 < c.voltage <= max(tops)
        stated = asset.rated_voltage or asset.nominal_voltage or asset.winding_voltages
        if not stated:
            assert all(c.voltage is None for c in found.connections), "no voltage is made up"


@pytest.mark.parametrize(("asset", "name"), CASES, ids=IDS)
def test_earthing_is_four_times_the_longest_time_under_voltage(asset: Asset, name: str | None) -> None:
    # IEEE Std 43, cl. 5.5 (from memory); one minute where a method has no mark; a charge of 30 min
    # before a dielectric discharge; five steps of a minute; a ramp of 1 kV/min (common practice).
    found = plan(asset, methods=asked(name))
    shapes = {entry.method.id: entry.method for entry in found.methods}
    for c, earthing in zip(found.connections, found.earthings, strict=True):
        longest = 0.0
        for test in c.methods:
            entry = shapes[test]
            times = [mark.time for mark in entry.marks if not mark.after_discharge] or [60.0]
            if entry.shape is Shape.DISCHARGE:
                times.append(1800.0)
            if entry.shape is Shape.STEPS:
                times = [300.0]
            if entry.shape is Shape.RAMP and c.voltage:
                times = [c.voltage / (1000 / 60)]
            longest = max(longest, *times)
        assert earthing.under_voltage == pytest.approx(longest)
        assert earthing.time == pytest.approx(4 * longest)
    assert found.earthing is not None
    assert found.earthing.time == max(e.time for e in found.earthings)


@pytest.mark.parametrize(("asset", "name"), CASES, ids=IDS)
def test_rising_voltage_only_when_asked_for_and_never_first(asset: Asset, name: str | None) -> None:
    found = plan(asset, methods=asked(name))
    rising = name is not None and methods()[name].shape in (Shape.STEPS, Shape.RAMP)
    if not rising:
        assert found.rising == ()
        return
    assert found.methods[0].method.shape is Shape.HOLD
    assert found.methods[-1].method.id == name
    for entry in found.rising:
        assert bool(entry.steps) != bool(entry.rate)
        assert entry.steps == () or len(entry.steps) == STEPS
        assert entry.rate in (None, USUAL_RATE)
        assert bool(entry.conditions) == entry.overvoltage
        normal = found.test_voltage.high if found.test_voltage else 0.0
        assert entry.overvoltage == (entry.voltage.value > normal)


@pytest.mark.parametrize(("asset", "name"), CASES, ids=IDS)
def test_the_plan_as_json(asset: Asset, name: str | None) -> None:
    found = plan(asset, methods=asked(name), purpose="maintenance", capacitance=2e-7)
    data = json.loads(json.dumps(plan_json(found), allow_nan=False))
    assert [entry["id"] for entry in data["methods"]] == [entry.method.id for entry in found.methods]
    assert len(data["connections"]) == len(found.connections)
    assert [c["tested"] for c in data["connections"]] == [list(c.tested) for c in found.connections]
    assert data["purpose"] == "maintenance"
    assert data["hazardous_area"] == "not stated"
    assert data["class"] == asset.asset_class
    assert all(mark["unit"] == "s" and mark["time"] > 0 for mark in data["marks"])
    assert {tuple(pair["between"]) for pair in data["pairs"]} == set(found.pairs)
    assert data["earthing_time"]["value"] == found.earthing.time if found.earthing else None
    for entry in data["criteria"]:
        limit = entry["limit"]
        assert limit or entry["reason"], "a criterion has a limit or says why not"
        assert entry["source"]
        assert entry["connections"]
        assert lookup(entry["quantity"]).unit == (limit or {"unit": lookup(entry["quantity"]).unit})["unit"]


@pytest.mark.parametrize(("asset", "name"), CASES, ids=IDS)
def test_a_plan_is_the_same_twice(asset: Asset, name: str | None) -> None:
    assert plan(asset, methods=asked(name)) == plan(replace(asset), methods=asked(name))


def test_the_quick_form_of_steps_and_ramp() -> None:
    # Five equal steps in five minutes, 1 kV/min: common practice, no source; 16.667 V/s (derived).
    assert (STEPS, HOLD) == (5, 60.0)
    assert pytest.approx(16.667, rel=1e-4) == USUAL_RATE
