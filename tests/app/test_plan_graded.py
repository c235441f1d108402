"""Graded times planned: levels, holds, the first hold's exponent, and what stands on plan, card and sheet."""

from __future__ import annotations

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soakage.app.cautions import STEPS
from soakage.app.plan import Plan, plan
from soakage.app.plan_graded import ASSUMED_EXPONENT, FirstHold, Graded, Grading, first_hold, graded
from soakage.app.plan_json import plan_json
from soakage.app.plan_rising import AFTER_INDEX, CONSENT, REPAIR, STOP_RULE
from soakage.app.plan_schema import plan_schema
from soakage.app.plan_sheet import sheet_values
from soakage.app.rules import default_rules
from soakage.cli.plan_text import plan_text
from soakage.errors import UsageError
from soakage.model.asset import Asset
from soakage.model.record import Record
from soakage.physics.currents import staircase_current
from soakage.physics.responses import PowerLaw
from soakage.report.card_content import card_content
from soakage.report.card_table import tables
from soakage.units import parse
from typed import MACHINE, spot, typed

GENERATOR = Asset(
    name="G1", asset_class="rotating-machine", rated_voltage=13800.0, winding="form-wound",
    insulation="epoxy-mica", thermal_class="155", year=2004, neutral="closed",
)  # fmt: skip
# Holds after ten minutes on the first level, in minutes, for exponent 0.8 (derived): steps 1, 2, 3, 5, 10.
PRINTED = {0.1: (2.782, 2.391, 2.163, 1.870, 1.454), 0.2: (3.849, 3.281, 2.924, 2.448, 1.788)}
TOTAL = {0.1: 29.20, 0.2: 35.23}
# By exponent: the second hold in minutes, N 2 and N 4.
SECOND = {(0.301, 0.1): 2.192, (0.301, 0.2): 3.235, (0.602, 0.1): 2.548, (0.602, 0.2): 3.610}


def holds(found: Graded) -> np.ndarray:
    return np.subtract(found.ends, found.starts)


def planned(**grading: object) -> Plan:
    return plan(GENERATOR, methods=("step-voltage",), grading=Grading(**grading))  # type: ignore[arg-type]


def told(voltage: float, held: float = 600.0, exponent: float = 0.65) -> FirstHold:
    return FirstHold(voltage, held, exponent, 0.01, 1e-8, 1e-10)


@pytest.mark.parametrize("share", (0.1, 0.2))
def test_the_holds_are_those_worked_before(share: float) -> None:
    made = graded(30e3, Grading(share))
    after = holds(made)[1:] / 60
    # Ends are whole seconds: a hold may be off by one of them.
    assert after[[0, 1, 2, 4, 9]] == pytest.approx(PRINTED[share], abs=1 / 60)
    assert made.ends[10] / 60 == pytest.approx(TOTAL[share], abs=1 / 60)
    assert made.ends[0] == 600.0
    assert made.voltages[0] == pytest.approx(10e3), "a third of the top (memory)"
    assert np.diff(made.voltages) == pytest.approx(share * 10e3)
    assert made.voltages[-1] == 30e3


@pytest.mark.parametrize(("exponent", "share"), sorted(SECOND))
def test_another_exponent_gives_other_holds(exponent: float, share: float) -> None:
    made = graded(30e3, Grading(share, exponent))
    assert holds(made)[1] / 60 == pytest.approx(SECOND[exponent, share], abs=1 / 60)
    assert made.exponent_source == "as stated"


def test_the_exponent_is_said_to_be_assumed_until_it_is_known() -> None:
    made = graded(30e3, Grading())
    assert made.absorption_exponent == ASSUMED_EXPONENT == 0.8
    assert "assumed" in made.exponent_source


def test_the_first_hold_plans_the_rest_anew() -> None:
    made = graded(30e3, Grading(0.2, first=told(9e3, 640.0)))
    assert made.absorption_exponent == 0.65
    assert made.exponent_source.startswith("fitted to the first hold")
    assert made.ends[0] == 640.0, "as it was held, not as it was planned"
    assert made.voltages[0] == 9e3, "where it was held"
    law = PowerLaw(1e-9, 0.65, offset=0.0)
    current = staircase_current(law, made.ends, made.starts, made.voltages)
    assert current / made.voltages == pytest.approx(current[0] / 9e3, rel=5e-3), "whole seconds cost no more"


@settings(deadline=None, max_examples=40)
@given(st.floats(3e3, 29e3), st.sampled_from((0.1, 0.2)))
def test_the_levels_rise_to_the_top_whatever_the_first(first: float, share: float) -> None:
    made = graded(30e3, Grading(share, first=told(first)))
    rises = np.diff(made.voltages)
    assert made.voltages[0] == first
    assert made.voltages[-1] == 30e3
    assert (rises > 0).all()
    assert rises.max() <= 1.2501 * share * first + 1e-6 or len(rises) == 1
    assert made.starts[1:] == made.ends[:-1]


@pytest.mark.parametrize("first", (30e3, 31e3))
def test_a_first_hold_at_the_top_leaves_nothing_to_plan(first: float) -> None:
    with pytest.raises(UsageError, match="must lie below"):
        graded(30e3, Grading(first=told(first)))


def test_other_steps_are_refused() -> None:
    with pytest.raises(UsageError, match="10% or 20%"):
        graded(30e3, Grading(0.5))


def test_graded_times_want_a_step_test() -> None:
    with pytest.raises(UsageError, match="--test step-voltage"):
        plan(GENERATOR, grading=Grading())
    with pytest.raises(UsageError, match="--test step-voltage"):
        plan(GENERATOR, methods=("ramp",), grading=Grading())


def test_it_stays_an_overvoltage_test() -> None:
    plain, found = plan(GENERATOR, methods=("step-voltage",)), planned()
    (rising,) = found.rising
    assert rising.overvoltage
    assert rising.conditions == (AFTER_INDEX, CONSENT, STOP_RULE, REPAIR)
    assert found.cautions == plain.cautions
    assert rising.voltage == plain.rising[0].voltage, "grading raises no voltage"
    assert max(rising.steps) == rising.voltage.value
    assert {c.step for c in found.cautions} <= set(STEPS)
    assert found.methods[0].method.id == "polarization-index", "the index comes first"


def test_earthing_follows_the_longer_time_under_voltage() -> None:
    found = planned()
    assert found.schedule is not None
    name, times = found.schedule
    assert name == "step-voltage"
    assert found.earthing is not None
    assert found.earthing.under_voltage == times.total
    # at least four times the time under voltage (memory, IEEE 43 cl. 5.5)
    assert found.earthing.time >= 4 * times.total


def test_an_exponent_fitted_to_the_first_hold_serves_the_earthing_too() -> None:
    found = planned(first=told(9e3, exponent=0.4))
    assert found.earthing is not None
    assert "exponent 0.4" in found.earthing.text


def test_the_plan_tells_it_as_json() -> None:
    found = plan_json(planned())
    jsonschema.validate(found, plan_schema())
    schedule = found["schedule"]
    assert schedule["verified"] == "derived"
    assert "IEEE" not in schedule["source"], "never labelled as a standard's table"
    assert len(schedule["steps"]) == 11
    assert sum(step["hold"] for step in schedule["steps"]) == schedule["total"]
    assert found["rising"][0]["hold"] is None
    assert found["rising"][0]["steps"] == [step["voltage"] for step in schedule["steps"]]


def test_without_it_the_schedule_is_null() -> None:
    found = plan_json(plan(GENERATOR, methods=("step-voltage",)))
    jsonschema.validate(found, plan_schema())
    assert found["schedule"] is None
    assert found["rising"][0]["hold"] == 60.0


def test_the_text_prints_times_and_voltages_beside_what_must_stand_in_writing() -> None:
    text = " ".join(" ".join(plan_text(planned())).split()).replace("\u00a0", " ")
    for words in ("graded times", "9.78 kV 0 s to 10 min", "29.3 kV", "Exponent 0.8 (assumed", "overvoltage test",
                  "consents in writing", "Stop at once", "no standard's printed table"):  # fmt: skip
        assert words in text


def test_the_card_has_a_line_to_write_in_for_each_level() -> None:
    found = planned()
    (table,) = [t for t in tables(found) if t["rising"]]
    labels = [row["label"].replace("\u00a0", " ") for row in table["rows"]]
    assert labels[0] == "Voltage on at"
    assert labels[1].split() == ["10:00", "9.78", "kV"]
    assert labels[2].startswith("13:51")
    assert len(labels) == 1 + 11 + 2
    assert all(all(row["cells"]) for row in table["rows"])
    said = card_content(found, "a4")["rising"]["step-voltage"]
    assert "Graded times" in said["how"]
    assert said["overvoltage"]
    assert said["conditions"] == [AFTER_INDEX, CONSENT, STOP_RULE, REPAIR]


def test_the_sheet_states_the_edges_and_waits_for_each_end() -> None:
    found = planned()
    assert found.schedule is not None
    times = found.schedule[1]
    place = next(k for k, c in enumerate(found.connections) if "step-voltage" in c.methods)
    values, marks, _ = sheet_values(found, place)
    assert [parse(s["at"], "time").value for s in values["steps"]] == list(times.starts)
    assert [parse(s["voltage"], "voltage").value for s in values["steps"]] == pytest.approx(times.voltages)
    assert marks == (60.0, *times.ends), "one minute in the first hold, for the index, then every end"


def made(exponent: float = 0.8, **more: str) -> Record:
    """Return ten minutes at 5 kV from 5 s on, when the charging current is over, with 0.2 % of noise."""
    time = np.arange(5.0, 601.0)
    current = 5e3 * (2e-9 * (time / 60) ** -exponent + 2e-10)
    current = current * (1 + 0.002 * np.random.default_rng(5).standard_normal(time.size))
    rows = [(f"{t:g}", 5000, f"{i:.9g}") for t, i in zip(time, current, strict=True)]
    return typed({**MACHINE, **more}, rows, "time [s],voltage [V],current [A]")


@pytest.mark.parametrize("exponent", (0.6, 0.8, 1.0))
def test_the_first_hold_tells_its_exponent(exponent: float) -> None:
    steps = {"method": "step-voltage", "steps": '[{at = "0 s", voltage = "5 kV"}]'}
    found = first_hold(made(exponent, **steps), default_rules())
    assert found.absorption_exponent == pytest.approx(exponent, abs=0.03)
    assert found.voltage == pytest.approx(5e3)
    assert found.held == 600.0
    assert 0 < found.uncertainty < 0.03


def test_an_index_test_at_that_voltage_serves_as_the_first_hold() -> None:
    assert first_hold(made(), default_rules()).absorption_exponent == pytest.approx(0.8, abs=0.03)


def test_a_current_that_follows_no_power_law_gives_no_exponent() -> None:
    rows = [(t, 5000, f"{1e-6 * (1 + t / 300):.6g}") for t in range(5, 601, 5)]
    record = typed(MACHINE, rows, "time [s],voltage [V],current [A]")
    with pytest.raises(UsageError, match="gives no exponent: the current rises"):
        first_hold(record, default_rules())


@pytest.mark.parametrize("count", (3, 6))
def test_a_few_readings_give_no_exponent(count: int) -> None:
    rows = [(60 * k, 5000, f"{1e-5 / k:.6g}") for k in range(1, count + 1)]
    with pytest.raises(UsageError, match="too few readings"):
        first_hold(typed(MACHINE, rows, "time [s],voltage [V],current [A]"), default_rules())


def test_a_spot_reading_is_no_hold() -> None:
    with pytest.raises(UsageError, match="no hold at one voltage"):
        first_hold(spot({**MACHINE, "method": "insulation-resistance"}, "400 MOhm"), default_rules())
