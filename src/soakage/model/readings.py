"""Readings exactly as received, in SI, never changed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bounds = NDArray[np.int8]

VALUE, LOWER, UPPER = 0, 1, -1


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """One record's readings; NaN is no reading; all arrays have shape (T,).

    Parameters
    ----------
    time : ndarray
        Seconds since voltage was applied; all NaN for a spot reading without its time.
    voltage : ndarray
        Volts.
    current : ndarray
        Amperes, sign as read.
    resistance : ndarray
        Ohms; NaN where none can be formed.
    bound : ndarray of int8
        On the resistance: 0 a value, 1 a lower bound, -1 an upper bound. A bound on the current is
        the opposite one.
    voltage_assumed : bool
        True when no voltage column was given and the test voltage stands in.
    current_derived : bool
        True when the current follows from resistance and voltage.
    resistance_given : bool
        True when the resistance was read, not computed.
    """

    time: Floats
    voltage: Floats
    current: Floats
    resistance: Floats
    bound: Bounds
    voltage_assumed: bool = False
    current_derived: bool = False
    resistance_given: bool = False

    def __post_init__(self) -> None:
        """Check that shapes agree and lock the arrays."""
        shape = self.time.shape
        for name in ("time", "voltage", "current", "resistance", "bound"):
            array = getattr(self, name)
            if array.shape != shape or array.ndim != 1:
                raise ValueError(f"{name} has shape {array.shape}, time has {shape}: one row each is needed")
            array.setflags(write=False)

    def __len__(self) -> int:
        """Return the number of rows."""
        return len(self.time)

    def __eq__(self, other: object) -> bool:
        """Return True when every row and mark agrees, empty readings included."""
        if not isinstance(other, Readings):
            return NotImplemented
        flags = ("voltage_assumed", "current_derived", "resistance_given")
        return all(
            np.array_equal(getattr(self, name), getattr(other, name), equal_nan=True)
            for name in ("time", "voltage", "current", "resistance")
        ) and (
            np.array_equal(self.bound, other.bound)
            and all(getattr(self, name) == getattr(other, name) for name in flags)
        )

    __hash__ = None  # type: ignore[assignment]
