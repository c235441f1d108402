"""History judged again by another edition, another limit: what changed and why, both verdicts kept."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from changing import SOUND, UNFIT, WEAK, entries, one, store_with, text, the_motor, where, whole
from keeping import filled, stores_closed
from soakage.app.differences import SAME
from soakage.app.editing import edit_asset
from soakage.app.ports import KnownTest
from soakage.app.rejudge import Rejudged, rejudge
from soakage.app.revising import revise, withdraw
from soakage.app.rules import Rules, default_rules, user_limits
from soakage.app.signing import sign_off
from soakage.demo.history import edition_profile
from soakage.errors import UsageError
from soakage.store.memory import StoreMemory
from soakage.wiring import rules as rules_of
from soakage.wiring.changing import amended
from soakage.wiring.rejudging import Choice, chosen

__all__ = ["stores_closed", "where"]
RULES = default_rules()
SHARE = """\
[profile]
id = "share"
title = "Share of the first (invented)"
include = "default"

[[criterion]]
id = "invented.share-of-first"
name = "Most of the first test"
quantity = "insulation_resistance_60s_corrected"
kind = "reference"
reference = "first"
limit = 0.8
applies = { class = ["rotating-machine"] }
clause = "rule 1"
verified = "user"
rationale = "Invented."
breach = "investigate"
breach_means = "Explain it."
examples = [
  { facts = { class = "rotating-machine", reference = "1000 MOhm" }, value = "800 MOhm", limit = "800 MOhm", status = "sound" },
  { facts = { class = "rotating-machine", reference = "1000 MOhm" }, value = "799 MOhm", limit = "800 MOhm", status = "investigate" },
]

[[use]]
criteria = ["invented.share-of-first"]
applies = { class = ["rotating-machine"] }
decides = []
cap = "investigate"
reason = "Invented."
"""  # noqa: E501
ARMATURE = "Hoist drive armature"


@pytest.fixture
def edition(tmp_path: Path) -> Rules:
    """The invented works' rules before the edition of 2013."""
    path = tmp_path / "edition-2000.toml"
    path.write_bytes(edition_profile().encode())
    return rules_of(str(path))


def again(
    memory: StoreMemory, tests: Sequence[KnownTest], by: Rules, reason: str = "", *, keep: bool = True
) -> list[Rejudged]:
    return list(rejudge(memory, [tests], by, reason=reason, keep=keep))


def limited(*limits: str) -> Rules:
    return replace(RULES, limits=user_limits(limits))


def parts(memory: StoreMemory, choice: Choice) -> list[list[str]]:
    return [[test.id for test in part] for part in chosen(memory, choice, everything=True).parts()]


def test_another_edition_says_otherwise_and_both_verdicts_stay(made_address: str, edition: Rules) -> None:
    # IEEE Std 43-2000 asks 100 megohm of a direct-current armature, the edition of 2013 asks 5 (secondary)
    memory, _ = filled(made_address, ["hoist-drive-armature"])
    (asset,) = memory.assets_like([ARMATURE], [], [])
    tests = memory.tests(assets=[asset.id])
    assert {test.status for test in tests} <= {"sound", "watch"}
    told = again(memory, tests, edition, "How it was judged then.")
    assert [one.test for one in told] == [test.id for test in tests], "in order of day"
    fallen = [one for one in told if one.after.status == "unfit"]
    assert fallen
    for one_told in fallen:
        assert one_told.worse
        assert one_told.why[0] == "Verdict: sound before, unfit now."
        assert any("ieee-43-2000.minimum-resistance" in line and "unfit" in line for line in one_told.why)
        assert any("temperature rule" in line and "ieee-43-2000.halving now" in line for line in one_told.why)
        assert (one_told.before or one_told.after).profile == "default"
        assert one_told.after.profile == "edition-2000"
        given = memory.verdicts([one_told.test])[one_told.test]
        assert [verdict.status for verdict in given] == ["sound", "unfit"]
        assert given[-1].reason == "How it was judged then."
        assert given[0].profile_sha256 != given[1].profile_sha256
    back = again(memory, memory.tests(assets=[asset.id]), RULES)
    assert {one_told.after.status for one_told in back} <= {"sound", "watch"}
    assert len(memory.verdicts([fallen[0].test])[fallen[0].test]) == 3
    whole(memory)


def test_the_same_rules_say_the_same_and_nothing_is_added(made_address: str) -> None:
    memory, _ = filled(made_address, ["hoist-drive-armature", "pump-7-motor", "ash-pump-2-motor"])
    which = chosen(memory, Choice(), everything=True)
    told = list(rejudge(memory, which.parts(), RULES))
    assert told
    assert [one_told for one_told in told if one_told.changed] == []
    assert not any(one_told.kept for one_told in told)
    given = memory.verdicts([one_told.test for one_told in told])
    assert {len(verdicts) for verdicts in given.values()} == {1}


def test_a_trial_keeps_nothing_and_says_what_earnest_says(where: str, edition: Rules) -> None:
    memory, _ = filled(where, ["hoist-drive-armature"])
    tests = memory.tests(assets=[memory.assets_like([ARMATURE], [], [])[0].id])
    tried = again(memory, tests, edition, keep=False)
    assert not any(one_told.kept for one_told in tried)
    assert [test.status for test in memory.tests(ids=[test.id for test in tests])] == [
        test.status for test in tests
    ]
    earnest = again(memory, tests, edition)
    assert [(one_told.test, one_told.after, one_told.why) for one_told in tried] == [
        (one_told.test, one_told.after, one_told.why) for one_told in earnest
    ]
    twice = again(memory, memory.tests(ids=[test.id for test in tests]), edition)
    assert [one_told for one_told in twice if one_told.changed] == []


def test_a_limit_of_ones_own_is_told_with_its_reason(where: str) -> None:
    memory, (test,) = store_with(where)
    (told,) = again(memory, [test], limited("900 MOhm"))
    assert told.after.status == "unfit"
    assert any(line.startswith("Now applied: user.limit-1") for line in told.why)
    (back,) = again(memory, [one(memory, test.id)], RULES)
    assert any(line.startswith("No longer applied: user.limit-1") for line in back.why)
    assert not back.worse


def test_a_change_of_the_nameplate_is_followed(where: str) -> None:
    plate = '# class = "rotating-machine"\n'
    memory, (first, second) = store_with(where, text(UNFIT), text(UNFIT, "2026-04-14", plate=plate))
    assert (first.status, second.status) == ("unfit", "unfit")
    # before 1970 IEEE Std 43-2013 asks (kV + 1) megohm: 7.6 at 6.6 kV, and 50 are there (secondary)
    edited = edit_asset(memory, the_motor(memory), {"year": 1965})
    assert edited.judged_before == (second.id,), "the first states its year itself"
    told = {one_told.test: one_told for one_told in again(memory, [first, second], RULES)}
    assert told[first.id].after.status == "unfit"
    assert told[second.id].after.status in ("sound", "watch")
    assert any(
        line.startswith("Now applied: ieee-43-2013.minimum-resistance") for line in told[second.id].why
    )
    assert "Finding new: nameplate_differs." in told[first.id].why


def test_sisters_are_judged_with_the_one_named(where: str) -> None:
    memory, (first, second) = store_with(where, text(section="phase U"), text(section="phase V"))
    told = again(memory, [first], limited("900 MOhm"))
    assert {one_told.test for one_told in told} == {first.id, second.id}


def test_withdrawn_tests_are_passed_over(where: str) -> None:
    memory, (first, second) = store_with(where, text(), text(WEAK, "2026-04-14"))
    withdraw(memory, second, RULES, "wrong terminals")
    told = again(memory, [first, one(memory, second.id)], limited("900 MOhm"))
    assert [one_told.test for one_told in told] == [first.id]


def test_a_signed_test_keeps_its_sign_off(where: str) -> None:
    memory, (test,) = store_with(where)
    sign_off(memory, [test], signed=True)
    (told,) = again(memory, [one(memory, test.id)], limited("900 MOhm"))
    assert told.review == "signed"
    now = one(memory, test.id)
    assert (now.review, now.status) == ("signed", "unfit")
    (remark,) = memory.remarks("test", test.id)
    assert remark["fields"]["status"] == "sound"


def test_earlier_tests_count_as_they_are_judged_now(where: str) -> None:
    """A limit that is a share of the first test moves with it: judged in one go or one after another."""
    profile = Path(where).with_name("share.toml")
    profile.write_text(SHARE, encoding="utf-8")
    share = rules_of(str(profile), (), "ieee-43-2000.halving")
    # 25 degC: 500 MOhm read are 176.8 at 40 degC by halving per 10 K, 409 by the exponential rule (derived)
    warm, cold = SOUND, "25 degC"
    texts = [text(warm, day).replace("40 degC", cold) for day in ("2024-03-14", "2025-03-14")]
    texts.append(text((70.0, 50.0, 30.0, 12.0), "2026-03-14"))
    memory, tests = store_with(where, *texts)
    told = again(memory, tests, share, keep=False)
    limits = [line for line in told[2].why if "share-of-first" in line]
    assert limits == ["Now applied: invented.share-of-first (Share of the first (invented), rule 1): sound."]
    kept = [again(memory, [test], share)[0] for test in tests]
    assert [one_told.why for one_told in told] == [one_told.why for one_told in kept]


# Which tests


def test_tests_are_chosen_by_asset_day_class_and_site(where: str) -> None:
    memory, (first, second) = store_with(where, text(day="2024-03-14"), text(day="2026-03-14"))
    assert parts(memory, Choice()) == [[first.id, second.id]]
    assert parts(memory, Choice(since="2025-01-01")) == [[second.id]]
    assert parts(memory, Choice(until="2024-03-14")) == [[first.id]]
    assert parts(memory, Choice(since="2027-01-01")) == []
    assert parts(memory, Choice(asset_class="cable")) == []
    assert parts(memory, Choice(asset_class="rotating-machine", site="Invented works")) == [
        [first.id, second.id]
    ]
    assert parts(memory, Choice(site="Invented")) == [], "a site is matched whole"
    assert parts(memory, Choice(("Pump 3 motor",))) == [[first.id, second.id]]
    assert parts(memory, Choice((second.id[:10],))) == [[second.id]]
    assert parts(memory, Choice((second.id[:10], "Pump 3 motor"))) == [[first.id, second.id]]
    assert parts(memory, Choice((first.id, second.id), asset_class="cable")) == []


def test_tests_without_an_asset_are_chosen_too(where: str) -> None:
    nameless = text().replace('# asset = "Pump 3 motor"\n', "").replace('# site = "Invented works"\n', "")
    memory, (first, second) = store_with(where, nameless, text())
    assert first.asset is None
    assert parts(memory, Choice()) == [[second.id], [first.id]]
    assert parts(memory, Choice((first.id,))) == [[first.id]]
    assert parts(memory, Choice(site="Invented works")) == [[second.id]]
    assert parts(memory, Choice(asset_class="rotating-machine")) == [[second.id], [first.id]]
    (told,) = again(memory, [first], limited("900 MOhm"))
    assert told.after.status == "unfit"
    assert told.asset == "unnamed asset"


def test_it_has_to_be_said_which(where: str) -> None:
    memory, _ = store_with(where)
    with pytest.raises(UsageError, match="Which tests"):
        chosen(memory, Choice(), everything=False)
    with pytest.raises(UsageError, match="No asset is called"):
        chosen(memory, Choice(("Pump 3",)), everything=False)


def test_one_asset_is_in_memory_at_a_time(where: str) -> None:
    memory, _ = store_with(where, *(text().replace("Pump 3", f"Pump {number}") for number in range(4)))
    asked: list[int] = []
    source = chosen(memory, Choice(), everything=True).parts(lambda done, _total: asked.append(done))
    told = rejudge(memory, counted(source, asked), RULES)
    next(told)
    assert asked == [0, -1], "the second asset is not loaded before the first is told"
    assert len(list(told)) == 3


def counted(source: Iterable[list[KnownTest]], asked: list[int]) -> Iterable[list[KnownTest]]:
    for part in source:
        asked.append(-1)
        yield part


def test_what_was_revised_meanwhile_is_left(where: str) -> None:
    memory, (test,) = store_with(where, text().replace('# asset = "Pump 3 motor"\n', ""))
    record, _ = amended(test, {"winding_temperature": "30 degC"})
    revise(memory, test, record, RULES, "misread")
    again(memory, [test], limited("900 MOhm"))
    assert [action for action, _, _ in entries(memory, "test", test.id)] == [
        "received", "judged", "revised", "judged",
    ]  # fmt: skip


def test_where_only_wording_differs_it_is_said(where: str) -> None:
    memory, (test,) = store_with(where)
    (given,) = memory.verdicts([test.id])[test.id]
    kept = json.loads(memory.blob(given.result))
    kept["verdict"]["sentence"] = "Worded otherwise."
    with memory.changing() as change:
        old = change.blob(json.dumps(kept).encode())
        body = {
            "content": test.content, "profile": "default", "profile_sha256": given.profile_sha256,
            "criteria_sha256": given.criteria_sha256, "version": "0.0.1", "status": "sound", "sentence": "Old.",
            "result": old, "criteria": [], "figures": [], "findings": [],
        }  # fmt: skip
        change.add("test", test.id, "judged", body)
    (told,) = again(memory, [one(memory, test.id)], RULES)
    assert told.why == (SAME,)
    assert told.before is not None
    assert told.before.version == "0.0.1"
