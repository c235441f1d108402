"""The JSON of ``judge --json`` and the exit codes, as the contract writes them."""

from __future__ import annotations

import json
from typing import Any

import pytest

from soakage import __version__
from soakage.app.contract_json import evaluation_json, exit_code
from soakage.app.evaluate import evaluate
from soakage.errors import Fault
from soakage.model.record import Record
from soakage.quantities import lookup
from typed import CIRCUIT, MACHINE, evaluation, machine, spot, typed

FAULT = Fault(
    "a.csv", 7, "rated_voltage", "1,500 V", "It can be read in two ways.", "1500 V", "Write 1500 V."
)
OPEN = machine(500, winding_temperature=None)
INVALID = machine(500, volts=20)


def of(record: Record) -> dict[str, Any]:
    first: dict[str, Any] = json.loads(json.dumps(evaluation_json(evaluation(record)), allow_nan=False))[
        "records"
    ][0]
    return first


def test_the_top_has_the_keys_of_the_contract() -> None:
    result = evaluation_json(evaluate([machine(500)], errors=[FAULT]))
    assert result["soakage"] == __version__
    assert result["contract"] == 1
    assert [len(result[key]) for key in ("records", "errors", "networks")] == [1, 1, 0]


def test_a_fault_says_where_what_and_what_to_do() -> None:
    (error,) = evaluation_json(evaluate([], errors=[FAULT]))["errors"]
    assert {key: error[key] for key in ("file", "row", "field", "given", "allowed", "remedy")} == {
        "file": "a.csv", "row": 7, "field": "rated_voltage", "given": "1,500 V", "allowed": "1500 V",
        "remedy": "Write 1500 V.",
    }  # fmt: skip


def test_a_record_has_origin_identity_and_hash() -> None:
    record = of(spot({**MACHINE, "asset": "Pump 3 motor", "tag": "P3", "visit": "spring",
                      "method": "insulation-resistance"}, "500 MOhm"))["record"]  # fmt: skip
    assert record["file"] == "invented.csv"
    assert record["row"] is None
    assert len(record["sha256"]) == 64
    assert (record["asset"], record["tag"], record["visit"]) == ("Pump 3 motor", "P3", "spring")
    assert record["class"] == "rotating-machine"
    assert "serial" not in record


def test_quantities_are_in_si_with_bound_uncertainty_formula_and_source() -> None:
    quantities = of(machine(500))["quantities"]
    for name, quantity in quantities.items():
        assert {"value", "unit", "bound", "uncertainty", "formula", "source"} <= set(quantity), name
        assert quantity["unit"] == lookup(name).unit
        assert quantity["bound"] in (None, "lower", "upper")
        assert quantity["formula"]
        assert quantity["source"]
        if quantity["uncertainty"] is None:
            assert quantity["uncertainty_reason"], "null, and said so"
        assert ("rule" in quantity) == ("base_temperature" in quantity) == name.endswith("_corrected")
    assert quantities["insulation_resistance_60s"]["value"] == 500e6
    assert quantities["dew_point"]["value"] == pytest.approx(279.15, abs=0.2), "kelvin"
    corrected = quantities["insulation_resistance_60s_corrected"]
    assert corrected["base_temperature"] == pytest.approx(313.15)
    assert corrected["rule"] == "ieee-43-2013.thermosetting"


def test_a_quantity_that_cannot_be_had_is_absent() -> None:
    quantities = of(OPEN)["quantities"]
    assert not [name for name in quantities if name.endswith("_corrected")]
    assert None not in [quantity["value"] for quantity in quantities.values()]


def test_bounds_are_spelled_lower_and_upper() -> None:
    keys = {**MACHINE, "method": "insulation-resistance"}
    for text, word, value in (
        ("> 10 TOhm", "lower", 1e13),
        ("< 0.1 MOhm", "upper", 1e5),
        ("0.00 MOhm", "upper", 1e4),
    ):
        quantity = of(spot(keys, text))["quantities"]["insulation_resistance_60s"]
        assert (quantity["bound"], quantity["value"]) == (word, pytest.approx(value))


def test_a_judgement_has_the_keys_of_the_contract() -> None:
    for judgement in of(machine(90))["judgements"]:
        assert {"criterion", "quantity", "limit", "status", "reason", "source", "verified"} <= set(judgement)
        limit = judgement["limit"]
        assert limit is None or {"kind", "lower", "upper", "unit", "text"} == set(limit)
    first = of(machine(90))["judgements"][0]
    assert first["criterion"] == "ieee-43-2013.minimum-resistance.form-wound"
    assert first["limit"]["lower"] == 100e6
    assert first["limit"]["upper"] is None
    assert first["limit"]["unit"] == "ohm"
    assert first["status"] == "unfit"


def test_findings_have_code_and_sentence() -> None:
    for finding in of(spot({**MACHINE, "method": "insulation-resistance", "ended": "tripped"}, "1 GOhm"))[
        "findings"
    ]:
        assert finding["code"]
        assert finding["sentence"].endswith(".")


def test_a_verdict_has_status_and_sentence() -> None:
    assert of(machine(500))["verdict"]["status"] == "sound"
    assert of(INVALID)["verdict"]["status"] == "invalid test"
    assert of(OPEN)["verdict"]["status"] == "not judged"
    assert of(OPEN)["verdict"]["sentence"]


def test_unknown_keys_are_kept_and_shown() -> None:
    assert of(spot({**MACHINE, "method": "insulation-resistance", "works_number": "A 7"}, "1 GOhm"))[
        "extra"
    ] == {"works_number": "A 7"}


@pytest.mark.parametrize(
    ("records", "faults", "code"),
    (
        ((), (), 2),
        ((), (FAULT,), 2),
        ((machine(500),), (), 0),
        ((machine(500), machine(500, (1.5, 2.0))), (), 0),  # sound and watch
        ((machine(500),), (FAULT,), 2),
        ((machine(500), OPEN), (), 2),
        ((machine(500), INVALID), (), 2),
        ((machine(500), machine(50)), (), 1),
        ((machine(500, (1.5, 1.2)),), (), 1),
        ((machine(50), OPEN, INVALID), (FAULT,), 1),
        ((spot(CIRCUIT, "0.5 MOhm"),), (), 1),
    ),
)
def test_exit_codes(records: tuple[Record, ...], faults: tuple[Fault, ...], code: int) -> None:
    assert exit_code(evaluate(records, errors=faults)) == code


def test_a_ramp_and_a_staircase_carry_their_tables() -> None:
    columns = "time [s],voltage [V],current [uA]"
    ramp = of(typed({**MACHINE, "method": "ramp"}, [(t, 10 * t, 5) for t in range(0, 601, 60)], columns))
    assert ramp["ramp"]["measured_rate"] == pytest.approx(10)
    assert ramp["ramp"]["points"]
    steps = of(typed({**MACHINE, "method": "step-voltage"}, [(60, 1000, 1), (120, 2000, None)], columns))
    assert steps["steps"][0]["resistance"] == 1e9
    assert steps["steps"][1]["resistance"] is None
