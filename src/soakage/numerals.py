"""Figures apart from their units: values and bounds, marks and groups as typed, rounding as printed.

With ``decimal_comma=None`` (not known) a single point is a decimal point and a single comma a decimal
comma, but ``1,500`` is refused as 1500 or 1.5. With True, ``1,500`` is 1.5 and ``1.500`` is the one
refused; with False a comma only groups. A mark that occurs twice in proper groups of three can only
group (``1,234,567``); of two different marks the last is the decimal one (``1.500,5``). Either
contradicting what is known is refused. ``0,500`` cannot be grouped and is 0.5; so is a figure with an
exponent or with groups of three set apart by spaces or apostrophes.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal
from enum import StrEnum
from functools import cache

from soakage.errors import QuantityError

EXACT = Context(prec=60, traps=[])
"""Wide enough for every conversion here to be exact before the one rounding to a float."""

PRINTABLE = Context(prec=15, traps=[])
"""Digits a float holds for certain: rounding to them first keeps the noise of a sum out of a bound."""

POWERS = {"f": -15, "p": -12, "n": -9, "u": -6, "m": -3, "c": -2, "": 0, "k": 3, "M": 6, "G": 9, "T": 12}
"""Powers of ten of the prefixes read (SI Brochure, 9th edition, from memory)."""

_GROUPED = re.compile(r"[1-9][0-9]{0,2}(?:,[0-9]{3})+|[1-9][0-9]{0,2}(?:\.[0-9]{3})+")


class Bound(StrEnum):
    """Which side of a figure the truth lies on when the figure is not a value."""

    LOWER = "lower"
    UPPER = "upper"


@dataclass(frozen=True, slots=True)
class Measured:
    """A reading in SI units: a value, or a bound (``LOWER``: truth at or above; ``UPPER``: at or below).

    Parameters
    ----------
    value : float
        Finite; SI unit of its dimension (kelvin for temperatures).
    bound : Bound or None
        None for a value.

    Raises
    ------
    QuantityError
        If the value is not finite.
    """

    value: float
    bound: Bound | None = None

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise QuantityError(
                str(self.value),
                "Not a finite figure.",
                "a finite figure, or a bound",
                "Give the bound instead.",
            )


def plain_figure(body: str, given: str, *, decimal_comma: bool | None = None, exponent: bool = False) -> str:
    """Return digits with at most a decimal point.

    Parameters
    ----------
    body : str
        Unsigned digits with their marks: points, commas, spaces, apostrophes.
    given : str
        The whole text, for the message.
    decimal_comma : bool or None
        What is known of the file's decimal mark.
    exponent : bool
        Whether a power of ten follows, which grouped figures never carry.

    Returns
    -------
    str
        Text ``float`` reads.

    Raises
    ------
    QuantityError
        If the marks can mean two figures, or none.
    """
    if "," not in body and not decimal_comma and body.count(".") <= 1 and body.isdigit() | ("." in body):
        spaced = " " in body or "'" in body
        return body.replace(" ", "").replace("'", "") if spaced else body
    digits = body.replace(" ", "").replace("'", "")
    points, commas = digits.count("."), digits.count(",")
    if points and commas:
        decimal = "." if digits.rfind(".") > digits.rfind(",") else ","
        whole, _, rest = digits.rpartition(decimal)
        known = decimal_comma is None or decimal_comma == (decimal == ",")
        if known and digits == body and _GROUPED.fullmatch(whole):
            return f"{whole.replace(',', '').replace('.', '')}.{rest}"
        raise _misplaced(given)
    if points + commas == 0:
        return digits
    mark = "." if points else ","
    groupable = digits == body and not exponent and _GROUPED.fullmatch(digits) is not None
    as_group, as_decimal = digits.replace(mark, ""), digits.replace(",", ".")
    if points + commas > 1:
        if groupable and decimal_comma is not (mark == ","):
            return as_group
        raise _misplaced(given)
    if mark == "," and decimal_comma is False:
        if groupable:
            return as_group
        raise _misplaced(given)
    if groupable and decimal_comma is not (mark == ","):
        raise QuantityError(
            given,
            f"{given.strip()} can be read as {as_group} or as {as_decimal}.",
            "a figure whose decimal mark is certain",
            f"Write {as_group} without a mark, or {as_decimal.rstrip('0')} with fewer digits.",
        )
    return as_decimal


def _misplaced(given: str) -> QuantityError:
    return QuantityError(
        given,
        "Its points and commas do not fit one figure.",
        "one decimal mark, the same throughout a file, and groups of three",
        "Write the figure without thousands marks.",
    )


def rounded(figure: Decimal, digits: int, rounding: str = ROUND_HALF_EVEN) -> Decimal:
    """Round to so many significant digits, keeping every digit before the decimal point."""
    for _ in range(2):  # 9.996 gains a digit by rounding: the second turn takes one decimal back
        places = max(0, digits - 1 - figure.adjusted())
        figure = figure.quantize(Decimal(1).scaleb(-places), rounding, EXACT)
    return figure


def choose_prefix(figure: Decimal, prefixes: str, digits: int, rounding: str = ROUND_HALF_EVEN) -> str:
    """Return the prefix that leaves one to three digits before the point once rounded, the nearest else."""
    if not figure:
        return ""
    power = _context(digits, rounding).plus(figure).adjusted()
    ladder = _ladder(prefixes)
    return next((prefix for prefix in ladder if POWERS[prefix] <= power), ladder[-1])


@cache
def _ladder(prefixes: str) -> tuple[str, ...]:
    """Return the prefixes and none, largest first."""
    return tuple(sorted(("", *prefixes), key=POWERS.__getitem__, reverse=True))


@cache
def _context(digits: int, rounding: str) -> Context:
    return Context(prec=digits, rounding=rounding, traps=[])


def shortest(figure: Decimal) -> str:
    """Return the figure with all its digits and no more, in exponent form where zeros would pile up."""
    figure = EXACT.plus(figure).normalize(EXACT)
    return f"{figure:f}" if -7 <= figure.adjusted() < 16 else f"{figure:E}"


def trimmed(figure: Decimal) -> str:
    """Return the figure without zeros that end its decimal fraction."""
    text = f"{figure:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def scientific(figure: Decimal, digits: int, rounding: str = ROUND_HALF_EVEN) -> str:
    """Return the figure in exponent form with so many significant digits."""
    return f"{_context(digits, rounding).plus(figure):.{digits - 1}E}"


def clock_text(seconds: Decimal, digits: int, rounding: str) -> str:
    """Write ``15 s``, ``1 min 30 s``, ``2 h 45 min``; whole seconds from one minute on."""
    size = abs(seconds)
    if seconds and not Decimal("1e-4") <= size < Decimal("1e9"):
        return f"{scientific(seconds, digits, rounding)} s"
    if size < 60 and abs(short := rounded(seconds, digits, rounding)) < 60:
        return f"{trimmed(short)} s" if seconds else "0 s"
    whole = int(seconds.to_integral_value(rounding))
    minutes, rest = divmod(abs(whole), 60)
    hours, minutes = divmod(minutes, 60)
    parts = [f"{count} {name}" for count, name in ((hours, "h"), (minutes, "min"), (rest, "s")) if count]
    return "-" * (whole < 0) + " ".join(parts)
