"""A sheet taken by hand: what is asked of it, what happened so far, and what may happen next; pure.

Whatever happens is an event with a number; the state of a sheet is what its events come to.  The clock is a start
time and never a counter, so that a closed lid, a reload or a dead battery loses nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from soakage.errors import QuantityError
from soakage.methods import method
from soakage.methods.base import Method
from soakage.units import Bound, Measured, parse

ENDINGS = ("complete", "stopped", "tripped", "breakdown", "flashover")
QUANTITIES = ("resistance", "current")
MICROSECONDS = 1_000_000
LEAST = 1.0  # ohm: below it a slip of the prefix is likelier than such an insulation (ours)


@dataclass(frozen=True, slots=True)
class SheetMark:
    """A time to read at.

    Parameters
    ----------
    time : float
        Seconds since voltage was applied.
    voltage : float or None
        Level that stands then [V], of a step or ramp test; None where one voltage is held.
    required : bool
        Whether the method asks for it.
    after_discharge : bool
        Whether the part is shorted by then.
    """

    time: float
    voltage: float | None = None
    required: bool = True
    after_discharge: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """One connection of a visit: what is live, which test, when to read.

    Parameters
    ----------
    title : str
        What is live, as a person says it.
    method : str
        Id of the test method.
    values : mapping
        Keys of the record file as the plan knows them: texts, lists and tables; empty texts wait.
    marks : tuple of SheetMark
        In order of time; empty for a reading without a time.
    voltage : float or None
        Planned [V].
    discharge_at : float or None
        When the part is shorted [s].
    conditions : tuple of str
        What must be ticked before voltage goes on.
    index_limit : float or None
        Lower limit of the polarization index, where one judges it.
    """

    title: str
    method: str
    values: Mapping[str, Any]
    marks: tuple[SheetMark, ...]
    voltage: float | None = None
    discharge_at: float | None = None
    conditions: tuple[str, ...] = ()
    index_limit: float | None = None

    @property
    def made_by(self) -> Method:
        """The test method."""
        return method(self.method)

    @property
    def stepped(self) -> bool:
        """Whether the voltage changes from mark to mark."""
        return any(mark.voltage is not None for mark in self.marks)

    def as_json(self) -> dict[str, Any]:
        """Return the sheet as JSON-able values."""
        return {
            "title": self.title, "method": self.method, "values": dict(self.values), "voltage": self.voltage,
            "discharge_at": self.discharge_at, "conditions": list(self.conditions), "index_limit": self.index_limit,
            "marks": [
                {"time": m.time, "voltage": m.voltage, "required": m.required, "after_discharge": m.after_discharge}
                for m in self.marks
            ],
        }  # fmt: skip


def sheet_of(kept: Mapping[str, Any]) -> Sheet:
    """Return a sheet from what :meth:`Sheet.as_json` gave."""
    return Sheet(
        **{
            **kept,
            "marks": tuple(SheetMark(**mark) for mark in kept["marks"]),
            "conditions": tuple(kept["conditions"]),
        }
    )


@dataclass(frozen=True, slots=True)
class Taken:
    """One reading as it stands.

    Parameters
    ----------
    number : int
        Of the event that brought it.
    time : float or None
        Seconds since voltage was applied, as read; None for a reading without its time.
    mark : float or None
        The mark it was taken for [s]; None for one in between.
    text : str
        As typed.
    quantity : str
        resistance or current.
    value : Measured
        In SI.
    was : tuple of str
        What stood there before it was changed, as typed.
    stands : bool
        Whether whoever read it said that it stands although it is odd.
    """

    number: int
    time: float | None
    mark: float | None
    text: str
    quantity: str
    value: Measured
    was: tuple[str, ...] = ()
    stands: bool = False


@dataclass(frozen=True, slots=True)
class Ended:
    """How voltage came off: the word of the record file, when [s], and at which voltage [V] where that was said."""

    how: str
    time: float
    voltage: float | None = None


@dataclass(frozen=True, slots=True)
class Found:
    """Voltage found before the test [V], and the direct voltage that will be applied [V]."""

    dc: float
    ac: float
    apply: float | None


@dataclass(frozen=True, slots=True)
class Progress:
    """Where one sheet stands.

    Parameters
    ----------
    sheet : Sheet
        What is asked.
    found : Found or None
        Voltage found before the test; None before anybody said.
    started : int or None
        When voltage was applied [us UTC].
    readings : tuple of Taken
        In order of time.
    ended : Ended or None
        How it ended.
    earthed : int or None
        When the earth went on [us UTC].
    """

    sheet: Sheet
    found: Found | None = None
    started: int | None = None
    readings: tuple[Taken, ...] = ()
    ended: Ended | None = None
    earthed: int | None = None

    @property
    def state(self) -> str:
        """One of waiting, ready, live, ended, earthed."""
        if self.earthed is not None:
            return "earthed"
        if self.ended is not None:
            return "ended"
        if self.started is not None:
            return "live"
        return "waiting" if self.found is None else "ready"

    @property
    def voltage(self) -> float | None:
        """Direct voltage of the test [V]: as set, else as planned."""
        return self.found.apply if self.found is not None and self.found.apply else self.sheet.voltage

    def elapsed(self, now: int, scale: float = 1.0) -> float:
        """Return the seconds since voltage was applied, up to its end; 0 before.

        Parameters
        ----------
        now : int
            The time now [us UTC].
        scale : float
            Seconds of the sheet in one second; other than 1 only in tests.
        """
        if self.ended is not None:
            return self.ended.time
        return 0.0 if self.started is None else max(0.0, (now - self.started) / MICROSECONDS * scale)

    def level(self, time: float | None) -> float | None:
        """Return the voltage that stands at a time [V]; 0 once shorted."""
        if time is None or self.sheet.discharge_at is None or time <= self.sheet.discharge_at:
            marks = [mark for mark in self.sheet.marks if mark.voltage is not None]
            if time is None or not marks:
                return self.voltage
            return next((mark.voltage for mark in marks if time <= mark.time + 1e-9), marks[-1].voltage)
        return 0.0

    def resistance(self, taken: Taken) -> Measured | None:
        """Return the resistance of a reading [ohm]; None where none can be formed."""
        if taken.quantity == "resistance":
            return taken.value
        volts = self.level(taken.time)
        if not volts or taken.value.value <= 0:
            return None
        other = {Bound.LOWER: Bound.UPPER, Bound.UPPER: Bound.LOWER, None: None}[taken.value.bound]
        return Measured(volts / taken.value.value, other)

    def at_mark(self, mark: float) -> Taken | None:
        """Return the reading taken for a mark."""
        return next((taken for taken in self.readings if taken.mark == mark), None)


def read_value(text: str) -> tuple[str, Measured]:
    """Read what somebody wrote from an instrument: a resistance or a current, in whatever unit.

    Parameters
    ----------
    text : str
        For example ``2.2 GΩ``, ``> 10 GOhm``, ``1,45 G``, ``31.8 uA``.

    Returns
    -------
    quantity : str
        resistance or current.
    value : Measured
        In SI.

    Raises
    ------
    QuantityError
        If it is neither, can be read in two ways, or is below zero.
    """
    problems: list[QuantityError] = []
    for quantity in QUANTITIES:
        try:
            value = parse(text, quantity)
        except QuantityError as problem:
            problems.append(problem)
            continue
        if quantity == "resistance" and value.value < 0:
            raise QuantityError(
                text, "A resistance below zero.", "0 and above", "Check the leads, then read again."
            )
        if quantity == "resistance" and value.bound is not Bound.UPPER and 0 < value.value < LEAST:
            slip = f"{text.strip()} is less than an ohm: m is milli, M is mega."
            raise QuantityError(
                text, slip, "kΩ, MΩ, GΩ, TΩ", "Write the unit with its capital; 0 where shorted."
            )
        return quantity, value
    looks_like_current = text.rstrip().lower().endswith(("a", "amp", "amps", "ampere"))
    raise problems[1] if looks_like_current else problems[0]


def progress(
    sheets: Iterable[Sheet], events: Iterable[tuple[int, Mapping[str, Any]]]
) -> tuple[Progress, ...]:
    """Return where each sheet stands.

    Parameters
    ----------
    sheets : iterable of Sheet
        Of one visit, in order.
    events : iterable of (int, mapping)
        Number and content, in order of number.

    Returns
    -------
    tuple of Progress
        One for each sheet.
    """
    found = [Progress(sheet) for sheet in sheets]
    for number, event in events:
        place = event["sheet"]
        found[place] = _after(found[place], number, event)
    return tuple(
        replace(
            one, readings=tuple(sorted(one.readings, key=lambda t: (t.time is None, t.time or 0.0, t.number)))
        )
        for one in found
    )


def _after(stand: Progress, number: int, event: Mapping[str, Any]) -> Progress:
    match event["kind"]:
        case "found":
            return replace(stand, found=Found(event["dc"], event["ac"], event["apply"]))
        case "started":
            return replace(stand, started=event["at"])
        case "reading":
            return replace(stand, readings=(*stand.readings, _taken(number, event)))
        case "undone":
            return replace(stand, readings=tuple(t for t in stand.readings if t.number != event["of"]))
        case "changed" | "answered":
            return replace(stand, readings=tuple(_changed(t, event) for t in stand.readings))
        case "ended":
            time = stand.ended.time if stand.ended is not None else event["time"]
            return replace(stand, ended=Ended(event["how"], time, event["voltage"]))
        case _:
            return replace(stand, earthed=event["at"])


def _taken(number: int, event: Mapping[str, Any]) -> Taken:
    bound = Bound(event["bound"]) if event["bound"] else None
    value = Measured(event["value"], bound)
    return Taken(number, event["time"], event["mark"], event["text"], event["quantity"], value)


def _changed(taken: Taken, event: Mapping[str, Any]) -> Taken:
    if taken.number != event["of"]:
        return taken
    if event["kind"] == "answered":
        return replace(taken, stands=True)
    new = _taken(taken.number, {**event, "time": taken.time, "mark": taken.mark})
    return replace(new, was=(*taken.was, taken.text))
