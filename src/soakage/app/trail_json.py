"""Entries of the journal as plain values: who, when, what, before, after, reason; pure."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from soakage.app.folding import body_of
from soakage.app.journal import Entry, TrailFault

_LONG = (
    "set",
    "was",
    "record",
    "of",
    "figures",
    "findings",
    "criteria",
)  # what a page of the trail leaves out


def when(at: int) -> str:
    """Return a time of the journal [us since 1970 UTC] as ISO 8601, to the second."""
    return datetime.fromtimestamp(at / 1e6, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def entry_json(entry: Entry) -> dict[str, Any]:
    """Return one entry.

    Parameters
    ----------
    entry : Entry
        Any.

    Returns
    -------
    dict
        ``before`` and ``after`` hold the fields it changed; ``about`` what else it brought, less what is long.
    """
    body = body_of(entry)
    about = {name: value for name, value in body.items() if name not in _LONG}
    if "record" in body:
        about["file"] = body["record"].get("file")
    return {
        "at": when(entry.at),
        "person": entry.person,
        "identity": entry.identity,
        "action": entry.action,
        "kind": entry.kind,
        "subject": entry.subject,
        "reason": entry.reason,
        "before": body.get("was", {}),
        "after": body.get("set", {}),
        "about": about,
        "purged": entry.body is None,
        "store": entry.store,
        "number": entry.number,
        "hash": entry.hash,
    }


def verified_json(entries: int, gaps: int, forks: int, faults: Iterable[TrailFault]) -> dict[str, Any]:
    """Return what came of verifying every chain."""
    found = [
        {"store": fault.store, "number": fault.number, "hash": fault.hash, "problem": fault.problem}
        for fault in faults
    ]
    return {"whole": not found, "entries": entries, "gaps": gaps, "forks": forks, "faults": found}
