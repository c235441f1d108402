"""Test voltages of a plan against the rows of the published tables."""

from __future__ import annotations

import pytest

from soakage.app.plan import plan
from soakage.app.plan_connections import Connection
from soakage.app.plan_facts import voltage_facts
from soakage.app.plan_voltage import (
    INSULATION_RESISTANCE,
    OVERVOLTAGE,
    choose,
    span,
    table_for,
)
from soakage.app.rules import default_rules
from soakage.model.asset import Asset
from soakage.standards.criterion import VoltageTable
from soakage.standards.library import library

MACHINE, TRANSFORMER, CABLE, BOARD, LOW = (
    "rotating-machine", "transformer", "cable", "switchgear", "low-voltage-installation",
)  # fmt: skip


def voltage(asset: Asset, **stated: str) -> tuple[float, float, float] | None:
    found = plan(asset, hazardous_area="no", **stated).test_voltage  # type: ignore[arg-type]
    return (found.low, found.high, found.value) if found else None


# IEEE Std 43-2000, Table 1 (secondary; the edition of 2013 is believed to print the same).
@pytest.mark.parametrize(
    ("rated", "low", "high"),
    (
        (400.0, 500.0, 500.0),
        (999.0, 500.0, 500.0),
        (1000.0, 500.0, 1000.0),
        (2500.0, 500.0, 1000.0),
        (2501.0, 1000.0, 2500.0),
        (5000.0, 1000.0, 2500.0),
        (5001.0, 2500.0, 5000.0),
        (6600.0, 2500.0, 5000.0),
        (12000.0, 2500.0, 5000.0),
        (12001.0, 5000.0, 10000.0),
        (13800.0, 5000.0, 10000.0),
    ),
)
def test_machines(rated: float, low: float, high: float) -> None:
    asset = Asset(asset_class=MACHINE, winding="form-wound", rated_voltage=rated, insulation="epoxy-mica")
    assert voltage(asset) == (low, high, high)


# ANSI/NETA ATS-2025, Table 100.1 (secondary): rating of the equipment, direct test voltage.
@pytest.mark.parametrize("asset_class", (BOARD, "apparatus", CABLE))
@pytest.mark.parametrize(
    ("rated", "volts"),
    (
        (250.0, 500.0), (600.0, 1000.0), (1000.0, 1000.0), (2500.0, 1000.0), (5000.0, 2500.0),
        (8000.0, 2500.0), (15000.0, 2500.0), (25000.0, 5000.0), (34500.0, 5000.0), (46000.0, 5000.0),
        (3300.0, 2500.0), (12000.0, 2500.0), (110000.0, 5000.0),
    ),
)  # fmt: skip
def test_switchgear_apparatus_and_cables(asset_class: str, rated: float, volts: float) -> None:
    found = voltage(Asset(asset_class=asset_class, rated_voltage=rated))
    assert found is not None
    assert found[2] == volts


# ANSI/NETA ATS-2025, Table 100.5 (secondary): winding rating, direct test voltage.
@pytest.mark.parametrize(
    ("rated", "volts"),
    ((480.0, 1000.0), (600.0, 1000.0), (601.0, 2500.0), (5000.0, 2500.0), (5001.0, 5000.0)),
)
def test_transformer_windings(rated: float, volts: float) -> None:
    asset = Asset(asset_class=TRANSFORMER, filling="oil", winding_voltages={"H": rated, "L": rated})
    found = voltage(asset)
    assert found is not None
    assert found[2] == volts


# IEC 60364-6:2016, Table 6.1 (secondary).
@pytest.mark.parametrize(
    ("nominal", "volts"), ((230.0, 500.0), (400.0, 500.0), (500.0, 500.0), (690.0, 1000.0))
)
def test_low_voltage_circuits(nominal: float, volts: float) -> None:
    found = voltage(Asset(asset_class=LOW, nominal_voltage=nominal))
    assert found is not None
    assert found[2] == volts


def test_extra_low_voltage() -> None:
    found = voltage(Asset(asset_class=LOW, nominal_voltage=24.0, section="SELV"))
    assert found is not None
    assert found[2] == 250.0


@pytest.mark.parametrize(
    ("insulation", "purpose", "low_end"),
    (
        ("epoxy-mica", None, False),
        ("epoxy-mica", "maintenance", False),
        (None, None, False),
        ("asphalt", None, True),
        ("epoxy-mica", "after-fault", True),
        ("epoxy-mica", "drying", True),
    ),
)
def test_where_in_the_range(insulation: str | None, purpose: str | None, low_end: bool) -> None:
    asset = Asset(asset_class=MACHINE, winding="form-wound", rated_voltage=6600.0, insulation=insulation)
    found = plan(asset, purpose=purpose, hazardous_area="no").test_voltage
    assert found is not None
    assert found.value == (found.low if low_end else found.high)
    assert found.why.startswith("The low end" if low_end else "The high end")


def test_a_voltage_carries_its_row_source_and_status() -> None:
    found = plan(Asset(asset_class=MACHINE, rated_voltage=6600.0)).test_voltage
    assert found is not None
    assert found.row.replace("\u00a0", " ") == "rated voltage above 5 kV, up to 12 kV"
    assert found.source == "IEEE Std 43-2000, Table 1"
    assert found.verified == "secondary"
    assert found.table == "ieee-43-2000.test-voltage"


@pytest.mark.parametrize("asset_class", (MACHINE, TRANSFORMER, CABLE, BOARD, LOW, "apparatus"))
def test_without_a_rating_no_voltage_is_made_up(asset_class: str) -> None:
    found = plan(Asset(asset_class=asset_class))
    assert found.test_voltage is None
    assert all(connection.voltage is None for connection in found.connections)
    assert any("not stated" in note for note in found.notes)


def test_tables_of_withstand_voltages_are_never_picked() -> None:
    rules = default_rules()
    assert any(table.role == "withstand" for table in library().voltage_tables.values())
    for asset in (
        Asset(asset_class=MACHINE, winding="form-wound", rated_voltage=13800.0),
        Asset(asset_class=CABLE, rated_voltage=15000.0, sheath_thickness=0.0025),
    ):
        facts = voltage_facts(
            asset, Connection(("cable-sheath",), ("screen",), ("earth",), parts=("screen",))
        )
        assert table_for(rules, facts, "withstand") is None


# IEEE Std 95-2002: 1.7 times 1.25 to 1.5 E; 13.8 kV gives 29.325 to 35.19 kV (secondary; figures derived).
def test_overvoltage_span() -> None:
    asset = Asset(asset_class=MACHINE, winding="form-wound", rated_voltage=13800.0)
    facts = voltage_facts(asset, Connection(("step-voltage",), ("U",), ("frame",), parts=("U",)))
    found = choose(default_rules(), asset, facts, role=OVERVOLTAGE)
    assert found is not None
    assert (found.low, found.high) == pytest.approx((29325.0, 35190.0))
    assert found.value == found.low


def test_no_overvoltage_below_the_scope_of_the_rule() -> None:
    asset = Asset(asset_class=MACHINE, winding="form-wound", rated_voltage=2200.0)
    facts = voltage_facts(asset, Connection(("step-voltage",), ("U",), ("frame",), parts=("U",)))
    assert choose(default_rules(), asset, facts, role=OVERVOLTAGE) is None
    assert choose(default_rules(), asset, facts, role=INSULATION_RESISTANCE) is not None


@pytest.mark.parametrize("table", library().voltage_tables.values(), ids=lambda table: table.id)
def test_span_agrees_with_the_examples_of_each_table(table: VoltageTable) -> None:
    for given, low, high in table.examples:
        found = span(table, given)
        assert found is not None
        assert found[:2] == pytest.approx((low, high))


def test_joined_windings_take_the_voltage_of_the_weakest() -> None:
    asset = Asset(asset_class=TRANSFORMER, filling="dry", winding_voltages={"H": 11000.0, "L": 433.0})
    found = plan(asset, methods=("terminal-set",), hazardous_area="no")
    assert {c.voltage for c in found.connections} == {1000.0}, (
        "readings that are subtracted share one voltage"
    )
    both = plan(asset, hazardous_area="no")
    alone = {c.title: c.voltage for c in both.connections if c.methods[0] == "polarization-index"}
    assert alone == {"H": 5000.0, "L": 1000.0}


def test_the_rating_alone_is_that_of_the_high_voltage_winding() -> None:
    found = plan(Asset(asset_class=TRANSFORMER, rated_voltage=11000.0), methods=("polarization-index",))
    assert [(c.title, c.voltage) for c in found.connections] == [("H", 5000.0), ("L", None)]
    assert any("winding_voltages" in note for note in found.notes)
