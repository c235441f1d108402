"""Plots of tests whose voltage rises: steps with their memory removed, a ramp with its knee."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np

from soakage.app.result import Evaluated
from soakage.report.drawn import Plot, drawn_points, magnitude
from soakage.report.figures import quantity_text
from soakage.units import format_quantity

COVERAGE_95 = 1.96
_LEAST_BELOW = 8  # points below a knee from which the healthy curve is drawn on


def step_plots(evaluated: Evaluated) -> list[Plot]:
    """Return the plots of a step test: the currents, and the conductance or resistance of each step."""
    if len(evaluated.steps) < 2:
        return []
    currents = _step_currents(evaluated)
    second = _step_conductances(evaluated) or _step_resistances(evaluated)
    return [*([currents] if currents else []), second]


def _step_currents(evaluated: Evaluated) -> Plot | None:
    steps, readings = evaluated.steps, evaluated.record.readings
    ends = np.cumsum([step.hold for step in steps])
    dense = np.isfinite(readings.time).sum() > len(steps) + 1 and bool(np.all(np.isfinite(ends)))
    if not dense:
        return None
    plain, current = readings.bound == 0, magnitude(readings.current)
    edges = [0.0, *ends.tolist()]
    lines, names = [], []
    for (start, stop), step in zip(pairwise(edges), steps, strict=True):
        inside = plain & (readings.time > start) & (readings.time <= stop)
        drawn = drawn_points(readings.time[inside], current[inside], log=False)
        lines.append({"role": "measured", "points": drawn})
        names.append([(start + stop) / 2, _volts(step.voltage)])
    alt = "Current against time, one curve for each step of voltage."
    plot = _linear("steps", "Current against time; rings: end of each hold", alt, "time", "current", lines)
    rings = [[float(t), abs(s.current)] for t, s in zip(ends, steps, strict=True) if s.bound is None]
    return plot | {"rings": rings, "bands": names}


def _step_conductances(evaluated: Evaluated) -> Plot | None:
    """Return the conductance of each step with the memory of earlier steps removed, and their mean."""
    found = [
        s
        for s in evaluated.step_conductances
        if math.isfinite(s.conductance) and math.isfinite(s.uncertainty)
    ]
    if len(found) < 2:
        return None
    bars = [
        [abs(s.voltage), s.conductance - COVERAGE_95 * s.uncertainty, s.conductance + COVERAGE_95 * s.uncertainty,
         s.conductance]
        for s in found
    ]  # fmt: skip
    weights = np.array([s.uncertainty**-2 if s.uncertainty > 0 else 1.0 for s in found])
    mean = float(np.average([s.conductance for s in found], weights=weights))
    ends = [[bars[0][0], mean], [bars[-1][0], mean]]
    text = f"mean {format_quantity(mean, 'conductance')}"
    said = ", ".join(
        f"{quantity_text(value, 'conductance')} at {_volts(volts)}" for volts, _, _, value in bars
    )
    plot = _linear(
        "step-conductance", "Conductance, memory removed", f"{said}; {text}.", "voltage",
        "conductance", [{"role": "mean", "points": ends, "text": text}],
    )  # fmt: skip
    return plot | {"bars": bars}


def _step_resistances(evaluated: Evaluated) -> Plot:
    steps = evaluated.steps
    known = [
        [abs(s.voltage), abs(s.resistance)] for s in steps if s.bound is None and math.isfinite(s.resistance)
    ]
    bounds = [
        [abs(s.voltage), s.resistance, 1 if s.bound == "lower" else -1] for s in steps if s.bound is not None
    ]
    said = ", ".join(f"{quantity_text(r, 'resistance')} at {_volts(v)}" for v, r in known)
    lines = [{"role": "measured", "points": known}]
    plot = _linear(
        "step-resistance", "Resistance at the end of each hold", f"{said}.", "voltage", "resistance", lines
    )
    return plot | {"rings": known, "bounds": bounds}


def ramp_plots(evaluated: Evaluated) -> list[Plot]:
    """Return current against voltage, with the knee and what the part below it foretells."""
    if len(evaluated.ramp) < 2:
        return []
    readings = evaluated.record.readings
    good = np.isfinite(readings.voltage) & np.isfinite(readings.current) & (readings.bound == 0)
    volts, amps = magnitude(readings.voltage[good]), magnitude(readings.current[good])
    line = drawn_points(volts, amps, log=False)
    if len(line) < 2:
        return []
    top = max(line, key=lambda point: point[0])
    alt = f"At {_volts(top[0])} the current is {quantity_text(top[1], 'current')}."
    plot = _linear("ramp", "Current against voltage", alt, "voltage", "current", [])
    plot["labels"] = [[*top, format_quantity(top[1], "current")]]
    plot |= _knee(evaluated, volts, amps)
    plot["lines"].append({"role": "measured", "points": line})
    return [plot]


def _knee(evaluated: Evaluated, volts: np.ndarray, amps: np.ndarray) -> dict[str, Any]:
    """Return the onset of a knee, and above it the curve fitted below it with its 95 % band."""
    knee = evaluated.knee
    if knee is None:
        return {}
    onset, top = abs(knee.onset), float(volts.max())
    found: dict[str, Any] = {
        "lines": [],
        "rules": [{"at": onset, "text": f"knee from about {_volts(float(f'{onset:.3g}'))}"}],
    }
    below = (volts > 0.1 * top) & (volts < onset)
    if below.sum() < _LEAST_BELOW:
        return found
    terms = _healthy(volts[below])
    weights, *_ = np.linalg.lstsq(terms, amps[below], rcond=None)
    scatter = float(np.sqrt(np.sum((amps[below] - terms @ weights) ** 2) / max(1, below.sum() - 3)))
    ahead = np.linspace(onset, top, 24)
    expected = _healthy(ahead) @ weights
    # The band is that of the curve carried on: its own uncertainty and the scatter of a reading.
    spread = np.sqrt(
        1 + np.einsum("ij,jk,ik->i", _healthy(ahead), np.linalg.pinv(terms.T @ terms), _healthy(ahead))
    )
    half = COVERAGE_95 * scatter * spread
    found["lines"] = [
        {"role": "part", "points": np.column_stack([ahead, expected]).tolist(), "text": "as below the knee"}
    ]
    found["area"] = np.column_stack([ahead, expected - half, expected + half]).tolist()
    return found


def _healthy(volts: np.ndarray) -> np.ndarray:
    """Return the terms a current without a knee is made of: a constant, the root of the voltage, the voltage."""
    return np.column_stack([np.ones_like(volts), np.sqrt(volts), volts])


def _volts(value: float) -> str:
    return format_quantity(abs(value), "voltage", trim=True)


def _linear(kind: str, title: str, alt: str, x: str, y: str, lines: list[dict[str, Any]]) -> Plot:
    """Return a plot on linear axes, the y axis from zero."""
    return {
        "kind": kind, "title": title, "alt": alt,
        "x": {"dimension": x, "log": False}, "y": {"dimension": y, "log": False},
        "lines": lines, "rings": [], "labels": [], "bounds": [], "limits": [], "needs": [],
    }  # fmt: skip
