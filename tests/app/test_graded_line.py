"""A judged step test of graded times: recognised by its holds, held against a straight line, told everywhere."""

from __future__ import annotations

from dataclasses import replace

import jsonschema
import numpy as np
import pytest

from soakage.app.contract_json import evaluation_json
from soakage.app.contract_schema import judge_schema
from soakage.app.evaluate import evaluate
from soakage.app.plan_graded import Graded, Grading, graded
from soakage.app.result import Evaluated
from soakage.cli.diagnosis_text import diagnosis_text
from soakage.errors import UsageError
from soakage.model.record import Record
from soakage.physics.currents import staircase_current
from soakage.physics.graded_line import graded_holds
from soakage.physics.responses import PowerLaw
from typed import MACHINE, codes, judged, said, typed

TOP = 15e3
LAW = PowerLaw(2e-9 * 60**0.8, 0.8, 1e-10, offset=0.0)


def staircase(
    times: Graded, law: PowerLaw = LAW, *, every: float | None = None, noise: float = 0.0, last: float = 1.0
) -> Record:
    """Return the record of a graded test: its ends alone, or read every so many seconds; `last` scales the top."""
    read = np.array(times.ends) if every is None else np.arange(every, times.total + 1e-9, every)
    read = np.unique(np.concatenate([read, times.ends]))
    level = np.array(times.voltages)[np.searchsorted(times.starts, read, side="left") - 1]
    current = staircase_current(law, read, times.starts, times.voltages)
    current = current * (1 + noise * np.random.default_rng(3).standard_normal(read.size))
    current[level == TOP] *= last
    edges = ", ".join(
        f'{{at = "{s:g} s", voltage = "{v:.6f} V"}}'
        for s, v in zip(times.starts, times.voltages, strict=True)
    )
    rows = [(f"{t:g}", f"{v:.6f}", f"{i:.9g}") for t, v, i in zip(read, level, current, strict=True)]
    keys = {**MACHINE, "rated_voltage": "7.2 kV", "method": "step-voltage", "steps": f"[{edges}]"}
    return typed(keys, rows, "time [s],voltage [V],current [A]")


def test_a_linear_winding_lies_on_the_line() -> None:
    found = judged(staircase(graded(TOP, Grading()))).graded
    assert found is not None
    assert found.absorption_exponent == pytest.approx(0.8, abs=0.02)
    assert found.straight
    assert abs(found.departure) < 0.01
    assert found.lower < found.departure < found.upper
    # G and the absorption at the end of the first hold are all the slope is made of.
    assert found.conductance == pytest.approx(1e-10 + 2e-9 * 10**-0.8, rel=0.01)
    assert found.expected is None, "end-of-hold readings alone tell no exponent"


@pytest.mark.parametrize(("true", "bend"), ((0.6, -0.06), (1.0, 0.11)))
def test_the_bend_a_wrong_exponent_leaves_is_told(true: float, bend: float) -> None:
    # A third of the top and ten equal parts, planned for 0.8: last over first bends by -6 % and +11 % (derived).
    law = PowerLaw(2e-9 * 60**true, true, offset=0.0)
    found = judged(staircase(graded(TOP, Grading()), law, every=10.0, noise=0.001)).graded
    assert found is not None
    assert found.expected is not None
    current = np.array([step.current / step.voltage for step in found.steps])
    assert current[-1] / current[0] - 1 == pytest.approx(bend, abs=0.01)
    assert found.expected == pytest.approx(found.departure, abs=0.01)


def test_a_rise_at_the_top_bends_the_line_and_informs() -> None:
    record = staircase(graded(TOP, Grading()), every=10.0, noise=0.002, last=1.15)
    evaluated = judged(record)
    assert evaluated.graded is not None
    assert not evaluated.graded.straight
    assert evaluated.graded.departure == pytest.approx(0.15, abs=0.02)
    assert evaluated.graded.lower > 0.1
    (finding,) = [f for f in evaluated.findings if f.code == "graded_line_bends"]
    assert finding.status is None, "the excess current share judges; the line informs"
    assert "bends upwards" in said(evaluated, "graded_line_bends")


def test_a_bend_that_the_schedule_leaves_is_no_finding() -> None:
    law = PowerLaw(2e-9 * 60**1.0, 1.0, offset=0.0)
    evaluated = judged(staircase(graded(TOP, Grading()), law, every=10.0, noise=0.001))
    assert evaluated.graded is not None
    assert "graded_line_bends" not in codes(evaluated)


@pytest.mark.parametrize("noise", (0.0, 0.005))
@pytest.mark.parametrize("share", (0.1, 0.2))
def test_healthy_windings_are_given_no_finding(share: float, noise: float) -> None:
    evaluated = judged(staircase(graded(TOP, Grading(share)), every=10.0, noise=noise))
    assert evaluated.graded is not None
    assert "graded_line_bends" not in codes(evaluated)


def unequal(holds: list[float]) -> Graded:
    ends = np.cumsum(holds)
    volts = np.linspace(TOP / len(holds), TOP, len(holds))
    return Graded(0.8, "", tuple(volts), (0.0, *ends[:-1]), tuple(ends))


@pytest.mark.parametrize(
    "holds",
    ([60.0] * 5, [600.0, 60.0, 60.0, 60.0], [60.0, 60.0, 60.0, 600.0], [600.0, 300.0]),
    ids=("equal", "ten minutes and one", "the last one long", "two levels"),
)
def test_other_staircases_are_no_graded_ones(holds: list[float]) -> None:
    assert judged(staircase(unequal(holds))).graded is None


def test_a_slow_hand_is_forgiven() -> None:
    times = graded(TOP, Grading())
    late = replace(times, ends=tuple(e + 2 * k for k, e in enumerate(times.ends)))
    late = replace(late, starts=(0.0, *late.ends[:-1]))
    assert judged(staircase(late)).graded is not None


def test_a_level_without_its_reading_leaves_no_line() -> None:
    record = staircase(graded(TOP, Grading()))
    current = record.readings.current.copy()
    current[4] = np.nan
    torn = replace(
        record,
        readings=replace(record.readings, current=current, resistance=record.readings.voltage / current),
    )
    assert judged(torn).graded is None


def test_json_carries_the_line_at_the_top() -> None:
    records = [staircase(unequal([60.0] * 5)), staircase(graded(TOP, Grading()))]
    printed = evaluation_json(evaluate(records))
    jsonschema.validate(printed, judge_schema())
    (schedule,) = printed["schedule"]
    assert schedule["record"] == 1
    assert len(schedule["steps"]) == 11
    assert schedule["steps"][0]["end"] == 600.0
    assert schedule["line"]["straight"] is True
    assert schedule["line"]["lower"] < schedule["line"]["upper"]
    assert schedule["line"]["expected"] is None


def text(evaluated: Evaluated) -> str:
    return " ".join(" ".join(diagnosis_text(evaluated)).split()).replace("\u00a0", " ")


def test_the_text_says_how_straight_it_is() -> None:
    told = text(judged(staircase(graded(TOP, Grading()))))
    assert "Graded times, made for an exponent of 0.8" in told
    assert "straight within its interval" in told
    assert "nine times in ten" in told
    assert "Graded times" not in text(judged(staircase(unequal([60.0] * 5))))


@pytest.mark.parametrize(
    ("voltage", "hold"),
    (([1.0, 2.0], [600.0, 200.0]), ([2.0, 1.0, 3.0], [600.0, 200.0, 100.0]), ([1.0, 2.0, 3.0], [600.0, 0.0, 100.0]),
     ([1.0, 2.0, 3.0], [600.0, 100.0])),
)  # fmt: skip
def test_what_cannot_be_graded_is_refused(voltage: list[float], hold: list[float]) -> None:
    with pytest.raises(UsageError, match="three rising levels"):
        graded_holds(voltage, hold)


def test_equal_holds_are_far_from_graded() -> None:
    assert graded_holds(np.arange(1.0, 6.0), np.full(5, 60.0)).departure > 0.2
