"""What is found and said about a record: statuses, quantities, findings, judgements, the verdict."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

from soakage.units import Bound


class Status(StrEnum):
    """The ladder of statuses, and the three that stand beside it."""

    SOUND = "sound"
    WATCH = "watch"
    INVESTIGATE = "investigate"
    UNFIT = "unfit"
    NOT_APPLICABLE = "not applicable"
    NOT_JUDGED = "not judged"
    INVALID_TEST = "invalid test"

    @property
    def rung(self) -> int:
        """Place on the ladder from 0 (sound) to 3 (unfit), or -1 beside it."""
        return _RUNGS.get(self, -1)


_RUNGS = {Status.SOUND: 0, Status.WATCH: 1, Status.INVESTIGATE: 2, Status.UNFIT: 3}


def worst(statuses: Iterable[Status]) -> Status | None:
    """Return the highest status on the ladder, or None where none stands on it."""
    return max((s for s in statuses if s.rung >= 0), key=lambda s: s.rung, default=None)


def capped(status: Status, cap: Status | None) -> Status:
    """Return the status, no higher on the ladder than the cap."""
    return cap if cap is not None and status.rung > cap.rung else status


@dataclass(frozen=True, slots=True)
class Contribution:
    """One line of an uncertainty budget.

    Parameters
    ----------
    name : str
        What contributes: gain, offset, resolution, timing, scatter, temperature.
    uncertainty : float
        Standard uncertainty it brings to the quantity, in SI.
    share : float
        Its share of the variance, 0 to 1.
    """

    name: str
    uncertainty: float
    share: float


@dataclass(frozen=True, slots=True)
class QuantityValue:
    """A computed quantity with all that is needed to trace it.

    Parameters
    ----------
    id : str
        Id of the glossary.
    value : float
        In SI.
    bound : Bound or None
        Set when the value only bounds the truth.
    uncertainty : float or None
        Standard uncertainty in SI; None when no accuracy was declared.
    formula : str
        How it was computed.
    source : str
        Where the formula stands.
    rule : str or None
        Temperature rule of a corrected value.
    base_temperature : float or None
        Base temperature of that rule in kelvin.
    inputs : mapping of str to str
        What went in, as text with units, for the trace.
    budget : tuple of Contribution
        What makes up the uncertainty, the largest first; empty when there is none.
    """

    id: str
    value: float
    bound: Bound | None = None
    uncertainty: float | None = None
    formula: str = ""
    source: str = ""
    rule: str | None = None
    base_temperature: float | None = None
    inputs: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    budget: tuple[Contribution, ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """Something noticed about the reading itself.

    Parameters
    ----------
    code : str
        Permanent code.
    sentence : str
        What was noticed, with its figures.
    status : Status or None
        The best verdict this finding still allows; None when it only informs.
    remedy : str
        What to do about it; empty when nothing need be done.
    turns : bool
        True for the few conditions that can make good look bad and bad look good: a reading
        below its limit is then an invalid test.
    """

    code: str
    sentence: str
    status: Status | None = None
    remedy: str = ""
    turns: bool = False


@dataclass(frozen=True, slots=True)
class Limit:
    """The limit a criterion set for this record, in SI.

    Parameters
    ----------
    kind : str
        Kind of limit of the criterion.
    lower, upper : float or None
        Limits in SI.
    unit : str
        SI unit.
    text : str
        The limit in words, as reports print it.
    """

    kind: str
    lower: float | None
    upper: float | None
    unit: str
    text: str


@dataclass(frozen=True, slots=True)
class Judgement:
    """One criterion applied to one record.

    Parameters
    ----------
    criterion : str
        Id of the criterion.
    name : str
        Its name as printed.
    quantity : str
        Id of the quantity judged.
    limit : Limit or None
        The limit, or None where none could be formed.
    status : Status
        On the ladder or beside it.
    reason : str
        Why, in one sentence.
    source : str
        Standard, edition and clause.
    verified : str
        How the source was verified.
    decides : bool
        Whether its absence holds the verdict back.
    user_limit : bool
        True for a limit the user set.
    value : float or None
        The value judged, in SI, where there was one.
    bound : Bound or None
        Set when that value only bounds the truth.
    data_hash : str
        Hash of the data file the criterion came from.
    probability : float or None
        Probability that the true value meets the limit; None without an uncertainty.
    guard_band : float or None
        Distance from the limit, in SI, from which it is met with 95 %; None without an uncertainty.
    """

    criterion: str
    name: str
    quantity: str
    limit: Limit | None
    status: Status
    reason: str
    source: str
    verified: str
    decides: bool = False
    user_limit: bool = False
    value: float | None = None
    bound: Bound | None = None
    data_hash: str = ""
    probability: float | None = None
    guard_band: float | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict on a record with its sentence and what to do next.

    Parameters
    ----------
    status : Status
        On the ladder, or not judged, or invalid test.
    sentence : str
        The thing, the number, the limit.
    actions : tuple of str
        What to do next, most needed first.
    """

    status: Status
    sentence: str
    actions: tuple[str, ...] = ()
