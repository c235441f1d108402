"""The judge: edges, bounds, alternatives, and a nameplate value that is missing."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.model.verdict import Judgement, QuantityValue, Status
from soakage.standards.criterion import Condition, Criterion, Kind
from soakage.standards.judge import Outcome, Subject, _dependence, judge, status_of
from soakage.standards.library import library
from soakage.standards.limits import limit_for
from soakage.units import Bound

LIBRARY = library()
MINIMUM, INDEX = "ieee-43-2013.minimum-resistance", "ieee-43-2013.minimum-polarization-index"
BAND, SPREAD, SHORTED = "practice.polarization-index-band", "gb-50150-2006.phase-spread", "practice.shorted"
MACHINE: Mapping[str, Any] = {
    "class": "rotating-machine", "winding": "form-wound", "year": 2004, "rated_voltage": 6600.0,
    "insulation": "thermosetting", "thermal_class": "155", "winding_part": "whole",
}  # fmt: skip
FORM_WOUND = LIBRARY.criteria[f"{MINIMUM}.form-wound"]
BANDED = LIBRARY.criteria[f"{BAND}.form-wound"]


def put(
    group: str, value: float | str, bound: Bound | None = None, decides: bool = True, **facts: Any
) -> Judgement | None:
    """Judge by a group; a fact of None is not stated, a value that is text is a reason for none."""
    stated = {key: fact for key, fact in {**MACHINE, **facts}.items() if fact is not None}

    def find(quantity_id: str, _facts: Mapping[str, Any]) -> QuantityValue | str:
        if isinstance(value, str):
            return value
        if quantity_id != members[0].quantity:
            return "not given"
        return QuantityValue(quantity_id, value, bound)

    members = LIBRARY.members(group)
    return judge(members, LIBRARY.groups.get(group), Subject(stated, find), decides=decides)


def said(group: str, value: float | str, bound: Bound | None = None, **facts: Any) -> tuple[str, str]:
    judgement = put(group, value, bound, **facts)
    assert judgement is not None
    return str(judgement.status), judgement.reason


# ---- a bound decides exactly as the contract writes
@pytest.mark.parametrize(
    ("megohm", "bound", "expected"),
    (
        (100.0, None, "sound"),
        (99.9999, None, "unfit"),
        (100.0, Bound.LOWER, "sound"),
        (101.0, Bound.LOWER, "sound"),
        (99.0, Bound.LOWER, "not judged"),
        (100.0, Bound.UPPER, "unfit"),
        (99.0, Bound.UPPER, "unfit"),
        (101.0, Bound.UPPER, "not judged"),
    ),
)
def test_a_bound_against_a_lower_limit(megohm: float, bound: Bound | None, expected: str) -> None:
    assert said(MINIMUM, megohm * 1e6, bound)[0] == expected


@pytest.mark.parametrize(
    ("value", "bound", "expected"),
    (
        (2.0, None, "sound"),
        (2.001, None, "investigate"),
        (2.0, Bound.UPPER, "sound"),
        (1.5, Bound.UPPER, "sound"),
        (2.5, Bound.UPPER, "not judged"),
        (2.0, Bound.LOWER, "investigate"),
        (3.0, Bound.LOWER, "investigate"),
        (1.5, Bound.LOWER, "not judged"),
    ),
)
def test_a_bound_against_an_upper_limit(value: float, bound: Bound | None, expected: str) -> None:
    # GB 50150-2006 cl. 3.0.2 (read): largest over smallest phase at most 2
    assert said(SPREAD, value, bound)[0] == expected


@pytest.mark.parametrize(
    ("value", "bound", "expected"),
    (
        (1.4, None, "watch"),
        (2.0, None, "watch"),  # "to 2.0": the edge belongs to the band below it
        (2.0001, None, "sound"),
        (1.4, Bound.UPPER, "watch"),
        (1.9, Bound.UPPER, "watch"),
        (2.1, Bound.UPPER, "not judged"),
        (2.1, Bound.LOWER, "sound"),
        (1.9, Bound.LOWER, "not judged"),
    ),
)
def test_a_bound_in_a_band(value: float, bound: Bound | None, expected: str) -> None:
    assert said(BAND, value, bound, decides=False)[0] == expected


@given(st.floats(1e3, 1e12), st.floats(1e3, 1e12), st.sampled_from((None, Bound.LOWER)))
def test_more_resistance_is_never_worse_at_a_lower_limit(a: float, b: float, bound: Bound | None) -> None:
    limit = limit_for(FORM_WOUND, MACHINE, {})
    assert not isinstance(limit, str)
    less, more = (status_of(FORM_WOUND, limit, value, bound)[0] for value in sorted((a, b)))
    # a lower bound that does not reach the limit is not judged: worse than met, no breach
    assert more.rung <= less.rung or less is Status.NOT_JUDGED


@given(st.floats(0.5, 9.0), st.floats(0.5, 9.0))
def test_a_higher_index_is_never_worse_in_its_band(a: float, b: float) -> None:
    limit = limit_for(BANDED, MACHINE, {})
    assert not isinstance(limit, str)
    less, more = (status_of(BANDED, limit, value, None)[0] for value in sorted((a, b)))
    assert more.rung <= less.rung


@given(st.floats(1e3, 1e12), st.sampled_from((Bound.LOWER, Bound.UPPER)), st.floats(1.0, 1e3))
def test_a_bound_says_nothing_that_a_truth_within_it_denies(shown: float, bound: Bound, away: float) -> None:
    limit = limit_for(FORM_WOUND, MACHINE, {})
    assert not isinstance(limit, str)
    truth = shown * away if bound is Bound.LOWER else shown / away
    of_bound, _ = status_of(FORM_WOUND, limit, shown, bound)
    of_truth, _ = status_of(FORM_WOUND, limit, truth, None)
    on_limit = math.isclose(truth, 100e6, rel_tol=1e-6)
    assert of_bound in (of_truth, Status.NOT_JUDGED) or on_limit


# ---- a missing nameplate value is tried at each possibility
def test_a_missing_year_is_tried_before_and_after_1970() -> None:
    # 6.6 kV: 7.6 MOhm before about 1970, 100 MOhm after (secondary)
    assert said(MINIMUM, 150e6, year=None)[0] == "sound"
    assert said(MINIMUM, 7e6, year=None)[0] == "unfit"
    status, reason = said(MINIMUM, 50e6, year=None)
    assert status == "not judged"
    assert "Hangs on 'year', " in reason
    assert "unfit" in reason
    assert "sound" in reason


def test_a_missing_winding_is_tried_as_each_kind() -> None:
    assert said(MINIMUM, 150e6, winding=None)[0] == "sound"
    assert said(MINIMUM, 4e6, winding=None)[0] == "unfit"
    status, reason = said(MINIMUM, 50e6, winding=None)
    assert status == "not judged"
    assert "Hangs on 'winding', " in reason
    assert "year" not in reason


def test_where_all_agree_the_reason_says_that_they_were_tried() -> None:
    judgement = put(MINIMUM, 150e6, year=None)
    assert judgement is not None
    assert "year" in judgement.reason
    assert judgement.limit is not None
    assert judgement.limit.lower == 100e6, "of the limits tried the tightest is printed"


def test_an_open_connection_is_tried_whole_and_as_one_phase() -> None:
    # 100, 200 or 300 MOhm (secondary, the multiples memory)
    assert said(MINIMUM, 300e6, winding_part=None)[0] == "sound"
    assert said(MINIMUM, 99e6, winding_part=None)[0] == "unfit"
    status, reason = said(MINIMUM, 150e6, winding_part=None)
    assert status == "not judged"
    assert "winding part" in reason


@pytest.mark.parametrize("index", (1.2, 1.7, 3.0, 7.5))
@pytest.mark.parametrize("thermal_class", ("120", None))
def test_class_120_and_unknown_classes_are_not_judged(thermal_class: str | None, index: float) -> None:
    status, reason = said(INDEX, index, thermal_class=thermal_class)
    assert status == "not judged"
    assert "class" in reason


def test_a_missing_rated_voltage_picks_a_row_but_gives_no_figure() -> None:
    assert said(MINIMUM, 150e6, rated_voltage=None)[0] == "sound"  # 5 or 100 MOhm from about 1970 on
    assert said(MINIMUM, 4e6, rated_voltage=None)[0] == "unfit"
    for value, year in ((50e6, 2004), (150e6, 1965), (1e6, 1965)):
        status, reason = said(MINIMUM, value, rated_voltage=None, year=year)
        assert status == "not judged"
        assert "rated voltage" in reason.replace("_", " ")


def test_a_range_on_a_key_that_is_never_tried_names_it() -> None:
    # GB 50150 (memory): the transformer index asks 1.5 from 220 kV or from 120 MVA on
    unit: dict[str, Any] = {"class": "transformer"}
    judgement = put("gb-50150-2006.transformer-polarization-index", 1.4, **unit)
    missing = put("gb-50150-2006.transformer-polarization-index", 1.4, rated_voltage=None, **unit)
    assert judgement is not None
    assert missing is not None
    assert judgement.status is not Status.SOUND
    assert missing.status is not Status.SOUND


def test_a_band_that_may_not_apply_is_not_judged_where_the_winding_is_missing() -> None:
    # practice bands are for form-wound windings only: form-wound says watch, the others not applicable
    status, reason = said(BAND, 1.8, winding=None, decides=False)
    assert status == "not judged"
    assert "Hangs on 'winding', " in reason


def test_elsewhere_than_on_form_wound_windings_the_band_is_not_applicable() -> None:
    status, reason = said(BAND, 1.2, winding="random-wound", decides=False)
    assert status == "not applicable"
    assert "form-wound" in reason


# ---- reasons and groups
def test_a_value_that_is_missing_gives_its_reason_and_keeps_the_limit() -> None:
    judgement = put(MINIMUM, "The readings end at 30 s.")
    assert judgement is not None
    assert judgement.status is Status.NOT_JUDGED
    assert judgement.reason == "The readings end at 30 s."
    assert judgement.limit is not None
    assert judgement.value is None


def test_a_group_that_does_not_speak_of_a_class_says_nothing_or_why() -> None:
    judgement = put(SHORTED, 1e9, decides=False)
    assert judgement is not None
    assert judgement.status is Status.NOT_APPLICABLE
    deciding = put(SHORTED, 1e9)
    assert deciding is not None
    assert deciding.status is Status.NOT_JUDGED


def test_a_value_at_another_base_is_never_held_against_the_limit() -> None:
    def find(quantity_id: str, _facts: Mapping[str, Any]) -> QuantityValue:
        return QuantityValue(quantity_id, 1e9, rule="another rule", base_temperature=293.15)

    judgement = judge((FORM_WOUND,), None, Subject(MACHINE, find))
    assert judgement is not None
    assert judgement.status is Status.NOT_JUDGED
    assert "never mixed" in judgement.reason
    assert "20" in judgement.reason
    assert "40" in judgement.reason


def test_a_criterion_for_a_method_is_not_put_to_another() -> None:
    only = replace(FORM_WOUND, methods=("polarization-index",))

    def find(quantity_id: str, _facts: Mapping[str, Any]) -> QuantityValue:
        return QuantityValue(quantity_id, 1e9)

    assert judge((only,), None, Subject({**MACHINE, "method": "terminal-set"}, find)) is None
    assert judge((only,), None, Subject({**MACHINE, "method": "polarization-index"}, find)) is not None


def test_a_judgement_carries_its_source_status_and_data_hash() -> None:
    judgement = put(MINIMUM, 150e6)
    assert judgement is not None
    assert judgement.source == "IEEE Std 43-2013, cl. 12.3"
    assert judgement.verified == "secondary"
    assert judgement.data_hash == LIBRARY.standards["ieee-43-2013"].sha256
    assert judgement.decides
    assert not judgement.user_limit


@given(st.permutations(LIBRARY.members(MINIMUM)), st.integers(1940, 2026), st.floats(100.0, 20e3))
def test_the_order_of_the_alternatives_does_not_matter(
    members: list[Criterion], year: int, rated: float
) -> None:
    def find(quantity_id: str, _facts: Mapping[str, Any]) -> QuantityValue:
        return QuantityValue(quantity_id, 20e6)

    subject = Subject({**MACHINE, "year": year, "rated_voltage": rated}, find)
    first, second = (judge(order, LIBRARY.groups[MINIMUM], subject) for order in (members, members[::-1]))
    assert first == second


def test_conditions_of_one_key_are_all_asked() -> None:
    both = replace(
        FORM_WOUND,
        kind=Kind.CONSTANT,
        applies=(Condition("rated_voltage", start=1000.0), Condition("rated_voltage", below=5000.0)),
    )

    def find(quantity_id: str, _facts: Mapping[str, Any]) -> QuantityValue:
        return QuantityValue(quantity_id, 1e9)

    assert judge((both,), None, Subject({"rated_voltage": 500.0}, find)) is None
    assert judge((both,), None, Subject({"rated_voltage": 6600.0}, find)) is None
    assert judge((both,), None, Subject({"rated_voltage": 2300.0}, find)) is not None


def test_what_two_missing_keys_decide_is_said_in_few_words() -> None:
    # The wording is our own; the outcomes are made up so that one rule of several is seen whole.
    def outcome(thermal_class: int, winding: str) -> Outcome:
        status = Status.NOT_JUDGED if thermal_class == 120 else Status.SOUND
        if thermal_class != 120 and winding == "field":
            status = Status.NOT_APPLICABLE
        return Outcome(None, status, "")

    tried: list[tuple[dict[str, object], Outcome]] = [
        ({"thermal_class": at, "winding": kind}, outcome(at, kind))
        for at in (105, 120, 130, 155)
        for kind in ("form-wound", "armature", "field")
    ]
    assert _dependence(("thermal_class", "winding"), tried) == (
        "Hangs on 'thermal_class' and 'winding', which the record does not state ("
        "sound for thermal class 105, 130 or 155 with winding form-wound or armature; "
        "not applicable for thermal class 105, 130 or 155 with winding field; "
        "not judged for thermal class 120 with any winding)."
    )
