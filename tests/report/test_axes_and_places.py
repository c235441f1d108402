"""Axes, days, and the places of texts: tables of cases, and what holds whatever is drawn."""

from __future__ import annotations

import math
import tomllib
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import invented
from soakage.report import charts, days
from soakage.report.axes import axis
from soakage.report.looks import LOOKS
from soakage.report.placing import SIDES, Label, place, ring, trail
from soakage.report.plots import plots
from soakage.units import parse

CASES: dict[str, list[dict[str, Any]]] = tomllib.loads(
    (Path(__file__).parent / "cases_axes.toml").read_text(encoding="utf-8")
)
PLOTS = [
    plot
    for made in (
        invented.evaluated(),
        invented.evaluated(invented.record(readings=invented.curve(points=12, cut_at=1e9))),
        invented.steps(),
        invented.ramp(),
    )
    for plot in plots(made)
]
POSITIVE = st.floats(1e-12, 1e15)


# ---------------------------------------------------------------------------------------------- axes
@pytest.mark.parametrize("case", CASES["tick"], ids=[case["name"] for case in CASES["tick"]])
def test_ticks_are_those_of_the_trade(case: dict[str, Any]) -> None:
    found = axis(
        case["values"], case["dimension"], log=case["log"], length=case["length"], text=7.5,
        upright=case["upright"],
    )  # fmt: skip
    texts = [text.replace("\u00a0", " ") for text in found.texts]
    assert [wanted for wanted in case["has"] if wanted not in texts] == [], texts


@given(st.lists(POSITIVE, min_size=1, max_size=20), st.sampled_from((120.0, 300.0, 900.0)), st.booleans())
def test_a_log_axis_holds_its_values_and_rises(values: list[float], length: float, upright: bool) -> None:
    found = axis(values, "resistance", log=True, length=length, text=7.5, upright=upright)
    assert 0 < found.low < min(values)
    assert found.high > max(values)
    assert list(found.ticks) == sorted(set(found.ticks))
    assert len(set(found.texts)) == len(found.texts)
    for value in values:
        assert 0 <= found.share(value) <= 1


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=20), st.booleans())
def test_a_linear_axis_begins_at_nought(values: list[float], upright: bool) -> None:
    found = axis(values, "voltage", log=False, length=300, text=7.5, upright=upright)
    assert found.low <= 0 <= found.high
    assert found.low <= min(values)
    assert max(values) <= found.high
    assert list(found.ticks) == sorted(set(found.ticks))


@given(st.lists(st.one_of(POSITIVE, st.just(0.0), st.just(-1.0), st.just(math.nan), st.just(math.inf))))
def test_what_no_axis_can_hold_is_left_out(values: list[float]) -> None:
    found = axis(values, "resistance", log=True, length=300, text=7.5)
    kept = [value for value in values if 0 < value < math.inf]
    assert math.isfinite(found.low)
    assert math.isfinite(found.high)
    assert found == axis(kept, "resistance", log=True, length=300, text=7.5)


@given(st.lists(POSITIVE, min_size=2, max_size=6), st.data())
def test_the_place_along_an_axis_rises_with_the_value(values: list[float], data: st.DataObject) -> None:
    found = axis(values, "current", log=True, length=300, text=7.5)
    one, other = sorted(data.draw(st.tuples(st.sampled_from(values), st.sampled_from(values))))
    assert found.share(one) <= found.share(other)
    assert found.share(found.low) == pytest.approx(0)
    assert found.share(found.high) == pytest.approx(1)


@given(st.floats(1e-10, 1e12), st.floats(1.5, 1e5))
def test_what_a_tick_says_is_where_it_stands(low: float, times: float) -> None:
    found = axis([low, low * times], "resistance", log=True, length=300, text=7.5, upright=True)
    for tick, text in zip(found.ticks, found.texts, strict=True):
        assert parse(text, "resistance").value == pytest.approx(tick, rel=5e-3)


@pytest.mark.parametrize("case", CASES["tick"], ids=[case["name"] for case in CASES["tick"]])
def test_the_axis_labels_are_given_to_the_drawing_as_they_are(case: dict[str, Any]) -> None:
    found = axis(case["values"], case["dimension"], log=case["log"], length=case["length"], text=7.5)
    for tick, text in zip(found.ticks, found.texts, strict=True):
        assert f"datum.value=={tick!r}?{text!r}" in found.label_expression
    assert found.label_expression.endswith(":''")


# ---------------------------------------------------------------------------------------------- days
@pytest.mark.parametrize("case", CASES["day"], ids=[str(case["at"]) for case in CASES["day"]])
def test_a_day_stands_in_its_year(case: dict[str, Any]) -> None:
    assert days.place(case["at"]) == pytest.approx(case["near"], abs=0.005)
    assert days.day_at(days.place(case["at"])) == case["at"]


@pytest.mark.parametrize("case", CASES["tick_text"], ids=[case["text"] for case in CASES["tick_text"]])
def test_a_tick_of_days_in_words(case: dict[str, Any]) -> None:
    assert days.tick_text(case["at"]) == case["text"]


@given(st.dates(date(1900, 1, 1), date(2100, 12, 31)))
def test_every_day_comes_back(day: date) -> None:
    assert days.day_at(days.place(day)) == day
    assert days.place(day + timedelta(days=1)) - days.place(day) == pytest.approx(1 / 365.25)


@pytest.mark.parametrize("beyond", (-1e9, -1.0, 1e5, 1e9))
def test_beyond_the_calendar_is_no_day(beyond: float) -> None:
    assert days.day_at(beyond) is None
    assert days.day_text(beyond) == "–"


@given(st.lists(st.floats(1950, 2050), min_size=1, max_size=12), st.sampled_from((120.0, 300.0, 900.0)))
def test_an_axis_of_days_holds_at_least_a_year(values: list[float], length: float) -> None:
    found = axis(values, days.DIMENSION, log=False, length=length, text=7.5)
    assert found.high - found.low >= 1 - 1e-9
    assert found.low < min(values)
    assert max(values) < found.high
    assert all(found.low <= tick <= found.high for tick in found.ticks)
    places = [length * found.share(tick) for tick in found.ticks]
    wide = [0.5 * 7.5 * len(text) for text in found.texts]
    if len(places) > 1 and found.high - found.low < 400:
        for (a, b), (wide_a, wide_b) in zip(pairwise(places), pairwise(wide), strict=True):
            assert b - a >= (wide_a + wide_b) / 2


# -------------------------------------------------------------------------------------------- places
@pytest.mark.parametrize("case", CASES["place"], ids=[case["name"] for case in CASES["place"]])
def test_a_text_takes_the_side_that_is_free(case: dict[str, Any]) -> None:
    obstacles = np.concatenate([np.empty((0, 2)), *(trail(line) for line in case["lines"])])
    label = Label("412 MΩ", tuple((x, y) for x, y in case["anchors"]), tuple(case["sides"]))
    (found,) = place([label], obstacles, width=200, height=100, text=10)
    (x, y), across, down = case["anchors"][0], *SIDES[case["side"]]
    middle = found.left + found.width / 2
    assert np.sign(round(middle - x, 6)) == across
    assert np.sign(round(found.middle - y, 6)) == down


@given(
    st.lists(
        st.tuples(st.text("abc 123", min_size=1, max_size=14), st.floats(30, 370), st.floats(30, 270)),
        min_size=1, max_size=5,
    )
)  # fmt: skip
def test_texts_keep_off_one_another(found: list[tuple[str, float, float]]) -> None:
    labels = [Label(text, ((x, y),)) for text, x, y in found]
    placed = place(labels, np.empty((0, 2)), width=400, height=300, text=8)
    assert [one.label for one in placed] == labels
    for index, one in enumerate(placed):
        for other in placed[index + 1 :]:
            apart = one.left + one.width <= other.left or other.left + other.width <= one.left
            assert apart or abs(one.middle - other.middle) >= 8


@given(st.lists(st.tuples(st.floats(0, 500), st.floats(0, 500)), min_size=2, max_size=6), st.floats(0.5, 20))
def test_a_trail_follows_its_line_without_gaps(points: list[tuple[float, float]], step: float) -> None:
    along = trail(points, step)
    assert along[0].tolist() == pytest.approx(points[0])
    assert along[-1].tolist() == pytest.approx(points[-1])
    gaps = np.hypot(*np.diff(along, axis=0).T)
    assert np.all(gaps <= step * (1 + 1e-9))


@given(st.floats(-100, 100), st.floats(-100, 100), st.floats(0.1, 50))
def test_a_ring_has_its_radius(x: float, y: float, radius: float) -> None:
    middle, *around = ring((x, y), radius)
    assert middle.tolist() == [x, y]
    assert np.allclose([math.hypot(px - x, py - y) for px, py in around], radius)


# ------------------------------------------------------------------------------------ the grammar of charts
def colours(value: Any) -> set[str]:
    found: set[str] = set()
    if isinstance(value, dict):
        for key, part in value.items():
            if key in ("color", "stroke", "fill", "domainColor", "tickColor", "labelColor", "gridColor"):
                if isinstance(part, str):
                    found.add(part)
            else:
                found |= colours(part)
    elif isinstance(value, list):
        for part in value:
            found |= colours(part)
    return found


@pytest.mark.parametrize("name", LOOKS)
@pytest.mark.parametrize("plot", PLOTS, ids=[plot["kind"] for plot in PLOTS])
def test_only_the_inks_of_the_look_are_used(plot: dict[str, Any], name: str) -> None:
    style = LOOKS[name]
    inks = {style.ink, style.second, style.model, style.ground, style.grid, style.stone, "transparent"}
    assert colours(charts.spec(plot, name, width=390, height=320)) <= inks


def test_the_pages_own_style_decides_light_and_dark() -> None:
    style = LOOKS["screen"]
    for ink in (style.ink, style.second, style.model, style.ground, style.grid, style.stone):
        assert ink.startswith("var(--")


def test_paper_knows_no_grey() -> None:
    style = LOOKS["paper"]
    assert {style.ink, style.second, style.model, style.ground} == {"#000", "#fff"}
    assert (style.grid, style.stone, style.tint) == ("", "", 0.0)
    assert style.heavy > style.thin


@pytest.mark.parametrize("plot", PLOTS, ids=[plot["kind"] for plot in PLOTS])
@pytest.mark.parametrize(("width", "height"), ((240, 180), (350, 320), (1000, 380)))
def test_measured_is_heavier_than_worked_out(plot: dict[str, Any], width: float, height: float) -> None:
    made = charts.spec(plot, "paper", width=width, height=height)
    drawn = [layer["mark"] for layer in made["layer"] if layer["mark"]["type"] == "line"]
    thinnest = LOOKS["paper"].thin * (0.75 if plot["needs"] else 1.0)
    widths = {mark["strokeWidth"] for mark in drawn if "strokeDash" not in mark}
    assert max(widths) == LOOKS["paper"].heavy
    assert all(mark["strokeWidth"] < LOOKS["paper"].heavy for mark in drawn if "strokeDash" in mark)
    assert min(widths) >= thinnest - 1e-9


@pytest.mark.parametrize("plot", PLOTS, ids=[plot["kind"] for plot in PLOTS])
def test_scales_are_what_the_plot_says(plot: dict[str, Any]) -> None:
    made = charts.spec(plot, "screen", width=590, height=380)
    for name in ("x", "y"):
        scales = [
            layer["encoding"][name]["scale"]
            for layer in made["layer"]
            if "scale" in layer["encoding"].get(name, {})
        ]
        assert scales
        assert {scale.get("type") == "log" for scale in scales} == {plot[name]["log"]}
        domains = {tuple(scale["domain"]) for scale in scales}
        assert len(domains) == 1, "all layers stand on one axis"
        low, high = domains.pop()
        assert low < high
        assert low > 0 or not plot[name]["log"]


@pytest.mark.parametrize("plot", PLOTS, ids=[plot["kind"] for plot in PLOTS])
def test_every_point_drawn_lies_inside_the_axes(plot: dict[str, Any]) -> None:
    made = charts.spec(plot, "screen", width=590, height=380)
    scale = next(layer["encoding"] for layer in made["layer"] if "scale" in layer["encoding"].get("x", {}))
    for name in ("x", "y"):
        low, high = scale[name]["scale"]["domain"]
        index = 0 if name == "x" else 1
        for line in plot["lines"]:
            for point in line["points"]:
                if line["role"] == "measured":
                    assert low <= point[index] <= high
        for point in (*plot["rings"], *plot["bounds"]):
            assert low <= point[index] <= high


@pytest.mark.parametrize(("side", "sign"), (("below", -1), ("above", 1)))
def test_the_strokes_of_a_limit_stand_where_it_forbids(side: str, sign: int) -> None:
    plot = PLOTS[0] | {"limits": [{"level": 5e8, "side": side, "text": "a limit"}]}
    made = charts.spec(plot, "paper", width=240, height=180)
    strokes = [
        value
        for layer in made["layer"]
        for value in layer["data"]["values"]
        if value.get("y") == 5e8 and "y2" in value
    ]
    assert len(strokes) > 10
    assert {math.copysign(1, stroke["y2"] - 5e8) for stroke in strokes} == {sign}


def test_a_narrow_chart_is_laid_out_again_not_shrunk() -> None:
    for plot in PLOTS:
        wide, narrow = (charts.spec(plot, "screen", width=w, height=320) for w in (1000, 350))
        sizes = [
            {layer["mark"]["fontSize"] for layer in made["layer"] if layer["mark"]["type"] == "text"}
            for made in (wide, narrow)
        ]
        assert sizes[0] == sizes[1], "letters keep their size"
        assert wide["config"]["axisX"]["labelFontSize"] == narrow["config"]["axisX"]["labelFontSize"]
