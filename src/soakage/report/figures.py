"""Figures as reports print them: value and uncertainty at one decimal and one prefix, dates in words."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from soakage.model.verdict import QuantityValue
from soakage.quantities import lookup
from soakage.units import Bound, Measured, format_quantity, unit

DASH = "–"
COVERAGE = 2.0
"""Coverage factor of printed uncertainties, about 95 % of a normal distribution (JCGM 100, from memory)."""

NBSP = "\u00a0"
# Shares that the trade reads in per cent.
_SHARES = ("voltage_dependence", "excess_current_share", "residual_current_share")


@dataclass(frozen=True, slots=True)
class Printed:
    """One quantity as printed.

    Parameters
    ----------
    value : str
        The figure as it stands beside its uncertainty.
    plus_minus : str
        Its expanded uncertainty; empty where there is none.
    unit : str
        The unit of both.
    alone : str
        The figure as it stands without its uncertainty: three significant digits.
    """

    value: str
    plus_minus: str
    unit: str
    alone: str

    @property
    def whole(self) -> str:
        """Figure and unit, without the uncertainty."""
        return f"{self.alone}{NBSP}{self.unit}".strip()

    @property
    def with_uncertainty(self) -> str:
        """Value, uncertainty where there is one, and unit."""
        if not self.plus_minus:
            return self.whole
        return f"{self.value}{NBSP}±{NBSP}{self.plus_minus}{NBSP}{self.unit}".strip()


def dimension_of(quantity_id: str) -> str:
    """Return the dimension a quantity is printed in."""
    return "fraction" if quantity_id in _SHARES else lookup(quantity_id).dimension


def printed(quantity: QuantityValue, *, prefix: str | None = None) -> Printed:
    """Return a quantity as printed.

    Parameters
    ----------
    quantity : QuantityValue
        In SI.
    prefix : str or None
        Wanted prefix of a resistance, left where it would take five digits or three leading zeros.

    Returns
    -------
    Printed
        The uncertainty is expanded (k = 2), at most two significant digits; the value stops at the same
        decimal. Without one there are three significant digits. A bound has its sign and no uncertainty.
    """
    dimension = dimension_of(quantity.id)
    if not math.isfinite(quantity.value):
        return Printed(DASH, "", "", DASH)
    text = format_quantity(
        Measured(float(quantity.value), quantity.bound),
        dimension,
        prefix=prefix if dimension == "resistance" else None,
    )
    value, symbol = _split(text)
    if quantity.bound is not None or quantity.uncertainty is None or not math.isfinite(quantity.uncertainty):
        return Printed(value, "", symbol, value)
    scale, offset = _scale(symbol, dimension)
    expanded = COVERAGE * quantity.uncertainty / scale
    if "E" in value:
        return Printed(value, f"{expanded:.1E}", symbol, value)
    if expanded <= 0:
        return Printed(value, "0", symbol, value)
    places = min(6, max(0, 1 - math.floor(math.log10(expanded))))
    places = max(0, places - 1) if float(f"{expanded:.{places}f}") >= 10 ** (2 - places) else places
    shown = f"{(quantity.value - offset) / scale:.{places}f}".replace("-", "−")
    return Printed(shown, f"{expanded:.{places}f}", symbol, value)


def _split(text: str) -> tuple[str, str]:
    """Return figure and unit of a formatted quantity; a sign of a bound stays with its figure."""
    at = max((i for i, c in enumerate(text) if c.isdigit()), default=0) + 1
    return text[:at], text[at:].strip(NBSP + " ")


def _scale(symbol: str, dimension: str) -> tuple[float, float]:
    if symbol == "%":
        return 0.01, 0.0
    if not symbol:
        return 1.0, 0.0
    found = unit(symbol, dimension)
    return found.scale, found.offset


def quantity_text(
    value: float | None, dimension: str, bound: Bound | None = None, *, trim: bool = False
) -> str:
    """Return a figure with its unit, or an en dash where there is none."""
    if value is None or not math.isfinite(value):
        return DASH
    return format_quantity(Measured(float(value), bound), dimension, trim=trim)


def column(
    values: Sequence[float], dimension: str, bounds: Sequence[Bound | None] = ()
) -> tuple[list[str], str]:
    """Return a column of figures in one unit, and that unit.

    Parameters
    ----------
    values : sequence of float
        In SI; NaN is an en dash.
    dimension : str
        As in :mod:`soakage.units`.
    bounds : sequence of Bound or None
        As many as values, or none at all.

    Returns
    -------
    tuple of list of str and str
        Three significant digits at least for the largest, all at one decimal.
    """
    finite = sorted(abs(v) for v in values if math.isfinite(v) and v)
    if not finite:
        return [DASH if not math.isfinite(v) else "0" for v in values], _split(
            format_quantity(0.0, dimension)
        )[1]
    symbol = _split(format_quantity(finite[len(finite) // 2], dimension))[1]
    scale, offset = _scale(symbol, dimension)
    largest = max(abs(v - offset) / scale for v in values if math.isfinite(v))
    places = min(4, max(0, 2 - math.floor(math.log10(largest)))) if largest > 0 else 0
    signs = {Bound.LOWER: f">{NBSP}", Bound.UPPER: f"<{NBSP}", None: ""}
    texts = []
    for i, value in enumerate(values):
        sign = signs[bounds[i]] if bounds else ""
        figure = f"{(value - offset) / scale:.{places}f}".replace("-", "−") if math.isfinite(value) else DASH
        texts.append(sign + figure if figure != DASH else DASH)
    return texts, symbol


def hang(figures: Sequence[str]) -> tuple[int, int]:
    """Return digits before and after the point that a column of figures needs."""
    whole = max((len(f.partition(".")[0]) for f in figures), default=1)
    part = max((len(f.partition(".")[2]) for f in figures), default=0)
    return whole, part


def day(when: date | None) -> str:
    """Return a date in words, an en dash without one."""
    if when is None:
        return DASH
    return f"{when.day}{NBSP}{_MONTHS[when.month - 1]} {when.year}"


def moment(when: date | None) -> str:
    """Return date and time of day where the time was stated."""
    if isinstance(when, datetime):
        return f"{day(when)}, {when:%H:%M}"
    return day(when)


def listed(names: Sequence[str]) -> str:
    """Return names as a list in words."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def counted(number: int, noun: str) -> str:
    """Return a count with its noun, as in ``1 record`` and ``2 records``."""
    return f"{number}{NBSP}{noun}" if number == 1 else f"{number}{NBSP}{noun}s"


def unparted(value: object) -> object:
    """Return a JSON value in whose texts a figure and its unit, or "cl." and its number, never part."""
    if isinstance(value, str):
        return _PARTED.sub(NBSP, value)
    if isinstance(value, dict):
        return {key: unparted(item) for key, item in value.items()}
    if isinstance(value, list):
        return [unparted(item) for item in value]
    return value


def written_out(value: object) -> object:
    """Return a JSON value in whose texts every sign that controls or turns text is written as its Unicode number.

    A sign that overrides the direction of writing would show a figure or a verdict turned round.
    """
    if isinstance(value, str):
        return value if value.isprintable() else _CONTROLS.sub(lambda m: f"[U+{ord(m[0]):04X}]", value)
    if isinstance(value, dict):
        return {key: written_out(item) for key, item in value.items()}
    if isinstance(value, list):
        return [written_out(item) for item in value]
    return value


# Controls but tab and line ends, half characters, and what embeds, overrides or isolates a direction (UAX #9,
# from memory); marks of direction alone are left: names in other scripts need them.
_CONTROLS = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ufffe\uffff\ud800-\udfff]"
)
_PARTED = re.compile(
    r"(?<=\d) (?=(?:[fpnumµkMGT]?(?:Ω|V|A|F|s|J|W|VA|m|Hz|C)|°C|K|%|min|h|V/min|kV/min)(?![\w]))"
    r"|(?<=\bcl\.) (?=\d)|(?<=\bs\.) (?=\d)|(?<=\bno\.) (?=\w)|(?<=Std) (?=\d)|(?<=Table) (?=\d)"
)
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip
