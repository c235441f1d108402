"""What evaluating gives: one value that the report, the command line and JSON all read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from soakage.errors import Fault
from soakage.methods.base import Method
from soakage.model.record import Record
from soakage.model.verdict import Finding, Judgement, QuantityValue, Status, Verdict
from soakage.units import Bound


@dataclass(frozen=True, slots=True)
class StepRow:
    """One hold of a step test: voltage [V], hold [s], end-of-hold current [A] and resistance [ohm]."""

    voltage: float
    hold: float
    current: float
    resistance: float
    bound: Bound | None


@dataclass(frozen=True, slots=True)
class RampRow:
    """One point of a ramp: time [s], voltage [V], current [A], apparent capacitance [F]."""

    time: float
    voltage: float
    current: float
    apparent_capacitance: float


@dataclass(frozen=True, slots=True)
class NotTested:
    """Something the record does not answer, and why."""

    what: str
    why: str


@dataclass(frozen=True, slots=True)
class Evaluated:
    """One record with everything said about it.

    Parameters
    ----------
    record : Record
        As read.
    method : Method
        Its test method.
    quantities : mapping of str to QuantityValue
        By id, in the order they are shown.
    findings : tuple of Finding
        Worst first.
    judgements : tuple of Judgement
        Neediest first.
    verdict : Verdict
        The verdict.
    checks_made : int
        Number of checks made on the reading itself.
    checks_passed : int
        Number of those that found nothing.
    not_tested : tuple of NotTested
        What was not tested and why.
    steps : tuple of StepRow
        Table of a step test, else empty.
    ramp : tuple of RampRow
        Table of a ramp, else empty.
    measured_ramp_rate : float or None
        V/s from the readings.
    """

    record: Record
    method: Method
    quantities: Mapping[str, QuantityValue]
    findings: tuple[Finding, ...]
    judgements: tuple[Judgement, ...]
    verdict: Verdict
    checks_made: int
    checks_passed: int
    not_tested: tuple[NotTested, ...] = ()
    steps: tuple[StepRow, ...] = ()
    ramp: tuple[RampRow, ...] = ()
    measured_ramp_rate: float | None = None


@dataclass(frozen=True, slots=True)
class Pair:
    """Resistance between two nodes of a network [ohm]; None where the readings do not resolve it."""

    between: tuple[str, str]
    resistance: float | None
    bound: Bound | None
    uncertainty: float | None
    resolved: bool


@dataclass(frozen=True, slots=True)
class Network:
    """The resistances between the terminals of one asset; `consistent` is None without a check reading."""

    asset: str
    pairs: tuple[Pair, ...]
    consistent: bool | None


@dataclass(frozen=True, slots=True)
class Visit:
    """Records of one asset and visit: they are reported together.

    Parameters
    ----------
    asset : str
        Title of the asset.
    name : str
        Name or day of the visit; empty for a record that stands alone.
    members : tuple of int
        Places of its records in :attr:`Evaluation.records`.
    status : Status
        Worst verdict of its records.
    sentence : str
        Says how many are what, and names the odd section.
    """

    asset: str
    name: str
    members: tuple[int, ...]
    status: Status
    sentence: str


@dataclass(frozen=True, slots=True)
class RuleNames:
    """Which rules judged: profile, its hash, the hash of the criteria files, the software."""

    profile: str
    profile_title: str
    profile_sha256: str
    criteria_sha256: str
    version: str


@dataclass(frozen=True, slots=True)
class Evaluation:
    """Everything said about a set of records, in the order they were given."""

    records: tuple[Evaluated, ...]
    visits: tuple[Visit, ...]
    networks: tuple[Network, ...]
    errors: tuple[Fault, ...]
    rules: RuleNames
