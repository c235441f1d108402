"""What a trend is made from: one value of one test, and what happened to the asset between tests.

The store, a folder of records or a demonstration fills these; nothing here knows where they come from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from soakage.app.result import Evaluated
from soakage.app.visits import section_name
from soakage.units import Bound


class Happening(StrEnum):
    """Kinds of event in the life of an asset."""

    REWIND = "rewind"
    REFILL = "refill"
    REPAIR = "repair"
    CLEANING = "cleaning"
    DRYING = "drying"
    OTHER = "other"


# After these the insulation is another one: no line is drawn across them.
NEW_INSULATION = (Happening.REWIND, Happening.REFILL, Happening.REPAIR)


@dataclass(frozen=True, slots=True)
class HistoryPoint:
    """One quantity of one test, with all that must be alike before two are compared.

    Parameters
    ----------
    test : str
        Identifier of the test.
    at : date or datetime
        When it was made; a bare day counts as its noon.
    section : str
        Section of the asset.
    quantity : str
        Id of the glossary.
    value : float
        In SI.
    bound : Bound or None
        Set when the value only bounds the truth.
    uncertainty : float or None
        Standard uncertainty in SI.
    rule : str or None
        Temperature rule of a corrected value.
    base_temperature : float or None
        Base temperature of that rule [K].
    method : str
        Test method.
    test_voltage : float or None
        As stated [V].
    tested, earthed, guarded, attached : tuple of str
        Terminals, and equipment left connected; their order means nothing.
    neutral : str or None
        Whether the neutral was open.
    year : int or None
        When the insulation was made; a change is a rewind.
    filling : str or None
        What the asset is filled with; a change is a refill.
    purpose : str or None
        Why the test was made; ``after-repair`` begins a new series.
    relative_humidity : float or None
        Share, 0 to 1.
    surface : str or None
        State of the surfaces.
    temperature : float or None
        Temperature of the winding [K].
    status : str
        Verdict of the test.
    visit : str or None
        Name of the visit; where none is stated a calendar day is one visit.
    """

    test: str
    at: date | datetime
    section: str
    quantity: str
    value: float
    bound: Bound | None = None
    uncertainty: float | None = None
    rule: str | None = None
    base_temperature: float | None = None
    method: str = ""
    test_voltage: float | None = None
    tested: tuple[str, ...] = ()
    earthed: tuple[str, ...] = ()
    guarded: tuple[str, ...] = ()
    attached: tuple[str, ...] = ()
    neutral: str | None = None
    year: int | None = None
    filling: str | None = None
    purpose: str | None = None
    relative_humidity: float | None = None
    surface: str | None = None
    temperature: float | None = None
    status: str = "not judged"
    visit: str | None = None

    @property
    def day(self) -> date:
        """Calendar day of the test."""
        return self.at.date() if isinstance(self.at, datetime) else self.at


@dataclass(frozen=True, slots=True)
class AssetEvent:
    """Something done to the asset on a day; `section` is empty where it was done to all of it."""

    at: date
    kind: Happening
    text: str = ""
    section: str = ""


def history_points(evaluated: Sequence[Evaluated], names: Sequence[str]) -> tuple[HistoryPoint, ...]:
    """Return one point for each quantity of each judged record that says when it was made.

    Parameters
    ----------
    evaluated : sequence of Evaluated
        Records of one asset.
    names : sequence of str
        Identifier of each.

    Returns
    -------
    tuple of HistoryPoint
        None for a record without a day: it has no place in a history.
    """
    points = []
    for item, name in zip(evaluated, names, strict=True):
        record = item.record
        at = record.test.started
        if at is None:
            continue
        asset, test, conditions = record.asset, record.test, record.conditions
        points += [
            HistoryPoint(
                test=name, at=at, section=section_name(record), quantity=value.id, value=value.value,
                bound=value.bound, uncertainty=value.uncertainty, rule=value.rule,
                base_temperature=value.base_temperature, method=test.method, test_voltage=test.test_voltage,
                tested=test.tested, earthed=test.earthed, guarded=test.guarded, attached=conditions.attached,
                neutral=asset.neutral, year=asset.year, filling=asset.filling, purpose=record.paper.purpose,
                relative_humidity=conditions.relative_humidity, surface=conditions.surface,
                temperature=conditions.winding_temperature, status=str(item.verdict.status),
                visit=record.paper.visit,
            )
            for value in item.quantities.values()
        ]  # fmt: skip
    return tuple(points)
