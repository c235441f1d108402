"""Charts of the whole curve, and where texts stand: across no line, ring or other text."""

from __future__ import annotations

import math
from itertools import combinations
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest

import invented
import invented_diagnosis as made
from soakage.app.result import Evaluated
from soakage.report import charts
from soakage.report.chart_layers import Frame
from soakage.report.chart_texts import obstacles, placed_texts
from soakage.report.dry_out import dry_out_content
from soakage.report.network_drawing import network_svg
from soakage.report.networks import network_content
from soakage.report.placing import Label, place, ring, trail
from soakage.report.plots import message, plots

# As the papers use them: two beside one another on paper, one alone, wide and narrow on a screen.
SIZES = {
    "beside": ("paper", ((235.0, 190.0), (153.0, 190.0))),
    "low": ("paper", ((235.0, 110.0), (153.0, 110.0))),
    "alone": ("paper", ((400.0, 160.0), (400.0, 160.0))),
    "wide": ("screen", ((590.0, 380.0), (390.0, 380.0))),
    "narrow": ("screen", ((350.0, 320.0), (350.0, 320.0))),
}
CASES: dict[str, Evaluated] = {
    "hold": invented.evaluated(),
    "fitted": made.fitted(),
    "early": made.ended_early(),
    "staircase": made.staircase(),
    "knee": made.knee(),
    "low": invented.evaluated(invented.record(readings=invented.curve(points=14))),
}


def drawn(case: str) -> list[dict[str, Any]]:
    if case == "drying":
        plot = dry_out_content(made.dry_out())["plot"]
        assert plot is not None
        return [plot]
    return plots(CASES[case])


def frame_of(plot: dict[str, Any], look: str, width: float, height: float) -> Frame:
    """Return the frame a specification draws in."""
    frames: list[Frame] = []
    original: Any = vars(charts)["texts"]

    def keep(given: dict[str, Any], frame: Frame) -> list[dict[str, Any]]:
        frames.append(frame)
        drawn: list[dict[str, Any]] = original(given, frame)
        return drawn

    vars(charts)["texts"] = keep
    try:
        charts.spec(plot, look, width=width, height=height)
    finally:
        vars(charts)["texts"] = original
    return frames[0]


@pytest.mark.parametrize("used", SIZES)
@pytest.mark.parametrize("case", (*CASES, "drying"))
def test_texts_touch_no_text_and_no_line(case: str, used: str) -> None:
    if case == "drying" and used in ("beside", "low"):
        used = "alone"
    look, sizes = SIZES[used]
    for plot, (width, height) in zip(drawn(case), sizes, strict=False):
        frame = frame_of(plot, look, width, height)
        size = frame.style.text
        boxes = [
            (p.left, p.middle - 0.45 * size, p.left + p.width * 0.9, p.middle + 0.4 * size)
            for p in placed_texts(plot, frame)
        ]
        for a, b in combinations(boxes, 2):
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
        points = obstacles(plot, frame)
        for left, top, right, bottom in boxes:
            under = (
                (points[:, 0] > left)
                & (points[:, 0] < right)
                & (points[:, 1] > top)
                & (points[:, 1] < bottom)
            )
            assert under.sum() == 0


def test_a_text_goes_where_nothing_is() -> None:
    line = trail([(0.0, 100.0), (100.0, 0.0)])
    (placed,) = place([Label("abc", ((50.0, 50.0),))], line, width=100, height=100, text=10)
    box = (placed.left, placed.middle - 5, placed.left + placed.width, placed.middle + 5)
    inside = (line[:, 0] > box[0]) & (line[:, 0] < box[2]) & (line[:, 1] > box[1]) & (line[:, 1] < box[3])
    assert not inside.any()


def test_a_second_text_at_the_same_place_gives_way() -> None:
    label = Label("abcdef", ((50.0, 50.0),))
    first, second = place([label, label], np.empty((0, 2)), width=100, height=100, text=10)
    assert (first.left, first.middle) != (second.left, second.middle)


def test_a_text_stays_inside() -> None:
    (placed,) = place(
        [Label("a long text", ((99.0, 99.0),))], np.empty((0, 2)), width=100, height=100, text=10
    )
    assert placed.left >= 0
    assert placed.left + placed.width <= 111
    assert placed.middle <= 100


def test_points_along_a_line_leave_no_gap() -> None:
    points = trail([(0.0, 0.0), (30.0, 40.0), (30.0, 41.0)], step=2.0)
    assert np.hypot(*np.diff(points, axis=0).T).max() <= 2.0 + 1e-9
    assert ring((5.0, 5.0), 3.0) == pytest.approx(ring((5.0, 5.0), 3.0))
    assert np.hypot(*(ring((5.0, 5.0), 3.0)[1:] - 5.0).T) == pytest.approx(np.full(9, 3.0))


def line(plot: dict[str, Any], role: str) -> list[list[float]]:
    return next(entry["points"] for entry in plot["lines"] if entry["role"] == role)


def test_the_parts_of_a_fit_are_its_own() -> None:
    # I = V (A t^-n + G): at 5003 V the conduction is V G and the absorption at 60 s V A 60^-n.
    current = drawn("fitted")[1]
    assert line(current, "constant")[0][1] == pytest.approx(5003.0 * 6.4e-10)
    part = np.array(line(current, "part"))
    at_60 = math.exp(np.interp(math.log(60.0), np.log(part[:, 0]), np.log(part[:, 1])))
    assert at_60 == pytest.approx(5003.0 * 1.4e-8 * 60.0**-0.75, rel=1e-3)
    slope = np.diff(np.log(part[:, 1])) / np.diff(np.log(part[:, 0]))
    assert slope == pytest.approx(np.full(len(slope), -0.75))


def test_nothing_is_forced_on_a_curve_that_does_not_follow() -> None:
    current = plots(made.fitted(made.NOT_FOLLOWED))[1]
    assert [entry["role"] for entry in current["lines"]] == ["measured"]
    assert current["title"] == "Current against time"


def test_a_forecast_begins_where_the_readings_end() -> None:
    resistance = drawn("early")[0]
    assert min(row[0] for row in resistance["area"]) >= 120.0
    assert all(low <= high for _, low, high in resistance["area"])
    (bar,) = resistance["bars"]
    assert bar == [
        600.0,
        pytest.approx(1.55 * 832.4e6),
        pytest.approx(1.70 * 832.4e6),
        pytest.approx(1.62 * 832.4e6),
    ]
    (need,) = resistance["needs"]
    assert need["reading"] is None
    assert max(p[0] for p in line(resistance, "measured")) <= 120.0


def test_steps_show_conductance_with_95_percent_bars_and_their_mean() -> None:
    plot = drawn("staircase")[1]
    assert plot["kind"] == "step-conductance"
    at, low, high, value = plot["bars"][-1]
    assert (at, value) == (5000.0, 1.7e-10)
    assert (high - low) / 2 == pytest.approx(1.96 * 4e-12)
    mean = np.mean([1.05e-10, 1.07e-10, 1.06e-10, 1.3e-10, 1.7e-10])
    assert [p[1] for p in line(plot, "mean")] == pytest.approx([mean, mean])


def test_steps_without_conductances_show_resistance() -> None:
    assert plots(invented.steps())[1]["kind"] == "step-resistance"


def test_a_knee_is_drawn_with_what_the_part_below_it_foretells() -> None:
    (plot,) = drawn("knee")
    assert plot["rules"][0]["at"] == 8200.0
    assert plot["rules"][0]["text"].startswith("knee from about")
    band = np.array(plot["area"])
    assert band[0, 0] == pytest.approx(8200.0)
    assert band[-1, 0] == pytest.approx(10_000.0)
    top = line(plot, "measured")[-1]
    assert top[1] > band[-1, 2]  # the reading stands above the band
    smooth = 2.5e-7 * 1000 / 60 + band[:, 0] * 1.1e-10
    assert np.all(band[:, 1] <= smooth * 1.05)


def test_a_ramp_without_a_knee_has_no_band() -> None:
    (plot,) = plots(invented.ramp())
    assert "area" not in plot
    assert "rules" not in plot


@pytest.mark.parametrize("make", (invented.evaluated, made.staircase, made.knee))
def test_a_negative_test_is_drawn_by_magnitudes(make: Any) -> None:
    straight, turned = make(), made.negative(make())
    assert [p["kind"] for p in plots(turned)] == [p["kind"] for p in plots(straight)]
    for plot, other in zip(plots(straight), plots(turned), strict=True):
        for a, b in zip(plot["lines"], other["lines"], strict=True):
            assert np.array(a["points"]) == pytest.approx(np.array(b["points"]))


def test_a_message_about_steps_carries_the_excess() -> None:
    found = {"excess_current_share": invented.quantity("excess_current_share", 0.12, 0.01)}
    evaluated = invented.evaluated(made.staircase().record, steps=made.staircase().steps, quantities=found)
    assert "12.0 ± 2.0 % of the current at the last step" in message(evaluated).replace("\u00a0", " ")


def test_a_drying_shows_its_minimum_level_and_when_it_is_reached() -> None:
    (plot,) = drawn("drying")
    assert plot["rings"] == [[2 * 21_600.0, 2.0e7]]
    assert line(plot, "constant")[0][1] == 1.6e8
    assert plot["rules"][0]["at"] == 162_000.0
    assert [p[1] for p in line(plot, "part")] == pytest.approx([p[1] * 0.7 for p in line(plot, "measured")])


def test_a_drying_of_one_reading_draws_nothing() -> None:
    one = made.dry_out(points=made.dry_out().points[:1], minimum=None, level=None, levels_at=None)
    assert dry_out_content(one)["plot"] is None


@pytest.mark.parametrize("look", ("paper", "screen-light", "screen-dark"))
@pytest.mark.parametrize("case", (*CASES, "drying"))
def test_every_chart_can_be_drawn(case: str, look: str) -> None:
    for i, plot in enumerate(drawn(case)):
        svg = charts.svg(charts.spec(plot, look, width=300, height=200), f"c{i}")
        assert "NaN" not in svg
        assert ET.fromstring(svg).tag.endswith("svg")  # noqa: S314 - our own drawing


def test_a_band_is_a_tint_on_a_screen_and_two_edges_on_paper() -> None:
    plot = drawn("early")[0]
    paper = [layer["mark"] for layer in charts.spec(plot, "paper", width=300, height=200)["layer"]]
    screen = [layer["mark"] for layer in charts.spec(plot, "screen", width=300, height=200)["layer"]]
    assert not any(mark["type"] == "area" for mark in paper)
    assert any(mark["type"] == "area" for mark in screen)


@pytest.mark.parametrize("terminals", (2, 3, 5, 6))
@pytest.mark.parametrize("paper", (True, False))
def test_a_network_is_drawn_with_every_value_on_its_link(terminals: int, paper: bool) -> None:
    content = network_content(made.network(terminals))
    root = ET.fromstring(network_svg(content, paper=paper, width=220.0))  # noqa: S314 - our own drawing
    said = [t.text for t in root.iter("{http://www.w3.org/2000/svg}text")]
    assert {f"T{i + 1}" for i in range(terminals)} | {"tank"} <= set(said)
    assert sorted(link["text"] for link in content["links"]) == sorted(
        t for t in said if t and t != "tank" and not t.startswith("T")
    )
    dashed = [e for e in root.iter("{http://www.w3.org/2000/svg}line") if e.get("stroke-dasharray")]
    assert len(dashed) == 3  # the one link that is not resolved has three parts


def test_no_two_links_of_a_network_lie_on_one_another() -> None:
    content = network_content(made.network(4))
    root = ET.fromstring(network_svg(content, paper=True, width=220.0))  # noqa: S314 - our own drawing
    flat = [
        (float(e.get("x1", 0)), float(e.get("x2", 0)), float(e.get("y1", 0)))
        for e in root.iter("{http://www.w3.org/2000/svg}line")
        if e.get("y1") == e.get("y2") and abs(float(e.get("x1", 0)) - float(e.get("x2", 0))) > 20
    ]
    for (a1, a2, ya), (b1, b2, yb) in combinations(flat, 2):
        assert ya != yb or max(a1, b1) >= min(a2, b2)
