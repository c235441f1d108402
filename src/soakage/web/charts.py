"""Charts on pages: the specification of the report's, drawn at once, and livelier when the library is there.

A page hands a plot to :func:`drawn` and shows what it gets with the macro ``chart``.  The plot waits on a shelf
under the hash of its content, from where its drawings, numbers and specification are served.
"""

from __future__ import annotations

import base64
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from fastapi import Request

from soakage.report import charts, typeface
from soakage.report.looks import look as ink
from soakage.units import Bound
from soakage.web.chart_data import Plot, cut, name_of, numbers, table, written
from soakage.web.font_subset import subset
from soakage.web.house import house
from soakage.web.rendering import look_of

WIDE, NARROW = (1000, 380), (350, 320)
NARROW_SCREEN = "(max-width: 37.5em)"
_MOST_READINGS = 1500


@dataclass(frozen=True, slots=True)
class Drawn:
    """What the macro ``chart`` shows.

    Parameters
    ----------
    address : str
        Where its files are, without their ending.
    title, scales, alt : str
        What it shows, how its axes run, and what is to be seen in one sentence.
    image : str
        Address of the drawing.
    sources : tuple of (str, str)
        Media query and drawing for other screens.
    width, height : int
        In pixels.
    log, may_be_log : bool
        Whether an axis is logarithmic.
    heads, rows : list
        The same numbers as a table.
    """

    address: str
    title: str
    scales: str
    alt: str
    image: str
    sources: tuple[tuple[str, str], ...]
    width: int
    height: int
    log: bool
    may_be_log: bool
    heads: list[str]
    rows: list[list[str]]


def drawn(
    request: Request, plot: Plot, *, wide: tuple[int, int] = WIDE, narrow: tuple[int, int] = NARROW
) -> Drawn:
    """Put a plot on the shelf and return what the macro ``chart`` shows.

    Parameters
    ----------
    request : Request
        For whom.
    plot : dict
        From :func:`soakage.report.plots.plots`.
    wide, narrow : tuple of int
        Width and height in pixels on a desk and on a phone.
    """
    return framed(request, f"/charts/{house(request).shelf.put(plot)}", plot, wide=wide, narrow=narrow)


def framed(
    request: Request, at: str, plot: Plot, *, wide: tuple[int, int] = WIDE, narrow: tuple[int, int] = NARROW
) -> Drawn:
    """Return what the macro ``chart`` shows of a plot that is drawn at an address of its own, when it is asked for.

    Parameters
    ----------
    request : Request
        For whom.
    at : str
        Where its drawings, numbers and specification are served, without their ending.
    plot : dict
        What it shows; its lines need to hold the readings only.
    wide, narrow : tuple of int
        Width and height in pixels on a desk and on a phone.
    """

    def file(look: str, size: tuple[int, int]) -> str:
        return f"{at}.svg?look=screen-{look}&width={size[0]}&height={size[1]}"

    chosen = look_of(request)
    first = "dark" if chosen == "dark" else "light"
    sources = [(NARROW_SCREEN, file(first, narrow))]
    if chosen == "system":
        dark = "(prefers-color-scheme: dark)"
        sources = [
            (f"{NARROW_SCREEN} and {dark}", file("dark", narrow)),
            (dark, file("dark", wide)),
            *sources,
        ]
    heads, rows = table(plot)
    log = bool(plot["x"]["log"] or plot["y"]["log"])
    return Drawn(
        at,
        plot["title"],
        _scales(plot),
        plot["alt"],
        file(first, wide),
        tuple(sources),
        *wide,
        log,
        log,
        heads,
        rows,
    )


def _scales(plot: Plot) -> str:
    logs = [name_of(plot[axis]["dimension"])[0].lower() for axis in ("x", "y") if plot[axis]["log"]]
    if len(logs) == 2:
        return "logarithmic both ways"
    return f"{logs[0]} on a logarithmic scale" if logs else ""


def picture(plot: Plot, look: str, width: int, height: int) -> bytes:
    """Return a plot as SVG with its typeface inside, so that it looks the same wherever it is opened.

    Parameters
    ----------
    plot : dict
        From :func:`soakage.report.plots.plots`.
    look : str
        As in :mod:`soakage.report.looks`.
    width, height : int
        In pixels.
    """
    specification = charts.spec(plot, look, width=width, height=height)
    specification["config"]["background"] = ink(look).ground
    return with_typeface(charts.svg(specification, "c"))


def with_typeface(svg: str) -> bytes:
    """Return a drawing with the signs it uses of its typeface inside: a picture has none of its page's.

    Parameters
    ----------
    svg : str
        One ``svg`` element.
    """
    characters = "".join(sorted(set("".join(re.findall(r">([^<]+)<", svg)))))
    faces = "".join(
        f'@font-face{{font-family:"{typeface.FAMILY}";font-weight:{weight};'
        f"src:url(data:font/ttf;base64,{_face(name, characters)})}}"
        for weight, name in (("400", "Regular"), ("600", "SemiBold"))
        if weight == "400" or 'font-weight="600"' in svg
    )
    start = svg.index(">") + 1
    return f"{svg[:start]}<style>{faces}</style>{svg[start:]}".encode()


def bitmap(plot: Plot, width: int, height: int) -> bytes:
    """Return a plot as PNG at twice its size, on a light ground."""
    import vl_convert

    specification = charts.spec(plot, "screen-light", width=width, height=height)
    specification["config"]["background"] = ink("screen-light").ground
    return bytes(vl_convert.svg_to_png(charts.svg(specification, "c"), scale=2))


def lively(
    plot: Plot, width: int, height: int, low: float | None, high: float | None, *, log: bool | None
) -> dict[str, Any]:
    """Return what the script of a chart needs: the specification, and each reading in words.

    Parameters
    ----------
    plot : dict
        From :func:`soakage.report.plots.plots`.
    width, height : int
        Room it has, in pixels.
    low, high : float or None
        Part of the first axis, in SI.
    log : bool or None
        False for linear axes.
    """
    shown = cut(plot, low, high, log=log)
    x, y = shown["x"]["dimension"], shown["y"]["dimension"]
    points = numbers(shown)
    every = -(-len(points) // _MOST_READINGS)

    def said(a: float, b: float, bound: Bound | None) -> str:
        return f"{written(a, x)}: {written(b, y, bound)}"

    return {
        "spec": charts.spec(shown, "screen", width=width, height=height),
        "readings": [{"x": a, "y": b, "said": said(a, b, bound)} for a, b, bound in points[::every]],
        "whole": low is None and high is None,
    }


@lru_cache(maxsize=64)
def _face(name: str, characters: str) -> str:
    font = (typeface.folder() / f"FiraSans-{name}.ttf").read_bytes()
    return base64.b64encode(subset(font, characters, figures=False)).decode()
