"""Gives quantities their standard uncertainty from the accuracy the record declares (JCGM 100)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from soakage.app.derive import Quantities
from soakage.app.window import Window
from soakage.model.record import Record
from soakage.model.test import Accuracy
from soakage.physics.uncertainty import reading_uncertainty
from soakage.physics.uncertainty_ratio import resistance_ratio_uncertainty
from soakage.quantities import ratio_marks, resistance_id, resistance_mark


def accuracy_at(rows: tuple[Accuracy, ...], resistance: float) -> Accuracy | None:
    """Return the row of the declared accuracy that holds for a resistance.

    Parameters
    ----------
    rows : tuple of Accuracy
        As declared.
    resistance : float
        Reading [ohm].

    Returns
    -------
    Accuracy or None
        The row of the smallest range that takes the reading, else a row for all ranges, else None.
    """
    fitting = [row for row in rows if row.range is not None and resistance <= row.range]
    if fitting:
        return min(fitting, key=lambda row: row.range or 0.0)
    return next((row for row in rows if row.range is None), None)


def add_uncertainty(record: Record, window: Window | None, found: Quantities) -> None:
    """Replace resistances and ratios by the same with their standard uncertainty.

    Parameters
    ----------
    record : Record
        Declares the accuracy; without it nothing is changed.
    window : Window or None
        Readings under one constant voltage, for the slope at a mark.
    found : Quantities
        Changed in place.
    """
    rows = record.instrument.accuracy
    if not rows or window is None:
        return
    for quantity_id, quantity in list(found.values.items()):
        if quantity.bound is not None:
            continue
        mark = resistance_mark(quantity_id)
        marks = ratio_marks(quantity_id)
        if mark is not None or quantity_id == "insulation_resistance":
            uncertainty = _resistance(rows, quantity.value, mark, window)
        elif marks is not None:
            uncertainty = _ratio(rows, marks, quantity.value, found, window)
        else:
            continue
        if uncertainty is not None and np.isfinite(uncertainty):
            found.values[quantity_id] = replace(quantity, uncertainty=float(uncertainty))


def _slope(window: Window, mark: float | None) -> float:
    """Return d ln R / d ln t at a mark, from the readings around it."""
    keep = (window.bound == 0) & ~np.isnan(window.resistance) & (window.time > 0)
    if mark is None or keep.sum() < 2:
        return 0.0
    x, y = np.log(window.time[keep]), np.log(window.resistance[keep])
    near = np.argsort(np.abs(x - np.log(mark)))[: max(2, min(len(x), 9))]
    spread = x[near] - x[near].mean()
    total = float((spread**2).sum())
    return float((spread * y[near]).sum() / total) if total > 0 else 0.0


def _resistance(rows: tuple[Accuracy, ...], value: float, mark: float | None, window: Window) -> float | None:
    row = accuracy_at(rows, value)
    if row is None:
        return None
    return float(
        reading_uncertainty(
            value,
            row.reading or 0.0,
            row.resolution or 0.0,
            row.offset or 0.0,
            window.level,
            row.timing or 0.0,
            mark if mark is not None else np.inf,
            _slope(window, mark),
        )
    )


def _ratio(
    rows: tuple[Accuracy, ...], marks: tuple[float, float], value: float, found: Quantities, window: Window
) -> float | None:
    later, earlier = (found.values.get(resistance_id(mark)) for mark in marks)
    if later is None or earlier is None:
        return None
    row, other = accuracy_at(rows, later.value), accuracy_at(rows, earlier.value)
    if row is None or other is None:
        return None
    digit = max((row.resolution or 0.0) / later.value, (other.resolution or 0.0) / earlier.value) / np.sqrt(
        12
    )
    relative = resistance_ratio_uncertainty(
        later.value,
        earlier.value,
        repeatability=digit,
        of_reading=max(row.reading or 0.0, other.reading or 0.0),
        common_gain=1.0 if row is other else 0.0,
        current_offset=max(row.offset or 0.0, other.offset or 0.0),
        test_voltage=window.level,
        timing=max(row.timing or 0.0, other.timing or 0.0),
        time_later=marks[0],
        time_earlier=marks[1],
        slope_later=_slope(window, marks[0]),
        slope_earlier=_slope(window, marks[1]),
    )
    return float(relative) * value
