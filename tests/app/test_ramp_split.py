"""The current of a ramp in its parts, held against the insulation it was simulated from."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from soakage.app.contract_json import evaluation_json
from soakage.app.ramp_split import FEWEST, split, split_json, split_sentence
from soakage.app.result import Evaluation
from soakage.demo.make import demo_files
from soakage.physics.currents import ramp_current
from soakage.physics.responses import PowerLaw

RATE = 1e3 / 60
TIME = np.arange(5.0, 1201.0, 5.0)
VOLTAGE = RATE * TIME
TRUTH = PowerLaw(60**0.8 / 1.5e9, 0.8, 1 / 6e9, 1e5, 0.4e-6)


def current(seed: int, noise: float = 0.003) -> np.ndarray:
    clean = ramp_current(TRUTH, TIME, RATE)
    made: np.ndarray = clean * (1 + noise * np.random.default_rng(seed).standard_normal(TIME.size))
    return made


@pytest.mark.parametrize("seed", range(5))
def test_the_parts_are_those_it_was_made_from(seed: int) -> None:
    parts = split(TIME, VOLTAGE, current(seed), np.inf, 0.4e-6)
    assert parts is not None
    total = ramp_current(TRUTH, TIME, RATE)[-1]
    true = (RATE * 0.4e-6 / total, VOLTAGE[-1] / 6e9 / total)
    assert parts.shares[0] == pytest.approx(true[0], abs=0.01)
    assert abs(parts.shares[2] - true[1]) < 4 * parts.share_uncertainties[2] + 0.005
    assert sum(parts.shares) == pytest.approx(1.0, abs=1e-9)
    assert parts.capacitance_stated
    assert parts.conductance == pytest.approx(1 / 6e9, rel=0.5)


def test_without_a_stated_capacitance_it_comes_from_the_ramp() -> None:
    parts = split(TIME, VOLTAGE, current(1, 0.001), np.inf, None)
    assert parts is not None
    assert not parts.capacitance_stated
    assert abs(parts.capacitance - 0.4e-6) < 4 * parts.capacitance_uncertainty
    assert "from the ramp" in split_sentence(parts)


def test_only_readings_below_the_knee_count() -> None:
    bent = current(2) * np.where(VOLTAGE > 12e3, 3.0, 1.0)
    parts = split(TIME, VOLTAGE, bent, 12e3, 0.4e-6)
    assert parts is not None
    assert parts.at <= 12e3
    whole = split(TIME, VOLTAGE, current(2), 12e3, 0.4e-6)
    assert whole is not None
    assert parts.shares == pytest.approx(whole.shares, abs=1e-6)


def test_too_few_readings_give_none() -> None:
    few = FEWEST - 1
    assert split(TIME[:few], VOLTAGE[:few], current(3)[:few], np.inf, None) is None


def test_parts_that_no_insulation_has_are_not_told() -> None:
    concave = 8e-6 + 12e-6 * -np.expm1(-TIME / 150.0)
    assert split(TIME, VOLTAGE, concave, np.inf, 0.4e-6) is None


def test_the_sentence_says_the_shares_and_json_the_same() -> None:
    parts = split(TIME, VOLTAGE, current(4), np.inf, 0.4e-6)
    assert parts is not None
    said, kept = split_sentence(parts), split_json(parts)
    for name in ("capacitance", "absorption", "conduction"):
        assert f"{kept['shares'][name]:.0%}" in said
    assert "400\u00a0nF, stated" in said
    json.dumps(kept, allow_nan=False)


def test_the_demo_tells_the_parts_of_a_ramp_that_follows(evaluated: Evaluation) -> None:
    by_file = {Path(r.record.origin.file).stem: r for r in evaluated.records}
    bent, layered = by_file["generator-2-ramp"], by_file["generator-1-ramp"]
    assert bent.ramp_split is not None
    assert bent.knee is not None
    assert bent.ramp_split.at <= bent.knee.onset
    assert layered.ramp_split is None
    shown = evaluation_json(evaluated)["records"]
    with_parts = [r["record"]["file"] for r in shown if "ramp_split" in r]
    assert with_parts == ["generator-2-ramp.csv"]


@pytest.fixture(scope="module")
def evaluated() -> Evaluation:
    from soakage.app.evaluate import evaluate
    from soakage.importers.reading import read_bytes

    files = {name: text for name, text in demo_files().items() if "ramp" in name}
    return evaluate([r for name, text in files.items() for r in read_bytes(text.encode(), name)])
