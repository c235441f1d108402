"""The history of an asset as charts: days on their axis, who stands in front, limits, peers, events."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import pytest

from soakage.app.history import AssetEvent, Happening, HistoryPoint
from soakage.app.peers import Kin, Peer, Peers, peer_band
from soakage.app.ports import KnownAsset
from soakage.app.remember import Remembered
from soakage.app.trend import trends
from soakage.app.trend_result import TrendLimit
from soakage.report import charts, days
from soakage.report.axes import axis
from soakage.report.plots_trend import histories
from soakage.report.sections_drawing import MOST, Leak, sections_svg
from soakage.report.trend_words import beside_texts, fall_text, reach_text, slope_text
from soakage.report.xlsx import table_xlsx
from soakage.standards.library import library
from soakage.units import Bound
from soakage.web.chart_data import as_csv, cut, table

QUANTITY, TODAY = "insulation_resistance_60s_corrected", date(2026, 11, 25)
KIN = Kin("rotating-machine", 6600.0, "thermosetting", 2004)


def point(year: int, value: float, section: str = "phase U", **more: Any) -> HistoryPoint:
    return HistoryPoint(
        test=f"{section}-{year}-{value}",
        at=date(year, 4, 17),
        section=section,
        quantity=more.pop("quantity", QUANTITY),
        value=value,
        rule="ieee-43-2013.thermosetting",
        base_temperature=313.15,
        method="polarization-index",
        test_voltage=5000.0,
        status=more.pop("status", "sound"),
        visit=f"v{year}",
        **more,
    )


def remembered(points: list[HistoryPoint], **more: Any) -> Remembered:
    limits = more.pop("limits", {})
    events = more.pop("events", ())
    peers = more.pop("peers", None)
    found = trends(points, events, limits, peers, library=library(), today=TODAY)
    return Remembered(KnownAsset("a", {}), tuple(points), tuple(events), found, (), limits, peers)


FALLING = [point(2015 + n, 3e9 * 0.8**n) for n in range(10)]
SISTER = [point(2015 + n, 3e9, "phase V") for n in range(10)]


# Days --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("year", (1951, 1999, 2000, 2004, 2025, 2100))
@pytest.mark.parametrize("month", (1, 2, 6, 12))
def test_a_day_is_found_again_at_its_place(year: int, month: int) -> None:
    when = date(year, month, 28)
    assert days.day_at(days.place(when)) == when
    assert days.place(when) == pytest.approx(year + (when - date(year, 1, 1)).days / 365.25, abs=0.01)


def test_days_keep_their_order_and_distance() -> None:
    places = [days.place(date(2020, 1, 1) + timedelta(days=n)) for n in range(800)]
    steps = [b - a for a, b in pairwise(places)]
    assert min(steps) == pytest.approx(1 / 365.25)
    assert max(steps) == pytest.approx(1 / 365.25)


@pytest.mark.parametrize(
    ("first", "last", "expected"),
    (
        (2015.3, 2026.3, ("2015", "2026")), (2024.2, 2025.1, ("Apr 2024", "Apr 2025")),
        (1950.0, 2026.0, ("1950", "2020")),
    ),
)  # fmt: skip
def test_ticks_stand_at_years_or_quarters(first: float, last: float, expected: tuple[str, str]) -> None:
    made = axis([first, last], days.DIMENSION, log=False, length=700, text=14)
    assert made.low < first < last < made.high
    assert made.high - made.low >= 1.0
    assert len(made.ticks) >= 2
    assert all(made.low <= tick <= made.high for tick in made.ticks)
    assert set(expected) & set(made.texts)
    assert len(set(made.texts)) == len(made.texts)


@pytest.mark.parametrize("length", (150, 250, 350, 700, 1000))
def test_no_text_of_a_tick_touches_the_next(length: int) -> None:
    made = axis([2001.5, 2026.3], days.DIMENSION, log=False, length=length, text=14)
    places = [length * made.share(tick) for tick in made.ticks]
    gaps = [b - a for a, b in pairwise(places)]
    assert min(gaps, default=99) >= 0.56 * 14 * 4


def test_one_day_alone_has_an_axis() -> None:
    made = axis([2020.5], days.DIMENSION, log=False, length=300, text=14)
    assert made.low < 2020.5 < made.high
    assert days.day_text(1e12) == "–"


# Plots -------------------------------------------------------------------------------------------


def test_the_section_that_stands_worst_is_in_front_and_its_sisters_beside_it() -> None:
    bad = [replace(one, status="investigate") for one in FALLING]
    (one,) = histories(remembered([*SISTER, *bad]), library())
    assert one.front.section == "phase U"
    plot = one.plot
    assert plot is not None
    roles = {line["role"]: line for line in plot["lines"]}
    assert [y for _, y in roles["measured"]["points"]] == [p.value for p in FALLING]
    assert [y for _, y in roles["beside"]["points"]] == [p.value for p in SISTER]
    assert roles["beside"]["text"] == "phase V"
    assert plot["labels"][0][2].startswith("phase U\u00a0")
    assert plot["y"]["log"] is True
    assert "10\u00a0tests" in plot["alt"]


@pytest.mark.parametrize("section", ("phase U", "phase V"))
def test_a_section_is_put_in_front_on_demand(section: str) -> None:
    (one,) = histories(remembered([*SISTER, *FALLING]), library(), section)
    assert one.front.section == section


def test_one_test_alone_is_no_chart() -> None:
    (one,) = histories(remembered(FALLING[:1]), library())
    assert one.plot is None


@pytest.mark.parametrize(
    ("lower", "upper", "told"),
    (
        (1e8, None, [("below", "at least 100\u00a0MΩ")]),
        (None, 1e8, [("above", "at most 100\u00a0MΩ")]),
        (1e8, 1e10, [("above", "at most 10\u00a0GΩ"), ("below", "at least 100\u00a0MΩ")]),
        (-1.0, None, []),
    ),
)
def test_limits_are_drawn_with_strokes_on_their_forbidden_side(
    lower: float | None, upper: float | None, told: list[tuple[str, str]]
) -> None:
    limits = {("phase U", QUANTITY): (TrendLimit("c", lower, upper, "s"),)}
    (one,) = histories(remembered(FALLING, limits=limits), library())
    assert one.plot is not None
    assert [(entry["side"], entry["text"]) for entry in one.plot["limits"]] == told
    drawn = json.dumps(charts.spec(one.plot, "screen", width=700, height=300), ensure_ascii=False)
    for _, text in told:
        assert text in drawn


def test_the_strokes_of_an_upper_limit_lie_above_it() -> None:
    for side in ("below", "above"):
        limit = TrendLimit("c", 1e8, None, "s") if side == "below" else TrendLimit("c", None, 1e8, "s")
        limits = {("phase U", QUANTITY): (limit,)}
        (one,) = histories(remembered(FALLING, limits=limits), library())
        assert one.plot is not None
        layers = charts.spec(one.plot, "screen", width=700, height=300)["layer"]
        strokes = [v for layer in layers for v in layer["data"]["values"] if v.get("y") == 1e8 and "y2" in v]
        assert strokes
        assert all((v["y2"] < 1e8) is (side == "below") for v in strokes)


def test_bounds_point_to_their_open_side_and_are_in_no_line() -> None:
    points = [*FALLING[:5], replace(FALLING[5], bound=Bound.LOWER), replace(FALLING[6], bound=Bound.UPPER)]
    (one,) = histories(remembered(points), library())
    assert one.plot is not None
    assert [up for *_, up in one.plot["bounds"]] == [1, -1]
    measured = next(line for line in one.plot["lines"] if line["role"] == "measured")
    assert len(measured["points"]) == 5


@pytest.mark.parametrize("kind", tuple(Happening))
def test_events_stand_upright_on_their_day(kind: Happening) -> None:
    (one,) = histories(remembered(FALLING, events=(AssetEvent(date(2019, 1, 1), kind),)), library())
    assert one.plot is not None
    (rule,) = one.plot["rules"]
    assert (days.day_at(rule["at"]), rule["text"]) == (date(2019, 1, 1), str(kind))
    # the tests before it stay in the picture, whether the line ends there or not
    measured = next(line for line in one.plot["lines"] if line["role"] == "measured")
    assert len(measured["points"]) == 10


def peers_of(values: list[float], **more: Any) -> Peers:
    return Peers(KIN, tuple(Peer(f"p{n}", KIN, point(2024, value, **more)) for n, value in enumerate(values)))


@pytest.mark.parametrize("count", (10, 11, 23, 80))
def test_the_band_of_peers_is_the_middle_eighty_percent(count: int) -> None:
    import numpy as np

    values = [1e9 * (1 + n) for n in range(count)]
    band = peer_band(FALLING[-1], peers_of(values), library())
    assert band is not None
    low, high, number = band
    assert number == count
    assert low == np.percentile(values, 10, method="lower")
    assert high == np.percentile(values, 90, method="lower")
    inside = sum(low <= value <= high for value in values)
    assert inside / count == pytest.approx(0.8, abs=0.15)


@pytest.mark.parametrize(
    ("values", "more"),
    (
        ([], {}),
        ([1e9, 2e9], {}),
        ([1e9] * 30, {"bound": Bound.LOWER}),
        ([1e9] * 30, {"quantity": "polarization_index"}),
    ),
)
def test_there_is_no_band_where_it_would_say_nothing(values: list[float], more: dict[str, Any]) -> None:
    assert peer_band(FALLING[-1], peers_of(values, **more), library()) is None


def test_a_band_is_drawn_behind_everything_and_named() -> None:
    (one,) = histories(
        remembered(FALLING, peers=peers_of([1e9 * (1 + n / 10) for n in range(30)])), library()
    )
    assert one.plot is not None
    assert one.plot["peers"]["text"] == "middle 80\u00a0% of 30 like sections"
    layers = charts.spec(one.plot, "screen", width=700, height=300)["layer"]
    assert layers[0]["mark"]["type"] == "rect"
    assert layers[0]["mark"]["color"] == "var(--stone)"
    paper = charts.spec(one.plot, "paper", width=300, height=200)["layer"]
    assert paper[0]["mark"]["type"] == "rule"  # no greys on paper


@pytest.mark.parametrize("look", ("paper", "screen", "screen-light", "screen-dark"))
@pytest.mark.parametrize("size", ((760, 300), (350, 300)))
def test_it_can_be_drawn_in_every_look_and_size(look: str, size: tuple[int, int]) -> None:
    (one,) = histories(
        remembered([*FALLING, *SISTER], peers=peers_of([1e9 + n for n in range(30)])), library()
    )
    assert one.plot is not None
    drawn = charts.svg(charts.spec(one.plot, look, width=size[0], height=size[1]), "c")
    assert "phase V" in drawn
    assert "2020" in drawn


def test_the_table_and_the_file_tell_days() -> None:
    (one,) = histories(remembered(FALLING), library())
    assert one.plot is not None
    heads, rows = table(one.plot)
    assert heads == ["Day", "Resistance"]
    assert rows[0][0] == "17\u00a0April 2015"
    lines = as_csv(one.plot).splitlines()
    assert lines[0] == "day,resistance_ohm,bound"
    assert lines[1].split(",")[0] == "2015-04-17"
    part = cut(one.plot, days.place(date(2018, 1, 1)), days.place(date(2021, 1, 1)), log=None)
    assert [row[0][-4:] for row in table(part)[1]] == ["2018", "2019", "2020"]


# Words -------------------------------------------------------------------------------------------


def test_a_slope_is_told_with_its_interval_and_a_date_is_no_date_of_a_failure() -> None:
    limits = {("phase U", QUANTITY): (TrendLimit("c", 1e8, None, "s"),)}
    noisy = [replace(p, value=p.value * (1 + 0.02 * (-1) ** n)) for n, p in enumerate(FALLING)]
    (trend,) = remembered([*noisy, *SISTER[:0]], limits=limits).trends
    said = slope_text(trend)
    assert "−" in said
    assert said.endswith("95\u00a0%).")
    assert float(said.split("\u00a0")[0].replace("−", "-")) == pytest.approx(-20, abs=1)
    assert "would reach 100\u00a0MΩ" in reach_text(trend)
    assert reach_text(trend).endswith("That is the date of a criterion, not of a failure.")
    assert fall_text(trend.fall_from_first, "first").endswith("below the first (2015-04-17)")  # type: ignore[arg-type]


def test_where_there_is_no_slope_the_reason_stands() -> None:
    (trend,) = remembered(FALLING[:2]).trends
    assert slope_text(trend) == trend.slope_reason
    assert reach_text(trend).startswith("No date: ")
    assert list(beside_texts(trend)) == []


# The drawing of the sections -----------------------------------------------------------------------


def leak(name: str, value: float | None = 1e9, **more: Any) -> Leak:
    return Leak(name, value, more.get("bound"), bad=more.get("bad", False))


def widths(svg: str) -> list[float]:
    import re

    return [float(wide) for wide in re.findall(r'class="leak[^"]*" d="[^"]+" stroke-width="([\d.]+)"', svg)]


def test_the_more_a_section_leaks_the_thicker_its_line() -> None:
    drawn = sections_svg([leak("U", 1e6), leak("V", 1e7), leak("W", 1e8), leak("N", 1e12)], "frame")
    found = widths(drawn)
    assert found == sorted(found, reverse=True)
    assert found[0] > 4 * found[-1]
    assert "1.00\u00a0MΩ" in drawn
    assert 'class="earth"' in drawn


def test_a_bound_is_dashed_a_bad_section_marked_and_the_unmeasured_said() -> None:
    drawn = sections_svg([leak("U", bound=Bound.LOWER), leak("V", bad=True), leak("W", None)], "tank")
    assert drawn.count("stroke-dasharray") == 1
    assert drawn.count('class="terminal bad"') == 1
    assert "not measured" in drawn
    assert len(widths(drawn)) == 2
    assert "resistance to tank" in drawn


@pytest.mark.parametrize("count", (1, 3, 4, 5, 9, 12, 40))
def test_sections_stand_in_rows_inside_the_frame(count: int) -> None:
    import re

    drawn = sections_svg([leak(f"core {n}") for n in range(count)], "screen")
    circles = re.findall(r'<circle class="terminal" cx="([\d.]+)" cy="([\d.]+)"', drawn)
    assert len(circles) == min(count, MOST)
    wide, high = map(float, re.findall(r'viewBox="0 0 (\d+) (\d+)"', drawn)[0])
    assert all(26 < float(x) < wide - 26 and 26 < float(y) < high - 26 for x, y in circles)
    assert len(set(circles)) == len(circles)


def test_nothing_to_draw_is_nothing_and_names_are_escaped() -> None:
    assert sections_svg([], "frame") == ""
    drawn = sections_svg([leak("<script>")], 'a"b')
    assert "<script>" not in drawn
    assert 'a"b' not in drawn


def test_a_table_leaves_as_a_workbook() -> None:
    import io

    from openpyxl import load_workbook

    sheet = load_workbook(
        io.BytesIO(table_xlsx("All plant", ["a", "b"], [["=1", 2.5], [None, "x\x07"]]))
    ).active
    assert sheet is not None
    assert sheet.title == "All plant"
    rows = list(sheet.iter_rows(values_only=True))
    assert rows == [("a", "b"), ("=1", 2.5), (None, "x[U+0007]")]
    assert sheet.cell(2, 1).data_type == "s"
