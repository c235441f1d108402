"""What the pages of an import show: columns as read, first records, what came of it; what was refused, as a file."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from functools import cache
from typing import Any

from soakage.app.intake import Intake
from soakage.importers.columns import READINGS
from soakage.importers.recipe import Dates, Layout
from soakage.model.keys import KEYS
from soakage.web.batches import Table
from soakage.web.importing import use_of
from soakage.web.plant_export import cell
from soakage.web.view import counted, quantity

MOST = 300  # files of a result that are shown one by one
_HEADS = ("file", "row", "field", "given", "problem", "allowed", "what_to_do")
_LAYOUTS = {"row": "each row", "group": "rows that agree", "sheet": "each sheet", "file": "the whole file"}
_DATES = {
    "day-month-year": "day, month, year", "month-day-year": "month, day, year", "year-month-day": "year, month, day",
    "serial": "days counted from 1900", "serial-1904": "days counted from 1904",
}  # fmt: skip
_ORDER = ("unfit", "investigate", "invalid test", "not judged", "watch", "sound", "not applicable")
_MARKS = {".": "point", ",": "comma"}


@cache
def keys_by_group() -> dict[str, list[tuple[str, str]]]:
    """Return what a column may be read as: (value, words) by group."""
    return {
        "Readings": [(f"reading:{name}", name) for name in READINGS],
        "Stated": [(f"key:{name}", name.replace("_", " ")) for name in KEYS],
    }


def table_view(table: Table) -> dict[str, Any]:
    """Return what the page of a table shows.

    Parameters
    ----------
    table : Table
        Of a batch.

    Returns
    -------
    dict
        ``columns`` with what each is read as and why, ``settings`` with choices, ``heads`` and ``records``.
    """
    notes = {note.title.strip().casefold(): note for note in table.notes}
    columns = []
    for place, rule in enumerate(table.recipe.columns, 1):
        note = notes.get(rule.heading.strip().casefold()) if rule.heading else None
        columns.append(
            {
                "number": place,
                "title": rule.title,
                "use": use_of(rule),
                "at": rule.at,
                "unit": rule.unit,
                "section": rule.section,
                "confidence": note.confidence if note else "",
                "reason": note.reason if note else "",
                "cells": _cells(table, rule.title),
            }
        )
    return {"columns": columns, "settings": _settings(table), **_tried(table.tried)}


def _cells(table: Table, title: str) -> list[str]:
    """Return the first filled cells under a heading."""
    header = table.recipe.header_row
    wanted = title.strip().casefold()
    place, found = None, []
    for line, cells in table.rows:
        if place is None and header in (line, "find"):
            heads = [text.strip().casefold() for text in cells]
            place = heads.index(wanted) if wanted in heads else None
        elif place is not None and place < len(cells) and cells[place].strip():
            found.append(cells[place].strip()[:40])
    return found[:3]


def _settings(table: Table) -> list[dict[str, Any]]:
    recipe = table.recipe
    asked = {question.setting for question in table.questions}
    given = [
        ("layout", "One record is", str(recipe.layout), {str(one): _LAYOUTS[one] for one in Layout}),
        (
            "dates",
            "Dates run",
            str(recipe.dates or ""),
            {"": "as they can only be read"} | {str(d): _DATES[d] for d in Dates},
        ),
        ("decimal", "Decimal mark", recipe.decimal, {"": "told cell by cell"} | _MARKS),
    ]
    return [
        {"name": name, "label": label, "value": value, "choices": choices}
        for name, label, value, choices in given
        if name not in asked
    ]


def _tried(told: Mapping[str, Any] | None) -> dict[str, Any]:
    if told is None:
        return {"tried": False, "records": [], "faults": [], "passed_over": [], "count": 0}
    records = []
    for record in told["records"]:
        figures = [_reading(one) for one in record["readings"][:8]]
        keys = record["keys"]
        said = [keys[name] for name in ("started", "test_voltage", "winding_temperature") if keys.get(name)]
        records.append(
            {
                "row": record["row"],
                "title": record["title"] or "no asset",
                "said": ", ".join(said),
                "readings": [text for text in figures if text],
                "more": max(len(record["readings"]) - 8, 0),
                "findings": [one["sentence"] for one in record["findings"]],
            }
        )
    return {
        "tried": True,
        "records": records,
        "faults": told["faults"][:MOST],
        "passed_over": told["passed_over"],
        "count": told["count"],
    }


def _reading(one: Mapping[str, Any]) -> str:
    name = next((key for key in ("resistance", "current") if one[key] is not None), None)
    if name is None:
        return ""
    sign = {"lower": ">\u00a0", "upper": "<\u00a0"}.get(one["bound"] or "", "")
    when = "" if one["time"] is None else f"{quantity(one['time'], 'time', trim=True)}: "
    return f"{when}{sign}{quantity(one[name], name)}"


def outcome_view(outcome: Intake, of: int) -> dict[str, Any]:
    """Return what came of files: those taken with the verdict of each test, those refused with every reason.

    Parameters
    ----------
    outcome : Intake
        What came of it.
    of : int
        How many files there were.

    Returns
    -------
    dict
    """
    taken = [file for file in outcome.files if file.outcome == "added"]
    known = [file for file in outcome.files if file.outcome == "known"]
    refused = [file for file in outcome.files if file.outcome == "refused"]
    left = of - len(outcome.files)
    tests = [(file.file, test) for file in taken for test in file.tests]
    tests.sort(key=lambda pair: _ORDER.index(pair[1].status) if pair[1].status in _ORDER else len(_ORDER))
    verb = "would come in" if outcome.dry_run else "came in"
    parts = [f"{counted(outcome.tests_added, 'test')} {verb}"]
    if outcome.assets_added:
        parts.append(counted(len(outcome.assets_added), "new asset"))
    if known:
        parts.append(f"{counted(len(known), 'file')} known already")
    if refused:
        parts.append(f"{counted(len(refused), 'file')} refused")
    if left:
        parts.append(f"{counted(left, 'file')} not read")
    return {
        "sentence": ", ".join(parts) + ".",
        "dry_run": outcome.dry_run,
        "tests": tests[:MOST],
        "more": max(len(tests) - MOST, 0),
        "known": known,
        "refused": refused,
        "left": left,
        "noticed": [(name, finding) for name, test in tests for finding in test.findings][:MOST],
    }


def refused_csv(outcome: Intake | None) -> bytes:
    """Return every reason of every refused file as CSV; no cell of it is taken for a formula."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_HEADS)
    for file in outcome.files if outcome is not None else ():
        for one in file.faults:
            given = (
                one.file or file.file,
                one.row,
                one.field,
                one.given,
                one.problem,
                one.allowed,
                one.remedy,
            )
            writer.writerow([cell(value) for value in given])
    return out.getvalue().encode("utf-8-sig")
