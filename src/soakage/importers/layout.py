"""Delimited text taken apart: the header's entries above, the table below, the delimiter told."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from soakage.importers.base import Notes, shown
from soakage.importers.columns import ALLOWED, recognised
from soakage.importers.values import plain_key
from soakage.model.keys import KEYS

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
_ENDS = " \t,;"
_BLANK = ' \t,;"\N{NO-BREAK SPACE}'
_CELL = r'(?:"(?:[^"]++|"")*+"|[^",;\t]*+)'
_OPEN = re.compile(rf'(?:{_CELL}[,;\t])*+"(?:[^"]++|"")*+')
_STRICT = {
    d: re.compile(rf'(?:"(?:[^"]++|"")*+"|[^"{d}]*+)(?:{d}(?:"(?:[^"]++|"")*+"|[^"{d}]*+))*+')
    for d in DELIMITERS
}
_LONGEST_CELL_LINES = 100


@dataclass(frozen=True, slots=True)
class Entry:
    """One header entry as typed: key, value, the line it stands on (None: an option)."""

    key: str
    value: str
    row: int | None


@dataclass(frozen=True, slots=True)
class Table:
    """The table: headings and, below, either raw text or cells taken apart already.

    Parameters
    ----------
    headings : tuple of str
        Cells of the column line.
    row : int
        Its line.
    delimiter : str
        Empty where the table has one column only.
    body : str
        Raw text below the column line; empty where `cells` holds the rows.
    cells : tuple
        Rows as (line, cells).
    """

    headings: tuple[str, ...]
    row: int
    delimiter: str = ""
    body: str = ""
    cells: tuple[tuple[int, list[str]], ...] = ()

    def rows(self, notes: Notes) -> Iterator[tuple[int, list[str]]]:
        """Yield (line, cells) of every row that is not blank; cells beyond the last are empty."""
        width = len(self.headings)
        if not self.body:
            yield from self.cells
            return
        lines = self.body.split("\n")
        # a comma file kept by a spreadsheet that reads semicolons ends its lines with them, and so on
        others = "".join(mark for mark in DELIMITERS if mark != self.delimiter)
        for number, line in enumerate(lines, self.row + 1):
            if not line.strip(_BLANK):
                continue
            if line.lstrip('"').startswith("#"):
                notes.fault(
                    number,
                    "",
                    line,
                    "A header line stands below the table.",
                    "header, then columns, then rows",
                    "Move it above the column names.",
                )
                continue
            cells = split_cells(line.rstrip(others), self.delimiter, number, notes)
            if number == self.row + len(lines) and width > 1 and len(cells) < width:
                notes.fault(
                    number,
                    "",
                    line,
                    f"The last row ends after {len(cells)} of {width} cells: the file is cut short.",
                    "a cell for every column",
                    "Save or copy the file again.",
                )
                continue
            while len(cells) > width and not cells[-1]:
                cells.pop()
            if len(cells) > width:
                notes.fault(
                    number,
                    "",
                    line,
                    f"This row has {len(cells)} cells, the table {width} columns.",
                    "one cell for every column",
                    "Look for a comma used both as decimal mark and as delimiter.",
                )
                continue
            yield number, cells + [""] * (width - len(cells))


@dataclass(slots=True)
class Sheet:
    """A file taken apart, nothing read yet; `table` is None where there is none."""

    entries: list[Entry] = field(default_factory=list)
    table: Table | None = None


def split_cells(line: str, delimiter: str, row: int, notes: Notes) -> list[str]:
    """Return the cells of a line, stripped and unquoted."""
    if '"' not in line:
        return [cell.strip() for cell in (line.split(delimiter) if delimiter else [line])]
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter or "\t"))]
    except (csv.Error, StopIteration):
        notes.fault(
            row, "", line, "The cells of this line cannot be told apart.", "", "Look at its quotation marks."
        )
        return []


def take_apart(text: str, notes: Notes, *, header_only: bool = False) -> Sheet:
    """Take delimited text apart into header entries and a table.

    Parameters
    ----------
    text : str
        The file's text, lines ended by a line feed.
    notes : Notes
        Takes the faults.
    header_only : bool
        Whether a file without a table will do.

    Returns
    -------
    Sheet
        Entries in their order, and the table.
    """
    header: list[tuple[int, str]] = []
    sheet = Sheet()
    start, row = 0, 0
    while start <= len(text):
        end = text.find("\n", start)
        end = len(text) if end < 0 else end
        line, start, row = text[start:end], end + 1, row + 1
        if not line.strip(_BLANK):
            continue
        if line.lstrip(' "')[:1] != "#":
            line = line.rstrip(_ENDS)
            delimiter = _delimiter(line, row, notes)
            if delimiter is not None:
                headings = tuple(split_cells(line, delimiter, row, notes))
                while headings and not headings[-1]:
                    headings = headings[:-1]
                sheet.table = Table(headings, row, delimiter, text[start:])
            break
        first = row
        while (
            line.count('"') % 2
            and row - first < _LONGEST_CELL_LINES
            and start <= len(text)
            and _OPEN.fullmatch(line)
        ):
            end = text.find("\n", start)
            end = len(text) if end < 0 else end
            line, start, row = f"{line}\n{text[start:end]}", end + 1, row + 1
        header.append((first, line))
    if sheet.table is None and not header_only and not notes.faults:
        notes.fault(
            None,
            "",
            "",
            "The file has a header and no table: it is cut short, or the column names are missing.",
            ALLOWED,
            "Write the column names and the rows below the header.",
        )
    used = sheet.table.delimiter if sheet.table else ""
    for first, line in header:
        _add(_header_entry(line, used), first, sheet, notes)
    return sheet


def _delimiter(line: str, row: int, notes: Notes) -> str | None:
    """Return the delimiter of the column line (empty for one column), or None with a fault."""
    quiet = Notes("")
    split = {d: split_cells(line, d, row, quiet) for d in DELIMITERS if d in line}
    if not split:
        return ""
    if len(split) == 1:
        return next(iter(split))
    counts = {d: recognised(cells) for d, cells in split.items()}
    best = max(counts.values())
    winners = [d for d, count in counts.items() if count == best]
    if len(winners) == 1:
        return winners[0]
    tried = ", ".join(
        f"{DELIMITERS[d]} ({counts[d]} column{'s' * (counts[d] != 1)} known)"
        for d in DELIMITERS
        if d in counts
    )
    notes.fault(
        row,
        "",
        line,
        f"The delimiter cannot be told. Tried: {tried}.",
        f"comma, semicolon or tab; {ALLOWED}",
        "Use one delimiter in the whole table.",
    )
    return None


def header_cells(line: str, delimiter: str) -> list[str]:
    """Return a header line's cells: unquoted where a spreadsheet saved it, untouched where it was typed."""
    line = line.rstrip(_ENDS)
    if '"' in line and _STRICT[delimiter].fullmatch(line):
        try:
            return next(csv.reader(line.splitlines(keepends=True), delimiter=delimiter))
        except (csv.Error, StopIteration):
            pass
    return line.split(delimiter)


@lru_cache(maxsize=4096)  # headers of a thousand files repeat themselves
def _header_entry(line: str, used: str) -> tuple[str, str] | str:
    mark = _header_delimiter(line, used)
    return _entry(header_cells(line, mark), mark)


def _header_delimiter(line: str, used: str) -> str:
    """Return the delimiter a header line was saved with: the table's, or where that cannot be, another."""
    ends = line.rstrip(_ENDS)
    if used and not (ends.startswith('"') and not _STRICT[used].fullmatch(ends)):
        return used
    if ends.startswith('"'):
        return next((mark for mark, strict in _STRICT.items() if strict.fullmatch(ends)), used or ",")
    return max(DELIMITERS, key=line.partition("=")[0].count)


def add_header_line(cells: Sequence[str], delimiter: str, row: int, sheet: Sheet, notes: Notes) -> None:
    """Add the entry that the cells of one header line hold, joined again at the delimiter.

    Parameters
    ----------
    cells : sequence of str
        Cells of the line, the first with its ``#``.
    delimiter : str
        What joins them.
    row : int
        Their line.
    sheet : Sheet
        Takes the entry.
    notes : Notes
        Takes the faults.
    """
    _add(_entry(cells, delimiter), row, sheet, notes)


def _add(entry: tuple[str, str] | str, row: int, sheet: Sheet, notes: Notes) -> None:
    if isinstance(entry, str):
        _remark(entry, row, notes)
    else:
        sheet.entries.append(Entry(*entry, row))


def _entry(cells: Sequence[str], delimiter: str) -> tuple[str, str] | str:
    """Return the key and value of a header line, or the remark it is instead."""
    kept = list(cells)
    while kept and not kept[-1].strip():
        kept.pop()
    if not kept:
        return ""
    first = kept[0].strip().lstrip("#").strip()
    if len(kept) > 1 and ("=" not in first or first.endswith("=")):
        key, values = first.rstrip("= "), kept[1:]
        while values and not values[0].strip():
            values.pop(0)
        value = delimiter.join(values).strip().removeprefix("=")
    else:
        whole = delimiter.join(kept).strip().lstrip("#").strip()
        key, equals, value = whole.partition("=")
        if not equals:
            return whole
    return key.strip(), value.strip()


def _remark(whole: str, row: int, notes: Notes) -> None:
    if not whole:
        return
    words = whole.replace(":", " ").split()
    word = plain_key(words[0]) if words else ""
    if word in KEYS or word == "soakage":
        notes.fault(
            row, word, whole, "This header line has no value.", "# key = value", "Write '=' after the key."
        )
    else:
        notes.finding("remark_in_header", f"A remark in the header is not read: {shown(whole)}")
