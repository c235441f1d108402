"""What a record brings to the register beside itself: its asset with the section tested, its visit, its instrument."""

from __future__ import annotations

from typing import Any

from soakage.app.calibration import CALIBRATED, KEY, due_of
from soakage.app.keeping import instrument_id, visit_id
from soakage.app.ports import Change, KnownAsset
from soakage.app.register import INSTRUMENT, SECTION, identity
from soakage.model.record import Record
from soakage.model.stated import stated_plain


def keep_asset(change: Change, asset: KnownAsset, section: str) -> None:
    """Add an asset, or what the register does not have of it yet, with the section tested."""
    now = change.folded("asset", asset.id).values
    fresh: dict[str, Any] = {key: value for key, value in asset.values.items() if key not in now}
    if f"{SECTION}{section}" not in now:
        fresh[f"{SECTION}{section}"] = {}
    change.state("asset", asset.id, fresh)
    site = asset.values.get("site")
    if site:
        change.state("site", identity("site", site), {"name": site})


def keep_visit(change: Change, asset: str, record: Record) -> None:
    """Add the visit a record belongs to."""
    visit = visit_id(asset, record)
    if visit is not None:
        day = record.day.isoformat() if record.day else None
        values = {"asset": asset, "name": record.paper.visit or day}
        if day is not None and "day" not in change.folded("visit", visit).values:
            values["day"] = day
        change.state("visit", visit, values)


def keep_instrument(change: Change, record: Record) -> None:
    """Add the instrument a record names by its serial number, or what the register does not have of it yet."""
    instrument = instrument_id(record)
    if instrument is None:
        return
    now = change.folded("instrument", instrument)
    stated = stated_plain(record)
    fresh = {
        name: stated[name] for name in INSTRUMENT if name in stated and name not in now.values and name != KEY
    }
    change.state("instrument", instrument, fresh)
    # no field of the instrument: two stores that each read their own records would be in conflict over it
    due, known = stated.get(KEY), due_of(now, change.entries("instrument", instrument))
    if due is not None and (known is None or due > known):
        change.add("instrument", instrument, CALIBRATED, {"due": due, "done": None, "certificate": ""})
