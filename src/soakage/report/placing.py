"""Where the texts of a chart stand: beside what they name, across no line, ring or other text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Point = tuple[float, float]
SIDES: dict[str, Point] = {
    "above": (0.0, -1.0), "below": (0.0, 1.0), "right": (1.0, 0.0), "left": (-1.0, 0.0),
    "above right": (1.0, -1.0), "above left": (-1.0, -1.0), "below right": (1.0, 1.0),
    "below left": (-1.0, 1.0),
}  # fmt: skip
_DISTANCES = (0.5, 0.9, 1.5, 2.3, 3.3)
# What a candidate costs: a point of a line under it, leaving the chart, another text, each step away.
_UNDER, _OUTSIDE, _TEXT, _STEP = 10.0, 400.0, 400.0, 3.0


@dataclass(frozen=True, slots=True)
class Label:
    """A text that looks for a place.

    Parameters
    ----------
    text : str
        What it says.
    anchors : tuple of (x, y)
        Places it may stand beside, the best first, in units of the chart from its top left.
    sides : tuple of str
        Sides of an anchor it may stand on, the best first.
    role : str
        How it is written: value, name, limit or need.
    short : str
        What it says where the whole text finds no free place; empty where it can't be shortened.
    """

    text: str
    anchors: tuple[Point, ...]
    sides: tuple[str, ...] = tuple(SIDES)
    role: str = "name"
    short: str = ""


@dataclass(frozen=True, slots=True)
class Placed:
    """A text in its place: what it says, left edge, middle height, width."""

    label: Label
    text: str
    left: float
    middle: float
    width: float


def trail(points: Sequence[Point], step: float = 1.5) -> NDArray[np.float64]:
    """Return a line as points no further apart than a step: what a text may not cover.

    Parameters
    ----------
    points : sequence of (x, y)
        Corners of the line, in units of the chart.
    step : float
        Largest distance between neighbours.

    Returns
    -------
    ndarray, shape (n, 2)
        Points along the line.
    """
    corners = np.asarray(points, dtype=float).reshape(-1, 2)
    if len(corners) < 2:
        return corners
    gaps = np.hypot(*np.diff(corners, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(gaps)])
    places = np.linspace(0.0, along[-1], max(2, math.ceil(along[-1] / step) + 1))
    return np.column_stack([np.interp(places, along, corners[:, k]) for k in (0, 1)])


def ring(at: Point, radius: float) -> NDArray[np.float64]:
    """Return the points of a ring or a dot."""
    turn = np.linspace(0, 2 * np.pi, 9)
    around = np.column_stack([at[0] + radius * np.cos(turn), at[1] + radius * np.sin(turn)])
    return np.concatenate([[at], around])


def place(
    labels: Sequence[Label],
    obstacles: NDArray[np.float64],
    *,
    width: float,
    height: float,
    text: float,
    letter: float = 0.54,
) -> list[Placed]:
    """Give each text the place that costs least, in the order given.

    Parameters
    ----------
    labels : sequence of Label
        The most important first: what stands is in the way of what follows.
    obstacles : ndarray, shape (n, 2)
        Points no text should cover.
    width, height : float
        Extent of the chart.
    text : float
        Size of the text.
    letter : float
        Width of a letter over the size of the text.

    Returns
    -------
    list of Placed
        One for each label.
    """
    placed: list[Placed] = []
    for label in labels:
        found = []
        for said in filter(None, (label.text, label.short)):
            wide = letter * text * len(said)
            best: tuple[float, Placed] | None = None
            for rank, (left, middle) in _candidates(label, wide, text):
                box = (left, middle - 0.58 * text, left + wide, middle + 0.5 * text)
                cost = rank + _cost(box, obstacles, placed, width, height, text)
                if best is None or cost < best[0]:
                    best = cost, Placed(label, said, left, middle, wide)
                if rank > best[0]:
                    break  # what follows only stands further away
            if best is not None:
                found.append(best)
            if best is not None and best[0] < _UNDER:
                break
        if found:
            placed.append(min(found, key=lambda entry: entry[0])[1])
    return placed


def _candidates(label: Label, wide: float, text: float) -> list[tuple[float, Point]]:
    found = []
    for step, distance in enumerate(_DISTANCES):
        for nth, (x, y) in enumerate(label.anchors):
            for order, side in enumerate(label.sides):
                across, down = SIDES[side]
                left = x + across * distance * text - (0.5 - 0.5 * across) * wide
                rank = _STEP * step + 0.6 * nth + 0.1 * order
                found.append((rank, (left, y + down * (distance + 0.4) * text)))
    return sorted(found, key=lambda entry: entry[0])


def _cost(
    box: tuple[float, float, float, float],
    obstacles: NDArray[np.float64],
    placed: Sequence[Placed],
    width: float,
    height: float,
    text: float,
) -> float:
    left, top, right, bottom = box
    out = (
        max(0.0, -left)
        + max(0.0, right - width - text)
        + max(0.0, -top - 0.9 * text)
        + max(0.0, bottom - height)
    )
    near = 0.15 * text
    inside = (
        (obstacles[:, 0] > left - near) & (obstacles[:, 0] < right + near)
        & (obstacles[:, 1] > top - near) & (obstacles[:, 1] < bottom + near)
    )  # fmt: skip
    over = sum(
        right > other.left - near and left < other.left + other.width + near
        and bottom > other.middle - 0.58 * text and top < other.middle + 0.5 * text
        for other in placed
    )  # fmt: skip
    return _OUTSIDE * out / text + _UNDER * float(inside.sum()) + _TEXT * over
