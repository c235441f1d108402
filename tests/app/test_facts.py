"""What a record's nameplate and connection tell the criteria."""

from __future__ import annotations

import pytest

from soakage.app.facts import facts
from typed import CIRCUIT, MACHINE, TRANSFORMER, spot

SPOT = {**MACHINE, "method": "insulation-resistance"}


def of(keys: dict[str, str], **more: str | None) -> dict[str, object]:
    return facts(spot(keys, "1 GOhm", **more))


def test_stated_keys_stand_in_si() -> None:
    found = of(SPOT)
    assert found["rated_voltage"] == 6600.0
    assert found["winding_temperature"] == pytest.approx(313.15)
    assert found["thermal_class"] == "155"
    assert found["year"] == 2004
    assert "rated_power" not in of(SPOT, rated_power=None), "what is missing is absent"


@pytest.mark.parametrize(
    ("word", "family"),
    (("epoxy-mica", "thermosetting"), ("VPI", "thermosetting"), ("Thermosetting", "thermosetting"),
     ("asphalt", "thermoplastic"), ("shellac", "thermoplastic"), ("thermoplastic", "thermoplastic")),
)  # fmt: skip
def test_trade_words_are_read_as_their_family(word: str, family: str) -> None:
    assert of(SPOT, insulation=word)["insulation"] == family


def test_a_word_that_names_no_family_is_left_open_on_a_machine() -> None:
    assert "insulation" not in of(SPOT, insulation="hemp")


@pytest.mark.parametrize(
    ("cooling", "undried"),
    (("water", True), ("water, undried", True), ("direct water", True), ("water, passages dried", False),
     ("water, blown out", False), ("air", False)),
)  # fmt: skip
def test_water_that_was_not_dried_out(cooling: str, undried: bool) -> None:
    assert (of(SPOT, cooling=cooling)["cooling"] == "water") == undried


@pytest.mark.parametrize(
    ("sets", "part"),
    (
        ({}, "whole"),
        ({"tested": None, "earthed": None}, "whole"),
        ({"tested": "U", "earthed": "V, W, frame"}, "phase-others-earthed"),
        ({"tested": "U1, U2", "earthed": "V1, V2, W1, W2, frame"}, "phase-others-earthed"),
        ({"tested": "U", "earthed": "frame", "guarded": "V, W"}, "phase-others-guarded"),
        ({"tested": "U", "earthed": "V, frame", "guarded": "W"}, None),
        ({"tested": "U", "earthed": "frame"}, None),
        ({"tested": "U, V", "earthed": "W, frame"}, None),
        ({"tested": "U", "earthed": "V, frame", "terminals": "U, V, W, frame"}, None),
        ({"tested": "U", "earthed": "V, W, frame", "neutral": "closed"}, "whole"),
        ({"tested": "F1, F2", "winding": "field", "rated_voltage": "250 V"}, "whole"),
    ),
)
def test_the_part_of_the_winding(sets: dict[str, str | None], part: str | None) -> None:
    assert of(SPOT, **sets).get("winding_part") == part


@pytest.mark.parametrize(
    ("sets", "voltage", "joined"),
    (
        ({}, 11e3, "no"),
        ({"tested": "LV"}, 400.0, "no"),
        ({"tested": "lv"}, 400.0, "no"),
        ({"tested": "HV, LV"}, None, "yes"),
        ({"tested": "HV", "winding_voltages": None, "rated_voltage": "33 kV"}, 33e3, "no"),
        ({"tested": "H1, H2, H3", "winding_voltages": None, "rated_voltage": "33 kV"}, 33e3, "no"),
        ({"tested": "LV", "winding_voltages": None, "rated_voltage": "33 kV"}, None, "no"),
        ({"tested": None, "winding_voltages": None, "rated_voltage": "33 kV"}, 33e3, "no"),
        ({"tested": "1U, 1V, 1W", "winding_voltages": '{1 = "33 kV", 2 = "11 kV"}'}, 33e3, "no"),
        ({"tested": "2U, 2V, 2W", "winding_voltages": '{1 = "33 kV", 2 = "11 kV"}'}, 11e3, "no"),
    ),
)
def test_the_voltage_of_the_winding_tested(
    sets: dict[str, str | None], voltage: float | None, joined: str
) -> None:
    found = of(TRANSFORMER, **sets)
    assert found.get("tested_winding_voltage") == voltage
    assert found["windings_joined"] == joined


@pytest.mark.parametrize(
    ("connection", "tested", "word"),
    (("Dyn11", "HV", "delta"), ("Dyn11", "LV", "wye"), ("YNd1", "HV", "wye"), ("YNd1", "LV", "delta"),
     ("wye", "HV", "wye"), ("delta", "HV", "delta"), (None, "HV", None)),
)  # fmt: skip
def test_wye_or_delta_of_the_winding_tested(connection: str | None, tested: str, word: str | None) -> None:
    assert of(TRANSFORMER, connection=connection, tested=tested).get("winding_connection") == word


def test_the_phase_voltage_is_line_to_neutral_of_a_wye() -> None:
    # C E / sqrt(kVA): E line-to-neutral for wye, line-to-line for delta (memory)
    assert of(TRANSFORMER, connection="YNd1")["phase_voltage"] == pytest.approx(11e3 / 3**0.5)
    assert of(TRANSFORMER, connection="Dyn11")["phase_voltage"] == 11e3
    assert "phase_voltage" not in of(TRANSFORMER)


def test_derived_facts_are_for_their_class_only() -> None:
    assert {"winding_part", "windings_joined"} & set(of(CIRCUIT)) == set()
