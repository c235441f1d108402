"""How often networks, their checks and the level of a drying are as sure as they say: figures written as JSON.

Populations.  Networks of 3 to 5 terminals, pairs log-uniform from 0.1 to 100 GOhm, 1 % noise on each reading
and that stated; connections as the program proposes them, then one more for each check.  Dryings read every
2 h: ln R rises by 1.5 to 3.5 with a time constant of 4 to 12 h, noise 1 to 5 %, 8 to 14 readings.
Run: ``python benchmarks/validate_networks.py [--smoke]``.
"""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path

import numpy as np

from soakage.physics.dry_out import exponential_approach
from soakage.physics.terminal_connection import Connection, seen_conductance
from soakage.physics.terminal_network import TerminalNetwork, terminal_network
from soakage.physics.terminal_suggestion import next_connection

Rng = np.random.Generator
RESULTS = Path(__file__).parent / "results"
EACH, SMOKE = 400, 20
NOISE, TOLERANCE, HOLD = 0.01, 0.05, 5.0


def _read(
    rng: Rng, truth: np.ndarray, names: tuple[str, ...], made: Connection, noise: float = NOISE
) -> float:
    exact = 1.0 / float(seen_conductance(1.0 / truth, names, made).conductance)
    return exact * (1.0 + noise * float(rng.standard_normal()))


def _solved(names: tuple[str, ...], made: list[Connection], read: list[float]) -> TerminalNetwork:
    return terminal_network(names, made, read, [NOISE * r for r in read])


def networks(each: int, seed: int = 20260314) -> dict[str, float]:
    """Return coverage, checks and readings needed over random networks.

    Parameters
    ----------
    each : int
        Networks drawn.
    seed : int
        Of the generator.

    Returns
    -------
    dict of str to float
    """
    rng = np.random.default_rng(seed)
    inside = resolved = pairs = false_alarms = found = readings = needed = 0
    for _ in range(each):
        names = (*(f"t{k}" for k in range(int(rng.integers(2, 5)))), "earth")
        truth = 10 ** rng.uniform(8, 11, len(names) * (len(names) - 1) // 2)
        made = [Connection(names[:1], names[1:])]
        read = [_read(rng, truth, names, made[0])]
        unknown = len(truth)
        while len(made) < unknown + 2:
            made.append(next_connection(names, made, _solved(names, made, read), ("earth",), NOISE))
            read.append(_read(rng, truth, names, made[-1]))
        whole = _solved(names, made, read)
        known = whole.resolved & np.isfinite(whole.uncertainty)
        ends = np.abs(1 / whole.resistance - 1 / truth) <= 2 * whole.uncertainty / whole.resistance**2
        inside, resolved, pairs = (
            inside + int(ends[known].sum()),
            resolved + int(known.sum()),
            pairs + unknown,
        )
        readings, needed = readings + len(made), needed + unknown
        false_alarms += not whole.consistent
        # A reading in error by a fifth: a lead on the wrong terminal is rarely less.
        wrong = list(read)
        wrong[int(rng.integers(len(wrong)))] *= 1.2
        found += not _solved(names, made, wrong).consistent
    return {
        "pairs resolved": resolved / pairs,
        "pair within two standard uncertainties": inside / resolved,
        "false alarm of the check": false_alarms / each,
        "reading wrong by a fifth found": found / each,
        "readings per pair": readings / needed,
    }


def floating(each: int, seed: int = 7) -> dict[str, float]:
    """Return how often a delta read with a floating terminal each time is solved, and how well without noise."""
    rng, names = np.random.default_rng(seed), ("H", "L", "earth")
    made = [Connection(("H",), ("L",)), Connection(("L",), ("earth",)), Connection(("H",), ("earth",))]
    solved, worst = 0, 0.0
    for _ in range(each):
        truth = 10 ** rng.uniform(9, 10, 3)
        found = terminal_network(names, made, [_read(rng, truth, names, c, 0.0) for c in made])
        solved += not found.set_aside
        if found.resolved.all():
            worst = max(worst, float(np.abs(found.resistance / truth - 1).max()))
    return {"solved": solved / each, "worst relative error": worst}


def drying(each: int, seed: int = 11) -> dict[str, float]:
    """Return how often the nominal 90 % interval of when it levels off holds the truth."""
    rng = np.random.default_rng(seed)
    inside = bounded = 0
    width = []
    for _ in range(each):
        count, noise = int(rng.integers(8, 15)), float(rng.uniform(0.01, 0.05))
        tau, rise, t = float(rng.uniform(4, 12)), float(rng.uniform(1.5, 3.5)), np.arange(count) * 2.0
        r = 1e9 * np.exp(-rise * np.exp(-t / tau) + noise * rng.standard_normal(count))
        found = exponential_approach(t, r, HOLD, TOLERANCE)
        true = tau * math.log(rise * -math.expm1(-HOLD / tau) / math.log1p(TOLERANCE))
        inside += found.earliest <= true <= found.latest
        if math.isfinite(found.latest):
            bounded += 1
            width.append((found.latest - found.earliest) / true)
    return {
        "interval holds the truth": inside / each,
        "interval has an end": bounded / each,
        "median width over the truth": float(np.median(width)),
    }


def main() -> None:
    """Print the figures and keep them."""
    each = SMOKE if "--smoke" in sys.argv else EACH
    found = {"networks": networks(each), "floating": floating(each), "drying": drying(each)}
    for part, figures in found.items():
        for name, value in figures.items():
            print(f"{part:<9} {name:<42} {value:.4g}")
    if each == EACH:
        RESULTS.mkdir(exist_ok=True)
        kept = json.dumps({"each": each, **found}, indent=1)
        (RESULTS / "validate-networks.json").write_text(kept + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
