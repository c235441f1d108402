"""A test is corrected by a revision: what was before stays, the reasons too; on both engines."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from changing import SOUND, UNFIT, WEAK, entries, one, store_with, take, text, the_motor, where, whole
from keeping import stores_closed
from soakage.app.editing import edit_asset
from soakage.app.ports import KnownTest
from soakage.app.rejudge import rejudge
from soakage.app.revising import Revised, revise, withdraw
from soakage.app.rules import Rules, default_rules, user_limits
from soakage.app.signing import sign_off
from soakage.errors import InputError, UsageError
from soakage.store.memory import StoreMemory
from soakage.wiring.changing import amended

__all__ = ["stores_closed", "where"]
RULES = default_rules()


def amend(
    memory: StoreMemory, test: KnownTest, options: dict[str, str], reason: str | None = "misread",
    clear: tuple[str, ...] = (), file: str | None = None, rules: Rules = RULES,
) -> Revised:  # fmt: skip
    record, content = amended(test, options, clear, file)
    return revise(memory, test, record, rules, reason, file=content)


def test_a_corrected_temperature_corrects_the_resistance(where: str) -> None:
    memory, (test,) = store_with(where)
    done = amend(memory, test, {"winding_temperature": "30 degC"}, "thermometer of the next motor read")
    assert [(change.field, change.before, change.after) for change in done.changed] == [
        ("winding_temperature", pytest.approx(313.15), pytest.approx(303.15))
    ]
    (figures,) = [past.figures for past in memory.history(the_motor(memory).id)]
    # IEEE Std 43-2013, thermosetting, 10 to 40 degC: exp(-1245 (1/(T + 273) - 1/313)) (from memory)
    assert figures["insulation_resistance_60s_corrected"]["value"] == pytest.approx(500e6 * 0.8770, rel=2e-4)
    now = one(memory, test.id)
    assert now.id == test.id
    assert now.content != test.content
    assert now.record.conditions.winding_temperature == pytest.approx(303.15)


def test_the_trail_says_who_when_and_why(made_address: str) -> None:
    memory, (test,) = store_with(made_address)
    amend(memory, test, {"winding_temperature": "30 degC"}, "thermometer  of the next motor read ")
    why = "thermometer of the next motor read"
    assert entries(memory, "test", test.id) == [
        ("received", "N. Invented", ""), ("judged", "N. Invented", ""), ("revised", "N. Invented", why),
        ("judged", "N. Invented", f"Revised: {why}"),
    ]  # fmt: skip
    assert len(memory.verdicts([test.id])[test.id]) == 2
    whole(memory)


def test_the_file_it_came_in_stays(where: str) -> None:
    memory, (test,) = store_with(where)
    amend(memory, test, {"tested_by": "O. Invented"})
    now = one(memory, test.id)
    assert now.record.origin == test.record.origin
    assert memory.blob(now.record.origin.sha256) == text().encode()


def test_that_an_option_won_over_the_file_is_not_kept(where: str) -> None:
    memory, (test,) = store_with(where)
    amend(memory, test, {"winding_temperature": "30 degC"})
    codes = {found.code for found in one(memory, test.id).record.findings}
    assert "key_overridden" not in codes
    assert codes <= {found.code for found in test.record.findings}


def test_every_check_of_the_reader_applies(where: str) -> None:
    memory, (test,) = store_with(where)
    with pytest.raises(InputError, match="year"):
        amend(memory, test, {"year": "long ago"})
    with pytest.raises(InputError, match=r"1\.5|1500"):
        amend(memory, test, {"test_voltage": "1,500 V"})
    assert one(memory, test.id).content == test.content


@pytest.mark.parametrize("reason", (None, "", "  "))
def test_a_reason_is_owed(where: str, reason: str | None) -> None:
    memory, (test,) = store_with(where)
    with pytest.raises(UsageError, match="needs a reason"):
        amend(memory, test, {"winding_temperature": "30 degC"}, reason)


def test_nothing_different_is_said(where: str) -> None:
    memory, (test,) = store_with(where)
    with pytest.raises(UsageError, match="Nothing differs"):
        amend(memory, test, {"winding_temperature": "40 degC"})
    assert len(entries(memory, "test", test.id)) == 2


def test_a_key_is_taken_away(where: str) -> None:
    memory, (test,) = store_with(where)
    done = amend(memory, test, {}, clear=("winding-temperature",))
    assert done.after == "not judged"
    assert "winding_temperature" not in one(memory, test.id).record.stated()
    with pytest.raises(UsageError, match="does not state it"):
        amend(memory, one(memory, test.id), {}, clear=("tag",))
    with pytest.raises(UsageError, match="no record is without it"):
        amend(memory, one(memory, test.id), {}, clear=("method",))


def test_readings_are_corrected_by_a_bare_table(where: str, tmp_path: Path) -> None:
    memory, (test,) = store_with(where, text(UNFIT))
    assert test.status == "unfit"
    path = str(tmp_path / "corrected.csv")
    Path(path).write_text(
        "time [s],voltage [V],current [uA]\n15,5000,30\n30,5000,20\n60,5000,10\n600,5000,4\n",
        encoding="utf-8",
    )
    done = amend(memory, test, {}, "decimal point slipped", file=path)
    assert (done.before, done.after) == ("unfit", "sound")
    assert done.readings_changed
    assert done.changed == ()
    now = one(memory, test.id)
    assert now.record.readings.current.tolist() == [30e-6, 20e-6, 10e-6, 4e-6]
    assert now.record.origin.file == path
    assert memory.blob(now.record.origin.sha256).startswith(b"time [s]")


def test_a_file_with_a_header_replaces_the_record(where: str, tmp_path: Path) -> None:
    memory, (test,) = store_with(where)
    path = str(tmp_path / "whole.csv")
    Path(path).write_text(text(WEAK, more='# tested_by = "O. Invented"\n'), encoding="utf-8")
    done = amend(memory, test, {}, "another sheet", file=path)
    assert {change.field for change in done.changed} == {"tested_by"}
    assert done.after == "investigate"


def test_a_file_of_several_records_is_refused(where: str, tmp_path: Path) -> None:
    memory, (test,) = store_with(where)
    path = str(tmp_path / "panel.csv")
    Path(path).write_text(
        '# soakage = 1\n# class = "low-voltage-installation"\n# method = "circuit"\n# nominal_voltage = "230 V"\n'
        "circuit,between,voltage [V],resistance [MOhm]\n1,L-PE,500,20\n1,N-PE,500,20\n",
        encoding="utf-8",
    )
    with pytest.raises(UsageError, match="2 records"):
        amend(memory, test, {}, file=path)
    with pytest.raises(UsageError, match="can be read"):
        amend(memory, test, {}, file=str(tmp_path / "none.csv"))


def test_two_tests_do_not_become_one(where: str) -> None:
    memory, (first, second) = store_with(where, text(), text(day="2026-03-15"))
    with pytest.raises(UsageError, match="has this very content"):
        amend(memory, second, {"started": "2026-03-14"})
    assert one(memory, first.id).content == first.content


def test_back_to_what_was_there_is_a_revision_too(where: str) -> None:
    memory, (test,) = store_with(where)
    amend(memory, test, {"winding_temperature": "30 degC"})
    amend(memory, one(memory, test.id), {"winding_temperature": "40 degC"}, "it was right after all")
    assert one(memory, test.id).content == test.content
    assert [action for action, _, _ in entries(memory, "test", test.id)].count("revised") == 2


def test_what_was_changed_meanwhile_is_not_overwritten(where: str) -> None:
    memory, (test,) = store_with(where)
    amend(memory, test, {"winding_temperature": "30 degC"})
    with pytest.raises(UsageError, match="revised meanwhile"):
        amend(memory, test, {"relative_humidity": "60 %"})
    with pytest.raises(UsageError, match="revised meanwhile"):
        withdraw(memory, test, RULES, "stale")


def test_a_test_moves_to_the_asset_its_revision_names(where: str) -> None:
    memory, (test,) = store_with(where)
    amend(memory, test, {"asset": "Pump 4 motor"}, "wrong motor written down")
    now = one(memory, test.id)
    assert now.asset != test.asset
    assert memory.history(test.asset or "") == []
    assert [past.id for past in memory.history(now.asset or "")] == [test.id]


def test_a_test_stays_with_an_asset_that_is_called_otherwise_by_now(where: str) -> None:
    memory, (test,) = store_with(where)
    edit_asset(memory, the_motor(memory), {"asset": "Pump 3 motor, old"})
    amend(memory, test, {"winding_temperature": "30 degC"})
    assert one(memory, test.id).asset == test.asset
    assert memory.assets_like(["Pump 3 motor"], [], []) == []


# Sisters


SISTERS = (
    text(section="phase U"),
    text(section="phase V"),
    text((90.0, 60.0, 31.0, 12.0), section="phase W"),
)


def spread_of(memory: StoreMemory, name: str) -> float:
    given = memory.verdicts([name])[name][-1]
    value: float = json.loads(memory.blob(given.result))["quantities"]["phase_spread"]["value"]
    return value


def test_sisters_are_judged_again_with_a_revision(where: str) -> None:
    memory, (first, second, third) = store_with(where, *SISTERS)
    # 500 over 161 MOhm (derived)
    assert spread_of(memory, first.id) == pytest.approx(31 / 10)
    done = amend(memory, third, {"section": "neutral lead"}, "it was the lead")
    assert {sister.test for sister in done.sisters} <= {first.id, second.id}
    assert one(memory, third.id).section == "neutral lead"
    whole(memory)


def test_a_withdrawn_sister_counts_no_more_and_counts_again_when_taken_back(made_address: str) -> None:
    memory, (first, second, third) = store_with(made_address, *SISTERS)
    done = withdraw(memory, third, RULES, "clip on the wrong bar")
    assert {sister.test for sister in done.sisters} == {first.id, second.id}
    assert spread_of(memory, first.id) == pytest.approx(1)
    back = withdraw(memory, one(memory, third.id), RULES, "right after all", back=True)
    assert {sister.test for sister in back.sisters} == {first.id, second.id}
    assert spread_of(memory, first.id) == pytest.approx(31 / 10)


def test_sisters_judged_by_other_rules_are_left_and_named(where: str) -> None:
    memory, tests = store_with(where, *SISTERS)
    limited = replace(RULES, limits=user_limits(["200 MOhm"]))
    assert any(told.changed for told in rejudge(memory, [tests], limited))
    third = one(memory, tests[2].id)
    done = withdraw(memory, third, RULES, "clip on the wrong bar")
    assert done.sisters == ()
    assert set(done.left) == {"phase U", "phase V"}


# Withdrawn and signed


def test_withdrawn_is_kept_and_passed_over(where: str) -> None:
    memory, (test,) = store_with(where)
    withdraw(memory, test, RULES, "wrong terminals")
    assert one(memory, test.id).withdrawn
    assert memory.history(the_motor(memory).id) == []
    assert ("withdrawn", "N. Invented", "wrong terminals") in entries(memory, "test", test.id)
    assert take(memory, text()) == [test.id], "the same file does not come in beside it"


@pytest.mark.parametrize(("back", "said"), ((False, "withdrawn already"), (True, "not withdrawn")))
def test_what_is_so_already_is_said(where: str, back: bool, said: str) -> None:
    memory, (test,) = store_with(where)
    if not back:
        withdraw(memory, test, RULES, "wrong terminals")
    with pytest.raises(UsageError, match=said):
        withdraw(memory, one(memory, test.id), RULES, "again", back=back)


def test_a_withdrawal_owes_its_reason(where: str) -> None:
    memory, (test,) = store_with(where)
    with pytest.raises(UsageError, match="needs a reason"):
        withdraw(memory, test, RULES, None)


def test_a_signed_test_is_changed_by_revisions_only(made_address: str) -> None:
    memory, (test,) = store_with(made_address)
    sign_off(memory, [test], signed=True)
    signed = one(memory, test.id)
    assert signed.review == "signed"
    done = amend(memory, signed, {"winding_temperature": "30 degC"})
    assert done.was_signed
    assert one(memory, test.id).review == "draft"
    assert [remark["action"] for remark in memory.remarks("test", test.id)] == ["signed"]


def test_a_signed_test_is_withdrawn_by_a_revision(made_address: str) -> None:
    memory, (test,) = store_with(made_address, text(SOUND))
    sign_off(memory, [test], signed=True)
    done = withdraw(memory, one(memory, test.id), RULES, "wrong terminals")
    assert done.was_signed
    assert one(memory, test.id).withdrawn
    assert [action for action, _, _ in entries(memory, "test", test.id)][-1] == "revised"
    whole(memory)
