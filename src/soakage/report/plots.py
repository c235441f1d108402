"""What a record's charts plot, as plain data: apart from how any page draws it.

A plot is a dict: ``kind``, ``title``, ``alt``, the two axes (``x``, ``y``: dimension, log or not),
``lines`` and ``rings`` of points ``[x, y]``, ``bounds`` of points ``[x, y, up]``, ``limits`` and ``labels``.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from soakage.app.result import Evaluated
from soakage.methods.base import Shape
from soakage.model.verdict import Judgement
from soakage.quantities import resistance_mark
from soakage.report.figures import counted, quantity_text
from soakage.units import celsius, format_quantity

Plot = dict[str, Any]
MOST_POINTS = 10_000
_KEPT_BINS = 2_000


def plots(evaluated: Evaluated) -> list[Plot]:
    """Return the plots of a record, none where its readings give nothing to draw.

    Parameters
    ----------
    evaluated : Evaluated
        The record with everything said about it.

    Returns
    -------
    list of dict
        Plain JSON-able values in SI.
    """
    shape = evaluated.method.shape
    if shape is Shape.STEPS:
        return _steps(evaluated)
    if shape is Shape.RAMP:
        return _ramp(evaluated)
    return _hold(evaluated)


def message(evaluated: Evaluated) -> str:
    """Return what the charts show, in one sentence with its figures; empty where nothing is drawn."""
    shape = evaluated.method.shape
    if shape is Shape.STEPS and len(evaluated.steps) > 1:
        first, last = evaluated.steps[0], evaluated.steps[-1]
        return (
            f"From {_volts(first.voltage)} to {_volts(last.voltage)} the resistance at the end of the hold "
            f"goes from {quantity_text(first.resistance, 'resistance', first.bound)} to "
            f"{quantity_text(last.resistance, 'resistance', last.bound)}."
        )
    if shape is Shape.RAMP and evaluated.ramp:
        top = max(evaluated.ramp, key=lambda row: row.voltage)
        return f"At {_volts(top.voltage)} the current is {quantity_text(top.current, 'current')}."
    time, values, bound = _resistances(evaluated)
    drawn = np.isfinite(time) & np.isfinite(values) & (time > 0)
    if drawn.sum() < 2:
        return ""
    places = np.flatnonzero(drawn)
    first_at, last_at = places[0], places[-1]
    if bound[first_at] or bound[last_at]:
        return f"{counted(int((bound != 0).sum()), 'reading')} of {drawn.sum()} only bound the resistance."
    word = "rises" if values[last_at] > values[first_at] else "falls"
    return (
        f"The resistance {word} from {format_quantity(float(values[first_at]), 'resistance')} at "
        f"{format_quantity(float(time[first_at]), 'time')} to "
        f"{format_quantity(float(values[last_at]), 'resistance')} at "
        f"{format_quantity(float(time[last_at]), 'time')}."
    )


def _volts(value: float) -> str:
    return format_quantity(value, "voltage", trim=True)


def _resistances(evaluated: Evaluated) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int8]]:
    """Return time, resistance and bound of the readings under voltage."""
    readings, end = evaluated.record.readings, evaluated.record.test.discharge_started
    held = np.ones(len(readings), bool) if end is None else ~(readings.time >= end)
    return readings.time[held], readings.resistance[held], readings.bound[held]


def _points(x: NDArray[np.float64], y: NDArray[np.float64], *, log: bool) -> list[list[float]]:
    """Return the points that can be drawn, thinned out above :data:`MOST_POINTS`.

    On log axes only values above zero remain.  Thinning keeps the lowest and highest point of each of equal
    parts of the axis, so a spike stays.
    """
    keep = np.isfinite(x) & np.isfinite(y)
    if log:
        keep &= (x > 0) & (y > 0)
    x, y = x[keep], y[keep]
    if x.size > MOST_POINTS:
        place = np.log(x) if log else x
        low, high = place.min(), place.max()
        bins = np.minimum(((place - low) / max(high - low, 1e-300) * _KEPT_BINS).astype(int), _KEPT_BINS - 1)
        order = np.lexsort((y, bins))
        sorted_bins = bins[order]
        first = np.flatnonzero(np.r_[True, sorted_bins[1:] != sorted_bins[:-1]])
        last = np.r_[first[1:] - 1, order.size - 1]
        chosen = np.unique(np.r_[order[first], order[last], 0, x.size - 1])
        x, y = x[chosen], y[chosen]
    return [[float(a), float(b)] for a, b in zip(x, y, strict=True)]


def _hold(evaluated: Evaluated) -> list[Plot]:
    time, resistance, bound = _resistances(evaluated)
    plain = bound == 0
    line = _points(time[plain], resistance[plain], log=True)
    bounds = [
        [*point, int(up)]
        for up in (1, -1)
        for point in _points(time[bound == up], resistance[bound == up], log=True)
    ]
    if len(line) + len(bounds) < 2:
        return []
    marks = _marks(evaluated)
    rings = [[t, r] for t, r in marks.items()]
    labels = [[t, r, format_quantity(r, "resistance")] for t, r in _told(marks).items()]
    found: Plot = {
        "kind": "resistance",
        "title": "Resistance against time since voltage on",
        "alt": message(evaluated),
        "x": {"dimension": "time", "log": True},
        "y": {"dimension": "resistance", "log": True},
        "lines": [{"role": "measured", "points": line}],
        "rings": rings,
        "labels": labels,
        "bounds": bounds,
        "limits": _limits(evaluated),
        "needs": _index_need(evaluated, marks),
    }
    current = _current(evaluated, marks)
    return [found, current] if current else [found]


def _marks(evaluated: Evaluated) -> dict[float, float]:
    """Return resistance by mark, for the marks that were read as values."""
    found = {}
    for quantity_id, quantity in evaluated.quantities.items():
        mark = resistance_mark(quantity_id)
        if mark and quantity.bound is None and not quantity_id.endswith("_corrected") and quantity.value > 0:
            found[mark] = quantity.value
    return dict(sorted(found.items()))


def _told(marks: dict[float, float]) -> dict[float, float]:
    """Return the marks whose value is written beside them: 1 min and the last."""
    return {t: r for t, r in marks.items() if t in (60.0, max(marks))}


def _limits(evaluated: Evaluated) -> list[dict[str, Any]]:
    """Return the lower limits on resistance, brought to the temperature of the reading."""
    found = []
    seen = set()
    for judgement in evaluated.judgements:
        limit = judgement.limit
        if limit is None or not limit.lower or limit.lower <= 0 or limit.unit != "ohm":
            continue
        corrected = evaluated.quantities.get(judgement.quantity)
        raw = evaluated.quantities.get(judgement.quantity.removesuffix("_corrected"))
        level, words = limit.lower, f"at least {format_quantity(limit.lower, 'resistance', trim=True)}"
        if judgement.quantity.endswith("_corrected"):
            if corrected is None or raw is None or corrected.value <= 0:
                continue
            level *= raw.value / corrected.value
            if corrected.base_temperature is not None:
                words += f" at {format_quantity(corrected.base_temperature, 'temperature')}"
            here = evaluated.record.conditions.winding_temperature
            if here is not None and not math.isclose(raw.value, corrected.value, rel_tol=1e-3):
                words += f" = {format_quantity(level, 'resistance')} at {celsius(here):.1f}\u00a0°C"
        key = f"{level:.3g}"
        if level > 0 and key not in seen:
            seen.add(key)
            found.append({"level": level, "side": "below", "text": words})
    return sorted(found, key=lambda entry: -float(str(entry["level"])))[:2]


def _index_need(evaluated: Evaluated, marks: dict[float, float]) -> list[dict[str, Any]]:
    """Return where the resistance at 10 min would have to be, for the index asked for."""
    asked = [j for j in evaluated.judgements if j.quantity == "polarization_index" and _asks(j)]
    if not asked or 60.0 not in marks or 600.0 not in marks:
        return []
    limit = asked[0].limit
    lower = limit.lower if limit is not None and limit.lower is not None else 0.0
    level = lower * marks[60.0]
    text = f"index {lower:.1f} needs {format_quantity(level, 'resistance')}"
    return [{"from": [60.0, marks[60.0]], "to": [600.0, level], "reading": marks[600.0], "text": text}]


def _asks(judgement: Judgement) -> bool:
    return judgement.limit is not None and bool(judgement.limit.lower) and judgement.status.rung >= 0


def _current(evaluated: Evaluated, marks: dict[float, float]) -> Plot | None:
    readings, end = evaluated.record.readings, evaluated.record.test.discharge_started
    held = (readings.bound == 0) if end is None else (readings.bound == 0) & ~(readings.time >= end)
    line = _points(readings.time[held], readings.current[held], log=True)
    if len(line) < 2:
        return None
    by_time = {point[0]: point[1] for point in line}
    rings = [[t, by_time[t]] for t in marks if t in by_time]
    lines: list[dict[str, Any]] = []
    conduction = evaluated.quantities.get("conduction_current")
    exponent = evaluated.quantities.get("absorption_exponent")
    first, last = line[0][0], line[-1][0]
    if conduction and conduction.bound is None and conduction.value > 0:
        steady = conduction.value
        text = f"conduction {format_quantity(steady, 'current')}"
        lines.append({"role": "constant", "points": [[first, steady], [last, steady]], "text": text})
        at_mark = by_time.get(60.0, 0.0) - steady
        if exponent and exponent.bound is None and at_mark > 0:
            times = np.geomspace(first, last, 40)
            part = at_mark * (times / 60.0) ** -exponent.value
            shown = part > min(steady, line[-1][1]) / 3  # what falls below would only stretch the axis
            parts = _points(times[shown], part[shown], log=True)
            lines.append({"role": "part", "points": parts, "text": "absorption"})
    lines.append({"role": "measured", "points": line})
    bounds = [
        [*point, -int(up)]
        for up in (1, -1)
        for point in _points(
            readings.time[readings.bound == up], readings.current[readings.bound == up], log=True
        )
    ]
    return {
        "kind": "current",
        "title": "Current against time" + (" and its two parts" if len(lines) > 2 else ""),
        "alt": f"The current runs from {format_quantity(line[0][1], 'current')} at "
        f"{format_quantity(first, 'time')} to {format_quantity(line[-1][1], 'current')} at "
        f"{format_quantity(last, 'time')}.",
        "x": {"dimension": "time", "log": True},
        "y": {"dimension": "current", "log": True},
        "lines": lines,
        "rings": rings,
        "labels": [],
        "bounds": bounds,
        "limits": [],
        "needs": [],
    }


def _steps(evaluated: Evaluated) -> list[Plot]:
    steps = evaluated.steps
    if len(steps) < 2:
        return []
    readings = evaluated.record.readings
    plain = readings.bound == 0
    ends = np.cumsum([step.hold for step in steps])
    found = []
    dense = np.isfinite(readings.time).sum() > len(steps) + 1 and bool(np.all(np.isfinite(ends)))
    if dense:
        edges = [0.0, *ends.tolist()]
        lines, names = [], []
        for (start, stop), step in zip(pairwise(edges), steps, strict=True):
            inside = plain & (readings.time > start) & (readings.time <= stop)
            lines.append(
                {
                    "role": "measured",
                    "points": _points(readings.time[inside], readings.current[inside], log=False),
                }
            )
            names.append([(start + stop) / 2, _volts(step.voltage)])
        alt = "Current against time, one curve for each step of voltage."
        found.append(
            _linear("steps", "Current against time; rings: end of each hold", alt, "time", "current", lines)
            | {
                "rings": [[float(t), s.current] for t, s in zip(ends, steps, strict=True) if s.bound is None],
                "bands": names,
            }
        )
    known = [[s.voltage, s.resistance] for s in steps if s.bound is None and math.isfinite(s.resistance)]
    bounds = [
        [s.voltage, s.resistance, 1 if s.bound == "lower" else -1] for s in steps if s.bound is not None
    ]
    found.append(
        _linear(
            "step-resistance", "Resistance at the end of each hold", message(evaluated), "voltage",
            "resistance",
            [{"role": "measured", "points": known}],
        )
        | {"rings": known, "bounds": bounds}
    )  # fmt: skip
    return found


def _ramp(evaluated: Evaluated) -> list[Plot]:
    rows = [r for r in evaluated.ramp if math.isfinite(r.voltage) and math.isfinite(r.current)]
    if len(rows) < 2:
        return []
    volts, amps = np.array([r.voltage for r in rows]), np.array([r.current for r in rows])
    lines = [{"role": "measured", "points": _points(volts, amps, log=False)}]
    plot = _linear("ramp", "Current against voltage", message(evaluated), "voltage", "current", lines)
    last = rows[-1]
    return [plot | {"labels": [[last.voltage, last.current, format_quantity(last.current, "current")]]}]


def _linear(kind: str, title: str, alt: str, x: str, y: str, lines: list[dict[str, Any]]) -> Plot:
    """Return a plot on linear axes, the y axis from zero."""
    return {
        "kind": kind, "title": title, "alt": alt,
        "x": {"dimension": x, "log": False}, "y": {"dimension": y, "log": False},
        "lines": lines, "rings": [], "labels": [], "bounds": [], "limits": [], "needs": [],
    }  # fmt: skip
