"""Ten years of invented history for forty assets at three sites, with the truth that is hidden in it."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from importlib.resources import files

from soakage.demo.history_fleet import FLEET
from soakage.demo.history_make import SPAN, played, truth_of
from soakage.demo.history_truth import AssetTruth
from soakage.importers.write_record import record_text
from soakage.model.record import Record

END = date(2026, 10, 1)
EDITION_PROFILE = "edition-2000.toml"


def history_records(years: int = SPAN, until: date = END) -> tuple[Record, ...]:
    """Make the records of the history: the same ones each time.

    Parameters
    ----------
    years : int, optional
        How far back they go; a shorter history is the end of a longer one.
    until : date, optional
        The day they end before.

    Returns
    -------
    tuple of Record
        Asset by asset as the fleet has them, each by time. Findings and origins, which are of the reading,
        are empty.
    """
    return tuple(record for member in FLEET for record in played(member, years, until)[0])


def history_truth(years: int = SPAN, until: date = END) -> tuple[AssetTruth, ...]:
    """State what is hidden in the history.

    Parameters
    ----------
    years : int, optional
        How far back it goes: a mis-entered value from before is not there.
    until : date, optional
        Its end.

    Returns
    -------
    tuple of AssetTruth
        One for each asset, as the fleet has them.
    """
    return tuple(
        replace(
            truth_of(member, until), slip=played(member, years, until)[1] if member.slip is not None else None
        )
        for member in FLEET
    )


def history_files(years: int = SPAN, until: date = END) -> dict[str, str]:
    """Write the history as record files.

    Parameters
    ----------
    years : int, optional
        How far back it goes.
    until : date, optional
        Its end.

    Returns
    -------
    dict of str to str
        Text by relative path, ``site/asset/date-section.csv``.
    """
    return {record_path(record): record_text(record) for record in history_records(years, until)}


def edition_profile() -> str:
    """Return the profile file the works judged by before its edition changed."""
    return (files("soakage.demo") / EDITION_PROFILE).read_text(encoding="utf-8")


def record_path(record: Record) -> str:
    """Return the relative path of the file a record of the history is written to."""
    asset = record.asset
    part = asset.section or f"{asset.circuit} {asset.between}"
    return f"{_plain(asset.site or '')}/{_plain(asset.title)}/{record.day}-{_plain(part)}.csv"


def _plain(name: str) -> str:
    """Return a name as a word of a path."""
    return "-".join(re.findall(r"[a-z0-9]+", name.lower().replace("(invented)", "")))
