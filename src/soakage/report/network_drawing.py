"""The resistances between terminals as a drawing: boxes on their rail, a value on each link, earth below."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from itertools import pairwise
from typing import Any

_PAPER = {"text": 7.5, "line": 0.9, "rail": 1.6, "ink": "#000", "ground": "#fff", "family": "Fira Sans"}
_SCREEN = {"text": 15, "line": 2, "rail": 4, "ink": "currentColor", "ground": "var(--ground)", "family": ""}


def network_svg(content: Mapping[str, Any], *, paper: bool, width: float) -> str:
    """Return the drawing of a network as SVG.

    Parameters
    ----------
    content : mapping
        ``terminals``, ``earth``, ``links`` (``between``, ``text``, ``resolved``) and ``alt``.
    paper : bool
        Black ink and the report's typeface, else the page's own.
    width : float
        In points or pixels.

    Returns
    -------
    str
        One ``svg`` element with its text alternative.
    """
    pen = _Pen(_PAPER if paper else _SCREEN)
    text = float(pen.style["text"])
    terminals: Sequence[str] = content["terminals"]
    across = [link for link in content["links"] if content["earth"] not in link["between"]]
    down = {
        name: link
        for link in content["links"]
        if content["earth"] in link["between"]
        for name in link["between"]
        if name != content["earth"]
    }
    places = {name: width * (i + 0.5) / max(1, len(terminals)) for i, name in enumerate(terminals)}
    levels = _levels(across, terminals)
    high, pitch = 2.6 * text, 2.3 * text
    top = 0.8 * text + pitch * (max(levels, default=-1) + 1)
    rail = top + high + 6.2 * text
    count: dict[str, int] = {name: sum(name in link["between"] for link in across) for name in terminals}
    used = dict.fromkeys(terminals, 0)
    for link, level in sorted(zip(across, levels, strict=True), key=lambda entry: entry[1]):
        ends = sorted(link["between"], key=terminals.index)
        y = top - pitch * (level + 0.6)
        xs = []
        for side, name in zip((1, -1), ends, strict=True):
            step = 1.1 * text * (used[name] + 1) / max(1, count[name])
            used[name] += 1
            xs.append(places[name] + side * step)
        pen.link([(xs[0], top), (xs[0], y), (xs[1], y), (xs[1], top)], resolved=link["resolved"])
        pen.value((xs[0] + xs[1]) / 2, y, link["text"])
    for name, x in places.items():
        if name in down:
            pen.link([(x, top + high), (x, rail)], resolved=down[name]["resolved"])
            pen.value(x, (top + high + rail) / 2, down[name]["text"])
        pen.box(x, top, max(3.4 * text, 0.62 * text * len(name) + 1.2 * text), high, name)
    pen.rail(0.0, width, rail, content["earth"])
    return pen.svg(width, rail + 2.6 * text, content["alt"])


def _levels(links: Sequence[Mapping[str, Any]], terminals: Sequence[str]) -> list[int]:
    """Return the height of each link over the boxes: short ones low, none over another at the same height."""
    spans = [tuple(sorted(terminals.index(name) for name in link["between"])) for link in links]
    levels = [0] * len(links)
    taken: list[list[tuple[int, ...]]] = []
    for place in sorted(range(len(links)), key=lambda i: (spans[i][1] - spans[i][0], spans[i])):
        low, high = spans[place]
        level = next(
            (k for k, row in enumerate(taken) if all(high <= a or low >= b for a, b in row)), len(taken)
        )
        if level == len(taken):
            taken.append([])
        taken[level].append((low, high))
        levels[place] = level
    return levels


class _Pen:
    """Writes the parts of a drawing in one ink."""

    def __init__(self, style: Mapping[str, Any]) -> None:
        self.style = style
        self._parts: list[str] = []

    def link(self, corners: Sequence[tuple[float, float]], *, resolved: bool) -> None:
        """Draw a link, dashed where the readings do not resolve it."""
        wide = self.style["line"]
        dash = "" if resolved else f' stroke-dasharray="{4 * wide:g} {2.5 * wide:g}"'
        for (x1, y1), (x2, y2) in pairwise(corners):
            self._parts.append(
                f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{self.style["ink"]}" '
                f'stroke-width="{wide}"{dash}/>'
            )

    def value(self, x: float, y: float, text: str) -> None:
        """Write a value on its link, which it interrupts."""
        size = self.style["text"]
        half = 0.3 * size * len(text) + 0.3 * size
        self._parts.append(
            f'<rect x="{x - half:.1f}" y="{y - 0.7 * size:.1f}" width="{2 * half:.1f}" height="{1.4 * size:.1f}" '
            f'fill="{self.style["ground"]}"/>'
        )
        self._text(x, y + 0.35 * size, text)

    def box(self, x: float, y: float, wide: float, high: float, name: str) -> None:
        """Draw a terminal: a black box with its name."""
        ink = self.style["ink"]
        self._parts.append(
            f'<rect x="{x - wide / 2:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{high:.1f}" fill="{ink}"/>'
        )
        self._text(x, y + high / 2 + 0.35 * self.style["text"], name, fill=self.style["ground"], weight=600)

    def rail(self, left: float, right: float, y: float, name: str) -> None:
        """Draw the earth rail with its sign and name."""
        size, ink = self.style["text"], self.style["ink"]
        self._parts.append(
            f'<line x1="{left:.1f}" y1="{y:.1f}" x2="{right:.1f}" y2="{y:.1f}" stroke="{ink}" '
            f'stroke-width="{self.style["rail"]}"/>'
        )
        middle = right - 1.2 * size
        self.link([(middle, y), (middle, y + 0.7 * size)], resolved=True)
        for step, half in enumerate((0.9, 0.6, 0.3)):
            at = y + (0.7 + 0.45 * step) * size
            self.link([(middle - half * size, at), (middle + half * size, at)], resolved=True)
        self._text(left + 0.3 * size, y + 1.4 * size, name, anchor="start")

    def _text(
        self, x: float, y: float, text: str, *, fill: str = "", anchor: str = "middle", weight: int = 400
    ) -> None:
        family = f' font-family="{self.style["family"]}"' if self.style["family"] else ""
        self._parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{self.style["text"]}" '
            f'font-weight="{weight}" fill="{fill or self.style["ink"]}"{family}>{escape(text)}</text>'
        )

    def svg(self, width: float, height: float, alt: str) -> str:
        """Return the whole drawing."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="network" role="img" width="{width:.1f}" '
            f'height="{height:.1f}" viewBox="0 0 {width:.1f} {height:.1f}" aria-label="{escape(alt)}">'
            f"{''.join(self._parts)}</svg>"
        )
