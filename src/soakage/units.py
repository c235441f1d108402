"""Figures with units as people and spreadsheets write them, and as Soakage writes them; SI inside.

Reading is by table: a spelling that is not in it is refused, never guessed, and text that can mean
two figures is an error that shows both. Prefixes keep their case (``m`` is milli, ``M`` mega); ``K``
is taken for kilo. Prefixes and symbols: SI Brochure, 9th edition (from memory); foot, inch and
mechanical horsepower: NIST SP 811, appendix B (from memory). Decimal marks: :mod:`soakage.numerals`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from contextlib import suppress
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from functools import lru_cache

from soakage.errors import QuantityError, UsageError
from soakage.numerals import (
    EXACT,
    POWERS,
    PRINTABLE,
    Bound,
    Measured,
    choose_prefix,
    clock_text,
    plain_figure,
    rounded,
    scientific,
    shortest,
    trimmed,
)
from soakage.unit_table import (
    BARE_IS,
    BARE_PREFIXES,
    DIMENSIONS,
    EXACTLY,
    HOUR,
    MINUTE,
    SPACES,
    STYLES,
    Unit,
    allowed,
    celsius,
    check_dimension,
    find,
    kelvin,
    mega_slip,
    unit,
)

__all__ = [
    "DIMENSIONS",
    "Bound",
    "Measured",
    "Unit",
    "celsius",
    "format_exact",
    "format_quantity",
    "kelvin",
    "parse",
    "parse_cell",
    "unit",
]

_LONGEST = 200
# Where writing leaves plain digits for a power of ten.
_PLAIN, _MANY, _TINY, _FEWEST, _FIVE_DIGITS = map(Decimal, ("1e15", "1e6", "1e-4", "1e-3", "10000"))
_SIGNS = {None: "", Bound.LOWER: "> ", Bound.UPPER: "< "}
_ROUNDING = {None: ROUND_HALF_EVEN, Bound.LOWER: ROUND_FLOOR, Bound.UPPER: ROUND_CEILING}
_TO_PRINT = str.maketrans({" ": "\u00a0", "-": "\u2212"})
_TO_ASCII = str.maketrans({"Ω": "Ohm", "µ": "u", "°": "deg"})
_CLEAN = str.maketrans(
    dict.fromkeys(SPACES, " ") | dict.fromkeys("\u2212\u2010\u2011\u2013\uff0d", "-") | {"\u2019": "'"}
)
_SUPERSCRIPT = re.compile("[⁻⁺⁰¹²³⁴⁵⁶⁷⁸⁹]+")
_SUPERSCRIPTS = str.maketrans("⁻⁺⁰¹²³⁴⁵⁶⁷⁸⁹", "-+0123456789")
_LOWER_SIGNS, _UPPER_SIGNS = (">", ">=", "=>", "≥", "⩾"), ("<", "<=", "=<", "≤", "⩽")
_TEXT = re.compile(
    r" *(>=?|=>|<=?|=<|[≥⩾≤⩽])? *([+-]?) *"
    r"((?:[0-9]{1,3}(?:[ '][0-9]{3})+(?![0-9])|[0-9]*)(?:[.,][0-9]*)*)"
    r"(?:[eE]([+-]?[0-9]{1,6})(?![0-9])|(?: ?[x×·⋅*] ?10\^([+-]?[0-9]{1,6}))(?![0-9]))?(.*)",
    re.DOTALL,
)
_CLOCK = re.compile(r"(?:([0-9]+):)?([0-9]+):([0-9]{2}(?:[.,][0-9]+)?) *")
_PART = re.compile(r"([0-9.,]+) *([A-Za-z]+\.?) *")
_OVER = re.compile(
    r" *[>+]? *(?:[o0]\.?l\.?|over[ -]?(?:range|load|flow)|ovld?|∞|inf(?:inity)?)(?![a-z])(.*)", re.IGNORECASE
)
_SPLIT_PREFIX = re.compile(r"([RfpnumkKMGT])([0-9]+)\b.*")
_NOTHING = {"", "-", "--", "---", "\u2014", "n/a", "nan"}


def parse(
    text: str,
    dimension: str,
    *,
    default_unit: str | Unit | None = None,
    decimal_comma: bool | None = None,
    full_scale: float | None = None,
) -> Measured:
    """Read one figure with its unit.

    Parameters
    ----------
    text : str
        E.g. ``2.5 GΩ``, ``> 10 TΩ``, ``12,5 nA``, ``1 500 V``, ``3 min 10 s``, ``1:30``, ``1.2e9 ohm``.
    dimension : str
        One of :data:`DIMENSIONS`. A bare time is in seconds, a bare ratio, number or count is itself.
    default_unit : str or Unit or None
        Unit of a figure that carries none.
    decimal_comma : bool or None
        Known decimal mark of the file; see :mod:`soakage.numerals`.
    full_scale : float or None
        SI value at which ``OL`` and its like became a lower bound; without it they are an error.

    Returns
    -------
    Measured
        SI value or bound. A resistance of zero is an upper bound of one unit of its last digit.

    Raises
    ------
    QuantityError
        If it cannot be read, can be read in two ways, or measures something else.
    """
    check_dimension(dimension)
    if len(text) > _LONGEST:
        raise QuantityError(
            text[:40] + "...", "Too long for one figure.", allowed(dimension), "Give the figure alone."
        )
    clean = text if text.isascii() and "\t" not in text else _SUPERSCRIPT.sub(_caret, text.translate(_CLEAN))
    match = _TEXT.fullmatch(clean)
    sign, minus, body, exponent, times_ten, rest = (
        match.groups() if match else (None, "", "", None, None, clean)
    )
    bound = Bound.LOWER if sign in _LOWER_SIGNS else Bound.UPPER if sign in _UPPER_SIGNS else None
    symbol = rest.strip()
    default = unit(default_unit, dimension) if isinstance(default_unit, str) else default_unit
    if body.strip(".,"):
        power = exponent or times_ten
        own = symbol or default is None
        measured_in = find(symbol or BARE_IS.get(dimension, " "), dimension) if own else default
        if measured_in is None and symbol in BARE_PREFIXES.get(dimension, ()):
            measured_in = _bare_prefix(text, symbol, dimension, default)
        if measured_in is not None:
            figure = plain_figure(body, text, decimal_comma=decimal_comma, exponent=power is not None)
            value = _si(minus + figure, int(power or 0), measured_in)
            if value == 0 and figure.strip("0.") and not measured_in.shift:
                value = math.nan
            if value == 0 and dimension == "resistance" and bound is not Bound.LOWER:
                decimals = len(figure.partition(".")[2])
                return Measured(_si("1", int(power or 0) - decimals, measured_in), Bound.UPPER)
            return _measured(text, value, bound, dimension)
    if dimension == "time" and match:
        seconds = _clock(clean[match.start(3) :], text, decimal_comma=decimal_comma)
        if seconds is not None and clean.count(":") == 1 and default and default.factor == HOUR:
            problem = f"{text.strip()} can be read as m:ss or, under hours, as h:mm."
            raise QuantityError(text, problem, allowed(dimension), "Write h:mm:ss.")
        if seconds is not None:
            return _measured(
                text, float(seconds.copy_negate() if minus == "-" else seconds), bound, dimension
            )
    over = _OVER.fullmatch(clean)
    if over and full_scale is not None and find(over[1].strip() or STYLES[dimension].symbol, dimension):
        return _measured(text, full_scale, Bound.LOWER, dimension)
    raise _unreadable(text, dimension, body.strip(".,"), symbol, over=over is not None and full_scale is None)


def parse_cell(
    text: str, unit: Unit, *, decimal_comma: bool | None = None, full_scale: float | None = None
) -> Measured | None:
    """Read one cell of a column whose heading gives the unit; a unit in the cell wins.

    Parameters
    ----------
    text : str
        The cell. Empty, blank, a dash, ``n/a`` and ``nan`` are no reading.
    unit : Unit
        Unit of the heading.
    decimal_comma, full_scale
        As in :func:`parse`.

    Returns
    -------
    Measured or None
        None for no reading.

    Raises
    ------
    QuantityError
        As :func:`parse`.
    """
    if unit.suffix is not None and not decimal_comma:
        try:
            value = float(text + unit.suffix)
        except ValueError:
            pass
        else:
            if value and "_" not in text:
                return Measured(value)
    if text.strip().translate(_CLEAN).lower() in _NOTHING:
        return None
    return parse(text, unit.dimension, default_unit=unit, decimal_comma=decimal_comma, full_scale=full_scale)


def _unreadable(text: str, dimension: str, body: str, symbol: str, *, over: bool) -> QuantityError:
    """Say why a text is no figure of this dimension."""
    given, problem, remedy = text.strip(), "", ""
    if over:
        problem = "Over range, but the range is not given."
        remedy = "Write '> ' and the end of the range."
    elif not body:
        problem, remedy = "No figure found.", "Give a figure with its unit."
    elif split := _SPLIT_PREFIX.fullmatch(symbol):
        problem = f"{given} can be read as {body}.{split[2]} {split[1]} or {body}{split[2]} {split[1]}."
        remedy = "Put the decimal mark in the figure and the prefix behind it."
    elif slip := mega_slip(symbol, dimension):
        problem = f"{given} can be read as {body} {slip[0]} or as {body} {slip[1]}."
        remedy = "Write the unit in full; m is milli, M is mega."
    elif not symbol:
        problem, remedy = "Unit missing.", "Give the unit behind the figure."
    else:
        try:
            unit(symbol, dimension)
        except QuantityError as error:
            problem, remedy = error.problem, error.remedy
    return QuantityError(text, problem, allowed(dimension), remedy)


def _caret(match: re.Match[str]) -> str:
    return "^" + match[0].translate(_SUPERSCRIPTS)


def _si(figure: str, power: int, unit: Unit) -> float:
    """Convert with one rounding."""
    if unit.suffix is not None:
        return float(f"{figure}e{power + int(unit.suffix[1:])}")
    return float(EXACT.fma(EXACT.create_decimal(f"{figure}e{power}"), unit.factor, unit.shift))


def _measured(text: str, value: float, bound: Bound | None, dimension: str) -> Measured:
    if not math.isfinite(value):
        raise QuantityError(
            text, "Too large or too small to hold.", allowed(dimension), "Check the exponent."
        )
    return Measured(value, bound)


def _bare_prefix(text: str, prefix: str, dimension: str, column: Unit | None) -> Unit:
    """Read ``2.5 G`` as gigohm, unless the column's unit has a prefix of its own to multiply with."""
    own = EXACTLY[dimension][prefix + STYLES[dimension].symbol]
    if column is not None and column.scale not in (1.0, own.scale):
        problem = f"{text.strip()} can be read in {own.symbol} or as so many times {column.symbol}."
        raise QuantityError(text, problem, allowed(dimension), "Write the unit in full.")
    return own


def _clock(text: str, given: str, *, decimal_comma: bool | None) -> Decimal | None:
    """Read ``m:ss``, ``h:mm:ss`` and ``1 h 30 min``; None if it is neither."""
    if match := _CLOCK.fullmatch(text):
        hours, minutes, seconds = match.groups()
        total = Decimal(plain_figure(seconds, given, decimal_comma=decimal_comma))
        if total >= 60 or (hours and int(minutes) >= 60):
            raise QuantityError(
                given, "Minutes or seconds of 60 and more.", allowed("time"), "Carry them over."
            )
        return EXACT.fma(Decimal(hours or 0), HOUR, EXACT.fma(Decimal(minutes), MINUTE, total))
    total, last, end = Decimal(0), Decimal("Infinity"), 0
    for part in _PART.finditer(text):
        step = find(part[2], "time")
        if part.start() != end or step is None or step.factor >= last or not part[1].strip(".,"):
            return None
        figure = plain_figure(part[1], given, decimal_comma=decimal_comma)
        total, last, end = EXACT.fma(Decimal(figure), step.factor, total), step.factor, part.end()
    return total if end == len(text) and end else None


def format_quantity(
    quantity: float | Measured,
    dimension: str,
    *,
    digits: int = 3,
    ascii: bool = False,  # noqa: A002
    prefix: str | None = None,
    trim: bool = False,
) -> str:
    """Write a quantity for people.

    Parameters
    ----------
    quantity : float or Measured
        SI value. Bounds are rounded away from the truth they enclose, never towards it.
    dimension : str
        One of :data:`DIMENSIONS`.
    digits : int
        Significant digits; digits before the point are always kept (1347 MΩ). Temperatures: one decimal.
    ascii : bool
        Write ``MOhm``, ``degC``, ``-`` and plain spaces.
    prefix : str or None
        Wanted prefix (``u`` for micro), left when it would take five digits or three leading zeros.
    trim : bool
        Drop zeros that end a decimal fraction (``5 kV``, for set values).

    Returns
    -------
    str
        With no-break spaces and the minus sign, unless `ascii`. :func:`parse` reads either.

    Raises
    ------
    QuantityError
        If the value is not finite.
    UsageError
        If the dimension or the prefix is not known.
    """
    if isinstance(quantity, Measured):
        return _written(quantity.value, quantity.bound, dimension, digits, prefix, ascii=ascii, trim=trim)
    return _written(float(quantity), None, dimension, digits, prefix, ascii=ascii, trim=trim)


@lru_cache(maxsize=4096)  # limits and marks come again with every record
def _written(
    value: float, bound: Bound | None, dimension: str, digits: int, prefix: str | None,
    *, ascii: bool, trim: bool,  # noqa: A002
) -> str:  # fmt: skip
    check_dimension(dimension)
    if prefix is not None and prefix not in POWERS:
        raise UsageError(f"Unknown prefix. Given: {prefix}. Allowed: {', '.join(filter(None, POWERS))}.")
    style, rounding = STYLES[dimension], _ROUNDING[bound]
    si = EXACT.subtract(Decimal(repr(Measured(value, bound).value)), style.shift)
    figure = PRINTABLE.plus(EXACT.divide(si, style.factor))
    if dimension == "time":
        text = clock_text(figure, digits, rounding)
    elif style.shift and abs(figure) < _PLAIN:
        text = f"{trimmed(figure.quantize(Decimal('0.1'), rounding, EXACT))} {style.symbol}"
    else:
        wanted = style.prefix if prefix is None else prefix
        if wanted is None or not _FEWEST <= abs(figure.scaleb(-POWERS[wanted])) < _FIVE_DIGITS:
            wanted = choose_prefix(figure, style.prefixes, digits, rounding)
        shown = figure.scaleb(-POWERS[wanted])
        if not figure:
            text = f"0 {style.symbol}"
        elif _TINY <= abs(shown) < (_MANY if style.prefixes else _PLAIN):
            shown = rounded(shown, digits, rounding)
            number = trimmed(shown) if trim or style.trim or bound else f"{shown:f}"
            text = f"{number} {wanted.replace('u', 'µ')}{style.symbol}"
        else:
            text = f"{scientific(figure, digits, rounding)} {style.symbol}"
    return (_SIGNS[bound] + text).strip().translate(_TO_ASCII if ascii else _TO_PRINT)


def format_exact(quantity: float | Measured, dimension: str) -> str:
    """Write a quantity for record files: the shortest ASCII text that :func:`parse` reads to the same float.

    Parameters
    ----------
    quantity : float or Measured
        SI value, or bound. A resistance of exactly 0 without a bound has no such text: ``0 Ohm`` reads as
        a bound, as it should.
    dimension : str
        One of :data:`DIMENSIONS`.

    Returns
    -------
    str
        E.g. ``2.5 GOhm``, ``> 10 TOhm``, ``27.5 degC``, ``90 s``.

    Raises
    ------
    QuantityError
        If the value is not finite.
    UsageError
        If the dimension is not known.
    """
    check_dimension(dimension)
    measured = quantity if isinstance(quantity, Measured) else Measured(float(quantity))
    text = ""
    for candidate in _exact_texts(Decimal(repr(measured.value)), dimension):
        text = (_SIGNS[measured.bound] + candidate).strip().translate(_TO_ASCII)
        with suppress(QuantityError):  # a neighbour past the largest float; the next candidate holds
            if parse(text, dimension) == measured:
                break
    return text


def _exact_texts(si: Decimal, dimension: str) -> Iterator[str]:
    """Yield the nicest writing first and one that always holds last."""
    style = STYLES[dimension]
    if style.shift:
        yield f"{shortest(EXACT.subtract(si, style.shift))} {style.symbol}"
        yield f"{shortest(si)} K"
        return
    figure = EXACT.divide(si, style.factor)
    if dimension == "ramp_rate":  # the factor 60 is no power of ten: try the figure somebody typed
        figure = PRINTABLE.plus(figure)
    prefix = choose_prefix(figure, style.prefixes if dimension != "time" else "", 17)
    yield f"{shortest(figure.scaleb(-POWERS[prefix]))} {prefix}{style.symbol}"
    if dimension == "ramp_rate":
        yield f"{shortest(si)} V/s"
