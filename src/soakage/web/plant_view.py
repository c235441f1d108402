"""What stands on the page of all plant: how many of each class and status, the ranking, the spread among peers."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
from markupsafe import Markup

from soakage.model.keys import CLASSES
from soakage.store.memory import StoreMemory
from soakage.store.plant import By, counted, marks, ranked, sites, spread
from soakage.units import format_quantity
from soakage.web.filters import PAGE, Filters

Row = dict[str, Any]
LADDER = ("unfit", "investigate", "watch", "sound", "not judged", "invalid test", "not applicable")
MOST_MARKS = 400
_SCALES = (2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000)
MOST_SQUARES = 40  # assets of a group that all have their own
FEWEST = 4  # assets of a group, for a band
_BANDS = 1.6  # rated voltages within this factor stand together
_WORDS = {
    "unfit": "unfit", "investigate": "to investigate", "watch": "to watch", "sound": "sound",
    "not judged": "not judged", "invalid test": "with an invalid test", "not applicable": "without an applicable limit",
}  # fmt: skip


def shown(memory: StoreMemory, asked: Filters, by: By, number: int) -> Row:
    """Return what the page of all plant shows, the spread apart.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    asked : Filters
        Which assets.
    by : str
        Order of the ranking.
    number : int
        Which part of it, from 1.
    """
    with memory.store.reading() as connection:
        counts = counted(connection, asked.wanted)
        rows = ranked(connection, asked.wanted, by=by, limit=PAGE + 1, offset=PAGE * (number - 1))
        total = sum(row["count"] for row in counts)
        drawn = marks(connection, asked.wanted, MOST_MARKS) if total <= MOST_MARKS else []
        known = sites(connection)
    first, second = _lead(counts, total)
    return {
        "first": first,
        "second": second,
        "total": total,
        "map": _map(counts, drawn, total, asked),
        "scale": 1 if total <= MOST_MARKS else next(s for s in (*_SCALES, total) if total / s <= MOST_MARKS),
        "rows": [told(row) for row in rows[:PAGE]],
        "more": len(rows) > PAGE,
        "number": number,
        "by": by,
        "sites": known,
    }


def _lead(counts: Iterable[Mapping[str, Any]], total: int) -> tuple[str, str]:
    """Return how many stand on each rung, the worst first, in two sentences."""
    if not total:
        return "No asset is like that.", ""
    by_status: dict[str | None, int] = {}
    for row in counts:
        by_status[row["status"]] = by_status.get(row["status"], 0) + row["count"]
    bad = [f"{by_status[name]:,} {_WORDS[name]}" for name in LADDER[:2] if by_status.get(name)]
    rest = [f"{by_status[name]:,} {_WORDS[name]}" for name in LADDER[2:] if by_status.get(name)]
    rest += [f"{by_status[None]:,} never tested"] if by_status.get(None) else []
    first = f"{', '.join(bad)}." if bad else "None unfit, none to investigate."
    return first, f"{', '.join(rest)}." if rest else ""


def _map(
    counts: Iterable[Mapping[str, Any]], drawn: Sequence[Mapping[str, Any]], total: int, asked: Filters
) -> list[Row]:
    """Return one row for each class: its name, how many, and what stands on each rung."""
    cells: dict[tuple[str | None, str | None], int] = {(r["class"], r["status"]): r["count"] for r in counts}
    single: dict[tuple[str | None, str | None], list[Row]] = {}
    for one in drawn:
        single.setdefault((one["class"], one["status"]), []).append({"id": one["id"], "asset": one["asset"]})
    scale = 1 if total <= MOST_MARKS else next(s for s in (*_SCALES, total) if total / s <= MOST_MARKS)
    found = []
    for kind in (*CLASSES, None):
        of = {status: count for (own, status), count in cells.items() if own == kind}
        if not of:
            continue
        found.append(
            {
                "name": kind or "class not stated",
                "count": sum(of.values()),
                "cells": [
                    {
                        "status": status,
                        "count": of.get(status, 0),
                        "assets": single.get((kind, status), []),
                        "marks": math.ceil(of.get(status, 0) / scale),
                        "address": asked.address("/plant", **{"class": kind or "", "status": status}),
                    }
                    for status in LADDER
                ],
                "untested": of.get(None, 0),
            }
        )
    return found


def told(row: Mapping[str, Any]) -> Row:
    """Return one asset of the ranking as it is written on the page."""
    fall = row["fall"]
    return {
        **row,
        "title": row["asset"] or row["tag"] or row["serial"] or "unnamed asset",
        "resistance_text": format_quantity(row["resistance"], "resistance") if row["resistance"] else "",
        "index_text": f"{row['index']:.2f}" if row["index"] else "",
        "fall_text": "" if fall is None else change_text(fall),
    }


def change_text(fall: float) -> str:
    """Return a change of resistance from one visit to the next, in percent with its direction."""
    share = 100 * math.expm1(fall)
    return f"{'+' if share > 0 else '−' if share < -0.5 else ''}{abs(share):.0f}\u00a0%"


def peers(memory: StoreMemory, asked: Filters) -> Row:
    """Return the resistances of like assets beside each other: by class and rated voltage, on one axis.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    asked : Filters
        Which assets.
    """
    with memory.store.reading() as connection:
        found = spread(connection, asked.wanted)
    if not found:
        return {"groups": [], "low": "", "high": ""}
    values = np.array([row["resistance"] for row in found])
    low, high = math.floor(np.log10(values.min())), math.ceil(np.log10(values.max()))
    high = max(high, low + 1)
    groups = []
    for (kind, voltage), rows in _groups(found):
        own = np.array([row["resistance"] for row in rows])
        tenth, middle, ninetieth = (float(np.percentile(own, share)) for share in (10, 50, 90))
        worst = sorted(rows, key=lambda row: row["resistance"])[:3]
        groups.append(
            {
                "name": kind or "class not stated",
                "voltage": voltage,
                "count": len(rows),
                "strip": _strip(rows, (tenth, middle, ninetieth), low, high),
                "middle": format_quantity(middle, "resistance"),
                "band": f"{format_quantity(tenth, 'resistance')} to {format_quantity(ninetieth, 'resistance')}"
                if len(rows) >= FEWEST
                else "",
                "lowest": [
                    {**row, "text": format_quantity(row["resistance"], "resistance")} for row in worst
                ],
            }
        )
    ends = (format_quantity(10.0**end, "resistance", trim=True) for end in (low, high))
    return {"groups": groups, "low": next(ends), "high": next(ends)}


def _groups(found: Iterable[Row]) -> list[tuple[tuple[str | None, str], list[Row]]]:
    made: dict[tuple[str | None, int | None], list[Row]] = {}
    for row in found:
        voltage = row["rated_voltage"]
        step = None if not voltage else round(math.log(voltage / 1000) / math.log(_BANDS))
        made.setdefault((row["class"], step), []).append(row)
    order = {kind: number for number, kind in enumerate((*CLASSES, None))}
    told_groups = []
    for (kind, step), rows in sorted(
        made.items(), key=lambda one: (order.get(one[0][0], 99), one[0][1] is None, one[0][1] or 0)
    ):
        volts = sorted({row["rated_voltage"] for row in rows if row["rated_voltage"]})
        ends = [
            format_quantity(v, "voltage", trim=True)
            for v in (volts[:1] + volts[-1:] if step is not None else [])
        ]
        told_groups.append(((kind, " to ".join(dict.fromkeys(ends)) or "voltage not stated"), rows))
    return told_groups


def _strip(rows: Sequence[Row], shares: tuple[float, float, float], low: int, high: int) -> Markup:
    """Return one line of the drawing: the middle 80 % as a band, the median, the lowest assets as marks."""

    def at(value: float) -> float:
        return 1000 * (math.log10(value) - low) / (high - low)

    tenth, middle, ninetieth = shares
    ticks = "".join(f"M{1000 * k / (high - low):.0f} 4V30" for k in range(high - low + 1))
    parts = [f'<path class="axis" d="M0 17H1000{ticks}"/>']
    if len(rows) >= FEWEST:
        wide = max(2.0, at(ninetieth) - at(tenth))
        parts.append(f'<rect class="most" x="{at(tenth):.1f}" y="8" width="{wide:.1f}" height="18"/>')
        parts.append(f'<path class="middle" d="M{at(middle):.1f} 5V29"/>')
    for row in sorted(rows, key=lambda row: row["resistance"])[: 3 if len(rows) > MOST_SQUARES else None]:
        bad = " bad" if row["status"] in ("unfit", "investigate") else ""
        parts.append(
            f'<path class="one{bad}" d="M{at(row["resistance"]):.1f} {8 if bad else 12}V{26 if bad else 22}"/>'
        )
    return Markup(  # noqa: S704 - numbers only
        f'<svg class="strip" viewBox="0 0 1000 34" preserveAspectRatio="none" aria-hidden="true">{"".join(parts)}</svg>'
    )
