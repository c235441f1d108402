"""What the card to take along says, section by section, as plain values for the layout."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

from soakage import __version__
from soakage.app.cautions import Caution
from soakage.app.plan import Plan
from soakage.app.plan_charging import HOLD
from soakage.app.plan_connections import Connection
from soakage.app.plan_criteria import Expected
from soakage.app.plan_voltage import Voltage
from soakage.errors import UsageError
from soakage.physics.humidity import dew_point
from soakage.quantities import ratio_marks
from soakage.report.card_table import schedule, tables
from soakage.report.typesetting import paper_name
from soakage.standards.criterion import VERIFIED_TEXT, Verified
from soakage.units import format_quantity

_FRAME = ("before", "voltage", "during", "after")
AIR_DEGC = (10.0, 15.0, 20.0, 25.0, 30.0)
HUMIDITY = (0.4, 0.5, 0.6, 0.7, 0.8, 0.9)
_TRUST = {
    "read": "read", "secondary": "as reported by others", "memory": "from memory", "derived": "derived",
    "practice": "common practice", "user": "your own",
}  # fmt: skip
_CLASS = {
    "rotating-machine": "rotating machine",
    "low-voltage-installation": "low-voltage installation",
}


def card_content(plan: Plan, paper: str = "a4") -> dict[str, Any]:
    """Return the content of the card.

    Parameters
    ----------
    plan : Plan
        The plan.
    paper : str
        a4 or letter.

    Returns
    -------
    dict
        JSON-able; user text only as values.

    Raises
    ------
    UsageError
        If nothing is planned, with the reason; or if the paper is not known.
    """
    if plan.refusal:
        raise UsageError(plan.refusal)
    title = plan.asset.title
    return {
        "paper": paper_name(paper),
        "doc": {"title": f"Plan card: {title}", "author": "", "keywords": ["insulation test", "plan card"],
                "description": _subtitle(plan)},
        "head": [plan.asset.site or "", "Plan card"],
        "foot": f"Soakage {__version__} · {plan.rules} · criteria data {plan.data_sha256[:12]}",
        "title": title,
        "subtitle": _subtitle(plan),
        "nameplate": _nameplate(plan),
        "cautions": [_caution(c) for c in plan.cautions if c.step in _FRAME],
        "isolate": {"ticks": list(plan.checklist), "cautions": _at("isolate", plan.cautions)},
        "hazardous_area": plan.hazardous_area,
        "temperature": "Winding" if plan.asset.asset_class == "rotating-machine" else "Insulation",
        "dew": dew_table(),
        "connections": [
            _drawing(plan, n, c) for n, c in enumerate(plan.connections, start=1) if not _between(plan, c)
        ],
        "between": [c.title for c in plan.connections if _between(plan, c)],
        "connect": {"cautions": _at("connect", plan.cautions), "notes": list(plan.notes)},
        "voltages": _voltages(plan),
        "charging": plan.charging.text if plan.charging else "",
        "rising": {entry.method: _rising(plan, entry.method) for entry in plan.rising},
        "tables": tables(plan),
        "schedule": schedule(plan),
        "earthing": _earthing(plan),
        "criteria": [_criterion(entry, len({c.title for c in plan.connections})) for entry in plan.criteria],
    }  # fmt: skip


def dew_table() -> list[list[str]]:
    """Return the dew point over water for a few airs and humidities, as printed: rows of whole degrees."""
    points = [[float(dew_point(air, share)) for share in HUMIDITY] for air in AIR_DEGC]
    return [
        [f"{air:.0f}", *(f"{point:.0f}".replace("-", "−") for point in row)]
        for air, row in zip(AIR_DEGC, points, strict=True)
    ]


def volts(value: float | None) -> str:
    """Return a voltage as printed, or an en dash."""
    return "–" if value is None else format_quantity(value, "voltage", trim=True)


def _join(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def _subtitle(plan: Plan) -> str:
    tops = {entry.method: entry.voltage.value for entry in plan.rising}
    plain = [entry.method.title for entry in plan.methods if entry.method.id not in tops]
    words = [title if n == 0 else title[:1].lower() + title[1:] for n, title in enumerate(plain)]
    parts = (
        [_join(words) + (f" at {volts(plan.test_voltage.value)}" if plan.test_voltage else "")]
        if words
        else []
    )
    parts += [f"{plan.method(name).method.title.lower()} to {volts(top)}" for name, top in tops.items()]
    count = len(plan.connections)
    whole = sum(entry.under_voltage + entry.time for entry in plan.earthings)
    return (
        f"{_upper(', '.join(parts))}, {count} connection{'s' if count != 1 else ''}, "
        f"{_whole_minutes(whole)} at least with earthing."
    )


def _nameplate(plan: Plan) -> str:
    asset = plan.asset
    kind = _CLASS.get(asset.asset_class or "", asset.asset_class or "")
    rated = asset.rated_voltage or asset.nominal_voltage
    parts: list[str] = [
        f"{asset.winding} {kind}" if asset.winding else kind,
        volts(rated) if rated is not None else "",
        *(f"{name}\u00a0{volts(v)}" for name, v in (asset.winding_voltages or {}).items()),
        f"class {asset.thermal_class}" if asset.thermal_class else "",
        asset.insulation or "",
        f"made {asset.year}" if asset.year else "",
        f"tag {asset.tag}" if asset.tag else "",
        f"serial {asset.serial}" if asset.serial else "",
        (plan.paper.purpose or "").replace("-", " "),
    ]
    said = ", ".join(part for part in parts if part)
    return f"{_upper(said)}."


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def verified_text(verified: str) -> str:
    """Return the sentence that says how far a source can be trusted; empty where it was read."""
    return VERIFIED_TEXT[Verified(verified)]


def _source(source: str, verified: str) -> list[str]:
    """Return where something stands, its parts unbroken, and how far that can be trusted."""
    if source.startswith("common practice"):
        return ["", verified_text(verified)]
    unbroken = [[part.replace(" ", "\u00a0") for part in one.split(", ")] for one in source.split("; ")]
    return ["; ".join(", ".join(parts) for parts in unbroken) + ". ", verified_text(verified)]


def _caution(caution: Caution) -> list[str]:
    source = ["", ""] if caution.verified == "practice" else _source(caution.source, caution.verified)
    return [caution.lead, caution.rest, *source]


def _at(step: str, all_of_them: Iterable[Caution]) -> list[list[str]]:
    return [_caution(caution) for caution in all_of_them if caution.step == step]


def _between(plan: Plan, connection: Connection) -> bool:
    """Return True for two conductors of a schedule neither of them the earthed part: listed, not drawn."""
    return "circuit" in connection.methods and connection.earthed[0] != plan.pairs[-1][-1]


def _drawing(plan: Plan, number: int, connection: Connection) -> dict[str, Any]:
    nodes = list(dict.fromkeys(name for pair in plan.pairs for name in pair))
    far = {name for pair in connection.observes for name in pair} - set(connection.parts)
    live = {*connection.parts, *connection.tested}
    items: list[dict[str, Any]] = []
    for name in [*nodes, *(name for name in sorted(far) if name not in nodes)]:
        rail = "live" if name in live else "earth" if name in far else "floating"
        rail = "guard" if name in connection.guarded else rail
        two = plan.asset.asset_class in ("rotating-machine", "transformer") and name != nodes[-1]
        items.append({"name": name, "rail": rail, "legs": 2 if two else 1})
    earthed = ", ".join(item["name"] for item in items if item["rail"] == "earth")
    names = [plan.method(name).method.title for name in connection.methods]
    tests = names[0] + (" + set" if len(names) > 1 else "")
    return {
        "number": number,
        "title": f"{number}: {connection.title}",
        "method": tests if len(plan.methods) > 1 else "",
        "alt": f"{connection.title} live, {earthed} earthed.",
        "items": items,
        "live": f"−{volts(connection.voltage)}" if connection.voltage is not None else "",
        "note": connection.note,
    }


def _voltages(plan: Plan) -> list[dict[str, Any]]:
    """Return each voltage of the plan once, with the connections it is for and its row."""
    rising = {entry.method: entry for entry in plan.rising}
    found: dict[tuple[float | None, bool], list[str]] = {}
    for number, connection in enumerate(plan.connections, start=1):
        if connection.methods[0] not in rising:
            found.setdefault((connection.voltage, "cable-sheath" in connection.methods), []).append(
                str(number)
            )
    entries = []
    for (value, sheath), numbers in found.items():
        whole = len(numbers) == len(plan.connections)
        what = "" if whole else f"Connection{'s' if len(numbers) > 1 else ''} {_join(numbers)}: "
        entries.append(_voltage(value, what, plan.test_voltage if not sheath else None))
    return entries


def _voltage(value: float | None, what: str, voltage: Voltage | None) -> dict[str, Any]:
    if value is None or voltage is None:
        return {
            "value": "–",
            "text": f"{what}no table gives it; ask the maker.",
            "why": "",
            "source": ["", ""],
        }
    text = _upper(f"{what}direct voltage, negative on the part tested, earth positive.")
    if value != voltage.value:
        why = "The weakest winding that is live or compared decides."
        row = ""
    else:
        low, high = volts(voltage.low), volts(voltage.high)
        row = f"{_upper(voltage.row)}: {low if low == high else f'{low} to {high}'}. "
        why = voltage.why
    return {
        "value": volts(value),
        "text": text,
        "why": f"{row}{why}",
        "source": _source(voltage.source, voltage.verified),
    }


def _rising(plan: Plan, method: str) -> dict[str, Any]:
    entry = next(entry for entry in plan.rising if entry.method == method)
    low, high = volts(entry.voltage.low), volts(entry.voltage.high)
    if entry.rate is not None:
        how = (
            f"Raise at {format_quantity(entry.rate, 'ramp_rate', trim=True)} to {volts(entry.voltage.value)}."
        )
    elif entry.graded is not None:
        how = (
            f"Graded times: raise at each time of the table, read the current just before, "
            f"{format_quantity(entry.graded.total, 'time')} in all. Exponent "
            f"{entry.graded.absorption_exponent:.2g}, {entry.graded.exponent_source}."
        )
    else:
        levels = _join([volts(level) for level in entry.steps])
        how = f"Steps of {levels}, each held {format_quantity(HOLD, 'time')}."
    return {
        "title": plan.method(method).method.title,
        "value": volts(entry.voltage.value),
        "how": how,
        "row": f"{_upper(entry.voltage.row)}: {low} to {high}. {entry.voltage.why}",
        "source": _source(entry.voltage.source, entry.voltage.verified),
        "overvoltage": entry.overvoltage,
        "conditions": list(entry.conditions),
        "caution": entry.voltage.caution,
    }


def _earthing(plan: Plan) -> dict[str, Any]:
    if plan.earthing is None:
        return {"value": "–", "text": "", "source": ["", ""]}
    earthing = plan.earthing
    shorter: dict[str, list[str]] = {}
    for number, entry in enumerate(plan.earthings, start=1):
        if entry.time != earthing.time:
            shorter.setdefault(_whole_minutes(entry.time), []).append(str(number))
    less = "".join(f" After connection {_join(numbers)}: {time}." for time, numbers in shorter.items())
    return {
        "value": _whole_minutes(earthing.time),
        "text": f"{earthing.text}, at least, after each connection.{less} A minimum, no proof: then "
        "prove dead, and keep earthed while you work.",
        "source": _source(earthing.source, earthing.verified),
    }


def _whole_minutes(seconds: float) -> str:
    """Return a minimum time, rounded up."""
    return format_quantity(math.ceil(seconds / 60.0 - 1e-9) * 60.0, "time")


def _criterion(entry: Expected, connections: int) -> dict[str, Any]:
    limit = entry.limit.text if entry.limit else "limit not formed"
    notes = [entry.reason] if entry.reason else []
    if entry.readings:
        temperatures = ", ".join(f"{t:.0f}" for t, _ in entry.readings)
        values = ", ".join(format_quantity(r, "resistance") for _, r in entry.readings)
        notes.append(f"Read at {temperatures} °C: {values} ({entry.rule}, {_TRUST[entry.rule_verified]}).")
    if marks := ratio_marks(entry.quantity):
        later, earlier = (format_quantity(mark, "time") for mark in marks)
        notes.append(f"From resistances: {later} over {earlier}; from currents: {earlier} over {later}.")
    what = _join(entry.for_what) if entry.for_what and len(entry.for_what) < connections else ""
    return {
        "name": entry.name,
        "what": what,
        "limit": _upper(limit),
        "notes": " ".join(notes),
        "source": _source(entry.source, entry.verified),
    }
