"""Records written as a workbook, a sheet each: what :mod:`soakage.importers.xlsx` reads back to the same records."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from soakage.errors import UsageError
from soakage.importers.whole import whole_file
from soakage.importers.write_record import record_text
from soakage.importers.xlsx import cell_text
from soakage.model.record import Record

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell

MOST_RECORDS = 200
MOST_READINGS = 100_000
_LONGEST_CELL = 32_767
_MOST_ROWS = 1_048_576
_LONGEST_TITLE = 31
_NOT_IN_TITLES = str.maketrans(dict.fromkeys("[]:*?/\\'", " "))


def write_xlsx(path: Path, records: Iterable[Record]) -> None:
    """Write records to a workbook, whole or not at all: header lines and table as in a record file.

    Parameters
    ----------
    path : Path
        The file.
    records : iterable of Record
        In the order of the sheets; :func:`soakage.importers.exchange.batches` with `MOST_RECORDS` and
        `MOST_READINGS` keeps a workbook of a size that people can open.

    Raises
    ------
    UsageError
        If the folder cannot be written, or a sheet cannot hold a record. Nothing becomes a formula.
    """
    from openpyxl import Workbook

    # not openpyxl's way of only writing: it leaves files behind where the records break off
    book = Workbook()
    del book["Sheet"]
    for number, record in enumerate(records, 1):
        sheet = book.create_sheet(_title(number, record))
        header, table = _lines(record, path)
        for line in header:
            sheet.append([_cell(sheet, line)])
        sheet.append([_cell(sheet, heading) for heading in table[0]])
        for row in table[1:]:
            sheet.append([_number(text) if _is_number(text) else _cell(sheet, text) for text in row])
    if not book.worksheets:
        raise UsageError(f"{path}: no records. A workbook needs one at least.")
    with whole_file(path) as part:
        book.save(part)


def _title(number: int, record: Record) -> str:
    named = "".join(sign if sign.isprintable() else " " for sign in record.title).translate(_NOT_IN_TITLES)
    return f"{number} {' '.join(named.split())}"[:_LONGEST_TITLE].strip()


def _lines(record: Record, path: Path) -> tuple[list[str], list[list[str]]]:
    lines = record_text(record, delimiter="\t").splitlines()
    header = [line for line in lines if line.startswith("#")]
    longest = max(header, key=len)
    if len(longest) > _LONGEST_CELL or len(lines) > _MOST_ROWS:
        raise UsageError(
            f"{path}: {record.title} does not fit a sheet ({longest[:40]!r}: {len(longest)} signs; {len(lines)} rows). "
            f"Allowed: {_LONGEST_CELL} signs in a cell, {_MOST_ROWS} rows. Write it as Parquet, JSON or a record file."
        )
    return header, [line.split("\t") for line in lines[len(header) :]]


def _is_number(text: str) -> bool:
    """Return True where a cell holds the figure exactly: workbooks keep 16 digits at most."""
    if text[:1] in ("", ">", "<"):
        return False
    number = _number(text)
    same = Decimal(cell_text(number, "General")) == Decimal(text)
    return same and float(f"{number:.16g}") == number


def _number(text: str) -> float:
    return float(text)


def _cell(sheet: Any, text: str) -> Cell | None:  # noqa: ANN401 - openpyxl's sheet of a book only written
    from openpyxl.cell import WriteOnlyCell

    if not text:
        return None
    cell = WriteOnlyCell(sheet, text)
    # also where it begins like a formula, and after someone has typed in it
    cell.data_type = "s"
    cell.quotePrefix = True
    return cell
