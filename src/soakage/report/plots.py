"""What a record's charts plot, as plain data: apart from how any page draws it.

A plot is a dict: ``kind``, ``title``, ``alt``, the two axes (``x``, ``y``: dimension, log or not),
``lines`` and ``rings`` of points ``[x, y]``, ``bounds`` of points ``[x, y, up]``, ``limits`` and ``labels``.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from soakage.app.result import Evaluated
from soakage.methods.base import Shape
from soakage.model.verdict import Judgement
from soakage.quantities import resistance_mark
from soakage.report.drawn import Plot, drawn_points, resistances
from soakage.report.figures import counted, printed, quantity_text
from soakage.report.plots_current import current_plot
from soakage.report.plots_rising import ramp_plots, step_plots
from soakage.units import celsius, format_quantity


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
        return step_plots(evaluated)
    if shape is Shape.RAMP:
        return ramp_plots(evaluated)
    return _hold(evaluated)


def message(evaluated: Evaluated) -> str:
    """Return what the charts show, in one sentence with its figures; empty where nothing is drawn."""
    shape = evaluated.method.shape
    if shape is Shape.STEPS and len(evaluated.steps) > 1:
        first, last = evaluated.steps[0], evaluated.steps[-1]
        excess = evaluated.quantities.get("excess_current_share")
        more = (
            f" With the memory of earlier steps removed, {printed(excess).with_uncertainty} of the current at "
            "the last step is beyond the course of those before."
            if excess
            else ""
        )
        return (
            f"From {_volts(first.voltage)} to {_volts(last.voltage)} the resistance at the end of the hold "
            f"goes from {quantity_text(first.resistance, 'resistance', first.bound)} to "
            f"{quantity_text(last.resistance, 'resistance', last.bound)}.{more}"
        )
    if shape is Shape.RAMP and evaluated.ramp:
        top = max(evaluated.ramp, key=lambda row: abs(row.voltage))
        said = f"At {_volts(top.voltage)} the current is {quantity_text(abs(top.current), 'current')}."
        knee = evaluated.knee
        if knee is not None:
            said += (
                f" It bends upward from about {format_quantity(abs(knee.onset), 'voltage')}, noticed at "
                f"{format_quantity(abs(knee.noticed_at), 'voltage')}; the excess is "
                f"{format_quantity(knee.excess_share, 'fraction', digits=2)} of the current."
            )
        return said
    time, values, bound = resistances(evaluated)
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
    return format_quantity(abs(value), "voltage", trim=True)


def _hold(evaluated: Evaluated) -> list[Plot]:
    time, resistance, bound = resistances(evaluated)
    plain = bound == 0
    line = drawn_points(time[plain], resistance[plain], log=True)
    bounds = [
        [*point, int(up)]
        for up in (1, -1)
        for point in drawn_points(time[bound == up], resistance[bound == up], log=True)
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
    _add_forecast(found, evaluated, marks)
    current = current_plot(evaluated, list(marks))
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
    asked = [j for j in evaluated.judgements if j.quantity == "polarization_index" and _asks(j, evaluated)]
    if not asked or 60.0 not in marks or (600.0 not in marks and evaluated.forecast is None):
        return []
    limit = asked[0].limit
    lower = limit.lower if limit is not None and limit.lower is not None else 0.0
    level = lower * marks[60.0]
    text = f"index {lower:.1f} needs {format_quantity(level, 'resistance')}"
    return [{"from": [60.0, marks[60.0]], "to": [600.0, level], "reading": marks.get(600.0), "text": text}]


def _asks(judgement: Judgement, evaluated: Evaluated) -> bool:
    judged = judgement.status.rung >= 0 or evaluated.forecast is not None
    return judgement.limit is not None and bool(judgement.limit.lower) and judged


def _add_forecast(plot: Plot, evaluated: Evaluated, marks: dict[float, float]) -> None:
    """Add the band in which the resistance goes on if nothing changes, and the index at its mark."""
    foreseen = evaluated.forecast
    if foreseen is None:
        return
    plot["area"] = [[t, low, high] for t, low, high in foreseen.band if t >= foreseen.seen_until and low > 0]
    if 60.0 in marks and foreseen.lower > 0:
        at_mark = [marks[60.0] * ratio for ratio in (foreseen.lower, foreseen.upper, foreseen.estimate)]
        plot["bars"] = [[foreseen.at, *at_mark]]
        plot["notes"] = [[foreseen.at, at_mark[1], "90\u00a0% if nothing changes"]]
