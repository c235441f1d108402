"""Own limits, temperature rules, guard bands and caps: each on its edge and just off it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from machine_records import LEAKY, record, told
from soakage.app.guarding import WANTED, with_conformity
from soakage.app.judging import turned
from soakage.app.rules import (
    DEFAULT_LIMIT_QUANTITY,
    Rules,
    default_rules,
    user_limits,
    with_temperature_rule,
)
from soakage.app.uncertainty import accuracy_at, budgeted, relative_parts, spread_parts, with_temperature
from soakage.errors import UsageError
from soakage.model.test import Accuracy, Instrument
from soakage.model.verdict import Contribution, Finding, Judgement, Limit, QuantityValue, Status
from soakage.standards.criterion import Kind, Verified
from soakage.units import Bound, kelvin

R60C = "insulation_resistance_60s_corrected"
RULES = default_rules()


# ------------------------------------------------------------------------------------------------- own limits
@pytest.mark.parametrize(
    ("text", "quantity", "value", "sense"),
    (
        ("200 MOhm", R60C, 2e8, "lower"),
        ("0.2 GOhm", R60C, 2e8, "lower"),
        (">= 200 MOhm", R60C, 2e8, "lower"),
        ("  200   MOhm  ", R60C, 2e8, "lower"),
        ("polarization_index 1.5", "polarization_index", 1.5, "lower"),
        ("polarization_index > 1.5", "polarization_index", 1.5, "lower"),
        ("polarization_index < 8", "polarization_index", 8.0, "upper"),
        ("dielectric_discharge 2 mA/(V F)", "dielectric_discharge", 2e-3, "upper"),  # high is bad by nature
        ("dielectric_discharge > 2 mA/(V F)", "dielectric_discharge", 2e-3, "lower"),
        ("phase_spread 2", "phase_spread", 2.0, "upper"),
        ("voltage_dependence 25 %", "voltage_dependence", 0.25, "upper"),
        ("insulation_resistance_30s 50 MOhm", "insulation_resistance_30s", 5e7, "lower"),
        ("resistance_ratio_120s_30s 1.2", "resistance_ratio_120s_30s", 1.2, "lower"),
        ("capacitance ≤ 1 uF", "capacitance", 1e-6, "upper"),
    ),
)
def test_an_own_limit_is_read(text: str, quantity: str, value: float, sense: str) -> None:
    (limit,) = user_limits([text])
    assert (limit.quantity, limit.sense) == (quantity, sense)
    assert limit.limit == pytest.approx(value)
    assert limit.kind is Kind.CONSTANT
    assert limit.verified is Verified.USER
    assert limit.breach is Status.UNFIT
    assert limit.name.endswith("your own limit")
    assert bool(limit.waivers) == ("ratio" in quantity or "index" in quantity)


@pytest.mark.parametrize(
    "text", ("", "   ", "MOhm", "polarization_index", "polarization_index much", "200 V", "200", "goodness 3", "-",
             "< ", "polarization_index 200 MOhm", "insulation_resistance_60s 5 %"),
)  # fmt: skip
def test_a_limit_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        user_limits([text])


def test_limits_are_numbered_in_their_order() -> None:
    assert [c.id for c in user_limits(["1 MOhm", "2 MOhm", "polarization_index 2"])] == [
        "user.limit-1", "user.limit-2", "user.limit-3",
    ]  # fmt: skip
    assert user_limits([]) == ()


@given(st.floats(1e3, 1e13))
def test_a_limit_is_kept_whatever_its_size(value: float) -> None:
    (limit,) = user_limits([f"{value!r} ohm"])
    assert limit.limit == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("factor", "status"), ((1.0, Status.SOUND), (1 + 1e-6, Status.UNFIT), (1 - 1e-6, Status.SOUND))
)
def test_an_own_limit_breaks_just_above_the_reading(factor: float, status: Status) -> None:
    one = record()
    read = told(one).quantities[R60C].value
    rules = replace(RULES, limits=user_limits([f"{read * factor!r} ohm"]))
    seen = told(one, rules)
    (own,) = [j for j in seen.judgements if j.user_limit]
    assert own.status is status
    assert own.decides
    assert seen.verdict.status is (Status.SOUND if status is Status.SOUND else Status.UNFIT)


def test_an_own_limit_never_makes_an_unfit_record_good() -> None:
    rules = replace(RULES, limits=user_limits(["1 ohm"]))
    assert told(record(LEAKY), rules).verdict.status is Status.UNFIT


def test_an_own_limit_on_what_was_not_read_is_said_not_passed() -> None:
    rules = replace(RULES, limits=user_limits(["dielectric_discharge 2 mA/(V F)"]))
    (own,) = [j for j in told(record(), rules).judgements if j.user_limit]
    assert own.status is Status.NOT_JUDGED
    assert "discharge" in own.reason


# ------------------------------------------------------------------------------------------- temperature rules
def test_a_rule_of_ones_own_stands_over_the_profile() -> None:
    rules = with_temperature_rule(RULES, "ieee-43-2013.thermoplastic")
    cool = record(conditions={"winding_temperature": kelvin(20.0)})
    usual, own = (told(cool, r).quantities[R60C] for r in (RULES, rules))
    raw = told(cool).quantities["insulation_resistance_60s"].value
    assert own.value == pytest.approx(raw * 0.25)  # IEEE Std 43: halves per 10 K (secondary), 20 to 40 degC
    assert usual.value != pytest.approx(own.value)
    assert own.rule == "ieee-43-2013.thermoplastic"


@pytest.mark.parametrize("name", ("hot", "", "ieee", "polarization_index"))
def test_a_rule_that_is_none_is_refused_with_those_known(name: str) -> None:
    with pytest.raises(UsageError, match="Known: ") as raised:
        with_temperature_rule(RULES, name)
    assert "ieee-43-2013.thermosetting" in str(raised.value)


def test_no_rule_of_ones_own_leaves_the_rules_as_they_were() -> None:
    assert with_temperature_rule(RULES, None) == RULES


def test_an_installation_is_never_corrected() -> None:
    rules = with_temperature_rule(RULES, "ieee-43-2013.thermoplastic")
    assert rules.temperature_for({"class": "low-voltage-installation"}) == RULES.temperature_for(
        {"class": "low-voltage-installation"}
    )


@pytest.mark.parametrize(
    ("facts", "asked"),
    (
        ({"class": "rotating-machine", "insulation": "thermosetting"}, ()),
        ({"class": "rotating-machine"}, ("insulation",)),
    ),
)
def test_the_keys_a_correction_hangs_on(facts: dict[str, object], asked: tuple[str, ...]) -> None:
    assert set(asked) <= set(RULES.correction_keys(facts))
    assert bool(RULES.correction_keys(facts)) == bool(asked)


# ------------------------------------------------------------------------------------------------ guard bands
def judgement(value: float, lower: float | None = None, upper: float | None = None, **more: Any) -> Judgement:
    given_: dict[str, Any] = {"quantity": "polarization_index", "status": Status.SOUND, "unit": "1"} | more
    return Judgement(
        "x.y", "A rule", given_["quantity"], Limit("constant", lower, upper, given_["unit"], "a limit"),
        given_["status"], "Met.", "A book", "memory", value=value, bound=given_.get("bound"),
    )  # fmt: skip


def quantity(
    value: float, u: float | None, name: str = "polarization_index", bound: Bound | None = None
) -> QuantityValue:
    return QuantityValue(name, value, bound, u)


@pytest.mark.parametrize("u", (0.01, 0.1, 0.5))
@pytest.mark.parametrize("value", (1.8, 2.0, 2.05, 2.2, 3.0))
def test_the_probability_is_that_of_a_normal_distribution(value: float, u: float) -> None:
    """JCGM 106, 7.2 (from memory): probability of conformity with one limit."""
    above = with_conformity(judgement(value, lower=2.0), quantity(value, u), guarded=False)
    below = with_conformity(judgement(value, upper=2.0), quantity(value, u), guarded=False)
    expected = stats.norm.sf((2.0 - value) / u)
    assert above.probability == pytest.approx(expected, abs=1e-9)
    assert below.probability == pytest.approx(1 - expected, abs=1e-9)
    assert above.guard_band == pytest.approx(stats.norm.ppf(WANTED) * u, rel=1e-6)
    assert above.status is Status.SOUND, "beside the plain comparison, not instead of it"


@pytest.mark.parametrize("share", (0.01, 0.05, 0.2))
@pytest.mark.parametrize("ratio", (0.8, 1.0, 1.1, 2.0))
def test_resistances_are_judged_in_their_logarithm(ratio: float, share: float) -> None:
    value = 1e8 * ratio
    judged = with_conformity(
        judgement(value, lower=1e8, quantity=R60C, unit="ohm"),
        quantity(value, share * value, R60C),
        guarded=False,
    )
    assert judged.probability is not None
    assert judged.probability == pytest.approx(stats.norm.cdf(math.log(ratio) / share), abs=0.05)
    assert judged.guard_band == pytest.approx(1e8 * (math.exp(stats.norm.ppf(WANTED) * share) - 1), rel=1e-3)


@given(st.floats(2.0, 4.0), st.floats(0.001, 0.6))
def test_a_guarded_decision_is_watch_exactly_within_the_band(value: float, u: float) -> None:
    judged = with_conformity(judgement(value, lower=2.0), quantity(value, u), guarded=True)
    assert judged.probability is not None
    assert judged.guard_band is not None
    inside = value < 2.0 + judged.guard_band
    if abs(value - 2.0 - judged.guard_band) > 1e-6:
        assert judged.status is (Status.WATCH if inside else Status.SOUND)
    if judged.status is Status.WATCH:
        assert "within the guard band" in judged.reason


@pytest.mark.parametrize("status", (Status.WATCH, Status.INVESTIGATE, Status.UNFIT))
@pytest.mark.parametrize("guarded", (True, False))
def test_what_breaks_the_limit_stays_broken(status: Status, guarded: bool) -> None:
    judged = with_conformity(judgement(1.99, lower=2.0, status=status), quantity(1.99, 0.5), guarded=guarded)
    assert judged.status is status
    assert judged.probability == pytest.approx(0.492, abs=1e-3)


UNTOUCHED = (
    (judgement(3.0, 2.0), quantity(3.0, 0.1, bound=Bound.LOWER)),  # only a bound
    (judgement(3.0, 2.0), quantity(3.1, 0.1)),  # another value than was judged
    (judgement(3.0, 2.0, 4.0), quantity(3.0, 0.1)),  # a band
    (judgement(3.0), quantity(3.0, 0.1)),  # no limit at all
    (judgement(3.0, 2.0), "Not read."),
)


@pytest.mark.parametrize("case", range(len(UNTOUCHED)))
@pytest.mark.parametrize("guarded", (True, False))
def test_what_has_no_probability_is_left_alone(case: int, guarded: bool) -> None:
    before, found = UNTOUCHED[case]
    after = with_conformity(before, found, guarded=guarded)
    assert after == before


def test_without_an_uncertainty_a_guarded_verdict_says_it_is_not_guarded() -> None:
    plain = with_conformity(judgement(3.0, 2.0), quantity(3.0, None), guarded=False)
    assert plain.reason == "Met."
    guarded = with_conformity(judgement(3.0, 2.0), quantity(3.0, None), guarded=True)
    assert guarded.status is Status.SOUND
    assert "Not guarded" in guarded.reason
    broken = with_conformity(judgement(1.0, 2.0, status=Status.UNFIT), quantity(1.0, None), guarded=True)
    assert "Not guarded" not in broken.reason


def test_guarding_never_makes_a_record_better() -> None:
    doubtful = Instrument(accuracy=(Accuracy(None, 0.3, 1e-8, None, 1.0),))
    for truth_limit in ("1.5 GOhm", "1.8 GOhm", "1.9 GOhm"):
        rules = replace(RULES, limits=user_limits([truth_limit]))
        plain = told(record(instrument=doubtful), rules).verdict.status
        guarded = told(record(instrument=doubtful), replace(rules, guarded=True)).verdict.status
        assert guarded.rung >= plain.rung


# ---------------------------------------------------------------------------------------------- uncertainty parts
ROWS = (
    Accuracy(1e9, 0.05, None, None, None), Accuracy(1e11, 0.1, None, None, None), Accuracy(None, 0.2, None, None, None),
)  # fmt: skip


@pytest.mark.parametrize(
    ("resistance", "reading"),
    ((1e6, 0.05), (1e9, 0.05), (1e9 * 1.0001, 0.1), (1e11, 0.1), (1.0001e11, 0.2), (math.inf, 0.2)),
)
def test_the_smallest_range_that_takes_the_reading_counts(resistance: float, reading: float) -> None:
    for rows in (ROWS, ROWS[::-1]):
        found = accuracy_at(rows, resistance)
        assert found is not None
        assert found.reading == reading


def test_beyond_every_range_nothing_is_known() -> None:
    assert accuracy_at(ROWS[:2], 2e11) is None
    assert accuracy_at((), 1.0) is None


@given(
    st.dictionaries(
        st.sampled_from(("gain", "offset", "resolution", "timing", "scatter")), st.floats(1e-6, 1), min_size=1
    )
)
def test_shares_of_a_budget_make_up_the_whole(parts: dict[str, float]) -> None:
    found = budgeted(quantity(-5.0, None), parts)
    assert found.uncertainty == pytest.approx(5.0 * math.sqrt(sum(p**2 for p in parts.values())))
    assert sum(part.share for part in found.budget) == pytest.approx(1.0)
    assert [p.share for p in found.budget] == sorted((p.share for p in found.budget), reverse=True)
    back = relative_parts(found)
    assert back == pytest.approx(parts)


@pytest.mark.parametrize(
    "parts", ({}, {"gain": 0.0}, {"gain": math.nan}, {"gain": math.inf}, {"gain": 0.1, "offset": math.nan})
)
def test_a_budget_that_cannot_be_made_is_not(parts: dict[str, float]) -> None:
    before = quantity(5.0, None)
    assert budgeted(before, parts) == before


@pytest.mark.parametrize("share", (0.0, -1.0, math.nan))
def test_a_temperature_that_brings_nothing_changes_nothing(share: float) -> None:
    before = budgeted(quantity(5.0, None), {"gain": 0.1})
    assert with_temperature(before, share) == before
    assert with_temperature(quantity(5.0, None), 0.1) == quantity(5.0, None)


def test_a_temperature_adds_in_squares() -> None:
    found = with_temperature(budgeted(quantity(5.0, None), {"gain": 0.3}), 0.4)
    assert found.uncertainty == pytest.approx(2.5)
    assert [part.name for part in found.budget] == ["temperature", "gain"]
    assert found.budget[0].share == pytest.approx(0.64)


def with_budget(**parts: float) -> QuantityValue:
    return budgeted(quantity(1e9, None, "insulation_resistance_60s"), parts)


def test_equal_gains_of_one_instrument_cancel_among_sisters() -> None:
    first, second = with_budget(gain=0.03, scatter=0.01), with_budget(gain=0.03, scatter=0.02)
    one = spread_parts(first, second, one_instrument=True)
    two = spread_parts(first, second, one_instrument=False)
    assert one["gain"] == 0.0
    assert two["gain"] == pytest.approx(np.hypot(0.03, 0.03))
    assert one["scatter"] == two["scatter"] == pytest.approx(np.hypot(0.01, 0.02))
    unequal = spread_parts(with_budget(gain=0.03), with_budget(gain=0.05), one_instrument=True)
    assert unequal["gain"] == pytest.approx(np.hypot(0.03, 0.05))
    assert spread_parts(first, quantity(1e9, None), one_instrument=True) == {}


def test_a_contribution_is_what_it_says() -> None:
    found = with_budget(gain=0.03)
    assert found.budget == (Contribution("gain", 0.03 * 1e9, 1.0),)


# ------------------------------------------------------------------------------------------------------ turning
def test_a_turning_condition_takes_away_good_and_bad_alike() -> None:
    made = [judgement(1.0, 2.0, status=s) for s in (Status.SOUND, Status.WATCH, Status.UNFIT)]
    beside = judgement(1.0, 2.0, status=Status.NOT_APPLICABLE)
    turning = Finding("residual", "Charge was left.", None, "Earth it.", turns=True)
    after = turned([*made, beside], (turning,))
    assert [j.status for j in after] == [Status.INVALID_TEST] * 3 + [Status.NOT_APPLICABLE]
    for j in after[:3]:
        assert j.reason.startswith("Charge was left.")
        assert j.reason.endswith("it gives no ground to energise.")
        assert "1.00" in j.reason


def test_a_condition_that_does_not_turn_leaves_judgements() -> None:
    made = [judgement(1.0, 2.0, status=Status.UNFIT)]
    assert turned(made, (Finding("x", "Something."),)) == made
    assert turned(made, ()) == made


def test_rules_are_values() -> None:
    assert default_rules() is default_rules()
    assert Rules(RULES.profile, RULES.library) == RULES
    assert DEFAULT_LIMIT_QUANTITY == R60C
