"""What a connection means: earths by their name, phases and windings, what was live of a whole."""

from __future__ import annotations

import pytest

from records import record, transformer
from soakage.model.connection import (
    floating,
    is_earth,
    live_parts,
    winding_connection,
    winding_of,
    winding_part,
)
from soakage.model.connection import tested_winding_value as value_of_live
from soakage.model.connection import tested_windings as live_windings

STAR = ("U", "V", "W", "frame")
TWO = {"HV": 11e3, "LV": 433.0}
THREE = {"H": 132e3, "X": 33e3, "Y": 11e3}


@pytest.mark.parametrize(
    "name",
    (
        "frame", "earth", "ground", "tank", "core", "PE", "gnd", "E", "case", "enclosure", "screen", "sheath",
        "armour", "shaft", " Frame ", "TANK",
    ),
)  # fmt: skip
def test_earths_are_known_by_name(name: str) -> None:
    assert is_earth(name)


@pytest.mark.parametrize("name", ("U", "H1", "L1", "N", "frame 2", "LV", "earthing transformer", "", "e1"))
def test_other_terminals_are_no_earths(name: str) -> None:
    assert not is_earth(name)


@pytest.mark.parametrize(
    ("terminal", "part"),
    (
        ("U", "U"), ("U1", "U"), ("U2", "U"), ("V 1", "V"), ("W-2", "W"), ("U.1", "U"), ("U_2", "U"),
        ("H1", "H"), ("H0", "H"), ("X3", "X"), ("HV", "HV"), ("1U", "1"), ("1U1", "1"), ("2V", "2"), ("1N", "1"),
        ("L1", "L1"), ("l2", "L2"), ("L3", "L3"), ("12", "12"), (" U ", "U"), ("field", "field"), ("F1", "F"),
    ),
)  # fmt: skip
def test_the_part_a_terminal_belongs_to(terminal: str, part: str) -> None:
    # Terminal letters and end numbers as IEC 60034-8 and IEC 60076-1 use them (from memory).
    assert winding_of(terminal) == part


@pytest.mark.parametrize(
    ("terminals", "parts"),
    (
        ((), ()),
        (("frame",), ()),
        (("U", "V", "W"), ("U", "V", "W")),
        (("U1", "U2", "V1", "V2"), ("U", "V")),
        (("W", "U", "frame"), ("W", "U")),
        (("H1", "H2", "H3", "tank"), ("H",)),
        (("L1", "L2", "PE"), ("L1", "L2")),
    ),
)
def test_live_parts_are_named_once_and_in_order(terminals: tuple[str, ...], parts: tuple[str, ...]) -> None:
    assert live_parts(terminals) == parts


@pytest.mark.parametrize(
    ("tested", "earthed", "guarded", "part"),
    (
        (("U", "V", "W"), ("frame",), (), "whole"),
        ((), (), (), "whole"),  # sets not given are taken as the whole winding
        (("U",), ("V", "W", "frame"), (), "phase-others-earthed"),
        (("U1", "U2"), ("V1", "V2", "W1", "W2", "frame"), (), "phase-others-earthed"),
        (("U",), ("frame",), ("V", "W"), "phase-others-guarded"),
        (("U",), ("V", "frame"), ("W",), None),  # neither all earthed nor all guarded
        (("U",), ("frame",), (), None),  # the others float
        (("U", "V"), ("W", "frame"), (), None),  # some phases joined: neither the whole nor one phase
    ),
)
def test_which_part_of_a_machine_was_tested(
    tested: tuple[str, ...], earthed: tuple[str, ...], guarded: tuple[str, ...], part: str | None
) -> None:
    stated = record(tested, earthed, guarded, terminals=STAR, asset_class="rotating-machine")
    assert winding_part(stated) == part


@pytest.mark.parametrize("tested", (("U",), ("U", "V", "W"), ()))
def test_a_closed_star_point_is_always_the_whole_winding(tested: tuple[str, ...]) -> None:
    stated = record(tested, ("V", "W", "frame"), terminals=STAR, neutral="closed")
    assert winding_part(stated) == "whole"


@pytest.mark.parametrize(("tested", "part"), ((("stator",), "whole"), (("field",), "whole"), (("U",), None)))
def test_one_name_without_others_is_whole_unless_it_is_a_phase(
    tested: tuple[str, ...], part: str | None
) -> None:
    assert winding_part(record(tested, ("frame",))) == part


@pytest.mark.parametrize(
    ("tested", "earthed", "guarded", "left"),
    (
        (("U",), ("frame",), (), ("V", "W")),
        (("U",), ("frame",), ("V",), ("W",)),
        (("U", "V", "W"), ("frame",), (), ()),
        (("u", " v "), ("W", "FRAME"), (), ()),
        (("U", "V", "W"), (), (), ("frame",)),
        ((), ("frame",), (), ()),  # nothing is said of the connection, so nothing is said to float
    ),
)
def test_what_is_named_nowhere_floats(
    tested: tuple[str, ...], earthed: tuple[str, ...], guarded: tuple[str, ...], left: tuple[str, ...]
) -> None:
    assert floating(record(tested, earthed, guarded, terminals=STAR)) == left


def test_an_asset_without_stated_terminals_has_none_that_float() -> None:
    assert floating(record(("U",), ("frame",))) == ()


@pytest.mark.parametrize(
    ("tested", "windings"),
    (
        (("HV",), ("HV",)),
        (("hv",), ("HV",)),
        (("LV", "tank"), ("LV",)),
        (("HV", "LV"), ("HV", "LV")),
        (("other",), ("other",)),
        ((), ()),
    ),
)
def test_windings_carry_the_names_of_the_nameplate(
    tested: tuple[str, ...], windings: tuple[str, ...]
) -> None:
    assert live_windings(transformer(tested, TWO)) == windings


@pytest.mark.parametrize(
    ("tested", "voltages", "value"),
    (
        (("HV",), TWO, 11e3),
        (("LV",), TWO, 433.0),
        (("lv",), TWO, 433.0),
        ((), TWO, 11e3),  # nothing said: the highest
        (("HV", "LV"), TWO, None),  # joined: no one row holds
        (("T",), TWO, None),  # not on the nameplate
        (("H1", "H2", "H3"), THREE, 132e3),
        (("X1", "X2"), THREE, 33e3),
        (("Y1",), THREE, 11e3),
        (("H", "X", "Y"), THREE, None),
    ),
)
def test_the_rating_of_the_winding_that_was_live(
    tested: tuple[str, ...], voltages: dict[str, float], value: float | None
) -> None:
    assert value_of_live(transformer(tested, voltages), "winding_voltages") == value


@pytest.mark.parametrize(
    ("tested", "value"),
    (
        ((), 11e3), (("H",), 11e3), (("HV",), 11e3), (("H1", "H2"), 11e3), (("HV winding",), 11e3),
        (("primary",), 11e3), (("1U", "1V", "1W"), 11e3), (("L",), None), (("LV",), None), (("X1",), None),
        (("2U",), None), (("H", "L"), None),
    ),
)  # fmt: skip
def test_the_rated_voltage_alone_is_that_of_the_high_voltage_winding(
    tested: tuple[str, ...], value: float | None
) -> None:
    stated = transformer(tested, None, rated_voltage=11e3)
    assert value_of_live(stated, "winding_voltages") == value


@pytest.mark.parametrize(
    ("tested", "value"), ((("HV",), 2e6), (("LV",), 1e6), ((), 2e6), (("HV", "LV"), None), (("T",), None))
)
def test_powers_are_read_the_same_way(tested: tuple[str, ...], value: float | None) -> None:
    stated = transformer(tested, TWO, winding_powers={"HV": 2e6, "LV": 1e6}, rated_power=5e6)
    assert value_of_live(stated, "winding_powers") == value
    alone = transformer(tested, TWO, rated_power=5e6)
    assert value_of_live(alone, "winding_powers") == (5e6 if tested in ((), ("HV",)) else None)


@pytest.mark.parametrize(
    ("text", "high", "low"),
    (
        ("Dyn11", "delta", "wye"),
        ("Yd1", "wye", "delta"),
        ("YNd5", "wye", "delta"),
        ("YNyn0", "wye", "wye"),
        ("Dd0", "delta", "delta"),
        ("Yzn11", "wye", "wye"),
        ("Dzn0", "delta", "wye"),
        ("wye", "wye", "wye"),
        ("star", "wye", "wye"),
        ("Delta", "delta", "delta"),
        ("something", None, None),
        ("", None, None),
    ),
)
def test_the_connection_of_a_winding(text: str, high: str | None, low: str | None) -> None:
    # Vector groups: capital for the high-voltage winding, small for the other (IEC 60076-1, from memory).
    for tested, expected in ((("HV",), high), (("LV",), low), ((), high)):
        assert winding_connection(transformer(tested, TWO, connection=text)) == expected


def test_the_higher_rating_is_the_high_voltage_winding_whatever_its_name() -> None:
    ratings = {"red": 433.0, "blue": 11e3}
    assert winding_connection(transformer(("blue",), ratings, connection="Dyn11")) == "delta"
    assert winding_connection(transformer(("red",), ratings, connection="Dyn11")) == "wye"


def test_no_connection_is_no_guess() -> None:
    assert winding_connection(transformer(("HV",), TWO)) is None


@pytest.mark.parametrize(
    ("lead", "phase"),
    (("T1", "T1"), ("T2", "T2"), ("T3", "T3"), ("T4", "T1"), ("T5", "T2"), ("T6", "T3"), ("T7", "T1"), ("t9", "T3"),
     ("T10", "T1"), ("T12", "T3")),
)  # fmt: skip
def test_leads_of_a_motor_are_of_three_phases(lead: str, phase: str) -> None:
    # NEMA MG 1 lead marking, from memory
    assert winding_of(lead) == phase


def test_a_whole_winding_by_its_leads_is_the_whole() -> None:
    assert live_parts(["T1", "T2", "T3", "frame"]) == ("T1", "T2", "T3")
    assert winding_of("T0") == winding_of("T") == winding_of("T13") == "T"


@pytest.mark.parametrize(
    ("tested", "part"), ((("T1",), None), (("L1",), None), (("U",), None), (("rotor",), "whole"))
)
def test_one_phase_alone_leaves_open_what_became_of_the_others(
    tested: tuple[str, ...], part: str | None
) -> None:
    assert winding_part(record(asset_class="rotating-machine", tested=tested)) == part
