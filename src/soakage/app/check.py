"""What a check on the reading itself is given, and the list of all checks."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from soakage.app.derive import Quantities
from soakage.app.derive_whole import Correction
from soakage.app.window import Window
from soakage.methods.base import Method
from soakage.model.record import Record
from soakage.model.verdict import Finding
from soakage.physics.steps import StepTable
from soakage.standards.criterion import VoltageTable
from soakage.standards.library import Library


@dataclass(frozen=True, slots=True)
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

    def threshold(self, threshold_id: str) -> float:
        """Return a figure of the criteria files in SI."""
        return self.library.thresholds[threshold_id].value


Check = Callable[[Examined], Iterator[Finding]]
