"""Networks from whole records: what the readings give, what they leave open, what to read next."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

import typed
from soakage.app.contract_json import evaluation_json
from soakage.app.evaluate import evaluate
from soakage.app.result import Network
from soakage.cli.text import network_text
from soakage.model.record import Record
from soakage.units import Bound

TRANSFORMER = {
    **typed.TRANSFORMER, "asset": "Invented transformer", "terminals": "H, L, tank",
    "winding_voltages": '{H = "20 kV", L = "400 V"}', "started": "2026-03-14", "method": "terminal-set",
}  # fmt: skip
MACHINE = {
    **typed.MACHINE, "asset": "Invented machine", "neutral": "opened", "terminals": "U, V, W, frame",
    "started": "2026-03-14", "method": "insulation-resistance",
}  # fmt: skip
GIGA = 1e9


def record(
    keys: dict[str, str],
    tested: Sequence[str],
    earthed: Sequence[str],
    resistance: float,
    guarded: Sequence[str] = (),
    sign: str = "",
    accuracy: str | None = None,
) -> Record:
    """One reading at 60 s [ohm]."""
    return typed.spot(
        keys, f"{sign}{resistance / 1e6:.17g} MOhm", tested=", ".join(tested), earthed=", ".join(earthed),
        guarded=", ".join(guarded) or None, accuracy=accuracy,
    )  # fmt: skip


def only_network(records: Sequence[Record]) -> Network:
    (found,) = evaluate(records).networks
    return found


def resistances(network: Network) -> dict[frozenset[str], float | None]:
    return {frozenset(pair.between): pair.resistance for pair in network.pairs}


def transformer(*, readings: Sequence[float], **more: object) -> list[Record]:
    # R_HL 4000, R_HG 2000, R_LG 1000 MOhm read 1333.333, 800.000, 666.667 MOhm (derived).
    sets = ((("H",), ("L", "tank")), (("L",), ("H", "tank")), (("H", "L"), ("tank",)))
    return [
        record(TRANSFORMER, tested, earthed, r, **more)  # type: ignore[arg-type]
        for (tested, earthed), r in zip(sets, readings, strict=False)
    ]


READ = (4 / 3 * GIGA, 0.8 * GIGA, 2 / 3 * GIGA)


def test_two_windings_are_solved() -> None:
    network = only_network(transformer(readings=READ))
    assert [pair.between for pair in network.pairs] == [("H", "L"), ("H", "tank"), ("L", "tank")]
    known = [pair.resistance for pair in network.pairs]
    assert known == pytest.approx([4 * GIGA, 2 * GIGA, 1 * GIGA], rel=1e-6)
    assert network.consistent is None
    assert network.suggestion is None
    assert network.set_aside == ()


def test_a_missing_reading_is_asked_for_and_what_is_known_is_said() -> None:
    network = only_network(transformer(readings=READ[:2]))
    assert not any(pair.resolved for pair in network.pairs)
    assert network.suggestion is not None
    assert network.suggestion.tested == ("H", "L")
    assert network.suggestion.earthed == ("tank",)
    assert "not resolved: H to L, H to tank, L to tank" in network.suggestion.sentence
    assert network.pairs[0].at_least == pytest.approx(READ[0])
    lines = "\n".join(network_text(network))
    assert "not resolved; at least 1.3\N{NO-BREAK SPACE}GΩ" in lines
    assert "Read next H and L against tank" in " ".join(lines.split())


def test_a_guard_reading_checks_the_set() -> None:
    records = transformer(readings=READ)
    agreeing = only_network([*records, record(TRANSFORMER, ["H"], ["L"], 4 * GIGA, ["tank"])])
    assert agreeing.consistent is True
    other = only_network([*records, record(TRANSFORMER, ["H"], ["L"], 40 * GIGA, ["tank"])])
    assert other.consistent is False
    assert other.suggestion is not None
    assert "do not agree" in other.suggestion.sentence
    assert "not consistent: read again" in "\n".join(network_text(other))


def test_a_declared_accuracy_gives_uncertainties_and_the_shared_gain_hides_nothing() -> None:
    accuracy = '[{reading = "5 %"}]'
    network = only_network(transformer(readings=READ, accuracy=accuracy))
    assert all(pair.resolved for pair in network.pairs)
    # 5 % of reading on one range is one gain for all: it scales every pair alike, 5 %/sqrt(3).
    for pair in network.pairs:
        assert pair.uncertainty is not None
        assert pair.resistance is not None
        assert pair.uncertainty / pair.resistance == pytest.approx(0.05 / np.sqrt(3), rel=0.01)


def test_ranges_of_their_own_share_no_gain() -> None:
    accuracy = '[{range = "0.7 GOhm", reading = "5 %"}, {range = "10 GOhm", reading = "2 %"}]'
    network = only_network(transformer(readings=READ, accuracy=accuracy))
    relative = [(pair.uncertainty or 0) / (pair.resistance or 1) for pair in network.pairs]
    assert max(relative) > 0.05


def test_a_reading_over_range_bounds_its_pairs() -> None:
    records = transformer(readings=READ)
    records[0] = record(TRANSFORMER, ["H"], ["L", "tank"], READ[0], sign="> ")
    network = only_network(records)
    assert [pair.bound for pair in network.pairs] == [Bound.LOWER, Bound.LOWER, Bound.UPPER]
    assert ">\N{NO-BREAK SPACE}" in "\n".join(network_text(network))


def test_a_floating_winding_is_solved_or_set_aside() -> None:
    alone = [record(TRANSFORMER, ["H"], ["tank"], GIGA), record(TRANSFORMER, ["L"], ["H", "tank"], GIGA)]
    network = only_network(alone)
    assert len(network.set_aside) == 1
    assert "floats" in network.set_aside[0]
    legs = {"ab": 15 / 8, "bc": 1.5, "ca": 2.0}
    whole = [
        record(TRANSFORMER, ["H"], ["L"], legs["ab"] * GIGA),
        record(TRANSFORMER, ["L"], ["tank"], legs["bc"] * GIGA),
        record(TRANSFORMER, ["H"], ["tank"], legs["ca"] * GIGA),
    ]
    # Star legs from half sums, then the delta: a textbook transform, worked by hand.
    a, b, c = (
        (legs["ab"] + legs["ca"] - legs["bc"]) / 2,
        (legs["ab"] + legs["bc"] - legs["ca"]) / 2,
        (legs["bc"] + legs["ca"] - legs["ab"]) / 2,
    )
    product = a * b + b * c + c * a
    known = resistances(only_network(whole))
    assert known[frozenset(("H", "L"))] == pytest.approx(product / c * GIGA, rel=1e-4)
    assert known[frozenset(("H", "tank"))] == pytest.approx(product / b * GIGA, rel=1e-4)


def phase(name: str, resistance: float, guarded: bool) -> Record:
    others = [other for other in "UVW" if other != name]
    earthed = ["frame"] if guarded else [*others, "frame"]
    return record(MACHINE, [name], earthed, resistance, others if guarded else [])


def test_guarded_phases_of_a_machine_visit_give_their_pairs_to_frame() -> None:
    network = only_network([phase(name, 2 * GIGA, guarded=True) for name in "UVW"])
    known = resistances(network)
    assert all(known[frozenset((name, "frame"))] == pytest.approx(2 * GIGA) for name in "UVW")
    assert known[frozenset(("U", "V"))] is None
    assert network.suggestion is not None


def test_phases_with_the_others_earthed_alone_make_no_network() -> None:
    assert evaluate([phase(name, 2 * GIGA, guarded=False) for name in "UVW"]).networks == ()


def test_phases_with_and_without_guard_tell_all_but_what_runs_between_two_phases() -> None:
    records = [phase(name, 2 * GIGA, guarded=True) for name in "UVW"]
    records += [phase(name, 1.25 * GIGA, guarded=False) for name in "UVW"]
    known = resistances(only_network(records))
    # Each phase: 1/1.25 - 1/2 = 0.3 nS to the other two; three such sums give all three pairs.
    assert known[frozenset(("U", "V"))] == pytest.approx(GIGA / 0.15, rel=1e-6)


def test_three_windings_of_the_trade_s_seven_readings() -> None:
    asset = {**TRANSFORMER, "terminals": "H, L, T, tank"}
    g = {"HL": 0.5, "HT": 0.5, "LT": 0.5, "HE": 1.0, "LE": 3.0, "TE": 5.0}
    records = []
    for joined in ("H", "L", "T", "HL", "HT", "LT", "HLT"):
        seen = sum(value for pair, value in g.items() if (pair[0] in joined) != (pair[1] in joined))
        rest = [name for name in "HLT" if name not in joined]
        records.append(record(asset, list(joined), [*rest, "tank"], GIGA / seen))
    network = only_network(records)
    assert network.consistent is True
    known = resistances(network)
    assert known[frozenset("HL")] == pytest.approx(2 * GIGA, rel=1e-6)
    assert known[frozenset(("T", "tank"))] == pytest.approx(0.2 * GIGA, rel=1e-6)


def test_the_network_is_printed_whole() -> None:
    evaluation = evaluate(transformer(readings=READ[:2]))
    (printed,) = evaluation_json(evaluation)["networks"]
    assert printed.keys() == {"asset", "pairs", "consistent", "probability", "suggestion", "set_aside"}
    assert printed["suggestion"]["tested"] == ["H", "L"]
    assert printed["pairs"][0].keys() == {
        "between", "resistance", "bound", "uncertainty", "resolved", "at_least",
    }  # fmt: skip
