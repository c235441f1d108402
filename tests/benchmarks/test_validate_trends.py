"""The program behind the figures on trends: its populations are what it says, its counts are right."""

from __future__ import annotations

import importlib.util
import json
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

FOLDER = Path(__file__).parents[2] / "benchmarks"


def load() -> ModuleType:
    spec = importlib.util.spec_from_file_location(
        "of_benchmarks_validate_trends", FOLDER / "validate_trends.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


TRENDS = load()


def test_tests_are_a_year_apart_give_or_take_four_months() -> None:
    t = TRENDS.times(np.random.default_rng(1), 500, 10)
    assert t.shape == (500, 10)
    assert (np.abs(t - np.arange(10)) <= 1 / 3).all()
    assert (np.diff(t, axis=-1) > 0).all()


@pytest.mark.parametrize(
    ("kind", "spread"), (("normal", 1.0), ("lasting", 1.0), ("10 % gross", np.sqrt(0.9 + 10)))
)
def test_scatter_has_the_size_it_says(kind: str, spread: float) -> None:
    off = TRENDS.scatter(np.random.default_rng(2), 20_000, 10, kind)
    assert off.std() == pytest.approx(spread, rel=0.03)
    together = np.corrcoef(off[:, 4], off[:, 5])[0, 1]
    assert together == pytest.approx(0.4 if kind == "lasting" else 0.0, abs=0.03)


def test_a_small_cell_covers_what_theory_asks() -> None:
    cell = TRENDS.cell(np.random.default_rng(3), 600, 10, "normal")
    assert cell["interval_holds_percent"] >= 92
    assert cell["mann_kendall_false_percent"] <= 8
    assert cell["false_certain_slope_percent"] <= 8
    assert cell["change_by_e_found_percent"] >= 80
    assert cell["season_false_percent"] <= 8


def test_a_small_date_and_bounds_cover_too() -> None:
    date = TRENDS.reach(np.random.default_rng(4), 600, 12, 0.2, -0.3)
    assert date["given_percent"] > 95
    assert date["interval_holds_percent"] >= 92
    over = TRENDS.bounded(np.random.default_rng(5), 600, 10, 0.4)
    assert over["interval_holds_percent"] >= 95
    assert over["interval_holds_percent"] > over["as_numbers_holds_percent"]


def test_shares_are_in_per_cent() -> None:
    assert TRENDS.percent(np.array([True, False, False])) == 33.3


def test_what_is_kept_is_whole() -> None:
    kept = json.loads((FOLDER / "results" / "validate-trends.json").read_text(encoding="utf-8"))
    assert len(kept["cells"]) == len(TRENDS.COUNTS) * len(TRENDS.SCATTERS)
    assert {cell["readings"] for cell in kept["reach"]} == set(TRENDS.COUNTS)
    assert kept["series_per_cell"] == TRENDS.SERIES
    assert all(np.isfinite(value) for cell in kept["reach"] for value in cell.values())
