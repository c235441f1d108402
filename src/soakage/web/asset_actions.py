"""What can be done with an asset: pages and the API do it through these, with one vocabulary and one set of checks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from fastapi import HTTPException

from soakage.app.edited import Edited
from soakage.app.editing import add_asset, edit_asset, edit_section, retire
from soakage.app.ports import KnownAsset
from soakage.app.remarks import LARGEST, Remark, attach, happened, note
from soakage.app.settling import Settled, settle
from soakage.errors import UsageError
from soakage.store.conflicts import conflicts
from soakage.store.memory import StoreMemory
from soakage.web.filters import clean
from soakage.web.plate_view import read_form
from soakage.wiring.changing import plain_values
from soakage.wiring.looking import day_given

LONGEST = 4000  # of a note or a reason


def text_given(text: str) -> str:
    """Return what a person wrote, in lines, without signs that no text has.

    Raises
    ------
    UsageError
        If it is too long.
    """
    found = "\n".join(clean(line) for line in text.splitlines()).strip()
    if len(found) > LONGEST:
        raise UsageError(f"{len(found)} signs; at most {LONGEST} are kept here. Attach it as a file.")
    return found


def added(memory: StoreMemory, typed: Mapping[str, str]) -> Edited:
    """Add an asset out of what stands in each field."""
    values, _ = read_form({}, typed)
    return add_asset(memory, values)


def edited(
    memory: StoreMemory, asset: KnownAsset, typed: Mapping[str, str], reason: str = ""
) -> Edited | None:
    """Change an asset to what stands in each field; None where nothing differs."""
    values, clear = read_form(asset.values, typed)
    if not values and not clear:
        return None
    return edit_asset(memory, asset, values, clear, clean(reason)[:LONGEST])


def changed(
    memory: StoreMemory, asset: KnownAsset, values: Mapping[str, str], clear: Sequence[str], reason: str
) -> Edited:
    """Change keys of an asset, values as typed, and take others away."""
    plain = plain_values({key: clean(text) for key, text in values.items()})[0] if values else {}
    return edit_asset(memory, asset, plain, clear, text_given(reason))


def noted(memory: StoreMemory, asset: KnownAsset, text: str) -> Remark:
    """Add a note."""
    return note(memory, asset, text_given(text))


def event_added(memory: StoreMemory, asset: KnownAsset, event: str, on: str, text: str) -> Remark:
    """Note what happened to an asset; after a rewind, a refill or a repair a new series begins."""
    when = day_given("day", on or None)
    if when is None:
        raise UsageError("An event needs its day. Write it as 2026-03-14.")
    return happened(memory, asset, clean(event), date.fromisoformat(when), text_given(text))


def attached(memory: StoreMemory, asset: KnownAsset, name: str, media_type: str, content: bytes) -> Remark:
    """Keep a file with an asset, exactly as it is; never more of it than may be."""
    if len(content) > LARGEST:
        raise HTTPException(
            413, f"That file is too large. Given: more than {LARGEST} bytes. Allowed: {LARGEST}."
        )
    plain = clean(name.replace("\\", "/").rpartition("/")[2])[:200] or "file"
    media = clean(media_type)[:100] or "application/octet-stream"
    return attach(memory, asset, plain, media, content)


def retired(memory: StoreMemory, asset: KnownAsset, reason: str, *, back: bool) -> Edited:
    """Mark an asset as retired, or take that back."""
    return retire(memory, asset, back=back, reason=text_given(reason))


def section_added(memory: StoreMemory, asset: KnownAsset, name: str, text: str) -> Edited:
    """Add a section."""
    return edit_section(memory, asset, clean(name)[:200], text=text_given(text) or None, add=True)


def settled(memory: StoreMemory, asset: KnownAsset, field: str, entry: str, reason: str) -> Settled:
    """Let the value of one claim stand.

    Raises
    ------
    HTTPException
        409 where it was settled meanwhile, or others came to it.
    """
    with memory.store.reading() as connection:
        found = [one for one in conflicts(connection) if (one.kind, one.subject) == ("asset", asset.id)]
    conflict = next((one for one in found if one.field == field), None)
    claims: list[Any] = (
        [] if conflict is None else [claim for claim in conflict.claims if claim.entry == entry]
    )
    if conflict is None or not claims:
        raise HTTPException(409, "This conflict was settled meanwhile. Load the page again and look.")
    with memory.changing() as change:
        return settle(change, conflict, claims[0].value, text_given(reason))
