"""Which readings stand under one constant voltage: resistances and ratios are formed only from these."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from soakage.methods.base import Method, Shape
from soakage.model.readings import Bounds, Floats
from soakage.model.record import Record
from soakage.physics.steps import StepTable, equal_holds, step_table

MANY = 8  # readings from which scatter is told from shape


@dataclass(frozen=True, slots=True)
class Window:
    """Readings of one hold, arrays of shape (T,), and the level the voltage then stood at.

    `stands_at` is the first reading from which the voltage stands within the tolerance of the level then
    held; infinite when it never does, None where no voltage was read.
    """

    time: Floats
    voltage: Floats
    current: Floats
    resistance: Floats
    bound: Bounds
    level: float
    stands_at: float | None


class Run(NamedTuple):
    """Times and resistances of the plain values in a hold, and the relative scatter of neighbours."""

    time: Floats
    resistance: Floats
    scatter: float


def middle(values: Floats) -> float:
    """Return the median of at least one value, for few values sooner than the general routine."""
    ordered, half = np.sort(values), len(values) // 2
    if np.isnan(ordered[-1]):
        return np.nan
    return float(ordered[half] if len(values) % 2 else (ordered[half - 1] + ordered[half]) / 2)


def run(window: Window) -> Run | None:
    """Return the plain values in a hold from the moment the voltage stands, or None where they are too few."""
    keep = (window.bound == 0) & ~np.isnan(window.resistance) & ~np.isnan(window.time) & (window.time > 0)
    if window.stands_at is not None and np.isfinite(window.stands_at):
        keep &= window.time >= window.stands_at
    if keep.sum() < 2:
        return None
    time, resistance = window.time[keep], window.resistance[keep]
    return Run(time, resistance, _scatter(time, resistance))


def _scatter(time: Floats, resistance: Floats) -> float:
    """Return the relative scatter of neighbouring readings, their smooth run taken out."""
    if len(time) < MANY:
        return 0.0
    x, y = np.log(time), np.log(resistance)
    share = (x[1:-1] - x[:-2]) / (x[2:] - x[:-2])
    off = y[1:-1] - (y[:-2] + share * (y[2:] - y[:-2]))
    weight = np.sqrt(1 + share**2 + (1 - share) ** 2)
    return middle(np.abs(off / weight)) / 0.6745


def upright(record: Record) -> Record:
    """Return a record of negative polarity with voltage and current counted positive, any other as it is."""
    readings = record.readings
    voltage = readings.voltage[~np.isnan(readings.voltage) & (readings.voltage != 0)]
    if len(voltage) == 0 or not middle(voltage) < 0:
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
    table = step_table(readings.time, readings.voltage, readings.current, edges=edges, current_bound=bound)
    read = ~np.isnan(table.voltage)  # a stated edge without a row has nothing to show
    if read.all():
        return table
    return StepTable(
        table.voltage[read],
        table.start[read],
        table.hold[read],
        table.current[..., read],
        table.resistance[..., read],
        table.bound[..., read],
        equal_holds(table.hold[read]),
    )


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
    return _window(record, keep, tolerance)


def later_holds(record: Record, tolerance: float, steps: StepTable | None) -> tuple[Window, ...]:
    """Return the holds of a step test after the first: checks run inside each, no ratio is formed there."""
    if steps is None:
        return ()
    time = record.readings.time
    spans = [
        (time > start) & (time <= start + hold)
        for start, hold in zip(steps.start[1:], steps.hold[1:], strict=True)
    ]
    return tuple(_window(record, span, tolerance) for span in spans if span.any())


def _window(record: Record, keep: NDArray[np.bool_], tolerance: float) -> Window:
    readings = record.readings
    time, voltage = readings.time[keep], readings.voltage[keep]
    read = voltage[~np.isnan(voltage)]
    level = middle(read) if len(read) else np.nan
    return Window(
        time=time,
        voltage=voltage,
        current=readings.current[keep],
        resistance=readings.resistance[keep],
        bound=readings.bound[keep],
        level=level,
        stands_at=_stands_at(time, voltage, tolerance),
    )


def _stands_at(time: Floats, voltage: Floats, tolerance: float) -> float | None:
    read = ~np.isnan(voltage)
    time, voltage = time[read], voltage[read]
    # the level then held is that of the later half: the way up belongs to none
    level = middle(voltage[len(voltage) // 2 :]) if len(voltage) else 0.0
    if level == 0:
        return None
    within = np.abs(voltage - level) <= tolerance * abs(level)
    # a voltage that passes through its level on the way is not standing there
    stays = within & np.append(within[1:], True)
    return float(time[int(np.argmax(stays))]) if stays.any() else np.inf
