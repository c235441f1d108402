"""Vega-Lite specifications of a record's plots, for paper and screens, and their SVG.

Measured lines are heavy, parts worked out dashed or dotted, marks ringed; a bound is a triangle that
points to the open side; a limit has strokes on its forbidden side. Names stand at the lines: no legend.
"""

from __future__ import annotations

import math
import re
from typing import Any

from soakage.report import typeface
from soakage.report.axes import Axis, axis
from soakage.report.looks import Look, look

Spec = dict[str, Any]
Channel = dict[str, Any]
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
    layers = [
        *_limits(plot, style, x_axis, y_axis, x, y, inner[1]),
        *_needs(plot, style, x, y),
        *_lines(plot, style, x, y),
        *_limit_names(plot, style, x_axis, x, y, inner[0]),
        *_points(plot, style, x, y),
        *_labels(plot, style, x_axis, y_axis, x, y),
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
    points = [p for line in plot["lines"] for p in line["points"]]
    points += [*plot["rings"], *plot["bounds"]]
    xs = [p[0] for p in points]
    ys = [p[1] for p in points] + [entry["level"] for entry in plot["limits"]]
    ys += [need["to"][1] for need in plot["needs"]]
    x, y = plot["x"], plot["y"]
    return (
        axis(xs, x["dimension"], log=x["log"], length=width, text=style.text),
        axis(ys, y["dimension"], log=y["log"], length=height, text=style.text, upright=True),
    )


def _channel(name: str, shown: Axis) -> dict[str, Any]:
    scale: dict[str, Any] = {"domain": [shown.low, shown.high], "nice": False, "zero": False}
    if shown.log:
        scale |= {"type": "log"}
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


def _layer(values: list[dict[str, Any]], mark: dict[str, Any], **encoding: object) -> dict[str, Any]:
    return {"data": {"values": values}, "mark": mark, "encoding": encoding}


def _text(
    style: Look, values: list[dict[str, Any]], x: Channel, y: Channel, **mark: object
) -> list[dict[str, Any]]:
    """Return a text with a halo of the ground, so that no line runs through it."""
    mark = {"type": "text", "font": typeface.FAMILY, "fontSize": style.text, "color": style.ink, **mark}
    halo = {**mark, "stroke": style.ground, "strokeWidth": style.text * 0.36, "strokeJoin": "round"}
    shown = {"x": x, "y": y, "text": {"field": "s", "type": "nominal"}}
    return [
        _layer(values, halo | {"color": style.ground, "aria": False}, **shown),
        _layer(values, mark, **shown),
    ]


def _limits(
    plot: Plot, style: Look, x_axis: Axis, y_axis: Axis, x: Channel, y: Channel, inner_height: float
) -> list[dict[str, Any]]:
    layers: list[dict[str, Any]] = []
    extent = (y_axis.high / y_axis.low) if y_axis.log else (y_axis.high - y_axis.low)
    for entry in plot["limits"]:
        level, count = entry["level"], 36
        drop = extent ** (-style.stroke / inner_height)
        strokes = []
        for i in range(count):
            start = _along(x_axis, (i + 0.6) / count)
            strokes.append(
                {"x": start, "y": level, "x2": _along(x_axis, (i + 0.15) / count), "y2": level * drop}
            )
        edge = [{"x": x_axis.low, "y": level, "x2": x_axis.high}]
        layers += [
            _layer(
                strokes, {"type": "rule", "strokeWidth": style.thin * 0.7, "color": style.ink, "clip": True},
                x=x, y=y, x2={"field": "x2"}, y2={"field": "y2"},
            ),
            _layer(
                edge, {"type": "rule", "strokeWidth": style.thin, "color": style.ink, "clip": True},
                x=x, y=y, x2={"field": "x2"},
            ),
        ]  # fmt: skip
    return layers


def _limit_names(
    plot: Plot, style: Look, x_axis: Axis, x: Channel, y: Channel, inner_width: float
) -> list[dict[str, Any]]:
    layers: list[dict[str, Any]] = []
    for entry in plot["limits"]:
        right = _nearest_side(plot, entry["level"]) == "left"
        at = x_axis.high if right else x_axis.low
        text = entry["text"]
        if 0.52 * style.text * len(text) > inner_width:
            text = text.partition(" = ")[
                0
            ]  # a narrow chart leaves out what it is at the reading's temperature
        layers += _text(
            style, [{"x": at, "y": entry["level"], "s": text}], x, y,
            align="right" if right else "left", baseline="bottom", dx=style.text * (-0.3 if right else 0.3),
            dy=-style.text * 0.25,
        )  # fmt: skip
    return layers


def _nearest_side(plot: Plot, level: float) -> str:
    """Return the side on which the readings come nearest to a limit: its text stands on the other."""
    points = [p for line in plot["lines"] if line["role"] == "measured" for p in line["points"]]
    if not points:
        return "right"
    first, last = points[0][1], points[-1][1]
    return "left" if abs(math.log(first / level)) < abs(math.log(last / level)) else "right"


def _along(shown: Axis, share: float) -> float:
    if shown.log:
        return float(shown.low * (shown.high / shown.low) ** share)
    return shown.low + (shown.high - shown.low) * share


def _needs(plot: Plot, style: Look, x: Channel, y: Channel) -> list[dict[str, Any]]:
    """Return the slope a ratio limit asks for, and the gap to the reading."""
    layers: list[dict[str, Any]] = []
    for need in plot["needs"]:
        (x0, y0), (x1, y1) = need["from"], need["to"]
        thin = {"strokeWidth": style.thin * 0.75, "color": style.second}
        short = need["reading"] < y1
        layers += [
            _layer([{"x": x0, "y": y0}, {"x": x1, "y": y1}], {"type": "line", **thin}, x=x, y=y),
            _layer(
                [{"x": x1, "y": y1}],
                {"type": "tick", "orient": "horizontal", "size": style.text * 1.6, "thickness": style.thin,
                 "color": style.ink}, x=x, y=y,
            ),
            _layer(
                [{"x": x1, "y": y1, "y2": need["reading"]}], {"type": "rule", **thin},
                x=x, y=y, y2={"field": "y2"},
            ),
            *_text(
                style, [{"x": x1, "y": y1, "s": need["text"]}], x, y, align="right",
                baseline="bottom" if short else "top", dx=style.text * 0.9,
                dy=style.text * (-0.5 if short else 1.7), color=style.second,
            ),
        ]  # fmt: skip
    return layers


def _lines(plot: Plot, style: Look, x: Channel, y: Channel) -> list[dict[str, Any]]:
    layers: list[dict[str, Any]] = []
    names: list[dict[str, Any]] = []  # after all lines: a name's halo opens whatever runs below it
    for line in plot["lines"]:
        measured, steady = line["role"] == "measured", line["role"] == "constant"
        mark: dict[str, Any] = {
            "type": "line", "clip": True, "interpolate": "linear", "strokeJoin": "round", "strokeCap": "butt",
            "strokeWidth": style.heavy if measured else style.thin,
            "color": style.ink if measured else style.model,
        }  # fmt: skip
        if not measured:
            mark["strokeDash"] = list(style.dots if steady else style.dashes)
        layers.append(_layer([{"x": a, "y": b} for a, b in line["points"]], mark, x=x, y=y))
        if line.get("text") and line["points"]:
            anchor = line["points"][0 if steady else len(line["points"]) * 3 // 4]
            names += _text(
                style, [{"x": anchor[0], "y": anchor[1], "s": line["text"]}], x, y,
                align="left" if steady else "right", baseline="bottom" if steady else "top",
                dy=style.text * (-0.3 if steady else 0.2), dx=0 if steady else -style.text * 0.5,
                color=style.model,
            )  # fmt: skip
    return layers + names


def _points(plot: Plot, style: Look, x: Channel, y: Channel) -> list[dict[str, Any]]:
    layers: list[dict[str, Any]] = []
    few = [p for line in plot["lines"] if line["role"] == "measured" for p in line["points"]]
    if len(few) <= 24 and plot["kind"] in ("resistance", "current", "ramp"):
        layers.append(_dots(style, few, x, y, fill=style.ink, size=style.ring * 0.4))
    layers.append(_dots(style, plot["rings"], x, y, fill=style.ground, size=style.ring))
    for up, shape in ((1, "triangle-up"), (-1, "triangle-down")):
        found = [p for p in plot["bounds"] if p[2] == up]
        layers.append(_dots(style, found, x, y, fill=style.ink, size=style.ring * 1.3, shape=shape))
    return [layer for layer in layers if layer["data"]["values"]]


def _dots(style: Look, points: list[list[float]], x: Channel, y: Channel, **mark: object) -> dict[str, Any]:
    shown = {
        "type": "point",
        "filled": True,
        "stroke": style.ink,
        "strokeWidth": style.thin * 1.2,
        "opacity": 1,
    }
    return _layer([{"x": p[0], "y": p[1]} for p in points], {**shown, **mark}, x=x, y=y)


def _labels(
    plot: Plot, style: Look, x_axis: Axis, y_axis: Axis, x: Channel, y: Channel
) -> list[dict[str, Any]]:
    layers: list[dict[str, Any]] = []
    middle, above = _along(x_axis, 0.8), plot["kind"] == "ramp"
    for at, value, text in plot["labels"]:
        end = at >= middle
        layers += _text(
            style, [{"x": at, "y": value, "s": text}], x, y, fontWeight=600,
            align="right" if end else "left", baseline="bottom" if above else "top",
            dx=style.text * (-0.6 if above else 0.8 if end else 0.3),
            dy=style.text * (-0.5 if above else 0.8),
        )  # fmt: skip
    for at, text in plot.get("bands", ()):
        layers += _text(
            style, [{"x": at, "y": y_axis.high, "s": text}], x, y, align="center", baseline="top",
            dy=-style.text * 0.6, color=style.second,
        )  # fmt: skip
    return layers
