"""A bare table of readings: no header, everything else about the test given as options."""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import sha256

from soakage.importers.base import Importer, Notes
from soakage.importers.columns import TIME, split_heading
from soakage.importers.layout import Sheet, take_apart
from soakage.importers.nameplate import read_plate, require
from soakage.importers.record_file import has_header, settled
from soakage.importers.rows import read_rows
from soakage.importers.text import decode
from soakage.model.record import Origin, Record


def recognises(head: bytes, name: str) -> int:
    """Return 10 for anything that does not begin with a header line: the last to be asked."""
    del name
    return 0 if has_header(head) else 10


def record_of(sheet: Sheet, overrides: Mapping[str, str], notes: Notes, origin: Origin) -> Record:
    """Return the record of a bare table; the method follows from whether it has times.

    Parameters
    ----------
    sheet : Sheet
        The table.
    overrides : mapping of str to str
        Keys given as options; the class is among them.
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
    headings = sheet.table.headings if sheet.table else ()
    if "method" not in plate.stated and "method" not in plate.broken:
        timed = any(found[0] == TIME for cell in headings if (found := split_heading(cell)))
        method = "timed-insulation-resistance" if timed else "insulation-resistance"
        plate.stated["method"] = method
        why = "the rows have times" if timed else "the rows have no times"
        notes.finding(
            "method_assumed",
            f"The method is not stated; since {why} it is taken as {method}.",
            "Give --method.",
        )
    require(plate, notes, file_keys=False)
    readings = read_rows(sheet.table, plate, notes) if sheet.table else None
    notes.settle()
    return plate.record(settled(readings), origin, notes)


def read(data: bytes, name: str, overrides: Mapping[str, str]) -> tuple[Record, ...]:
    """Read a bare table; see :class:`soakage.importers.base.Importer`."""
    notes = Notes(name)
    sheet = take_apart(decode(data, name), notes)
    return (record_of(sheet, overrides, notes, Origin(name, sha256(data).hexdigest())),)


IMPORTER = Importer("table", "Table of readings without a header", (".csv", ".txt"), recognises, read)
