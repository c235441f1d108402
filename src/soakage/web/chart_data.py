"""A plot as numbers, and cut to a part of it: for tables, files, and looking closer."""

from __future__ import annotations

import csv
import io
from typing import Any

from soakage.errors import UsageError
from soakage.report import days
from soakage.report.figures import NBSP
from soakage.units import Bound, Measured, format_quantity

Plot = dict[str, Any]
_NAMES = {
    "time": ("Time", "s"), "voltage": ("Voltage", "V"), "current": ("Current", "A"),
    "resistance": ("Resistance", "ohm"), "conductance": ("Conductance", "S"),
}  # fmt: skip
_MOST_ROWS = 40


def name_of(dimension: str) -> tuple[str, str]:
    """Return name and SI unit of what an axis shows.

    Parameters
    ----------
    dimension : str
        As in :mod:`soakage.units`.
    """
    if dimension == days.DIMENSION:
        return "Day", ""
    return _NAMES.get(dimension, (dimension.capitalize(), ""))


def numbers(plot: Plot) -> list[tuple[float, float, Bound | None]]:
    """Return what was read or worked out at points, in the order of the first axis: no fitted lines.

    Parameters
    ----------
    plot : dict
        From :func:`soakage.report.plots.plots`.
    """
    found = [(x, y, None) for line in plot["lines"] if line["role"] == "measured" for x, y in line["points"]]
    found = found or [(x, y, None) for x, _, _, y in plot.get("bars", ())]
    sides = {1: Bound.LOWER, -1: Bound.UPPER}
    return sorted([*found, *((x, y, sides[up]) for x, y, up in plot["bounds"])], key=lambda p: p[0])


def table(plot: Plot) -> tuple[list[str], list[list[str]]]:
    """Return heads and rows of a plot as a table: all points, or so many that it can be read.

    Parameters
    ----------
    plot : dict
        From :func:`soakage.report.plots.plots`.
    """
    points = numbers(plot)
    if len(points) > _MOST_ROWS:
        ringed = {ring[0] for ring in plot["rings"]}
        every = -(-len(points) // (_MOST_ROWS - len(ringed)))
        points = [p for i, p in enumerate(points) if i % every == 0 or p[0] in ringed or i == len(points) - 1]
    x, y = plot["x"]["dimension"], plot["y"]["dimension"]
    return [name_of(x)[0], name_of(y)[0]], [[written(a, x), written(b, y, side)] for a, b, side in points]


def written(value: float, dimension: str, bound: Bound | None = None) -> str:
    """Return one number of a plot with its unit."""
    if dimension == days.DIMENSION:
        return days.day_text(value)
    return format_quantity(Measured(value, bound), dimension, trim=dimension in ("time", "voltage"))


def as_csv(plot: Plot) -> str:
    """Return every point in SI units as CSV; a bound has its side beside it.

    Parameters
    ----------
    plot : dict
        From :func:`soakage.report.plots.plots`.
    """
    heads = [
        f"{name.lower()}_{unit}" if unit else name.lower()
        for name, unit in (name_of(plot["x"]["dimension"]), name_of(plot["y"]["dimension"]))
    ]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([*heads, "bound"])
    on_days = plot["x"]["dimension"] == days.DIMENSION
    writer.writerows(
        [str(days.day_at(x)) if on_days else repr(x), repr(y), side.value if side else ""]
        for x, y, side in numbers(plot)
    )
    return out.getvalue()


def cut(plot: Plot, low: float | None, high: float | None, *, log: bool | None) -> Plot:
    """Return the part of a plot between two values of its first axis, logarithmic or not.

    Parameters
    ----------
    plot : dict
        From :func:`soakage.report.plots.plots`.
    low, high : float or None
        In SI; None for its end.
    log : bool or None
        None to leave both axes as they are; a linear plot stays linear: it may have values at zero.

    Raises
    ------
    UsageError
        If fewer than two points lie between.
    """
    changed = dict(plot)
    if log is False:
        changed |= {axis: {**plot[axis], "log": False} for axis in ("x", "y")}
    if low is None and high is None:
        return changed
    from_, to = low if low is not None else float("-inf"), high if high is not None else float("inf")

    def inside(x: float) -> bool:
        return from_ <= x <= to

    changed["lines"] = [
        {**line, "points": points}
        for line in plot["lines"]
        if (points := [p for p in line["points"] if inside(p[0])])
    ]
    for key in ("rings", "bounds", "labels", "area", "bars", "notes", "bands"):
        if key in plot:
            changed[key] = [entry for entry in plot[key] if inside(entry[0])]
    changed["rules"] = [rule for rule in plot.get("rules", ()) if inside(rule["at"])]
    changed["needs"] = [need for need in plot["needs"] if inside(need["from"][0]) and inside(need["to"][0])]
    if len({x for x, _, _ in numbers(changed)}) < 2:
        shown = [written(value, plot["x"]["dimension"]) for value in (low, high) if value is not None]
        raise UsageError(f"Too few readings there. Given: {f'{NBSP}to '.join(shown)}. Mark a longer part.")
    return changed
