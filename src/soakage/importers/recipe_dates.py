"""Dates as people write them, to ISO: by a stated order, or only where they can mean one day."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta

from soakage.errors import QuantityError
from soakage.importers.kinds import read_when
from soakage.importers.recipe import Dates

_TIME = r"(?:[T ,]+([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?(?:[.,][0-9]+)? *([ap]\.?m\.?)?)?"
_FIGURES = re.compile(rf"([0-9]{{1,4}})([./-])([0-9]{{1,2}})\2([0-9]{{1,4}}){_TIME}", re.IGNORECASE)
_NAMED = re.compile(rf"([0-9]{{1,2}})[. -]*([^\W\d_]+)[., -]*([0-9]{{2,4}}){_TIME}", re.IGNORECASE)
_MONTH_NAMED = re.compile(rf"([^\W\d_]+)[. -]*([0-9]{{1,2}}),?[ -]+([0-9]{{2,4}}){_TIME}", re.IGNORECASE)
_SERIAL = re.compile(r"([0-9]{1,6})(?:[.,]([0-9]+))?")
_MONTHS = (
    ("jan",), ("feb",), ("mar", "mär", "mrz"), ("apr",), ("may", "mai"), ("jun",), ("jul",), ("aug",),
    ("sep",), ("oct", "okt"), ("nov",), ("dec", "dez"),
)  # fmt: skip
_ALLOWED = "a date, such as 2026-03-14"
_BEGINNINGS = {Dates.SERIAL: date(1899, 12, 30), Dates.SERIAL_1904: date(1904, 1, 1)}
_FIRST_SERIAL = 61  # before it, spreadsheets that count from 1900 hold a day that never was
_YEARS = (1850, 2200)


def iso_date(text: str, dates: Dates | None, first_year: int | None = None) -> str:
    """Return a date, or date and time of day, in ISO form.

    Parameters
    ----------
    text : str
        As it stands in the cell.
    dates : Dates or None
        Stated order; None reads only what can mean one day.
    first_year : int or None
        First of the hundred years that a year of two figures may be.

    Returns
    -------
    str
        ``2026-03-14`` or ``2026-03-14T09:20:00``.

    Raises
    ------
    QuantityError
        If it is no date, or can mean two.
    """
    text = " ".join(text.split())
    try:
        return read_when(text).isoformat()
    except QuantityError as error:
        if "no such date" in error.problem:
            raise
    try:
        return _iso(text, dates, first_year)
    except ValueError as error:
        raise QuantityError(
            text, f"There is no such date: {error}.", _ALLOWED, "Check day, month and the order of dates."
        ) from None


def _iso(text: str, dates: Dates | None, first_year: int | None) -> str:
    if match := _FIGURES.fullmatch(text):
        first, _, second, third, *clock = match.groups()
        return _with_time(_ordered(text, first, second, third, dates, first_year), clock)
    for pattern, order in ((_NAMED, (1, 2, 3)), (_MONTH_NAMED, (2, 1, 3))):
        match = pattern.fullmatch(text)
        month = _month(match[order[1]]) if match else 0
        if match and month:
            year = _year(text, match[order[2]], first_year)
            return _with_time(date(year, month, int(match[order[0]])), list(match.groups()[3:]))
    if serial := _SERIAL.fullmatch(text):
        return _from_serial(text, serial, dates)
    raise QuantityError(text, "This is no date.", _ALLOWED, "Correct the cell.")


def _month(name: str) -> int:
    return next((number for number, names in enumerate(_MONTHS, 1) if name.lower().startswith(names)), 0)


def _year(text: str, figures: str, first_year: int | None) -> int:
    if len(figures) == 4:
        return int(figures)
    if len(figures) != 2:
        raise QuantityError(text, "A year has two figures or four.", _ALLOWED, "Correct the cell.")
    if first_year is None:
        raise QuantityError(
            text,
            "The century of this year is not stated.",
            "a year of four figures, or first_year in the recipe",
            "Set first_year = 1970 where years run from 1970 to 2069.",
        )
    return first_year + (int(figures) - first_year) % 100


def _ordered(
    text: str, first: str, second: str, third: str, dates: Dates | None, first_year: int | None
) -> date:
    if len(first) > 2:
        return date(_year(text, first, first_year), int(second), int(third))
    if len(third) == 1:
        raise QuantityError(text, "This is no date.", _ALLOWED, "Correct the cell.")
    if dates is Dates.YEAR_FIRST and len(third) == 2:
        return date(_year(text, first, first_year), int(second), int(third))
    year = _year(text, third, first_year)
    if dates is Dates.DAY_FIRST:
        return date(year, int(second), int(first))
    if dates is Dates.MONTH_FIRST:
        return date(year, int(first), int(second))
    if dates is not None:
        raise QuantityError(text, f"The order of this date is not {dates}.", _ALLOWED, "Check dates.")
    if int(first) <= 12 and int(second) <= 12 and first != second:
        days = date(year, int(second), int(first)), date(year, int(first), int(second))
        raise QuantityError(
            text,
            f"{text} can be {days[0].isoformat()} or {days[1].isoformat()}.",
            "dates in a stated order",
            "Set dates = day-month-year or month-day-year in the recipe.",
        )
    day, month = (first, second) if int(first) > 12 else (second, first)
    return date(year, int(month), int(day))


def _with_time(day: date, clock: list[str | None]) -> str:
    hours, minutes, seconds, half = clock
    if not _YEARS[0] <= day.year <= _YEARS[1]:
        raise ValueError(f"the year {day.year}")
    if hours is None or minutes is None:
        return day.isoformat()
    hour = int(hours)
    if half:
        if not 1 <= hour <= 12:
            raise ValueError(f"{hour} {half}")
        hour = hour % 12 + (12 if half[0].lower() == "p" else 0)
    return datetime(day.year, day.month, day.day, hour, int(minutes), int(seconds or 0)).isoformat()  # noqa: DTZ001 - no zone is stated


def _from_serial(text: str, serial: re.Match[str], dates: Dates | None) -> str:
    if dates not in _BEGINNINGS:
        raise QuantityError(
            text,
            "This is a count of days or no date.",
            "a date; with dates = serial a count of days as spreadsheets keep it",
            "Show the column as dates in the spreadsheet, or set dates = serial in the recipe.",
        )
    days = int(serial[1])
    if dates is Dates.SERIAL and days < _FIRST_SERIAL:
        raise QuantityError(text, "This count of days is too small.", "61 or more", "Correct the cell.")
    whole = datetime.combine(_BEGINNINGS[dates], datetime.min.time()) + timedelta(days=days)
    seconds = round(float(f"0.{serial[2] or 0}") * 86400)
    if not _YEARS[0] <= whole.year <= _YEARS[1]:
        raise ValueError(f"the year {whole.year}")
    return (whole + timedelta(seconds=seconds)).isoformat() if seconds else whole.date().isoformat()
