"""Gives quantities their standard uncertainty and its budget from the accuracy the record declares (JCGM 100)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from soakage.app.derive import Quantities
from soakage.app.result import StepRow
from soakage.app.window import Window, run
from soakage.model.record import Record
from soakage.model.test import Accuracy
from soakage.model.verdict import Contribution, QuantityValue
from soakage.physics.budget import Budget, local_scatter, ratio_budget, reading_budget
from soakage.physics.resistance import at_mark
from soakage.physics.three_point import MARKS, three_point
from soakage.quantities import ratio_marks, resistance_id, resistance_mark

GAIN, OFFSET, TEMPERATURE = "gain", "offset", "temperature"
_NEAR = 9  # readings around a mark that give the slope there


@dataclass(frozen=True, slots=True)
class _Part:
    """Budget of one reading [1], the row of the accuracy it came from, and its signed offset share [1]."""

    row: Accuracy
    budget: Budget
    offset: float


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


def budgeted(quantity: QuantityValue, relative: Mapping[str, float]) -> QuantityValue:
    """Return a quantity with its uncertainty and what makes it up.

    Parameters
    ----------
    quantity : QuantityValue
        The quantity.
    relative : mapping of str to float
        Independent contributions by name, relative to its value [1].

    Returns
    -------
    QuantityValue
        As it was where a contribution is not known or all are 0.
    """
    total = float(sum(part**2 for part in relative.values()))
    if not (np.isfinite(total) and total > 0):
        return quantity
    size = abs(quantity.value)
    parts = [Contribution(name, part * size, part**2 / total) for name, part in relative.items() if part > 0]
    return replace(
        quantity,
        uncertainty=float(np.sqrt(total)) * size,
        budget=tuple(sorted(parts, key=lambda part: part.share, reverse=True)),
    )


def relative_parts(quantity: QuantityValue) -> dict[str, float]:
    """Return the contributions to a quantity's uncertainty relative to its value, by name."""
    return {part.name: part.uncertainty / abs(quantity.value) for part in quantity.budget}


def with_temperature(quantity: QuantityValue, share: float) -> QuantityValue:
    """Return a corrected quantity whose budget holds the temperature's share too [1]."""
    if quantity.uncertainty is None or not share > 0:
        return quantity
    return budgeted(quantity, {**relative_parts(quantity), TEMPERATURE: share})


def add_uncertainty(
    record: Record, window: Window | None, found: Quantities, steps: Sequence[StepRow] = ()
) -> None:
    """Replace quantities formed from resistances by the same with uncertainty and budget.

    Parameters
    ----------
    record : Record
        Declares the accuracy; without it nothing is changed.
    window : Window or None
        Readings under one constant voltage, for slope and scatter at a mark.
    found : Quantities
        Changed in place.
    steps : sequence of StepRow, optional
        Table of a step test.
    """
    rows = record.instrument.accuracy
    if not rows or window is None:
        return
    for quantity_id, quantity in list(found.values.items()):
        if quantity.bound is not None:
            continue
        mark, marks = resistance_mark(quantity_id), ratio_marks(quantity_id)
        relative: Mapping[str, float] | None = None
        if mark is not None or quantity_id == "insulation_resistance":
            relative = _named(_reading(rows, quantity.value, mark, window))
        elif marks is not None:
            values = [found.values.get(resistance_id(each)) for each in marks]
            if values[0] is not None and values[1] is not None:
                later, earlier = (
                    _reading(rows, value.value, each, window)
                    for value, each in zip(values, marks, strict=True)
                    if value is not None
                )
                relative = _ratio(later, earlier)
        elif quantity_id == "resistance_length":
            relative = _same_as(found, ("insulation_resistance_60s", "insulation_resistance"))
        elif quantity_id == "voltage_dependence" and len(steps) > 1:
            relative = _fall(rows, steps, quantity.value)
        elif quantity_id in ("conduction_current", "absorption_exponent"):
            relative = _decomposed(rows, window, quantity)
        if relative is not None:
            found.values[quantity_id] = budgeted(quantity, relative)


def spread_parts(
    largest: QuantityValue, smallest: QuantityValue, *, one_instrument: bool
) -> dict[str, float]:
    """Return the relative contributions to a ratio of two sections read one after the other [1].

    Parameters
    ----------
    largest, smallest : QuantityValue
        With their budgets.
    one_instrument : bool
        Whether both were read with the same instrument: equal gains then cancel.

    Returns
    -------
    dict of str to float
        Empty where either has no budget.
    """
    first, second = relative_parts(largest), relative_parts(smallest)
    if not first or not second:
        return {}
    parts = {
        name: float(np.hypot(first.get(name, 0.0), second.get(name, 0.0))) for name in {**first, **second}
    }
    alike = np.isclose(first.get(GAIN, 0.0), second.get(GAIN, 0.0), rtol=1e-6)
    if one_instrument and alike:
        parts[GAIN] = 0.0
    return parts


def _slope(window: Window, mark: float | None) -> float:
    """Return d ln R / d ln t at a mark, from the readings around it."""
    keep = (window.bound == 0) & ~np.isnan(window.resistance) & (window.time > 0)
    if mark is None or keep.sum() < 2:
        return 0.0
    x, y = np.log(window.time[keep]), np.log(window.resistance[keep])
    near = np.argsort(np.abs(x - np.log(mark)))[: max(2, min(len(x), _NEAR))]
    spread = x[near] - x[near].mean()
    total = float((spread**2).sum())
    return float((spread * y[near]).sum() / total) if total > 0 else 0.0


def _scatter(window: Window, mark: float | None) -> float:
    if mark is None:
        return 0.0
    scatter = local_scatter(window.time, np.where(window.bound == 0, window.resistance, np.nan), mark)
    if np.isfinite(scatter):
        return scatter
    # few readings near the mark: the scatter of neighbours over the whole hold stands in
    whole = run(window)
    return whole.scatter if whole is not None else 0.0


def _reading(rows: tuple[Accuracy, ...], value: float, mark: float | None, window: Window) -> _Part | None:
    return _part(rows, value, mark, window.level, _slope(window, mark), _scatter(window, mark))


def _part(
    rows: tuple[Accuracy, ...], value: float, mark: float | None, volts: float, slope: float, scatter: float
) -> _Part | None:
    row = accuracy_at(rows, value)
    if row is None or not value > 0:
        return None
    budget = reading_budget(
        value,
        row.reading or 0.0,
        row.offset or 0.0,
        row.resolution or 0.0,
        row.timing or 0.0,
        scatter,
        volts,
        mark if mark is not None else np.inf,
        slope,
    )
    return _Part(row, budget, float(budget.offset))


def _named(part: _Part | None) -> dict[str, float] | None:
    return None if part is None else _by_name(part.budget)


def _by_name(budget: Budget) -> dict[str, float]:
    return {name: float(value) for name, value in budget._asdict().items()}


def _ratio(later: _Part | None, earlier: _Part | None) -> dict[str, float] | None:
    if later is None or earlier is None:
        return None
    common = 1.0 if later.row is earlier.row else 0.0
    return _by_name(ratio_budget(later.budget, earlier.budget, later.offset, earlier.offset, common))


def _same_as(found: Quantities, ids: Sequence[str]) -> dict[str, float] | None:
    source = next((found.values[name] for name in ids if name in found.values), None)
    return relative_parts(source) if source is not None and source.budget else None


def _fall(rows: tuple[Accuracy, ...], steps: Sequence[StepRow], fall: float) -> dict[str, float] | None:
    """Return what errors bring to 1 - R_last/R_first: those of the ratio, over the fall itself."""
    first, last = (
        _part(rows, step.resistance, step.hold, step.voltage, 0.0, 0.0) for step in (steps[0], steps[-1])
    )
    ratio = _ratio(last, first)
    if ratio is None or fall == 0:
        return None
    return {name: part * abs(1.0 - fall) / abs(fall) for name, part in ratio.items()}


def _decomposed(
    rows: tuple[Accuracy, ...], window: Window, quantity: QuantityValue
) -> dict[str, float] | None:
    """Return what errors bring to the split of three currents: common ones whole, others one at a time."""
    current = np.where((window.bound == 0) & (window.current > 0), window.current, np.nan)
    values = at_mark(window.time, current, np.array(MARKS)).value
    parts = [_reading(rows, window.level / i, mark, window) for i, mark in zip(values, MARKS, strict=True)]
    if any(part is None for part in parts):
        return None
    known = [part for part in parts if part is not None]
    # Change of the result for a small relative change of one current, up and down, all at once.
    small = 1e-4 * np.vstack([np.eye(3), -np.eye(3)])
    result = np.asarray(getattr(three_point(*(values * (1 + small)).T), quantity.id))
    slope = (result[:3] - result[3:]) / 2e-4

    def apart(name: str) -> float:
        return float(np.linalg.norm(slope * np.array([float(getattr(part.budget, name)) for part in known])))

    gains = np.array([float(part.budget.gain) for part in known])
    common = all(part.row is known[0].row for part in known)
    parted = {
        GAIN: abs(float(slope @ gains)) if common else apart(GAIN),
        OFFSET: abs(float(slope @ np.array([part.offset for part in known]))),
        **{name: apart(name) for name in ("resolution", "timing", "scatter")},
    }
    size = abs(quantity.value)
    return {name: part / size for name, part in parted.items()} if size > 0 else None
