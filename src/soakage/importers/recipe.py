"""A column recipe: how somebody's own table becomes records.  Made once, corrected, kept, shared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

VERSION = 1
MOST_COLUMNS = 256  # as in a workbook
MOST_ROWS = 2_000_000  # as in a text file

FIND, NONE = "find", "none"
"""Of a header row: look for it, or there is none."""


class Kind(StrEnum):
    """What sort of file a recipe is for."""

    CSV = "csv"
    XLSX = "xlsx"


class Layout(StrEnum):
    """What makes one record of a table."""

    FILE = "file"  # all rows of the file
    SHEET = "sheet"  # all rows of a sheet
    ROW = "row"  # each row
    GROUP = "group"  # all rows that agree in the keys named by group_by


class Dates(StrEnum):
    """The order of a date's figures; ISO dates and dates a workbook holds as such are always read."""

    DAY_FIRST = "day-month-year"
    MONTH_FIRST = "month-day-year"
    YEAR_FIRST = "year-month-day"
    SERIAL = "serial"  # days since the end of 1899, as spreadsheets count
    SERIAL_1904 = "serial-1904"  # days since the beginning of 1904


class Empty(StrEnum):
    """What is done where a record would hold no reading."""

    FAULT = "fault"
    SKIP = "skip"


@dataclass(frozen=True, slots=True)
class ColumnRule:
    """What one column holds.  Exactly one of `key`, `reading`, `ratio` and `ignore` is given.

    Parameters
    ----------
    heading : str
        Heading as it stands, blanks and case apart; may be empty where `place` is given.
    place : int or None
        Place counted from 1. With a heading too, both must agree.
    key : str
        Key of the record file. Several columns of one key are joined with a blank, in this order.
    reading : str
        time, voltage, current or resistance.
    at : str
        Time mark of a column of readings, such as ``60 s``; empty where the time is a column, or unknown.
    section : str
        Section that a column of readings is of, where one row holds several: each makes a record.
    ratio : str
        Two marks such as ``600 s/60 s``: a ratio given in the file, compared with the one computed.
    unit : str
        Unit where neither heading nor cell states one.
    ignore : bool
        Known, and not read.
    optional : bool
        Whether a file may lack the column.
    fill_down : bool
        Whether an empty cell means the one above it.
    """

    heading: str = ""
    place: int | None = None
    key: str = ""
    reading: str = ""
    at: str = ""
    section: str = ""
    ratio: str = ""
    unit: str = ""
    ignore: bool = False
    optional: bool = False
    fill_down: bool = False

    @property
    def title(self) -> str:
        """What to call the column in a message."""
        return self.heading or f"column {self.place}"


@dataclass(frozen=True, slots=True)
class CellRule:
    """A key that stands in one cell of its own, above or beside the table: ``B2``."""

    cell: str
    key: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Recipe:
    """How a table becomes records.

    Parameters
    ----------
    name : str
        What its maker calls it.
    kind : Kind
        Sort of file.
    layout : Layout
        What makes one record.
    columns : tuple of ColumnRule
        In any order.
    cells : tuple of CellRule
        Keys in cells of their own.
    constants : mapping of str to str
        Keys the file lacks, as typed in a record file; where a column of the same key has an empty cell the
        constant stands.
    group_by : tuple of str
        Keys whose columns tell the records of a long table apart.
    sheets : tuple of str
        Sheets to read, by title; empty for all.
    sheet_key : str
        Key that the title of a sheet states; empty for none.
    header_row : int or str
        Line of the headings, or ``find``, or ``none``.
    unit_row : int or None
        Line of units below the headings.
    first_row : int or None
        First line of figures; None for the one below headings and units.
    pass_over : tuple of str
        Rows whose first filled cell is one of these words are not read (totals, averages); case, figures
        and punctuation behind it apart.
    without_reading : Empty
        What is done where a record would hold no reading.
    delimiter : str
        Comma, semicolon or tab; of a text file only.
    decimal : str
        ``.`` or ``,``; empty to tell it cell by cell.
    dates : Dates or None
        Order of a date's figures; None reads only dates that can mean one day.
    first_year : int or None
        First of the hundred years a year of two figures may be; None refuses such years.
    note : str
        For whoever gets the recipe.
    """

    name: str
    kind: Kind
    layout: Layout
    columns: tuple[ColumnRule, ...] = ()
    cells: tuple[CellRule, ...] = ()
    constants: Mapping[str, str] = field(default_factory=dict)
    group_by: tuple[str, ...] = ()
    sheets: tuple[str, ...] = ()
    sheet_key: str = ""
    header_row: int | str = FIND
    unit_row: int | None = None
    first_row: int | None = None
    pass_over: tuple[str, ...] = ()
    without_reading: Empty = Empty.FAULT
    delimiter: str = ","
    decimal: str = ""
    dates: Dates | None = None
    first_year: int | None = None
    note: str = ""

    @property
    def decimal_comma(self) -> bool | None:
        """True or False where the decimal mark is known, else None."""
        return {",": True, ".": False}.get(self.decimal)


@dataclass(frozen=True, slots=True)
class Question:
    """A choice that the file does not settle and its owner must.

    Parameters
    ----------
    setting : str
        What of the recipe it settles: ``dates``, ``constants.class``, ``column.4.unit`` (columns in the
        order of the recipe, counted from 1).
    sentence : str
        The question.
    choices : tuple of (str, str)
        Value and what it means; empty where the answer is typed.
    required : bool
        Whether nothing can be read before it is answered.
    """

    setting: str
    sentence: str
    choices: tuple[tuple[str, str], ...] = ()
    required: bool = True


@dataclass(frozen=True, slots=True)
class ColumnNote:
    """What is thought of one column: its title, ``certain``, ``likely`` or ``not read``, and why."""

    title: str
    confidence: str
    reason: str


@dataclass(frozen=True, slots=True)
class Guess:
    """A recipe guessed from a file.

    Parameters
    ----------
    recipe : Recipe
        As far as the file tells.
    notes : tuple of ColumnNote
        One for each column of the table, in its order.
    remarks : tuple of str
        What was noticed of the file as a whole.
    questions : tuple of Question
        Open choices.
    rows : tuple of (int, tuple of str)
        First lines of the file as they stand, for showing.
    """

    recipe: Recipe
    notes: tuple[ColumnNote, ...]
    remarks: tuple[str, ...]
    questions: tuple[Question, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
