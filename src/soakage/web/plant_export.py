"""The ranking of all plant as a file: CSV, a spreadsheet, or JSON; no text of it ever becomes a formula."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable, Mapping
from typing import Any, Literal

from soakage import __version__
from soakage.app.contract_json import CONTRACT
from soakage.report.xlsx import table_xlsx

Row = Mapping[str, Any]
Form = Literal["csv", "xlsx", "json"]
MEDIA = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "json": "application/json",
}
COLUMNS = (
    ("id", "id"), ("site", "site"), ("asset", "asset"), ("tag", "tag"), ("serial", "serial"), ("class", "class"),
    ("rated_voltage", "rated_voltage_V"), ("status", "status"), ("last_day", "newest_visit"), ("tests", "tests"),
    ("unsigned", "not_signed"), ("resistance", "resistance_ohm"), ("index", "polarization_index"),
    ("change", "change_since_visit_before"),
)  # fmt: skip
_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n")


def exported(rows: Iterable[Row], form: Form) -> bytes:
    """Return the ranking as a file.

    Parameters
    ----------
    rows : iterable of mapping
        From :func:`soakage.store.plant.ranked`.
    form : str
        csv, xlsx or json.

    Returns
    -------
    bytes
        Values in SI; the change is the newest resistance over the one before, less one.
    """
    told = [row_json(row) for row in rows]
    if form == "json":
        whole = {"soakage": __version__, "contract": CONTRACT, "assets": told}
        return json.dumps(whole, ensure_ascii=False, allow_nan=False, indent=1).encode()
    heads = [head for _, head in COLUMNS]
    table = [[row[name] for name, _ in COLUMNS] for row in told]
    if form == "xlsx":
        return table_xlsx("All plant", heads, table)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(heads)
    writer.writerows([cell(value) for value in row] for row in table)
    return out.getvalue().encode("utf-8-sig")


def row_json(row: Row) -> dict[str, Any]:
    """Return one asset of the ranking, ready for JSON."""
    fall = row["fall"]
    names = [name for name, _ in COLUMNS if name != "change"]
    return {**{name: row[name] for name in names}, "change": None if fall is None else math.expm1(fall)}


def cell(value: object) -> object:
    """Return a cell of a CSV; a text that a spreadsheet would take for a formula has a quote before it."""
    if isinstance(value, str) and value.lstrip(" ").startswith(_SIGNS):
        return f"'{value}"
    return "" if value is None else value
