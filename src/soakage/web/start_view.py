"""What stands on the start: what waits for somebody, what is due, what the store holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from soakage.app.due import WorkItem, work_list
from soakage.app.remember import remember
from soakage.model.keys import KEYS
from soakage.model.verdict import Status
from soakage.standards.library import library
from soakage.store.memory import StoreMemory
from soakage.store.waiting import by_turn, conflicts, held, to_decide, unfinished
from soakage.web.view import counted, day, listed

Row = dict[str, Any]
CLOSELY = 40
"""At most so many assets are looked at with all their history for a work list on a page."""
TOLD = 8
WITHIN = 60  # days
_NUMBERS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)


def waiting(memory: StoreMemory, most: int = TOLD) -> Row:
    """Return what waits for somebody, and how much the store holds.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    most : int
        How many of each are told in full.

    Returns
    -------
    dict
        assets, untested, decide (count, assets), conflicts (count, fields), unfinished.
    """
    return {**journalled(memory, most), "unfinished": sheets(memory, most)}


def journalled(memory: StoreMemory, most: int) -> Row:
    """Return what of it changes with the journal only."""
    with memory.store.reading() as connection:
        count, found = to_decide(connection, most)
        disputed, fields = conflicts(connection, most)
        return {
            **held(connection),
            "decide": {"count": count, "assets": found},
            "conflicts": {"count": disputed, "fields": fields},
        }


def sheets(memory: StoreMemory, most: int) -> list[Row]:
    """Return the sheets that were begun and not finished: they are in no journal."""
    with memory.store.reading() as connection:
        return unfinished(connection, most)


def lead(said: Mapping[str, Any]) -> tuple[str, str]:
    """Return the sentence the start opens with, in two parts."""
    if not said["assets"]:
        return "Nothing is kept here yet.", "Begin with one of these."
    count = said["decide"]["count"]
    first = (
        f"{numbered(count).capitalize()} assets need your decision."
        if count > 1
        else "One asset needs your decision."
        if count
        else "Nothing needs your decision."
    )
    sheets, disputed = len(said["unfinished"]), said["conflicts"]["count"]
    more = [f"{counted(sheets, 'sheet')} not finished"] if sheets else []
    more += [f"{counted(disputed, 'field')} in conflict"] if disputed else []
    return first, f"{' and '.join(more).capitalize()}." if more else ""


def numbered(count: int) -> str:
    """Return a small number as a word, a large one in figures."""
    return _NUMBERS[count] if count < len(_NUMBERS) else f"{count:,}"


def decide_rows(found: Sequence[Mapping[str, Any]]) -> list[Row]:
    """Return assets that wait for a decision as rows of a page."""
    rows = []
    for one in found:
        say = str(one["sentence"] or "").removeprefix(f"{one['asset']}, ")
        rows.append(
            {
                "address": f"/tests/{one['test']}",
                "name": one["asset"] or "unnamed asset",
                "say": f"{say[:1].upper()}{say[1:]}",
                "when": day(date.fromisoformat(one["day"])) if one["day"] else "",
                "status": one["status"],
            }
        )
    return rows


def conflict_rows(fields: Sequence[Mapping[str, Any]]) -> list[Row]:
    """Return conflicts as rows of a page: where they are settled, what they are about, who said what."""
    rows = []
    for one in fields:
        where = {"asset": f"/assets/{one['subject']}#conflicts", "test": f"/tests/{one['subject']}"}
        key = KEYS.get(one["field"])
        said = [f"{claim['person']}: {_short(claim['value'])}" for claim in one["claims"]]
        rows.append(
            {
                "address": where.get(one["kind"], "/settings"),
                "name": one["asset"] or one["kind"],
                "say": f"{(key.name if key else one['field']).replace('_', ' ')}: {'; '.join(said)}.",
            }
        )
    return rows


def _short(value: object) -> str:
    text = "nothing" if value is None else str(value)
    return text if len(text) <= 40 else f"{text[:39]}…"


@dataclass(frozen=True, slots=True)
class Due:
    """What falls due, and how far it was looked at.

    Parameters
    ----------
    items : tuple of (str, WorkItem)
        Id of the asset, and what to test; the earliest first.
    looked_at, dated : int
        Assets looked at with all their history, and assets in service that have a dated test.
    by : date
        Last day.
    """

    items: tuple[tuple[str, WorkItem], ...]
    looked_at: int
    dated: int
    by: date

    @property
    def whole(self) -> bool:
        """Whether every asset was looked at."""
        return self.looked_at >= self.dated

    @property
    def bound(self) -> str:
        """What was not looked at, in a sentence; empty where nothing was left out."""
        if self.whole:
            return ""
        return (
            f"Looked at closely: the {self.looked_at} assets of {self.dated} whose turn comes first by their last "
            "verdict. A trend can bring the turn of another one forward: see 'soakage due' for all of them."
        )


def due(
    memory: StoreMemory,
    today: date,
    *,
    by: date | None = None,
    site: str | None = None,
    asset_class: str | None = None,
    closely: int = CLOSELY,
) -> Due:
    """Return what falls due up to a day, each asset's sections by the earliest.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    today : date
        Told from this day.
    by : date, optional
        Last day; two months ahead unless given.
    site, asset_class : str, optional
        Only these assets.
    closely : int
        How many assets are looked at with all their history: a trend shortens an interval, nothing lengthens it.

    Returns
    -------
    Due
    """
    last = by or today + timedelta(days=WITHIN)
    known = library()
    after = {str(status): _years(status) for status in Status}
    with memory.store.reading() as connection:
        dated, first = by_turn(
            connection, after, _years(None), limit=closely, site=site, asset_class=asset_class
        )
    assets = memory.assets([row["asset_id"] for row in first])
    found: list[tuple[str, WorkItem]] = []
    for row in first:
        asset = assets[row["asset_id"]]
        items = remember(memory, asset, known, today, with_peers=False).due
        found += [(asset.id, item) for item in work_list(items, last)]
    ordered = sorted(found, key=lambda one: (one[1].due, one[1].asset, one[1].section))
    return Due(tuple(ordered), len(first), dated, last)


def _years(status: Status | None) -> float:
    known = library().thresholds
    names = {
        Status.SOUND: "sound", Status.WATCH: "watch", Status.INVESTIGATE: "investigate", Status.UNFIT: "investigate"
    }  # fmt: skip
    return float(
        known[f"trends.interval-{names.get(status, 'unanswered') if status else 'unanswered'}"].value
    )


def due_rows(found: Due, today: date) -> list[Row]:
    """Return one row of a page for each asset, by its earliest day, with all its sections that fall due."""
    groups: dict[str, list[WorkItem]] = {}
    for asset, item in found.items:
        groups.setdefault(asset, []).append(item)
    rows = []
    for asset, items in groups.items():
        worst, sections = items[0], listed([item.section for item in items])
        when = worst.due
        days = (when - today).days
        rows.append(
            {
                "asset_id": asset,
                "day": day(when),
                "when": "today" if not days else f"in {counted(days, 'day')}" if days > 0 else "overdue",
                "asset": worst.asset,
                "sections": f"{sections[:1].upper()}{sections[1:]}",
                "why": worst.why,
                "status": str(worst.last_status),
                "last": day(worst.last),
                "source": worst.source,
            }
        )
    return rows
