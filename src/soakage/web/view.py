"""How values are written on a page: figure and unit never part."""

from __future__ import annotations

import re
from dataclasses import dataclass

from soakage.model.verdict import QuantityValue, Status
from soakage.report.figures import NBSP, counted, day, listed, moment, printed, unparted
from soakage.units import Bound, Measured, format_quantity
from soakage.web.shown import fahrenheit, marked, now

__all__ = [
    "NBSP",
    "Figure",
    "counted",
    "css",
    "day",
    "figure",
    "how",
    "listed",
    "moment",
    "of",
    "quantity",
    "unparted",
]
HOW = {
    "read": ("read", "read"),
    "secondary": ("secondary", "as reported"),
    "memory": ("memory", "from memory"),
    "practice": ("practice", "no source"),
    "derived": ("practice", "derived"),
    "user": ("practice", "own limit"),
}


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure in its parts, each at its own size.

    Parameters
    ----------
    sign : str
        ``>`` or ``<`` where it only bounds the truth.
    value, unit : str
        Empty unit for a ratio.
    plus_minus : str
        Expanded uncertainty; empty where there is none.
    """

    sign: str
    value: str
    unit: str
    plus_minus: str = ""

    def __str__(self) -> str:
        """Return the whole, unparted."""
        text = NBSP.join(part for part in (self.sign, self.value, self.unit) if part)
        return f"{text}{NBSP}±{NBSP}{self.plus_minus}" if self.plus_minus else text


def quantity(
    value: float, dimension: str, *, bound: Bound | None = None, digits: int = 3, trim: bool = False
) -> str:
    """Return a value with its unit, no-break space between.

    Parameters
    ----------
    value : float
        In SI.
    dimension : str
        As in :mod:`soakage.units`.
    bound : Bound or None
        Set when the value only bounds the truth.
    digits : int
        Significant digits.
    trim : bool
        Drop zeros that end a decimal fraction, for set values.
    """
    if dimension == "temperature" and now().degrees == "F":
        return marked(f"{fahrenheit(value):.1f}".removesuffix(".0")) + f"{NBSP}°F"
    shown = Measured(value, bound) if bound else value
    return marked(format_quantity(shown, dimension, digits=digits, trim=trim))


def figure(
    value: float, dimension: str, *, bound: Bound | None = None, digits: int = 3, trim: bool = False
) -> Figure:
    """Return a value in its parts; arguments as for :func:`quantity`."""
    match = re.fullmatch(
        rf"([<>]?){NBSP}?([^{NBSP}]+){NBSP}?(.*)",
        quantity(value, dimension, bound=bound, digits=digits, trim=trim),
    )
    assert match is not None  # noqa: S101 - the writer of quantities always gives this form
    return Figure(*match.groups())


def of(shown: QuantityValue) -> Figure:
    """Return a computed quantity in its parts, with its expanded uncertainty."""
    told = printed(shown)
    sign = {Bound.LOWER: ">", Bound.UPPER: "<"}.get(shown.bound, "") if shown.bound else ""
    value = told.value if told.plus_minus else told.alone
    return Figure(sign, marked(value.removeprefix(sign).strip()), told.unit, marked(told.plus_minus))


def css(status: Status | str) -> str:
    """Return a status as the name of a class."""
    return str(status).replace(" ", "-")


def how(verified: str) -> tuple[str, str]:
    """Return class and words for how a limit is known: read, as reported, from memory, no source.

    Parameters
    ----------
    verified : str
        Status of the source as criteria carry it; unknown ones are never shown as read.
    """
    return HOW.get(verified, ("practice", verified or "no source"))
