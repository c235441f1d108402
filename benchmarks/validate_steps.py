"""How often staircases are judged right, and how exact their superposition is: figures as JSON.

Run: ``python benchmarks/validate_steps.py [--smoke]``.
"""

from __future__ import annotations

import json
import sys
import time as clock
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "src"))

from soakage.physics.currents import staircase_current  # noqa: E402
from soakage.physics.graded_schedule import graded_levels, graded_schedule, straight_line  # noqa: E402
from soakage.physics.linearity import voltage_dependence  # noqa: E402
from soakage.physics.polarization import polarization_fit  # noqa: E402
from soakage.physics.responses import PowerLaw, power_law_ladder  # noqa: E402
from soakage.physics.staircase_fit import staircase_fit  # noqa: E402
from soakage.physics.steps import step_table  # noqa: E402

Array = NDArray[np.float64]
RESULTS = Path(__file__).parent / "results" / "validate-steps.json"
EACH, SMOKE = 800, 12
CORRELATION = 20.0
UNIT = 1e-9


@dataclass(frozen=True)
class Truth:
    """One simulated staircase and what is true of it."""

    time: Array
    voltage: Array
    current: Array
    excess: float


def holds(rng: np.random.Generator, kind: str) -> list[float]:
    """Draw holds of one kind, four to six of them."""
    count = int(rng.integers(4, 7))
    if kind == "five of 60 s":
        return [60.0] * 5
    if kind == "10 min, then 1 min":
        return [600.0] + [60.0] * (count - 1)
    if kind == "mixed, 30 to 300 s":
        return list(rng.choice([30.0, 45.0, 60.0, 90.0, 120.0, 180.0, 300.0], count))
    return [60.0] * (count - 1) + [float(rng.choice([15.0, 20.0, 25.0, 30.0]))]


def simulated(
    rng: np.random.Generator,
    kind: str,
    noise: float,
    slow: float,
    *,
    share: float | None = None,
    rise: tuple[float, float] = (1.0, 1.0),
    curvature: float = 0.0,
) -> Truth:
    """Read once a second; edges anywhere between two rows; equal steps of 1 kV."""
    held = holds(rng, kind)
    edges = np.concatenate([[0.0], np.cumsum(held)[:-1] + rng.uniform(0, 1, len(held) - 1)])
    n = rng.uniform(0.5, 1.1)
    if share is None:
        dry, middle, wet = (
            rng.uniform(0, 0.05),
            np.exp(rng.uniform(*np.log([0.05, 0.5]))),
            rng.uniform(0.5, 1),
        )
        share = float((dry, middle, wet)[int(rng.integers(3))])
    t = np.arange(1.0, sum(held) + 0.5)
    levels = 1e3 * np.arange(1.0, len(held) + 1)
    level = np.searchsorted(edges, t, side="left") - 1
    if curvature:
        absorbed = np.zeros(t.size)
        for edge in edges:
            x = np.log(np.where(t > edge, t - edge + 0.01, 60.0) / 60.0)
            absorbed += np.where(t > edge, 1e3 * (1 - share) * UNIT * np.exp(-n * x + curvature * x * x), 0.0)
    else:
        absorbed = staircase_current(PowerLaw((1 - share) * UNIT * 60.0**n, n), t, edges, levels)
    factor = np.ones(len(held))
    factor[-2:] = rise
    current = absorbed + share * UNIT * factor[level] * levels[level]
    a = np.exp(-1.0 / CORRELATION)
    fresh = rng.normal(size=t.size) * np.sqrt(1 - a * a)
    fresh[0] = rng.normal()
    wander = lfilter([1.0], [1.0, -a], fresh)
    error = np.sqrt(1 - slow) * rng.normal(size=t.size) + np.sqrt(slow) * wander
    excess = (factor[-1] - factor[(len(held) - 1) // 2]) * share * UNIT * levels[-1] / current[-1]
    return Truth(t, levels[level], current * (1 + noise * error), float(excess))


def staircases(rng: np.random.Generator, each: int) -> list[dict[str, Any]]:
    """Count false alarms on healthy staircases, rises found, coverage of the interval."""
    kinds = ("five of 60 s", "10 min, then 1 min", "mixed, 30 to 300 s", "last 15 to 30 s")
    rows = []
    for noise in (0.01, 0.02):
        for slow in (0.0, 0.5):
            for kind in kinds:
                healthy = [simulated(rng, kind, noise, slow) for _ in range(each)]
                began = clock.perf_counter()
                fits = [staircase_fit(one.time, one.voltage, one.current) for one in healthy]
                taken = (clock.perf_counter() - began) / each
                naive = 0
                for one in healthy:
                    table = step_table(one.time, one.voltage, one.current)
                    fall = voltage_dependence(table.resistance[0], table.resistance)
                    naive += bool(np.nanmax(fall) >= 0.25)
                risen = [
                    simulated(rng, kind, noise, slow, share=1 / 8, rise=(1.25, 1.5)) for _ in range(each // 2)
                ]
                found = [staircase_fit(one.time, one.voltage, one.current) for one in risen]
                error = [fit.excess_current_share - one.excess for fit, one in zip(found, risen, strict=True)]
                rows.append(
                    {
                        "holds": kind,
                        "noise_percent": 100 * noise,
                        "slow_share": slow,
                        "false_alarms_percent": 100 * float(np.mean([f.excess_found for f in fits])),
                        "found_at_an_eighth_percent": 100 * float(np.mean([f.excess_found for f in found])),
                        "coverage_of_90_percent": 100
                        * float(np.mean([f.excess_lower <= 0 <= f.excess_upper for f in fits])),
                        "scatter_percent": 100 * float(np.std([f.excess_current_share for f in fits])),
                        "bias_when_risen_percent": 100 * float(np.median(error)),
                        "naive_25_percent_rule_alarms_percent": 100 * naive / each,
                        "milliseconds": 1e3 * taken,
                    }
                )
    return rows


def curved(rng: np.random.Generator, each: int) -> list[dict[str, float]]:
    """Count false alarms where the absorption is not a pure power law."""
    rows = []
    for curvature in (-0.02, 0.02):
        for slow in (0.0, 0.5):
            many = [simulated(rng, "five of 60 s", 0.01, slow, curvature=curvature) for _ in range(each)]
            fits = [staircase_fit(one.time, one.voltage, one.current) for one in many]
            rows.append(
                {
                    "curvature": curvature,
                    "slow_share": slow,
                    "false_alarms_percent": 100 * float(np.mean([f.excess_found for f in fits])),
                    "median_share_percent": 100 * float(np.median([f.excess_current_share for f in fits])),
                }
            )
    return rows


def ladders() -> list[dict[str, float]]:
    """Largest departure of three branches a decade from their power law, 1 s to 10,000 s after a step."""
    t = np.geomspace(1.0, 1e4, 600)
    rows = []
    for n in (0.6, 0.8, 1.0):
        ladder = power_law_ladder(1.0, n, 1.0, 1e5, 3)
        off = np.abs(ladder.branches.step(t) * t**n - 1.0).max()
        rows.append({"n": n, "departure_percent": 100 * float(off), "predicted_percent": 100 * ladder.ripple})
    return rows


def graded(rng: np.random.Generator, each: int) -> dict[str, float]:
    """Straight lines of graded tests: healthy ones called straight, a rise of 10 % at the top seen."""
    plan = graded_schedule(graded_levels(30e3), 0.8)
    law = PowerLaw(1e-9, 0.8, 1e-11, offset=0.0)
    current = staircase_current(law, plan.start + plan.hold, plan.start, plan.voltage)
    straight, bent = 0, 0
    for _ in range(each):
        read = current * (1 + 0.01 * rng.normal(size=current.size))
        straight += straight_line(plan.voltage, read).straight
        read[-1] *= 1.1
        bent += not straight_line(plan.voltage, read).straight
    return {"called_straight_percent": 100 * straight / each, "rise_seen_percent": 100 * bent / each}


def conduction(rng: np.random.Generator, each: int) -> dict[str, float]:
    """Conduction from charge and discharge of 600 s each, readings up to 595 s, noise 1 %."""
    t = np.arange(5.0, 600.0, 5.0)
    law = PowerLaw(1e-9, 0.8, 2e-12, offset=0.0)
    charge = staircase_current(law, t, [0.0], [1e3])
    back = staircase_current(law, t + 600.0, [0.0, 600.0], [1e3, 0.0])
    found = [
        polarization_fit(
            t,
            charge * (1 + 0.01 * rng.normal(size=t.size)),
            back * (1 + 0.01 * rng.normal(size=t.size)),
            1e3,
            600.0,
        ).conductance
        for _ in range(each)
    ]
    plain = float((charge[-1] + back[-1]) / 1e3 / 2e-12 - 1)
    return {
        "bias_percent": 100 * float(np.mean(found) / 2e-12 - 1),
        "scatter_percent": 100 * float(np.std(found) / 2e-12),
        "plain_sum_overstates_percent": 100 * plain,
    }


def main() -> None:
    """Measure all and write it."""
    each = SMOKE if "--smoke" in sys.argv else EACH
    rng = np.random.default_rng(31)
    result = {
        "staircases_per_cell": each,
        "population": "n 0.5-1.1; leakage of the 60 s current a third each 0-5 %, 5-50 % (log), 50-100 %; equal "
        "steps of 1 kV; 1 reading a second; edges anywhere in their gap; slow noise lasts 20 s",
        "staircases": staircases(rng, each),
        "curved_absorption": curved(rng, max(each // 4, 4)),
        "ladders_of_three_a_decade": ladders(),
        "graded_lines": graded(rng, each),
        "conduction_from_charge_and_discharge": conduction(rng, max(each // 4, 4)),
    }
    if "--smoke" not in sys.argv:
        RESULTS.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(result, indent=1))


if __name__ == "__main__":
    main()
