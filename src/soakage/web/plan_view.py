"""What stands on the plan of a test: the card to take along, and what may be chosen beside it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from markupsafe import Markup

from soakage.app.cautions import DEFERENCE
from soakage.model.keys import CLASSES, KEYS, PURPOSES
from soakage.report.card_content import card_content
from soakage.report.rails import rails_svg
from soakage.web.planning import PLATE, Asked, methods_for
from soakage.web.plate_view import label
from soakage.web.view import NBSP, day
from soakage.wiring.sheets import Planned

Row = dict[str, Any]
_TYPED = {
    "temperature": f"27.5{NBSP}°C",
    "humidity": f"55{NBSP}%",
    "capacitance": f"250{NBSP}nF",
    "current": f"3{NBSP}mA",
}
"""How a figure is typed, by dimension, where people leave the unit out."""
DRAWN = 4
"""At most so many connections are drawn; the others are listed."""
_FIRST = (
    "asset",
    "site",
    "tag",
    "class",
    "rated_voltage",
    "nominal_voltage",
    "winding",
    "insulation",
    "year",
    "neutral",
)
_ASKED_FIRST = ("purpose", "hazardous_area", "gas_free_certificate", "capacitance", "current_limit")


def box(key: str, value: str) -> Row:
    """Return one field of a form: name, label, meaning, value, words allowed."""
    known = KEYS[key]
    words = {"class": CLASSES, "purpose": PURPOSES}.get(key, known.words)
    example = _TYPED.get(known.dimension, "")
    said = f"{known.meaning} Such as {example}." if example else known.meaning
    return {"name": key, "label": label(key), "meaning": said, "value": value, "words": words}


def chosen(asked: Asked, asset_class: str | None) -> Row:
    """Return what may be chosen: tests, what they are for, and of a nameplate as typed its keys."""
    made = methods_for(asset_class)
    return {
        "asked": asked,
        "tests": [
            {"id": m.id, "title": m.title, "on": m.id in asked.methods, "purpose": m.purpose} for m in made
        ],
        "boxes": [box(key, asked.values.get(key, "")) for key in _ASKED_FIRST],
        "plate": [] if asked.asset else [box(key, asked.values.get(key, "")) for key in _FIRST],
        "more": []
        if asked.asset
        else [box(key, asked.values.get(key, "")) for key in PLATE if key not in _FIRST],
    }


def card(planned: Planned, ticks: Mapping[str, Any], sections: frozenset[str] = frozenset()) -> Row:
    """Return the card of a plan, each thing to tick with who ticked it and when.

    Parameters
    ----------
    planned : Planned
        A plan that is not refused.
    ticks : mapping
        What was ticked off, by its text.
    sections : frozenset of str
        Connections that the sheet takes; all where empty.
    """
    plan = planned.plan
    told = card_content(plan)
    every = told["connections"]
    drawn = every[:DRAWN]
    after = [
        "Voltage off; let the instrument discharge the part",
        f"Earth on; left on for {told['earthing']['value']} at least",
        "Links, cables and arresters put back",
        "Permit handed in",
    ]
    rising = list(told["rising"].values())
    return {
        "title": told["title"],
        "site": told["head"][0],
        "subtitle": told["subtitle"],
        "nameplate": told["nameplate"],
        "deference": DEFERENCE,
        "hazardous": told["hazardous_area"],
        "voltage": told["voltages"][0]["value"] if told["voltages"] else "–",
        "earth": told["earthing"]["value"],
        "cautions": [_caution(c.step, c.lead, c.rest) for c in plan.cautions if c.text != DEFERENCE],
        "checklist": [_tick(text, ticks) for text in plan.checklist],
        "conditions": [_tick(text, ticks) for one in rising for text in one["conditions"]],
        "after": [_tick(text, ticks) for text in after],
        "drawings": [{**one, "svg": Markup(rails_svg(one))} for one in drawn],  # noqa: S704 - our own drawing
        "listed": [
            {"place": place, "title": one.title, "live": one.tested, "earthed": one.earthed,
             "on": not sections or one.title in sections}
            for place, one in enumerate(plan.connections)
        ],
        "notes": told["connect"]["notes"],
        "voltages": told["voltages"],
        "rising": rising,
        "charging": told["charging"],
        "earthing": told["earthing"],
        "criteria": [
            {**one, "decides": expected.decides}
            for one, expected in zip(told["criteria"], plan.criteria, strict=True)
        ],
        "tables": told["tables"],
        "schedule": told["schedule"],
        "foot": told["foot"],
    }  # fmt: skip


def _caution(step: str, lead: str, rest: str) -> Row:
    return {"step": step, "lead": lead, "rest": rest}


def _tick(text: str, ticks: Mapping[str, Any]) -> Row:
    tick = ticks.get(text)
    return {"text": text, "done": f"{at_text(tick['at'])}, {tick['person']}" if tick else ""}


def at_text(microseconds: int) -> str:
    """Return a time of day where the server stands, with its day."""
    when = datetime.fromtimestamp(microseconds / 1e6, UTC).astimezone()
    return f"{day(when.date())}, {when:%H:%M}"
