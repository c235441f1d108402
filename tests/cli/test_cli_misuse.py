"""Whatever is typed wrong: exit status 2, a sentence that names it, nothing printed as a result, nothing changed."""

from __future__ import annotations

import json
import sqlite3
import tomllib
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

from running import INVESTIGATE, record, soakage

CASES: list[dict[str, Any]] = tomllib.loads(
    (Path(__file__).parent / "cases_misuse.toml").read_text(encoding="utf-8")
)["case"]
LONGEST = 2500  # an error that scrolls away is not read
VERDICTS = {"sound", "watch", "investigate", "unfit"}


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, str]]:
    """A folder of good and bad files, and a store with two motors of one name at two sites."""
    folder = tmp_path_factory.mktemp("misuse")
    (folder / "sound.csv").write_text(record(site='"Invented works"'), encoding="utf-8")
    (folder / "twin.csv").write_text(record(INVESTIGATE, site='"Other works"'), encoding="utf-8")
    (folder / "sound.docx").write_text(record(), encoding="utf-8")
    (folder / "empty.csv").write_bytes(b"")
    (folder / "prose.csv").write_text("The motor was noisy.\nNobody knew why.\n", encoding="utf-8")
    (folder / "bytes.csv").write_bytes(bytes(range(256)) * 4)
    (folder / "table.csv").write_text("Date;Motor;M\n1.2.2026;P 3;400\n", encoding="utf-8")
    for name in ("false.xlsx", "false.parquet", "false.sqlite", "false.bundle"):
        (folder / name).write_bytes(b"not what its name says, " * 40)
    (folder / "false.json").write_text('{"soakage": 1, "records": [', encoding="utf-8")
    (folder / "false.toml").write_text("this = is = no TOML\n", encoding="utf-8")
    (folder / "box.html").mkdir()
    done = soakage("import", "sound.csv", "twin.csv", "--store", "s.sqlite", folder=folder)
    assert done.returncode in (0, 1), done.stderr
    listed = json.loads(soakage("list", "--json", "--store", "s.sqlite", folder=folder).stdout)
    tests = {row["site"]: row["id"] for row in listed["tests"]}
    assets = {row["site"]: row["id"] for row in listed["assets"]}
    ids = {"sound": tests["Invented works"][:12], "twin": tests["Other works"][:12]}
    return folder, ids | {"asset": assets["Invented works"]}


def entries(folder: Path) -> int:
    store = sqlite3.connect(folder / "s.sqlite")
    try:
        return int(store.execute("select count(*) from entry").fetchone()[0])
    finally:
        store.close()


def filled(text: str, ids: dict[str, str]) -> str:
    for name, value in ids.items():
        text = text.replace(f"{{{name}}}", value)
    return text


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_misuse_is_told_and_changes_nothing(bench: tuple[Path, dict[str, str]], case: dict[str, Any]) -> None:
    folder, ids = bench
    before = entries(folder), sha256((folder / "sound.csv").read_bytes()).hexdigest()
    words = [filled(word, ids) for word in case["words"]]
    done = soakage(*words, folder=folder, SOAKAGE_STORE="s.sqlite", COLUMNS="100")
    said, printed = (" ".join(text.replace("\u00a0", " ").split()) for text in (done.stderr, done.stdout))
    assert done.returncode == case.get("status", 2), (done.stdout, done.stderr)
    assert "Traceback" not in said + printed
    assert 0 < len(said + printed) < LONGEST
    for part in case["says"]:
        assert filled(part, ids) in said
    for part in case.get("prints", ()):
        assert filled(part, ids) in printed
    if "prints" not in case:
        # judge takes leave with its caution even where it could judge nothing
        assert printed == "" or printed.startswith("Rules: "), "a result beside a refusal is taken for one"
        assert VERDICTS.isdisjoint(printed.replace(".", " ").split())
    assert (entries(folder), sha256((folder / "sound.csv").read_bytes()).hexdigest()) == before
    if "leaves" in case:
        assert not (folder / case["leaves"]).exists()


def test_every_command_is_misused() -> None:
    from soakage.cli import COMMANDS

    misused = {case["words"][0] for case in CASES if case["words"]}
    # a store is looked through without any word that could be wrong, but the place of the store
    assert set(COMMANDS) - misused <= {"conflicts"}


def test_no_case_is_there_twice() -> None:
    names = [case["name"] for case in CASES]
    assert len(set(names)) == len(names)
    asked = [tuple(case["words"]) for case in CASES]
    assert len(set(asked)) == len(asked)
