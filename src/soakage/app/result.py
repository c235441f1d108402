"""What evaluating gives: one value that the report, the command line and JSON all read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType

from soakage.app.ramp_split import RampSplit
from soakage.app.result_graded import GradedTest
from soakage.errors import Fault
from soakage.methods.base import Method
from soakage.model.record import Record
from soakage.model.verdict import Finding, Judgement, QuantityValue, Status, Verdict
from soakage.standards.causes import Ranked
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
class Fit:
    """The whole current curve fitted by absorption and conduction.

    Parameters
    ----------
    follows_model : bool
        False where the curve does not follow the model; nothing is forced on it.
    reason : str
        Why not; empty where it does.
    scatter : float
        Relative scatter of the readings about the curve.
    correlation : float
        Correlation of neighbouring departures, 0 for white noise.
    absorption_coefficient : float
        A [S s^n] of I = V (A t^-n + G); NaN where the model is not followed.
    absorption_exponent : float
        n.
    conductance : float
        G [S].
    """

    follows_model: bool
    reason: str
    scatter: float
    correlation: float
    absorption_coefficient: float
    absorption_exponent: float
    conductance: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """The index a record that ended early would reach if nothing changes; never a judgement.

    Parameters
    ----------
    quantity : str
        Id of the quantity foreseen.
    at : float
        Its mark [s].
    seen_until : float
        Last reading used [s].
    estimate, lower, upper : float
        Median and 90 % interval.
    probability_meets : float or None
        Probability that it meets its criterion; None with `reason` where none applies.
    reason : str
        Why there is no probability.
    band : tuple of (time, lower, upper)
        Resistance band [ohm] for the chart.
    archive_tests : int or None
        Complete tests of the archive that stand behind it; None where no archive was given.
    scale : float
        Factor on the width of the band those tests gave; 1 where there are too few.
    """

    quantity: str
    at: float
    seen_until: float
    estimate: float
    lower: float
    upper: float
    probability_meets: float | None
    reason: str = ""
    band: tuple[tuple[float, float, float], ...] = ()
    archive_tests: int | None = None
    scale: float = 1.0


@dataclass(frozen=True, slots=True)
class StepConductance:
    """Conductance of one step with the memory of earlier steps removed [S], and its standard uncertainty."""

    voltage: float
    conductance: float
    uncertainty: float


@dataclass(frozen=True, slots=True)
class Knee:
    """An upward bend of a ramp: estimated onset [V], where it was noticed [V], excess share there."""

    onset: float
    noticed_at: float
    excess_share: float
    confidence: float


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
    fit : Fit or None
        The whole curve fitted, where one hold has enough readings.
    forecast : Forecast or None
        Present when the record ends before the mark of its index.
    step_conductances : tuple of StepConductance
        Of a step test.
    knee : Knee or None
        Of a ramp that bends.
    ramp_split : RampSplit or None
        Parts of the current of a ramp, below its knee.
    graded : GradedTest or None
        Line of a step test of graded times.
    causes : tuple of Ranked
        Probable causes, heaviest first; empty where none stands out.
    causes_sought : bool
        Whether causes were looked for: only where something is not sound.
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
    fit: Fit | None = None
    forecast: Forecast | None = None
    step_conductances: tuple[StepConductance, ...] = ()
    knee: Knee | None = None
    ramp_split: RampSplit | None = None
    graded: GradedTest | None = None
    causes: tuple[Ranked, ...] = ()
    causes_sought: bool = False


@dataclass(frozen=True, slots=True)
class Pair:
    """Resistance between two nodes of a network [ohm]; None where the readings do not resolve it.

    `at_least` is what is known of the resistance all the same, two standard uncertainties kept; None where
    nothing is.
    """

    between: tuple[str, str]
    resistance: float | None
    bound: Bound | None
    uncertainty: float | None
    resolved: bool
    at_least: float | None = None


@dataclass(frozen=True, slots=True)
class NextReading:
    """The connection whose reading would say most about a network, and why in one sentence."""

    tested: tuple[str, ...]
    earthed: tuple[str, ...]
    guarded: tuple[str, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class Network:
    """The resistances between the terminals of one asset.

    Parameters
    ----------
    asset : str
        Title of the asset.
    pairs : tuple of Pair
        Pairs of live parts, then each of them to earth.
    consistent : bool or None
        Whether readings beyond those needed agree; None where there are none.
    probability : float or None
        Chance that they miss by as much or more; None without them or without a declared accuracy.
    suggestion : NextReading or None
        What to read next; None where every pair is resolved and nothing disagrees.
    set_aside : tuple of str
        Readings not used, each named with its reason.
    """

    asset: str
    pairs: tuple[Pair, ...]
    consistent: bool | None
    probability: float | None = None
    suggestion: NextReading | None = None
    set_aside: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class DryOutPoint:
    """One reading of a drying: when, resistance at the base temperature [ohm], as read, temperature [K], index.

    `record` is its place in :attr:`Evaluation.records`; `elapsed` counts from the first reading [s].
    """

    record: int
    at: datetime
    elapsed: float
    resistance: float
    as_read: float
    temperature: float | None
    index: float | None


@dataclass(frozen=True, slots=True)
class Estimate:
    """An estimate with its 90 % interval, in SI; an end that is not known yet is None."""

    value: float
    lower: float | None
    upper: float | None


@dataclass(frozen=True, slots=True)
class DryOut:
    """How far the drying of one winding has come.

    Parameters
    ----------
    asset : str
        Title of the asset, with its section where there are several.
    points : tuple of DryOutPoint
        Readings used, in the order of time.
    rule : str
        Temperature rule that all share; empty where resistances are as read, at one temperature.
    base_temperature : float or None
        Its base, in kelvin.
    stage : str
        Too few readings, falling, at its minimum, rising, levelling off, steady or falling again.
    minimum : int or None
        Place of the lowest in `points`, once it has passed.
    time_constant : Estimate or None
        Of the approach to the level [s].
    levels_at : Estimate or None
        From when the resistance will count as level, counted from the first reading [s].
    level : float or None
        Resistance it tends to [ohm].
    reason : str
        Why there is no estimate; else empty.
    steady_for, steady_needed : float
        How long it has been steady and how long it must be [s].
    index_met : bool or None
        Whether the last index meets its minimum; None where it was not read or not judged.
    stop : bool
        Whether the stop rule is met. It ends the drying, it gives no leave to energise.
    sentence : str
        All of it in words.
    cautions : tuple of str
        On temperature, rate, and readings left out.
    """

    asset: str
    points: tuple[DryOutPoint, ...]
    rule: str
    base_temperature: float | None
    stage: str
    minimum: int | None
    time_constant: Estimate | None
    levels_at: Estimate | None
    level: float | None
    reason: str
    steady_for: float
    steady_needed: float
    index_met: bool | None
    stop: bool
    sentence: str
    cautions: tuple[str, ...] = ()


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
    """Which rules judged: profile, its hash, the hash of the criteria files, the software.

    `wording` is what the profile puts on reports: company, heading, note.
    """

    profile: str
    profile_title: str
    profile_sha256: str
    criteria_sha256: str
    version: str
    wording: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True)
class Evaluation:
    """Everything said about a set of records, in the order they were given."""

    records: tuple[Evaluated, ...]
    visits: tuple[Visit, ...]
    networks: tuple[Network, ...]
    errors: tuple[Fault, ...]
    rules: RuleNames
    dry_out: tuple[DryOut, ...] = ()
