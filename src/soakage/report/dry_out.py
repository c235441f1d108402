"""What a report says of a drying: its course in words and as a chart; a stop rule is no leave to energise."""

from __future__ import annotations

from typing import Any

from soakage.app.result import DryOut
from soakage.report.drawn import Plot
from soakage.units import format_quantity

Content = dict[str, Any]


def dry_out_content(dry_out: DryOut) -> Content:
    """Return the words and the plot of one drying.

    Parameters
    ----------
    dry_out : DryOut
        Its readings and how far it has come.

    Returns
    -------
    dict
        ``asset``, ``sentence``, ``cautions``, ``note`` and ``plot``; no plot with fewer than two readings.
    """
    base = dry_out.base_temperature
    at = f"at {format_quantity(base, 'temperature')}" if base is not None else "as read"
    return {
        "asset": dry_out.asset,
        "sentence": dry_out.sentence,
        "cautions": list(dry_out.cautions),
        "note": f"Heavy line: resistance {at}. Dashed: as read. Dotted: the level it tends to.",
        "plot": dry_out_plot(dry_out, at),
    }


def dry_out_plot(dry_out: DryOut, at: str) -> Plot | None:
    """Return resistance against the time of drying, with its minimum and where it will count as level."""
    points = [p for p in dry_out.points if p.resistance > 0]
    if len(points) < 2:
        return None
    lines: list[dict[str, Any]] = []
    first, last = points[0], points[-1]
    level, estimate = dry_out.level, dry_out.levels_at
    end = max(last.elapsed, estimate.value if estimate is not None else 0.0)
    if level is not None and level > 0:
        text = f"tends to {format_quantity(level, 'resistance')}"
        lines.append({"role": "constant", "points": [[first.elapsed, level], [end, level]], "text": text})
    if any(p.as_read != p.resistance for p in points):
        read = [[p.elapsed, p.as_read] for p in points if p.as_read > 0]
        lines.append({"role": "part", "points": read, "text": "as read"})
    lines.append({"role": "measured", "points": [[p.elapsed, p.resistance] for p in points]})
    rules = []
    if estimate is not None:
        rules.append({"at": estimate.value, "text": f"level from {format_quantity(estimate.value, 'time')}"})
    rings, labels = [], []
    if dry_out.minimum is not None:
        lowest = dry_out.points[dry_out.minimum]
        rings = [[lowest.elapsed, lowest.resistance]]
        labels = [
            [lowest.elapsed, lowest.resistance, f"minimum {format_quantity(lowest.resistance, 'resistance')}"]
        ]
    labels.append([last.elapsed, last.resistance, format_quantity(last.resistance, "resistance")])
    return {
        "kind": "drying",
        "title": f"Resistance {at} against time of drying",
        "alt": f"The resistance {at} runs from {format_quantity(first.resistance, 'resistance')} to "
        f"{format_quantity(last.resistance, 'resistance')} in "
        f"{format_quantity(last.elapsed - first.elapsed, 'time')}.",
        "x": {"dimension": "time", "log": False},
        "y": {"dimension": "resistance", "log": True},
        "lines": lines,
        "rings": rings,
        "labels": labels,
        "bounds": [],
        "limits": [],
        "needs": [],
        "rules": rules,
    }
