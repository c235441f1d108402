"""Connections of a plan: which pairs a reading is of, and which pairs the readings tell apart.

The rule held here is algebra: a pair's conductance follows from readings when its unit row lies in the
row space of their incidence.  The two-winding and three-winding sets are the usual ones of the trade
(common practice, no source); their solution is derived.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

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
from soakage.model.asset import Asset

THREE = {"H": 132e3, "L": 33e3, "T": 11e3}
NAMES = ("A1", "B1", "C1", "D1", "E1", "F1")
MACHINE, TRANSFORMER, CABLE = "rotating-machine", "transformer", "cable"


def parts(count: int) -> Terminals:
    return Terminals(NAMES[:count], "earth")


@pytest.mark.parametrize(
    ("asset", "live", "earth"),
    (
        (Asset(asset_class=MACHINE), ("U", "V", "W"), "frame"),
        (Asset(asset_class=MACHINE, winding="field"), ("field",), "frame"),
        (Asset(asset_class=MACHINE, winding="armature"), ("armature",), "frame"),
        (Asset(asset_class=TRANSFORMER), ("H", "L"), "tank"),
        (Asset(asset_class=TRANSFORMER, winding_voltages=THREE), ("H", "L", "T"), "tank"),
        (Asset(asset_class=CABLE), ("L1", "L2", "L3"), "screen"),
        (Asset(asset_class=CABLE, cores=("red", "yellow")), ("red", "yellow"), "screen"),
        (Asset(asset_class="switchgear"), ("L1", "L2", "L3"), "earth"),
        (Asset(asset_class="low-voltage-installation"), ("L", "N"), "PE"),
        (Asset(asset_class="apparatus"), ("terminals",), "earth"),
    ),
)  # fmt: skip
def test_usual_parts_of_each_class(asset: Asset, live: tuple[str, ...], earth: str) -> None:
    found = terminals(asset)
    assert found.live == live
    assert found.earth == earth
    assert found.nodes == (*live, earth)


@pytest.mark.parametrize(
    "asset_class", (MACHINE, TRANSFORMER, CABLE, "switchgear", "low-voltage-installation")
)
def test_parts_taken_without_being_stated_are_said(asset_class: str) -> None:
    assert "not stated" in terminals(Asset(asset_class=asset_class)).assumed
    stated = Asset(asset_class=asset_class, terminals=("A", "B", "frame"))
    assert terminals(stated).assumed == ""


def test_both_ends_of_a_phase_are_one_part() -> None:
    found = terminals(Asset(asset_class=MACHINE, terminals=("U1", "U2", "V1", "V2", "W1", "W2", "frame")))
    assert found.live == ("U", "V", "W")
    assert found.names(("U", "W")) == ("U1", "U2", "W1", "W2")
    first = one_by_one(found, "polarization-index")[0]
    assert first.tested == ("U1", "U2")
    assert first.earthed == ("V1", "V2", "W1", "W2", "frame")
    assert first.title == "U"


def test_bushings_of_a_winding_are_one_part() -> None:
    stated = ("H1", "H2", "H3", "X0", "X1", "X2", "X3", "tank")
    found = terminals(Asset(asset_class=TRANSFORMER, terminals=stated))
    assert found.live == ("H", "X")
    assert found.names(("X",)) == ("X0", "X1", "X2", "X3")


def test_phases_of_a_board_stay_apart() -> None:
    assert terminals(Asset(asset_class="switchgear", terminals=("L1", "L2", "L3", "earth"))).live == (
        "L1",
        "L2",
        "L3",
    )


def test_an_earthed_part_is_added_where_none_is_named() -> None:
    found = terminals(Asset(asset_class=MACHINE, terminals=("U", "V", "W")))
    assert found.earth == "frame"


def test_two_windings_take_three_connections() -> None:
    # H to L+tank, L to H+tank, H+L to tank: common practice, no source.
    made = full_set(Terminals(("H", "L"), "tank"), "terminal-set")
    assert [(c.tested, c.earthed) for c in made] == [
        (("H",), ("L", "tank")),
        (("L",), ("H", "tank")),
        (("H", "L"), ("tank",)),
    ]


def test_three_windings_take_seven_connections_one_of_them_a_check() -> None:
    made = full_set(Terminals(("H", "L", "T"), "tank"), "terminal-set")
    assert [c.title for c in made] == ["H", "L", "T", "H + L", "H + T", "L + T", "H + L + T"]
    rows = incidence(Terminals(("H", "L", "T"), "tank").pairs, made)
    assert np.linalg.matrix_rank(rows) == 6
    # M_H + M_L + M_T + M_HLT = M_HL + M_HT + M_LT: the check of the derived solution.
    assert np.array_equal(rows[0] + rows[1] + rows[2] + rows[6], rows[3] + rows[4] + rows[5])


def test_the_two_winding_readings_solve_to_the_pairs() -> None:
    # R_HL 4 GOhm, R_HG 2 GOhm, R_LG 1 GOhm read 1333.333, 800.000, 666.667 MOhm (derived).
    found = Terminals(("H", "L"), "tank")
    rows = incidence(found.pairs, full_set(found, "terminal-set"))
    conductance = np.array([1 / 4e9, 1 / 2e9, 1 / 1e9])
    readings = 1.0 / (rows @ conductance)
    assert readings == pytest.approx([1333.333e6, 800e6, 666.667e6], rel=1e-6)
    assert 1.0 / np.linalg.solve(rows, 1.0 / readings) == pytest.approx([4e9, 2e9, 1e9])


@given(st.integers(min_value=1, max_value=6))
def test_a_terminal_set_tells_every_pair_apart(count: int) -> None:
    found = parts(count)
    made = full_set(found, "terminal-set")
    assert told_apart(found.pairs, made) == found.pairs
    assert len(made) == len(found.pairs) + (count >= 3)


@given(st.integers(min_value=1, max_value=6))
def test_every_pair_is_under_voltage_in_some_connection(count: int) -> None:
    found = parts(count)
    for made in (one_by_one(found, "x"), full_set(found, "x"), each_pair(found, "x")):
        seen = {frozenset(pair) for connection in made for pair in connection.observes}
        assert seen == {frozenset(pair) for pair in found.pairs}


@given(st.integers(min_value=1, max_value=6))
def test_pairs_read_one_by_one_are_told_apart(count: int) -> None:
    found = parts(count)
    made = each_pair(found, "circuit")
    assert told_apart(found.pairs, made) == found.pairs
    assert len(made) == len(found.pairs)


@given(st.integers(min_value=1, max_value=6), st.data())
def test_with_one_reading_less_than_pairs_something_stays_hidden(count: int, data: st.DataObject) -> None:
    found = parts(count)
    made = full_set(found, "terminal-set")[: len(found.pairs)]
    left_out = data.draw(st.integers(min_value=0, max_value=len(made) - 1))
    fewer = made[:left_out] + made[left_out + 1 :]
    assert len(told_apart(found.pairs, fewer)) < len(found.pairs)


@given(st.integers(min_value=2, max_value=6), st.data())
def test_what_is_told_apart_can_be_solved_for_whatever_the_rest(count: int, data: st.DataObject) -> None:
    """Two networks with the same readings agree on every pair that is said to be told apart."""
    found = parts(count)
    made = full_set(found, "x")
    kept = data.draw(st.lists(st.sampled_from(made), min_size=1, unique=True))
    rows = incidence(found.pairs, kept)
    told = {found.pairs.index(pair) for pair in told_apart(found.pairs, kept)}
    _, sizes, vectors = np.linalg.svd(rows)
    null = vectors[(sizes > 1e-9).sum() :]  # changes of the conductances that no reading shows
    hidden = {place for vector in null for place in np.flatnonzero(np.abs(vector) > 1e-9)}
    assert told == set(range(len(found.pairs))) - hidden


def test_one_phase_against_the_rest_does_not_tell_pairs_apart() -> None:
    found = terminals(Asset(asset_class=MACHINE))
    assert told_apart(found.pairs, one_by_one(found, "polarization-index")) == ()


def test_joined_phases_are_one_reading() -> None:
    (only,) = joined(terminals(Asset(asset_class=MACHINE)), "polarization-index")
    assert only.tested == ("U", "V", "W")
    assert only.earthed == ("frame",)


def test_a_guarded_part_is_not_in_the_reading() -> None:
    assert observed(("H",), ("tank",)) == (("H", "tank"),)


def test_conductors_are_read_to_earth_first() -> None:
    made = each_pair(Terminals(("L", "N"), "PE"), "circuit")
    assert [c.title for c in made] == ["L–PE", "N–PE", "L–N"]
    assert all(len(c.tested) == len(c.earthed) == 1 for c in made)


def test_the_oversheath_has_its_cores_joined_to_the_screen() -> None:
    (only,) = sheath(terminals(Asset(asset_class=CABLE)), "cable-sheath")
    assert only.tested == ("screen", "L1", "L2", "L3")
    assert only.earthed == ("earth",)
    assert only.observes == (("screen", "earth"),)
    assert "both ends" in only.note


def test_no_readings_tell_nothing_apart() -> None:
    assert told_apart(parts(3).pairs, ()) == ()


@pytest.mark.parametrize("count", (1, 2, 3, 4, 5, 6))
def test_no_part_is_live_and_earthed_at_once(count: int) -> None:
    found = parts(count)
    for made in (one_by_one(found, "x"), full_set(found, "x"), joined(found, "x"), each_pair(found, "x")):
        for connection in made:
            assert not set(connection.tested) & set(connection.earthed)
            assert found.earth not in connection.tested


def test_pairs_are_counted_once() -> None:
    assert parts(4).pairs == tuple(combinations((*NAMES[:4], "earth"), 2))
