"""Which quantities a record gives, by method; and that neither company, order nor units change what is said."""

from __future__ import annotations

import json
from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soakage.app.contract_json import evaluation_json
from soakage.model.record import Record
from soakage.wiring import rules
from typed import (
    CABLE,
    CIRCUIT,
    LADDER,
    MACHINE,
    SWITCHGEAR,
    TRANSFORMER,
    by,
    codes,
    evaluation,
    judged,
    machine,
    spot,
    status,
    typed,
)

TVI = "time [s],voltage [V],current [uA]"
DISCHARGE = {
    **MACHINE, "method": "dielectric-discharge", "test_voltage": "500 V", "discharge_started": "1800 s",
    "capacitance": "0.1 uF",
}  # fmt: skip


def discharged(milliamp_per_volt_farad: float, started: int = 1800, **more: str | None) -> Record:
    """A charge of 500 V, then -DD U C one minute into the short circuit."""
    current = -milliamp_per_volt_farad * 1e-3 * 500 * 0.1e-6 * 1e6
    rows = [(60, 500.0, 0.5), (600, 500.0, 0.2), (started - 1, 500.0, 0.15)]
    rows += [(started + t, 0, current * 60 / t) for t in (30, 60, 90)]
    return typed({**DISCHARGE, "discharge_started": f"{started} s", **more}, rows, TVI)


# ---- dielectric discharge: edges 2 and 4 mA/(V F) (practice), after a charge of 30 min (memory)
@pytest.mark.parametrize(
    ("value", "expected"),
    ((0.417, "sound"), (1.99, "sound"), (2.0, "watch"), (3.9, "watch"), (4.0, "watch"), (4.1, "investigate"),
     (5.014, "investigate"), (50.0, "investigate")),
)  # fmt: skip
def test_dielectric_discharge_after_a_full_charge(value: float, expected: str) -> None:
    evaluated = judged(discharged(value))
    assert evaluated.quantities["dielectric_discharge"].value == pytest.approx(value * 1e-3, rel=1e-6)
    assert by(evaluated, "practice.dielectric-discharge-band").status == expected
    assert evaluated.verdict.status == expected


def test_a_shorter_charge_is_shown_and_not_judged() -> None:
    evaluated = judged(discharged(5.0, started=1790))
    assert evaluated.quantities["dielectric_discharge"].value == pytest.approx(5e-3, rel=1e-6)
    judgement = by(evaluated, "practice.dielectric-discharge-band")
    assert judgement.status == evaluated.verdict.status == "not judged"
    assert "30" in judgement.reason


def test_without_its_capacitance_no_discharge_quantity_is_given() -> None:
    evaluated = judged(discharged(5.0, capacitance=None))
    assert "dielectric_discharge" not in evaluated.quantities
    judgement = by(evaluated, "practice.dielectric-discharge-band")
    assert judgement.status == "not judged"
    assert "apacitance" in judgement.reason


def test_of_a_discharge_record_resistances_come_from_the_charge_alone() -> None:
    quantities = judged(discharged(1.0)).quantities
    assert quantities["insulation_resistance_60s"].value == pytest.approx(1e9)
    assert quantities["polarization_index"].value == pytest.approx(2.5)
    assert quantities["earthing_time"].value == 4 * 1800


def test_a_discharge_that_was_not_read_is_missed_not_a_crash() -> None:
    evaluated = judged(typed(DISCHARGE, [(60, 500, 0.5), (600, 500, 0.2)], TVI))
    judgement = by(evaluated, "practice.dielectric-discharge-band")
    assert judgement.status == evaluated.verdict.status == "not judged"
    assert "60 s into the discharge" in judgement.reason


@pytest.mark.parametrize("voltages", ((None, None), (0, 0)))
def test_readings_without_a_voltage_are_not_judged(voltages: tuple[float | None, ...]) -> None:
    rows = [(60 * k, v, 2.0) for k, v in enumerate(voltages, start=1)]
    assert status(typed({**MACHINE, "test_voltage": None}, rows, TVI)) == "not judged"


# ---- steps and ramps
def test_of_a_step_test_ratios_come_from_the_first_hold() -> None:
    rows = [(15, 1000, 4.0), (30, 1000, 3.0), (60, 1000, 2.0), (120, 2000, 6.0), (600, 3000, 9.0)]
    quantities = judged(typed({**MACHINE, "method": "step-voltage"}, rows, TVI)).quantities
    assert quantities["insulation_resistance_60s"].value == pytest.approx(500e6)
    assert quantities["dielectric_absorption_ratio"].value == pytest.approx(1.5)
    assert not {"polarization_index", "insulation_resistance_120s", "insulation_resistance_600s"} & set(
        quantities
    )


def test_stated_edges_are_the_edges() -> None:
    edges = '[{at = "0 s", voltage = "1 kV"}, {at = "60 s", voltage = "2 kV"}]'
    rows = [(30, 1000, 3.0), (60, 1000, 2.0), (90, 2000, 5.0), (120, 2000, 5.0)]
    evaluated = judged(typed({**MACHINE, "method": "step-voltage", "steps": edges}, rows, TVI))
    assert [row.hold for row in evaluated.steps] == [60.0, 60.0]
    assert evaluated.quantities["voltage_dependence"].value == pytest.approx(0.2)


def test_an_edge_without_a_reading_leaves_json_readable() -> None:
    edges = (
        '[{at = "0 s", voltage = "1 kV"}, {at = "60 s", voltage = "2 kV"}, {at = "100 s", voltage = "3 kV"}]'
    )
    rows = [(60, 1000, 2.0), (160, 3000, 5.0)]
    result = evaluation(typed({**MACHINE, "method": "step-voltage", "steps": edges}, rows, TVI))
    json.dumps(evaluation_json(result), allow_nan=False)


def test_a_bound_on_a_step_bounds_the_fall_from_the_other_side() -> None:
    rows = [(60, 1000, "1.0 uA"), (120, 2000, "< 1.0 uA")]
    columns = "time [s],voltage [V],current"
    fall = judged(typed({**MACHINE, "method": "step-voltage"}, rows, columns)).quantities[
        "voltage_dependence"
    ]
    assert fall.value == pytest.approx(-1.0)
    assert fall.bound == "upper"


def test_on_a_ramp_voltage_over_current_is_no_resistance() -> None:
    rows = [(t, 1000 / 60 * t, 8.333) for t in range(0, 601, 30)]
    evaluated = judged(typed({**MACHINE, "method": "ramp"}, rows, TVI))
    assert not [
        name for name in evaluated.quantities if "resistance" in name or "index" in name or "ratio" in name
    ]
    # M10 (derived): 0.5 uF at 1 kV/min draws 8.333 uA
    capacitance = evaluated.quantities["apparent_capacitance"]
    assert capacitance.value == pytest.approx(0.5e-6, rel=1e-3)
    assert capacitance.bound == "upper"
    assert evaluated.verdict.status == "not judged"


# ---- quantities and ratios the user asks for
def test_a_ratio_of_your_own_marks() -> None:
    rows = [(15, 5000, 40), (30, 5000, 30), (60, 5000, 20), (120, 5000, 12)]
    record = typed({**MACHINE, "method": "timed-insulation-resistance"}, rows, TVI)
    quantities = judged(record, rules(ratios=((120.0, 30.0),))).quantities
    assert quantities["resistance_ratio_120s_30s"].value == pytest.approx(2.5)
    assert "resistance_ratio_120s_30s" not in judged(record).quantities


def test_a_temperature_rule_of_your_own_is_named() -> None:
    own = rules(temperature_rule="ieee-43-2013.thermoplastic")
    corrected = judged(machine(400, winding_temperature="20 degC"), own).quantities[
        "insulation_resistance_60s_corrected"
    ]
    assert corrected.value == pytest.approx(100e6)
    assert corrected.rule == "ieee-43-2013.thermoplastic"


def test_a_rule_to_another_base_is_never_held_against_the_limit() -> None:
    evaluated = judged(
        machine(900, winding_temperature="30 degC"), rules(temperature_rule="neta-100-14-1.solid")
    )
    assert by(evaluated, "ieee-43-2013.minimum-resistance").status == "not judged"
    assert evaluated.verdict.status == "not judged"


def test_over_range_at_ten_minutes_is_a_lower_bound_of_the_index() -> None:
    rows = [(60, "500 MOhm"), (600, "> 1 GOhm")]
    evaluated = judged(typed(MACHINE, rows, "time [s],resistance"))
    index = evaluated.quantities["polarization_index"]
    assert (index.value, index.bound) == (2.0, "lower")
    assert by(evaluated, "ieee-43-2013.minimum-polarization-index").status == "sound"
    both = judged(typed(MACHINE, [(60, "> 1 GOhm"), (600, "> 1 GOhm")], "time [s],resistance"))
    assert "polarization_index" not in both.quantities
    assert both.verdict.status == "not judged"


@pytest.mark.parametrize(
    ("times", "present"), (((30, 120), True), ((15, 60.5), False), ((15, 600), False), ((60, 600), True))
)
def test_a_mark_is_interpolated_only_between_readings_near_it(
    times: tuple[float, float], present: bool
) -> None:
    # no reading within a factor of 4 in time: nothing is made up (ours, practice)
    rows = [(t, 100 * (t / 15) ** 0.5) for t in times]
    quantities = judged(typed(MACHINE, rows, "time [s],resistance [MOhm]")).quantities
    assert ("insulation_resistance_60s" in quantities) == present
    if present:
        assert quantities["insulation_resistance_60s"].value == pytest.approx(200e6)
    assert "insulation_resistance_300s" not in quantities


def test_a_conduction_current_is_not_made_up_from_two_readings() -> None:
    assert "conduction_current" not in judged(machine(500)).quantities
    rows = [(60, 5000, 11.5), (190, 5000, 5.4811), (600, 5000, 3.0849)]
    # M5 (derived): 11.5, 5.4811, 3.0849 uA at 1, 3.16 and 10 min: 1.5 uA and n 0.8
    quantities = judged(typed(MACHINE, rows, TVI)).quantities
    assert quantities["conduction_current"].value == pytest.approx(1.5e-6, rel=0.02)


# ---- company, order and units
def some() -> tuple[Record, ...]:
    return (
        machine(500), machine(90, asset="Fan 1"), machine(500, (1.5, 1.2), started="2026-03-14", asset="Fan 2"),
        spot(TRANSFORMER, "6 GOhm"), spot(SWITCHGEAR, "1 GOhm"), spot(CABLE, "4 GOhm"), spot(CIRCUIT, "3 MOhm"),
        discharged(5.0), machine(500, volts=20), machine(500, winding_temperature=None),
    )  # fmt: skip


def said_of(records: Sequence[Record]) -> list[str]:
    return [json.dumps(entry, sort_keys=True) for entry in evaluation_json(evaluation(*records))["records"]]


def test_a_batch_says_of_each_what_is_said_of_it_alone() -> None:
    records = some()
    assert said_of(records) == [said_of([record])[0] for record in records]


@settings(max_examples=15, deadline=None)
@given(st.permutations(range(10)))
def test_the_order_of_the_batch_changes_nothing(order: list[int]) -> None:
    records = some()
    together = said_of(records)
    assert said_of([records[k] for k in order]) == [together[k] for k in order]


@pytest.mark.parametrize(
    ("columns", "rows"),
    (
        ("time [s],voltage [V],current [A]", [(60, 5000, 10e-6), (600, 5000, 4e-6)]),
        ("time [min],voltage [kV],current [uA]", [(1, 5, 10), (10, 5, 4)]),
        ("time [s],voltage [kV],current [nA]", [(60, 5, 10000), (600, 5, 4000)]),
        ("time,voltage,current", [("1 min", "5000 V", "0.01 mA"), ("0:10:00", "5 kV", "4 uA")]),
        ("time [s],resistance [GOhm]", [(60, 0.5), (600, 1.25)]),
        ("time [s],resistance [MOhm]", [(60, 500), (600, 1250)]),
        ("resistance [MOhm],time [s]", [(500, 60), (1250, 600)]),
    ),
)
def test_the_same_record_in_other_units_is_the_same(columns: str, rows: list[tuple[object, ...]]) -> None:
    evaluated = judged(typed(MACHINE, rows, columns))
    assert evaluated.quantities["insulation_resistance_60s"].value == pytest.approx(500e6)
    assert evaluated.quantities["polarization_index"].value == pytest.approx(2.5)
    assert [str(j.status) for j in evaluated.judgements] == [
        str(j.status)
        for j in judged(typed(MACHINE, [(60, 500), (600, 1250)], "time [s],resistance [MOhm]")).judgements
    ]
    assert evaluated.verdict.status == "sound"


@settings(max_examples=40, deadline=None)
@given(st.floats(1.0, 9e3), st.floats(1.0, 9e3))
def test_more_resistance_never_gives_a_worse_status(a: float, b: float) -> None:
    keys = {**MACHINE, "method": "insulation-resistance"}
    for base in (keys, SWITCHGEAR, CABLE, TRANSFORMER, CIRCUIT):
        less, more = (status(spot(base, f"{value:.6g} MOhm")) for value in sorted((a, b)))
        assert LADDER.index(more) <= LADDER.index(less)


def test_an_evaluation_of_nothing_is_nothing() -> None:
    result = evaluation()
    assert (result.records, result.visits, result.networks, result.errors) == ((), (), (), ())


def test_progress_counts_every_record() -> None:
    from soakage.app.evaluate import evaluate

    steps: list[tuple[int, int]] = []
    evaluate([spot(CIRCUIT, "3 MOhm")] * 3, progress=lambda done, total: steps.append((done, total)))
    assert steps == [(1, 3), (2, 3), (3, 3)]


def test_a_negative_polarity_is_its_mirror_image() -> None:
    rows = [(15, -5000, -30), (30, -5000, -20), (60, -5000, -10), (600, -5000, -4)]
    evaluated = judged(typed(MACHINE, rows, TVI))
    assert evaluated.verdict.status == "sound"
    assert "current_sign_change" not in codes(evaluated)
