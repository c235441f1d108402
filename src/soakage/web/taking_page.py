"""What the page of a sheet shows: its part that changes with every reading, and the forms beside it."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from soakage.app.cautions import cautions
from soakage.methods import method
from soakage.model.keys import KEYS
from soakage.standards.library import library
from soakage.store.drafts import KeptDraft, instruments_at_hand
from soakage.store.memory import StoreMemory
from soakage.web.plan_view import box
from soakage.web.taking_plot import NARROW, WIDE, drawing
from soakage.web.taking_view import first_open, needs, state, ticks_of
from soakage.wiring.sheets import HEADER, draft_title, standing

Row = dict[str, Any]
UNITS = ("MΩ", "GΩ", "TΩ", "nA", "µA")
_STEPS = {
    "waiting": ("isolate", "connect", "voltage"), "ready": ("voltage", "during"), "live": ("during",),
    "ended": ("after",), "earthed": ("after",),
}  # fmt: skip
_ENDED = {
    "complete": "complete, as planned", "stopped": "stopped by hand", "tripped": "the instrument tripped",
    "breakdown": "breakdown of the insulation", "flashover": "flashover on the outside",
}  # fmt: skip


def shown(memory: StoreMemory, draft: KeptDraft, place: int | None, now: int, scale: float) -> Row:
    """Return what the page of a sheet shows.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    draft : KeptDraft
        The sheet.
    place : int or None
        Which of its sections; the one under voltage, else the first not ended, where not given.
    now : int
        The time now [us UTC].
    scale : float
        Seconds of the sheet in one second.
    """
    stands = standing(draft)
    whole = state(draft, now, scale)
    chosen = place if place is not None and 0 <= place < len(stands) else first_open(stands)
    stand, sheet = stands[chosen], whole["sheets"][chosen]
    need = needs(stand) if not stand.sheet.stepped else None
    return {
        "draft": draft.id,
        "title": draft_title(memory, draft),
        "whole": whole,
        "sheet": sheet,
        "place": chosen,
        "sections": [
            {"place": other, "title": one["section"], "state": one["state"], "current": other == chosen}
            for other, one in enumerate(whole["sheets"])
        ],
        "live": any(one["state"] == "live" for one in whole["sheets"]),
        "readings": sum(len(one["readings"]) for one in whole["sheets"]),
        "later": next((k for k in range(chosen + 1, len(stands)) if stands[k].started is None), None),
        "ledger": ledger(sheet),
        "cautions": _cautions(
            draft, stand.sheet.method, sheet["state"], overvoltage=bool(stand.sheet.conditions)
        ),
        "conditions": [
            {"text": text, "done": tick["person"] if tick else ""}
            for text, tick in ticks_of(whole["ticks"], sheet["conditions"])
        ],
        "plots": [
            (kind, Markup(drawing(stand, sheet, size, need)))  # noqa: S704 - our own drawing
            for kind, size in (("wide", WIDE), ("narrow", NARROW))
        ],
        "endings": [(word, _ENDED[word]) for word in sheet["endings"]],
        "header": [box(key, str(draft.fields["header"].get(key, ""))) for key in _header(draft)],
        "undegreed": not {"winding_temperature", "insulation_temperature"} & draft.fields["header"].keys(),
        "instruments": instruments_at_hand(memory),
        "units": UNITS,
    }


def _header(draft: KeptDraft) -> list[str]:
    """Return what is asked beside the readings; the temperature under the name it has for this class."""
    machine = draft.fields["sheets"][0]["values"].get("class") == "rotating-machine"
    named = {"winding_temperature": "winding_temperature" if machine else "insulation_temperature"}
    return [
        named.get(key, key)
        for key in HEADER
        if named.get(key, key) in KEYS and key != "insulation_temperature"
    ]


def ledger(sheet: Row) -> list[Row]:
    """Return the rows of the ledger: every mark, and what was read in between, in order of time."""
    by_mark = {one["mark"]: one for one in sheet["readings"] if one["mark"] is not None}
    rows = [
        {"time": call["time"], "label": call["label"], "reading": by_mark.get(call["time"]), "mark": call["time"],
         "on": call["on"]}
        for call in sheet["calls"] if call["read"]
    ]  # fmt: skip
    rows += [
        {"time": one["time"] or 0.0, "label": one["label"], "reading": one, "mark": None, "on": ""}
        for one in sheet["readings"]
        if one["mark"] is None
    ]
    return sorted(rows, key=lambda row: float(row["time"]))


def _cautions(draft: KeptDraft, made_by: str, stands: str, *, overvoltage: bool) -> list[Row]:
    told = cautions(
        draft.fields["sheets"][0]["values"].get("class"), method(made_by), overvoltage=overvoltage,
        hazardous_area=draft.fields["plate"].get("hazardous_area"), library=library(),
    )  # fmt: skip
    return [{"lead": one.lead, "rest": one.rest} for one in told if one.step in _STEPS[stands]]
