"""How judgements and findings become one verdict: the contract line by line."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.app.conclude import conclude, judged_text
from soakage.app.judging import turned
from soakage.model import test as stated
from soakage.model.asset import Asset
from soakage.model.readings import Readings
from soakage.model.record import Record
from soakage.model.verdict import Finding, Judgement, Limit, Status, capped, worst
from soakage.units import Bound
from typed import spot

RECORD = spot({"class": "switchgear", "method": "insulation-resistance", "asset": "Board 4"}, "1 GOhm")
LADDER = (Status.SOUND, Status.WATCH, Status.INVESTIGATE, Status.UNFIT)
BESIDE = (Status.NOT_APPLICABLE, Status.NOT_JUDGED, Status.INVALID_TEST)


def a(status: Status, *, decides: bool = True, value: float | None = 1e9, reason: str = "Why.") -> Judgement:
    limit = Limit("constant", 5e9, None, "ohm", "at least 5 GΩ")
    return Judgement("x.y", "A rule", "insulation_resistance_60s", limit, status, reason, "A book", "memory",
                     decides=decides, value=value)  # fmt: skip


def noticed(status: Status | None, *, turns: bool = False) -> Finding:
    return Finding("code", "Something was noticed.", status, "Do something.", turns)


def verdict(*made: Judgement, findings: tuple[Finding, ...] = ()) -> Status:
    return conclude(RECORD, made, findings).status


statuses = st.lists(st.tuples(st.sampled_from((*LADDER, *BESIDE)), st.booleans()), max_size=5)
noticings = st.lists(st.sampled_from((None, *LADDER[1:])), max_size=3)


@given(statuses, noticings)
def test_the_verdict_is_the_worst_held_back_by_what_decides(
    given_statuses: list[tuple[Status, bool]], given_findings: list[Status | None]
) -> None:
    made = [a(status, decides=decides) for status, decides in given_statuses]
    status = conclude(RECORD, made, [noticed(f) for f in given_findings]).status
    top = worst([*(s for s, _ in given_statuses), *(f for f in given_findings if f)])
    deciding = [s for s, decides in given_statuses if decides]
    held = [s for s in deciding if s in (Status.NOT_JUDGED, Status.INVALID_TEST)]
    if top is not None and top.rung >= Status.INVESTIGATE.rung:
        assert status is top, "a condition takes away sound and watch, never investigate or unfit"
    elif held:
        assert status in held
        assert (status is Status.INVALID_TEST) == (Status.INVALID_TEST in held)
    elif not any(s.rung >= 0 for s in deciding):
        assert status is Status.NOT_JUDGED, "no judgement at all is not judged, never sound"
    else:
        assert status is top


@given(statuses, noticings, st.sampled_from(LADDER), st.booleans())
def test_a_further_judgement_on_the_ladder_never_makes_a_breach_better(
    given_statuses: list[tuple[Status, bool]],
    given_findings: list[Status | None],
    more: Status,
    decides: bool,
) -> None:
    made = [a(status, decides=d) for status, d in given_statuses]
    findings = [noticed(f) for f in given_findings]
    before = conclude(RECORD, made, findings).status
    after = conclude(RECORD, [*made, a(more, decides=decides)], findings).status
    if before in (Status.INVESTIGATE, Status.UNFIT):
        assert after.rung >= before.rung


@given(statuses, noticings)
def test_the_order_does_not_matter(
    given_statuses: list[tuple[Status, bool]], given_findings: list[Status | None]
) -> None:
    made = [a(status, decides=d) for status, d in given_statuses]
    findings = [noticed(f) for f in given_findings]
    assert conclude(RECORD, made, findings).status is conclude(RECORD, made[::-1], findings[::-1]).status


def test_not_applicable_does_not_hold_back_but_is_no_judgement() -> None:
    assert verdict(a(Status.SOUND), a(Status.NOT_APPLICABLE)) is Status.SOUND
    assert verdict(a(Status.NOT_APPLICABLE)) is Status.NOT_JUDGED
    assert verdict() is Status.NOT_JUDGED
    assert verdict(findings=(noticed(None),)) is Status.NOT_JUDGED


def test_what_only_counts_does_not_hold_back_when_it_is_missing() -> None:
    assert verdict(a(Status.SOUND), a(Status.NOT_JUDGED, decides=False)) is Status.SOUND
    assert verdict(a(Status.SOUND), a(Status.NOT_JUDGED)) is Status.NOT_JUDGED
    assert verdict(a(Status.UNFIT, decides=False), a(Status.NOT_JUDGED)) is Status.UNFIT


def test_what_only_counts_makes_nothing_sound() -> None:
    assert verdict(a(Status.SOUND, decides=False)) is Status.NOT_JUDGED


@pytest.mark.parametrize(
    ("status", "cap", "expected"),
    (
        (Status.UNFIT, Status.INVESTIGATE, Status.INVESTIGATE), (Status.UNFIT, Status.WATCH, Status.WATCH),
        (Status.WATCH, Status.INVESTIGATE, Status.WATCH), (Status.UNFIT, None, Status.UNFIT),
        (Status.NOT_JUDGED, Status.WATCH, Status.NOT_JUDGED), (Status.INVALID_TEST, Status.WATCH, Status.INVALID_TEST),
    ),
)  # fmt: skip
def test_a_cap_lowers_the_ladder_and_nothing_beside_it(
    status: Status, cap: Status | None, expected: Status
) -> None:
    assert capped(status, cap) is expected


def test_a_turning_condition_makes_invalid_whatever_was_judged() -> None:
    made = [a(status) for status in (*LADDER, *BESIDE)]
    after = [j.status for j in turned(made, (noticed(None, turns=True),))]
    assert after == [Status.INVALID_TEST] * 4 + list(BESIDE)
    assert turned(made, (noticed(Status.INVESTIGATE),)) == made
    reason = turned(made, (noticed(None, turns=True),))[0].reason
    assert "Something was noticed." in reason
    assert "1.00\u00a0GΩ" in reason
    assert "gives no ground to energise" in reason


def test_a_turned_breach_does_not_reach_the_ladder() -> None:
    findings = (noticed(None, turns=True),)
    assert conclude(RECORD, turned([a(Status.UNFIT)], findings), findings).status is Status.INVALID_TEST


def test_statuses_are_spelled_as_in_the_contract() -> None:
    assert [str(status) for status in Status] == [
        "sound", "watch", "investigate", "unfit", "not applicable", "not judged", "invalid test",
    ]  # fmt: skip


# ---- the sentence
def test_the_sentence_names_thing_number_and_limit() -> None:
    sentence = conclude(RECORD, [a(Status.INVESTIGATE)], ()).sentence
    for part in ("Board 4", "insulation resistance at 60 s", "1.00\u00a0GΩ", "at least 5 GΩ"):
        assert part in sentence


def test_a_bound_keeps_its_sign() -> None:
    judgement = a(Status.UNFIT)
    bounded = Judgement(
        **{name: getattr(judgement, name) for name in Judgement.__slots__} | {"bound": Bound.UPPER}
    )
    assert judged_text(bounded) == "<\u00a01\u00a0GΩ"
    assert "<\u00a01\u00a0GΩ" in conclude(RECORD, [bounded], ()).sentence
    assert judged_text(a(Status.NOT_JUDGED, value=None)) == "\N{EN DASH}"


def test_what_is_good_comes_with_what_is_not() -> None:
    assert "It meets its" in conclude(RECORD, [a(Status.UNFIT), a(Status.SOUND)], ()).sentence
    assert "meets" not in conclude(RECORD, [a(Status.UNFIT)], ()).sentence


def test_a_deciding_breach_that_is_watched_is_not_called_met() -> None:
    assert "meets" not in conclude(RECORD, [a(Status.WATCH)], ()).sentence
    assert "meets every" not in conclude(RECORD, [a(Status.WATCH), a(Status.SOUND)], ()).sentence
    assert "meets every" in conclude(RECORD, [a(Status.SOUND)], (noticed(Status.WATCH),)).sentence


def test_why_nothing_was_judged_is_said() -> None:
    sentence = conclude(RECORD, [a(Status.NOT_JUDGED, reason="'year' is not stated.")], ()).sentence
    assert "'year' is not stated." in sentence
    assert "no criterion" in conclude(RECORD, [], ()).sentence


FORBIDDEN = ("safe", "may be energi", "discharged", "all clear")


@given(statuses, noticings)
def test_no_sentence_nor_action_promises(
    given_statuses: list[tuple[Status, bool]], given_findings: list[Status | None]
) -> None:
    made = [a(status, decides=d) for status, d in given_statuses]
    result = conclude(RECORD, made, [noticed(f) for f in given_findings])
    assert result.sentence
    assert result.actions
    for text in (result.sentence, *result.actions):
        assert not any(word in text.lower() for word in FORBIDDEN)


def test_unfit_says_first_to_keep_it_out() -> None:
    actions = conclude(RECORD, [a(Status.UNFIT)], (noticed(Status.WATCH),)).actions
    assert actions[0].startswith("Do not energise")
    assert "Do something." in actions


def test_a_record_without_any_name_still_has_a_sentence() -> None:
    nothing = RECORD.readings.time
    readings = Readings(nothing, nothing, nothing, nothing, RECORD.readings.bound)
    bare = Record(Asset(asset_class="apparatus"), stated.Test("insulation-resistance"), readings)
    assert conclude(bare, [a(Status.SOUND)], ()).sentence
