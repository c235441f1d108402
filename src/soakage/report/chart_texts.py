"""Texts of a chart: each stands beside what it names, where it crosses nothing drawn."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from soakage.report import typeface
from soakage.report.chart_layers import RULE_GAP, Frame, Layer, layer
from soakage.report.placing import Label, Placed, place, ring, trail

Plot = dict[str, Any]
_LETTER = 0.56  # of the size of the text, with some air; a browser may have only a wider typeface
_BESIDE_LINE = (
    "above", "below", "right", "left", "below left", "above right", "above left", "below right",
)  # fmt: skip


def texts(plot: Plot, frame: Frame) -> list[Layer]:
    """Return the layers of a chart's texts.

    Parameters
    ----------
    plot : dict
        From :func:`soakage.report.plots.plots`.
    frame : Frame
        The chart they stand in.

    Returns
    -------
    list of dict
        A halo of the ground and the text, for each.
    """
    found: list[Layer] = []
    for placed in placed_texts(plot, frame):
        found += _text(placed, frame)
    for at, text in plot.get("bands", ()):
        x = frame.at(at, frame.y_axis.low)[0]
        found += _drawn(text, x, -0.1 * frame.style.text, frame, align="center", color=frame.style.second)
    return found


def placed_texts(plot: Plot, frame: Frame) -> list[Placed]:
    """Return every text that looks for a place, in its place."""
    labels = [
        *_limit_names(plot, frame),
        *_values(plot, frame),
        *_need_texts(plot, frame),
        *_names(plot, frame),
    ]
    style = frame.style
    return place(
        labels,
        obstacles(plot, frame),
        width=frame.width,
        height=frame.height,
        text=style.text,
        letter=_LETTER,
    )


def obstacles(plot: Plot, frame: Frame) -> NDArray[np.float64]:
    """Return points along all that is drawn, in units of the chart."""
    style, found = frame.style, [np.empty((0, 2))]
    found += [trail([frame.at(*p) for p in line["points"]]) for line in plot["lines"]]
    for need in plot["needs"]:
        found.append(trail([frame.at(*need["from"]), frame.at(*need["to"])]))
        if need["reading"] is not None:
            found.append(trail([frame.at(*need["to"]), frame.at(need["to"][0], need["reading"])]))
    for entry in plot["limits"]:
        y = frame.at(frame.x_axis.low, entry["level"])[1]
        found += [
            trail([(0.0, y + d), (frame.width, y + d)]) for d in (0.0, 0.5 * style.stroke, style.stroke)
        ]
    for entry in plot.get("rules", ()):
        x = frame.at(entry["at"], frame.y_axis.low)[0]
        found.append(trail([(x, RULE_GAP * frame.height), (x, frame.height)]))
    for at, low, high in plot.get("area", ()):
        found += [np.array([frame.at(at, low)]), np.array([frame.at(at, high)])]
    for at, low, high, _ in plot.get("bars", ()):
        found.append(trail([frame.at(at, low), frame.at(at, high)]))
    radius = math.sqrt(style.ring / math.pi) + style.thin
    found += [ring(frame.at(p[0], p[1]), radius) for p in (*plot["rings"], *plot["bounds"])]
    return np.concatenate(found)


def _limit_names(plot: Plot, frame: Frame) -> list[Label]:
    found = []
    for entry in plot["limits"]:
        text = entry["text"]
        short, _, more = text.partition(" = ")
        y = frame.at(frame.x_axis.low, entry["level"])[1]
        half = 0.5 * _LETTER * frame.style.text * len(text)
        span = max(0.0, frame.width - 2 * half)
        anchors = tuple((half + share * span, y) for share in (1.0, 0.0, 0.5, 0.75, 0.25))
        # A narrow chart leaves out what it is at the reading's temperature.
        found.append(Label(text, anchors, ("above", "below"), "limit", short if more else ""))
    return found


def _values(plot: Plot, frame: Frame) -> list[Label]:
    sides = ("above left", "below right", "above", "below", "right", "left", "below left", "above right")
    return [Label(text, (frame.at(at, value),), sides, "value") for at, value, text in plot["labels"]]


def _need_texts(plot: Plot, frame: Frame) -> list[Label]:
    found = []
    for need in plot["needs"]:
        end = frame.at(*need["to"])
        start = frame.at(*need["from"])
        half = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
        sides = ("below", "above", "below left", "above left", "left", "below right")
        found.append(Label(need["text"], (end, half), sides, "need"))
    return found


def _names(plot: Plot, frame: Frame) -> list[Label]:
    found = []
    for line in plot["lines"]:
        if line.get("text") and line["points"]:
            count = len(line["points"])
            spots = [trail([frame.at(*p) for p in line["points"]], 6.0)] if count > 1 else []
            route = spots[0] if spots else np.array([frame.at(*line["points"][0])])
            places = route[[int(share * (len(route) - 1)) for share in (0.8, 0.6, 0.4, 0.2, 1.0, 0.0)]]
            anchors = tuple((float(x), float(y)) for x, y in places)
            role = "need" if line["role"] == "beside" else "name"  # glass is for what is worked out
            found.append(Label(line["text"], anchors, _BESIDE_LINE, role, line.get("short", "")))
    for entry in plot.get("rules", ()):
        x = frame.at(entry["at"], frame.y_axis.low)[0]
        heights = tuple((x, share * frame.height) for share in (0.2, 0.35, 0.5, 0.7, 0.9))
        found.append(Label(entry["text"], heights, ("left", "right"), "name"))
    band = plot.get("peers")
    if band:
        half = 0.5 * _LETTER * frame.style.text * len(band["text"])
        height = frame.at(frame.x_axis.low, band["high"])[1]
        at_left = (half, height), (frame.width - half, height)
        found.append(Label(band["text"], at_left, ("below", "above"), "need"))
    for at, value, text in plot.get("notes", ()):
        found.append(Label(text, (frame.at(at, value),), role="name"))
    return found


def _text(placed: Placed, frame: Frame) -> list[Layer]:
    style, role = frame.style, placed.label.role
    color = {"value": style.ink, "limit": style.ink, "need": style.second}.get(role, style.model)
    weight = {"fontWeight": 600} if role == "value" else {}
    middle = placed.left + placed.width / 2
    return _drawn(placed.text, middle, placed.middle, frame, align="center", color=color, **weight)


def _drawn(text: str, x: float, y: float, frame: Frame, **mark: object) -> list[Layer]:
    """Return a text with a halo of the ground, so that no line runs through it."""
    style = frame.style
    mark = {
        "type": "text", "font": typeface.FAMILY, "fontSize": style.text, "baseline": "middle", **mark,
    }  # fmt: skip
    halo = {**mark, "stroke": style.ground, "strokeWidth": style.text * 0.3, "strokeJoin": "round"}
    shown = {"x": {"value": x}, "y": {"value": y}, "text": {"field": "s", "type": "nominal"}}
    values = [{"s": text}]
    return [
        layer(values, halo | {"color": style.ground, "aria": False}, **shown),
        layer(values, mark, **shown),
    ]
