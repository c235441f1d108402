"""What a whole curve tells, as JSON and as lines: figures in the sentences are those of the values."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from typing import Any

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from machine_records import HEALTHY, LEAKY, WEAK, early, ramped, record, stepped, told
from soakage.app.contract_diagnosis import diagnosis_json
from soakage.app.diagnosis_schema import diagnosis_properties
from soakage.app.result import Evaluated, Fit, Forecast, Knee, StepConductance
from soakage.cli.diagnosis_text import diagnosis_text
from soakage.standards.causes import causes, rank
from soakage.units import parse

PLAIN = replace(told(record(noise=0.005)), fit=None)
FIT = Fit(True, "", 0.0123, 0.4, 1.4e-8, 0.75, 6.4e-10)
FORESEEN = Forecast("polarization_index", 600.0, 120.0, 2.34, 2.111, 2.678, 0.42)
SCHEMA = {"type": "object", "properties": diagnosis_properties(), "additionalProperties": False}


def text(seen: Evaluated) -> str:
    return " ".join(" ".join(diagnosis_text(seen)).split())


def valid(seen: Evaluated) -> dict[str, Any]:
    told_ = diagnosis_json(seen)
    json.dumps(told_, allow_nan=False)
    jsonschema.validate(told_, SCHEMA)
    return told_


# --------------------------------------------------------------------------------------------------------- JSON
def test_only_what_there_is_to_say_has_a_key() -> None:
    assert valid(PLAIN) == {"causes": []}


@pytest.mark.parametrize(
    ("more", "key"),
    (
        ({"fit": FIT}, "fit"),
        ({"forecast": FORESEEN}, "forecast"),
        ({"step_conductances": (StepConductance(1e3, 1e-9, 1e-11),)}, "step_conductances"),
        ({"knee": Knee(6e3, 6.5e3, 0.03, 0.99)}, "knee"),
    ),
)
def test_each_part_has_its_key_alone(more: dict[str, Any], key: str) -> None:
    assert set(valid(replace(PLAIN, **more))) == {"causes", key}


@pytest.mark.parametrize("bad", (math.nan, math.inf, -math.inf))
def test_what_is_not_known_is_null_never_nan(bad: float) -> None:
    seen = replace(
        PLAIN, fit=replace(FIT, scatter=bad, correlation=bad), knee=Knee(6e3, 6.5e3, bad, bad),
        step_conductances=(StepConductance(1e3, bad, bad),),
    )  # fmt: skip
    shown = valid(seen)
    assert shown["fit"]["scatter"] is None
    assert shown["fit"]["correlation"] is None
    assert shown["knee"]["excess_share"] is shown["knee"]["confidence"] is None
    assert shown["step_conductances"][0] == {"voltage": 1e3, "conductance": None, "uncertainty": None}


@pytest.mark.parametrize(("probability", "reason"), ((0.42, False), (0.0, False), (1.0, False), (None, True)))
def test_a_forecast_gives_a_reason_exactly_without_a_probability(
    probability: float | None, reason: bool
) -> None:
    shown = valid(
        replace(PLAIN, forecast=replace(FORESEEN, probability_meets=probability, reason="No criterion."))
    )
    assert ("reason" in shown["forecast"]) is reason
    assert shown["forecast"]["probability_meets"] == probability
    assert "band" not in shown["forecast"], "the band is for the chart"


@pytest.mark.parametrize(
    ("key", "value"),
    (
        ("probability_meets", 1.5),
        ("probability_meets", -0.1),
        ("at", None),
        ("quantity", "Polarization Index!"),
    ),
)
def test_the_schema_refuses_what_may_not_be(key: str, value: object) -> None:
    shown = valid(replace(PLAIN, forecast=FORESEEN))
    shown["forecast"][key] = value
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(shown, SCHEMA)


@given(
    st.dictionaries(
        st.sampled_from(sorted({e.feature for c in causes() for e in c.evidence})),
        st.floats(-1, 40),
        max_size=12,
    )
)
def test_ranked_causes_are_json_in_the_order_of_their_weight(features: dict[str, float]) -> None:
    ranked = rank(causes(), features, {name: f"{value:.2g}" for name, value in features.items()})
    shown = valid(replace(PLAIN, causes=ranked, causes_sought=True))["causes"]
    assert [c["weight"] for c in shown] == sorted((c["weight"] for c in shown), reverse=True)
    for cause, item in zip(shown, ranked, strict=True):
        assert cause["weight"] >= 2.0
        assert cause["evidence"][: len(item.pro)] == list(item.pro)
        assert all("{value}" not in e for e in cause["evidence"])
        by_id = {c.id: c for c in causes()}[cause["id"]]
        held = sum(e.weight for e in by_id.evidence if e.feature in features and e.holds(features[e.feature]))
        assert cause["weight"] == pytest.approx(held)


RECORDS = {
    "healthy": record(HEALTHY, noise=0.005), "leaky": record(LEAKY, noise=0.005), "early": early(120.0, noise=0.005),
    "early leaky": early(120.0, LEAKY, noise=0.005), "steps": stepped(noise=0.003),
    "weak steps": stepped(WEAK, noise=0.003),
    "ramp": ramped(noise=0.003), "weak ramp": ramped(WEAK, noise=0.003),
}  # fmt: skip


@pytest.mark.parametrize("name", RECORDS)
@pytest.mark.parametrize("columns", ("60", "90"))
def test_whole_records_are_valid_and_fit_their_width(
    name: str, columns: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    seen = told(RECORDS[name])
    valid(seen)
    for line in (line for part in diagnosis_text(seen) for line in part.splitlines()):
        assert len(line) <= int(columns), line
        assert not re.search(r"\bnan\b|\bNone\b|\x1b", line)


# -------------------------------------------------------------------------------------------------------- lines
def test_nothing_is_said_where_there_is_nothing_to_say() -> None:
    assert text(PLAIN) == ""


@pytest.mark.parametrize(
    ("correlation", "slow"), ((0.0, False), (0.05, False), (0.06, True), (0.4, True), (math.nan, False))
)
def test_slow_noise_is_named_only_where_there_is_some(correlation: float, slow: bool) -> None:
    said = text(replace(PLAIN, fit=replace(FIT, correlation=correlation)))
    assert "follows absorption and conduction; scatter 1.2%" in said
    assert ("of it lasting" in said) is slow


def test_a_curve_that_does_not_follow_says_why() -> None:
    said = text(replace(PLAIN, fit=replace(FIT, follows_model=False, reason="the current rises")))
    assert said == "The curve does not follow the model: the current rises."


@pytest.mark.parametrize("probability", (0.42, 0.0, 1.0, 0.9995, None))
def test_a_forecast_is_no_judgement_and_never_certain(probability: float | None) -> None:
    said = text(replace(PLAIN, forecast=replace(FORESEEN, probability_meets=probability)))
    assert said.startswith("Forecast, no judgement")
    for figure in ("2.34", "2.11", "2.68", "10 min", "2 min"):
        assert figure in said
    assert "It replaces no hold that a standard asks for." in said
    assert not re.search(r"\b(?:100|0) ?%", said)
    assert ("meet its criterion" in said) is (probability is not None)


def test_the_conductances_of_steps_are_those_of_the_values() -> None:
    seen = told(RECORDS["weak steps"])
    lines = [line for line in diagnosis_text(seen) if "±" in line and "kV" in line]
    assert len(lines) == len(seen.step_conductances) == 5
    for line, step in zip(lines, seen.step_conductances, strict=True):
        volts, value, doubt = (part.strip() for part in re.split(r" {2,}", line.strip()))
        assert parse(volts, "voltage").value == pytest.approx(step.voltage, rel=5e-3)
        assert parse(value, "conductance").value == pytest.approx(step.conductance, rel=6e-3)
        assert parse(doubt.removeprefix("± "), "conductance").value == pytest.approx(
            2 * step.uncertainty, rel=0.06
        )


def test_causes_say_what_speaks_for_and_against_and_how_to_confirm() -> None:
    seen = told(RECORDS["leaky"])
    said = text(seen)
    assert "no probability is computed" in said
    for ranked in seen.causes:
        assert f"{ranked.cause.name} (weight {ranked.weight:g})" in said
        assert " ".join(f"To confirm: {ranked.cause.confirm_by}".split()) in said
    none = text(replace(PLAIN, causes_sought=True))
    assert none.endswith("No cause stands out.")
