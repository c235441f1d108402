"""A schedule of a low-voltage installation: one row per reading, each a record of its own."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from hashlib import sha256

import numpy as np

from soakage.importers.base import Importer, Notes
from soakage.importers.cells import Cells, read_cells
from soakage.importers.columns import BETWEEN, CIRCUIT, NOTE, RESISTANCE, Column, read_columns, split_heading
from soakage.importers.layout import DELIMITERS, Sheet, Table, take_apart
from soakage.importers.nameplate import Plate, read_plate, require
from soakage.importers.record_file import record_of
from soakage.importers.rows import form, over_range
from soakage.importers.text import decode
from soakage.model.readings import Readings
from soakage.model.record import Origin, Record

_METHOD = re.compile(rb"#[ \t]*method[^\n]{0,9}circuit\b")
_ALLOWED = "columns circuit, between, voltage [V], resistance [MOhm], note"
_READINGS = frozenset((RESISTANCE, "current"))


def is_schedule(table: Table | None) -> bool:
    """Return True where a table has a column of circuits."""
    return table is not None and CIRCUIT in {
        found[0] for cell in table.headings if (found := split_heading(cell))
    }


def recognises(head: bytes, name: str) -> int:
    """Return 90 for text with a column of circuits, or a header that states the method; else 0."""
    del name
    plain = head.replace(b"\0", b"")
    if _METHOD.search(plain):
        return 90
    text = plain.decode("latin-1").lstrip("\u00ef\u00bb\u00bf\u00ff\u00fe")
    first = next(
        (line for line in text.splitlines() if line.strip(' ",;\t') and line.lstrip(' "')[:1] != "#"), ""
    )
    names = {
        found[0]
        for mark in DELIMITERS
        for cell in first.split(mark)
        if (found := split_heading(cell.strip(' "')))
    }
    return 90 if CIRCUIT in names and names & _READINGS else 0


def records_of(
    sheet: Sheet, overrides: Mapping[str, str], notes: Notes, origin: Origin
) -> tuple[Record, ...]:
    """Return one record per row of a schedule.

    Parameters
    ----------
    sheet : Sheet
        Header and table; the header holds for every row.
    overrides : mapping of str to str
        Keys given as options.
    notes : Notes
        What was noted so far; all faults are raised together.
    origin : Origin
        Where the file comes from; each record adds its line.

    Returns
    -------
    tuple of Record
        In the order of the rows.

    Raises
    ------
    InputError
        If anything is wrong; holds every fault.
    """
    plate = read_plate(sheet.entries, overrides, notes)
    if not sheet.entries:
        plate.stated.setdefault("class", "low-voltage-installation")
        plate.stated.setdefault("method", "circuit")
    require(plate, notes, file_keys=bool(sheet.entries))
    for key, needed in (("class", "low-voltage-installation"), ("method", "circuit")):
        if plate.stated.get(key, needed) != needed:
            notes.fault(
                None,
                key,
                str(plate.stated[key]),
                f"A table with a column of circuits needs {key} = {needed}.",
                needed,
                "Correct the key, or take the column away.",
            )
    rows = _rows(sheet.table, plate, notes) if sheet.table else []
    notes.settle()
    return tuple(row.record(readings, replace(origin, row=line), own) for row, readings, line, own in rows)


def _rows(table: Table, plate: Plate, notes: Notes) -> list[tuple[Plate, Readings, int, Notes]]:
    columns = read_columns(table.headings, table.row, notes)
    if not _READINGS & columns.keys():
        notes.fault(
            table.row,
            "columns",
            ", ".join(table.headings),
            "No column holds a resistance.",
            _ALLOWED,
            "Add the column.",
        )
        return []
    cells = read_cells(table, columns, notes, over_range(plate))
    if not len(cells.lines):
        notes.fault(
            table.row, "", "0 rows", "There are no readings yet.", "at least one row", "Fill in the readings."
        )
    rows = []
    for at, line in enumerate(cells.lines):
        words = {name: column[at] for name, column in cells.words.items()}
        if not words[CIRCUIT]:
            notes.fault(
                line, CIRCUIT, "", "This row names no circuit.", "a name in every row", "Repeat the name."
            )
            continue
        stated = {"circuit": words[CIRCUIT], "between": words.get(BETWEEN), "notes": words.get(NOTE)}
        row = replace(plate, stated=plate.stated | {key: text for key, text in stated.items() if text})
        own = Notes(notes.file, findings=list(notes.findings))
        readings = _reading(cells, at, columns, row, own)
        notes.faults += own.faults
        if readings is not None:
            rows.append((row, readings, line, own))
    return rows


def _reading(
    cells: Cells, at: int, columns: dict[str, Column], plate: Plate, notes: Notes
) -> Readings | None:
    """Return the reading of one row; a row without one keeps its place and is not judged."""
    one = Cells(
        [cells.lines[at]],
        {name: values[at : at + 1] for name, values in cells.values.items()},
        {name: bounds[at : at + 1] for name, bounds in cells.bounds.items()},
    )
    if all(np.isnan(one.value(name)).all() for name in _READINGS):
        nothing = np.full(1, np.nan)
        notes.finding("no_reading", "This row of the schedule holds no reading.")
        return Readings(nothing, one.value("voltage").copy(), nothing, nothing, np.zeros(1, np.int8))
    return form(one, columns, plate, notes, cells.lines[at])


def read(data: bytes, name: str, overrides: Mapping[str, str]) -> tuple[Record, ...]:
    """Read a schedule; see :class:`soakage.importers.base.Importer`."""
    notes = Notes(name)
    sheet = take_apart(decode(data, name), notes)
    origin = Origin(name, sha256(data).hexdigest())
    if is_schedule(sheet.table):
        return records_of(sheet, overrides, notes, origin)
    return (record_of(sheet, overrides, notes, origin),)  # one circuit, named in the header


IMPORTER = Importer("schedule", "Schedule of circuits, one reading a row", (".csv", ".txt"), recognises, read)
