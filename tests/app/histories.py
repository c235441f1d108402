"""Invented histories for the tests of trends."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np

from soakage.app.history import HistoryPoint
from soakage.app.trend import trends
from soakage.app.trend_result import Trend, TrendLimit
from soakage.standards.library import library

QUANTITY = "insulation_resistance_60s_corrected"
LIBRARY = library()
TODAY = date(2025, 1, 1)
PLAIN = HistoryPoint(
    "", TODAY, "U", QUANTITY, 1e9, rule="halving-10k", base_temperature=313.15, method="polarization-index",
    test_voltage=5000.0, tested=("U1",), earthed=("frame", "V1"), status="sound", year=1998,
)  # fmt: skip


def point(at: date, value: float = 1e9, **changes: Any) -> HistoryPoint:
    return replace(
        PLAIN, test=f"{changes.get('section', 'U')}-{at.isoformat()}", at=at, value=value, **changes
    )


def yearly(
    count: int = 12,
    slope: float = -0.1,
    scatter: float = 0.05,
    start: int = 2010,
    level: float = 2e9,
    seed: int = 1,
    **changes: Any,
) -> list[HistoryPoint]:
    """One test each first of May, the truth falling by ``slope`` of its logarithm a year."""
    noise = scatter * np.random.default_rng(seed).normal(size=count)
    return [
        point(date(start + k, 5, 1), float(level * np.exp(slope * k + noise[k])), **changes)
        for k in range(count)
    ]


def told(points: list[HistoryPoint], *args: Any, **words: Any) -> Trend:
    """The only trend of the points."""
    (found,) = trends(points, *args, library=LIBRARY, today=TODAY, **words)
    return found


def limit(
    lower: float | None = 1e8, upper: float | None = None, name: str = "house.minimum"
) -> dict[Any, Any]:
    return {("U", QUANTITY): (TrendLimit(name, lower, upper, "an invented house rule"),)}
