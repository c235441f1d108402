"""Terminal sets of transformers: resistances between windings and to earth (algebra derived)."""

from __future__ import annotations

from itertools import combinations, permutations

import pytest

from soakage.app.result import Network
from soakage.model.record import Record
from typed import TRANSFORMER, evaluation, spot

TWO = {frozenset("HL"): 4000.0, frozenset("HG"): 2000.0, frozenset("LG"): 1000.0}
THREE = {**TWO, frozenset("HT"): 8000.0, frozenset("LT"): 5000.0, frozenset("TG"): 3000.0}
SET = {
    **TRANSFORMER, "method": "terminal-set", "asset": "Unit transformer", "started": "2026-03-14",
    "winding_voltages": '{H = "66 kV", L = "11 kV", T = "6.6 kV"}',
}  # fmt: skip


def reading(network: dict[frozenset[str], float], live: str) -> float:
    """Resistance of joined live windings against everything else joined to earth."""
    return 1 / sum(1 / r for pair, r in network.items() if len(pair & set(live)) == 1)


def readings(network: dict[frozenset[str], float], sets: tuple[str, ...], windings: str) -> list[Record]:
    return [
        spot(
            SET, f"{reading(network, live):.10g} MOhm", tested=", ".join(live),
            earthed=", ".join([*(w for w in windings if w not in live), "tank"]),
        )
        for live in sets
    ]  # fmt: skip


def solved(records: list[Record]) -> Network:
    (network,) = evaluation(*records).networks
    return network


def between(network: Network) -> dict[frozenset[str], float | None]:
    return {
        frozenset(n.replace("tank", "G") for n in pair.between): pair.resistance for pair in network.pairs
    }


def test_two_windings_there_and_back() -> None:
    # 43 (derived): 4 000, 2 000, 1 000 MOhm read as 1 333.333, 800.000, 666.667 MOhm, and back
    sets = ("H", "L", "HL")
    assert [reading(TWO, live) for live in sets] == pytest.approx([1333.333, 800.0, 666.667], abs=1e-3)
    network = solved(readings(TWO, sets, "HL"))
    assert network.asset == "Unit transformer"
    assert {pair: (r or 0) / 1e6 for pair, r in between(network).items()} == pytest.approx(TWO, rel=1e-6)
    assert all(pair.resolved for pair in network.pairs)


def test_three_windings_and_their_check_reading() -> None:
    sets = tuple("".join(c) for size in (1, 2, 3) for c in combinations("HLT", size))
    assert len(sets) == 7
    network = solved(readings(THREE, sets, "HLT"))
    assert {pair: (r or 0) / 1e6 for pair, r in between(network).items()} == pytest.approx(THREE, rel=1e-5)
    assert network.consistent is True


def test_a_check_reading_that_does_not_fit_is_said() -> None:
    sets = tuple("".join(c) for size in (1, 2, 3) for c in combinations("HLT", size))
    records = readings(THREE, sets, "HLT")
    records[-1] = spot(SET, "200 MOhm", tested="H, L, T", earthed="tank")
    assert solved(records).consistent is False


def test_six_readings_do_without_the_check() -> None:
    sets = tuple("".join(c) for size in (1, 2) for c in combinations("HLT", size))
    network = solved(readings(THREE, sets, "HLT"))
    assert {pair: (r or 0) / 1e6 for pair, r in between(network).items()} == pytest.approx(THREE, rel=1e-5)
    assert network.consistent is None


def test_the_order_of_the_readings_does_not_matter() -> None:
    records = readings(TWO, ("H", "L", "HL"), "HL")
    expected = between(solved(records))
    for order in permutations(records):
        assert between(solved(list(order))) == pytest.approx(expected)


def test_a_difference_that_comes_out_negative_is_not_resolved_never_a_negative_resistance() -> None:
    records = [
        spot(SET, "1000 MOhm", tested="H", earthed="L, tank"),
        spot(SET, "1000 MOhm", tested="L", earthed="H, tank"),
        spot(SET, "400 MOhm", tested="H, L", earthed="tank"),
    ]
    for pair in solved(records).pairs:
        assert pair.resistance is None or pair.resistance > 0
        assert pair.resolved == (pair.resistance is not None)
    pairs = between(solved(records))
    assert pairs[frozenset("HL")] is None


def test_joined_windings_do_not_hold_the_visit_back() -> None:
    big = {pair: r * 10 for pair, r in TWO.items()}
    result = evaluation(*readings(big, ("H", "L", "HL"), "HL"))
    assert [str(e.verdict.status) for e in result.records] == ["sound", "sound", "not judged"]
    assert result.visits[0].status == "sound"
