"""The page on changes, followed word for word: what it says is printed, and the store is whole afterwards."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from docblocks import DOCS, ROOT, files, follow, run
from soakage.app.changes_schema import (
    purge_schema,
    register_schema,
    rejudge_schema,
    remark_schema,
    revision_schema,
    sign_schema,
)
from soakage.cli import COMMANDS
from soakage.importers.reading import read_bytes
from soakage.model.stated import content_id

PAGE = "changes-to-tests.md"
TEXT = (DOCS / PAGE).read_text(encoding="utf-8")
COMMANDS_TOLD = ("register", "amend", "withdraw", "note", "attach", "event", "sign", "rejudge", "purge")
SCHEMAS = {
    "register": register_schema(), "revision": revision_schema(), "remark": remark_schema(), "sign": sign_schema(),
    "purge": purge_schema(), "rejudge": rejudge_schema(),
}  # fmt: skip


def test_the_page_can_be_followed(tmp_path: Path) -> None:
    assert list(follow(PAGE, tmp_path, ROOT / "src")) == []
    check = run(["soakage", "check", "--store", "works.sqlite"], tmp_path, ROOT / "src")
    assert check.returncode == 0, check.stdout
    listed = run(
        ["soakage", "list", "drain pump motor", "--json", "--store", "works.sqlite"], tmp_path, ROOT / "src"
    )
    assert json.loads(listed.stdout)["tests"] == []


def test_the_test_it_names_is_the_one_it_shows() -> None:
    (record,) = read_bytes(files(PAGE)["pump-3.csv"].encode(), "pump-3.csv")
    assert content_id(record)[:12] in TEXT


@pytest.mark.parametrize("command", COMMANDS_TOLD)
def test_each_command_stands_there(command: str) -> None:
    assert command in COMMANDS
    assert f"`soakage {command}" in TEXT


def test_it_warns_before_anything_else() -> None:
    assert TEXT.index("```{warning}") < TEXT.index("\n## ")
    for word in ("is safe", "may be energised", "discharged"):
        assert word not in TEXT


@pytest.mark.parametrize("name", SCHEMAS)
def test_every_key_stands_on_the_page_of_json(name: str) -> None:
    page = (DOCS / "json.md").read_text(encoding="utf-8")
    assert f"{name}.schema.json" in page
    assert [key for key in SCHEMAS[name]["properties"] if f"`{key}`" not in page] == []
