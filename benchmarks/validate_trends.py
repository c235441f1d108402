"""How often trends, changes of level and dates are told right: figures as JSON.

Run: ``python benchmarks/validate_trends.py [--smoke]``.
"""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "src"))

from soakage.physics.change_point import level_shift  # noqa: E402
from soakage.physics.season import yearly_season  # noqa: E402
from soakage.physics.slope import crossing, mann_kendall, theil_sen  # noqa: E402

Array = NDArray[np.float64]
RESULTS = Path(__file__).parent / "results" / "validate-trends.json"
SERIES, SMOKE = 4000, 40
SIGNIFICANCE = 0.05
COUNTS = (5, 8, 10, 15, 25)
SCATTERS = ("normal", "10 % gross", "lasting")
SPACING = "one test a year, moved by up to four months either way"


def times(rng: np.random.Generator, many: int, count: int) -> Array:
    """Draw days of tests in years."""
    return np.asarray(np.arange(count) + rng.uniform(-1 / 3, 1 / 3, (many, count)))


def scatter(rng: np.random.Generator, many: int, count: int, kind: str) -> Array:
    """Draw departures of ln R in units of their size; gross ones are ten times as large."""
    white = rng.normal(size=(many, count))
    if kind == "10 % gross":
        return np.asarray(np.where(rng.random(white.shape) < 0.1, 10 * white, white))
    if kind == "lasting":
        for k in range(1, count):
            white[:, k] = 0.4 * white[:, k - 1] + math.sqrt(1 - 0.4**2) * white[:, k]
    return np.asarray(white)


def percent(flags: NDArray[np.bool_]) -> float:
    """Return the share of true, in per cent, to one decimal."""
    return round(100 * float(np.mean(flags)), 1)


def cell(rng: np.random.Generator, many: int, count: int, kind: str) -> dict[str, float | str]:
    """Count coverage and false alarms of one population; scatter of ln R 0.2, slope -0.1 a year where there is one."""
    t, off = times(rng, many, count), 0.2 * scatter(rng, many, count, kind)
    flat, sloped = theil_sen(t, off), theil_sen(t, off - 0.1 * t)
    shifted = off + np.where(np.arange(count) >= count // 2, -1.0, 0.0)
    alarm, missed, told = level_shift(t, off), level_shift(t, off - 0.1 * t), level_shift(t, shifted)
    away = sloped.level[:, None] + sloped.slope[:, None] * (t - sloped.time[:, None])
    season = 0.4 * np.cos(2 * np.pi * t)
    wavy = theil_sen(t, off + season)
    waves = wavy.level[:, None] + wavy.slope[:, None] * (t - wavy.time[:, None])
    return {
        "readings": count,
        "scatter": kind,
        "interval_holds_percent": percent((sloped.lower <= -0.1) & (sloped.upper >= -0.1)),
        "median_width": round(float(np.median(sloped.upper - sloped.lower)), 3),
        "false_certain_slope_percent": percent((flat.lower > 0) | (flat.upper < 0)),
        "certain_slope_found_percent": percent(sloped.upper < 0),
        "mann_kendall_false_percent": percent(mann_kendall(t, off).p <= SIGNIFICANCE),
        "mann_kendall_found_percent": percent(mann_kendall(t, off - 0.1 * t).p <= SIGNIFICANCE),
        "change_false_percent": percent((alarm.p <= SIGNIFICANCE) & alarm.beats_line),
        "slope_taken_for_change_percent": percent((missed.p <= SIGNIFICANCE) & missed.beats_line),
        "change_by_e_found_percent": percent((told.p <= SIGNIFICANCE) & told.beats_line),
        "change_placed_within_one_percent": percent(np.abs(told.place - count // 2) <= 1),
        "season_false_percent": percent(yearly_season(t, off - 0.1 * t - away).p <= SIGNIFICANCE),
        "season_of_0.4_found_percent": percent(yearly_season(t, off + season - waves).p <= SIGNIFICANCE),
    }


def reach(rng: np.random.Generator, many: int, count: int, size: float, slope: float) -> dict[str, float]:
    """Count how often the interval of the date holds, among series whose slope is certain."""
    t = times(rng, many, count)
    ahead = 5.0
    truth = count - 1 + ahead
    met = crossing(theil_sen(t, slope * t + size * scatter(rng, many, count, "normal")), slope * truth)
    given = np.isfinite(met.time)
    return {
        "readings": count,
        "scatter_of_ln": size,
        "slope": slope,
        "years_ahead": ahead,
        "given_percent": percent(given),
        "interval_holds_percent": percent((met.earliest <= truth)[given] & (truth <= met.latest)[given]),
        "median_width_years": round(float(np.median((met.latest - met.earliest)[given])), 2),
        "median_error_years": round(float(np.median((met.time - truth)[given])), 2),
    }


def bounded(rng: np.random.Generator, many: int, count: int, share: float) -> dict[str, float]:
    """Count coverage where the highest readings are over range; the slope falls by 0.1 a year."""
    t = times(rng, many, count)
    y = -0.1 * t + 0.2 * rng.normal(size=t.shape)
    top = np.quantile(y, 1 - share, axis=-1, keepdims=True)
    bound = (y > top).astype(np.int8)
    held = theil_sen(t, np.minimum(y, top), bound)
    naive = theil_sen(t, np.minimum(y, top))
    return {
        "readings": count,
        "share_over_range": share,
        "interval_holds_percent": percent((held.lower <= -0.1) & (held.upper >= -0.1)),
        "median_slope": round(float(np.median(held.slope)), 3),
        "as_numbers_holds_percent": percent((naive.lower <= -0.1) & (naive.upper >= -0.1)),
        "as_numbers_median_slope": round(float(np.median(naive.slope)), 3),
        "mann_kendall_found_percent": percent(mann_kendall(t, np.minimum(y, top), bound).p <= SIGNIFICANCE),
    }


def main() -> None:
    """Measure all and write it."""
    smoke = "--smoke" in sys.argv
    many = SMOKE if smoke else SERIES
    rng = np.random.default_rng(47)
    result = {
        "series_per_cell": many,
        "population": f"{SPACING}; scatter of ln R 0.2 (normal; a tenth ten times as large; or with a correlation of "
        "0.4 from test to test), slope -0.1 a year, change of level by a factor e in the middle, season of "
        "amplitude 0.4 in ln R",
        "cells": [cell(rng, many, count, kind) for count in COUNTS for kind in SCATTERS],
        "reach": [
            reach(rng, many, count, size, slope)
            for count in COUNTS
            for size, slope in ((0.1, -0.1), (0.2, -0.1), (0.2, -0.3), (0.4, -0.2))
        ],
        "bounds": [bounded(rng, many, count, share) for count in (10, 20) for share in (0.2, 0.4, 0.6)],
    }
    if not smoke:
        RESULTS.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(result, indent=1))


if __name__ == "__main__":
    main()
