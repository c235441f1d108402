"""When the calibration of an instrument runs out, from everything known of it, in whatever order it came; pure."""

from __future__ import annotations

from collections.abc import Iterable

from soakage.app.folding import Folded, body_of
from soakage.app.journal import Entry

KEY = "calibration_due"
CALIBRATED = "calibrated"


def due_of(folded: Folded, entries: Iterable[Entry]) -> str | None:
    """Return the day on which the calibration of an instrument runs out, None where none is known.

    Parameters
    ----------
    folded : Folded
        State of the instrument.
    entries : iterable of Entry
        All on it: calibrations noted by hand, and those that records stated.

    Returns
    -------
    str or None
        ISO 8601. The latest of all calibrations; a date set by an edit wins over those noted before it, so
        that a slip can be put right.
    """
    known = list(entries)
    writer = next((entry for entry in known if entry.hash == folded.writers.get(KEY)), None)
    dues = [
        str(body_of(entry)["due"])
        for entry in known
        if entry.action == CALIBRATED
        and "due" in body_of(entry)
        and (writer is None or (entry.at, entry.hash) > (writer.at, writer.hash))
    ]
    stated = folded.values.get(KEY)
    return max([*dues, *([str(stated)] if stated else [])], default=None)
