"""``soakage demo --history``: what it writes and says."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

import soakage.cli
import soakage.demo.history
from soakage.demo.history import edition_profile, history_files, history_truth
from soakage.wiring import judge_files, rules


def run(folder: Path, *options: str) -> str:
    done = CliRunner().invoke(soakage.cli.group, ["demo", "--folder", str(folder), *options])
    assert done.exit_code == 0, done.output
    return done.output


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    folder = tmp_path_factory.mktemp("door") / "shown"
    return folder, run(folder, "--history")


def test_every_file_is_written_with_its_bytes(written: tuple[Path, str]) -> None:
    place = written[0] / "history"
    found = {path.relative_to(place).as_posix(): path.read_bytes() for path in place.rglob("*.csv")}
    assert found == {name: text.encode() for name, text in history_files().items()}
    assert not [path for path in place.rglob("*") if path.is_file() and path.suffix != ".csv"]


def test_what_was_written_is_said(written: tuple[Path, str]) -> None:
    folder, text = written
    assert f"History:      {folder / 'history'}\n" in text
    assert f"{len(history_files())} invented records of 40 assets at 3 sites, ten years" in text
    assert text.index("Report:") < text.index("History:")


def test_the_older_rules_can_judge_what_was_written(written: tuple[Path, str]) -> None:
    folder = written[0]
    profile = folder / "edition-2000.toml"
    assert profile.read_text(encoding="utf-8") == edition_profile()
    (path, *_) = sorted((folder / "history").rglob("*armature.csv"))
    evaluation = judge_files([path], {}, rules(str(profile)))
    assert evaluation.rules.profile == "edition-2000"
    assert evaluation.records[0].verdict.status == "unfit"


def test_the_next_commands_are_named_once_they_are_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    few = dict(list(history_files().items())[:3])
    monkeypatch.setattr(soakage.demo.history, "history_files", lambda: few)
    monkeypatch.setattr(soakage.cli, "COMMANDS", {"demo": "", "trend": ""})
    text = run(tmp_path, "--history")
    assert text.endswith(' trend "Mill 1 motor"\n')
    assert " import " not in text
    assert "Mill 1 motor" in {truth.asset for truth in history_truth() if truth.events}
    assert len(list((tmp_path / "history").rglob("*.csv"))) == 3


def test_without_the_option_there_is_no_history(tmp_path: Path) -> None:
    text = run(tmp_path)
    assert not (tmp_path / "history").exists()
    assert not (tmp_path / "edition-2000.toml").exists()
    assert "History" not in text
    assert "Try next:" in text.splitlines()[-1]


def test_a_file_in_the_way_is_told(tmp_path: Path) -> None:
    (tmp_path / "history").write_text("x", encoding="utf-8")
    done = CliRunner().invoke(soakage.cli.group, ["demo", "--folder", str(tmp_path), "--history"])
    assert done.exit_code != 0
    assert "Choose another --folder." in str(done.exception)
