"""Records of an invented machine made from a known truth, for the tests of what a whole curve tells."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from soakage.app.evaluate import evaluate
from soakage.app.result import Evaluated
from soakage.app.rules import Rules
from soakage.demo.truth import Insulation, Programme, hold, ramp, steps
from soakage.model.asset import Asset
from soakage.model.readings import Readings
from soakage.model.record import Origin, Record
from soakage.model.test import Conditions, Instrument, Paper, Test
from soakage.model.verdict import Finding
from soakage.units import kelvin

Array = NDArray[np.float64]
DAY = datetime(2025, 5, 6, 9, tzinfo=UTC)
SECONDS = tuple(float(t) for t in range(1, 601))
HEALTHY = Insulation(absorption=2e9, exponent=0.8, leakage=2e10, capacitance=0.2e-6)
LEAKY = Insulation(absorption=2e9, exponent=0.8, leakage=5e7, capacitance=0.2e-6)
LEVELS = (2e3, 4e3, 6e3, 8e3, 10e3)
WEAK = Insulation(2e9, 0.8, 2e10, 0.2e-6, None, 6e3, 2e-9)
DRY: dict[str, Any] = {
    "winding_temperature": kelvin(40.0), "ambient_temperature": kelvin(20.0), "relative_humidity": 0.4,
    "surface": "dry",
}  # fmt: skip
PLATE: dict[str, Any] = {
    "name": "Invented machine", "asset_class": "rotating-machine", "rated_voltage": 6.6e3, "rated_power": 2e6,
    "winding": "form-wound", "insulation": "thermosetting", "thermal_class": "155", "year": 2004,
    "terminals": ("U", "V", "W", "frame"),
}  # fmt: skip


def record(
    truth: Insulation = HEALTHY,
    programme: Programme | None = None,
    method: str = "polarization-index",
    *,
    noise: float = 0.0,
    seed: int = 0,
    tested: tuple[str, ...] = ("U", "V", "W"),
    change: Callable[[Array, Array], Array] | None = None,
    top: float = np.inf,
    plate: dict[str, Any] | None = None,
    conditions: dict[str, Any] | None = None,
    instrument: Instrument | None = None,
    paper: Paper | None = None,
    file: str = "",
    **test: Any,
) -> Record:
    """Return one record; `change` makes another current [A] of times [s] and currents [A]."""
    programme = programme or hold(5e3, SECONDS)
    time = np.asarray(programme.times, float)
    voltage, current = programme.voltage(), programme.current(truth)
    if change is not None:
        current = change(time, current)
    current = current * (1 + noise * np.random.default_rng(seed).standard_normal(time.size))
    resistance = np.full(time.size, np.nan)
    read = (current > 0) & (voltage > 0)
    resistance[read] = voltage[read] / current[read]
    bound = np.where(resistance > top, 1, 0).astype(np.int8)
    readings = Readings(time, voltage, current, np.minimum(resistance, top), bound)
    earthed = tuple(part for part in ("U", "V", "W", "frame") if part not in tested)
    stated: dict[str, Any] = {
        "test_voltage": float(np.max(voltage)),
        "started": DAY,
        "tested": tested,
        "earthed": earthed,
    }
    return Record(
        Asset(**(PLATE | (plate or {}))),
        Test(method, **(stated | test)),
        readings,
        Conditions(**(DRY | (conditions or {}))),
        instrument or Instrument(),
        paper or Paper(visit="spring"),
        Origin(file, "a" * 64),
    )


def stepped(truth: Insulation = HEALTHY, each: float = 60.0, **more: Any) -> Record:
    return record(truth, steps(LEVELS, each), "step-voltage", **more)


def ramped(truth: Insulation = HEALTHY, rate: float = 1e3 / 60, until: float = 600.0, **more: Any) -> Record:
    return record(truth, ramp(rate, until), "ramp", **more)


def early(until: float, truth: Insulation = HEALTHY, **more: Any) -> Record:
    return record(truth, hold(5e3, tuple(t for t in SECONDS if t <= until)), **more)


def told(one: Record, rules: Rules | None = None) -> Evaluated:
    return evaluate([one], rules).records[0]


def visit(records: Sequence[Record]) -> tuple[Evaluated, ...]:
    return evaluate(records).records


def finding(evaluated: Evaluated, code: str) -> Finding | None:
    found = [f for f in evaluated.findings if f.code == code]
    assert len(found) < 2, f"{code} is said twice"
    return found[0] if found else None
