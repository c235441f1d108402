"""An asset's terminals inside its frame, drawn: how far each leaks to the frame, and the frame's earth."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from soakage.units import Bound, Measured, format_quantity

_STEP, _RADIUS, _TEXT = 132.0, 26.0, 14.0
_THIN, _THICK = 1.5, 9.0
MOST = 12


@dataclass(frozen=True, slots=True)
class Leak:
    """One section: its name, its resistance to everything that was earthed, and whether it stands badly.

    Parameters
    ----------
    name : str
        Of the section.
    resistance : float or None
        In ohm; None where it was never measured.
    bound : Bound or None
        Set when that only bounds the truth.
    bad : bool
        Whether its last verdict was to be investigated or unfit.
    """

    name: str
    resistance: float | None
    bound: Bound | None
    bad: bool


def sections_svg(leaks: Sequence[Leak], frame: str, across: int = 4) -> str:
    """Return the drawing as SVG in the page's own inks.

    Parameters
    ----------
    leaks : sequence of Leak
        In the order they stand.
    frame : str
        What the frame is called.
    across : int
        How many stand in one row.

    Returns
    -------
    str
        One ``svg`` element with its text alternative; empty where there is no section.
    """
    shown = list(leaks)[:MOST]
    if not shown:
        return ""
    across = min(across, len(shown))
    rows = math.ceil(len(shown) / across)
    row_high = 150.0
    wide, high = _STEP * across + 24, row_high * rows + 30
    parts = [
        f'<rect class="frame" x="4" y="4" width="{wide - 8:.0f}" height="{row_high * rows:.0f}" rx="14"/>',
        *_earth(wide, row_high * rows + 4, frame),
    ]
    least = min((leak.resistance for leak in shown if leak.resistance), default=0.0)
    for number, leak in enumerate(shown):
        x = 12 + _STEP * (number % across + 0.5)
        top = 4 + row_high * (number // across)
        parts += _one(leak, x, top, row_high, least)
    return (
        f'<svg class="sections" role="img" viewBox="0 0 {wide:.0f} {high:.0f}" width="{wide:.0f}" '
        f'height="{high:.0f}" aria-label="{escape(_alt(leaks, frame))}">{"".join(parts)}</svg>'
    )


def _one(leak: Leak, x: float, top: float, row_high: float, least: float) -> list[str]:
    y, rail = top + 44, top + row_high
    name = leak.name if len(leak.name) <= 14 else f"{leak.name[:13]}…"
    bad = " bad" if leak.bad else ""
    found = []
    if leak.resistance:
        # the leak is a conductance: each decade less of it is thinner by a third of the way
        share = max(0.0, 1 - math.log10(leak.resistance / least) / 3)
        wide = _THIN + (_THICK - _THIN) * share
        dash = "" if leak.bound is None else f' stroke-dasharray="{2 * wide + 4:.1f} {wide + 3:.1f}"'
        found.append(
            f'<path class="leak{bad}" d="M{x:.1f} {y + _RADIUS:.1f}V{rail - 1:.1f}" stroke-width="{wide:.1f}"{dash}/>'
        )
    found.append(f'<circle class="terminal{bad}" cx="{x:.1f}" cy="{y:.1f}" r="{_RADIUS:.0f}"/>')
    short = name.split()[-1] if len(name.split()[-1]) <= 4 else ""
    if short:
        found.append(_text(x, y + 5, short, "named"))
    if name != short:
        found.append(_text(x, top + 14, name, "small"))
    found.append(_text(x + 10, (y + _RADIUS + rail) / 2 + 5, _value(leak), f"value{bad}", "start"))
    return found


def _text(x: float, y: float, text: str, kind: str, anchor: str = "middle") -> str:
    return f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(text)}</text>'


def _earth(wide: float, y: float, frame: str) -> list[str]:
    x = wide / 2
    bars = "".join(
        f"M{x - half:.0f} {y + at:.0f}H{x + half:.0f}" for half, at in ((13, 10), (8, 15), (3, 20))
    )
    return [
        f'<path class="earth" d="M{x:.0f} {y:.0f}V{y + 10:.0f}{bars}"/>',
        _text(x + 22, y + 18, frame, "small", "start"),
    ]


def _value(leak: Leak) -> str:
    if leak.resistance is None:
        return "not measured"
    return format_quantity(Measured(leak.resistance, leak.bound), "resistance")


def _alt(leaks: Sequence[Leak], frame: str) -> str:
    told = ", ".join(f"{leak.name} {_value(leak)}" for leak in leaks)
    return f"Sections and their resistance to {frame}, by the newest test of each: {told}."
