"""The one place where doors meet files: rules, archives, reports written whole, plans and their sheets."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from running import SOUND, UNFIT, record
from soakage.app.rules import default_rules
from soakage.errors import InputError, SoakageError, StandardDataError, UsageError
from soakage.importers.reading import read_bytes
from soakage.model.verdict import Status
from soakage.wiring import (
    REPORTS,
    archived,
    judge_files,
    named_profile,
    plan_files,
    planned,
    report_writer,
    rules,
    write_whole,
)

CABLE = {"class": "cable", "rated_voltage": "15 kV", "length": "800 m"}
BOARD = {"class": "low-voltage-installation", "nominal_voltage": "230 V"}


# -------------------------------------------------------------------------------------------------------- rules
def test_without_a_wish_the_default_rules_judge() -> None:
    assert rules() == default_rules()


def test_every_wish_is_kept() -> None:
    chosen = rules(
        "default",
        ["2 MOhm", "polarization_index 3"],
        "ieee-43-2013.thermoplastic",
        [(120.0, 30.0)],
        guarded=True,
    )
    assert [limit.id for limit in chosen.limits] == ["user.limit-1", "user.limit-2"]
    assert chosen.temperature_rule == "ieee-43-2013.thermoplastic"
    assert chosen.ratios == ((120.0, 30.0),)
    assert chosen.guarded


@pytest.mark.parametrize("name", ("nobody", "nobody.toml", "", "Default", "../default", "default.TOML"))
def test_a_profile_that_is_not_there_is_refused(name: str) -> None:
    with pytest.raises(StandardDataError) as raised:
        named_profile(name)
    assert name in str(raised.value)


@pytest.mark.parametrize(
    "content", (b"", b"no toml =", b"\xff\xfe", b"[profile]\n", b'[profile]\nid = "x"\n[unknown]\n')
)
def test_a_profile_file_that_is_none_is_refused_by_name(content: bytes, tmp_path: Path) -> None:
    file = tmp_path / "works.toml"
    file.write_bytes(content)
    with pytest.raises(StandardDataError, match=r"works\.toml"):
        named_profile(str(file))


def test_a_profile_is_read_from_a_file_of_any_ending(tmp_path: Path) -> None:
    text = '[profile]\nid = "works"\ntitle = "Works rules"\ninclude = "default"\n'
    for name in ("works.toml", "works.rules"):
        (tmp_path / name).write_text(text, encoding="utf-8")
        assert named_profile(str(tmp_path / name)).id == "works"


def test_a_folder_is_no_profile(tmp_path: Path) -> None:
    (tmp_path / "rules.toml").mkdir()
    with pytest.raises(StandardDataError, match="readable profile file"):
        named_profile(str(tmp_path / "rules.toml"))


# ------------------------------------------------------------------------------------------------------ judging
def test_faults_stand_beside_the_records_that_could_be_read(tmp_path: Path) -> None:
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_text(record(SOUND), encoding="utf-8")
    bad.write_text(record(year='"long ago"'), encoding="utf-8")
    steps: list[tuple[int, int]] = []
    seen = judge_files([good, bad, tmp_path / "none.csv"], {}, rules(), lambda *n: steps.append(n))
    assert [e.verdict.status for e in seen.records] == [Status.SOUND]
    assert len(seen.errors) == 2
    assert steps == [(1, 1)]


def test_what_is_given_as_option_stands_over_every_file(tmp_path: Path) -> None:
    for name in ("a", "b"):
        (tmp_path / f"{name}.csv").write_text(record(SOUND), encoding="utf-8")
    seen = judge_files(sorted(tmp_path.glob("*.csv")), {"year": "1960"}, rules())
    assert [e.record.asset.year for e in seen.records] == [1960, 1960]


def test_an_archive_is_read_deep_and_passes_over_what_is_none(tmp_path: Path) -> None:
    deep = tmp_path / "x" / "y"
    deep.mkdir(parents=True)
    (deep / "a.csv").write_text(record(SOUND), encoding="utf-8")
    (tmp_path / "b.CSV").write_text(record(UNFIT), encoding="utf-8")
    (tmp_path / "notes.txt").write_text("no record", encoding="utf-8")
    (tmp_path / "broken.csv").write_text(record(year='"long ago"'), encoding="utf-8")
    (tmp_path / "folder.csv").mkdir()
    assert len(archived(tmp_path)) == 2
    assert len(archived(deep.parent)) == 1


@pytest.mark.parametrize("name", ("nowhere", "file.csv"))
def test_an_archive_that_is_no_folder_is_refused(name: str, tmp_path: Path) -> None:
    (tmp_path / "file.csv").write_text(record(SOUND), encoding="utf-8")
    with pytest.raises(UsageError, match="no such folder"):
        archived(tmp_path / name)
    with pytest.raises(UsageError):
        judge_files([tmp_path / "file.csv"], {}, rules(), archive=tmp_path / name)


# ------------------------------------------------------------------------------------------------------ reports
@pytest.mark.parametrize("ending", (*REPORTS, *(e.upper() for e in REPORTS)))
def test_every_ending_has_its_writer(ending: str) -> None:
    assert callable(report_writer(Path(f"out{ending}"), "a4"))


@pytest.mark.parametrize("name", ("out", "out.docx", ".pdf", "out.pdf.txt", "out.", ""))
def test_an_ending_that_is_none_is_refused_with_those_known(name: str) -> None:
    with pytest.raises(UsageError) as raised:
        report_writer(Path(name), "a4")
    for ending in REPORTS:
        assert ending in str(raised.value)


def test_a_file_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    target = tmp_path / "out.html"
    write_whole(target, b"first")
    write_whole(target, b"second")
    assert target.read_bytes() == b"second"
    assert [p.name for p in tmp_path.iterdir()] == ["out.html"]
    with pytest.raises(UsageError, match="Choose a folder that can be written"):
        write_whole(tmp_path / "nowhere" / "out.html", b"x")
    (tmp_path / "taken").mkdir()
    with pytest.raises(UsageError, match="taken"):
        write_whole(tmp_path / "taken", b"x")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out.html", "taken"], "no part is left behind"


def test_what_was_there_stays_where_writing_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "out.html"
    target.write_bytes(b"kept")

    def full(self: Path, content: bytes) -> int:
        del self, content
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(UsageError, match="No space left"):
        write_whole(target, b"new")
    assert target.read_bytes() == b"kept"
    assert stat.S_ISREG(target.stat().st_mode)


# -------------------------------------------------------------------------------------------------------- plans
@pytest.mark.parametrize(
    ("stated", "said"),
    (({}, "class"), ({"class": "spaceship"}, "class"), ({"class": "cable", "rated_voltage": "15 kW"}, "rated_voltage"),
     ({"class": "cable", "no_such_key": "1"}, "no_such_key")),
)  # fmt: skip
def test_a_plan_of_what_is_wrong_is_refused(stated: dict[str, str], said: str) -> None:
    with pytest.raises((InputError, UsageError)) as raised:
        planned(stated, None, None)
    assert said in str(raised.value).replace("-", "_")


@pytest.mark.parametrize(
    "tests", ((), ("insulation-resistance",), ("polarization-index", "insulation-resistance"))
)
def test_the_tests_asked_for_are_planned_in_their_order(tests: tuple[str, ...]) -> None:
    plan = planned({"class": "rotating-machine", "rated_voltage": "6.6 kV"}, None, None, tests=tests)
    if tests:
        assert tuple(entry.method.id for entry in plan.methods)[: len(tests)] == tests
    assert plan.methods


def test_a_test_named_twice_is_planned_once() -> None:
    stated = {"class": "rotating-machine", "rated_voltage": "6.6 kV", "method": "polarization-index"}
    plan = planned(stated, None, None, tests=("polarization-index", "polarization-index"))
    assert [entry.method.id for entry in plan.methods].count("polarization-index") == 1


def test_an_unknown_test_is_refused() -> None:
    with pytest.raises(SoakageError, match="frobnication"):
        planned(CABLE, None, None, tests=("frobnication",))


@pytest.mark.parametrize("stated", (CABLE, BOARD), ids=("cable", "board"))
def test_the_sheets_of_a_plan_read_back_as_their_plan(stated: dict[str, str], tmp_path: Path) -> None:
    paths = plan_files(planned(stated, None, None), tmp_path / "sheet.csv", "a4")
    assert sorted(paths) == sorted(tmp_path.iterdir())
    for path in paths:
        content = path.read_bytes()
        assert content.startswith(b"# soakage = 1")
        try:
            records = read_bytes(content, path.name)
        except InputError as empty:
            assert all(fault.remedy for fault in empty.faults)  # noqa: PT017 - an empty sheet may say what to fill in
            continue
        assert all(r.asset.asset_class == stated["class"] for r in records)


def test_the_card_of_a_plan_is_one_pdf(tmp_path: Path) -> None:
    (path,) = plan_files(planned(CABLE, None, None), tmp_path / "card.PDF", "letter")
    assert path.read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize("name", ("card.txt", "card", "sheet.xlsx"))
def test_a_plan_in_another_form_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"card\.pdf or sheet\.csv"):
        plan_files(planned(CABLE, None, None), tmp_path / name, "a4")
    assert list(tmp_path.iterdir()) == []
