"""Every sign that causes are weighed by: there on one record, gone on the next that differs in that alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from machine_records import LEAKY, WEAK, ramped, record, stepped, visit
from soakage.app.features import ALIKE, FAR, GUARD_HELPS, NEW_FROM, ODD, Features, Signs, features
from soakage.app.visits import Spread
from soakage.model.record import Record
from soakage.model.verdict import Finding, Judgement, Limit, QuantityValue, Status
from soakage.standards.causes import causes
from soakage.standards.library import library
from soakage.units import Bound, kelvin

R60 = "insulation_resistance_60s"
PLAIN = record()


def q(name: str, value: float, bound: Bound | None = None) -> QuantityValue:
    return QuantityValue(name, value, bound)


def judged(quantity: str, status: Status) -> Judgement:
    limit = Limit("constant", 1.0, None, "1", "at least 1")
    return Judgement("x.y", "A rule", quantity, limit, status, "Why.", "A book", "memory", value=1.0)


def said(code: str, sentence: str = "Something.") -> Finding:
    return Finding(code, sentence)


def seen(
    of: Record = PLAIN,
    *quantities: QuantityValue,
    findings: tuple[Finding, ...] = (),
    judgements: tuple[Judgement, ...] = (),
    spread: Spread | None = None,
    mates: tuple[tuple[Record, dict[str, QuantityValue]], ...] = (),
) -> Features:
    return features(Signs(of, {e.id: e for e in quantities}, findings, judgements, spread, mates), library())


def plate(**more: Any) -> Record:
    return replace(PLAIN, asset=replace(PLAIN.asset, **more))


def weather(**more: Any) -> Record:
    return replace(PLAIN, conditions=replace(PLAIN.conditions, **more))


def spread_of(value: float, odd: str, bound: Bound | None = None) -> Spread:
    return Spread((0, 1), q("phase_spread", value, bound), odd)


def phase(name: str, guarded: tuple[str, ...] = ()) -> Record:
    return replace(
        PLAIN,
        asset=replace(PLAIN.asset, section=None),
        test=replace(PLAIN.test, tested=(name,), guarded=guarded),
    )


def bounds(*marks: int) -> Record:
    n = len(marks)
    r = replace(
        PLAIN.readings, time=np.arange(1.0, n + 1), voltage=np.full(n, 5e3), current=np.full(n, 1e-9),
        resistance=np.full(n, 5e12), bound=np.array(marks, np.int8),
    )  # fmt: skip
    return replace(PLAIN, readings=r)


SISTER = ((phase("V"), {R60: q(R60, 1e8)}),)


# ------------------------------------------------------------------------------- signs that are there or not
ON_OFF: dict[str, tuple[Callable[[], Features], Callable[[], Features]]] = {
    "surface_not_dry": (lambda: seen(weather(surface="damp")), lambda: seen(weather(surface="dry"))),
    "whole_winding": (
        lambda: seen(PLAIN),
        lambda: seen(replace(PLAIN, test=replace(PLAIN.test, tested=("U",), earthed=("V", "W", "frame")))),
    ),
    "sections_alike": (
        lambda: seen(PLAIN, spread=spread_of(ALIKE * 0.999, "U")),
        lambda: seen(PLAIN, spread=spread_of(ALIKE, "U")),
    ),
    "below_minimum": (
        lambda: seen(PLAIN, judgements=(judged(f"{R60}_corrected", Status.INVESTIGATE),)),
        lambda: seen(PLAIN, judgements=(judged(f"{R60}_corrected", Status.WATCH),)),
    ),
    "leaky": (
        lambda: seen(PLAIN, judgements=(judged("polarization_index", Status.WATCH),)),
        lambda: seen(PLAIN, judgements=(judged("polarization_index", Status.SOUND),)),
    ),
    "knee": (lambda: seen(PLAIN, q("knee_voltage", 6e3)), lambda: seen(PLAIN, q("polarization_index", 6.0))),
    "broke_down": (
        lambda: seen(PLAIN, findings=(said("flashed_over"),)),
        lambda: seen(PLAIN, findings=(said("noise"),)),
    ),
    "voltage_sign": (
        lambda: seen(PLAIN, judgements=(judged("voltage_dependence", Status.INVESTIGATE),)),
        lambda: seen(PLAIN, judgements=(judged("voltage_dependence", Status.SOUND),)),
    ),
    "discharge_high": (
        lambda: seen(PLAIN, judgements=(judged("dielectric_discharge", Status.WATCH),)),
        lambda: seen(PLAIN, judgements=(judged("dielectric_discharge", Status.SOUND),)),
    ),
    "discharge_beyond_fit": (
        lambda: seen(PLAIN, findings=(said("discharge_beyond_fit"),)), lambda: seen(PLAIN),
    ),
    "index_good": (
        lambda: seen(PLAIN, q("polarization_index", 3.0)),
        lambda: seen(
            PLAIN, q("polarization_index", 1.0), judgements=(judged("polarization_index", Status.WATCH),)
        ),
    ),
    "index_high": (
        lambda: seen(PLAIN, q("polarization_index", library().thresholds["ieee-43-2013.brittle-index"].value + 0.01)),
        lambda: seen(PLAIN, q("polarization_index", library().thresholds["ieee-43-2013.brittle-index"].value)),
    ),
    "thermosetting": (
        lambda: seen(plate(insulation="epoxy-mica")), lambda: seen(plate(insulation="asphalt")),
    ),
    "thermoplastic": (
        lambda: seen(plate(insulation="asphalt")), lambda: seen(plate(insulation="thermosetting")),
    ),
    "before_1970": (lambda: seen(plate(year=NEW_FROM - 1)), lambda: seen(plate(year=NEW_FROM))),
    "no_voltage": (
        lambda: seen(PLAIN, findings=(said("no_voltage"),)), lambda: seen(PLAIN, findings=(said("noise"),)),
    ),
    "all_over_range": (lambda: seen(bounds(1, 1, 1)), lambda: seen(bounds(1, 1, 0))),
    "floating": (
        lambda: seen(PLAIN, findings=(said("terminal_floating"),)),
        lambda: seen(PLAIN, findings=(said("terminal"),)),
    ),
    "scatter": (
        lambda: seen(PLAIN, findings=(said("current_not_settling"),)), lambda: seen(PLAIN),
    ),
    "set_up_sign": (
        lambda: seen(PLAIN, findings=(said("noise"),)),
        lambda: seen(PLAIN, findings=(said("voltage_collapsed"),)),
    ),
    "collapsed": (
        lambda: seen(PLAIN, findings=(said("voltage_collapsed"),)),
        lambda: seen(PLAIN, findings=(said("no_voltage"),)),
    ),
    "at_limit": (
        lambda: seen(PLAIN, findings=(said("voltage_collapsed", "It stood at the current limit of 2 mA."),)),
        lambda: seen(PLAIN, findings=(said("voltage_collapsed", "The voltage fell to 12 %."),)),
    ),
    "attached": (lambda: seen(weather(attached=("surge capacitors",))), lambda: seen(weather(attached=()))),
    "short_earthing": (
        lambda: seen(PLAIN, findings=(said("residual_discharge"),)), lambda: seen(PLAIN),
    ),
    "negative_current": (
        lambda: seen(PLAIN, findings=(said("current_sign_change"),)), lambda: seen(PLAIN),
    ),
    "charge_sign": (
        lambda: seen(PLAIN, findings=(said("current_sign_change"),)),
        lambda: seen(PLAIN, q("residual_current_share", 0.9)),
    ),
    "odd_section": (
        lambda: seen(phase("U"), q(R60, 1e8), spread=spread_of(ODD, "U"), mates=((phase("V"), {R60: q(R60, 2e8)}),)),
        lambda: seen(
            phase("U"), q(R60, 1e8), spread=spread_of(ODD - 0.01, "U"), mates=((phase("V"), {R60: q(R60, 1.99e8)}),)
        ),
    ),
    "high_beside_sisters": (
        lambda: seen(phase("U"), q(R60, FAR * 1e8), spread=spread_of(FAR, "U"), mates=SISTER),
        lambda: seen(
            phase("U"), q(R60, 19e8), spread=spread_of(FAR - 1, "U"), mates=SISTER
        ),
    ),
    "guard_helps": (
        lambda: seen(phase("U"), q(R60, 1e8), mates=((phase("U", ("G",)), {R60: q(R60, 1.51e8)}),)),
        lambda: seen(phase("U"), q(R60, 1e8), mates=((phase("U", ("G",)), {R60: q(R60, GUARD_HELPS * 1e8)}),)),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", ON_OFF)
def test_a_sign_is_there_on_one_record_and_absent_on_the_next(name: str) -> None:
    there, gone = ON_OFF[name]
    assert there().values[name] == 1.0
    assert name not in gone().values, "a sign that is not there stays absent"


NUMBERS = ("dew_margin", "humidity", "conduction_share", "excess_share", "voltage_fall", "residual_share")


def test_every_feature_the_causes_ask_for_is_tried_here() -> None:
    asked = {evidence.feature for cause in causes() for evidence in cause.evidence}
    assert asked - set(ON_OFF) - set(NUMBERS) == set()


# ------------------------------------------------------------------------------------------ measured signs
@pytest.mark.parametrize(
    ("warm", "dew", "margin"), ((20.0, 12.0, 8.0), (20.0, 20.0, 0.0), (5.0, 12.0, -7.0), (90.0, -10.0, 100.0))
)
def test_the_dew_margin_is_the_insulation_over_the_dew_point(warm: float, dew: float, margin: float) -> None:
    found = seen(weather(winding_temperature=kelvin(warm)), q("dew_point", kelvin(dew)))
    assert found.values["dew_margin"] == pytest.approx(margin)
    assert found.texts["dew_margin"].endswith("\N{NO-BREAK SPACE}K")


def test_without_a_temperature_or_a_dew_point_there_is_no_margin() -> None:
    assert "dew_margin" not in seen(weather(winding_temperature=None), q("dew_point", 280.0)).values
    assert "dew_margin" not in seen(weather(winding_temperature=300.0)).values


@pytest.mark.parametrize(
    ("humidity", "text"),
    ((0.4, "40\N{NO-BREAK SPACE}%"), (0.905, "90\N{NO-BREAK SPACE}%"), (1.0, "100\N{NO-BREAK SPACE}%")),
)
def test_humidity_is_told_with_its_figure(humidity: float, text: str) -> None:
    found = seen(weather(relative_humidity=humidity))
    assert found.values["humidity"] == humidity
    assert found.texts["humidity"] == text or humidity == 0.905
    assert "humidity" not in seen(weather(relative_humidity=None)).values


@pytest.mark.parametrize(
    ("quantities", "share"),
    (
        ((q(R60, 1e9), q("conductance_fitted", 4e-10)), 0.4),
        ((q(R60, 1e9), q("conductance_fitted", 4e-9)), 1.0),  # no more than the whole current
        ((q(R60, 1e9), q("conduction_current", 1e-6)), 0.2),  # at 5 kV
        ((q(R60, 1e9), q("conductance_fitted", 1e-10), q("conduction_current", 1e-6)), 0.1),  # the fit first
        ((q(R60, 1e9, Bound.LOWER), q("conductance_fitted", 4e-10)), None),
        ((q(R60, 1e9),), None),
        ((q("conductance_fitted", 4e-10),), None),
        ((), None),
    ),
)
def test_the_share_of_conduction(quantities: tuple[QuantityValue, ...], share: float | None) -> None:
    found = seen(PLAIN, *quantities).values
    assert found.get("conduction_share") == (None if share is None else pytest.approx(share))


def test_without_a_voltage_the_three_currents_give_no_share() -> None:
    bare = replace(PLAIN, test=replace(PLAIN.test, test_voltage=None))
    assert "conduction_share" not in seen(bare, q(R60, 1e9), q("conduction_current", 1e-6)).values


@pytest.mark.parametrize(
    ("fall", "codes", "there"),
    (
        (q("voltage_dependence", 0.3), (), True),
        (q("voltage_dependence", 0.3, Bound.LOWER), (), True),
        (q("voltage_dependence", 0.3, Bound.UPPER), (), False),  # it may be less
        (q("voltage_dependence", 0.3), ("unequal_holds",), False),
    ),
)
def test_a_fall_with_voltage_counts_only_where_it_is_one(
    fall: QuantityValue, codes: tuple[str, ...], there: bool
) -> None:
    found = seen(PLAIN, fall, findings=tuple(map(said, codes)))
    assert ("voltage_fall" in found.values) is there


@pytest.mark.parametrize("share", (-0.1, 0.0, 0.02, 0.5))
def test_the_excess_and_the_residue_are_passed_on(share: float) -> None:
    found = seen(PLAIN, q("excess_current_share", share), q("residual_current_share", share))
    assert found.values["excess_share"] == share
    assert found.values["residual_share"] == share
    assert found.texts["excess_share"]


# ---------------------------------------------------------------------------------------------- sisters
@pytest.mark.parametrize("bound", (Bound.LOWER, Bound.UPPER))
def test_a_spread_that_is_only_bounded_does_not_make_sections_alike(bound: Bound) -> None:
    assert "sections_alike" not in seen(PLAIN, spread=spread_of(1.1, "U", bound)).values


def test_the_section_that_departs_is_the_one_named() -> None:
    mates = ((phase("V"), {R60: q(R60, 9e8)}), (phase("W"), {R60: q(R60, 8e8)}))
    low = seen(phase("U"), q(R60, 1e8), spread=spread_of(9.0, "U"), mates=mates)
    other = seen(phase("U"), q(R60, 1e8), spread=spread_of(9.0, "V"), mates=mates)
    assert "odd_section" in low.values
    assert "leaky" in low.values
    assert "odd_section" not in other.values


def test_a_section_far_above_its_sisters_is_no_weak_one() -> None:
    mates = ((phase("V"), {R60: q(R60, 1e8)}), (phase("W"), {R60: q(R60, 1.1e8)}))
    high = seen(phase("U"), q(R60, 5e9), spread=spread_of(50.0, "U"), mates=mates)
    assert "high_beside_sisters" in high.values
    assert not {"odd_section", "leaky"} & high.values.keys()
    assert "set_up_sign" in high.values


@pytest.mark.parametrize(
    ("mate", "helps"),
    (
        (phase("U", ("G",)), True),
        (phase("V", ("G",)), False),  # another section
        (phase("U"), False),  # not guarded
    ),
)
def test_a_guard_helps_only_on_the_same_section(mate: Record, helps: bool) -> None:
    found = seen(phase("U"), q(R60, 1e8), mates=((mate, {R60: q(R60, 9e8)}),))
    assert ("guard_helps" in found.values) is helps


def test_what_is_guarded_itself_is_not_helped() -> None:
    found = seen(phase("U", ("G",)), q(R60, 1e8), mates=((phase("U", ("G",)), {R60: q(R60, 9e8)}),))
    assert "guard_helps" not in found.values


@pytest.mark.parametrize("asset_class", ("transformer", "cable", "switchgear"))
def test_only_a_machine_has_a_whole_winding(asset_class: str) -> None:
    assert "whole_winding" not in seen(plate(asset_class=asset_class)).values


def test_a_flag_is_one_and_what_does_not_hold_leaves_no_trace() -> None:
    found = Features()
    for held in (None, 0, "", (), frozenset[int](), False):
        found.flag("x", held)
    assert found.values == {}
    for there in ("yes", 3, {1}, True):
        found.flag("x", there)
        assert found.values == {"x": 1.0}


# --------------------------------------------------------------------------------- whole records, end to end
def first(of: Record) -> str:
    (seen_record,) = visit([of])
    assert seen_record.causes_sought
    return seen_record.causes[0].cause.id if seen_record.causes else "none"


COLD = {"winding_temperature": kelvin(8.0), "ambient_temperature": kelvin(20.0), "relative_humidity": 0.9}
DAMP = {"winding_temperature": kelvin(21.0), "ambient_temperature": kelvin(20.0), "relative_humidity": 0.9,
        "surface": "wet"}  # fmt: skip


@pytest.mark.parametrize(
    ("of", "cause"),
    (
        (record(LEAKY, noise=0.005), "bulk-moisture"),
        (record(LEAKY, noise=0.005, conditions=COLD), "condensation"),
        (record(LEAKY, noise=0.005, conditions=DAMP), "surface-moisture"),
        (stepped(WEAK, noise=0.003), "voltage-dependent-defect"),
        (ramped(WEAK, noise=0.003), "voltage-dependent-defect"),
    ),
)
def test_a_hidden_cause_is_ranked_first(of: Record, cause: str) -> None:
    assert first(of) == cause


def test_a_phase_alone_among_sound_sisters_is_contaminated() -> None:
    records = [record(noise=0.005, tested=(n,), seed=k) for k, n in enumerate("UV")]
    records.append(record(LEAKY, noise=0.005, tested=("W",), seed=2))
    one, two, three = visit(records)
    assert three.causes[0].cause.id == "contamination"
    assert "departs from its sisters" in " ".join(three.causes[0].pro)
    assert not any(r.cause.id == "contamination" for e in (one, two) for r in e.causes)


def test_a_sound_record_without_a_finding_is_not_asked_for_causes() -> None:
    (sound,) = visit([record(noise=0.005)])
    assert sound.verdict.status is Status.SOUND
    assert sound.causes == ()
    assert not sound.causes_sought


def test_causes_change_no_verdict_and_no_judgement() -> None:
    (whole,) = visit([record(LEAKY, noise=0.005)])
    assert whole.causes
    names = {ranked.cause.name for ranked in whole.causes}
    texts = [whole.verdict.sentence, *whole.verdict.actions, *(j.reason for j in whole.judgements)]
    assert not any(name in text for name in names for text in texts)


def test_the_weights_told_are_those_of_the_evidence_told() -> None:
    (whole,) = visit([record(LEAKY, noise=0.005)])
    for ranked in whole.causes:
        weights = {e.text.split("{value}")[0]: e.weight for e in ranked.cause.evidence}
        told = [
            w for start, w in weights.items() for text in (*ranked.pro, *ranked.con) if text.startswith(start)
        ]
        assert sum(told) == pytest.approx(ranked.weight)
        assert not any("{value}" in text for text in (*ranked.pro, *ranked.con))
    assert [r.weight for r in whole.causes] == sorted((r.weight for r in whole.causes), reverse=True)
