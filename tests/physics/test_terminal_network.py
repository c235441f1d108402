"""Networks of any terminals: the closed forms come out, and what cannot be told is not told."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from uncertainties import ufloat

from soakage.errors import UsageError
from soakage.physics.network import (
    THREE_WINDING_PAIRS,
    THREE_WINDING_READINGS,
    three_winding_network,
    two_winding_network,
)
from soakage.physics.terminal_connection import (
    Connection,
    connection_of,
    determined_pairs,
    floating_terminals,
    seen_conductance,
    terminal_pairs,
)
from soakage.physics.terminal_network import terminal_network
from soakage.physics.terminal_range import conductance_range
from soakage.physics.terminal_suggestion import candidate_connections, next_connection

TWO = ("H", "L", "E")
THREE = ("H", "L", "T", "E")
PHASES = ("U", "V", "W", "frame")
JOINED = [Connection(("H",), ("L", "E")), Connection(("L",), ("H", "E")), Connection(("H", "L"), ("E",))]
PAIR = st.floats(1e8, 1e10)


def against_the_rest(terminals: Sequence[str], joined: Sequence[str]) -> Connection:
    return Connection(tuple(joined), tuple(name for name in terminals if name not in joined))


def read(
    pairs: Sequence[float] | np.ndarray, terminals: Sequence[str], made: Sequence[Connection]
) -> np.ndarray:
    """Readings [ohm] of a network given by its pairs [ohm]."""
    g = 1 / np.asarray(pairs, dtype=float)
    return np.array([1 / float(seen_conductance(g, terminals, c).conductance) for c in made])


def kirchhoff(pairs: dict[frozenset[str], float], terminals: Sequence[str], made: Connection) -> float:
    """Conductance read, from the node equations written out one by one and solved whole."""
    place = {name: k for k, name in enumerate(terminals)}
    matrix, right = np.zeros((len(terminals),) * 2), np.zeros(len(terminals))
    for name, row in place.items():
        if name in made.tested or name in made.earthed or name in made.guarded:
            matrix[row, row] = 1.0
            right[row] = float(name in made.tested)
            continue
        for other, column in place.items():
            if other != name:
                g = pairs[frozenset((name, other))]
                matrix[row, row] += g
                matrix[row, column] -= g
    volts = np.linalg.solve(matrix, right)
    return sum(
        pairs[frozenset((a, b))] * float(volts[place[b]] - volts[place[a]])
        for a in made.earthed
        for b in terminals
        if b not in made.earthed
    )


def test_pairs_are_counted() -> None:
    assert terminal_pairs(THREE) == tuple(combinations(THREE, 2))
    assert len(terminal_pairs(("H", "L", "T", "C", "S", "E"))) == 15


def test_what_is_named_nowhere_floats() -> None:
    assert floating_terminals(THREE, Connection(("H",), ("E",))) == ("L", "T")
    assert floating_terminals(THREE, Connection(("H",), ("E",), ("L", "T"))) == ()


@pytest.mark.parametrize(
    ("made", "said"),
    (
        ((("H",), ("X",)), "Unknown: X"),
        ((("H",), ("H", "E")), "in two sets: H"),
        (((), ("E",)), "needs tested and earthed"),
        ((("H",), ()), "needs tested and earthed"),
    ),
)
def test_a_connection_that_does_not_fit_is_refused(made: tuple[tuple[str, ...], ...], said: str) -> None:
    with pytest.raises(UsageError, match=said):
        connection_of(TWO, made)


@given(
    st.integers(3, 6).flatmap(
        lambda n: st.tuples(
            st.just(n),
            st.lists(st.floats(0.01, 100.0), min_size=n * (n - 1) // 2, max_size=n * (n - 1) // 2),
            st.lists(st.sampled_from("TEGF"), min_size=n, max_size=n).filter(lambda r: {"T", "E"} <= set(r)),
        )
    )
)
@settings(max_examples=60, deadline=None)
def test_a_reading_is_what_kirchhoff_says(drawn: tuple[int, list[float], list[str]]) -> None:
    count, conductance, roles = drawn
    names = tuple(f"t{k}" for k in range(count))
    parts = {role: tuple(n for n, r in zip(names, roles, strict=True) if r == role) for role in "TEG"}
    made = Connection(parts["T"], parts["E"], parts["G"])
    pairs = {frozenset(p): g for p, g in zip(combinations(names, 2), conductance, strict=True)}
    seen = seen_conductance(conductance, names, made)
    assert float(seen.conductance) == pytest.approx(kirchhoff(pairs, names, made), rel=1e-9)
    # Swapped, it reads the same (reciprocity), and the slopes are those of a small change.
    swapped = seen_conductance(conductance, names, Connection(made.earthed, made.tested, made.guarded))
    assert float(swapped.conductance) == pytest.approx(float(seen.conductance), rel=1e-9)
    for k in (0, len(conductance) - 1):
        moved = list(conductance)
        moved[k] *= 1 + 1e-6
        change = float(seen_conductance(moved, names, made).conductance) - float(seen.conductance)
        expected = change / (conductance[k] * 1e-6)
        assert seen.slope[k] == pytest.approx(expected, abs=1e-4 * (1 + sum(conductance) / conductance[k]))


@given(arrays(np.float64, 3, elements=PAIR))
@settings(max_examples=40, deadline=None)
def test_two_windings_agree_with_the_closed_form(pairs: np.ndarray) -> None:
    readings = read(pairs, TWO, JOINED)
    solved = terminal_network(TWO, JOINED, readings, 0.001 * readings)
    closed = two_winding_network(readings, 0.001 * readings)
    assert solved.resolved.tolist() == closed.resolved.tolist()
    np.testing.assert_allclose(solved.resistance, closed.resistance, rtol=1e-6)
    np.testing.assert_allclose(solved.uncertainty, closed.uncertainty, rtol=1e-6)
    assert solved.degrees == 0
    assert np.isnan(solved.probability)


@given(arrays(np.float64, 6, elements=PAIR))
@settings(max_examples=40, deadline=None)
def test_three_windings_agree_with_the_closed_form(hl_ht_lt_he_le_te: np.ndarray) -> None:
    order = [THREE_WINDING_PAIRS.index("".join(pair)) for pair in terminal_pairs(THREE)]
    made = [against_the_rest(THREE, joined) for joined in THREE_WINDING_READINGS]
    readings = read(hl_ht_lt_he_le_te[order], THREE, made)
    closed = three_winding_network(readings)
    solved = terminal_network(THREE, made, readings)
    np.testing.assert_allclose(solved.resistance, closed.resistance[order], rtol=1e-6)
    assert solved.degrees == 1
    assert solved.consistent
    assert solved.chi_square == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(("off", "agrees"), ((1.02, True), (1.2, False)))
def test_the_check_reading_is_judged_as_the_closed_form_judges_it(off: float, *, agrees: bool) -> None:
    made = [against_the_rest(THREE, joined) for joined in THREE_WINDING_READINGS]
    readings = read(np.full(6, 1e9), THREE, made)
    readings[-1] *= off
    noise = 0.01 * readings
    closed = three_winding_network(readings, noise)
    solved = terminal_network(THREE, made, readings, noise)
    assert bool(closed.consistent) is solved.consistent is agrees
    # One check: its chi-square is the square of the miss over its uncertainty.
    u = np.sqrt(((noise / readings**2) ** 2).sum())
    assert solved.chi_square == pytest.approx((float(closed.check) / u) ** 2, rel=1e-6)
    assert terminal_network(THREE, made, readings).consistent is agrees


def test_without_agreement_the_chance_is_that_of_chi_square() -> None:
    from scipy.stats import chi2

    made = [*JOINED, Connection(("H",), ("L",), ("E",)), Connection(("H",), ("E",), ("L",))]
    readings = read((4e9, 2e9, 1e9), TWO, made) * np.array([1.01, 0.99, 1.0, 1.02, 1.0])
    solved = terminal_network(TWO, made, readings, 0.01 * readings)
    assert solved.degrees == 2
    assert solved.probability == pytest.approx(float(chi2.sf(solved.chi_square, 2)), rel=1e-9)
    assert solved.residual @ solved.residual == pytest.approx(solved.chi_square)


def test_uncertainty_of_redundant_readings_agrees_with_the_weighted_mean() -> None:
    # The same pair read twice: the inverse-variance mean, propagated by an outside library.
    made = [Connection(("H",), ("L",), ("E",))] * 2
    a, b = 1 / ufloat(4.0e9, 0.1e9), 1 / ufloat(4.1e9, 0.2e9)
    wa, wb = 1 / a.std_dev**2, 1 / b.std_dev**2
    expected = (wa + wb) / (wa * a + wb * b)
    solved = terminal_network(TWO, made, [4.0e9, 4.1e9], [0.1e9, 0.2e9])
    assert solved.resistance[0] == pytest.approx(expected.nominal_value, rel=1e-9)
    assert solved.uncertainty[0] == pytest.approx(expected.std_dev, rel=1e-9)
    assert solved.resolved.tolist() == [True, False, False]


def test_intervals_cover_the_truth_as_often_as_they_say() -> None:
    rng = np.random.default_rng(20260314)
    truth = np.array([4e9, 2e9, 1e9])
    readings = read(truth, TWO, JOINED)
    inside, count = np.zeros(3), 400
    for _ in range(count):
        noisy = readings * (1 + 0.01 * rng.standard_normal(3))
        solved = terminal_network(TWO, JOINED, noisy, 0.01 * noisy)
        inside += np.abs(1 / solved.resistance - 1 / truth) < 2 * solved.uncertainty / solved.resistance**2
    assert (inside / count > 0.92).all()


def test_a_gain_all_readings_share_scales_the_network_and_hides_no_pair() -> None:
    readings = read((40e9, 1e9, 1e9), TWO, JOINED)
    alone = terminal_network(TWO, JOINED, readings, 0.03 * readings)
    assert not alone.resolved[0]
    shared = terminal_network(TWO, JOINED, readings, 0.001 * readings, common_gain=0.03)
    assert shared.resolved.all()
    np.testing.assert_allclose(shared.uncertainty[1:] / shared.resistance[1:], 0.03, rtol=0.01)


def test_pairs_the_readings_cannot_tell_apart_are_named_with_what_is_known() -> None:
    made = [against_the_rest(PHASES, phase) for phase in "UVW"]
    solved = terminal_network(PHASES, made, [1e9, 1.2e9, 0.8e9])
    assert not solved.resolved.any()
    assert np.isnan(solved.resistance).all()
    # A sum of three is known: none of its pairs can conduct more.
    assert solved.lowest[0] == pytest.approx(1.2e9)
    assert np.isinf(solved.highest).all()


def test_three_phases_are_resolved_by_six_readings() -> None:
    truth = np.array([5e9, 6e9, 1e9, 7e9, 1.5e9, 2e9])
    made = [against_the_rest(PHASES, joined) for joined in ("U", "V", "W", "UV", "UW", "VW")]
    solved = terminal_network(PHASES, made, read(truth, PHASES, made))
    np.testing.assert_allclose(solved.resistance, truth, rtol=1e-6)


def test_what_will_be_determined_is_known_before_it_is_read() -> None:
    alone = [against_the_rest(PHASES, phase) for phase in "UVW"]
    assert not determined_pairs(PHASES, alone).any()
    guarded = [*alone, Connection(("U",), ("frame",), ("V", "W"))]
    assert [
        p for p, d in zip(terminal_pairs(PHASES), determined_pairs(PHASES, guarded), strict=True) if d
    ] == [("U", "frame")]
    assert determined_pairs(
        PHASES, [against_the_rest(PHASES, j) for j in ("U", "V", "W", "UV", "UW", "VW")]
    ).all()
    # With a floating terminal nothing is certain before the network is known.
    assert not determined_pairs(TWO, [Connection(("H",), ("E",))]).any()


def test_guarded_phases_give_their_pairs_at_once() -> None:
    made = [Connection(("U",), ("frame",), ("V", "W")), Connection(("U",), ("V",), ("W", "frame"))]
    solved = terminal_network(PHASES, made, [2e9, 7e9])
    known = dict(zip(solved.pairs, solved.resistance, strict=True))
    assert known["U", "frame"] == pytest.approx(2e9)
    assert known["U", "V"] == pytest.approx(7e9)
    assert solved.resolved.sum() == 2


@given(arrays(np.float64, 3, elements=PAIR))
@settings(max_examples=20, deadline=None)
def test_floating_terminals_are_solved_for(pairs: np.ndarray) -> None:
    made = [Connection(("H",), ("L",)), Connection(("L",), ("E",)), Connection(("H",), ("E",))]
    solved = terminal_network(TWO, made, read(pairs, TWO, made))
    np.testing.assert_allclose(solved.resistance, pairs, rtol=1e-4)
    assert solved.set_aside == ()


def test_the_floating_delta_is_the_star_delta_transform() -> None:
    # Each pair read with the third terminal open; by hand: star legs from half sums, then delta.
    ab, bc, ca = 1.0 / (1 / 3 + 1 / 5), 1.0 / (1 / 2 + 1 / 6), 1.0 / (1 / 4 + 1 / 4)
    a, b, c = (ab + ca - bc) / 2, (ab + bc - ca) / 2, (bc + ca - ab) / 2
    product = a * b + b * c + c * a
    made = [Connection(("H",), ("L",)), Connection(("L",), ("E",)), Connection(("H",), ("E",))]
    solved = terminal_network(TWO, made, [ab, bc, ca])
    np.testing.assert_allclose(solved.resistance, [product / c, product / b, product / a], rtol=1e-6)


def test_a_floating_reading_that_cannot_be_solved_is_set_aside() -> None:
    made = [Connection(("H",), ("L", "E")), Connection(("L",), ("E",))]
    solved = terminal_network(TWO, made, [1e9, 2e9])
    assert solved.set_aside == (1,)
    assert np.isnan(solved.residual[1])
    assert solved.lowest[0] == pytest.approx(1e9)


@pytest.mark.parametrize("bound", ((1, 0, 0), (0, 0, 1), (0, 0, -1)))
def test_a_bound_bounds_the_pairs_as_the_closed_form_does(bound: tuple[int, ...]) -> None:
    readings = read((4e9, 2e9, 1e9), TWO, JOINED)
    closed = two_winding_network(readings, bound=bound)
    solved = terminal_network(TWO, JOINED, readings, bound=bound)
    assert solved.bound.tolist() == closed.bound.tolist()
    np.testing.assert_allclose(solved.resistance, closed.resistance, rtol=1e-6)


def test_a_reading_over_range_is_an_upper_bound_on_the_sum() -> None:
    solved = terminal_network(TWO, [JOINED[0]], [1e12], bound=[1])
    assert solved.bound.tolist() == [1, 1, 0]
    assert solved.resistance[:2] == pytest.approx([1e12, 1e12])
    assert not solved.resolved[2]


def test_a_bound_that_the_values_break_is_an_inconsistency() -> None:
    made = [Connection(("H",), ("L",), ("E",)), Connection(("H",), ("E",), ("L",)), JOINED[0]]
    # 4 and 2 GOhm side by side cannot read above 5 GOhm.
    solved = terminal_network(TWO, made, [4e9, 2e9, 5e9], [4e7, 2e7, 5e7], bound=[0, 0, 1])
    assert not solved.consistent
    held = terminal_network(TWO, made, [4e9, 2e9, 1e9], [4e7, 2e7, 1e7], bound=[0, 0, 1])
    assert held.consistent
    assert held.bound.tolist() == [0, 0, 0]


def test_nothing_conducts_less_than_nothing() -> None:
    readings = np.array([1e9, 1e9, 0.4e9])
    solved = terminal_network(TWO, JOINED, readings, 0.01 * readings)
    assert (solved.conductance >= 0).all()
    assert not solved.resolved[0]
    # The joined reading conducts more than both together can: the closed form's negative pair.
    assert not solved.consistent


def test_a_small_conductance_among_large_ones_is_not_resolved_but_bounded() -> None:
    readings = read((1e12, 1e9, 1e9), TWO, JOINED)
    solved = terminal_network(TWO, JOINED, readings, 0.01 * readings)
    assert solved.resolved.tolist() == [False, True, True]
    assert 1e10 < solved.lowest[0] < 1e12


@pytest.mark.parametrize("wrong", ([1e9, 1e9], [1e9, -1e9, 1e9], [1e9, np.nan, 1e9]))
def test_readings_that_are_no_readings_are_refused(wrong: list[float]) -> None:
    with pytest.raises(UsageError):
        terminal_network(TWO, JOINED, wrong)


def test_a_range_stays_between_nothing_and_the_sum() -> None:
    found = conductance_range([[1, 1, 0], [0, 0, 1]], [3.0, 2.0], [0, -1], [1.0, 2.0, 0.5])
    np.testing.assert_allclose(found.low, [0, 0, 0], atol=1e-12)
    np.testing.assert_allclose(found.high, [3, 3, 2])
    assert found.high_by_bound.tolist() == [False, False, True]


def test_two_windings_have_six_connections() -> None:
    found = candidate_connections(TWO, ("E",))
    assert len(found) == 6
    assert all("E" not in c.tested for c in found)
    assert [bool(c.guarded) for c in found] == [False] * 3 + [True] * 3
    assert len(candidate_connections([f"t{k}" for k in range(9)], ("t8",))) > 0


def test_the_joined_reading_is_missing() -> None:
    solved = terminal_network(TWO, JOINED[:2], read((4e9, 2e9, 1e9), TWO, JOINED[:2]))
    assert next_connection(TWO, JOINED[:2], solved, ("E",)) == JOINED[2]


def test_a_pair_drowned_in_noise_is_read_with_a_guard() -> None:
    readings = read((1e12, 1e9, 1e9), TWO, JOINED)
    solved = terminal_network(TWO, JOINED, readings, 0.01 * readings)
    assert next_connection(TWO, JOINED, solved, ("E",)) == Connection(("H",), ("L",), ("E",))


def test_following_the_proposals_resolves_three_phases() -> None:
    truth = np.array([5e9, 6e9, 1e9, 7e9, 1.5e9, 2e9])
    made = [against_the_rest(PHASES, "U")]
    for _ in range(6):
        solved = terminal_network(PHASES, made, read(truth, PHASES, made))
        if solved.resolved.all():
            break
        made.append(next_connection(PHASES, made, solved, ("frame",)))
    assert len(made) == 6
    np.testing.assert_allclose(solved.resistance, truth, rtol=1e-6)


def test_where_all_is_read_nothing_is_proposed() -> None:
    made = [Connection(("H",), ("E",))]
    solved = terminal_network(("H", "E"), made, [1e9])
    with pytest.raises(UsageError, match="No connection is left"):
        next_connection(("H", "E"), made, solved, ("E",))
