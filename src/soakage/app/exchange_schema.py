"""JSON Schemas of the exchange between stores; keys may be added, ids do not change."""

from __future__ import annotations

from soakage.app.contract_json import CONTRACT
from soakage.app.schema_parts import (
    COUNT,
    FLAG,
    SHA256,
    TEXT,
    Schema,
    described,
    list_of,
    or_null,
    shape,
    whole,
)

_HEAD: Schema = {"soakage": TEXT, "contract": {"const": CONTRACT}}
_KINDS: Schema = {
    "enum": ["site", "asset", "instrument", "person", "recipe", "setting", "visit", "test"],
}
_DAY: Schema = or_null({"type": "string", "format": "date"})


def bundle_schema() -> Schema:
    """Return the JSON Schema of ``bundle --json``."""
    return whole(
        "A bundle that was written",
        shape(
            {
                **_HEAD,
                "file": TEXT,
                "part": described("What of the store it holds; null for all.", {"type": ["string", "null"]}),
                "entries": COUNT,
                "tests": COUNT,
                "blobs": COUNT,
            }
        ),
    )


def merge_schema() -> Schema:
    """Return the JSON Schema of ``merge --json``."""
    file = shape(
        {
            "file": TEXT,
            "store": described("Id of the store it came from.", TEXT),
            "entries": described("Entries of the journal that were new here.", COUNT),
            "known": described("Entries that were here already.", COUNT),
            "new": described(
                "How much is new, by what it is.",
                {"type": "object", "additionalProperties": {"type": "integer", "minimum": 1}},
            ),
            "assets": list_of(shape({"id": TEXT, "asset": TEXT}), "New ones."),
            "conflicts": list_of(_conflict(), "Those that this merge brought."),
            "rejudge": list_of(
                shape({"visit": TEXT, "asset_id": TEXT, "title": TEXT, "day": _DAY}),
                "Visits whose sections came together here and were judged apart.",
            ),
        }
    )
    return whole(
        "Bundles that were taken in", shape({**_HEAD, "dry_run": FLAG, "files": list_of(file, "In order.")})
    )


def conflicts_schema() -> Schema:
    """Return the JSON Schema of ``conflicts --json``."""
    return whole("What is in conflict", shape({**_HEAD, "conflicts": list_of(_conflict())}))


def settle_schema() -> Schema:
    """Return the JSON Schema of ``settle --json``."""
    value = described("That stands now, in SI; null for not stated.", {})
    return whole(
        "A conflict that was settled",
        shape({**_HEAD, "conflict": described("As it was.", _conflict()), "value": value}),
    )


def _conflict() -> Schema:
    claim = shape(
        {
            "value": described("Plain value in SI; null for not stated.", {}),
            "person": TEXT,
            "at": {"type": "string", "format": "date-time"},
            "entry": SHA256,
        }
    )
    claims = list_of(claim, "Values set without seeing each other, the one set last first.") | {"minItems": 1}
    return shape({"kind": _KINDS, "id": TEXT, "title": TEXT, "field": TEXT, "claims": claims})
