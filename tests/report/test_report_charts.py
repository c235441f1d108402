"""Charts of a report: what is plotted, what never reaches a log axis, ticks, looks, and the same SVG each time."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest

import invented
from soakage.errors import UsageError
from soakage.model.readings import Readings
from soakage.report import charts
from soakage.report.axes import axis
from soakage.report.drawn import MOST_POINTS
from soakage.report.plots import message, plots

CASES = {
    "hold": invented.evaluated(),
    "bounds": invented.evaluated(invented.record(readings=invented.curve(points=12, cut_at=1e9))),
    "steps": invented.steps(),
    "ramp": invented.ramp(),
}


def readings(time: Any, current: Any, bound: int = 0) -> Readings:
    time, current = np.asarray(time, float), np.asarray(current, float)
    volts = np.full(time.size, 5000.0)
    with np.errstate(divide="ignore"):
        resistance = volts / current
    return Readings(time, volts, current, resistance, np.full(time.size, bound, np.int8))


def of(readings: Readings, **more: Any) -> Any:
    return invented.evaluated(invented.record(readings=readings), **more)


def measured(plot: dict[str, Any]) -> list[list[float]]:
    return [p for line in plot["lines"] if line["role"] == "measured" for p in line["points"]]


def test_a_hold_plots_resistance_and_current() -> None:
    resistance, current = plots(CASES["hold"])
    source = CASES["hold"].record.readings
    assert len(measured(resistance)) == len(source)
    assert measured(resistance)[0] == [5.0, source.resistance[0]]
    assert [r[0] for r in resistance["rings"]] == [60.0, 600.0]
    assert [line["role"] for line in current["lines"]] == ["constant", "part", "measured"]
    # At the 1 min mark the two parts make the total.
    part = next(line for line in current["lines"] if line["role"] == "part")["points"]
    at_60 = np.exp(np.interp(math.log(60), *np.log(np.array(part)).T))
    total = next(i for t, i in measured(current) if t == 60.0)
    assert at_60 + 3.22e-6 == pytest.approx(total, rel=1e-3)


def test_a_limit_is_brought_to_the_temperature_of_the_reading() -> None:
    # 100 MOhm at 40 degC times 832.4 / 705.4: what the uncorrected reading is held against.
    levels = [entry["level"] for entry in plots(CASES["hold"])[0]["limits"]]
    assert levels == pytest.approx([200e6 * 832.4 / 705.4, 100e6 * 832.4 / 705.4])
    texts = [entry["text"].replace("\u00a0", " ") for entry in plots(CASES["hold"])[0]["limits"]]
    assert texts[1] == "at least 100 MΩ at 40 °C = 118 MΩ at 27.5 °C"


def test_the_index_is_drawn_where_it_bites() -> None:
    (need,) = plots(CASES["hold"])[0]["needs"]
    assert need["to"] == [600.0, pytest.approx(2 * 832.4e6)]
    assert need["reading"] == pytest.approx(1347.4e6)


def test_bounds_are_apart_from_values_and_point_to_the_open_side() -> None:
    resistance, current = plots(CASES["bounds"])
    assert len(measured(resistance)) + len(resistance["bounds"]) == 12
    assert {p[2] for p in resistance["bounds"]} == {1}
    assert {p[2] for p in current["bounds"]} == {-1}  # a lower bound on R is an upper one on I
    assert max(p[1] for p in measured(resistance)) < 1e9
    shapes = [
        layer["mark"].get("shape")
        for layer in charts.spec(resistance, "paper", width=240, height=180)["layer"]
    ]
    assert "triangle-up" in shapes


@pytest.mark.parametrize("bad", (0.0, -2e-6, math.nan))
def test_nothing_at_or_below_zero_reaches_a_log_axis(bad: float) -> None:
    found = plots(of(readings([0.0, 15, 30, 60], [4e-6, bad, 3e-6, 2e-6])))
    for plot in found:
        assert all(x > 0 and y > 0 for x, y in measured(plot))
    current = found[-1]
    assert [p[0] for p in measured(current)] == [30.0, 60.0]


def test_one_reading_draws_nothing() -> None:
    assert plots(of(readings([60.0], [1e-6]))) == []
    assert message(of(readings([60.0], [1e-6]))) == ""


def test_many_points_are_thinned_and_a_spike_stays() -> None:
    count = 60_000
    time = np.linspace(1, 6000, count)
    current = 1e-6 + 1e-5 / time
    current[41_234] = 9e-5
    drawn = measured(plots(of(readings(time, current)))[-1])
    assert 1000 < len(drawn) <= MOST_POINTS
    assert max(p[1] for p in drawn) == 9e-5
    assert (drawn[0][0], drawn[-1][0]) == (time[0], time[-1])
    assert [p[0] for p in drawn] == sorted(p[0] for p in drawn)


def test_as_many_as_allowed_are_left_alone() -> None:
    time = np.linspace(1, 6000, MOST_POINTS)
    assert len(measured(plots(of(readings(time, 1e-6 + 1e-5 / time)))[-1])) == MOST_POINTS


def test_after_the_short_circuit_nothing_is_plotted_as_charging() -> None:
    record = invented.record(
        test=replace(invented.record().test, method="dielectric-discharge", discharge_started=100.0),
        readings=readings([30.0, 60, 90, 120, 180], [4e-6, 3e-6, 2e-6, 5e-6, 4e-6]),
    )
    for plot in plots(invented.evaluated(record)):
        assert max(p[0] for p in measured(plot)) == 90.0


def test_steps_have_a_curve_each_and_the_resistance_against_voltage() -> None:
    current, resistance = plots(CASES["steps"])
    assert len(current["lines"]) == 5
    assert [text for _, text in current["bands"]] == [f"{k}\u00a0kV" for k in range(1, 6)]
    assert [p[0] for p in resistance["rings"]] == [1000.0, 2000.0, 3000.0, 4000.0, 5000.0]


def test_typed_end_values_of_steps_draw_only_resistance_against_voltage() -> None:
    made = CASES["steps"]
    ends = made.record.readings
    few = Readings(*(getattr(ends, n)[29::30] for n in ("time", "voltage", "current", "resistance", "bound")))
    (only,) = plots(replace(made, record=replace(made.record, readings=few)))
    assert only["kind"] == "step-resistance"


def test_a_ramp_is_current_against_voltage() -> None:
    (plot,) = plots(CASES["ramp"])
    assert (plot["x"]["dimension"], plot["y"]["dimension"]) == ("voltage", "current")
    assert not plot["limits"]


def test_messages_carry_the_figures() -> None:
    assert (
        message(CASES["hold"]).replace("\u00a0", " ")
        == "The resistance rises from 207 MΩ at 5 s to 1.32 GΩ at 10 min."
    )
    assert "4 readings of 12 only bound" in message(CASES["bounds"]).replace("\u00a0", " ")
    assert message(CASES["steps"]).startswith("From 1\u00a0kV to 5\u00a0kV")


@pytest.mark.parametrize("look", ("paper", "screen", "screen-light", "screen-dark"))
@pytest.mark.parametrize("case", CASES)
def test_every_plot_can_be_drawn_in_every_look(case: str, look: str) -> None:
    for i, plot in enumerate(plots(CASES[case])):
        drawn = charts.svg(charts.spec(plot, look, width=300, height=200), f"c{i}")
        root = ET.fromstring(drawn)  # noqa: S314 - our own drawing
        assert root.tag.endswith("svg")
        assert "Fira Sans" in drawn
        assert "NaN" not in drawn
        texts = [t.text for t in root.iter("{http://www.w3.org/2000/svg}text")]
        assert len([t for t in texts if t]) >= 4


def test_paper_has_one_ink() -> None:
    for made in CASES.values():
        for plot in plots(made):
            drawn = charts.svg(charts.spec(plot, "paper", width=300, height=200), "c")
            colours = set(re.findall(r'(?:fill|stroke)="([^"]+)"', drawn)) - {"none", "transparent"}
            assert {c.lower() for c in colours} <= {"#000", "black", "#fff", "white"}


def test_strokes_stand_on_the_forbidden_side() -> None:
    plot = plots(CASES["hold"])[0]
    level = plot["limits"][0]["level"]
    layers = charts.spec(plot, "paper", width=240, height=180)["layer"]
    strokes = [v for layer in layers for v in layer["data"]["values"] if v.get("y") == level and "y2" in v]
    assert strokes
    assert all(v["y2"] < level for v in strokes)


def test_the_same_svg_whatever_was_drawn_before() -> None:
    spec = charts.spec(plots(CASES["hold"])[0], "paper", width=240, height=180)
    first = charts.svg(spec, "a")
    charts.svg(charts.spec(plots(CASES["ramp"])[0], "paper", width=240, height=180), "b")
    assert charts.svg(spec, "a") == first
    ids = re.findall(r'id="([^"]+)"', first)
    assert all(name.startswith("a-") for name in ids)


def test_an_unknown_look_is_refused() -> None:
    with pytest.raises(UsageError, match="Unknown look"):
        charts.spec(plots(CASES["ramp"])[0], "neon", width=200, height=100)


@pytest.mark.parametrize(
    ("values", "dimension", "log"),
    (
        ([5, 600], "time", True), ([0.5, 86_400], "time", True), ([100, 101], "time", True),
        ([1e6, 1e13], "resistance", True), ([8.3e8, 8.4e8], "resistance", True), ([1e9], "resistance", True),
        ([1e-9, 1e-5], "current", True), ([0, 300], "time", False), ([0, 10_000], "voltage", False),
        ([-1e-6, 5e-6], "current", False), ([], "resistance", True), ([0, 0], "current", False),
    ),
)  # fmt: skip
@pytest.mark.parametrize("length", (100, 300, 900))
def test_ticks_lie_inside_and_their_texts_do_not_touch(
    values: list[float], dimension: str, log: bool, length: float
) -> None:
    size = 10.0
    found = axis(values, dimension, log=log, length=length, text=size)
    assert found.low < found.high
    assert all(found.low <= v <= found.high for v in values if v > 0 or not log)
    assert all(found.low <= t <= found.high * (1 + 1e-9) for t in found.ticks)
    assert len(set(found.texts)) == len(found.texts)
    span = math.log(found.high / found.low) if log else found.high - found.low
    places = [length * (math.log(t / found.low) if log else t - found.low) / span for t in found.ticks]
    wide = [0.5 * size * len(text) for text in found.texts]
    for (a, b), (wide_a, wide_b) in zip(pairwise(places), pairwise(wide), strict=True):
        assert b - a >= (wide_a + wide_b) / 2


def test_ticks_of_time_are_the_marks_of_the_trade() -> None:
    texts = [t.replace("\u00a0", " ") for t in axis([5, 600], "time", log=True, length=300, text=7.5).texts]
    assert {"15 s", "1 min", "10 min"} <= set(texts)
