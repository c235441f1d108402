"""What a trend is: per section and quantity, the line, what it is held against, and what it does not say."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from soakage.app.history import HistoryPoint
from soakage.units import Bound


@dataclass(frozen=True, slots=True)
class TrendLimit:
    """A criterion the line may reach; at least one of `lower` and `upper`, in SI of the quantity."""

    criterion: str
    lower: float | None
    upper: float | None
    source: str
    verified: str = ""


@dataclass(frozen=True, slots=True)
class Condition:
    """What the tests of one series have in common."""

    method: str
    test_voltage: float | None
    rule: str | None
    base_temperature: float | None
    tested: tuple[str, ...]
    earthed: tuple[str, ...]
    guarded: tuple[str, ...]
    attached: tuple[str, ...]
    neutral: str | None


@dataclass(frozen=True, slots=True)
class EarlierSeries:
    """A series that ended, and why the next one is not joined to it."""

    points: tuple[HistoryPoint, ...]
    ended_by: str


@dataclass(frozen=True, slots=True)
class Slope:
    """Change per year of the transformed value, with its 95 % interval; an open end is None."""

    value: float
    lower: float | None
    upper: float | None

    @property
    def certain(self) -> bool:
        """Whether the interval leaves out zero."""
        return (self.lower is not None and self.lower > 0) or (self.upper is not None and self.upper < 0)


@dataclass(frozen=True, slots=True)
class Monotone:
    """Mann-Kendall: score, rank correlation, two-sided p, and whether p is exact."""

    score: float
    tau: float
    p: float
    exact: bool


@dataclass(frozen=True, slots=True)
class Shift:
    """A change of level: the first day at the new level, its size in the transformed value, p."""

    at: date
    size: float
    p: float


@dataclass(frozen=True, slots=True)
class Fall:
    """How far the latest value lies below an earlier one, as a share of it; negative for a rise."""

    since: date
    value: float
    bound: Bound | None


@dataclass(frozen=True, slots=True)
class Sisters:
    """The latest value beside the sister sections of the same visit.

    Parameters
    ----------
    values : tuple of (section, value, bound)
        Sister sections tested alike.
    ratio : float or None
        Value over the median of the sisters; None where bounds leave it open.
    bound : Bound or None
        Set when the ratio is a bound.
    """

    values: tuple[tuple[str, float, Bound | None], ...]
    ratio: float | None
    bound: Bound | None


@dataclass(frozen=True, slots=True)
class PeerRank:
    """Where the latest value stands in its peer group, 0 (lowest) to 100.

    Parameters
    ----------
    group : str
        What the peers have in common, in words.
    count : int
        Peers compared.
    percentile : float or None
        None where peers are too few, with `reason`.
    lower, upper : float or None
        Percentile at worst and at best where values are only bounds.
    median : float or None
        Median of the peers, in SI; None where bounds leave it open.
    reason : str
        Why there is no percentile.
    """

    group: str
    count: int
    percentile: float | None
    lower: float | None
    upper: float | None
    median: float | None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Season:
    """A yearly course about the line: half its range in the transformed value, day of the year of its peak, p."""

    amplitude: float
    peak_day: int
    p: float


@dataclass(frozen=True, slots=True)
class Humidity:
    """Rank correlation of the departures from the line with the relative humidity, p, and tests it rests on."""

    tau: float
    p: float
    count: int


@dataclass(frozen=True, slots=True)
class Reach:
    """When a criterion would be met or broken if the line went on, with a 95 % interval; open ends are None."""

    criterion: str
    limit: float
    at: date
    lower: date | None
    upper: date | None


@dataclass(frozen=True, slots=True)
class Trend:
    """One section, one quantity, one way of testing.

    Parameters
    ----------
    section, quantity : str
        What it is of.
    condition : Condition
        What the tests have in common.
    transform : str
        ``ln`` where the slope is of the natural logarithm, ``none`` where it is of the value itself.
    points : tuple of HistoryPoint
        The current series by time.
    earlier : tuple of EarlierSeries
        Series before it, oldest first.
    slope : Slope or None
        None with `slope_reason`.
    mann_kendall : Monotone or None
        None with fewer than four tests.
    change_point : Shift or None
        None where none was found.
    fall_from_last, fall_from_first : Fall or None
        None with one test only.
    sisters, peers, season, humidity
        None where there is nothing to compare.
    reaches : Reach or None
        None with `reason`.
    slope_reason, reason : str
        Why there is no slope, and why no date.
    line_from : date or None
        First day the slope is drawn from: the series', or that of a change of level inside it.
    suspects : tuple of str
        Tests whose value lies so far from the line that a slip is likelier; they stay in the series.
    notes : tuple of str
        What a reader has to know: bounds, events inside the series, season, humidity.
    caution : str
        What published guidance holds of such dates.
    """

    section: str
    quantity: str
    condition: Condition
    transform: str
    points: tuple[HistoryPoint, ...]
    earlier: tuple[EarlierSeries, ...]
    slope: Slope | None
    slope_reason: str
    line_from: date | None
    mann_kendall: Monotone | None
    change_point: Shift | None
    fall_from_last: Fall | None
    fall_from_first: Fall | None
    sisters: Sisters | None
    peers: PeerRank | None
    season: Season | None
    humidity: Humidity | None
    reaches: Reach | None
    reason: str
    suspects: tuple[str, ...]
    notes: tuple[str, ...]
    caution: str
