"""JSON Schema of the record file's header, made from the table of keys."""

from __future__ import annotations

from typing import Any

from soakage.importers.kinds import EXAMPLES, PARTS
from soakage.importers.nameplate import VERSION
from soakage.methods import words
from soakage.model.keys import KEYS, Key, Kind
from soakage.units import format_exact

DIALECT = "https://json-schema.org/draft/2020-12/schema"
_DATE = "^\\d{4}-\\d{2}-\\d{2}$"
_WHEN = "^\\d{4}-\\d{2}-\\d{2}(T\\d{2}:\\d{2}(:\\d{2}(\\.\\d{1,6})?)?(Z|[+-]\\d{2}:\\d{2})?)?$"
_FIGURE = "^\\s*[+-]?[0-9.,]+.*$"


def record_schema() -> dict[str, Any]:
    """Return the JSON Schema of a header as :func:`soakage.importers.write_record.header_values` gives it.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12. Figures are texts with their unit; keys that are not known are texts.
    """
    return {
        "$schema": DIALECT,
        "title": "Header of a Soakage record file",
        "type": "object",
        "properties": {
            "soakage": {"const": int(VERSION), "description": "Version of the format."},
            **{key.name: {"description": key.meaning} | _kind(key) for key in KEYS.values()},
        },
        "required": ["soakage", "class", "method"],
        "additionalProperties": {"type": "string"},
    }


def _kind(key: Key) -> dict[str, Any]:
    if key.kind is Kind.WORD:
        return {"enum": list(words(key))}
    if key.kind is Kind.NUMBER:
        return _figure(key.dimension)
    if key.kind is Kind.YEAR:
        return {"type": "integer", "minimum": 1850, "maximum": 2200}
    if key.kind in (Kind.DATE, Kind.WHEN):
        return {"type": "string", "pattern": _DATE if key.kind is Kind.DATE else _WHEN}
    if key.kind is Kind.LIST:
        return {"type": "array", "items": {"type": "string", "minLength": 1}}
    if key.kind is Kind.NUMBERS:
        return {"type": "object", "additionalProperties": _figure(key.dimension)}
    if key.name in PARTS:
        row = _row(key)
        return {"type": "array", "items": row} if key.kind in (Kind.STEPS, Kind.ACCURACY) else row
    return {"type": "string", "minLength": 1}


def _figure(dimension: str) -> dict[str, Any]:
    return {
        "type": "string",
        "pattern": _FIGURE,
        "examples": [format_exact(300.0 if "temp" in dimension else 1.0, dimension)],
    }


def _row(key: Key) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": {part: _figure(dimension) for part, dimension in PARTS[key.name].items()},
        "required": list(PARTS[key.name]) if key.kind in (Kind.STEPS, Kind.PREVIOUS_TEST) else [],
        "additionalProperties": False,
        "examples": [EXAMPLES[key.kind]],
    }
