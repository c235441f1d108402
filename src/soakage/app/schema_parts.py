"""The small pieces that the JSON Schemas of the contract are made of."""

from __future__ import annotations

import re
from typing import Any

from soakage.model.verdict import Status
from soakage.quantities import GLOSSARY
from soakage.standards.criterion import Kind, Verified

DIALECT = "https://json-schema.org/draft/2020-12/schema"
STATUSES = tuple(str(status) for status in Status)
# Ids that carry times, as soakage.quantities.lookup resolves them; written for every dialect of patterns.
_SECONDS = "[0-9]+(?:[.][0-9]+)?s"
_TIMED = (f"insulation_resistance_{_SECONDS}(?:_corrected)?", f"resistance_ratio_{_SECONDS}_{_SECONDS}")
Schema = dict[str, Any]

TEXT: Schema = {"type": "string"}
FLAG: Schema = {"type": "boolean"}
NUMBER: Schema = {"type": "number"}
NUMBER_OR_NULL: Schema = {"type": ["number", "null"]}
SHARE_OR_NULL: Schema = {"type": ["number", "null"], "minimum": 0, "maximum": 1}
COUNT: Schema = {"type": "integer", "minimum": 0}
NAMES: Schema = {"type": "array", "items": TEXT}
SHA256: Schema = {"type": "string", "pattern": "^([0-9a-f]{64})?$"}
BOUND: Schema = {"enum": [None, "lower", "upper"]}
VERIFIED: Schema = {"enum": [str(word) for word in Verified]}
LIMIT_KINDS: Schema = {"enum": [str(kind) for kind in Kind]}


def shape(required: Schema, optional: Schema | None = None, description: str = "") -> Schema:
    """Return the schema of an object: keys that are always there, and keys that may be."""
    made: Schema = {
        "type": "object",
        "properties": {**required, **(optional or {})},
        "required": [*required],
    }
    return made | ({"description": description} if description else {})


def list_of(items: Schema, description: str = "") -> Schema:
    """Return the schema of a list."""
    made: Schema = {"type": "array", "items": items}
    return made | ({"description": description} if description else {})


def or_null(other: Schema) -> Schema:
    """Return the schema of something that may be null."""
    return {"anyOf": [{"type": "null"}, other]}


def described(description: str, other: Schema) -> Schema:
    """Return a schema with what it is for."""
    return other | {"description": description}


def whole(title: str, other: Schema) -> Schema:
    """Return a schema that stands alone."""
    return {"$schema": DIALECT, "title": title, **other}


def quantity_id_pattern() -> str:
    """Return the pattern every id of a quantity fits: those of the glossary and those that carry times."""
    return f"^(?:{'|'.join([*map(re.escape, GLOSSARY), *_TIMED])})$"


def limit_shape() -> Schema:
    """Return the schema of a limit."""
    return shape(
        {
            "kind": LIMIT_KINDS,
            "lower": NUMBER_OR_NULL,
            "upper": NUMBER_OR_NULL,
            "unit": TEXT,
            "text": TEXT,
        }
    )
