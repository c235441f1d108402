"""What stands on the page of an asset, out of the store: sentence, sections, tests in parts, what was added."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from fastapi import HTTPException
from markupsafe import Markup

from soakage.app.ports import KnownAsset
from soakage.app.register import sections_of, title_of
from soakage.model.verdict import Status
from soakage.quantities import lookup
from soakage.report.figures import day, dimension_of
from soakage.report.sections_drawing import Leak, sections_svg
from soakage.store.asset_part import asset_head, asset_tests, newest_tests
from soakage.store.memory import StoreMemory
from soakage.units import Bound, Measured, format_quantity
from soakage.web.plate_view import label, lines, value_text

Row = dict[str, Any]
PART = 18  # tests on a page
# What stands beside each test: the first of them that there is.
RESISTANCE = ("insulation_resistance_60s_corrected", "insulation_resistance_corrected", "insulation_resistance_60s",
              "insulation_resistance")  # fmt: skip
_INDEX = (
    "polarization_index",
    "dielectric_absorption_ratio",
    "absorption_ratio_60_15",
    "dielectric_discharge",
)
_BAD = (str(Status.UNFIT), str(Status.INVESTIGATE))
_WORST = ("unfit", "investigate", "invalid test", "not judged", "watch", "sound", "not applicable")
_ORDERS = {
    "unfit": "Unfit.", "investigate": "Investigate.", "watch": "Watch.", "sound": "Sound.",
    "not judged": "Not judged.", "invalid test": "Invalid test.", "not applicable": "Not applicable.",
}  # fmt: skip
_FRAMES = ("frame", "tank", "screen", "sheath", "earth", "PE")


def the_asset(memory: StoreMemory, asset: str) -> tuple[KnownAsset, Row]:
    """Return an asset and what is known of it beside its tests.

    Raises
    ------
    HTTPException
        404 where there is none.
    """
    with memory.store.reading() as connection:
        head = asset_head(connection, asset)
    if head is None:
        raise HTTPException(
            404, "There is no asset of this id. It may have been purged, or come from another store."
        )
    return KnownAsset(asset, head["values"]), head


def shown(memory: StoreMemory, asset: str, number: int = 1) -> Row:
    """Return what the page of an asset shows, its history apart.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    asset : str
        Its id.
    number : int
        Which part of its tests, from 1.
    """
    _, head = the_asset(memory, asset)
    with memory.store.reading() as connection:
        count, tests = asset_tests(connection, asset, PART, PART * (number - 1))
        newest = newest_tests(connection, asset)
    values, standing = head["values"], head["standing"]
    first, second = _sentence(standing, newest, title_of(values))
    return {
        "asset": {
            "id": asset,
            "title": title_of(values),
            "site": values.get("site"),
            "class": values.get("class"),
        },
        "retired": bool(values.get("retired")),
        "standing": standing,
        "newest_day": day(date.fromisoformat(standing["day"])) if standing and standing["day"] else "",
        "first": first,
        "second": second,
        "plate_lines": lines(values),
        "sections": _sections(values),
        "drawing": _drawing(values, newest),
        "visits": _visits(tests),
        "count": count,
        "number": number,
        "pages": -(-count // PART),
        "events": sorted(head["events"], key=lambda one: str(one["at"]), reverse=True),
        "notes": head["notes"][::-1],
        "attachments": head["attachments"][::-1],
        "conflicts": [_conflict(one) for one in head["conflicts"]],
    }


def _sentence(standing: Mapping[str, Any] | None, newest: list[Row], title: str) -> tuple[str, str]:
    """Return how the asset stands, as an order or a fact, then the reason in measured terms."""
    if standing is None:
        return "Not tested yet.", "No test of it is kept here."
    status = str(standing["status"])
    worst = [test for test in newest if (test["status"] or "not judged") == status]
    said = next((test["sentence"] for test in worst if test["sentence"]), "")
    said = said.removeprefix(f"{title}, ")
    others = len(worst) - 1
    more = (
        f" The same status: {', '.join(test['section'] for test in worst[1:4])}."
        if others > 0 and status != "sound"
        else ""
    )
    return _ORDERS[status], f"{said[:1].upper()}{said[1:]}{more}"


def _sections(values: Mapping[str, Any]) -> list[Row]:
    found = []
    for name in sections_of(values):
        told = values.get(f"section:{name}")
        found.append({"name": name, "text": told.get("text", "") if isinstance(told, Mapping) else ""})
    return found


def _drawing(values: Mapping[str, Any], newest: Iterable[Mapping[str, Any]]) -> Markup:
    by_section: dict[str, Mapping[str, Any]] = {}
    for test in newest:
        by_section.setdefault(test["section"], test)
    names = [*by_section, *(name for name in sections_of(values) if name not in by_section)]
    leaks = []
    for name in names:
        found = by_section.get(name)
        figure = _first(found["figures"], RESISTANCE)[1] if found else None
        leaks.append(
            Leak(
                name,
                figure["value"] if figure else None,
                Bound(figure["bound"]) if figure and figure["bound"] else None,
                bad=bool(found and found["status"] in _BAD),
            )
        )
    terminals = values.get("terminals") or ()
    frame = next((one for one in _FRAMES if one in terminals), "earth")
    return Markup(sections_svg(leaks, frame))  # noqa: S704 - our own drawing, its texts escaped


def _first(figures: Mapping[str, Row], names: Iterable[str]) -> tuple[str, Row | None]:
    return next(((name, figures[name]) for name in names if name in figures), ("", None))


def figure_text(figures: Mapping[str, Row], names: Iterable[str]) -> tuple[str, str]:
    """Return the first of these figures that there is, written, and what it is; both empty without one."""
    name, figure = _first(figures, names)
    if figure is None:
        return "", ""
    bound = Bound(figure["bound"]) if figure["bound"] else None
    return format_quantity(Measured(figure["value"], bound), dimension_of(name)), lookup(name).name


def _visits(tests: Iterable[Row]) -> list[Row]:
    """Return tests by day and visit, each with its rows."""
    found: dict[tuple[Any, Any], Row] = {}
    for test in tests:
        when = day(date.fromisoformat(test["day"])) if test["day"] else ""
        fresh: Row = {"day": when, "tester": test["tester"], "rows": []}
        visit = found.setdefault((test["day"], test["visit"]), fresh)
        resistance, what = figure_text(test["figures"], RESISTANCE)
        index, index_what = figure_text(test["figures"], _INDEX)
        voltage = format_quantity(test["test_voltage"], "voltage", trim=True) if test["test_voltage"] else ""
        visit["rows"].append(
            {
                "id": test["id"],
                "section": test["section"],
                "how": ", ".join(filter(None, (test["method"].replace("-", " "), voltage))),
                "resistance": resistance,
                "what": what,
                "index": index,
                "index_what": index_what,
                "status": test["status"] or "not judged",
                "withdrawn": test["state"] == "withdrawn",
                "review": test["review"],
            }
        )
    return list(found.values())


def _conflict(one: Mapping[str, Any]) -> Row:
    return {
        "field": one["field"],
        "label": label(one["field"].removeprefix("section:")),
        "claims": [
            claim
            | {"text": "no value" if claim["value"] is None else value_text(one["field"], claim["value"])}
            for claim in one["claims"]
        ],
    }
