"""JSON Schema of a file of many records."""

from __future__ import annotations

from typing import Any

from soakage.importers.exchange import EXTRA
from soakage.importers.exchange_readings import BOUND, COLUMNS
from soakage.importers.json_file import READINGS, RECORDS, VERSION_KEY
from soakage.importers.schema import record_schema
from soakage.model.readings import LOWER, UPPER, VALUE

_TEXTS = {"type": "object", "additionalProperties": {"type": "string"}}


def records_schema() -> dict[str, Any]:
    """Return the JSON Schema of a file as :func:`soakage.importers.write_json.write_json` writes it.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12. Each record has the keys of a record file's header and its readings in SI.
    """
    header = record_schema()
    dialect, version = header.pop("$schema"), header["properties"][VERSION_KEY]
    record = header | {
        "title": "One record",
        "properties": header["properties"]
        | {
            EXTRA: _TEXTS | {"description": "Keys that the reader does not know, kept as they were."},
            READINGS: _readings(),
        },
        "required": [*(key for key in header["required"] if key != VERSION_KEY), READINGS],
    }
    return {
        "$schema": dialect,
        "title": "Records of Soakage",
        "type": "object",
        "properties": {VERSION_KEY: version, RECORDS: {"type": "array", "items": record, "minItems": 1}},
        "required": [VERSION_KEY, RECORDS],
    }


def _readings() -> dict[str, Any]:
    figures = {"type": "array", "items": {"type": ["number", "null"]}}
    bounds = {"type": "array", "items": {"enum": [VALUE, LOWER, UPPER]}}
    said = "On the resistance: 0 a value, 1 a lower bound, -1 an upper bound; the current's is the opposite."
    return {
        "type": "object",
        "description": "As many figures in each column; null where nothing was read.",
        "properties": {**dict.fromkeys(COLUMNS.values(), figures), BOUND: bounds | {"description": said}},
        "anyOf": [{"required": [COLUMNS["current"]]}, {"required": [COLUMNS["resistance"]]}],
        "additionalProperties": False,
    }
