"""What may happen on a sheet, and what it comes to: each thing sent by a page is read, checked and dated here; pure."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from soakage.app.capture import ENDINGS, MICROSECONDS, Progress, read_value
from soakage.app.cautions import VOLTAGE_FOUND_AC, VOLTAGE_FOUND_DC, lines
from soakage.errors import QuantityError, UsageError
from soakage.standards.library import Library
from soakage.units import format_quantity, parse

AHEAD = 5.0
"""Seconds by which the clock of a page may run before that of the server."""
Event = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Moment:
    """When something was sent.

    Parameters
    ----------
    now : int
        By the server [us UTC].
    ago : float
        How long before that it happened by the clock of the page [s]: more than a moment where it was sent again.
    scale : float
        Seconds of the sheet in one second; other than 1 only in tests.
    """

    now: int
    ago: float = 0.0
    scale: float = 1.0

    @property
    def at(self) -> int:
        """When it happened [us UTC]; never in the time to come."""
        return self.now - round(max(0.0, self.ago) * MICROSECONDS)


def thresholds(library: Library) -> tuple[float, float]:
    """Return the voltage found that stops a sheet, direct and alternating [V]: the strictest of those named."""
    return lines(library, VOLTAGE_FOUND_DC)[0].value, lines(library, VOLTAGE_FOUND_AC)[0].value


def found_above(stand: Progress, library: Library) -> str:
    """Return why the clock does not start with the voltage that was found; empty where it may."""
    if stand.found is None:
        return "The voltage found on the terminals is not stated. Measure it, write it down, then start."
    direct, alternating = thresholds(library)
    said = [
        f"{format_quantity(value, 'voltage', trim=True)} {word} found where the line is "
        f"{format_quantity(line, 'voltage', trim=True)} {word}"
        for value, line, word in ((stand.found.dc, direct, "dc"), (stand.found.ac, alternating, "ac"))
        if value > line
    ]
    if not said:
        return ""
    return f"{'; '.join(said)}. Find where it comes from first; nothing is connected to it before."


def happened(
    stands: Sequence[Progress],
    body: Mapping[str, Any],
    when: Moment,
    library: Library,
    ticks: Mapping[str, Any],
) -> Event:
    """Return what happened as it is kept.

    Parameters
    ----------
    stands : sequence of Progress
        Where each sheet of the visit stands.
    body : mapping
        ``sheet``, ``kind``, and what belongs to that kind, as typed.
    when : Moment
        When it was sent.
    library : Library
        The criteria files, for the voltage that stops a sheet.
    ticks : mapping
        What was ticked off.

    Returns
    -------
    dict
        JSON-able, in SI.

    Raises
    ------
    QuantityError
        If a figure cannot be read.
    UsageError
        If it cannot happen now, with the reason.
    """
    place = body["sheet"]
    if not 0 <= place < len(stands):
        raise UsageError(f"There is no sheet {place + 1}. Allowed: 1 to {len(stands)}.")
    stand, kind = stands[place], str(body["kind"])
    if kind not in _KINDS:
        raise UsageError(f"Nothing is called {kind!r} on a sheet. Allowed: {', '.join(_KINDS)}.")
    event: Event = {"sheet": place, "kind": kind}
    if kind == "started":
        _may_start(stands, place, library, ticks)
    return event | _KINDS[kind](stand, body, when)


def _found(stand: Progress, body: Mapping[str, Any], when: Moment) -> Event:
    del when
    if stand.started is not None:
        raise UsageError("The test has begun; the voltage found before it is kept as it was written.")
    found = {name: _volts(body, name) for name in ("dc", "ac")}
    for name, value in found.items():
        if value is None:
            raise UsageError(
                f"Voltage found, {name}: nothing was written. Measure it; write 0 V where there is none."
            )
    apply = _volts(body, "apply")
    if apply is not None and apply <= 0:
        raise UsageError("The test voltage is above 0 V. Write it with its unit, for example 5 kV.")
    return {name: abs(value) for name, value in found.items() if value is not None} | {"apply": apply}


def _volts(body: Mapping[str, Any], name: str) -> float | None:
    text = str(body.get(name) or "").strip()
    if not text:
        return None
    measured = parse(text, "voltage", default_unit="V")
    if measured.bound is not None:
        raise QuantityError(text, "A bound is no voltage.", "a figure with its unit", "Write what was read.")
    return measured.value


def _may_start(stands: Sequence[Progress], place: int, library: Library, ticks: Mapping[str, Any]) -> None:
    stand = stands[place]
    if stand.started is not None:
        raise UsageError("The clock of this sheet runs already.")
    if above := found_above(stand, library):
        raise UsageError(above)
    missing = [text for text in stand.sheet.conditions if text not in ticks]
    if missing:
        raise UsageError(f"Before voltage goes on, tick off what must stand in writing: {' '.join(missing)}")
    other = next((one for one in stands if one.state == "live"), None)
    if other is not None:
        raise UsageError(f"Voltage is on {other.sheet.title}. Stop and earth it first.")
    if stand.voltage is None:
        raise UsageError("The test voltage is not stated. Write what will be applied.")


def _started(stand: Progress, body: Mapping[str, Any], when: Moment) -> Event:
    del stand, body
    return {"at": when.at}


def _reading(stand: Progress, body: Mapping[str, Any], when: Moment) -> Event:
    mark, time = body.get("mark"), body.get("time")
    if stand.started is None:
        raise UsageError("A reading needs the clock: start it when voltage is applied.")
    if mark is not None and mark not in {one.time for one in stand.sheet.marks}:
        raise UsageError(f"This sheet has no mark at {format_quantity(mark, 'time')}.")
    if mark is not None and stand.at_mark(mark) is not None:
        raise UsageError(f"{format_quantity(mark, 'time')} is read already. Change that reading, or undo it.")
    if time is None and stand.sheet.marks:
        raise UsageError("A reading of this sheet needs its time.")
    if time is not None:
        latest = stand.elapsed(when.now, when.scale) + AHEAD * when.scale
        if not 0 < time <= latest:
            raise UsageError(f"{format_quantity(time, 'time')} is no time of this test: voltage has stood for "
                             f"{format_quantity(latest - AHEAD * when.scale, 'time')}.")  # fmt: skip
    return {"mark": mark, "time": time, **_read(body)}


def _read(body: Mapping[str, Any]) -> Event:
    text = " ".join(str(body.get("text", "")).split())
    quantity, value = read_value(text)
    return {
        "text": text, "quantity": quantity, "value": value.value,
        "bound": value.bound.value if value.bound is not None else None,
    }  # fmt: skip


def _of(stand: Progress, body: Mapping[str, Any]) -> int:
    number = body.get("of")
    if not any(taken.number == number for taken in stand.readings):
        raise UsageError("That reading is not on the sheet; it was undone.")
    return int(number or 0)


def _changed(stand: Progress, body: Mapping[str, Any], when: Moment) -> Event:
    del when
    return {"of": _of(stand, body), **_read(body)}


def _only_of(stand: Progress, body: Mapping[str, Any], when: Moment) -> Event:
    del when
    return {"of": _of(stand, body)}


def _ended(stand: Progress, body: Mapping[str, Any], when: Moment) -> Event:
    if stand.started is None:
        raise UsageError("The test has not begun, so it cannot end.")
    how = str(body.get("how", ""))
    if how not in ENDINGS:
        raise UsageError(f"A test does not end so. Given: {how[:40]}. Allowed: {', '.join(ENDINGS)}.")
    time = max(0.0, (when.at - stand.started) / MICROSECONDS * when.scale)
    return {"how": how, "time": time, "voltage": _volts(body, "voltage")}


def _earthed(stand: Progress, body: Mapping[str, Any], when: Moment) -> Event:
    del body
    if stand.ended is None:
        raise UsageError("Voltage is still on by this sheet. Stop first; then discharge and earth.")
    if stand.earthed is not None:
        raise UsageError("The earthing clock runs already.")
    return {"at": when.at}


_KINDS: Mapping[str, Callable[[Progress, Mapping[str, Any], Moment], Event]] = {
    "found": _found,
    "started": _started,
    "reading": _reading,
    "changed": _changed,
    "undone": _only_of,
    "answered": _only_of,
    "ended": _ended,
    "earthed": _earthed,
}
