"""Where an asset stands, from its tests: made anew whenever one of them changes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from soakage.model.verdict import Status
from soakage.store import schema
from soakage.store.asking import batches, rows

Row = Mapping[str, Any]
RESISTANCE, INDEX = "insulation_resistance_60s_corrected", "polarization_index"
_NEED = [Status.UNFIT, Status.INVESTIGATE, Status.INVALID_TEST, Status.NOT_JUDGED, Status.WATCH, Status.SOUND,
         Status.NOT_APPLICABLE]  # fmt: skip
_ORDER = {str(status): place for place, status in enumerate(_NEED)}


def standing_of(
    asset: str, tests: Sequence[Row], figures: Mapping[str, Mapping[str, Row]]
) -> dict[str, Any] | None:
    """Return the row of an asset's standing; None where it has no current test.

    Parameters
    ----------
    asset : str
        Its id.
    tests : sequence of mapping
        Rows of its tests.
    figures : mapping
        Rows of figures by test, then by quantity.

    Returns
    -------
    dict or None
    """
    current = sorted(
        (test for test in tests if test["state"] == "current"),
        key=lambda test: (test["day"] or "", test["id"]),
    )
    if not current:
        return None
    newest = current[-1]
    visit = [test for test in current if test["visit"] == newest["visit"]] if newest["visit"] else [newest]
    statuses = [test["status"] or str(Status.NOT_JUDGED) for test in visit]

    def lowest(quantity: str) -> float | None:
        values = [
            figures[test["id"]][quantity]["value"]
            for test in visit
            if quantity in figures.get(test["id"], {})
        ]
        return min(values, default=None)

    return {
        "asset": asset,
        "tests": len(current),
        "day": newest["day"],
        "visit": newest["visit"],
        "status": min(statuses, key=_ORDER.__getitem__),
        "unsigned": sum(test["review"] != "signed" for test in current),
        "resistance": lowest(RESISTANCE),
        "index": lowest(INDEX),
        "fall": _fall(current, figures),
    }


def _fall(current: Sequence[Row], figures: Mapping[str, Mapping[str, Row]]) -> float | None:
    """Return the least ln(newest / one before) over sections, of figures found the same way; no bounds."""
    last: dict[tuple[Any, ...], float] = {}
    change: dict[tuple[Any, ...], tuple[str, float]] = {}
    for test in current:
        figure = figures.get(test["id"], {}).get(RESISTANCE)
        if figure is None or figure["bound"] is not None or not figure["value"] > 0:
            continue
        alike = (test["section"], test["method"], test["test_voltage"], figure["rule"])
        if alike in last:
            change[alike] = (test["day"] or "", math.log(figure["value"] / last[alike]))
        last[alike] = figure["value"]
    if not change:
        return None
    newest = max(day for day, _ in change.values())
    return min(fall for day, fall in change.values() if day == newest)


def standings(connection: Connection, assets: Sequence[str]) -> dict[str, dict[str, Any] | None]:
    """Return where assets stand by what their tests say, by id; as many assets as one statement takes."""
    tests: dict[str, list[Row]] = {}
    for row in rows(connection, select(schema.test).where(schema.test.c.asset.in_(assets))):
        tests.setdefault(row["asset"], []).append(row)
    figures: dict[str, dict[str, Row]] = {}
    query = (
        select(schema.figure)
        .join(schema.test, schema.test.c.id == schema.figure.c.test)
        .where(schema.test.c.asset.in_(assets), schema.figure.c.quantity.in_((RESISTANCE, INDEX)))
    )
    for row in rows(connection, query):
        figures.setdefault(row["test"], {})[row["quantity"]] = row
    return {name: standing_of(name, tests.get(name, []), figures) for name in assets}


def refresh(connection: Connection, assets: Iterable[str]) -> None:
    """Make the standing of assets anew."""
    for part in batches(assets):
        connection.execute(delete(schema.standing).where(schema.standing.c.asset.in_(part)))
        if made := [row for row in standings(connection, part).values() if row is not None]:
            connection.execute(insert(schema.standing), made)
