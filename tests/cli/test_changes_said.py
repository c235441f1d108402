"""What is said of a change: before and now, what follows, and never more than is so."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import pytest

from soakage.app.changes_json import (
    edited_json,
    purged_json,
    rejudged_json,
    remark_json,
    revised_json,
    signed_json,
)
from soakage.app.edited import Edited, clean_values, fresh_values, word
from soakage.app.rejudge import Rejudged, Standing
from soakage.app.remarks import Remark
from soakage.app.revising import FieldChange, Moved, Revised, field_changes, owed
from soakage.app.signing import SignedOff
from soakage.cli.changes_text import changes_text, edited_text, remark_text, revised_text, signed_text
from soakage.cli.rejudge_text import REASONS, SHOWN, rejudged_text
from soakage.errors import UsageError

FORBIDDEN = ("is safe", "may be energised", "is discharged", "all clear", "\x1b")
STOOD = Standing("sound", "Was sound.", "default", "a" * 64, "b" * 64, "0.1.0")
UNFIT = replace(STOOD, status="unfit", sentence="Is unfit.", profile="edition-2000")
TOLD = Rejudged(
    "0123456789abcdef", "Pump 3 motor", "phase U", "2026-03-14", "draft", STOOD, UNFIT,
    ("Verdict: sound before, unfit now.", "Finding new: x."), kept=True,
)  # fmt: skip
REVISED = Revised(
    test="0123456789abcdef",
    reason="misread",
    before="sound",
    after="watch",
    sentence="To be followed.",
    changed=(FieldChange("winding_temperature", 313.15, 303.15),),
    readings_changed=False,
    was_signed=False,
    sisters=(),
    left=(),
)


def flat(lines: Iterable[str]) -> str:
    text = " ".join(" ".join(lines).replace("\u00a0", " ").split())
    assert not any(word in text.lower() for word in FORBIDDEN)
    return text


# Edits


def test_values_are_shown_with_their_units() -> None:
    changes = [
        FieldChange("rated_voltage", 6600.0, 3300.0), FieldChange("thermal_class", None, "155"),
        FieldChange("terminals", ["U", "V"], None), FieldChange("retired", None, True),
        FieldChange("section:phase U", None, {}), FieldChange("winding_voltages", None, {"HV": 22000.0}),
    ]  # fmt: skip
    text = flat(changes_text(changes))
    for part in ("6.60 kV 3.30 kV", "thermal_class not stated 155", "U, V not stated", "retired not stated yes",
                 "phase U not stated there", "HV"):  # fmt: skip
        assert part in text
    assert "section:" not in text
    assert list(changes_text([])) == []


@pytest.mark.parametrize(
    ("edited", "said", "unsaid"),
    (
        (Edited("asset", "i", "Pump", added=True, changed=(FieldChange("tag", None, "P-3"),)), "Pump (asset): added.",
         "judged"),
        (Edited("asset", "i", "Pump", added=False, changed=()), "Nothing was changed", "changed."),
        (Edited("asset", "i", "Pump", added=False, changed=(FieldChange("year", 1, 2),), judged_before=("a" * 32,)),
         "1 test was judged with the nameplate as it was (aaaaaaaaaaaa)", "more"),
        (Edited("asset", "i", "Pump", added=False, changed=(FieldChange("year", 1, 2),),
                judged_before=tuple(f"{n}" * 32 for n in range(7))), "7 tests were judged", "666666666666"),
        (Edited("instrument", "i", "bench set", added=False, changed=(FieldChange("accuracy", 1, 2),)),
         "keep their verdicts", "nameplate"),
    ),
)  # fmt: skip
def test_an_edit_is_told(edited: Edited, said: str, unsaid: str) -> None:
    text = flat(edited_text(edited))
    assert said in text
    if edited.changed:
        assert unsaid not in text
    assert edited_json(edited)["judged_before"] == list(edited.judged_before)


def test_an_edit_that_left_verdicts_says_how_to_go_on() -> None:
    edited = Edited(
        "asset", "abc", "Pump", added=False, changed=(FieldChange("year", 1, 2),), judged_before=("a" * 32,)
    )
    assert "Their verdicts stand until they are judged again: soakage rejudge abc" in flat(
        edited_text(edited)
    )


@pytest.mark.parametrize(
    ("values", "clear", "said"),
    (
        ({"a": 1}, (), None), ({}, ("a-b",), None), ({"c": 1}, (), "c: no part of a thing"),
        ({}, ("c",), "--clear c"), ({"a": 1}, ("a",), "Leave one of the two out"), ({}, (), "Nothing to change"),
    ),
)  # fmt: skip
def test_what_an_edit_may_hold(values: dict[str, Any], clear: tuple[str, ...], said: str | None) -> None:
    if said is None:
        assert fresh_values(values, clear, ("a", "a_b"), "a thing")
    else:
        with pytest.raises(UsageError, match=said):
            fresh_values(values, clear, ("a", "a_b"), "a thing")
    assert fresh_values({}, (), ("a",), "a thing", some=False) == {}


def test_names_lose_spare_blanks_and_other_texts_do_not() -> None:
    assert clean_values({"asset": " Pump  3 ", "insulation": "a  b"}, ("asset", "insulation"), "an asset") == {
        "asset": "Pump 3", "insulation": "a  b",
    }  # fmt: skip
    assert word("  phase   U ", "A section") == "phase U"
    for empty in ("", "  ", None):
        with pytest.raises(UsageError, match="A section needs a name"):
            word(empty, "A section")


# Revisions


def test_a_revision_is_told_with_what_stays() -> None:
    text = flat(revised_text(REVISED, "revised"))
    assert "Test 0123456789ab revised: misread" in text
    assert "winding_temperature 40.0 °C 30.0 °C" in text or "winding_temperature 40 °C 30 °C" in text
    assert "Verdict: sound before, watch now. To be followed." in text
    assert "are kept" in text
    assert "signed" not in text
    assert revised_json(REVISED)["sisters"] == []


def test_a_revision_of_a_signed_test_is_a_draft() -> None:
    text = flat(revised_text(replace(REVISED, was_signed=True, readings_changed=True), "revised"))
    assert "this revision is a draft until somebody signs it" in text
    assert "The readings differ." in text


def test_sisters_are_told_where_their_status_moved_and_counted_where_not() -> None:
    sisters = (Moved("1", "phase V", "sound", "watch"), Moved("2", "phase W", "sound", "sound"))
    text = flat(revised_text(replace(REVISED, sisters=sisters, left=("phase X",)), "revised"))
    assert "phase V, compared with it: sound before, watch now." in text
    assert "1 sister section judged again, with the same status." in text
    assert "phase W" not in text
    assert "judged by other rules than these: phase X" in text
    assert [one["section"] for one in revised_json(replace(REVISED, sisters=sisters))["sisters"]] == [
        "phase V",
        "phase W",
    ]


@pytest.mark.parametrize(("what", "said"), (("withdrawn", "pass over it"), ("taken back", "counts again")))
def test_a_withdrawal_is_told(what: str, said: str) -> None:
    text = flat(revised_text(replace(REVISED, changed=()), what))
    assert said in text
    assert "Verdict:" not in text


def test_a_reason_is_owed_and_cleaned() -> None:
    assert owed("  the   next motor ", "A revision") == "the next motor"
    for none in (None, "", " \n"):
        with pytest.raises(UsageError, match="A purge needs a reason"):
            owed(none, "A purge")


def test_fields_that_differ() -> None:
    assert field_changes({"a": 1, "b": 2}, {"b": 3, "c": 4}) == (
        FieldChange("a", 1, None), FieldChange("b", 2, 3), FieldChange("c", None, 4),
    )  # fmt: skip
    assert field_changes({"a": 1}, {"a": 1}) == ()


# Remarks and signatures


def test_remarks_are_told() -> None:
    note = Remark("test", "i", "Pump", "noted", {"text": "x"})
    assert flat(remark_text(note)) == "Pump: noted."
    file = Remark("asset", "i", "Pump", "attached", {"name": "x.jpg", "size": 11, "media_type": "image/jpeg"})
    assert flat(remark_text(file)) == "Pump: x.jpg (11 bytes) kept as it is."
    refill = Remark("asset", "i", "Pump", "happened", {"event": "refill", "at": "2026-05-02", "text": ""})
    assert "new series" in flat(remark_text(refill))
    assert "--year" not in flat(remark_text(refill))
    assert remark_json(note)["fields"] == {"text": "x"}


def test_a_signature_says_what_was_found_where_it_differs() -> None:
    same = SignedOff("0123456789abcdef", "Pump, phase U", "signed", "sound", "sound", "")
    other = replace(same, status="watch", text="humid")
    text = flat(signed_text([same, other], "S. Invented"))
    assert "signed by S. Invented as sound Pump" in text
    assert "signed by S. Invented as watch (found: sound). humid" in text
    assert text.count("no leave to energise") == 1
    assert signed_json([same], "S. Invented")["person"] == "S. Invented"
    assert purged_json("t", "why", {"file": "x"})["export"] == {"file": "x"}


# Judged again


def test_what_got_worse_comes_first_with_its_caution() -> None:
    better = replace(TOLD, test="b" * 16, before=UNFIT, after=STOOD)
    text = flat(rejudged_text(2, [better, TOLD], dry_run=False))
    assert text.index("sound before (default), unfit now (edition-2000)") < text.index("unfit before")
    assert (
        "2 judged, 2 with another result, 2 with another status, 1 now investigate or unfit that stood better."
        in text
    )
    assert "Every verdict stays" in text
    assert "Local codes and licensed practice come first." in text


def test_a_trial_says_that_nothing_was_kept() -> None:
    text = flat(rejudged_text(3, [], dry_run=True))
    assert "Tried only: nothing was kept." in text
    assert "energised" not in text
    assert "Nothing was judged" in flat(rejudged_text(0, [], dry_run=False))


def test_results_of_the_same_status_are_counted_by_their_reasons() -> None:
    same = [replace(TOLD, after=replace(STOOD, profile="x"), why=("Finding new: x.",)) for _ in range(3)]
    text = flat(rejudged_text(9, same, dry_run=False))
    assert "3 with the same status, and another result: - 3 times: Finding new: x." in text
    assert "phase U" not in text


def test_long_lists_are_cut_and_say_so() -> None:
    many = [replace(TOLD, test=f"{number:016}", why=tuple(f"Line {n}." for n in range(REASONS + 2)))
            for number in range(SHOWN + 3)]  # fmt: skip
    text = flat(rejudged_text(len(many), many, dry_run=False))
    assert "And 3 more with another status; --json holds them all." in text
    assert "and 2 more; --json holds them all" in text
    assert rejudged_json(len(many), many, dry_run=False)["changed"] == len(many)


def test_a_first_verdict_and_a_sign_off_are_told() -> None:
    first = replace(TOLD, before=None, review="signed", why=("It was not judged before.",))
    text = flat(rejudged_text(1, [first], dry_run=False))
    assert "no verdict before (none), unfit now" in text
    assert "the sign-off stands for the verdict it was given with" in text
    assert rejudged_json(1, [first], dry_run=False)["tests"][0]["before"] is None


@pytest.mark.parametrize(
    ("before", "after", "worse"),
    (
        ("sound", "unfit", True), ("watch", "investigate", True), ("investigate", "unfit", True),
        ("unfit", "investigate", False), ("not judged", "unfit", True), ("unfit", "sound", False),
        (None, "investigate", True), (None, "sound", False), ("sound", "not judged", False),
    ),
)  # fmt: skip
def test_when_a_test_is_worse(before: str | None, after: str, worse: bool) -> None:
    stood = None if before is None else replace(STOOD, status=before)
    assert replace(TOLD, before=stood, after=replace(STOOD, status=after)).worse is worse
