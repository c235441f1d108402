"""What a check on the reading itself is given, and the list of all checks."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from soakage.app.derive import Quantities
from soakage.app.derive_whole import Correction
from soakage.app.window import Run, Window, run
from soakage.methods.base import Method, Shape
from soakage.model.record import Record
from soakage.model.verdict import Finding
from soakage.physics.steps import StepTable
from soakage.standards.criterion import VoltageTable
from soakage.standards.library import Library


@dataclass(frozen=True)
class Examined:
    """Everything a check may look at.

    `voltage_tables` are those the profile names for this record and its method's voltage role.
    """

    record: Record
    method: Method
    facts: Mapping[str, object]
    window: Window | None
    steps: StepTable | None
    ramp_rate: float | None
    quantities: Quantities
    correction: Correction
    voltage_tables: tuple[VoltageTable, ...]
    library: Library
    later_holds: tuple[Window, ...] = ()

    @property
    def holds(self) -> tuple[Window, ...]:
        """The readings under each constant voltage, none across steps; empty for a ramp or a spot reading."""
        if self.window is None or self.method.shape is Shape.SPOT:
            return ()
        return (self.window, *self.later_holds)

    @cached_property
    def runs(self) -> tuple[Run, ...]:
        """The plain values in each hold, where there are enough."""
        return tuple(found for window in self.holds if (found := run(window)) is not None)

    def threshold(self, threshold_id: str) -> float:
        """Return a figure of the criteria files in SI."""
        return self.library.thresholds[threshold_id].value


Check = Callable[[Examined], Iterator[Finding]]
