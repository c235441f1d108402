"""``--archive FOLDER`` as a shell sees it: in text, in JSON and beside a report."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from running import HEADER, soakage

TESTS = 21


def readings(seed: int, until: float) -> str:
    """Return a record file of an invented winding: 10 t^-n + g uA with 1 % of noise."""
    rng = np.random.default_rng(seed)
    time = np.concatenate([np.arange(5.0, 121.0, 5.0), np.arange(150.0, 601.0, 30.0)])
    time = time[time <= until]
    current = 10 * (time / 60) ** -rng.uniform(0.6, 1.0) + rng.uniform(0, 4)
    current = current * (1 + 0.01 * rng.standard_normal(time.size))
    return HEADER + "".join(f"{t:g},5000,{i:.6g}\n" for t, i in zip(time, current, strict=True))


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("site")
    (folder / "past" / "older").mkdir(parents=True)
    for seed in range(TESTS):
        below = "past" if seed % 2 else "past/older"
        (folder / below / f"test-{seed}.csv").write_text(readings(seed, 600.0), encoding="utf-8")
    (folder / "past" / "minutes.txt").write_text("no record at all\n", encoding="utf-8")
    (folder / "past" / "stopped.csv").write_text(readings(77, 200.0), encoding="utf-8")
    (folder / "short.csv").write_text(readings(78, 120.0), encoding="utf-8")
    return folder


def test_text_says_how_many_tests_stand_behind_it(site: Path) -> None:
    done = soakage("judge", "short.csv", "--archive", "past", folder=site)
    words = " ".join(done.stdout.split())
    assert f"from {TESTS} complete tests of this class in the archive" in words
    assert "Forecast, no judgement" in words
    assert done.returncode == 2, done.stderr
    assert "Band rescaled" not in soakage("judge", "short.csv", folder=site).stdout


def test_json_carries_number_and_factor(site: Path) -> None:
    done = soakage("judge", "short.csv", "--archive", "past", "--json", folder=site)
    printed = json.loads(done.stdout)
    (record,) = printed["records"]
    assert record["forecast"]["archive_tests"] == TESTS
    assert 0 < record["forecast"]["scale"] < 2
    assert printed["errors"] == [], "what is no record in the archive is no fault of the record at hand"
    assert not any(j["criterion"].startswith("forecast") for j in record["judgements"])


def test_a_folder_with_too_few_says_so(site: Path) -> None:
    done = soakage("judge", "short.csv", "--archive", "past/older", folder=site)
    words = " ".join(done.stdout.split())
    assert "11 complete tests of this class in the archive, fewer than the 20" in words


def test_a_folder_that_is_not_there_is_refused(site: Path) -> None:
    done = soakage("judge", "short.csv", "--archive", "nowhere", folder=site)
    assert done.returncode == 2
    assert "nowhere: no such folder" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_report_takes_it_too(site: Path) -> None:
    done = soakage("report", "short.csv", "--archive", "past", "-o", "short.html", folder=site)
    assert done.returncode == 2, done.stderr
    words = " ".join((site / "short.html").read_text(encoding="utf-8").replace("\u00a0", " ").split())
    assert f"from {TESTS} complete tests of this class in the archive" in words
