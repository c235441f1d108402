"""The date of a criterion, step by step: from a line of known figures."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pytest

from histories import LIBRARY, TODAY
from soakage.app.trend_reach import reach
from soakage.app.trend_result import Reach, Slope, TrendLimit
from soakage.app.trend_series import years
from soakage.physics.slope import Line, theil_sen

START = years(date(2010, 5, 1))
MINIMUM = TrendLimit("house.minimum", 1e8, None, "an invented house rule")
MAXIMUM = TrendLimit("house.maximum", None, 1e12, "an invented house rule")


def line(slope: float, level: float = 2e9, scatter: float = 0.02, count: int = 12) -> Line:
    noise = scatter * np.random.default_rng(3).normal(size=count)
    time = START + np.arange(count)
    return theil_sen(time, math.log(level) + slope * (time - START) + noise)


def asked(
    drawn: Line | None,
    *limits: TrendLimit,
    slope: Slope | None = None,
    today: date = TODAY,
    transform: str = "ln",
) -> tuple[Reach | None, str]:
    if slope is None and drawn is not None:
        slope = Slope(float(drawn.slope), float(drawn.lower), float(drawn.upper))
    return reach(drawn, slope, "no line", limits, LIBRARY, today, transform)


@pytest.mark.parametrize(("slope", "wanted"), ((-0.2, 14.98), (-0.19, 15.77), (-0.15, 19.97), (-0.1, 29.96)))
def test_the_years_are_the_logarithm_over_the_slope(slope: float, wanted: float) -> None:
    """ln(2 GOhm / 100 MOhm) = 2.996, over the slope (derived)."""
    found, reason = asked(line(slope, scatter=1e-6), MINIMUM)
    assert reason == ""
    assert found is not None
    assert years(found.at) - START == pytest.approx(wanted, abs=0.01)
    assert found.lower is not None
    assert found.upper is not None
    assert (found.upper - found.lower).days < 3


def test_more_scatter_makes_a_wider_interval_round_the_same_date() -> None:
    widths = []
    for scatter in (0.01, 0.03, 0.09):
        found, _ = asked(line(-0.2, scatter=scatter), MINIMUM)
        assert found is not None
        assert found.lower is not None
        assert found.upper is not None
        assert found.lower < found.at < found.upper
        widths.append((found.upper - found.lower).days)
    assert widths == sorted(widths)
    assert widths[2] > 4 * widths[0]


def test_an_end_beyond_any_calendar_is_open() -> None:
    drawn = line(-0.1, scatter=0.02)._replace(upper=np.array(-1e-4), level_uncertainty=np.array(0.01))
    found, _ = asked(drawn, MINIMUM)
    assert found is not None
    assert found.lower is not None
    assert found.upper is None


@pytest.mark.parametrize(
    ("today", "given"), ((date(2012, 1, 1), True), (date(2025, 4, 1), True), (date(2025, 6, 1), False))
)
def test_a_date_that_is_past_is_no_date(today: date, given: bool) -> None:
    found, reason = asked(line(-0.2, scatter=1e-6), MINIMUM, today=today)
    assert (found is not None) is given
    assert ("already beyond" in reason) is not given


def test_each_limit_has_its_reason_once() -> None:
    found, reason = asked(line(-0.2), MAXIMUM, TrendLimit("house.zero", 0.0, None, ""), MAXIMUM)
    assert found is None
    assert reason == (
        "house.maximum: the line moves away from its limit. house.zero: its limit is not above zero."
    )


def test_both_ends_of_a_band_are_looked_at() -> None:
    band = TrendLimit("house.band", 1e8, 1e12, "")
    down, up = asked(line(-0.2), band)[0], asked(line(0.3), band)[0]
    assert down is not None
    assert up is not None
    assert (down.limit, up.limit) == (1e8, 1e12)


def test_without_a_line_its_own_reason_stands() -> None:
    assert asked(None, MINIMUM) == (None, "no line")


def test_an_open_interval_is_said() -> None:
    drawn = line(-0.2)
    found, reason = asked(drawn, MINIMUM, slope=Slope(float(drawn.slope), None, float(drawn.upper)))
    assert found is None
    assert reason.startswith("The interval of the slope is open")


def test_a_plain_quantity_meets_its_limit_without_a_logarithm() -> None:
    time = START + np.arange(8.0)
    drawn = theil_sen(time, 0.05 + 0.01 * (time - START))
    found, _ = asked(drawn, TrendLimit("house.fall", None, 0.25, ""), transform="none")
    assert found is not None
    assert years(found.at) - START == pytest.approx(20.0, abs=0.01)
