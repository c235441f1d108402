"""Ten kills of each work on each engine, and whether the campaign would see a loss if there were one.

The moments are drawn from a seed; where they fall depends on the machine.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from faulting import (
    LATEST,
    OUT,
    ROOT,
    WORKS,
    Files,
    Ground,
    Heard,
    campaign_of,
    goes_on_to_its_end,
    lines_of,
    looked,
    nothing_lost,
    small_changes,
    summary,
    table,
)
from soakage.errors import StoreError
from soakage.store.address import address
from soakage.store.engine import engine_of
from tools.postgres import NoServerError, cluster

__all__ = ["small_changes"]

KILLS = 10
ENGINES = ("sqlite", "postgresql")


def run(results: Path, *words: str) -> subprocess.CompletedProcess[str]:
    command = [
        sys.executable,
        str(ROOT / "benchmarks" / "faults" / "run.py"),
        "--results",
        str(results),
        *words,
    ]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def server_or_none() -> None:
    try:
        with cluster():
            pass
    except NoServerError as problem:
        if os.environ.get("CI") == "true":
            raise
        pytest.skip(str(problem))


@pytest.mark.skipif(sys.platform == "win32", reason="no process can be copied there")
@pytest.mark.parametrize("engine", ENGINES)
def test_killed_works_lose_nothing_and_go_on(engine: str, tmp_path: Path) -> None:
    if engine == "postgresql":
        server_or_none()
    results = tmp_path / "faults.jsonl"
    done = run(results, "--kills", str(KILLS), "--engine", engine, "--seed", "25")
    assert done.returncode == 0, done.stdout + done.stderr
    lines = lines_of(results)
    kills = Counter(line["work"] for line in lines)
    assert set(kills) == set(WORKS)
    assert min(kills.values()) >= KILLS
    assert [line for line in lines if line["lost"] or line["half"] or line["repair"]] == []
    assert {line["end"] for line in lines if "end" in line} == {"as undisturbed"}
    assert any(line["during"].startswith(("in a change", "a change")) for line in lines)
    assert sum(line["acknowledged"] for line in lines) > 100 * KILLS


# What the campaign would see


@pytest.fixture
def ground(tmp_path: Path) -> Ground:
    return Ground(tmp_path, str(tmp_path / "store.sqlite"))


def spoilt(ground: Ground, *statements: str) -> None:
    engine = engine_of(address(ground.address))
    with engine.connect().execution_options(writing=True) as connection, connection.begin():
        for statement in statements:
            connection.execute(text(statement))
    engine.dispose()


LOSSES = {
    "entries are not there": ("delete from entry where action = 'judged' and number > 9", "entry "),
    "tests are not there": ("delete from test where verdict = (select max(verdict) from test)", "test "),
    "verdicts are not there": (
        "delete from verdict where entry = (select max(verdict) from test)",
        "verdict of test ",
    ),
}


@pytest.mark.parametrize("loss", LOSSES)
def test_a_loss_is_seen(loss: str, tmp_path: Path) -> None:
    campaign = campaign_of("import", Files(tmp_path))
    ground = campaign.grounds.new(campaign.before)
    heard = Heard()
    campaign.work.do(ground, heard)
    nothing_lost(campaign, ground, heard.acks)
    statement, begins = LOSSES[loss]
    spoilt(ground, statement)
    found = looked(campaign, ground, heard.acks)
    assert any(item.startswith(begins) for item in found.lost), found.lost
    assert found.place is None
    assert found.half


@pytest.mark.parametrize(
    "statement",
    (
        "delete from figure where test = (select max(test) from figure)",
        "update asset set name = name || ' 2'",
        "update chain set number = number + 1",
        "delete from blob where sha256 = (select max(readings) from test)",
        "update entry set person = 'Somebody else' where number = 3",
    ),
)
def test_what_is_there_in_part_is_seen(statement: str, tmp_path: Path) -> None:
    campaign = campaign_of("rejudge", Files(tmp_path))
    ground = campaign.grounds.new(campaign.before)
    nothing_lost(campaign, ground, [])
    spoilt(ground, statement)
    found = looked(campaign, ground, [])
    assert found.place is None
    assert found.half


def test_a_version_that_nobody_knows_cannot_be_looked_at(tmp_path: Path) -> None:
    campaign = campaign_of("rejudge", Files(tmp_path))
    ground = campaign.grounds.new(campaign.before)
    spoilt(ground, "update alembic_version set version_num = '9999'")
    with pytest.raises(StoreError, match="9999"):  # the campaign counts it as a repair
        looked(campaign, ground, [])


def test_files_in_part_and_files_that_are_gone_are_seen(tmp_path: Path) -> None:
    campaign = campaign_of("bundle", Files(tmp_path))
    ground = campaign.grounds.new(campaign.before)
    heard = Heard()
    campaign.work.do(ground, heard)
    nothing_lost(campaign, ground, heard.acks)
    latest = ground.folder / OUT / LATEST
    whole = latest.read_bytes()
    latest.write_bytes(whole[: len(whole) // 2])
    assert [item.split(":")[0] for item in looked(campaign, ground, heard.acks).half] == [f"file {LATEST}"]
    latest.unlink()
    assert looked(campaign, ground, heard.acks).lost == [f"file {LATEST}"]
    goes_on_to_its_end(campaign, ground, heard.acks)


@pytest.mark.parametrize("work", WORKS)
def test_an_undisturbed_run_gives_the_same_every_time(work: str, tmp_path: Path) -> None:
    campaign = campaign_of(work, Files(tmp_path))
    ground = campaign.grounds.new(campaign.before)
    goes_on_to_its_end(campaign, ground, [])
    goes_on_to_its_end(campaign, ground, [])  # what is done already is not done again
    wanted = {"import": 4, "merge": 4, "bundle": 1, "migration": 2, "rejudge": 4}
    assert len(campaign.undisturbed.states) >= wanted[work]


# The results


def line(**values: Any) -> dict[str, Any]:
    return {
        "work": "import", "engine": "sqlite", "seed": 1, "trial": 1, "during": "in a change", "acknowledged": 5,
        "lost": [], "half": [], "repair": [],
    } | values  # fmt: skip


def test_the_figures_add_up() -> None:
    lines = [
        line(),
        line(during="the start", lost=["entry"]),
        line(work="merge", repair=["It ended."], half=["a", "b"]),
    ]
    rows = summary(lines)
    assert [(row["work"], row["kills"], row["in a change"], row["acknowledged"]) for row in rows] == [
        ("import", 2, 1, 10),
        ("merge", 1, 1, 5),
    ]
    assert [(row["lost"], row["half-written"], row["repairs"]) for row in rows] == [(1, 0, 0), (0, 2, 1)]
    assert table(rows).splitlines()[2] == "| import | sqlite | 2 | 1 | 10 | 1 | 0 | 0 |"


def test_what_is_noted_is_not_done_again_and_a_line_cut_short_counts_for_nothing(tmp_path: Path) -> None:
    results = tmp_path / "faults.jsonl"
    results.write_text(json.dumps(line(trial=7)) + "\n" + json.dumps(line())[:40], encoding="utf-8")
    done = run(results, "--kills", "1", "--engine", "sqlite", "--work", "import")
    assert done.returncode == 0, done.stderr
    assert len(lines_of(results)) == 1
    assert "| import | sqlite | 1 |" in done.stdout


def test_a_loss_that_is_noted_fails_the_run(tmp_path: Path) -> None:
    results = tmp_path / "faults.jsonl"
    results.write_text(json.dumps(line(lost=["entry"])) + "\n", encoding="utf-8")
    assert run(results, "--kills", "0").returncode == 1
