"""How often forecasts of the index hold, how wide they are, and what they cannot foresee, as JSON.

Run: ``python benchmarks/validate_forecast.py [--smoke]``.
"""

from __future__ import annotations

import json
import sys
import time as clock
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "physics")]

from simulated import SHAPES, TIME, Noise, Population, noisy, population  # noqa: E402
from soakage.physics.conformal import archive_scale  # noqa: E402
from soakage.physics.forecast import Forecast, forecast_index, leaves_band  # noqa: E402

RESULTS = Path(__file__).parent / "results" / "validate-forecast.json"
EACH, SMOKE = 400, 12
LOOKS = (60.0, 120.0, 180.0, 240.0)
LIMIT = 2.0
NOISES = {
    "white 1 %": Noise(0.01),
    "white 2 %": Noise(0.02),
    "2 %, half of it lasting 20 s": Noise(0.02, lasting=0.5),
}
MAINS = {"white 1 % and mains beat of 10 % of the 60 s current": Noise(0.01, mains=0.1)}
# Archives of a site: its own insulation and instrument, so one population of shapes and one noise.
ARCHIVES, SIZES = 40, (20, 50)

Summary = dict[str, float]


def made_at(read: np.ndarray, look: float) -> list[Forecast]:
    """Forecast every record from its beginning."""
    seen = look >= TIME
    return [forecast_index(TIME[seen], row[seen]) for row in read]


def ends(made: list[Forecast]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Lower end, estimate and upper end of each."""
    lower, middle, upper = np.array([(one.lower, one.estimate, one.upper) for one in made]).T
    return lower, middle, upper


def summary(made: list[Forecast], truth: np.ndarray) -> Summary:
    """Coverage, widths, error, and how good the probability of meeting the limit is."""
    lower, middle, upper = ends(made)
    width = (upper - lower) / middle
    chance = np.array([one.probability(LIMIT) for one in made])
    sure = (chance > 0.95) | (chance < 0.05)
    wrong = sure & ((chance > 0.5) != (truth >= LIMIT))
    return {
        "covered": float(np.mean((lower <= truth) & (truth <= upper))),
        "width_median_percent": 100 * float(np.median(width)),
        "width_90th_percent": 100 * float(np.quantile(width, 0.9)),
        "error_median_percent": 100 * float(np.median(np.abs(middle / truth - 1))),
        "sure_at_95_percent": float(np.mean(sure)),
        "sure_and_wrong": float(np.mean(wrong)),
    }


def cells(rng: np.random.Generator, each: int) -> dict[str, dict[str, dict[str, Summary]]]:
    """Measure every shape under every noise at every look; healthy readings that follow are held to the band."""
    found: dict[str, dict[str, dict[str, Summary]]] = {}
    for noise_name, noise in (NOISES | MAINS).items():
        found[noise_name] = {}
        for shape in SHAPES if noise_name in NOISES else ("power",):
            drawn = population(rng, each, shape)
            read = noisy(rng, drawn.current, noise)
            found[noise_name][shape] = {}
            for look in LOOKS:
                made = made_at(read, look)
                cell = summary(made, drawn.polarization_index)
                cell["healthy_said_to_leave_the_band"] = leaving(made, read, look)["share"]
                found[noise_name][shape][f"{look:g} s"] = cell
    return found


def leaving(made: list[Forecast], read: np.ndarray, look: float) -> dict[str, float]:
    """Count the records whose later readings leave the band, and when."""
    later = look < TIME
    out = [leaves_band(one, TIME[later], row[later]) for one, row in zip(made, read, strict=True)]
    at = [one.at for one in out if one is not None]
    return {"share": len(at) / len(out), "median_at": float(np.median(at)) if at else float("nan")}


def mixture(found: dict[str, dict[str, dict[str, Summary]]]) -> Summary:
    """Coverage over all shapes and noises, equally, at each look and in all."""
    by_look = {
        f"{look:g} s": float(
            np.mean([cell[f"{look:g} s"]["covered"] for name in NOISES for cell in found[name].values()])
        )
        for look in LOOKS
    }
    return by_look | {"all": float(np.mean(list(by_look.values())))}


def widths_by_noise(rng: np.random.Generator, each: int) -> dict[str, dict[str, float]]:
    """Compare the median width at 120 s at fine and coarse noise."""
    found = {}
    for shape in ("power", "curved"):
        wide = {}
        for scatter in (0.005, 0.01, 0.02, 0.04):
            drawn = population(rng, each, shape)
            lower, middle, upper = ends(made_at(noisy(rng, drawn.current, Noise(scatter)), 120.0))
            wide[f"{100 * scatter:g} %"] = 100 * float(np.median((upper - lower) / middle))
        found[shape] = wide | {"ratio 0.5 % to 4 %": wide["0.5 %"] / wide["4 %"]}
    return found


def changed(rng: np.random.Generator, each: int) -> dict[str, Any]:
    """Measure what cannot be foreseen: changes that begin at or after the look, and go on to 600 s."""
    found: dict[str, Any] = {}
    for look in (60.0, 120.0, 240.0):
        for begin in (look, 300.0):
            for what, low, high in (("drifts by up to 20 %", -0.2, 0.2), ("grows by 5 to 60 %", 0.05, 0.6)):
                drawn = population(rng, each, "power")
                change = drawn.share * rng.uniform(low, high, each)
                since = np.clip((TIME - begin) / (600.0 - begin), 0, None)
                name = f"seen to {look:g} s, leakage {what} of itself from {begin:g} s on"
                found[name] = _change(rng, drawn.current + change[:, None] * since, look)
        drawn = population(rng, each, "power")
        size = rng.uniform(0.1, 0.5, each) * drawn.current[:, np.searchsorted(TIME, 250.0)]
        name = f"seen to {look:g} s, step of 10 to 50 % of the current at 250 s"
        found[name] = _change(rng, drawn.current + size[:, None] * (TIME > 250.0), look)
    return found


def _change(rng: np.random.Generator, current: np.ndarray, look: float) -> Summary:
    read = noisy(rng, current, Noise(0.01))
    made = made_at(read, look)
    left = leaving(made, read, look)
    return summary(made, 1.0 / current[:, -1]) | {
        f"leaves_the_band_{key}": value for key, value in left.items()
    }


def archives(rng: np.random.Generator, each: int) -> dict[str, dict[str, Summary]]:
    """Rescale by archives drawn from the same population as the tests they serve."""
    found: dict[str, dict[str, Summary]] = {}
    for name, shapes, noise in (
        ("power, white 1 %", ("power",), Noise(0.01)),
        ("power, curved, break and drift alike, white 1 %", SHAPES[:4], Noise(0.01)),
    ):
        parts = [
            population(rng, max(each // len(shapes) * 2, 70 // len(shapes) + 1), shape) for shape in shapes
        ]
        whole = Population._make(np.concatenate(entry) for entry in zip(*parts, strict=True))
        made = made_at(noisy(rng, whole.current, noise), 120.0)
        lower, middle, upper = ends(made)
        found[name] = {"as it is": summary(made, whole.polarization_index)}
        for size in SIZES:
            covered, width = [], []
            for _ in range(ARCHIVES):
                order = rng.permutation(len(made))
                past, new = order[:size], order[size:]
                archive = archive_scale([made[k] for k in past], whole.polarization_index[past])
                low = middle[new] * (lower[new] / middle[new]) ** archive.scale
                high = middle[new] * (upper[new] / middle[new]) ** archive.scale
                truth = whole.polarization_index[new]
                covered.append(float(np.mean((low <= truth) & (truth <= high))))
                width.append(100 * float(np.median((high - low) / middle[new])))
            found[name][f"{size} tests"] = {
                "covered": float(np.mean(covered)),
                "covered_5th": float(np.quantile(covered, 0.05)),
                "covered_95th": float(np.quantile(covered, 0.95)),
                "width_median_percent": float(np.mean(width)),
            }
    return found


def cost(rng: np.random.Generator) -> dict[str, float]:
    """Time one live update, in milliseconds of this process and by the clock on the wall."""
    read = noisy(rng, population(rng, 40).current, Noise(0.01))
    found = {}
    for look in LOOKS:
        seen = look >= TIME
        spent, passed = [], []
        for row in read:
            began, wall = clock.process_time(), clock.perf_counter()
            forecast_index(TIME[seen], row[seen])
            spent.append(clock.process_time() - began)
            passed.append(clock.perf_counter() - wall)
        found[f"{look:g} s, computing"] = 1e3 * float(np.median(spent))
        found[f"{look:g} s, wall"] = 1e3 * float(np.median(passed))
    return found


def main() -> None:
    """Measure all and write it."""
    each = SMOKE if "--smoke" in sys.argv else EACH
    rng = np.random.default_rng(30)
    found = cells(rng, each)
    result = {
        "records_per_cell": each,
        "population": "n 0.5-1.1; conduction share at 60 s a third each 0-5 %, 5-50 % (log-uniform), 50-100 %",
        "target": "noise-free I(60 s)/I(600 s)",
        "nominal": 0.9,
        "cells": found,
        "mixture_of_all_shapes_and_noises": mixture(found),
        "width_by_noise_at_120_s": widths_by_noise(rng, each),
        "changes_that_begin_after_the_look": changed(rng, each),
        "archives_at_120_s": archives(rng, each),
        "live_update_ms": cost(rng),
    }
    if "--smoke" not in sys.argv:
        RESULTS.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(result, indent=1))


if __name__ == "__main__":
    main()
