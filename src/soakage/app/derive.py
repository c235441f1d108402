"""Turns a record's readings into quantities: every one the readings allow, whatever the method."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from soakage.app.window import Window
from soakage.methods.base import Method, Shape
from soakage.model.readings import Floats
from soakage.model.record import Record
from soakage.model.verdict import QuantityValue
from soakage.physics.bounds import Bounded, bounded, ratio
from soakage.physics.resistance import at_mark
from soakage.physics.three_point import MARKS as THREE_POINTS
from soakage.physics.three_point import REASONS, three_point
from soakage.quantities import lookup, ratio_id, ratio_marks, resistance_id, resistance_mark
from soakage.units import Bound, format_quantity

STANDARD_MARKS = (15.0, 30.0, 60.0, 120.0, 300.0, 600.0)
STANDARD_RATIOS = ((60.0, 30.0), (60.0, 15.0), (600.0, 60.0))
# A mark is interpolated between readings whose times differ by no more than this factor.  Ours, practice.
WIDEST_GAP = 4.0
_BOUNDS = {1: Bound.LOWER, -1: Bound.UPPER, 0: None}
_CODES = {bound: code for code, bound in _BOUNDS.items()}


@dataclass(slots=True)
class Quantities:
    """Quantities of one record as they are gathered.

    Parameters
    ----------
    values : dict
        By id, in the order computed.
    missing : dict
        Reason by id for those that cannot be had.
    blocked : dict
        Reason by id for those that are shown but must not be judged.
    """

    values: dict[str, QuantityValue] = field(default_factory=dict)
    missing: dict[str, str] = field(default_factory=dict)
    blocked: dict[str, str] = field(default_factory=dict)

    def add(
        self,
        quantity_id: str,
        value: float,
        bound: Bound | None = None,
        *,
        formula: str = "",
        source: str = "",
        inputs: dict[str, str] | None = None,
        uncertainty: float | None = None,
    ) -> None:
        """Keep a quantity; formula and source come from the glossary unless given."""
        entry = lookup(quantity_id)
        self.values[quantity_id] = QuantityValue(
            quantity_id,
            float(value),
            bound,
            uncertainty=uncertainty,
            formula=formula or entry.expression,
            source=source or entry.source,
            inputs=inputs or {},
        )


def bound_of(code: int) -> Bound | None:
    """Return the bound of an array's code."""
    return _BOUNDS[int(code)]


def derive_resistances(
    record: Record,
    method: Method,
    window: Window | None,
    ratios: Iterable[tuple[float, float]],
    found: Quantities,
) -> None:
    """Add resistances at marks, spot readings and ratios.

    Parameters
    ----------
    record : Record
        The record.
    method : Method
        Its method.
    window : Window or None
        Readings under one constant voltage.
    ratios : iterable of (later, earlier)
        Ratios asked for by the user, marks in seconds.
    found : Quantities
        Where they are added.
    """
    if window is None:
        why = "On a ramp voltage over current is no resistance."
        for quantity_id in ("insulation_resistance_60s", "polarization_index", "dielectric_absorption_ratio"):
            found.missing[quantity_id] = why
        return
    untimed = np.isnan(window.time)
    circuit = record.asset.asset_class == "low-voltage-installation"  # judged by its reading, at no mark
    if method.shape is Shape.SPOT or untimed.all() or circuit:
        _spot(record, window, found, untimed=bool(untimed[-1]))
    timed = ~untimed
    if not timed.any():
        return
    wanted = {*STANDARD_MARKS, *(m.time for m in method.marks if not m.after_discharge)}
    wanted |= {mark for q in method.quantities if (mark := resistance_mark(q)) is not None}
    named = [pair for q in method.quantities if (pair := ratio_marks(q)) is not None]
    pairs = list(dict.fromkeys((*STANDARD_RATIOS, *named, *ratios)))
    for later, earlier in pairs:
        wanted |= {later, earlier}
    marks = np.array(sorted(wanted))
    time = window.time[timed]
    at = at_mark(time, window.resistance[timed], marks, window.bound[timed])
    values = np.where(_read_around(time, window.resistance[timed], marks), at.value, np.nan)
    for mark, value, code in zip(marks, values, at.bound, strict=True):
        quantity_id = resistance_id(float(mark))
        if np.isnan(value):
            found.missing.setdefault(quantity_id, _why_no_mark(float(mark), time))
        elif quantity_id not in found.values:
            found.add(quantity_id, value, bound_of(code), inputs={"time": _seconds(mark)})
    _ratios(pairs, found)


def _seconds(mark: float) -> str:
    return format_quantity(float(mark), "time")


def _read_around(time: Floats, value: Floats, marks: Floats) -> NDArray[np.bool_]:
    """Say for each mark whether it was read, or lies between two readings near enough to interpolate."""
    taken = time[~np.isnan(value) & (time > 0)]
    # times of a record never fall
    before = np.append(-np.inf, taken)[np.searchsorted(taken, marks, side="right")]
    after = np.append(taken, np.inf)[np.searchsorted(taken, marks, side="left")]
    return (before > 0) & (after <= WIDEST_GAP * before)


def _why_no_mark(mark: float, time: np.ndarray) -> str:
    text = _seconds(mark)
    if mark < time[0]:
        return f"The first reading stands at {_seconds(time[0])}, after {text}; nothing is extrapolated."
    if mark > time[-1]:
        return f"The readings under one voltage end at {_seconds(time[-1])}, before {text}."
    return f"No resistance stands at {text}: the readings around it are too far apart, empty, or undecided bounds."


def _spot(record: Record, window: Window, found: Quantities, *, untimed: bool) -> None:
    value, code = window.resistance[-1], window.bound[-1]
    if np.isnan(value):
        found.missing["insulation_resistance"] = "The reading gives no resistance."
        return
    time = window.time[-1]
    inputs = {} if untimed else {"time": _seconds(time)}
    found.add("insulation_resistance", value, bound_of(code), inputs=inputs)
    if untimed and record.test.method != "circuit":
        found.add(
            "insulation_resistance_60s",
            value,
            bound_of(code),
            formula="the spot reading, its time not stated, taken as the 60 s value",
        )


def _ratios(pairs: Iterable[tuple[float, float]], found: Quantities) -> None:
    formed: list[tuple[str, QuantityValue, QuantityValue]] = []
    for later, earlier in pairs:
        quantity_id = ratio_id(later, earlier)
        top, bottom = (found.values.get(resistance_id(mark)) for mark in (later, earlier))
        if top is None or bottom is None:
            lacking = resistance_id(later if top is None else earlier)
            found.missing[quantity_id] = found.missing.get(lacking, "A resistance it needs is missing.")
            continue
        formed.append((quantity_id, top, bottom))
    result = ratio(_bounded([top for _, top, _ in formed]), _bounded([bottom for _, _, bottom in formed]))
    for (quantity_id, top, bottom), value, code in zip(formed, result.value, result.bound, strict=True):
        if np.isnan(value):
            found.missing[quantity_id] = "Both readings are bounds; their ratio says nothing."
            continue
        inputs = {each.id: format_quantity(each.value, "resistance") for each in (top, bottom)}
        found.add(quantity_id, value, bound_of(code), inputs=inputs)


def _bounded(quantities: Sequence[QuantityValue]) -> Bounded:
    values = [quantity.value for quantity in quantities]
    return bounded(values, [_CODES[quantity.bound] for quantity in quantities])


def derive_decomposition(window: Window | None, found: Quantities) -> None:
    """Add conduction current and absorption exponent from the values at 1, 3.16 and 10 minutes.

    Parameters
    ----------
    window : Window or None
        Readings under one constant voltage.
    found : Quantities
        Where they are added.
    """
    ids = ("conduction_current", "absorption_exponent")
    if window is None or np.isnan(window.time).any() or len(window.time) < len(THREE_POINTS):
        for quantity_id in ids:
            found.missing[quantity_id] = "It needs the current at 1, 3.16 and 10 minutes under one voltage."
        return
    current = np.where((window.bound == 0) & (window.current > 0), window.current, np.nan)
    values = at_mark(window.time, current, np.array(THREE_POINTS)).value
    values = np.where(_read_around(window.time, current, np.array(THREE_POINTS)), values, np.nan)
    result = three_point(*values)
    for quantity_id, value in zip(ids, (result.conduction_current, result.absorption_exponent), strict=True):
        if np.isnan(value):
            found.missing[quantity_id] = f"At 1, 3.16 and 10 minutes {REASONS[int(result.reason)]}."
        else:
            inputs = {
                f"current at {_seconds(m)}": format_quantity(float(v), "current")
                for m, v in zip(THREE_POINTS, values, strict=True)
            }
            found.add(quantity_id, float(value), inputs=inputs)
