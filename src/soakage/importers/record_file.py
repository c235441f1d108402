"""The record file: our open format for one test, as typed and as a spreadsheet saves it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from hashlib import sha256

from soakage.importers.base import Importer, Notes
from soakage.importers.layout import Sheet, take_apart
from soakage.importers.nameplate import read_plate, require
from soakage.importers.rows import read_rows
from soakage.importers.text import decode
from soakage.model.readings import Readings
from soakage.model.record import Origin, Record

_HEADER = re.compile(rb"(?:\xef\xbb\xbf|\xff\xfe|\xfe\xff)?[\s\x00,;]*\"?[\s\x00]*#")


def has_header(head: bytes) -> bool:
    """Return True where the first sign of a file is the ``#`` of a header line."""
    return _HEADER.match(head) is not None


def recognises(head: bytes, name: str) -> int:
    """Return 80 for text that begins with a header line, else 0."""
    del name
    return 80 if has_header(head) else 0


def record_of(sheet: Sheet, overrides: Mapping[str, str], notes: Notes, origin: Origin) -> Record:
    """Return the one record of a file taken apart.

    Parameters
    ----------
    sheet : Sheet
        Header and table.
    overrides : mapping of str to str
        Keys given as options.
    notes : Notes
        What was noted so far; all faults are raised together.
    origin : Origin
        Where the record comes from.

    Returns
    -------
    Record
        The record.

    Raises
    ------
    InputError
        If anything is wrong; holds every fault.
    """
    plate = read_plate(sheet.entries, overrides, notes)
    require(plate, notes, file_keys=True)
    readings = read_rows(sheet.table, plate, notes) if sheet.table else None
    notes.settle()
    return plate.record(settled(readings), origin, notes)


def settled(readings: Readings | None) -> Readings:
    """Return readings once the faults were raised: a table without readings is one of them."""
    if readings is None:
        raise AssertionError("a table gave neither readings nor a fault")
    return readings


def read(data: bytes, name: str, overrides: Mapping[str, str]) -> tuple[Record, ...]:
    """Read a record file; see :class:`soakage.importers.base.Importer`."""
    notes = Notes(name)
    sheet = take_apart(decode(data, name), notes)
    return (record_of(sheet, overrides, notes, Origin(name, sha256(data).hexdigest())),)


IMPORTER = Importer("record-file", "Record file of one test", (".csv", ".txt"), recognises, read)
