"""The current of a hold and its two parts: absorption, and the conduction that stays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from soakage.app.result import Evaluated
from soakage.report.drawn import Plot, charging, drawn_points, magnitude
from soakage.units import format_quantity


def current_plot(evaluated: Evaluated, marks: Sequence[float]) -> Plot | None:
    """Return current against time with its parts; None with fewer than two readings to draw.

    Parameters
    ----------
    evaluated : Evaluated
        The parts are those of the whole curve where it was fitted, else those of the marks; none where the
        curve does not follow the model.
    marks : sequence of float
        Times that are ringed [s].

    Returns
    -------
    dict or None
        On logarithmic axes.
    """
    readings, held = evaluated.record.readings, charging(evaluated)
    current = magnitude(readings.current)
    plain = held & (readings.bound == 0)
    line = drawn_points(readings.time[plain], current[plain], log=True)
    if len(line) < 2:
        return None
    by_time = {point[0]: point[1] for point in line}
    parts = _fitted_parts(evaluated, line) if evaluated.fit is not None else _mark_parts(evaluated, line)
    bounds = [
        [*point, -int(up)]
        for up in (1, -1)
        for point in drawn_points(
            readings.time[held & (readings.bound == up)], current[held & (readings.bound == up)], log=True
        )
    ]
    first, last = line[0], line[-1]
    return {
        "kind": "current",
        "title": "Current against time" + (" and its two parts" if len(parts) > 1 else ""),
        "alt": f"The current runs from {format_quantity(first[1], 'current')} at "
        f"{format_quantity(first[0], 'time')} to {format_quantity(last[1], 'current')} at "
        f"{format_quantity(last[0], 'time')}.",
        "x": {"dimension": "time", "log": True},
        "y": {"dimension": "current", "log": True},
        "lines": [*parts, {"role": "measured", "points": line}],
        "rings": [[t, by_time[t]] for t in marks if t in by_time],
        "labels": [],
        "bounds": bounds,
        "limits": [],
        "needs": [],
    }


def _fitted_parts(evaluated: Evaluated, line: list[list[float]]) -> list[dict[str, Any]]:
    """Return the parts of the fitted curve at the voltage that stood."""
    fit, readings = evaluated.fit, evaluated.record.readings
    if fit is None or not fit.follows_model:
        return []
    volts = np.abs(readings.voltage[charging(evaluated)])
    volts = volts[np.isfinite(volts)]
    level = float(np.median(volts)) if volts.size else math.nan
    steady = level * fit.conductance
    times = np.geomspace(line[0][0], line[-1][0], 40)
    absorbed = level * fit.absorption_coefficient * times**-fit.absorption_exponent
    parts = _steady(steady, line)
    if np.isfinite(absorbed).all():
        parts.append(_absorption(times, absorbed, line, steady, fit.absorption_exponent))
    return parts


def _mark_parts(evaluated: Evaluated, line: list[list[float]]) -> list[dict[str, Any]]:
    """Return the parts that the marks at 1, 3.16 and 10 min give."""
    conduction = evaluated.quantities.get("conduction_current")
    exponent = evaluated.quantities.get("absorption_exponent")
    if conduction is None or conduction.bound is not None:
        return []
    steady = abs(conduction.value)
    parts = _steady(steady, line)
    at_mark = next((value for t, value in line if t == 60.0), 0.0) - steady
    if parts and exponent is not None and exponent.bound is None and at_mark > 0:
        times = np.geomspace(line[0][0], line[-1][0], 40)
        absorbed = at_mark * (times / 60.0) ** -exponent.value
        parts.append(_absorption(times, absorbed, line, steady, exponent.value))
    return parts


def _steady(current: float, line: list[list[float]]) -> list[dict[str, Any]]:
    if not math.isfinite(current) or current <= 0:
        return []
    text = f"conduction {format_quantity(current, 'current')}"
    # Far below all readings it would only stretch the axis.
    if current < min(value for _, value in line) / 30:
        return []
    ends = [[line[0][0], current], [line[-1][0], current]]
    return [{"role": "constant", "points": ends, "text": text, "short": "conduction"}]


def _absorption(
    times: np.ndarray, absorbed: np.ndarray, line: list[list[float]], steady: float, exponent: float
) -> dict[str, Any]:
    floor = min([v for v in (steady, line[-1][1]) if v > 0]) / 3
    shown = absorbed > max(floor, line[-1][1] / 30)
    text = f"absorption, n\u00a0=\u00a0{exponent:.2f}"
    points = drawn_points(times[shown], absorbed[shown], log=True)
    return {"role": "part", "points": points, "text": text, "short": "absorption"}
