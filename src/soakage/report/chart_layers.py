"""Layers of a chart: bands, limits, lines, points. Texts stand in :mod:`soakage.report.chart_texts`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from soakage.report.axes import Axis
from soakage.report.looks import Look

Layer = dict[str, Any]
Channel = dict[str, Any]
Plot = dict[str, Any]
_STROKES = 36
RULE_GAP = 0.12
"""An upright rule ends so far below the top, where the values at the end of a line are written."""
_MOST_DOTS = 24


@dataclass(frozen=True, slots=True)
class Frame:
    """What all layers of a chart share: its look, axes, channels and inner size."""

    style: Look
    x_axis: Axis
    y_axis: Axis
    x: Channel
    y: Channel
    width: float
    height: float

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Return the place of a point, from the top left."""
        return self.width * self.x_axis.share(x), self.height * (1 - self.y_axis.share(y))

    def along(self, share: float) -> float:
        """Return the value at a share of the x axis."""
        axis = self.x_axis
        if axis.log:
            return float(axis.low * (axis.high / axis.low) ** share)
        return axis.low + (axis.high - axis.low) * share

    def lowered(self, y: float, by: float) -> float:
        """Return the value that stands so far below another."""
        axis, share = self.y_axis, by / self.height
        return float(y * (axis.low / axis.high) ** share) if axis.log else y - (axis.high - axis.low) * share


def layer(values: list[dict[str, Any]], mark: dict[str, Any], **encoding: object) -> Layer:
    """Return one layer with its data."""
    return {"data": {"values": values}, "mark": mark, "encoding": encoding}


def peers(plot: Plot, frame: Frame) -> list[Layer]:
    """Return the band in which most peers lie: stone with an edge on a screen, two thin lines on paper."""
    band, style = plot.get("peers"), frame.style
    if not band:
        return []
    ends = {"x2": {"field": "x2"}}
    across = {"x": frame.x_axis.low, "x2": frame.x_axis.high}
    found = []
    if style.stone:
        fill = {"type": "rect", "color": style.stone, "clip": True}
        values = [across | {"y": band["low"], "y2": band["high"]}]
        found.append(layer(values, fill, x=frame.x, y=frame.y, y2={"field": "y2"}, **ends))
    edge = {"type": "rule", "color": style.second, "strokeWidth": style.thin * 0.5, "clip": True}
    edges = [across | {"y": band[end]} for end in ("low", "high")]
    return [*found, layer(edges, edge, x=frame.x, y=frame.y, **ends)]


def areas(plot: Plot, frame: Frame) -> list[Layer]:
    """Return bands between two values: a tint on a screen, two dashed edges on paper (no greys there)."""
    band = plot.get("area", [])
    if not band:
        return []
    style = frame.style
    values = [{"x": at, "y": low, "y2": high} for at, low, high in band]
    found = []
    if style.tint:
        tint = {"type": "area", "color": style.model, "opacity": style.tint, "clip": True}
        found.append(layer(values, tint, x=frame.x, y=frame.y, y2={"field": "y2"}))
    edge = {"type": "line", "strokeWidth": style.thin * 0.75, "color": style.model, "clip": True,
            "strokeDash": list(style.dashes)}  # fmt: skip
    return [
        *found,
        layer([{"x": v["x"], "y": v["y"]} for v in values], edge, x=frame.x, y=frame.y),
        layer([{"x": v["x"], "y": v["y2"]} for v in values], edge, x=frame.x, y=frame.y),
    ]


def limits(plot: Plot, frame: Frame) -> list[Layer]:
    """Return limits: a line with strokes on its forbidden side."""
    layers: list[Layer] = []
    style = frame.style
    rule = {"type": "rule", "color": style.ink, "clip": True}
    for entry in plot["limits"]:
        level = entry["level"]
        low = frame.lowered(level, -style.stroke if entry["side"] == "above" else style.stroke)
        strokes = [
            {"x": frame.along((i + 0.6) / _STROKES), "y": level,
             "x2": frame.along((i + 0.15) / _STROKES), "y2": low}
            for i in range(_STROKES)
        ]  # fmt: skip
        edge = [{"x": frame.x_axis.low, "y": level, "x2": frame.x_axis.high}]
        to = {"x2": {"field": "x2"}}
        layers += [
            layer(
                strokes,
                rule | {"strokeWidth": style.thin * 0.7},
                x=frame.x,
                y=frame.y,
                y2={"field": "y2"},
                **to,
            ),
            layer(edge, rule | {"strokeWidth": style.thin}, x=frame.x, y=frame.y, **to),
        ]
    for entry in plot.get("rules", ()):
        upright = [
            {
                "x": entry["at"],
                "y": frame.y_axis.low,
                "y2": frame.lowered(frame.y_axis.high, RULE_GAP * frame.height),
            }
        ]
        layers.append(
            layer(upright, rule | {"strokeWidth": style.thin}, x=frame.x, y=frame.y, y2={"field": "y2"})
        )
    return layers


def needs(plot: Plot, frame: Frame) -> list[Layer]:
    """Return the slope a ratio limit asks for, and the gap to the reading."""
    layers: list[Layer] = []
    style = frame.style
    for need in plot["needs"]:
        (x0, y0), (x1, y1) = need["from"], need["to"]
        thin = {"strokeWidth": style.thin * 0.75, "color": style.second}
        layers += [
            layer([{"x": x0, "y": y0}, {"x": x1, "y": y1}], {"type": "line", **thin}, x=frame.x, y=frame.y),
            layer(
                [{"x": x1, "y": y1}],
                {"type": "tick", "orient": "horizontal", "size": style.text * 1.6, "thickness": style.thin,
                 "color": style.ink}, x=frame.x, y=frame.y,
            ),
        ]  # fmt: skip
        if need["reading"] is not None:
            gap = [{"x": x1, "y": y1, "y2": need["reading"]}]
            layers.append(layer(gap, {"type": "rule", **thin}, x=frame.x, y=frame.y, y2={"field": "y2"}))
    return layers


def lines(plot: Plot, frame: Frame) -> list[Layer]:
    """Return lines: measured heavy, a steady part dotted, other worked-out parts dashed, a whole thin.

    Readings of other tests (`beside`) are thin too, in the second ink: they are measured, not worked out.
    """
    layers: list[Layer] = []
    style = frame.style
    dashes = {"constant": style.dots, "part": style.dashes, "mean": style.dashes}
    for line in plot["lines"]:
        measured, beside = line["role"] == "measured", line["role"] == "beside"
        mark: dict[str, Any] = {
            "type": "line", "clip": True, "interpolate": "linear", "strokeJoin": "round", "strokeCap": "butt",
            "strokeWidth": style.heavy if measured else style.thin * (0.7 if beside else 1),
            "color": style.ink if measured else style.second if beside else style.model,
        }  # fmt: skip
        if line["role"] in dashes:
            mark["strokeDash"] = list(dashes[line["role"]])
        layers.append(layer([{"x": a, "y": b} for a, b in line["points"]], mark, x=frame.x, y=frame.y))
    return layers


def points(plot: Plot, frame: Frame) -> list[Layer]:
    """Return readings where they are few, rings at the marks, bars at fitted values, triangles at bounds."""
    style = frame.style
    layers: list[Layer] = []
    if plot["kind"] == "history":
        beside = [p for line in plot["lines"] if line["role"] == "beside" for p in line["points"]]
        square = {"fill": style.ground, "stroke": style.second, "shape": "square", "size": style.ring * 0.6}
        layers.append(_dots(frame, beside, **square))
    few = [p for line in plot["lines"] if line["role"] == "measured" for p in line["points"]]
    if len(few) <= _MOST_DOTS and plot["kind"] in ("resistance", "current", "ramp", "drying", "history"):
        layers.append(_dots(frame, few, fill=style.ink, size=style.ring * 0.4))
    bars = [{"x": at, "y": low, "y2": high} for at, low, high, _ in plot.get("bars", ())]
    bar = {"type": "rule", "strokeWidth": style.thin * 1.2, "color": style.ink}
    cap = {"type": "tick", "orient": "horizontal", "size": style.text * 0.7, "thickness": style.thin * 1.2,
           "color": style.ink}  # fmt: skip
    layers.append(layer(bars, bar, x=frame.x, y=frame.y, y2={"field": "y2"}))
    layers.append(
        layer([{"x": b["x"], "y": b[k]} for b in bars for k in ("y", "y2")], cap, x=frame.x, y=frame.y)
    )
    full = [[at, value] for at, _, _, value in plot.get("bars", ())]
    layers.append(_dots(frame, full, fill=style.ink, size=style.ring * 0.8))
    layers.append(_dots(frame, plot["rings"], fill=style.ground, size=style.ring))
    for up, shape in ((1, "triangle-up"), (-1, "triangle-down")):
        found = [p for p in plot["bounds"] if p[2] == up]
        layers.append(_dots(frame, found, fill=style.ink, size=style.ring * 1.3, shape=shape))
    return [found for found in layers if found["data"]["values"]]


def _dots(frame: Frame, drawn: list[list[float]], **mark: object) -> Layer:
    style = frame.style
    shown = {
        "type": "point",
        "filled": True,
        "stroke": style.ink,
        "strokeWidth": style.thin * 1.2,
        "opacity": 1,
    }
    return layer([{"x": p[0], "y": p[1]} for p in drawn], {**shown, **mark}, x=frame.x, y=frame.y)
