"""Cautions: what must be said for each class and test, from which line, and never as a promise."""

from __future__ import annotations

import inspect
import re
from dataclasses import replace

import pytest

from soakage.app import cautions as room
from soakage.app.cautions import (
    DEFERENCE,
    EARTHING_MULTIPLE,
    STEPS,
    STORED_CHARGE,
    STORED_ENERGY,
    VOLTAGE_FOUND_AC,
    VOLTAGE_FOUND_DC,
    Caution,
    cautions,
    line,
    lines,
)
from soakage.errors import StandardDataError
from soakage.methods import method, methods
from soakage.model.keys import CLASSES
from soakage.standards.library import Library, library

SPOT, INDEX, DISCHARGE, SHEATH = (
    "insulation-resistance",
    "polarization-index",
    "dielectric-discharge",
    "cable-sheath",
)


def said(
    asset_class: str | None,
    test: str = SPOT,
    *,
    overvoltage: bool = False,
    hazardous_area: str | None = "no",
    capacitance: float | None = None,
    test_voltage: float | None = None,
) -> tuple[Caution, ...]:
    return cautions(
        asset_class,
        method(test),
        overvoltage=overvoltage,
        hazardous_area=hazardous_area,
        library=library(),
        capacitance=capacitance,
        test_voltage=test_voltage,
    )


def text(found: tuple[Caution, ...]) -> str:
    return " ".join(caution.text for caution in found)


@pytest.mark.parametrize("asset_class", (*CLASSES, None))
def test_every_set_defers_first_and_ends_with_the_earth(asset_class: str | None) -> None:
    found = said(asset_class)
    assert found[0].text == DEFERENCE
    assert [c.step for c in found] == sorted((c.step for c in found), key=STEPS.index)
    assert "prove dead" in found[-1].text or "prove dead" in text(
        tuple(c for c in found if c.step == "after")
    )


# The lists are those a person in charge would read out (common practice, no source).
ALL_CLASSES = (
    "Permit", "detector", "both ends", "lightning", "Earths of other circuits", "induced voltage",
    "leads open and shorted", "Never take a lead off", "Charge returns",
)  # fmt: skip


@pytest.mark.parametrize("words", ALL_CLASSES)
@pytest.mark.parametrize("asset_class", CLASSES)
def test_general_cautions(asset_class: str, words: str) -> None:
    assert words in text(said(asset_class))


@pytest.mark.parametrize(
    ("asset_class", "words"),
    (
        ("rotating-machine", "soft starters"),
        ("rotating-machine", "surge capacitors"),
        ("rotating-machine", "star point"),
        ("rotating-machine", "dew point"),
        ("transformer", "vacuum"),
        ("transformer", "filling"),
        ("transformer", "idle windings"),
        ("transformer", "secondaries"),
        ("transformer", "neutral earth"),
        ("transformer", "Core earth"),
        ("cable", "far end"),
        ("cable", "idle cores"),
        ("switchgear", "arresters"),
        ("switchgear", "never terminal to terminal"),
        ("switchgear", "X-radiation"),
        ("apparatus", "X-radiation"),
        ("low-voltage-installation", "surge-protective"),
        ("low-voltage-installation", "live conductors"),
    ),
)
def test_cautions_of_a_class(asset_class: str, words: str) -> None:
    assert words in text(said(asset_class))


def test_a_class_does_not_carry_those_of_another() -> None:
    assert "far end" not in text(said("rotating-machine"))
    assert "dew point" not in text(said("low-voltage-installation"))
    assert "far end" in text(said(None))


def test_the_stricter_voltage_line_is_used_and_both_are_named() -> None:
    # EN 50191:2010 cl. 1.2 (read): 25 V ac, 60 V dc. NFPA 70E-2021 (from memory): 50 V.
    (found,) = (c for c in said("cable") if c.step == "voltage" and "terminals" in c.text)
    plain = found.text.replace("\u00a0", " ")
    assert "25 V ac (EN 50191:2010; less strict: 50 V (NFPA 70E-2021))" in plain
    assert "50 V dc (NFPA 70E-2021; less strict: 60 V (EN 50191:2010))" in plain
    assert found.verified == "memory", "the weakest of the two is what the caution can claim"


def test_the_strictest_stored_energy_is_used_and_named() -> None:
    # 0.25 J above 400 V (NFPA 70E, memory) is below 350 mJ (EN 50191, read); 45 uC (IEC 61010-1, memory).
    (found,) = (c for c in said("cable") if c.lead == "Charge can kill.")
    plain = found.text.replace("\u00a0", " ")
    assert "250 mJ (NFPA 70E-2021; less strict: 350 mJ (EN 50191:2010))" in plain
    assert "45 µC (IEC 61010-1:2010)" in plain


def test_charge_and_energy_are_worked_out_where_the_capacitance_is_known() -> None:
    found = text(said("rotating-machine", capacitance=88e-9, test_voltage=5000.0)).replace("\u00a0", " ")
    assert "440 µC and 1.10 J at 5 kV" in found


@pytest.mark.parametrize(("capacitance", "test_voltage"), ((None, 5000.0), (1e-7, None), (None, None)))
def test_without_capacitance_nothing_is_made_up(
    capacitance: float | None, test_voltage: float | None
) -> None:
    found = text(said("rotating-machine", capacitance=capacitance, test_voltage=test_voltage))
    assert "not known" in found
    assert "holds 4" not in found


@pytest.mark.parametrize(
    ("hazardous_area", "words"),
    ((None, "Hazardous area: not stated."), ("yes", "gas-free certificate"), ("no", "")),
)
def test_hazardous_area(hazardous_area: str | None, words: str) -> None:
    found = text(said("rotating-machine", hazardous_area=hazardous_area))
    assert words in found
    if hazardous_area == "no":
        assert "xplosive" not in found
        assert "azardous" not in found


@pytest.mark.parametrize("asset_class", CLASSES)
def test_overvoltage_asks_for_consent_stop_rule_and_repair(asset_class: str) -> None:
    found = text(said(asset_class, overvoltage=True))
    for words in ("consent", "stop rule", "repair", "passing resistance and index", "maker excludes"):
        assert words in found
        assert words not in text(said(asset_class))


def test_extruded_cable_in_service_is_warned_of() -> None:
    assert "extruded cable" in text(said("cable", overvoltage=True))
    assert "extruded cable" not in text(said("rotating-machine", overvoltage=True))


def test_method_cautions() -> None:
    assert "short circuit" in text(said("rotating-machine", DISCHARGE))
    assert "screen earth back" in text(said("cable", SHEATH))
    assert "short circuit" not in text(said("rotating-machine", INDEX))


def test_the_earthing_multiple_is_the_one_of_the_files() -> None:
    # Four times: IEEE Std 43, cl. 5.5 (from memory).
    assert line(library(), EARTHING_MULTIPLE).value == 4.0
    assert "4 times the time under voltage" in text(said("cable"))


def test_another_figure_in_the_files_changes_the_caution() -> None:
    shelf = dict(library().thresholds)
    shelf[EARTHING_MULTIPLE] = replace(shelf[EARTHING_MULTIPLE], value=6.0)
    shelf["en-50191-2010.touch-dc"] = replace(shelf["en-50191-2010.touch-dc"], value=30.0)
    other = replace(library(), thresholds=shelf)
    found = text(cautions("cable", method(SPOT), library=other)).replace("\u00a0", " ")
    assert "6 times the time under voltage" in found
    assert "30 V dc (EN 50191:2010; less strict: 50 V (NFPA 70E-2021))" in found


@pytest.mark.parametrize(
    "ids", (VOLTAGE_FOUND_AC, VOLTAGE_FOUND_DC, STORED_ENERGY, STORED_CHARGE, (EARTHING_MULTIPLE,))
)
def test_lines_are_sorted_strictest_first(ids: tuple[str, ...]) -> None:
    values = [found.value for found in lines(library(), ids)]
    assert values == sorted(values)
    assert len(values) == len(ids)


def test_a_line_taken_out_of_the_files_is_an_error_not_a_silence() -> None:
    with pytest.raises(StandardDataError, match="touch-ac"):
        cautions("cable", method(SPOT), library=Library())


def test_no_threshold_stands_in_the_code() -> None:
    """25, 50, 60 V, 350 and 250 mJ, 45 uC and the four times live in the criteria files only."""
    code = inspect.getsource(room)
    bare = re.sub(r'"[^"]*"|#.*|\'[^\']*\'', "", code)
    assert re.findall(r"\b(?:25|50|60|350|250|0\.35|0\.25|45|4)(?:\.0)?\b", bare) == []
    texts = " ".join(re.findall(r'"([^"]*)"', code))
    assert re.findall(r"\b\d+ ?(?:V|mJ|J|µC|uC)\b", texts) == []


@pytest.mark.parametrize("test", sorted(methods()))
@pytest.mark.parametrize("overvoltage", (False, True))
def test_nothing_is_promised(test: str, overvoltage: bool) -> None:
    for asset_class in method(test).classes:
        found = text(said(asset_class, test, overvoltage=overvoltage, hazardous_area=None)).lower()
        assert not re.search(r"\bsafe\b|\ball clear\b|is discharged|may be energi[sz]ed|no danger", found)


@pytest.mark.parametrize("asset_class", CLASSES)
def test_every_caution_has_its_step_source_and_status(asset_class: str) -> None:
    for caution in said(asset_class, overvoltage=True, hazardous_area=None):
        assert caution.step in STEPS
        assert caution.source
        assert caution.verified in ("read", "secondary", "memory", "practice", "derived")
        assert (caution.verified == "practice") == caution.source.startswith("common practice")
        assert caution.text.endswith(".")


def test_lead_and_rest_make_the_text() -> None:
    caution = Caution("after", "Wait. Then prove dead. Then work.", "a", "read")
    assert caution.lead == "Wait."
    assert caution.rest == "Then prove dead. Then work."
    assert Caution("after", "Wait.", "a", "read").lead == "Wait."
    assert Caution("after", "Wait.", "a", "read").rest == ""
