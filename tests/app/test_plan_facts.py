"""What the rule set may ask about a test before it is made: the same as of the record of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from soakage.app.facts import facts
from soakage.app.plan import plan
from soakage.app.plan_connections import Connection
from soakage.app.plan_facts import facts_to_be, record_to_be, voltage_facts
from soakage.methods import methods
from soakage.model.asset import Asset
from soakage.model.keys import CLASSES

MOTOR = Asset(
    asset_class="rotating-machine", rated_voltage=6600.0, winding="form-wound", insulation="epoxy-mica",
    thermal_class="155", year=2004,
)  # fmt: skip
OIL = Asset(
    asset_class="transformer", filling="oil", connection="Dyn11",
    winding_voltages={"H": 33e3, "L": 433.0}, winding_powers={"H": 1e6, "L": 1e6},
)  # fmt: skip


def at(method: str, *parts: str, earthed: tuple[str, ...] = ("tank",)) -> Connection:
    return Connection((method,), parts, earthed, parts=parts)


@pytest.mark.parametrize("purpose", (None, "acceptance", "drying"))
def test_the_record_to_be_has_all_that_is_known_and_no_reading(purpose: str | None) -> None:
    connection = replace(at("polarization-index", "U", earthed=("V", "W", "frame")), voltage=5000.0)
    record = record_to_be(MOTOR, "polarization-index", connection, purpose)
    assert record.asset == MOTOR
    assert record.test.method == "polarization-index"
    assert record.test.test_voltage == 5000.0
    assert record.test.tested == ("U",)
    assert record.test.earthed == ("V", "W", "frame")
    assert record.paper.purpose == purpose
    assert len(record.readings) == 0
    assert np.isnan(record.readings.time).all()


def test_without_a_connection_it_is_the_asset_as_a_whole() -> None:
    record = record_to_be(MOTOR, "polarization-index")
    assert record.test.tested == ()
    assert record.test.test_voltage is None


@pytest.mark.parametrize("asset_class", CLASSES)
def test_the_facts_are_those_of_the_record(asset_class: str) -> None:
    asset = Asset(asset_class=asset_class, rated_voltage=600.0, insulation="epoxy", filling="oil")
    for connection in plan(asset).connections:
        method = connection.methods[0]
        found = facts_to_be(asset, method, connection, "maintenance")
        assert found == facts(record_to_be(asset, method, connection, "maintenance"))
        assert found["class"] == asset_class
        assert found["purpose"] == "maintenance"
        assert None not in found.values()


@pytest.mark.parametrize(
    ("neutral", "earthed", "guarded", "part"),
    (
        ("opened", ("V", "W", "frame"), (), "phase-others-earthed"),
        ("opened", ("frame",), ("V", "W"), "phase-others-guarded"),
        ("closed", ("frame",), (), "whole"),
    ),
)
def test_the_part_of_the_winding_that_limits_hang_on(
    neutral: str, earthed: tuple[str, ...], guarded: tuple[str, ...], part: str
) -> None:
    asset = replace(MOTOR, neutral=neutral, terminals=("U", "V", "W", "frame"))
    connection = Connection(("polarization-index",), ("U",), earthed, guarded)
    assert facts_to_be(asset, "polarization-index", connection)["winding_part"] == part


@pytest.mark.parametrize(("word", "family"), (("epoxy-mica", "thermosetting"), ("shellac", "thermoplastic")))
def test_trade_words_of_a_machine_become_their_family(word: str, family: str) -> None:
    assert facts_to_be(replace(MOTOR, insulation=word), "polarization-index")["insulation"] == family


@pytest.mark.parametrize("word", ("mystery", "paper"))
def test_a_word_that_names_no_family_is_not_stated(word: str) -> None:
    assert "insulation" not in facts_to_be(replace(MOTOR, insulation=word), "polarization-index")


@pytest.mark.parametrize(
    ("cooling", "fact"),
    (
        ("water with undried passages", "water"),
        ("water", "water"),
        ("Water cooled", "water"),
        ("water, passages dried", "water, passages dried"),
        ("water, drained and blown out", "water, drained and blown out"),
        ("air", "air"),
    ),
)
def test_water_in_the_winding(cooling: str, fact: str) -> None:
    assert facts_to_be(replace(MOTOR, cooling=cooling), "polarization-index")["cooling"] == fact


# ---- transformers -----------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("parts", "volts", "power", "connection", "joined"),
    (
        (("H",), 33e3, 1e6, "delta", "no"),
        (("L",), 433.0, 1e6, "wye", "no"),
        (("H", "L"), None, None, "delta", "yes"),
    ),
)
def test_the_winding_that_is_live(
    parts: tuple[str, ...], volts: float | None, power: float | None, connection: str, joined: str
) -> None:
    found = facts_to_be(OIL, "terminal-set", at("terminal-set", *parts))
    assert found.get("tested_winding_voltage") == volts
    assert found.get("tested_winding_power") == power
    assert found["windings_joined"] == joined
    if joined == "no":
        assert found["winding_connection"] == connection


@pytest.mark.parametrize(
    ("parts", "of", "volts"),
    (
        (("H",), (), 33e3),
        (("L",), (), 433.0),
        (("H", "L"), (), 433.0),  # joined windings take the voltage of the weakest
        (("H",), ("H", "L"), 433.0),  # one voltage for a whole set
        (("L",), ("H", "L"), 433.0),
    ),
)
def test_the_rating_a_table_of_voltages_is_read_with(
    parts: tuple[str, ...], of: tuple[str, ...], volts: float
) -> None:
    assert voltage_facts(OIL, at("terminal-set", *parts), parts=of)["tested_winding_voltage"] == volts


@pytest.mark.parametrize("parts", (("T",), ("H", "T"), ("H", "L", "T")))
def test_a_rating_that_is_not_stated_gives_no_voltage(parts: tuple[str, ...]) -> None:
    assert "tested_winding_voltage" not in voltage_facts(OIL, at("terminal-set", *parts))


def test_other_classes_keep_their_facts_as_they_are() -> None:
    connection = at("polarization-index", "U", earthed=("frame",))
    assert voltage_facts(MOTOR, connection, "drying") == facts_to_be(
        MOTOR, "polarization-index", connection, "drying"
    )


@pytest.mark.parametrize("name", sorted(methods()))
def test_every_method_can_be_a_record_to_be(name: str) -> None:
    assert record_to_be(Asset(), name).stated() == {"method": name}
