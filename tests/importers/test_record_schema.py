"""The schema of the header, checked with a reference implementation of JSON Schema (draft 2020-12)."""

from __future__ import annotations

import json
from typing import Any

import jsonschema
import pytest

from importing import FULL, MINIMAL, TABLE, read_one
from soakage.importers.schema import DIALECT, record_schema
from soakage.importers.write_record import header_values
from soakage.methods import methods
from soakage.model.keys import CLASSES, KEYS, Kind

SCHEMA = record_schema()
CHECK = jsonschema.Draft202012Validator(SCHEMA)
SMALLEST = {"soakage": 1, "class": "cable", "method": "cable-core"}


def test_the_schema_is_one() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == DIALECT
    assert json.loads(json.dumps(SCHEMA)) == SCHEMA


def test_every_key_is_in_it_with_its_meaning() -> None:
    assert list(SCHEMA["properties"]) == ["soakage", *KEYS]
    for name, key in KEYS.items():
        assert SCHEMA["properties"][name]["description"] == key.meaning
    assert SCHEMA["required"] == ["soakage", "class", "method"]


def test_words_are_closed() -> None:
    assert SCHEMA["properties"]["class"]["enum"] == list(CLASSES)
    assert SCHEMA["properties"]["method"]["enum"] == list(methods())
    words = [key.name for key in KEYS.values() if key.kind is Kind.WORD]
    assert all(SCHEMA["properties"][name]["enum"] for name in words)


@pytest.mark.parametrize(
    "extra",
    (
        "",
        "# started = 2026-03-14\n",
        "# started = 2026-03-14T09:20\n",
        "# started = 2026-03-14T09:20:00.5Z\n",
        "# calibration_due = 2027-01-31\n",
        '# winding_voltages = {H = "33 kV"}\n',
        '# steps = [{at = "0 s", voltage = "1 kV"}]\n',
        "# works_number = 5\n",
        "# ramp_rate = 1 kV/min\n# capacitance = 250 nF\n# current_limit = 5 mA\n",
    ),
)
def test_what_is_read_fits(extra: str) -> None:
    CHECK.validate(header_values(read_one(MINIMAL + extra + TABLE)))


def test_the_example_fits() -> None:
    CHECK.validate(header_values(read_one(FULL + TABLE)))


@pytest.mark.parametrize(
    "change",
    (
        {"soakage": 2},
        {"class": "motor"},
        {"method": None},
        {"rated_voltage": 6600},
        {"rated_voltage": "high"},
        {"year": "2004"},
        {"year": 1066},
        {"started": "14/03/2026"},
        {"started": "2026-03-14 09:20"},
        {"calibration_due": "2026-03-14T09:20"},
        {"tested": "U"},
        {"tested": [""]},
        {"voltage_found": "12 V"},
        {"voltage_found": {"volts": "12 V"}},
        {"previous_test": {"voltage": "5 kV"}},
        {"steps": [{"at": "0 s"}]},
        {"accuracy": {"reading": "5 %"}},
        {"winding_voltages": {"H": 33}},
        {"works_number": 5},
    ),
    ids=str,
)
def test_what_does_not_fit(change: dict[str, Any]) -> None:
    CHECK.validate(SMALLEST)
    assert not CHECK.is_valid(SMALLEST | change)


@pytest.mark.parametrize("missing", ("soakage", "class", "method"))
def test_required(missing: str) -> None:
    assert not CHECK.is_valid({name: value for name, value in SMALLEST.items() if name != missing})
