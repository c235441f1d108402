"""Records as plain values, many in one file: what Parquet and JSON share."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

import numpy as np

from soakage.errors import Fault, InputError
from soakage.importers.base import MOST_FAULTS, Notes
from soakage.importers.columns import CURRENT, RESISTANCE, TIME, VOLTAGE
from soakage.importers.exchange_readings import BOUND, COLUMNS, read_lists
from soakage.importers.layout import Entry
from soakage.importers.nameplate import read_plate, require
from soakage.importers.record_file import settled
from soakage.importers.values import quoted
from soakage.importers.write_record import header_values
from soakage.model.keys import KEYS, Kind
from soakage.model.record import Origin, Record

EXTRA = "extra"
MOST_RECORDS = 10_000
MOST_READINGS = 500_000
_DEEPEST = 6
_TABLES = (Kind.NUMBERS, Kind.STEPS, Kind.ACCURACY, Kind.VOLTAGE_FOUND, Kind.PREVIOUS_TEST)


@dataclass(frozen=True, slots=True)
class Plain:
    """One record as plain values.

    Parameters
    ----------
    header : mapping
        Keys of the record file with texts, numbers, lists and tables; ``extra`` holds the keys that are not known.
    readings : mapping
        Column by heading: as many figures each, None where nothing was read; ``bound`` is on the resistance.
    """

    header: Mapping[str, Any]
    readings: Mapping[str, Any]


def plain(record: Record) -> Plain:
    """Return a record as plain values; :func:`records_of` makes the same record of them.

    Parameters
    ----------
    record : Record
        Any record with at least one reading.

    Returns
    -------
    Plain
        What was stated and read, in SI. What follows from it (a current from a resistance) is not in it.
    """
    values = header_values(replace(record, extra={}))
    if record.extra:
        values[EXTRA] = dict(record.extra)
    rows = record.readings
    wanted = {
        TIME: True,
        VOLTAGE: not rows.voltage_assumed,
        CURRENT: not rows.current_derived,
        RESISTANCE: rows.resistance_given,
    }
    readings: dict[str, list[float | None] | list[int]] = {
        COLUMNS[name]: [None if value != value else value for value in column.tolist()]  # noqa: PLR0124 - NaN
        for name, is_wanted in wanted.items()
        if is_wanted and not np.isnan(column := getattr(rows, name)).all()
    }
    if rows.bound.any():
        readings[BOUND] = rows.bound.tolist()
    return Plain(values, readings)


def batches(
    records: Iterable[Record], most_records: int = MOST_RECORDS, most_readings: int = MOST_READINGS
) -> Iterator[list[Record]]:
    """Yield records in batches that each make one file of a size that can be read again.

    Parameters
    ----------
    records : iterable of Record
        Any number of them.
    most_records, most_readings : int
        What one file may hold; a record with more readings than that stands alone.

    Yields
    ------
    list of Record
        In their order.
    """
    batch: list[Record] = []
    readings = 0
    for record in records:
        if batch and (len(batch) == most_records or readings + len(record.readings) > most_readings):
            yield batch
            batch, readings = [], 0
        batch.append(record)
        readings += len(record.readings)
    if batch:
        yield batch


def records_of(
    plains: Iterable[Plain], name: str, overrides: Mapping[str, str], sha256: str, *, count: int | None = None
) -> tuple[Record, ...]:
    """Return the records of plain values; one that is wrong costs the file, and every fault is told.

    Parameters
    ----------
    plains : iterable of Plain
        In the order of the file.
    name : str
        Name of the file.
    overrides : mapping of str to str
        Keys given as options, as typed; they win over every record.
    sha256 : str
        Hash of the file.
    count : int, optional
        How many there are, where it is known; the one record of a file is not numbered.

    Returns
    -------
    tuple of Record
        In the same order.

    Raises
    ------
    InputError
        If anything is wrong, or there is no record.
    """
    records: list[Record] = []
    faults: list[Fault] = []
    for number, one in enumerate(plains, 1):
        notes = Notes(name if count == 1 else f"{name} [record {number}]")
        try:
            records.append(_record(one, number, overrides, notes, sha256))
        except InputError as error:
            faults += error.faults
        if len(faults) > MOST_FAULTS:
            more = "The records after this one were not looked at."
            faults.append(Fault(notes.file, None, "", "", more, "", "Mend these first, then read again."))
            break
    if not records and not faults:
        faults.append(Fault(name, None, "", "0 records", "The file holds no record.", "a record", "Add one."))
    if faults:
        raise InputError(faults)
    return tuple(records)


def _record(one: Plain, number: int, overrides: Mapping[str, str], notes: Notes, sha256: str) -> Record:
    plate = read_plate(_entries(one.header, number, notes), overrides, notes)
    # a key of a record stands on no line; the number is in the name already
    notes.faults = [replace(fault, row=None) for fault in notes.faults]
    require(plate, notes, file_keys=True)
    readings = read_lists(one.readings, plate, notes)
    notes.settle()
    return plate.record(settled(readings), Origin(notes.file, sha256), notes)


def _entries(header: Mapping[str, Any], number: int, notes: Notes) -> list[Entry]:
    extra = header.get(EXTRA)
    keys = {name: value for name, value in header.items() if name != EXTRA}
    if isinstance(extra, Mapping):
        keys |= {str(name): value for name, value in extra.items()}
    elif extra is not None:
        keys[EXTRA] = extra
    entries = []
    for name, value in keys.items():
        if value is None:
            continue
        try:
            entries.append(Entry(name, _typed(name, value), number))
        except ValueError as error:
            given = str(value)[:200]
            notes.fault(
                None, name, given, f"{error}.", "what its schema says", "Write it as the schema says."
            )
    return entries


def _typed(name: str, value: object) -> str:
    """Return a value as typed under its key; a list or table under a key of one word is no value."""
    kind = KEYS[name].kind if name in KEYS else None
    table, several = isinstance(value, Mapping), isinstance(value, (list, tuple))
    if kind is not None and kind not in _TABLES and (table or (several and kind is not Kind.LIST)):
        raise ValueError(f"This is {'a table' if table else 'a list'}, which this key does not take")
    return written(value)


def written(value: object, depth: int = 0) -> str:
    """Return a plain value as it would be typed in the header of a record file.

    Parameters
    ----------
    value : object
        A text, number, date, list or table.
    depth : int
        How deep it stands in others.

    Returns
    -------
    str
        What :func:`soakage.importers.values.read_value` reads to the same.

    Raises
    ------
    ValueError
        If it is of another kind, or nested too deep.
    """
    if depth > _DEEPEST:
        raise ValueError("Lists and tables are nested too deep here")
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float, Decimal)):
        return str(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Mapping):
        parts = {name: part for name, part in value.items() if part is not None}
        return "{" + ", ".join(f"{quoted(str(n))} = {written(v, depth + 1)}" for n, v in parts.items()) + "}"
    if isinstance(value, Sequence) and not isinstance(value, (bytes, bytearray)):
        return "[" + ", ".join(written(item, depth + 1) for item in value) + "]"
    raise ValueError(f"This is {type(value).__name__}, which no key takes")
