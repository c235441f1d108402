"""The schema of a file of records, checked with a reference implementation of JSON Schema (draft 2020-12)."""

from __future__ import annotations

import json
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from any_records import any_records
from soakage.importers.exchange_schema import records_schema
from soakage.importers.parquet_columns import column_types
from soakage.importers.write_json import json_text
from soakage.model.keys import KEYS
from soakage.model.record import Record

SCHEMA = records_schema()
CHECK = jsonschema.Draft202012Validator(SCHEMA)
RECORD: dict[str, Any] = {
    "class": "cable",
    "method": "cable-core",
    "readings": {"time [s]": [60], "resistance [Ohm]": [1e9], "bound": [1]},
}


def whole(**changed: Any) -> dict[str, Any]:
    return {"soakage": 1, "records": [{k: v for k, v in (RECORD | changed).items() if v is not None}]}


def test_the_schema_is_one() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert json.loads(json.dumps(SCHEMA)) == SCHEMA
    CHECK.validate(whole())


@settings(max_examples=60, deadline=None)
@given(st.lists(any_records, min_size=1, max_size=2))
def test_whatever_is_written_fits(records: list[Record]) -> None:
    CHECK.validate(json.loads("".join(json_text(records))))


@pytest.mark.parametrize(
    "wrong",
    (
        whole(readings=None),
        whole(readings={}),
        whole(readings={"time [s]": [60]}),
        whole(readings={"resistance [Ohm]": ["1 GOhm"]}),
        whole(readings={"resistance [Ohm]": 1e9}),
        whole(readings={"resistance [Ohm]": [1e9], "bound": [2]}),
        whole(readings={"resistance [Ohm]": [1e9], "wind [m/s]": [2]}),
        whole(method=None),
        whole(**{"class": None}),
        whole(**{"class": "rocket"}),
        whole(extra={"x": 1}),
        whole(extra="x"),
        whole(tested="U"),
        {"soakage": 2, "records": [RECORD]},
        {"soakage": 1, "records": []},
        {"soakage": 1},
        {"records": [RECORD]},
        [RECORD],
    ),
)
def test_what_is_wrong_does_not_fit(wrong: Any) -> None:
    assert not CHECK.is_valid(wrong)


def test_parquet_has_the_same_names() -> None:
    record = SCHEMA["properties"]["records"]["items"]
    names = {*record["properties"], *record["properties"]["readings"]["properties"]} - {"readings"}
    assert set(column_types()) | {"insulation_temperature"} == names
    assert set(KEYS) < names
