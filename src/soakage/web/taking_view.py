"""What stands on a sheet taken by hand: marks and calls, readings, running ratios, questions, the earthing clock."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from soakage.app.capture import ENDINGS, Ended, Found, Progress, Sheet, SheetMark, Taken
from soakage.app.capture_band import Odd, Outlook, odd, outlook
from soakage.app.capture_rules import found_above, thresholds
from soakage.app.cautions import EARTHING_MULTIPLE, line
from soakage.app.plan_charging import earthing
from soakage.methods import method
from soakage.physics.indices import resistance_ratio
from soakage.quantities import lookup, ratio_marks
from soakage.standards.library import library
from soakage.store.drafts import KeptDraft
from soakage.units import Measured, format_quantity
from soakage.web.view import NBSP
from soakage.wiring.sheets import standing

Row = dict[str, Any]
MILLI = 1000  # microseconds


def clock(seconds: float) -> str:
    """Return a time as a clock shows it: 2:41, 1:02:05."""
    whole = int(seconds)
    hours, minutes = divmod(whole // 60, 60)
    return f"{hours}:{minutes:02d}:{whole % 60:02d}" if hours else f"{minutes}:{whole % 60:02d}"


def time_text(seconds: float) -> str:
    """Return the time of a mark or reading, in words where it is even."""
    if seconds >= 60 and round(seconds) % 60:
        return clock(round(seconds))
    return format_quantity(round(seconds, 1), "time", trim=True)


def volts(value: float | None) -> str:
    """Return a voltage, or that it is not stated."""
    return "voltage not stated" if value is None else format_quantity(value, "voltage", trim=True)


def state(draft: KeptDraft, now: int, scale: float = 1.0) -> Row:
    """Return where a visit stands, as the API gives it.

    Parameters
    ----------
    draft : KeptDraft
        The sheet.
    now : int
        The time now [us UTC].
    scale : float
        Seconds of the sheet in one second.

    Returns
    -------
    dict
        Times of day in milliseconds since 1970 UTC, as a page counts them; everything else in SI beside its text.
    """
    stands = standing(draft)
    multiple = line(library(), EARTHING_MULTIPLE).value
    direct, alternating = thresholds(library())
    return {
        "draft": draft.id,
        "asset": draft.asset,
        "title": draft.fields["title"],
        "next": draft.next,
        "keys": [row.fields["key"] for row in draft.rows[-20:]],
        "now": now // MILLI,
        "scale": scale,
        "earthing_multiple": multiple,
        "most_found": {"dc": direct, "ac": alternating},
        "header": draft.fields["header"],
        "ticks": draft.fields["ticks"],
        "sheets": [sheet_state(stands, place, now, scale) for place in range(len(stands))],
    }


def sheet_state(stands: Sequence[Progress], place: int, now: int, scale: float) -> Row:
    """Return where one sheet of a visit stands; see :func:`state`."""
    stand = stands[place]
    sheet = stand.sheet
    sisters = [one for other, one in enumerate(stands) if other != place]
    needed = earthing(stand.elapsed(now, scale), library())
    return {
        "sheet": place,
        "section": sheet.title,
        "method": sheet.method,
        "method_title": method(sheet.method).title,
        "state": stand.state,
        "voltage": stand.voltage,
        "voltage_shown": volts(stand.voltage),
        "found": _found(stand.found),
        "refused": found_above(stand, library()) if stand.found else "",
        "conditions": list(sheet.conditions),
        "started": stand.started // MILLI if stand.started else None,
        "elapsed": stand.elapsed(now, scale),
        "calls": calls(sheet),
        "readings": [_reading(stand, taken, sisters) for taken in stand.readings],
        "ratios": ratios(stand),
        "outlook": _outlook(stand),
        "ended": _ended(stand.ended),
        "endings": list(ENDINGS),
        "earthing": {"shown": clock(needed.time), **{k: getattr(needed, k) for k in ("time", "source", "verified")}},
        "earthed": stand.earthed // MILLI if stand.earthed else None,
    }  # fmt: skip


def _found(found: Found | None) -> Row | None:
    if found is None:
        return None
    return asdict(found) | {"dc_shown": volts(found.dc), "ac_shown": volts(found.ac)}


def _ended(ended: Ended | None) -> Row | None:
    return asdict(ended) | {"voltage_shown": volts(ended.voltage)} if ended else None


def calls(sheet: Sheet) -> list[Row]:
    """Return what is called and when, in order: each mark, and where the part is shorted."""
    found = []
    for place, mark in enumerate(sheet.marks):
        found.append(
            {
                "time": mark.time,
                "label": time_text(mark.time),
                "read": True,
                "required": mark.required,
                "on": volts(mark.voltage) if mark.voltage is not None else "",
                "say": _say(sheet, place, mark),
            }
        )
    if sheet.discharge_at is not None:
        label = time_text(sheet.discharge_at)
        say = f"Voltage off and short it through the instrument at {label}"
        found.append(
            {
                "time": sheet.discharge_at,
                "label": label,
                "read": False,
                "required": True,
                "on": "",
                "say": say,
            }
        )
    return sorted(found, key=lambda call: float(call["time"]))


def _say(sheet: Sheet, place: int, mark: SheetMark) -> str:
    said = f"Read at {time_text(mark.time)}"
    later = sheet.marks[place + 1] if place + 1 < len(sheet.marks) else None
    if mark.voltage is None or later is None or later.voltage == mark.voltage:
        return said
    if sheet.values.get("ramp_rate"):
        return f"{said}, {volts(mark.voltage)}"
    return f"{said}, then raise to {volts(later.voltage)}"


def shown(taken: Taken) -> str:
    """Return a reading with its unit, a bound with its sign."""
    return format_quantity(taken.value, taken.quantity, digits=4, trim=True)


def _reading(stand: Progress, taken: Taken, sisters: Sequence[Progress]) -> Row:
    resistance = stand.resistance(taken)
    found = odd(stand, taken, sisters)
    return {
        "number": taken.number,
        "time": taken.time,
        "mark": taken.mark,
        "label": time_text(taken.time) if taken.time is not None else "when steady",
        "text": taken.text,
        "quantity": taken.quantity,
        "value": taken.value.value,
        "bound": taken.value.bound.value if taken.value.bound else None,
        "shown": shown(taken),
        "resistance": resistance.value if resistance else None,
        "was": list(taken.was),
        "question": _question(stand, taken, found) if found else None,
    }


def _question(stand: Progress, taken: Taken, found: Odd) -> Row:
    low, high = (format_quantity(value, "resistance") for value in (found.low, found.high))
    expected = f"{low} to {high}"
    because = {
        "band": f"After the readings before it, {expected} was expected if nothing changes.",
        "sister": f"The other sections read so far make {expected} likely at this mark.",
    }[found.why]
    slip = None
    if found.slip is not None:
        factor = found.slip if taken.quantity == "resistance" else 1 / found.slip
        slip = format_quantity(taken.value.value * factor, taken.quantity, digits=4, trim=True)
    resistance = stand.resistance(taken)
    also = ""
    if taken.quantity == "current" and resistance is not None:
        also = f" It makes {format_quantity(resistance, 'resistance')}."
    return {"asked": f"Is {shown(taken)} right?", "because": f"{because}{also}", "slip": slip}


def ratios(stand: Progress) -> list[Row]:
    """Return the ratios that can be formed so far, both resistances read as values at one voltage."""
    if stand.sheet.stepped:
        return []
    found = []
    for quantity in method(stand.sheet.method).quantities:
        marks = ratio_marks(quantity)
        read = [stand.at_mark(mark) for mark in marks] if marks else []
        later, earlier = (_value(stand, taken) for taken in read) if len(read) == 2 else (None, None)
        if marks is None or later is None or earlier is None:
            continue
        value = float(resistance_ratio(later, earlier))
        of = " / ".join(format_quantity(mark, "time") for mark in marks).replace(" ", NBSP)
        name = lookup(quantity).name
        called = name if any(sign.isdigit() for sign in name) else f"{name} {of}"
        found.append(
            {
                "quantity": quantity,
                "name": name,
                "of": of,
                "called": called,
                "value": value,
                "shown": f"{value:.2f}",
            }
        )
    return found


def _value(stand: Progress, taken: Taken | None) -> float | None:
    resistance: Measured | None = stand.resistance(taken) if taken is not None else None
    if resistance is None or resistance.bound is not None or resistance.value <= 0:
        return None
    return resistance.value


def _outlook(stand: Progress) -> Row | None:
    found = outlook(stand)
    if found is None:
        return None
    return {
        "band": [list(point) for point in found.band],
        "index": list(found.index) if found.index else None,
        "estimate": found.estimate,
        "index_shown": index_text(found),
        "source": found.source,
    }


def index_text(found: Outlook) -> str:
    """Return between which indices a hold is heading; empty where none can be told."""
    return f"{found.index[0]:.1f} to {found.index[1]:.1f}" if found.index else ""


def needs(stand: Progress) -> tuple[float, float] | None:
    """Return limit of the index and the resistance it needs at ten minutes [ohm], once the first is read."""
    first = _value(stand, stand.at_mark(60.0))
    limit = stand.sheet.index_limit
    return (limit, limit * first) if limit is not None and first is not None else None


def first_open(stands: Sequence[Progress]) -> int:
    """Return the sheet to show first: under voltage, then one still to be earthed, then one not ended."""
    live = [place for state in ("live", "ended") for place, one in enumerate(stands) if one.state == state]
    going = [place for place, one in enumerate(stands) if one.ended is None]
    return (live or going or [len(stands) - 1])[0]


def ticks_of(ticks: Mapping[str, Any], items: Sequence[str]) -> list[tuple[str, Any]]:
    """Return items of a checklist with the tick of each, or None."""
    return [(item, ticks.get(item)) for item in items]
