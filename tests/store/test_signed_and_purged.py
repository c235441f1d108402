"""Sign-off, remarks and purges: who stands for what, what is added, what is gone for good; on both engines."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import func, select

from changing import SOUND, WEAK, entries, one, store_with, take, text, the_motor, where, whole
from keeping import opened, stores_closed
from soakage.app.intake import Incoming, Intake, take_in
from soakage.app.remarks import attach, begins_anew, happened, note
from soakage.app.revising import revise, withdraw
from soakage.app.rules import default_rules
from soakage.app.signing import STATEMENT, sign_off, visits_of
from soakage.errors import StoreError, UsageError
from soakage.importers.reading import read_bytes
from soakage.store import schema
from soakage.store.memory import StoreMemory
from soakage.wiring import changing as doors
from soakage.wiring.changing import amended, attached, purged

__all__ = ["stores_closed", "where"]
RULES = default_rules()


# Sign-off


def test_reviewed_then_signed(made_address: str) -> None:
    memory, (test,) = store_with(made_address)
    memory.person = "R. Invented"
    sign_off(memory, [test], signed=False, text="figures compared")
    assert one(memory, test.id).review == "reviewed"
    memory.person = "S. Invented"
    (done,) = sign_off(memory, [one(memory, test.id)], signed=True)
    assert (done.action, done.status, done.tool_status) == ("signed", "sound", "sound")
    assert one(memory, test.id).review == "signed"
    assert [(remark["action"], remark["person"]) for remark in memory.remarks("test", test.id)] == [
        ("reviewed", "R. Invented"), ("signed", "S. Invented"),
    ]  # fmt: skip
    assert all(remark["at"] > 0 for remark in memory.remarks("test", test.id))
    whole(memory)


def test_what_a_sign_off_is_not_is_said() -> None:
    assert "no electronic signature in law" in STATEMENT
    assert "stated, not authenticated" in STATEMENT
    assert "no leave to energise" in STATEMENT


def test_another_status_needs_its_reason_and_both_are_kept(where: str) -> None:
    memory, (test,) = store_with(where, text(WEAK))
    with pytest.raises(UsageError, match="Say why with --text"):
        sign_off(memory, [test], signed=True, status="watch")
    with pytest.raises(UsageError, match="no status"):
        sign_off(memory, [test], signed=True, status="fine", text="x")
    (done,) = sign_off(memory, [test], signed=True, status="watch", text="dried meanwhile")
    assert (done.status, done.tool_status) == ("watch", "investigate")
    (remark,) = memory.remarks("test", test.id)
    assert remark["fields"]["tool_status"] == "investigate"
    assert one(memory, test.id).status == "investigate", "the verdict stands beside it"


def test_what_cannot_be_signed(where: str) -> None:
    memory, (first, second) = store_with(where, text(), text(day="2026-04-14"))
    with pytest.raises(UsageError, match="No test is named"):
        sign_off(memory, [], signed=True)
    withdraw(memory, first, RULES, "wrong terminals")
    with pytest.raises(UsageError, match="is withdrawn"):
        sign_off(memory, [one(memory, first.id), second], signed=True)
    assert one(memory, second.id).review == "draft", "all are signed, or none"
    with pytest.raises(UsageError, match="changed meanwhile"):
        sign_off(memory, [first], signed=True)
    sign_off(memory, [second], signed=True)
    with pytest.raises(UsageError, match="signed already"):
        sign_off(memory, [one(memory, second.id)], signed=True)


def test_a_revision_nobody_saw_is_not_signed(where: str) -> None:
    memory, (test,) = store_with(where)
    record, _ = amended(test, {"winding_temperature": "30 degC"})
    revise(memory, test, record, RULES, "misread")
    with pytest.raises(UsageError, match="changed meanwhile"):
        sign_off(memory, [test], signed=True)


def test_all_of_a_visit(where: str) -> None:
    sections = ("phase U", "phase V", "phase W")
    memory, tests = store_with(where, *(text(section=name) for name in sections), text(day="2026-05-14"))
    withdraw(memory, tests[2], RULES, "clip on the wrong bar")
    found = visits_of(memory, [tests[0]])
    assert {test.id for test in found} == {tests[0].id, tests[1].id}
    sign_off(memory, found, signed=True)
    assert [one(memory, test.id).review for test in tests] == ["signed", "signed", "draft", "draft"]


# Remarks


def test_notes_files_and_events_stand_beside(made_address: str, tmp_path: Path) -> None:
    memory, (test,) = store_with(made_address)
    photo = tmp_path / "lead.jpg"
    photo.write_bytes(b"\xff\xd8 invented")
    note(memory, test, "  leads looked at ")
    told = attached(memory, the_motor(memory), str(photo))
    assert (told.fields["name"], told.fields["media_type"], told.fields["size"]) == (
        "lead.jpg",
        "image/jpeg",
        11,
    )
    assert memory.blob(told.fields["sha256"]) == photo.read_bytes()
    happened(memory, the_motor(memory), "rewind", date(2026, 5, 2), "new coils")
    assert [remark["fields"] for remark in memory.remarks("test", test.id)] == [{"text": "leads looked at"}]
    actions = [remark["action"] for remark in memory.remarks("asset", test.asset or "")]
    assert actions == ["attached", "happened"]
    assert one(memory, test.id).content == test.content
    whole(memory)


def test_remarks_that_say_nothing_are_refused(where: str, tmp_path: Path) -> None:
    memory, (test,) = store_with(where)
    with pytest.raises(UsageError, match="empty"):
        note(memory, test, "  ")
    with pytest.raises(UsageError, match="empty"):
        attach(memory, test, "x.txt", "text/plain", b"")
    with pytest.raises(UsageError, match="at most"):
        attach(memory, test, "x.bin", "application/octet-stream", bytes(50_000_001))
    with pytest.raises(UsageError, match="no event"):
        happened(memory, the_motor(memory), "painted", date(2026, 5, 2))
    with pytest.raises(UsageError, match="can be read"):
        attached(memory, test, str(tmp_path / "none.jpg"))


@pytest.mark.parametrize(
    ("event", "anew"),
    (
        ("rewind", True),
        ("refill", True),
        ("repair", True),
        ("cleaning", False),
        ("drying", False),
        ("other", False),
    ),
)
def test_after_which_events_the_insulation_is_another(event: str, anew: bool) -> None:
    assert begins_anew(event) is anew


# Purge


def blobs(memory: StoreMemory) -> int:
    with memory.store.reading() as connection:
        return connection.execute(select(func.count()).select_from(schema.blob)).scalar_one()


def test_a_purge_leaves_that_it_was_there(made_address: str, tmp_path: Path) -> None:
    memory, (test, other) = store_with(made_address, text(SOUND), text(WEAK, "2026-04-14"))
    note(memory, test, "of another owner")
    before = blobs(memory)
    told = purged(memory, test, str(tmp_path / "out.bundle"), "of another owner")
    # readings, the file, the result
    assert (told["entries"], told["blobs"]) == (3, 3)
    assert blobs(memory) == before - 3
    assert memory.tests(ids=[test.id]) == []
    assert [one_left.id for one_left in memory.tests(assets=[test.asset or ""])] == [other.id]
    assert memory.remarks("test", test.id) == []
    assert [action for action, _, _ in entries(memory, "test", test.id)] == [
        "received",
        "judged",
        "noted",
        "purged",
    ]
    assert entries(memory, "test", test.id)[-1][2] == "of another owner"
    with memory.store.reading() as connection:
        bodies = connection.execute(
            select(schema.entry.c.body).where(schema.entry.c.subject == test.id)
        ).scalars()
        assert [body is None for body in bodies].count(True) == 3
    whole(memory)


def test_what_others_need_stays(where: str, tmp_path: Path) -> None:
    # the same readings under another name: the sealed readings are kept once
    memory, (test, twin) = store_with(where, text(), text().replace("Pump 3", "Pump 4"))
    purged(memory, test, str(tmp_path / "out.bundle"), "of another owner")
    assert one(memory, twin.id).record.readings.current.tolist() == twin.record.readings.current.tolist()


def test_the_export_holds_the_test_for_another_store(where: str, tmp_path: Path) -> None:
    memory, (test,) = store_with(where)
    path = tmp_path / "out.bundle"
    purged(memory, test, str(path), "of another owner")
    found, contents = doors._read_back(path)
    assert len(found) >= 3, "its asset and its visit are there too"
    assert len(contents) == 3


def test_nothing_is_purged_that_was_not_exported(
    where: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    memory, (test,) = store_with(where)
    path = tmp_path / "out.bundle"
    with pytest.raises(UsageError, match="needs a reason"):
        purged(memory, test, str(path), " ")
    assert not path.exists()
    path.write_text("here already", encoding="utf-8")
    with pytest.raises(UsageError, match="is there already"):
        purged(memory, test, str(path), "of another owner")
    with pytest.raises(UsageError, match=r"[Ff]older|No such|written"):
        purged(memory, test, str(tmp_path / "none" / "out.bundle"), "of another owner")
    monkeypatch.setattr(doors, "_read_back", lambda _path: (set(), set()))
    with pytest.raises(StoreError, match="Nothing was purged"):
        purged(memory, test, str(tmp_path / "other.bundle"), "of another owner")
    assert one(memory, test.id).status == "sound"


def test_a_purged_test_comes_back_only_where_that_is_meant(made_address: str, tmp_path: Path) -> None:
    memory, (test,) = store_with(made_address)
    purged(memory, test, str(tmp_path / "1.bundle"), "of another owner")
    file = Incoming("0.csv", text().encode(), read_bytes(text().encode(), "0.csv"))
    refused = take_in(memory, [file], RULES)
    assert refused.count("refused") == 1
    assert "--again" in refused.files[0].faults[0].remedy
    (again,) = take(memory, text(), again=True)
    assert again != test.id
    assert one(memory, again).status == "sound"
    assert take(memory, text()) == [again], "it is known from then on"
    purged(memory, one(memory, again), str(tmp_path / "2.bundle"), "once more")
    (third,) = take(memory, text(), again=True)
    assert third not in (test.id, again)
    whole(memory)


def test_a_stale_view_purges_nothing(where: str, tmp_path: Path) -> None:
    memory, (test,) = store_with(where)
    record, _ = amended(test, {"winding_temperature": "30 degC"})
    revise(memory, test, record, RULES, "misread")
    with pytest.raises(UsageError, match="revised meanwhile"):
        purged(memory, test, str(tmp_path / "out.bundle"), "of another owner")
    assert one(memory, test.id).content != test.content


def test_a_purged_test_cannot_be_changed(where: str, tmp_path: Path) -> None:
    memory, (test,) = store_with(where)
    record, _ = amended(test, {"winding_temperature": "30 degC"})
    purged(memory, test, str(tmp_path / "out.bundle"), "of another owner")
    with pytest.raises(UsageError, match="purged meanwhile"):
        revise(memory, test, record, RULES, "misread")
    with pytest.raises(UsageError, match="changed meanwhile"):
        sign_off(memory, [test], signed=True)


def test_a_dry_run_refuses_what_was_purged_too(where: str, tmp_path: Path) -> None:
    memory, (test,) = store_with(where)
    purged(memory, test, str(tmp_path / "out.bundle"), "of another owner")
    file = Incoming("0.csv", text().encode(), read_bytes(text().encode(), "0.csv"))
    assert take_in(memory, [file], RULES, outcome=Intake(dry_run=True)).count("refused") == 1
    assert take_in(opened(where), [file], RULES, outcome=Intake(dry_run=True, again=True)).count("added") == 1
