"""How often the whole-record fit is right, and what it refuses: figures over stated populations, as JSON.

Run: ``python benchmarks/validate_fit.py [--smoke]``.
"""

from __future__ import annotations

import json
import sys
import time as clock
import tomllib
from collections import Counter
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "physics")]

from simulated import TIME, Noise, draw, noisy, population, power_law  # noqa: E402
from soakage.physics.absorption import absorption_ratio_model  # noqa: E402
from soakage.physics.exponentials import exponential_sum  # noqa: E402
from soakage.physics.fit import fit_current  # noqa: E402
from soakage.physics.fit_check import REASONS  # noqa: E402
from soakage.physics.fit_model import model_for  # noqa: E402
from soakage.physics.fit_profile import profile_fit  # noqa: E402
from soakage.physics.fitted import fitted_ratio  # noqa: E402

RESULTS = Path(__file__).parent / "results" / "validate-fit.json"
EACH, SMOKE = 3000, 80
# Half the width of a 90 % interval in standard deviations.
HALF = 1.6449
NOISES = {
    "white 1 %": Noise(0.01),
    "white 5 %": Noise(0.05),
    "1 %, half of it lasting 20 s": Noise(0.01, lasting=0.5),
    "5 %, half of it lasting 20 s": Noise(0.05, lasting=0.5),
    "white 1 % and mains beat of 10 % of the 60 s current": Noise(0.01, mains=0.1),
}
POINTS = ((0.6, 0.02), (0.8, 0.02), (0.8, 0.2), (0.8, 0.6), (1.0, 0.2))


def coverage(rng: np.random.Generator, n: np.ndarray, s: np.ndarray, noise: Noise) -> dict[str, float]:
    """Fit records of known exponent and share; say how often the 90 % intervals hold."""
    fit = fit_current(TIME, noisy(rng, power_law(TIME, n, s), noise))
    values = np.stack([fit.absorption_coefficient, fit.absorption_exponent, fit.conductance], axis=-1)
    truth = np.stack([(1 - s) * 60.0**n, n, s], axis=-1)
    spread = np.sqrt(np.diagonal(fit.covariance, axis1=1, axis2=2))
    index, deviation = fitted_ratio(fit)
    off = np.log(index / absorption_ratio_model(n, s))
    kept = fit.follows_model
    inside = (np.abs(values - truth) <= HALF * spread)[kept].mean(axis=0)
    return {
        "absorption_coefficient": float(inside[0]),
        "absorption_exponent": float(inside[1]),
        "conductance": float(inside[2]),
        "polarization_index": float(np.mean(np.abs(off[kept]) <= HALF * deviation[kept])),
        "index_scatter_percent": 100 * float(np.std(off[kept])),
        "index_claimed_percent": 100 * float(np.sqrt(np.mean(deviation[kept] ** 2))),
        "refused": 1 - float(np.mean(kept)),
    }


def coverages(rng: np.random.Generator, each: int) -> dict[str, dict[str, dict[str, float]]]:
    """Measure the intervals at single points and over a population, for each kind of noise."""
    found: dict[str, dict[str, dict[str, float]]] = {}
    for name, noise in NOISES.items():
        found[name] = {
            f"n {n}, s {s}": coverage(rng, np.full(each // 2, n), np.full(each // 2, s), noise)
            for n, s in POINTS
        }
        n, s = rng.uniform(0.5, 1.1, each), rng.uniform(0.0, 0.6, each)
        found[name]["n 0.5-1.1, s 0-0.6"] = coverage(rng, n, s, noise)
        found[name]["n 0.5-1.1, s dry, between and wet to 1"] = coverage(rng, *draw(rng, each), noise)
    return found


def refusals(rng: np.random.Generator, each: int) -> dict[str, dict[str, dict[str, float]]]:
    """Count what the fit says of records that do not follow the model, for each kind of noise."""
    log = np.log(TIME / 60.0)
    n, s = rng.uniform(0.5, 1.1, each), rng.uniform(0.02, 0.6, each)
    base = power_law(TIME, n, s)

    def stepped(when: float, size: float) -> np.ndarray:
        at = base[:, np.searchsorted(TIME, when)][:, None]
        return np.asarray(base + size * at * (when < TIME))

    cases = {
        "rises towards a plateau, 0.4 (1 - exp(-t/800 s))": np.tile(
            1 + 0.4 * (1 - np.exp(-TIME / 800)), (each, 1)
        ),
        "rises by 10 % per unit of ln t": np.tile(1 + 0.1 * log, (each, 1)),
        "falls, then rises as t^1.5 by half": base + 0.5 * (TIME / 600) ** 1.5,
        "hump of 15 % at 100 s": base * (1 + 0.15 * np.exp(-0.5 * (np.log(TIME / 100) / 0.4) ** 2)),
        "hump of 5 % at 100 s": base * (1 + 0.05 * np.exp(-0.5 * (np.log(TIME / 100) / 0.4) ** 2)),
        "one relaxation time of 100 s": s[:, None] + (1 - s[:, None]) * np.exp(-TIME / 100),
        "step of 10 % at 250 s": stepped(250, 0.1),
        "step of -10 % at 250 s": stepped(250, -0.1),
        "step of 5 % at 250 s": stepped(250, 0.05),
        "step of 10 % at 40 s": stepped(40, 0.1),
        "step of 10 % at 500 s": stepped(500, 0.1),
    } | {
        f"shape {shape}": population(rng, each, shape).current
        for shape in ("curved", "break", "drift", "ladder")
    }
    found: dict[str, dict[str, dict[str, float]]] = {}
    for name in ("white 1 %", "1 %, half of it lasting 20 s", "white 5 %"):
        found[name] = {}
        for case, current in cases.items():
            reasons = Counter(fit_current(TIME, noisy(rng, current, NOISES[name])).reason.tolist())
            found[name][case] = {
                REASONS[reason] or "follows the model": count / each
                for reason, count in sorted(reasons.items())
            }
    return found


def digits() -> dict[str, float]:
    """Count the digits of agreement with the certified values of NIST StRD, the worst of each data set."""
    found = {}
    for file in sorted((ROOT / "tests" / "references").glob("nist-*.toml")):
        worst = 16.0
        for case in tomllib.loads(file.read_text(encoding="utf-8"))["case"]:
            if case["field"] == "deviation":
                continue
            got = np.asarray(getattr(exponential_sum(**case["inputs"]), case["field"]))
            off = np.max(np.abs(got / np.asarray(case["expected"]) - 1))
            worst = min(worst, -float(np.log10(np.maximum(off, 1e-16))))
        found[file.stem] = round(worst, 1)
    return found


def speed(rng: np.random.Generator, records: int) -> dict[str, float]:
    """Time the bare fit and the whole answer, 596 readings a record."""
    read = noisy(rng, power_law(TIME, *draw(rng, records)), Noise(0.02))
    model = model_for(TIME, 0.0, None)
    weights = read**-2.0
    began = clock.process_time()
    profile_fit(read, weights, model.column, model.conduction, model.nodes)
    bare = clock.process_time() - began
    began = clock.process_time()
    fit_current(TIME, read)
    return {
        "bare_fits_per_second": records / bare,
        "whole_answers_per_second": records / (clock.process_time() - began),
    }


def main() -> None:
    """Measure all and write it."""
    each = SMOKE if "--smoke" in sys.argv else EACH
    rng = np.random.default_rng(20)
    result = {
        "records_per_cell": each,
        "readings": "5 to 600 s at 1 Hz; currents relative to that at 60 s; noise multiplicative unless said",
        "nominal": 0.9,
        "coverage": coverages(rng, each),
        "refusals": refusals(rng, max(each // 6, 40)),
        "digits_against_certified": digits(),
        "speed": speed(rng, each),
    }
    if "--smoke" not in sys.argv:
        RESULTS.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(result, indent=1))


if __name__ == "__main__":
    main()
