"""Trends and work lists as JSON: values in SI, slopes per year, days as ISO 8601."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from soakage import __version__
from soakage.app.contract_json import CONTRACT
from soakage.app.due import WorkItem
from soakage.app.history import HistoryPoint
from soakage.app.trend_result import Fall, PeerRank, Reach, Shift, Sisters, Slope, Trend
from soakage.units import Bound


def trend_json(
    asset: Mapping[str, Any], trends: Sequence[Trend], due: Iterable[WorkItem] = ()
) -> dict[str, Any]:
    """Return the answer of ``trend --json``.

    Parameters
    ----------
    asset : mapping
        What names the asset, ready for JSON.
    trends : sequence of Trend
        Its trends.
    due : iterable of WorkItem
        When its sections are due.

    Returns
    -------
    dict
        Ready for ``json.dumps``; its shape is :func:`soakage.app.trend_schema.trend_schema`.
    """
    return {
        "soakage": __version__,
        "contract": CONTRACT,
        "asset": dict(asset),
        "trends": [_trend(trend) for trend in trends],
        "due": due_json(due),
    }


def due_json(items: Iterable[WorkItem]) -> list[dict[str, Any]]:
    """Return a work list, in its order."""
    return [
        {
            "asset": item.asset, "section": item.section, "due": item.due.isoformat(), "why": item.why,
            "last_status": str(item.last_status), "last": item.last.isoformat(), "source": item.source,
        }
        for item in items
    ]  # fmt: skip


def _trend(trend: Trend) -> dict[str, Any]:
    kind = trend.condition
    return {
        "section": trend.section,
        "quantity": trend.quantity,
        "rule": kind.rule,
        "base_temperature": kind.base_temperature,
        "condition": {
            "method": kind.method, "test_voltage": kind.test_voltage, "tested": list(kind.tested),
            "earthed": list(kind.earthed), "guarded": list(kind.guarded), "attached": list(kind.attached),
            "neutral": kind.neutral,
        },
        "transform": trend.transform,
        "points": [_point(point, trend.suspects) for point in trend.points],
        "slope_per_year": _slope(trend.slope),
        "line_from": None if trend.line_from is None else trend.line_from.isoformat(),
        "slope_reason": trend.slope_reason or None,
        "mann_kendall": asdict(trend.mann_kendall) if trend.mann_kendall else None,
        "change_point": _shift(trend.change_point),
        "falls": {"from_last": _fall(trend.fall_from_last), "from_first": _fall(trend.fall_from_first)},
        "sisters": _sisters(trend.sisters),
        "peers": _peers(trend.peers),
        "season": asdict(trend.season) if trend.season else None,
        "humidity": asdict(trend.humidity) if trend.humidity else None,
        "earlier_series": [
            {
                "from": series.points[0].at.isoformat(), "to": series.points[-1].at.isoformat(),
                "points": [_point(point, ()) for point in series.points], "ended_by": series.ended_by,
            }
            for series in trend.earlier
        ],
        "reaches": _reach(trend.reaches),
        "reason": trend.reason or None,
        "notes": list(trend.notes),
        "caution": trend.caution,
    }  # fmt: skip


def _point(point: HistoryPoint, suspects: Sequence[str]) -> dict[str, Any]:
    return {
        "test": point.test, "at": point.at.isoformat(), "value": point.value, "bound": _bound(point.bound),
        "uncertainty": point.uncertainty, "status": point.status, "suspect": point.test in suspects,
    }  # fmt: skip


def _bound(bound: Bound | None) -> str | None:
    return None if bound is None else str(bound)


def _slope(slope: Slope | None) -> dict[str, float | None] | None:
    return None if slope is None else {"value": slope.value, "lower": slope.lower, "upper": slope.upper}


def _shift(shift: Shift | None) -> dict[str, Any] | None:
    return None if shift is None else {"at": shift.at.isoformat(), "size": shift.size, "p": shift.p}


def _fall(fall: Fall | None) -> dict[str, Any] | None:
    return (
        None
        if fall is None
        else {"since": fall.since.isoformat(), "value": fall.value, "bound": _bound(fall.bound)}
    )


def _sisters(sisters: Sisters | None) -> dict[str, Any] | None:
    if sisters is None:
        return None
    values = [
        {"section": name, "value": value, "bound": _bound(bound)} for name, value, bound in sisters.values
    ]
    return {"values": values, "ratio": sisters.ratio, "bound": _bound(sisters.bound)}


def _peers(peers: PeerRank | None) -> dict[str, Any] | None:
    return None if peers is None else {**asdict(peers), "reason": peers.reason or None}


def _reach(reach: Reach | None) -> dict[str, Any] | None:
    if reach is None:
        return None
    ends = {
        name: None if day is None else day.isoformat()
        for name, day in (("date", reach.at), ("lower", reach.lower), ("upper", reach.upper))
    }
    return {"criterion": reach.criterion, "limit": reach.limit, **ends}
