"""Budgets and guarded decisions against an outside propagator, Monte Carlo (JCGM 101) and JCGM 106."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats
from uncertainties import ufloat, umath

import typed
from soakage.app.contract_json import evaluation_json
from soakage.app.evaluate import evaluate
from soakage.app.guarding import with_conformity
from soakage.app.result import Evaluated
from soakage.app.rules import default_rules, user_limits
from soakage.app.uncertainty import budgeted, spread_parts
from soakage.cli.uncertainty_text import budget_text, conformity_text, probability_text
from soakage.model.verdict import Judgement, Limit, QuantityValue, Status
from soakage.standards.library import library
from soakage.standards.profile import embedded_profile, read_profile

ROOT3 = np.sqrt(3.0)
R60, R600 = "insulation_resistance_60s", "insulation_resistance_600s"
ACCURACY = '[{reading = "5 %", offset = "1 nA", resolution = "1 MOhm", timing = "1 s"}]'


def parts(quantity: QuantityValue) -> dict[str, float]:
    return {part.name: part.uncertainty / quantity.value for part in quantity.budget}


def measured() -> Evaluated:
    """Return an index test of 400 MOhm at a minute, 1200 MOhm at ten, 5 kV, with a declared accuracy."""
    return typed.judged(typed.machine(400.0, accuracy=ACCURACY))


def test_a_reading_s_budget_is_its_parts_over_root_three() -> None:
    found = measured().quantities[R60]
    known = parts(found)
    assert known["gain"] == pytest.approx(0.05 / ROOT3, rel=1e-9)
    assert known["offset"] == pytest.approx(1e-9 * 400e6 / 5000 / ROOT3, rel=1e-9)
    assert known["resolution"] == pytest.approx(1 / 400 / np.sqrt(12), rel=1e-9)
    assert found.uncertainty == pytest.approx(np.sqrt(sum(p.uncertainty**2 for p in found.budget)), rel=1e-12)
    assert sum(part.share for part in found.budget) == pytest.approx(1.0)
    assert found.budget[0].name == "gain"
    assert [p.share for p in found.budget] == sorted((p.share for p in found.budget), reverse=True)


def test_the_ratio_agrees_with_an_outside_propagator() -> None:
    found = measured()
    index = found.quantities["polarization_index"]
    gain, zero = ufloat(1.0, 0.05 / ROOT3), ufloat(0.0, 1e-9 / ROOT3)
    volts, digit = 5000.0, 1e6 / np.sqrt(12)

    def reading(r: float) -> object:
        return volts / (volts / r * gain + zero) + ufloat(0.0, digit)

    expected = reading(1200e6) / reading(400e6)  # type: ignore[operator]
    own = {k: v for k, v in parts(index).items() if k != "timing"}
    assert "gain" not in own
    assert np.sqrt(sum(v**2 for v in own.values())) == pytest.approx(expected.std_dev / 3.0, rel=1e-6)


def test_the_ratio_agrees_with_monte_carlo() -> None:
    # JCGM 101 (memory): rectangular errors drawn, pushed through R = V/I and the power law, as a whole.
    rng, count = np.random.default_rng(7), 200_000
    record = typed.typed(
        {**typed.MACHINE, "accuracy": ACCURACY},
        [(t, f"{400 * (t / 60) ** 0.5:.12g}") for t in (30, 45, 60, 90, 120, 300, 450, 600, 700)],
        "time [s],resistance [MOhm]",
    )
    index = typed.judged(record).quantities["polarization_index"]

    def drawn(half: float) -> np.ndarray:
        return rng.uniform(-half, half, count)

    gain, zero = 1 + drawn(0.05), drawn(1e-9)

    def reading(t: float) -> np.ndarray:
        true = 400e6 * ((t + drawn(1.0)) / 60) ** 0.5
        return np.asarray(5000 / (5000 / true * gain + zero) + drawn(0.5e6))

    ratio = reading(600.0) / reading(60.0)
    assert index.uncertainty == pytest.approx(float(ratio.std()), rel=0.02)


def test_gain_does_not_cancel_over_a_change_of_range() -> None:
    accuracy = '[{range = "500 MOhm", reading = "5 %"}, {range = "10 GOhm", reading = "3 %"}]'
    index = typed.judged(typed.machine(400.0, accuracy=accuracy)).quantities["polarization_index"]
    assert parts(index)["gain"] == pytest.approx(np.hypot(0.05, 0.03) / ROOT3, rel=1e-9)


def test_scatter_of_dense_readings_counts_beside_the_declared_accuracy() -> None:
    quiet = typed.judged(typed.sampled({**typed.MACHINE, "accuracy": '[{reading = "1 %"}]'}))
    assert parts(quiet.quantities[R60]).get("scatter", 0.0) < 1e-4
    noisy = typed.judged(typed.sampled({**typed.MACHINE, "accuracy": '[{reading = "1 %"}]'}, noise=0.02))
    assert parts(noisy.quantities[R60])["scatter"] == pytest.approx(0.02, rel=0.35)


def test_scatter_alone_is_never_an_uncertainty() -> None:
    noisy = typed.judged(typed.sampled(noise=0.02))
    assert all(q.uncertainty is None for q in noisy.quantities.values())


def test_the_temperature_s_share_counts_once_its_uncertainty_is_stated() -> None:
    # 5 % of the corrected value and 2 K under halving per 10 K: 14.74 % (derived).
    plain: dict[str, Any] = {"insulation": "asphalt", "year": "1965", "winding_temperature": "30 degC",
             "accuracy": '[{reading = "8.660254037844386 %"}]'}  # fmt: skip
    told = typed.judged(typed.machine(400.0, temperature_uncertainty="2 K", **plain))
    corrected = told.quantities[f"{R60}_corrected"]
    assert (corrected.uncertainty or 0) / corrected.value == pytest.approx(0.1474, abs=5e-5)
    assert corrected.budget[0].name == "temperature"
    untold = typed.judged(typed.machine(400.0, **plain)).quantities[f"{R60}_corrected"]
    assert (untold.uncertainty or 0) / untold.value == pytest.approx(0.05, rel=1e-9)
    # The index needs no temperature.
    assert "temperature" not in parts(told.quantities["polarization_index"])


def test_the_split_of_three_currents_agrees_with_an_outside_propagator() -> None:
    times = (60.0, 60 * np.sqrt(10), 600.0)
    rows = [(f"{t:.12g}", 5000, f"{10 * (t / 60) ** -0.8 + 1.5:.12g}") for t in times]
    keys = {**typed.MACHINE, "accuracy": '[{reading = "5 %", offset = "20 nA", resolution = "1 MOhm"}]'}
    found = typed.judged(typed.typed(keys, rows, "time [s],voltage [V],current [uA]"))
    gain, zero = ufloat(1.0, 0.05 / ROOT3), ufloat(0.0, 20e-9 / ROOT3)
    i = [float(row[2]) * 1e-6 for row in rows]
    i1, i3, i10 = (x * gain + zero + x * ufloat(0.0, 1e6 / np.sqrt(12) / (5000 / x)) for x in i)
    conduction = (i1 * i10 - i3**2) / (i1 + i10 - 2 * i3)
    exponent = 2 * umath.log10((i1 - i3) / (i3 - i10))
    assert found.quantities["conduction_current"].uncertainty == pytest.approx(conduction.std_dev, rel=1e-3)
    assert found.quantities["absorption_exponent"].uncertainty == pytest.approx(exponent.std_dev, rel=1e-3)


def test_a_spread_of_sections_read_with_one_instrument_drops_the_gain() -> None:
    one = budgeted(QuantityValue(R60, 2e9), {"gain": 0.03, "offset": 0.01})
    other = budgeted(QuantityValue(R60, 1e9), {"gain": 0.03, "offset": 0.005})
    assert spread_parts(one, other, one_instrument=True)["gain"] == 0.0
    apart = spread_parts(one, other, one_instrument=False)
    assert apart["gain"] == pytest.approx(0.03 * np.sqrt(2))
    assert apart["offset"] == pytest.approx(np.hypot(0.01, 0.005))
    assert spread_parts(one, QuantityValue(R60, 1e9), one_instrument=True) == {}


def judgement(quantity: QuantityValue, **limits: float | None) -> Judgement:
    limit = Limit("constant", limits.get("lower"), limits.get("upper"), "ohm", "the limit")
    return Judgement(
        "invented", "Invented", quantity.id, limit, Status.SOUND, "Met.", "", "derived", value=quantity.value
    )


@pytest.mark.parametrize(
    ("value", "u", "side", "limit", "expected"),
    # JCGM 106, 7.3.3 example 1: -5.47 V, u 0.05 V, upper limit -5.40 V: 0.92 (memory); turned to a lower limit too.
    ((-5.47, 0.05, "upper", -5.40, 0.92), (5.47, 0.05, "lower", 5.40, 0.92)),
)
def test_probability_is_that_of_jcgm_106(
    value: float, u: float, side: str, limit: float, expected: float
) -> None:
    quantity = QuantityValue("polarization_index", value, uncertainty=u)
    judged = with_conformity(judgement(quantity, **{side: limit}), quantity, guarded=False)
    assert judged.probability == pytest.approx(expected, abs=5e-3)
    assert judged.guard_band == pytest.approx(1.645 * u, rel=1e-3)


@pytest.mark.parametrize("side", ("lower", "upper"))
def test_a_resistance_is_judged_in_its_logarithm(side: str) -> None:
    quantity = QuantityValue(R60, 120e6, uncertainty=12e6)
    judged = with_conformity(judgement(quantity, **{side: 100e6}), quantity, guarded=False)
    above = float(stats.norm.cdf(np.log(1.2) / 0.1))
    assert judged.probability == pytest.approx(above if side == "lower" else 1 - above, rel=1e-9)
    # Standing at the limit and its guard band the limit is met with 95 %.
    edge = 100e6 + (judged.guard_band or 0.0) * (1 if side == "lower" else -1)
    at_edge = QuantityValue(R60, edge, uncertainty=0.1 * edge)
    again = with_conformity(judgement(at_edge, **{side: 100e6}), at_edge, guarded=True)
    assert again.probability == pytest.approx(0.95, rel=1e-9)


def test_a_guarded_decision_only_follows_what_lies_within_the_band() -> None:
    quantity = QuantityValue(R60, 110e6, uncertainty=11e6)
    plain = judgement(quantity, lower=100e6)
    assert with_conformity(plain, quantity, guarded=False).status is Status.SOUND
    guarded = with_conformity(plain, quantity, guarded=True)
    assert guarded.status is Status.WATCH
    assert "within the guard band" in guarded.reason
    far = QuantityValue(R60, 130e6, uncertainty=13e6)
    assert with_conformity(judgement(far, lower=100e6), far, guarded=True).status is Status.SOUND


def test_a_breach_stays_a_breach() -> None:
    quantity = QuantityValue(R60, 99e6, uncertainty=30e6)
    broken = replace(judgement(quantity, lower=100e6), status=Status.UNFIT, reason="Below.")
    judged = with_conformity(broken, quantity, guarded=True)
    assert judged.status is Status.UNFIT
    assert 0.4 < (judged.probability or 0) < 0.5


def test_without_an_uncertainty_a_guarded_decision_says_that_it_is_none() -> None:
    quantity = QuantityValue(R60, 110e6)
    judged = with_conformity(judgement(quantity, lower=100e6), quantity, guarded=True)
    assert judged.status is Status.SOUND
    assert "Not guarded" in judged.reason
    assert judged.probability is None


def test_the_whole_path_guards_a_user_s_limit() -> None:
    record = typed.machine(210.0, accuracy='[{reading = "10 %"}]')
    rules = replace(default_rules(), limits=user_limits(["200 MOhm"]))
    plain, guarded = (typed.judged(record, replace(rules, guarded=g)) for g in (False, True))
    assert typed.by(plain, "user.limit-1").status is Status.SOUND
    assert typed.by(guarded, "user.limit-1").status is Status.WATCH
    assert guarded.verdict.status is Status.WATCH
    assert typed.by(plain, "user.limit-1").probability == pytest.approx(
        float(stats.norm.cdf(np.log(210 / 200) / (0.1 / ROOT3))), rel=1e-6
    )


def test_a_profile_can_ask_for_guarded_decisions() -> None:
    text = b'[profile]\nid = "guarded"\ntitle = "Guarded"\ninclude = "default"\nguard_band = true\n'
    profile = read_profile("guarded.toml", text, library(), embedded_profile)
    assert profile.guarded
    assert not default_rules().profile.guarded
    rules = replace(default_rules(), profile=profile, limits=user_limits(["200 MOhm"]))
    record = typed.machine(210.0, accuracy='[{reading = "10 %"}]')
    assert typed.by(typed.judged(record, rules), "user.limit-1").status is Status.WATCH


def test_budget_and_probability_are_printed() -> None:
    record = typed.machine(400.0, accuracy=ACCURACY)
    printed = evaluation_json(evaluate([record]))["records"][0]
    budget = printed["quantities"][R60]["budget"]
    assert budget[0].keys() == {"name", "uncertainty", "share"}
    judged = [j for j in printed["judgements"] if j["probability"] is not None]
    assert judged
    assert all(j["guard_band"] > 0 for j in judged)
    evaluated = typed.judged(record)
    lines = " ".join(budget_text([evaluated.quantities[R60]]))
    assert "gain" in lines
    assert "of the variance" in lines
    told = [conformity_text(j) for j in evaluated.judgements if j.probability is not None]
    assert all("guard band" in text for text in told)


@pytest.mark.parametrize(
    ("probability", "text"),
    ((1.0, "over 99.9 %"), (0.9512, "95 %"), (0.42, "42 %"), (1e-9, "under 0.1 %")),
)
def test_no_probability_is_printed_as_certain(probability: float, text: str) -> None:
    assert probability_text(probability).replace("\N{NO-BREAK SPACE}", " ") == text
