"""What a criteria file can say: standards, criteria, temperature rules, voltage tables, thresholds.

Plain frozen values; :mod:`soakage.standards.library` fills them from ``data/*.toml``.  The kinds of
limit are a closed list: nothing in a file is evaluated as code.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import lru_cache
from types import MappingProxyType

from soakage.model.verdict import Status


class Kind(StrEnum):
    """Kinds of limit."""

    CONSTANT = "constant"
    LINEAR = "linear"  # intercept + slope * nameplate value / per
    TABLE = "table"  # rows by a nameplate value, next higher or interpolated in ln
    BAND = "band"  # edges with a status for each band between them
    FORMULA = "formula"  # a named formula of standards/formulas.py
    REFERENCE = "reference"  # share of a reference record's value
    SPREAD = "spread"  # spread among the sister sections of one visit


class Verified(StrEnum):
    """How a value was verified against its source."""

    READ = "read"
    SECONDARY = "secondary"
    MEMORY = "memory"
    PRACTICE = "practice"
    DERIVED = "derived"
    USER = "user"


VERIFIED_TEXT = {
    Verified.READ: "",
    Verified.SECONDARY: "As reported by others, not read.",
    Verified.MEMORY: "From memory, check against your copy.",
    Verified.PRACTICE: "Common practice, no source.",
    Verified.DERIVED: "Derived, no document says it.",
    Verified.USER: "Your own limit.",
}


def sourced(source: str, verified: str) -> str:
    """Return a source with how it was verified, as a sentence; said once where both are one."""
    words = VERIFIED_TEXT[Verified(verified)]
    if words and words.lower().rstrip(".") in source.lower():
        return f"{source[0].upper()}{source[1:].rstrip('.')}."
    return f"{source}. {words}".strip()


@dataclass(frozen=True, slots=True)
class Standard:
    """A document, in one edition, and the file that holds what we know of it."""

    id: str
    name: str
    edition: str
    title: str
    file: str = ""
    sha256: str = ""


@dataclass(frozen=True, slots=True)
class Condition:
    """What one nameplate key or derived fact must be for an entry to apply.

    Exactly one form is used: `words` (one of), `other_than` (none of), a range (`start` <= value,
    `above` < value, value < `below`, value <= `to`; any may be None), or `stated` (the key is, or is
    not, given at all).  Words are compared without regard to case, and a hyphen counts as a space.
    A record without a ``section`` is about the asset as a whole: that is known, and is none of the
    words.
    """

    key: str
    words: tuple[str, ...] = ()
    other_than: tuple[str, ...] = ()
    start: float | None = None
    above: float | None = None
    below: float | None = None
    to: float | None = None
    stated: bool | None = None

    def holds(self, value: object) -> bool | None:
        """Return True or False, or None where the key is missing and that decides nothing."""
        if self.stated is not None:
            return (value is not None) == self.stated
        if value is None and self.key == "section":
            value = ""
        if value is None:
            return None
        if self.words or self.other_than:
            return (_plain(str(value)) in _plain_words(self.words or self.other_than)) == bool(self.words)
        number = float(value)  # type: ignore[arg-type]
        return not (
            (self.start is not None and number < self.start)
            or (self.above is not None and number <= self.above)
            or (self.below is not None and number >= self.below)
            or (self.to is not None and number > self.to)
        )


# The words of the criteria come again with every record.
@lru_cache(4096)
def _plain(word: str) -> str:
    return " ".join(word.lower().replace("-", " ").split())


@lru_cache(4096)
def _plain_words(words: tuple[str, ...]) -> frozenset[str]:
    return frozenset(map(_plain, words))


@dataclass(frozen=True, slots=True)
class Waiver:
    """When a criterion is not applicable: by nameplate, or by a quantity above a value, with the reason."""

    reason: str
    when: tuple[Condition, ...] = ()
    quantity: str = ""
    above: float | None = None


@dataclass(frozen=True, slots=True)
class Example:
    """A worked example of a criterion: its test.

    Among the facts, an id of a resistance is that quantity's value, which a waiver may ask for, and
    ``reference`` the value of the reference record.
    """

    facts: Mapping[str, object]
    value: float
    bound: str | None
    status: Status
    limit: float | None = None


@dataclass(frozen=True, slots=True)
class Criterion:
    """One requirement of one edition.

    Limits are in SI of the quantity's unit.  `sense` is ``lower`` (at least) or ``upper`` (at most).
    """

    id: str
    group: str
    name: str
    quantity: str
    kind: Kind
    sense: str
    standard: Standard
    clause: str
    verified: Verified
    reported_by: str
    rationale: str
    breach: Status
    breach_means: str
    applies: tuple[Condition, ...]
    limit: float | None = None  # constant, reference (share), spread
    of: str = ""  # linear, table: the nameplate key
    slope: float = 0.0  # linear
    intercept: float = 0.0
    rows: tuple[tuple[float, float], ...] = ()  # table: (key value, limit)
    row_rule: str = "next-higher"  # or ln-interpolated
    beyond_last: bool = False  # table: the last row holds for larger values too
    edges: tuple[float, ...] = ()  # band
    statuses: tuple[Status, ...] = ()
    at_edge: tuple[str, ...] = ()  # per edge: the value on the edge belongs to the lower or upper band
    formula: str = ""
    coefficients: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    reference: str = ""  # factory, first or last
    measure: str = ""  # spread: max/min, (max-min)/min or (max-min)/mean
    base_temperature: float | None = None  # kelvin
    multiplier_key: str = ""
    multipliers: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    multiplier_verified: Verified | None = None
    waivers: tuple[Waiver, ...] = ()
    methods: tuple[str, ...] = ()  # only for these methods; empty: all
    notes: str = ""
    examples: tuple[Example, ...] = ()

    @property
    def source(self) -> str:
        """Standard and clause as printed."""
        return f"{self.standard.name}, {self.clause}" if self.clause else self.standard.name


@dataclass(frozen=True, slots=True)
class Group:
    """Criteria of which one holds for an asset; `none` is the reason when none does."""

    id: str
    name: str
    quantity: str
    none: str = ""


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of a temperature rule, valid from `start` to `to` degC."""

    form: str  # halving, exponential, table, per-ten-kelvin
    start: float | None = None
    to: float | None = None
    interval: float | None = None  # K per halving
    coefficient: float | None = None  # K, of the exponential form
    zero: float = 273.0
    ratio: float | None = None  # factor per 10 K
    temperatures: tuple[float, ...] = ()
    factors: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class TemperatureRule:
    """A named rule that refers a resistance to a base temperature; temperatures in degC."""

    id: str
    name: str
    standard: Standard
    clause: str
    verified: Verified
    reported_by: str
    rationale: str
    pieces: tuple[Piece, ...]
    base: float | None  # fixed base; None when any base may be taken
    flag_beyond: float | None = None  # K from the base beyond which use is flagged
    applies: tuple[Condition, ...] = ()
    examples: tuple[tuple[float, float, float], ...] = ()  # (temperature, base, factor)
    notes: str = ""


@dataclass(frozen=True, slots=True)
class VoltageRow:
    """One row: for a key value below `below` or up to `to`, test with `low` to `high` volts."""

    below: float | None
    to: float | None
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class VoltageTable:
    """Which direct voltage a test is made with; `role` is insulation-resistance, overvoltage or withstand."""

    id: str
    name: str
    standard: Standard
    clause: str
    verified: Verified
    reported_by: str
    rationale: str
    applies: tuple[Condition, ...]
    of: str
    role: str
    rows: tuple[VoltageRow, ...] = ()
    factor_low: float | None = None  # V per SI unit of the key
    factor_high: float | None = None
    offset: float = 0.0  # V added to factor times key
    cap: float | None = None  # V never exceeded
    caution: str = ""
    examples: tuple[tuple[float, float, float], ...] = ()  # (key value, low, high)


@dataclass(frozen=True, slots=True)
class Threshold:
    """A figure that is no criterion on the insulation: a safety line, an earthing multiple, a tolerance."""

    id: str
    name: str
    standard: Standard
    clause: str
    verified: Verified
    reported_by: str
    rationale: str
    value: float
    unit: str
    dimension: str


@dataclass(frozen=True, slots=True)
class Reference:
    """A table kept for reading only: shown by ``explain``, never proposed and never judged by."""

    id: str
    name: str
    standard: Standard
    clause: str
    verified: Verified
    reported_by: str
    rationale: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    caution: str = ""
