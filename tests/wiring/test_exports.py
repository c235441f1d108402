"""What leaves a store as open files, and what comes back: revisions, withdrawals, purged tests, damaged lists."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from shutil import copytree
from typing import Any

import pytest

from soakage.app.intake import Intake
from soakage.app.lookup import the_asset
from soakage.app.remarks import attach, note
from soakage.app.revising import revise, withdraw
from soakage.app.rules import default_rules
from soakage.errors import UsageError
from soakage.store.memory import StoreMemory
from soakage.store.outgoing import Chosen, versions_of
from soakage.wiring.changing import purged
from soakage.wiring.export_back import ExportRead, import_export, is_export
from soakage.wiring.exporting import FORMATS, REGISTER, TESTS, VERDICTS, chosen_of, export
from wired import hands, only, take, text

RULES = default_rules()


def lines(folder: Path, name: str = TESTS) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (folder / name).read_text(encoding="utf-8").splitlines()]


def register(folder: Path) -> dict[str, Any]:
    found = json.loads((folder / REGISTER).read_text(encoding="utf-8"))
    assert isinstance(found, dict)
    return found


def revised(held: StoreMemory, test: str, warmer: float) -> None:
    now = only(held, test)
    record = replace(now.record, conditions=replace(now.record.conditions, winding_temperature=warmer))
    revise(held, now, record, RULES, f"Read again: {warmer:g}.")


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with five tests of three assets: one revised twice, one withdrawn, one purged; and its export."""
    folder = tmp_path_factory.mktemp("lived")
    files = {f"{n}.csv": text(f"Pump {n}", site="Works" if n < 2 else "Annex") for n in range(3)}
    files |= {"later.csv": text("Pump 0", day="2027-03-14"), "gone.csv": text("Pump 1", section="phase V")}
    files |= {"last.csv": text("Pump 2", section="phase W", day="2028-01-01", site="Annex")}
    with hands(folder) as held:
        taken = take(held, folder, files)
        by_file = {Path(file.file).name: file.tests[0].test for file in taken.files}
        revised(held, by_file["0.csv"], 305.0)
        revised(held, by_file["0.csv"], 307.0)
        withdraw(held, only(held, by_file["later.csv"]), RULES, "The wrong lead.")
        note(held, only(held, by_file["gone.csv"]), "Of another owner.")
        attach(held, the_asset(held, "Pump 0"), "photo.JPG", "image/jpeg", b"\xff\xd8 invented")
        purged(held, only(held, by_file["gone.csv"]), str(folder / "gone.bundle"), "Of another owner.")
        export(held, folder / "out")
    (folder / "ids.json").write_text(json.dumps(by_file), encoding="utf-8")
    return folder


@pytest.fixture
def ids(place: Path) -> dict[str, str]:
    found = json.loads((place / "ids.json").read_text(encoding="utf-8"))
    assert isinstance(found, dict)
    return found


# What leaves


def test_what_was_purged_is_nowhere_in_the_export(place: Path, ids: dict[str, str]) -> None:
    assert {row["test"] for row in lines(place / "out")} == set(ids.values()) - {ids["gone.csv"]}
    for path in (place / "out").rglob("*"):
        if path.is_file() and path.suffix in (".csv", ".json", ".jsonl"):
            content = path.read_text(encoding="utf-8")
            assert ids["gone.csv"] not in content, path
            assert "Of another owner" not in content, path


def test_every_revision_leaves_with_its_reason(place: Path, ids: dict[str, str]) -> None:
    (row,) = (row for row in lines(place / "out") if row["test"] == ids["0.csv"])
    assert [one["number"] for one in row["revisions"]] == [1, 2, 3]
    assert [one["reason"] for one in row["revisions"]] == ["", "Read again: 305.", "Read again: 307."]
    assert row["content"] == row["revisions"][-1]["content"]
    assert len({one["file"] for one in row["revisions"]}) == 3
    assert [one["file"].endswith(f" r{one['number']}.csv") for one in row["revisions"]] == [True] * 3


def test_a_withdrawn_test_leaves_with_why(place: Path, ids: dict[str, str]) -> None:
    told = {row["test"]: row["withdrawn"] for row in lines(place / "out")}
    assert told.pop(ids["later.csv"]) == "The wrong lead."
    assert set(told.values()) == {None}


def test_verdicts_leave_with_their_results(place: Path, ids: dict[str, str]) -> None:
    given = lines(place / "out", VERDICTS)
    assert len([row for row in given if row["test"] == ids["0.csv"]]) == 3
    assert all(row["result"]["verdict"]["status"] == row["status"] for row in given)


def test_the_original_file_leaves_once_as_it_came(place: Path) -> None:
    originals = {row["revisions"][0]["original"] for row in lines(place / "out")}
    assert len(originals) == 5
    contents = {(place / "out" / name).read_text(encoding="utf-8") for name in originals}
    assert contents == {(place / name).read_text(encoding="utf-8") for name in
                        ("0.csv", "1.csv", "2.csv", "later.csv", "last.csv")}  # fmt: skip


def test_an_attachment_leaves_beside_its_remark(place: Path) -> None:
    (remark,) = (one for one in register(place / "out")["remarks"] if one["action"] == "attached")
    assert remark["file"].startswith("attachments/")
    assert remark["file"].endswith(".JPG")
    assert (place / "out" / remark["file"]).read_bytes() == b"\xff\xd8 invented"


@pytest.mark.parametrize(
    ("site", "asset", "since", "tests", "assets"),
    (
        (None, None, None, 5, {"Pump 0", "Pump 1", "Pump 2"}), ("Works", None, None, 3, {"Pump 0", "Pump 1"}),
        ("Annex", None, None, 2, {"Pump 2"}), (None, "Pump 0", None, 2, {"Pump 0"}),
        (None, "Pump 1", None, 1, {"Pump 1"}), (None, None, "2027-01-01", 2, {"Pump 0", "Pump 2"}),
        (None, "Pump 2", "2027-01-01", 1, {"Pump 2"}), ("Works", None, "2030-01-01", 0, {"Pump 0", "Pump 1"}),
        ("nowhere", None, None, 0, set()),
    ),
)  # fmt: skip
@pytest.mark.parametrize("form", ("record", "json"))
def test_a_part_holds_what_was_chosen(
    place: Path, tmp_path: Path, site: str | None, asset: str | None, since: str | None, tests: int,
    assets: set[str], form: str,
) -> None:  # fmt: skip
    told: list[int] = []
    with hands(place) as held:
        counts = export(held, tmp_path / "out", chosen_of(held, site, asset, since), form, told.append)
    assert (counts["tests"], counts["assets"]) == (tests, len(assets))
    assert counts["files"] == len([path for path in (tmp_path / "out").rglob("*") if path.is_file()])
    assert {row["fields"]["asset"] for row in register(tmp_path / "out")["assets"]} == assets
    assert len(lines(tmp_path / "out")) == tests
    assert told == ([tests] if tests else [])


def test_of_an_asset_that_is_not_there_nothing_leaves(place: Path) -> None:
    with hands(place) as held, pytest.raises(UsageError, match="No asset is called 'Pump 9'"):
        chosen_of(held, None, "Pump 9", None)


def test_an_empty_store_leaves_an_empty_export_that_comes_back(tmp_path: Path) -> None:
    with hands(tmp_path) as held:
        assert export(held, tmp_path / "out")["tests"] == 0
    assert is_export(tmp_path / "out")
    with hands(tmp_path, "other.sqlite") as other:
        outcome = Intake()
        assert import_export(other, tmp_path / "out", RULES, outcome) == []
        assert outcome.files == []


# What comes back


@pytest.mark.parametrize("form", FORMATS)
def test_it_comes_back_with_all_revisions_in_every_form(
    place: Path, tmp_path: Path, ids: dict[str, str], form: str
) -> None:
    with hands(place) as held:
        export(held, tmp_path / "out", form=form)
    with hands(tmp_path, person="Somebody else") as other:
        outcome = Intake()
        import_export(other, tmp_path / "out", RULES, outcome)
        assert outcome.count("added") == 5
        assert {test.id for test in other.tests(assets=outcome.assets_added)} == set(ids.values()) - {
            ids["gone.csv"]
        }
        assert only(other, ids["later.csv"]).withdrawn
        with other.store.reading() as connection:
            versions = versions_of(other.store, connection, [ids["0.csv"]])[ids["0.csv"]]
        temperatures = [version.record.conditions.winding_temperature for version in versions]
        assert temperatures == [pytest.approx(313.15), 305.0, 307.0]


def test_what_was_purged_here_is_not_brought_back_by_an_export_of_before(tmp_path: Path) -> None:
    with hands(tmp_path) as held:
        taken = take(held, tmp_path, {"a.csv": text(), "b.csv": text("Pump 2")})
        test = taken.files[0].tests[0].test
        export(held, tmp_path / "out")
        purged(held, only(held, test), str(tmp_path / "a.bundle"), "Of another owner.")
        outcome = Intake()
        import_export(held, tmp_path / "out", RULES, outcome)
        assert held.tests(ids=[test]) == []
        assert [file.outcome for file in outcome.files].count("added") == 0


@pytest.mark.parametrize("stop", (0, 1, 3))
def test_it_may_be_stopped_and_goes_on(
    place: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stop: int
) -> None:
    monkeypatch.setattr("soakage.wiring.export_back.CHUNK", 1)
    kept: list[int] = []
    with hands(tmp_path) as other:
        outcome = Intake()
        import_export(
            other, place / "out", RULES, outcome, kept=kept.append, stopped=lambda: len(kept) > stop
        )
        assert len(outcome.files) == stop + 1
        assert kept == list(range(1, stop + 2))
        again = Intake()
        import_export(other, place / "out", RULES, again)
        assert (again.count("known"), again.count("added")) == (stop + 1, 4 - stop)


SPOILED: dict[str, tuple[Callable[[Path], None], str]] = {
    "another version": (lambda out: rewritten(out, "export.json", 'export": 1', 'export": 9'), "version 9"),
    "a list that is none": (lambda out: replaced(out, "export.json", "[]"), "not what an export holds"),
    "a list that is no json": (lambda out: replaced(out, "export.json", "{"), "not what an export holds"),
    "another register": (lambda out: rewritten(out, "register.json", "Pump 0", "Pump 7"), "its hash does not fit"),
    "no register": (lambda out: (out / "register.json").unlink(), "No such file"),
    "a line that is none": (lambda out: replaced(out, "tests.jsonl", "nothing\n"), "not what an export holds"),
}  # fmt: skip


def rewritten(out: Path, name: str, old: str, new: str) -> None:
    content = (out / name).read_text(encoding="utf-8")
    assert old in content
    (out / name).write_text(content.replace(old, new), encoding="utf-8")


def replaced(out: Path, name: str, content: str) -> None:
    (out / name).write_text(content, encoding="utf-8")


@pytest.mark.parametrize("what", SPOILED)
def test_a_damaged_export_is_refused_and_says_what_to_do(place: Path, tmp_path: Path, what: str) -> None:
    out = Path(copytree(place / "out", tmp_path / "out"))
    spoil, words = SPOILED[what]
    spoil(out)
    with hands(tmp_path) as other:
        with pytest.raises(UsageError, match=words):
            import_export(other, out, RULES, Intake())
        assert [test for row in lines(place / "out") for test in other.tests(ids=[row["test"]])] == []


@pytest.mark.parametrize("name", ("export.json", "tests.jsonl"))
def test_what_is_no_export(place: Path, tmp_path: Path, name: str) -> None:
    out = Path(copytree(place / "out", tmp_path / "out"))
    assert is_export(out)
    (out / name).unlink()
    assert not is_export(out)
    assert not is_export(tmp_path / "nowhere")


def test_each_test_of_an_export_is_read_with_its_records(place: Path) -> None:
    found = ExportRead(place / "out")
    assert found.tests == 5
    tests = list(found.each())
    assert [len(test.versions) for test in tests].count(3) == 1
    assert all(test.faults == () for test in tests)
    assert len(found.attachments()) == 1
    assert Chosen().everything
    assert not Chosen(tests=("a",)).everything
