"""The invented plant: its files, and what must be said about each from the cause hidden in it."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from soakage.app.result import Evaluated, Evaluation
from soakage.demo.make import demo_files
from soakage.demo.scenario import NOTE, SITE
from soakage.importers.reading import read_bytes
from soakage.methods import methods
from soakage.model.keys import CLASSES

EXPECTED: dict[str, dict[str, Any]] = tomllib.loads(
    Path(__file__).with_name("expected.toml").read_text("utf-8")
)
ONE_RECORD = [name for name, entry in EXPECTED.items() if "verdict" in entry]

Results = Mapping[str, list[Evaluated]]


def test_every_file_has_its_expectation(files: dict[str, str]) -> None:
    assert [name.removesuffix(".csv") for name in files] == list(EXPECTED)


def test_the_same_bytes_each_call(files: dict[str, str]) -> None:
    assert demo_files() == files


def test_the_same_bytes_in_another_process(files: dict[str, str]) -> None:
    script = (
        "import hashlib; from soakage.demo.make import demo_files; "
        "print(hashlib.sha256(repr(demo_files()).encode()).hexdigest())"
    )
    made = [
        subprocess.run(
            [sys.executable, "-c", script],
            capture_output=True,
            check=True,
            text=True,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("1", "2")
    ]
    assert made[0] == made[1]
    assert len(files) > 20


def test_making_them_is_quick() -> None:
    began = time.process_time()
    demo_files()
    assert time.process_time() - began < 1.0


@pytest.mark.parametrize("name", EXPECTED)
def test_every_record_says_that_it_is_invented(name: str, files: dict[str, str]) -> None:
    for record in read_bytes(files[f"{name}.csv"].encode(), f"{name}.csv"):
        assert record.extra["invented"] == "yes"
        assert (record.paper.notes or "").endswith(NOTE)
        assert record.asset.site == SITE
        assert "invented" in SITE
        assert "invented" in (record.paper.tested_by or "")
        assert "invented" in (record.instrument.name or "")


def test_a_person_can_type_them(files: dict[str, str]) -> None:
    # Four figures, plain decimals, one line a key: nothing that only a program would write.
    for name, text in files.items():
        header = [line for line in text.splitlines() if line.startswith("#")]
        table = text.splitlines()[len(header) + 1 :]
        assert all(re.fullmatch(r"# [a-z_]+ = \S.*", line) for line in header), name
        assert not any(re.search(r"\d[eE][+-]?\d", line) for line in table), name
        for line in table:
            for cell in re.split(";" if ";" in line else ",", line)[:3]:
                figures = cell.replace(",", "").replace(".", "").lstrip("> -0")
                assert not figures.isdigit() or len(figures) <= 5, (name, line)


def test_classes_and_methods_met(evaluation: Evaluation) -> None:
    assert {entry.record.asset.asset_class for entry in evaluation.records} >= set(CLASSES) - {"apparatus"}
    untried = set(methods()) - {entry.method.id for entry in evaluation.records}
    assert untried == {"insulation-resistance"}


def test_both_ways_of_writing_a_table_are_met(files: dict[str, str]) -> None:
    assert "time [s];voltage [V];resistance [GOhm]\n60;2500;12,0" in files["cable-7-l1.csv"]
    assert "time [s],voltage [V],current [uA]\n5," in files["drain-pump-3-u.csv"]


@pytest.mark.parametrize("name", ONE_RECORD)
def test_verdict_follows_from_the_hidden_cause(name: str, by_file: Results) -> None:
    (entry,) = by_file[name]
    assert entry.verdict.status == EXPECTED[name]["verdict"], entry.verdict.sentence


@pytest.mark.parametrize("name", ONE_RECORD)
def test_findings_follow_from_the_hidden_cause(name: str, by_file: Results) -> None:
    (entry,) = by_file[name]
    wanted = set(EXPECTED[name].get("found", ()))
    codes = {finding.code for finding in entry.findings}
    lowering = {finding.code for finding in entry.findings if finding.status is not None}
    assert wanted <= codes
    assert lowering <= wanted


@pytest.mark.parametrize("name", ONE_RECORD)
def test_breaches_follow_from_the_hidden_cause(name: str, by_file: Results) -> None:
    (entry,) = by_file[name]
    breached = {j.criterion for j in entry.judgements if j.status in ("investigate", "unfit")}
    assert breached == set(EXPECTED[name].get("breached", ()))


def test_the_schedule_is_judged_row_by_row(by_file: Results) -> None:
    rows = by_file["workshop-panel"]
    assert [row.verdict.status for row in rows] == EXPECTED["workshop-panel"]["verdicts"]
    assert {row.record.asset.circuit for row in rows if row.verdict.status == "unfit"} == {"4 water heater"}


def test_conditions_that_were_good_are_not_doubted(evaluation: Evaluation) -> None:
    doubts = {
        "temperature_missing", "humidity_missing", "terminals_not_given", "terminal_floating",
        "time_not_stated", "calibration_expired", "resistance_falling", "voltage_sag", "noise",
        "current_not_settling",
        "current_sign_change", "voltage_not_standing", "unequal_holds", "ramp_rate_off", "index_ambiguous",
        "test_voltage_above_table", "still_cooling", "surface_not_dry", "no_voltage", "under_range",
        "correction_far_from_base", "correction_out_of_range", "winding_part_unclear",
    }  # fmt: skip
    said = {(entry.record.title, f.code) for entry in evaluation.records for f in entry.findings}
    assert {(title, code) for title, code in said if code in doubts} == set()


def test_the_visit_names_the_dirty_phase(evaluation: Evaluation) -> None:
    (visit,) = [v for v in evaluation.visits if v.asset == "Drain pump 3 motor"]
    assert len(visit.members) == 3
    assert "phase W" in visit.sentence


def test_records_of_a_visit_stand_together(evaluation: Evaluation) -> None:
    sizes = {visit.asset: len(visit.members) for visit in evaluation.visits if visit.name == "spring 2026"}
    assert sizes == {"Drain pump 3 motor": 3, "Transformer 1": 3, "Cable 7": 4, "Board 2": 3}
