"""Which readings stand under one constant voltage: resistances and ratios are formed only from these."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from soakage.methods.base import Method, Shape
from soakage.model.readings import Bounds, Floats
from soakage.model.record import Record
from soakage.physics.steps import StepTable, step_table


@dataclass(frozen=True, slots=True)
class Window:
    """Readings of one hold, arrays of shape (T,), and the level the voltage then stood at.

    `stands_at` is the first reading from which the voltage keeps within the tolerance of its level;
    None when it never does.
    """

    time: Floats
    voltage: Floats
    current: Floats
    resistance: Floats
    bound: Bounds
    level: float
    stands_at: float | None


def upright(record: Record) -> Record:
    """Return a record of negative polarity with voltage and current counted positive, any other as it is."""
    readings = record.readings
    voltage = readings.voltage[readings.voltage != 0]
    if len(voltage) == 0 or not np.nanmedian(voltage) < 0:
        return record
    turned = replace(readings, voltage=-readings.voltage, current=-readings.current)
    return replace(record, readings=turned)


def table_of_steps(record: Record, method: Method) -> StepTable | None:
    """Return the end-of-hold table of a step test, or None for another method or without readings."""
    readings = record.readings
    if method.shape is not Shape.STEPS or not (readings.voltage > 0).any() or np.isnan(readings.time).any():
        return None
    edges = np.array([step.at for step in record.test.steps]) if record.test.steps else None
    bound = -readings.bound
    return step_table(readings.time, readings.voltage, readings.current, edges=edges, current_bound=bound)


def hold_window(record: Record, method: Method, tolerance: float, steps: StepTable | None) -> Window | None:
    """Return the readings under the first constant voltage, or None where the method has none.

    Parameters
    ----------
    record : Record
        The record.
    method : Method
        Its method; a ramp has no constant voltage.
    tolerance : float
        Share of the level within which the voltage counts as standing.
    steps : StepTable or None
        Table of a step test: its first hold is the window.

    Returns
    -------
    Window or None
    """
    readings = record.readings
    if method.shape is Shape.RAMP or len(readings) == 0:
        return None
    keep = np.ones(len(readings), dtype=bool)
    if steps is not None:
        keep &= readings.time <= steps.start[0] + steps.hold[0]
    if record.test.discharge_started is not None:
        keep &= ~(readings.time >= record.test.discharge_started)
    if not keep.any():
        return None
    time, voltage = readings.time[keep], readings.voltage[keep]
    level = float(np.median(voltage[~np.isnan(voltage)])) if (~np.isnan(voltage)).any() else np.nan
    return Window(
        time=time,
        voltage=voltage,
        current=readings.current[keep],
        resistance=readings.resistance[keep],
        bound=readings.bound[keep],
        level=level,
        stands_at=_stands_at(time, voltage, level, tolerance),
    )


def _stands_at(time: Floats, voltage: Floats, level: float, tolerance: float) -> float | None:
    if not level or np.isnan(level):
        return None
    within = np.abs(voltage - level) <= tolerance * abs(level)
    if not within.any():
        return None
    first = int(np.argmax(within))
    return float(time[first])
