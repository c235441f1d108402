"""Vega-Lite specifications of a record's plots, for paper and screens, and their SVG.

Measured lines are heavy, parts worked out dashed or dotted, marks ringed; a bound is a triangle that
points to the open side; a limit has strokes on its forbidden side. Names stand at the lines: no legend.
"""

from __future__ import annotations

import re
from typing import Any

from soakage.report import typeface
from soakage.report.axes import Axis, axis
from soakage.report.chart_layers import Frame, areas, limits, lines, needs, peers, points
from soakage.report.chart_texts import texts
from soakage.report.looks import Look, look

Spec = dict[str, Any]
Plot = dict[str, Any]


def spec(plot: Plot, look_name: str, *, width: float, height: float) -> Spec:
    """Return the Vega-Lite specification of a plot.

    Parameters
    ----------
    plot : dict
        From :func:`soakage.report.plots.plots`.
    look_name : str
        ``paper``, ``screen`` (colours as the page's tokens), ``screen-light`` or ``screen-dark``.
    width, height : float
        Outer size in points (paper) or pixels (screen).

    Returns
    -------
    dict
        A plain specification with its data inside.
    """
    style = look(look_name)
    x_axis, y_axis = _axes(plot, style, width - 9 * style.text, height - 3.9 * style.text)
    wide_letter = 0.56 if look_name == "paper" else 0.66  # a screen may have only a wider typeface
    left = wide_letter * style.text * max((len(t) for t in y_axis.texts), default=4) + 9
    pad = {"left": left, "right": 2.2 * style.text, "top": 1.3 * style.text, "bottom": 2.6 * style.text}
    inner = width - pad["left"] - pad["right"], height - pad["top"] - pad["bottom"]
    x, y = _channel("x", x_axis), _channel("y", y_axis)
    frame = Frame(style, x_axis, y_axis, x, y, *inner)
    layers = [
        *peers(plot, frame),
        *areas(plot, frame),
        *limits(plot, frame),
        *needs(plot, frame),
        *lines(plot, frame),
        *points(plot, frame),
        *texts(plot, frame),
    ]
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "description": plot["alt"],
        "autosize": {"type": "none"},
        "padding": pad,
        "width": inner[0],
        "height": inner[1],
        "layer": layers,
        "config": _config(style),
    }


def svg(specification: Spec, name: str) -> str:
    """Return the SVG of a specification.

    Parameters
    ----------
    specification : dict
        From :func:`spec`.
    name : str
        Put in front of the ids inside, so that several can stand on one page.

    Returns
    -------
    str
        The same text for the same input, whatever was drawn before.
    """
    import vl_convert

    if not _registered:
        vl_convert.register_font_directory(str(typeface.folder()))
        _registered.append(typeface.FAMILY)
    drawn = vl_convert.vegalite_to_svg(specification)
    numbers: dict[str, str] = {}  # clip ids count on through the process
    return re.sub(
        r"\b(clip|gradient_)(\d+)", lambda m: numbers.setdefault(m[0], f"{name}-{len(numbers)}"), drawn
    )


_registered: list[str] = []


def _axes(plot: Plot, style: Look, width: float, height: float) -> tuple[Axis, Axis]:
    drawn = [p for line in plot["lines"] for p in line["points"]]
    drawn += [*plot["rings"], *plot["bounds"], *((n["to"][0], n["to"][1]) for n in plot["needs"])]
    drawn += [(at, edge) for at, *edges in (*plot.get("bars", ()), *plot.get("area", ())) for edge in edges]
    xs = [p[0] for p in drawn] + [rule["at"] for rule in plot.get("rules", ())]
    ys = [p[1] for p in drawn] + [entry["level"] for entry in plot["limits"]]
    band = plot.get("peers")
    ys += [band["low"], band["high"]] if band else []
    x, y = plot["x"], plot["y"]
    if y["log"]:  # room for the name of a steady part, which mostly lies lowest
        ys += [line["points"][0][1] / 1.6 for line in plot["lines"] if line["role"] == "constant"]
    return (
        axis(xs, x["dimension"], log=x["log"], length=width, text=style.text),
        axis(ys, y["dimension"], log=y["log"], length=height, text=style.text, upright=True),
    )


def _channel(name: str, shown: Axis) -> dict[str, Any]:
    scale: dict[str, Any] = {"domain": [shown.low, shown.high], "nice": False}
    scale |= {"type": "log"} if shown.log else {"zero": False}
    return {
        "field": name,
        "type": "quantitative",
        "scale": scale,
        "axis": {"values": list(shown.ticks), "labelExpr": shown.label_expression, "title": None},
    }


def _config(style: Look) -> dict[str, Any]:
    grid = {"grid": True, "gridColor": style.grid, "gridWidth": 1} if style.grid else {"grid": False}
    shared = {
        "domainColor": style.ink, "domainWidth": style.thin * 0.75, "tickColor": style.ink,
        "tickWidth": style.thin * 0.75, "tickSize": style.text * 0.45, "labelFont": typeface.FAMILY,
        "labelFontSize": style.text, "labelColor": style.second, "labelPadding": style.text / 3,
        "labelOverlap": False, "labelFlush": False, "offset": 3,
    }  # fmt: skip
    return {
        "background": "transparent",
        "font": typeface.FAMILY,
        "view": {"stroke": None},
        "axisX": {**shared, "grid": False},
        "axisY": {**shared, **grid},
    }
