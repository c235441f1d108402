"""The cells of a file that a recipe is for: lines and texts, nothing read yet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import time
from typing import TYPE_CHECKING

from soakage.importers.base import Notes
from soakage.importers.recipe import MOST_COLUMNS, Kind
from soakage.importers.text import decode
from soakage.importers.workbook import SheetXml
from soakage.importers.xlsx import cell_text, read_sheets

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell

_MAGIC = b"PK\x03\x04"
_LONGEST_CELL_LINES = 100


class Number(str):
    """Text of a cell that a workbook holds as a number: its decimal mark is a point, whatever else is said."""

    __slots__ = ()


class Clock(str):
    """Text of a cell that a workbook holds as a time: an elapsed time as read, `of_day` where it is none."""

    __slots__ = ("of_day",)
    of_day: str

    @classmethod
    def of(cls, value: time, text: str) -> Clock:
        """Return the cell's text as an elapsed time, with the time of day beside it."""
        made = cls(text)
        made.of_day = value.isoformat("seconds")
        return made


@dataclass(frozen=True, slots=True)
class Grid:
    """One table-bearing sheet, or the whole of a text file.

    Parameters
    ----------
    file : str
        Name for messages and origins; with the sheet's title where there are several.
    title : str
        Title of the sheet; empty for a text file.
    rows : list of (int, list of str)
        Filled lines, counted from 1, with their cells.
    xml : SheetXml or None
        What a workbook stores beside the values.
    whole : bool
        False where the last line does not end: the file may be cut short.
    notes : Notes
        What was noted while opening.
    """

    file: str
    title: str
    rows: list[tuple[int, list[str]]]
    xml: SheetXml | None = None
    whole: bool = True
    notes: Notes = field(default_factory=lambda: Notes(""))


def kind_of(data: bytes) -> Kind:
    """Return what sort of file this is, by its first bytes."""
    return Kind.XLSX if data.startswith(_MAGIC) else Kind.CSV


def open_grids(data: bytes, name: str, kind: Kind, delimiter: str) -> list[Grid]:
    """Return the cells of a file.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        Its name, for messages.
    kind : Kind
        What it is to be.
    delimiter : str
        Of a text file.

    Returns
    -------
    list of Grid
        One for a text file, one for each filled sheet of a workbook.

    Raises
    ------
    InputError
        If it cannot be opened, or is of the other kind.
    """
    if kind_of(data) is not kind:
        notes = Notes(name)
        notes.fault(
            None, "kind", str(kind_of(data)), f"The recipe is for {kind} files.", kind, "Take another recipe."
        )
        notes.settle()
    if kind is Kind.XLSX:
        return [
            Grid(sheet.notes.file, sheet.title, sheet.rows, sheet.xml, notes=sheet.notes)
            for sheet in read_sheets(data, name, _cell)
        ]
    return [text_grid(decode(data, name), name, delimiter)]


def _cell(cell: Cell) -> str:
    value = cell.value
    if value is None:
        return ""
    text = cell_text(value, str(cell.number_format))
    if isinstance(value, time):
        return Clock.of(value, text)
    return Number(text) if isinstance(value, (int, float)) and not isinstance(value, bool) else text


def text_grid(text: str, name: str, delimiter: str) -> Grid:
    """Return the cells of delimited text.

    Parameters
    ----------
    text : str
        Lines ended by a line feed.
    name : str
        Name of the file.
    delimiter : str
        Comma, semicolon or tab.

    Returns
    -------
    Grid

    Raises
    ------
    InputError
        If a line's cells cannot be told apart, or it has too many.
    """
    notes = Notes(name)
    rows: list[tuple[int, list[str]]] = []
    for line, cells in _lines(text, delimiter, notes):
        while cells and not cells[-1]:
            cells.pop()
        if len(cells) > MOST_COLUMNS:
            notes.fault(
                line,
                "",
                f"{len(cells)} cells",
                "The line has too many cells.",
                f"{MOST_COLUMNS}",
                "Split it.",
            )
            break
        if cells:
            rows.append((line, cells))
    notes.settle()
    return Grid(name, "", rows, whole=text.endswith("\n"), notes=notes)


def _lines(text: str, delimiter: str, notes: Notes) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    before = 0
    try:
        for cells in reader:
            if reader.line_num - before > _LONGEST_CELL_LINES:
                raise csv.Error("a cell of very many lines")  # noqa: TRY301 - noted like any other, below
            yield before + 1, [cell.strip() for cell in cells]
            before = reader.line_num
    except csv.Error as error:
        notes.fault(
            before + 1, "", str(error), "The cells of this line cannot be told apart.",
            "cells in matching quotation marks", "Look for a quotation mark that is not closed.",
        )  # fmt: skip
