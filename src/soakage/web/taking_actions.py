"""What can be done with a sheet taken by hand: pages and the API do it through these."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import HTTPException

from soakage.app.capture_rules import Moment, happened
from soakage.app.intake import Intake
from soakage.errors import InputError, QuantityError
from soakage.standards.library import library
from soakage.store.drafts import (
    GoneError,
    KeptDraft,
    OutOfTurnError,
    add_row,
    kept_draft,
    remove_draft,
    set_up,
)
from soakage.store.memory import StoreMemory
from soakage.store.store import microseconds
from soakage.web.filters import clean
from soakage.wiring.house_rules import usual
from soakage.wiring.sheets import header_checked, keep_sheet, standing

LONGEST = 400


def the_draft(memory: StoreMemory, draft: str) -> KeptDraft:
    """Return a sheet.

    Raises
    ------
    HTTPException
        404 where there is none.
    """
    found = kept_draft(memory, draft)
    if found is None:
        raise HTTPException(404, str(GoneError()))
    return found


def row_added(memory: StoreMemory, draft: str, body: Mapping[str, Any], scale: float = 1.0) -> bool:
    """Add what happened to a sheet; it is on the disk when this returns.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    draft : str
        Id of the sheet.
    body : mapping
        ``number`` and ``key``, ``ago`` [s], and what happened, as typed.
    scale : float
        Seconds of the sheet in one second.

    Returns
    -------
    bool
        False where it was there already.

    Raises
    ------
    HTTPException
        404 where there is no such sheet, 409 where another page added to it meanwhile.
    InputError, UsageError
        If it cannot be read, or cannot happen now.
    """
    found = the_draft(memory, draft)
    body = {name: clean(value) if isinstance(value, str) else value for name, value in body.items()}
    known = next((row for row in found.rows if row.number == body["number"]), None)
    if known is not None and known.fields["key"] == body["key"]:
        return False
    try:
        event = happened(
            standing(found),
            body,
            Moment(microseconds(), body["ago"], scale),
            library(),
            found.fields["ticks"],
        )
    except QuantityError as problem:
        raise InputError([problem.fault(field=str(body["kind"]))]) from None
    try:
        return add_row(memory, draft, body["number"], event | {"key": body["key"], "by": memory.person})
    except OutOfTurnError as problem:
        raise HTTPException(409, str(problem)) from None
    except GoneError as problem:
        raise HTTPException(404, str(problem)) from None


def header_changed(memory: StoreMemory, draft: str, typed: Mapping[str, str]) -> Mapping[str, str]:
    """Set conditions, instrument and people of a sheet, as typed; each is read before any is kept.

    Raises
    ------
    HTTPException
        404 where there is no such sheet.
    InputError, UsageError
        If one cannot be read.
    """
    checked = header_checked({clean(key)[:LONGEST]: clean(text)[:LONGEST] for key, text in typed.items()})

    def change(fields: dict[str, Any]) -> dict[str, Any]:
        merged = {**fields["header"], **checked}
        return {**fields, "header": {key: text for key, text in merged.items() if text}}

    return dict(_set_up(memory, draft, change)["header"])


def ticked(memory: StoreMemory, draft: str, item: str, *, on: bool) -> Mapping[str, Any]:
    """Tick off something in the name of who asks, or take that back; who ticked first stands."""
    text = clean(item)[:LONGEST]

    def change(fields: dict[str, Any]) -> dict[str, Any]:
        ticks = {name: tick for name, tick in fields["ticks"].items() if on or name != text}
        if on:
            ticks.setdefault(text, tick_by(memory))
        return {**fields, "ticks": ticks}

    return dict(_set_up(memory, draft, change)["ticks"])


def tick_by(memory: StoreMemory) -> dict[str, Any]:
    """Return a tick of whoever works here, now."""
    return {"at": microseconds(), "person": memory.person}


def kept(memory: StoreMemory, draft: str) -> Intake:
    """Receive a sheet as tests; it is put away once they are kept.

    Raises
    ------
    HTTPException
        404 where there is no such sheet.
    InputError
        If a section is refused; holds every fault, and the sheet stays.
    UsageError
        If there is nothing to keep, or voltage is still on.
    """
    taken = keep_sheet(memory, the_draft(memory, draft), usual(memory))
    faults = [fault for file in taken.files for fault in file.faults]
    if faults:
        raise InputError(faults)
    return taken


def put_away(memory: StoreMemory, draft: str) -> None:
    """Remove a sheet without keeping a test.

    Raises
    ------
    HTTPException
        404 where there is none, 409 where voltage is on by it.
    """
    found = the_draft(memory, draft)
    if any(stand.state == "live" for stand in standing(found)):
        raise HTTPException(
            409, "Voltage is on by this sheet. Stop and earth first; then it can be put away."
        )
    remove_draft(memory, draft)


def _set_up(memory: StoreMemory, draft: str, change: Any) -> dict[str, Any]:  # noqa: ANN401 - a function
    try:
        return set_up(memory, draft, change)
    except GoneError as problem:
        raise HTTPException(404, str(problem)) from None
