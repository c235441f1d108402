"""The record file written: what :mod:`soakage.importers.record_file` reads back to the same record."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import date
from decimal import Decimal
from typing import Any

import numpy as np

from soakage.errors import UsageError
from soakage.importers.columns import CURRENT, RESISTANCE, TIME, VOLTAGE
from soakage.importers.kinds import PARTS
from soakage.importers.nameplate import VERSION
from soakage.importers.values import Value, quoted
from soakage.model.keys import KEYS, Kind
from soakage.model.readings import LOWER, UPPER, Bounds, Floats
from soakage.model.record import Record
from soakage.units import format_exact

_UNITS = {TIME: "s", VOLTAGE: "V", CURRENT: "A", RESISTANCE: "Ohm"}
_PREFIXES = {-12: "p", -9: "n", -6: "u", -3: "m", 0: "", 3: "k", 6: "M", 9: "G", 12: "T"}
_SIGNS = {LOWER: "> ", UPPER: "< "}
_BARE = frozenset((Kind.WHEN, Kind.DATE, Kind.YEAR))


def header_values(record: Record) -> dict[str, Any]:
    """Return the header of a record as plain values, the way the schema has them: texts, lists, tables.

    Parameters
    ----------
    record : Record
        Any record.

    Returns
    -------
    dict
        Value by key, in the order of the table of keys; unknown keys last.
    """
    values: dict[str, Any] = {"soakage": int(VERSION)}
    for name, value in record.stated().items():
        values[name] = _plain(name, value)
    return values | dict(record.extra)


def _plain(name: str, value: Any) -> Any:  # noqa: ANN401 - one value of any kind
    key = KEYS[name]
    if key.kind is Kind.NUMBER:
        return format_exact(value, key.dimension)
    if key.kind is Kind.LIST:
        return list(value)
    if key.kind is Kind.NUMBERS:
        return {part: format_exact(figure, key.dimension) for part, figure in value.items()}
    if key.kind in (Kind.STEPS, Kind.ACCURACY):
        return [_parts(name, row) for row in value]
    if key.kind in (Kind.VOLTAGE_FOUND, Kind.PREVIOUS_TEST):
        return _parts(name, value)
    return value.isoformat() if isinstance(value, date) else value


def _parts(name: str, value: Any) -> dict[str, str]:  # noqa: ANN401 - any of the small tables of the model
    dimensions = PARTS[name]
    figures = {part.name: getattr(value, part.name) for part in fields(value)}
    return {
        part: format_exact(figure, dimensions[part]) for part, figure in figures.items() if figure is not None
    }


def header_line(name: str, value: Value | int) -> str:
    """Return one line of the header.

    Parameters
    ----------
    name : str
        Key.
    value : str, int, list or dict
        As :func:`header_values` gives it.

    Returns
    -------
    str
        ``# key = value``.
    """
    bare = isinstance(value, str) and name in KEYS and KEYS[name].kind in _BARE
    return f"# {name} = {value if bare else _written(value)}"


def _written(value: Value | int) -> str:
    if isinstance(value, int):
        return str(value)
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, list):
        return "[" + ", ".join(_written(item) for item in value) + "]"
    return "{" + ", ".join(f"{_key(key)} = {_written(item)}" for key, item in value.items()) + "}"


def _key(key: str) -> str:
    return key if key.isascii() and key.replace("_", "").isalnum() else quoted(key)


def record_text(record: Record, *, delimiter: str = ",", decimal_comma: bool = False) -> str:
    """Return a record as a record file; reading it gives the same record, its origin apart.

    Findings about spelling (a letter read as a thermal class, an option that won over the file) are of
    the reading and not of the record: they do not come back.

    Parameters
    ----------
    record : Record
        Any record with at least one reading.
    delimiter : str
        Comma, semicolon or tab.
    decimal_comma : bool
        Write the table with decimal commas; not with the delimiter comma.

    Returns
    -------
    str
        Lines ended by a line feed.

    Raises
    ------
    UsageError
        If delimiter and decimal mark do not go together.
    """
    _check(delimiter, decimal_comma=decimal_comma)
    readings = record.readings
    resistance_bound = readings.bound if readings.resistance_given else np.zeros_like(readings.bound)
    current_bound = np.zeros_like(readings.bound) if readings.resistance_given else -readings.bound
    written = {
        TIME: (readings.time, np.zeros_like(readings.bound), True),
        VOLTAGE: (readings.voltage, np.zeros_like(readings.bound), not readings.voltage_assumed),
        CURRENT: (readings.current, current_bound, not readings.current_derived),
        RESISTANCE: (readings.resistance, resistance_bound, readings.resistance_given),
    }
    columns: dict[str, list[str]] = {}
    for name, (values, bounds, wanted) in written.items():
        if wanted and not np.isnan(values).all():
            power = _power(values, name)
            heading = f"{name} [{_PREFIXES[power]}{_UNITS[name]}]"
            columns[heading] = _cells(values, bounds, power, decimal_comma=decimal_comma)
    lines = [header_line(name, value) for name, value in header_values(record).items()]
    lines.append(delimiter.join(columns))
    lines += [delimiter.join(row) for row in zip(*columns.values(), strict=True)]
    return "\n".join(lines) + "\n"


def _check(delimiter: str, *, decimal_comma: bool) -> None:
    if delimiter not in (",", ";", "\t") or (decimal_comma and delimiter == ","):
        raise UsageError(
            f"A table cannot be written so. Given: delimiter {delimiter!r}, decimal comma {decimal_comma}. "
            "Allowed: comma, semicolon or tab; a decimal comma with the last two. Choose semicolon."
        )


def _power(values: Floats, name: str) -> int:
    """Return the power of ten of the column's unit: that of its middle value, so that figures stay short."""
    if name in (TIME, VOLTAGE):
        return 0
    sizes = np.abs(values[np.isfinite(values) & (values != 0)])
    if not len(sizes):
        return 0
    exponent = int(np.floor(np.log10(np.median(sizes)) / 3)) * 3
    lowest, highest = (-12, 0) if name == CURRENT else (0, 12)
    return min(max(exponent, lowest), highest)


def _cells(values: Floats, bounds: Bounds, power: int, *, decimal_comma: bool) -> list[str]:
    cells = []
    for value, bound in zip(values.tolist(), bounds.tolist(), strict=True):
        if value != value:  # noqa: PLR0124 - NaN is no reading
            cells.append("")
            continue
        text = _SIGNS.get(bound, "") + _figure(value, power)
        cells.append(text.replace(".", ",") if decimal_comma else text)
    return cells


def _figure(value: float, power: int) -> str:
    """Return the shortest figure that reads back, in its column's unit, to the same float."""
    shifted = Decimal(repr(value)).scaleb(-power)
    if shifted == 0:
        return "0"
    if -6 <= shifted.adjusted() < 15:
        text = f"{shifted:f}"
        return text.rstrip("0").rstrip(".") if "." in text else text
    return f"{shifted.normalize():E}"


def sheet_text(
    values: Mapping[str, Value],
    marks: Sequence[float],
    columns: Sequence[str] = ("time [s]", "voltage [V]", "current [uA]"),
    *,
    delimiter: str = ",",
) -> str:
    """Return a record file to be filled in: stated keys, the marks that wait, empty cells.

    Parameters
    ----------
    values : mapping of str to str, list or dict
        Keys of the record file as :func:`header_values` gives them, in the order they are to stand; an
        empty text leaves a key open.
    marks : sequence of float
        Times of the readings to be taken, in seconds.
    columns : sequence of str
        Headings; the first is the time.
    delimiter : str
        Comma, semicolon or tab.

    Returns
    -------
    str
        Lines ended by a line feed. Read as it is, it says that there are no readings yet.

    Raises
    ------
    UsageError
        If the delimiter cannot be used.
    """
    empty = [""] * (len(columns) - 1)
    rows = [[_figure(float(mark), 0), *empty] for mark in marks]
    return schedule_text(values, rows, columns, delimiter=delimiter)


def schedule_text(
    values: Mapping[str, Value],
    rows: Sequence[Sequence[str]],
    columns: Sequence[str],
    *,
    delimiter: str = ",",
) -> str:
    """Return a record file of any table: stated keys, headings, rows of cells as text.

    Parameters
    ----------
    values : mapping of str to str, list or dict
        Keys of the record file as :func:`header_values` gives them; an empty text leaves a key open.
    rows : sequence of sequence of str
        Cells of each row.
    columns : sequence of str
        Headings.
    delimiter : str
        Comma, semicolon or tab.

    Returns
    -------
    str
        Lines ended by a line feed.

    Raises
    ------
    UsageError
        If the delimiter cannot be used.
    """
    _check(delimiter, decimal_comma=False)
    lines = [header_line("soakage", int(VERSION))]
    for name, value in values.items():
        lines.append(header_line(name, value) if value else f"# {name} =")
    table = io.StringIO()
    writer = csv.writer(table, delimiter=delimiter, lineterminator="\n")
    writer.writerows([columns, *rows])
    return "\n".join(lines) + "\n" + table.getvalue()
