"""A workbook: one record, schedule or table per sheet."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from soakage.importers import record_file, schedule, table
from soakage.importers.base import Importer, Notes
from soakage.importers.columns import ALLOWED, recognised
from soakage.importers.layout import Sheet, Table, add_header_line
from soakage.importers.text import LARGEST, refuse
from soakage.importers.workbook import SheetXml, cell_row, read_package
from soakage.model.record import Origin, Record

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell

MOST_COLUMNS = 256
MOST_BLANK_ROWS = 5000
_DECIMALS = re.compile(r"0\.(0+)")
_MAGIC = b"PK\x03\x04"


def recognises(head: bytes, name: str) -> int:
    """Return 100 for a zip archive, 50 for anything else of that name: it is said what is wrong with it."""
    del name
    return 100 if head.startswith(_MAGIC) else 50


def cell_text(value: object, shape: str) -> str:
    """Return a cell's value as its text in a record file would be.

    Parameters
    ----------
    value : object
        As openpyxl gives it.
    shape : str
        The cell's number format.

    Returns
    -------
    str
        Elapsed times in seconds, or as shown where minutes are the last shown; dates in ISO form;
        percentages with their sign; a zero with the decimals shown.
    """
    shown = shape.lower().partition(";")[0]
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        if shown.endswith("%"):
            return f"{(Decimal(repr(value)) * 100).normalize():f} %"
        if value == 0 and (decimals := _DECIMALS.search(shown)):
            return f"0.{decimals[1]}"
        return str(int(value)) if float(value).is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, (timedelta, time)):
        return _elapsed(value, shown)
    if isinstance(value, datetime):
        return value.isoformat() if "h" in shown or value.time() != time() else value.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    return "" if value is None else str(value).strip()


def _elapsed(value: timedelta | time, shown: str) -> str:
    if isinstance(value, time):
        value = timedelta(
            hours=value.hour, minutes=value.minute, seconds=value.second, microseconds=value.microsecond
        )
    seconds = round(value.total_seconds(), 3)
    if "s" not in shown and seconds % 60 == 0:
        # typed as m:ss, kept by the spreadsheet as hours and minutes: read as shown
        return f"{int(seconds // 3600)}:{int(seconds % 3600 // 60):02d}"
    return f"{seconds:g}" if seconds == int(seconds) and seconds < 1e6 else repr(seconds)


def _lay_out(rows: list[tuple[int, list[str]]], notes: Notes) -> Sheet:
    """Take the rows of a sheet apart into header entries and a table."""
    sheet = Sheet()
    for place, (number, cells) in enumerate(rows):
        filled = [cell for cell in cells if cell]
        known = recognised(filled)
        if filled[0].startswith("#") or not known or known < min(2, len(filled)):
            first = filled[0] if filled[0].startswith("#") else f"# {filled[0]}"
            add_header_line([first, *filled[1:]], ",", number, sheet, notes)
            continue
        while cells and not cells[-1]:
            cells.pop()
        sheet.table = Table(tuple(cells), number, cells=tuple(rows[place + 1 :]))
        _check_width(sheet.table, notes)
        return sheet
    notes.fault(
        None, "", "", "The sheet has no table: no row names its columns.", ALLOWED, "Name the columns."
    )
    return sheet


def _check_width(found: Table, notes: Notes) -> None:
    for number, cells in found.cells:
        if any(cells[len(found.headings) :]):
            notes.fault(
                number,
                "",
                next(filter(None, cells[len(found.headings) :])),
                "A cell stands beside the table.",
                "cells below a column name",
                "Name its column, or delete it.",
            )


def _rows(
    sheet: Any,  # noqa: ANN401 - one of two kinds of openpyxl
    notes: Notes,
    text: Callable[[Cell], str],
) -> list[tuple[int, list[str]]]:
    """Return the rows of a sheet that hold anything, as text."""
    rows: list[tuple[int, list[str]]] = []
    for number, row in enumerate(sheet.iter_rows(min_row=1, max_col=MOST_COLUMNS), 1):
        cells = [text(cell) for cell in row]
        if any(cells):
            rows.append((number, cells))
        elif number - (rows[-1][0] if rows else 0) > MOST_BLANK_ROWS:
            notes.fault(
                number,
                "",
                f"{MOST_BLANK_ROWS} blank rows",
                "The sheet goes on far below its last filled row.",
                "one table",
                "Delete what stands below the table.",
            )
            break
    return rows


def _text(cell: Cell) -> str:
    return "" if cell.value is None else cell_text(cell.value, str(cell.number_format))


def check_stored(
    xml: SheetXml,
    first: int | None,
    notes: Notes,
    columns: Callable[[str], bool] | None = None,
    merging: Callable[[str], bool] | None = None,
) -> None:
    """Note formulas whose result was never stored, cells far off, and cells merged inside the table.

    Parameters
    ----------
    xml : SheetXml
        The sheet as stored.
    first : int or None
        First line of the table; None where there is none.
    notes : Notes
        Takes the faults.
    columns : callable, optional
        Whether a cell, by its name, is one that is read; all are where it is not given.
    merging : callable, optional
        Whether a range may be merged; none may where it is not given.
    """
    _check_formulas(xml, notes, columns)
    for cell in xml.far_cells:
        notes.fault(
            cell_row(cell),
            cell,
            "",
            "A cell stands far to the right of the table.",
            f"at most {MOST_COLUMNS} columns",
            "Delete it.",
        )
    for merged in xml.merged:
        if merging is not None and merging(merged):
            continue
        if first is not None and cell_row(merged.partition(":")[2] or merged) >= first:
            notes.fault(
                cell_row(merged),
                merged,
                "merged cells",
                "Cells are merged inside the table.",
                "one cell per column",
                "Unmerge them and fill every cell.",
            )


def _check_formulas(xml: SheetXml, notes: Notes, columns: Callable[[str], bool] | None) -> None:
    """Note formulas whose result was never stored: they would be read as nothing or as zero."""
    formulas = [pair for pair in xml.formulas if columns is None or columns(pair[0])]
    empty = [cell for cell, result in formulas if not result]
    if not empty and formulas and all(result in ("0", "0.0") for _, result in formulas):
        empty = [cell for cell, _ in formulas]
    for cell in empty:
        notes.fault(
            cell_row(cell),
            cell,
            "a formula",
            "This formula was never calculated, so it has no result.",
            "figures, or formulas with stored results",
            "Open the workbook in a spreadsheet program, let it calculate, and save it.",
        )


def _records(
    xml: SheetXml, sheet: Sheet, notes: Notes, overrides: Mapping[str, str], origin: Origin
) -> tuple[Record, ...]:
    check_stored(xml, sheet.table.row if sheet.table else None, notes)
    if schedule.is_schedule(sheet.table):
        return schedule.records_of(sheet, overrides, notes, origin)
    read_one: Callable[..., Record] = record_file.record_of if sheet.entries else table.record_of
    return (read_one(sheet, overrides, notes, origin),)


@dataclass(frozen=True, slots=True)
class SheetRows:
    """One sheet that holds anything: its title, stored form, filled rows by line, and a notebook."""

    title: str
    xml: SheetXml
    rows: list[tuple[int, list[str]]]
    notes: Notes


def read_sheets(data: bytes, name: str, text: Callable[[Cell], str] = _text) -> list[SheetRows]:
    """Open a workbook, its sizes first, and return the rows of every sheet that holds anything.

    Parameters
    ----------
    data : bytes
        The workbook.
    name : str
        Its name, for messages.
    text : callable
        What makes a cell's text.

    Returns
    -------
    list of SheetRows
        In the order of the sheets.

    Raises
    ------
    InputError
        If it is no workbook, damaged, protected or too large.
    """
    import openpyxl
    from openpyxl.utils.exceptions import InvalidFileException

    if len(data) > LARGEST:
        raise refuse(
            name,
            None,
            f"{len(data)} bytes",
            "The file is too large.",
            f"at most {LARGEST} bytes",
            "Split it.",
        )
    package = read_package(data, name)
    found = []
    try:
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        for sheet in book.worksheets:
            notes = Notes(name if len(book.worksheets) == 1 else f"{name} [{sheet.title}]")
            rows = _rows(sheet, notes, text)
            if rows:
                found.append(SheetRows(sheet.title, package.get(sheet.title, SheetXml()), rows, notes))
        book.close()
    except (InvalidFileException, KeyError, ValueError, TypeError, IndexError, AttributeError, OSError,
            SyntaxError, zipfile.BadZipFile, EOFError) as error:  # fmt: skip
        reason = f"{type(error).__name__}: {error}"
        raise refuse(
            name,
            None,
            reason[:120],
            "The workbook is damaged.",
            "an XLSX workbook",
            "Open it, save it again, or save it as CSV.",
        ) from error
    return found


def read(data: bytes, name: str, overrides: Mapping[str, str]) -> tuple[Record, ...]:
    """Read a workbook; see :class:`soakage.importers.base.Importer`."""
    laid = [(sheet.xml, _lay_out(sheet.rows, sheet.notes), sheet.notes) for sheet in read_sheets(data, name)]
    return _gather(laid, overrides, Origin(name, sha256(data).hexdigest()))


def _gather(
    laid: list[tuple[SheetXml, Sheet, Notes]], overrides: Mapping[str, str], origin: Origin
) -> tuple[Record, ...]:
    """Return the records of every sheet; sheets without a table are passed over where others have one."""
    whole = Notes(origin.file)
    read_here = [part for part in laid if part[1].table] or laid
    if not read_here:
        whole.fault(None, "", "", "The workbook is empty.", "a record", "Fill in the readings.")
    records: list[Record] = []
    for xml, sheet, notes in read_here:
        for other in laid:
            if other[1].table is None and sheet.table:
                notes.finding("sheet_not_read", f"{other[2].file} holds no table and is not read.")
        found, faults = _attempt(xml, sheet, notes, overrides, replace(origin, file=notes.file))
        records += found
        whole.faults += faults
    whole.settle()
    return tuple(records)


def _attempt(
    xml: SheetXml, sheet: Sheet, notes: Notes, overrides: Mapping[str, str], origin: Origin
) -> tuple[tuple[Record, ...], tuple[Any, ...]]:
    from soakage.errors import InputError

    try:
        return _records(xml, sheet, notes, overrides, origin), ()
    except InputError as error:
        return (), error.faults


IMPORTER = Importer("xlsx", "Workbook, one record per sheet", (".xlsx", ".xlsm"), recognises, read)
