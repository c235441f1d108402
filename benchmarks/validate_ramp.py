"""How often knees and other signs on ramps are told right, and how soon: figures as JSON.

Run: ``python benchmarks/validate_ramp.py [--smoke]``.
"""

from __future__ import annotations

import json
import sys
import time as clock
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "src"))

from soakage.physics.currents import ramp_current  # noqa: E402
from soakage.physics.ramp_knee import ramp_knee  # noqa: E402
from soakage.physics.ramp_parts import ramp_parts  # noqa: E402
from soakage.physics.ramp_signs import break_in_slope, rising_current, snaking  # noqa: E402
from soakage.physics.ramp_watch import RampWatch  # noqa: E402
from soakage.physics.responses import PowerLaw  # noqa: E402

Array = NDArray[np.float64]
RESULTS = Path(__file__).parent / "results" / "validate-ramp.json"
HEALTHY, KNEES, SMOKE = 4000, 300, 20
COUNT = 180
TIME = 5.0 * np.arange(1, COUNT + 1)
SHARE = TIME / TIME[-1]
VOLTAGE = 30e3 * SHARE
# Noise, and the share of it that lasts 20 s.
NOISES = ((0.001, 0.0), (0.002, 0.0), (0.005, 0.0), (0.01, 0.0), (0.02, 0.0),
          (0.001, 0.5), (0.005, 0.25), (0.005, 0.5), (0.01, 0.5), (0.02, 0.5))  # fmt: skip


def healthy(rng: np.random.Generator, count: int) -> Array:
    """Draw capacitance, absorption and conduction in any proportion; per unit of the last current."""
    n = rng.uniform(0.5, 1.1, count)[:, None]
    absorbed = ((TIME + 0.5) ** (1 - n) - 0.5 ** (1 - n)) / (1 - n)
    current = rng.uniform(0.2, 1.0, count)[:, None]
    current = current + rng.uniform(0.1, 1.0, count)[:, None] * absorbed / absorbed[:, -1:]
    current = current + 10 ** rng.uniform(-2, 0.3, count)[:, None] * SHARE
    return np.asarray(current / current[:, -1:])


def noise(rng: np.random.Generator, count: int, size: float, slow: float) -> Array:
    """Draw factors of readings: white, and a part that lasts."""
    white, wander, keep = rng.normal(size=(count, COUNT)), np.empty((count, COUNT)), np.exp(-5.0 / 20.0)
    wander[:, 0] = rng.normal(size=count)
    for k in range(1, COUNT):
        wander[:, k] = keep * wander[:, k - 1] + np.sqrt(1 - keep**2) * rng.normal(size=count)
    return np.asarray(1 + size * (np.sqrt(1 - slow) * white + np.sqrt(slow) * wander))


def knees(rng: np.random.Generator, size: float, slow: float, count: int) -> list[dict[str, float | str]]:
    """Delay and onset of knees of four shapes at two onsets."""
    rows: list[dict[str, float | str]] = []
    shapes: dict[str, Callable[[np.ndarray], np.ndarray]] = {
        "0.01 (e^(x/0.04) - 1)": lambda x: 0.01 * np.expm1(x / 0.04),
        "0.5 x": lambda x: 0.5 * x,
        "2 x": lambda x: 2.0 * x,
        "5 x^2": lambda x: 5.0 * x**2,
    }
    for shape, excess in shapes.items():
        for onset in (0.7, 0.85):
            beyond = excess(np.maximum(SHARE - onset, 0.0))
            found = ramp_knee(TIME, VOLTAGE, (healthy(rng, count) + beyond) * noise(rng, count, size, slow))
            told = found.detected_voltage / 30e3
            good = found.found & (told >= onset)
            placed = found.knee_voltage[good] / 30e3 - onset
            rows.append(
                {
                    "excess": shape,
                    "onset": onset,
                    "found_percent": 100 * float(good.mean()),
                    "told_before_the_onset_percent": 100 * float((found.found & (told < onset)).mean()),
                    "median_delay_percent": 100 * float(np.median(told[good] - onset)),
                    "onset_median_error_percent": 100 * float(np.median(placed)),
                    "onset_median_absolute_error_percent": 100 * float(np.median(np.abs(placed))),
                }
            )
    return rows


def signs(rng: np.random.Generator, size: float, slow: float, count: int) -> dict[str, float]:
    """Count false alarms of the other signs, and how often each is found."""
    base = healthy(rng, count)
    quiet = base * noise(rng, count, size, slow)
    bent = (base + 2.0 * np.maximum(SHARE - 0.7, 0.0)) * noise(rng, count, size, slow)
    wander = 1 + 0.04 * np.where(SHARE > 0.7, np.sin(2 * np.pi * (SHARE - 0.7) / 0.06), 0.0)
    snake = base * wander * noise(rng, count, size, slow)
    t = np.arange(1.0, 181.0)
    course = 0.2 * (t / 60) ** -0.8 + 1.0

    def rising(per_minute: float) -> float:
        many = noise(rng, count // 4, size, slow)
        told = [rising_current(t, (course + per_minute * t / 60) * one).found for one in many]
        return 100 * float(np.mean(told))

    return {
        "break_false_percent": 100 * float(break_in_slope(VOLTAGE, quiet).found.mean()),
        "break_of_2x_found_percent": 100 * float(break_in_slope(VOLTAGE, bent).found.mean()),
        "snaking_false_percent": 100 * float(snaking(VOLTAGE, quiet).found.mean()),
        "snaking_of_4_percent_found_percent": 100 * float(snaking(VOLTAGE, snake).found.mean()),
        "rising_false_percent": rising(0.0),
        "rising_15_percent_a_minute_found_percent": rising(0.15),
    }


def parts(rng: np.random.Generator, count: int) -> dict[str, float]:
    """Coverage of the 90 % intervals of capacitance, exponent and conductance, noise 0.5 % and 1 nF known."""
    total, rate, inside = 1 / 5e9, 2000.0 / 60.0, np.zeros(6)
    for _ in range(count):
        n, share = rng.uniform(0.5, 1.1), rng.uniform(0.05, 0.6)
        law = PowerLaw((1 - share) * total * 60**n, n, share * total, 1e6, 0.25e-6)
        read = ramp_current(law, TIME, rate) * (1 + 0.005 * rng.normal(size=COUNT))
        for k, known in enumerate((None, 0.25e-6 + 1e-9 * rng.normal())):
            fit = ramp_parts(TIME, VOLTAGE, read, capacitance=known, capacitance_uncertainty=1e-9)
            off = np.array(
                [fit.capacitance - 0.25e-6, fit.absorption_exponent - n, fit.conductance - share * total]
            )
            unsure = [fit.capacitance_uncertainty, fit.exponent_uncertainty, fit.conductance_uncertainty]
            inside[3 * k : 3 * k + 3] += np.abs(off) <= 1.6449 * np.array(unsure)
    names = ("capacitance", "exponent", "conductance")
    told = [f"{name}{end}" for end in ("", "_with_capacitance_known") for name in names]
    return {f"{name}_coverage_percent": 100 * float(x) / count for name, x in zip(told, inside, strict=True)}


def live(rng: np.random.Generator) -> float:
    """Time one reading of one ramp, in milliseconds."""
    watch, current = RampWatch(30e3), healthy(rng, 1)[0] * noise(rng, 1, 0.01, 0.0)[0]
    began = clock.perf_counter()
    for row in zip(TIME, VOLTAGE, current, strict=True):
        watch.add(float(row[0]), float(row[1]), row[2])
    return 1e3 * (clock.perf_counter() - began) / COUNT


def main() -> None:
    """Measure all and write it."""
    smoke = "--smoke" in sys.argv
    many, few = (SMOKE, SMOKE) if smoke else (HEALTHY, KNEES)
    rng = np.random.default_rng(33)
    cells = []
    for size, slow in NOISES[:2] if smoke else NOISES:
        quiet = ramp_knee(TIME, VOLTAGE, healthy(rng, many) * noise(rng, many, size, slow))
        cells.append(
            {
                "noise_percent": 100 * size,
                "slow_share": slow,
                "false_alarms_percent": 100 * float(quiet.found.mean()),
                "knees": knees(rng, size, slow, few),
                "signs": signs(rng, size, slow, few),
            }
        )
    result = {
        "healthy_ramps_per_cell": many,
        "knees_per_cell": few,
        "population": "180 readings of 5 s to 30 kV; capacitive share 0.2-1, absorption 0.1-1 with n 0.5-1.1, "
        "conduction 0.01-2 (log), weights; knees in units of the last healthy current, x in top voltages",
        "cells": cells,
        "parts": parts(rng, 8 if smoke else 300),
        "milliseconds_per_reading": live(rng),
    }
    if not smoke:
        RESULTS.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(result, indent=1))


if __name__ == "__main__":
    main()
