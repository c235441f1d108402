"""The connection as rails, drawn for pages: live above, guard dashed, earth below, floating on none."""

from __future__ import annotations

from html import escape
from typing import Any

_WIDE, _HIGH = 560, 250
_LIVE, _GUARD, _EARTH = 40, 150, 215
_BOX = 44


def rails_svg(connection: dict[str, Any]) -> str:
    """Return the drawing of a connection as SVG in the page's own ink.

    Parameters
    ----------
    connection : dict
        ``items`` (``name``, ``rail``), ``live`` and ``alt``, as in the content of a record.

    Returns
    -------
    str
        One ``svg`` element with its text alternative.
    """
    items = connection["items"]
    guarded = any(item["rail"] == "guard" for item in items)
    meter = 172 if not guarded else 183
    drawn = [
        _line(30, _LIVE, 30, _EARTH),
        _line(28, _LIVE, _WIDE, _LIVE, width=5),
        _line(30, _EARTH, _WIDE, _EARTH),
        _circle(30, 90), '<path d="M18 85h24M18 95h5m4 0h5m4 0h5" stroke="currentColor" stroke-width="2"/>',
        _circle(30, meter), _text(30, meter + 5, "µA", size=13),
        _text(58, 26, ", ".join(filter(None, ("live", connection["live"]))), anchor="start", bold=True),
        _text(58, _EARTH + 26, "earth", anchor="start"),
        *(_line(526 + 5 * i, _EARTH + 14 + 7 * i, 558 - 5 * i, _EARTH + 14 + 7 * i) for i in range(3)),
        _line(_WIDE - 18, _EARTH, _WIDE - 18, _EARTH + 14),
    ]  # fmt: skip
    if guarded:
        drawn += [
            _line(30, 128, 70, 128), _line(70, 128, 70, _GUARD), _line(70, _GUARD, _WIDE, _GUARD, dash="9 5"),
            _text(78, _GUARD + 19, "guard", anchor="start"),
        ]  # fmt: skip
    if any(item["rail"] == "floating" for item in items):
        drawn.append(_text(190, _EARTH + 26, "dashed box: floating", anchor="start"))
    widths = [max(48, 10 * len(item["name"]) + 22) for item in items]
    room = _WIDE - 96 - 40
    scale = min(1.0, (room - 8 * (len(items) - 1)) / sum(widths)) if items else 1.0
    gap = min(40.0, (room - scale * sum(widths)) / max(1, len(items) - 1))
    left = 96.0
    for item, width in zip(items, widths, strict=True):
        drawn += _terminal(item["name"], item["rail"], left, width * scale, guarded=guarded)
        left += width * scale + gap
    return (
        f'<svg class="rails" role="img" viewBox="0 0 {_WIDE} {_HIGH}" '
        f'aria-label="{escape(connection["alt"])}">{"".join(drawn)}</svg>'
    )


def _terminal(name: str, rail: str, left: float, width: float, *, guarded: bool) -> list[str]:
    leg = 12 if guarded else 22
    rail_y = {"live": _LIVE, "guard": _GUARD}.get(rail, _EARTH)
    top = _LIVE + leg if rail == "live" else rail_y - leg - _BOX
    middle = left + width / 2
    live, floating = rail == "live", rail == "floating"
    drawn = []
    if not floating:
        drawn.append(_line(middle, rail_y, middle, top if live else top + _BOX))
        drawn.append(f'<circle cx="{middle:.1f}" cy="{rail_y}" r="5" fill="currentColor"/>')
    fill = "currentColor" if live else "none"
    dash = ' stroke-dasharray="7 5"' if floating else ""
    drawn.append(
        f'<rect x="{left:.1f}" y="{top}" width="{width:.1f}" height="{_BOX}" fill="{fill}" '
        f'stroke="currentColor" stroke-width="2.5"{dash}/>'
    )
    drawn.append(_text(middle, top + 28, name, size=16, css="on-live" if live else "", bold=live))
    return drawn


def _line(x1: float, y1: float, x2: float, y2: float, *, width: float = 2, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" stroke="currentColor" stroke-width="{width}" '
        f'fill="none"{dashed}/>'
    )


def _circle(x: float, y: float) -> str:
    return f'<circle class="on-ground" cx="{x}" cy="{y}" r="22" stroke="currentColor" stroke-width="2"/>'


def _text(
    x: float,
    y: float,
    words: str,
    *,
    anchor: str = "middle",
    size: int = 15,
    css: str = "",
    bold: bool = False,
) -> str:
    weight = ' font-weight="600"' if bold else ""
    style = f' class="{css}"' if css else ' fill="currentColor"'
    place = f'x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size}"'
    return f"<text {place}{weight}{style}>{escape(words)}</text>"
