"""Each importer reads its sample to the result beside it.

A new importer needs no line here: put ``samples/<id>.<ending>`` and ``samples/<id>.json`` (or
``<id>-<word>``) beside the others. All data are invented.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from soakage.importers.reading import importers, pick, read_bytes
from soakage.importers.write_record import header_values
from soakage.model.record import Record

SAMPLES = Path(__file__).parent / "samples"


def is_sample(file: Path) -> bool:
    """Tell a sample from a result; one that is JSON itself says in its name that it is the sample."""
    return file.suffix != ".json" or file.name.endswith(".sample.json")


EXPECTED = sorted(file for file in SAMPLES.glob("*.json") if not is_sample(file))


def sample_of(expected: Path) -> Path:
    (found,) = [file for file in SAMPLES.glob(f"{expected.stem}.*") if is_sample(file)]
    return found


def plain(record: Record) -> dict[str, Any]:
    """Return a record as JSON holds it; null is no reading."""
    readings = record.readings
    columns = {
        name: [None if math.isnan(value) else value for value in getattr(readings, name).tolist()]
        for name in ("time", "voltage", "current", "resistance")
    }
    return {
        "header": header_values(record),
        "row": record.origin.row,
        "readings": columns | {"bound": readings.bound.tolist()},
        "marks": [
            name
            for name in ("voltage_assumed", "current_derived", "resistance_given")
            if getattr(readings, name)
        ],
        "findings": [finding.code for finding in record.findings],
    }


@pytest.mark.parametrize("importer", sorted(importers()))
def test_each_importer_has_a_sample_with_its_result(importer: str) -> None:
    named = [file.stem for file in EXPECTED if file.stem == importer or file.stem.startswith(f"{importer}-")]
    assert named, f"put samples/{importer}.<ending> and samples/{importer}.json beside the others"


def test_no_sample_is_left_without_a_result() -> None:
    stems = {file.name.partition(".")[0] for file in SAMPLES.iterdir() if is_sample(file)}
    assert stems == {file.stem for file in EXPECTED}


@pytest.mark.parametrize("expected", EXPECTED, ids=lambda file: file.stem)
def test_sample_reads_to_its_result(expected: Path) -> None:
    sample = sample_of(expected)
    result = json.loads(expected.read_text(encoding="utf-8"))
    data = sample.read_bytes()
    picked = pick(data[:4096], sample.name)
    assert picked is not None
    assert picked.id == result["importer"]
    got = [plain(record) for record in read_bytes(data, sample.name, result["options"])]
    for one, wanted in zip(got, result["records"], strict=True):
        readings, needed = one.pop("readings"), wanted.pop("readings")
        assert one == wanted
        for name, column in needed.items():
            assert numbers(readings[name]) == pytest.approx(numbers(column), rel=1e-12, nan_ok=True), name


def numbers(column: list[float | None]) -> list[float]:
    return [math.nan if value is None else value for value in column]
