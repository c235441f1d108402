"""JSON Schemas of what takes in, looks up and exports; keys may be added, ids do not change."""

from __future__ import annotations

from soakage.app.contract_json import CONTRACT
from soakage.app.contract_schema import judge_schema
from soakage.app.schema_parts import (
    BOUND,
    COUNT,
    FLAG,
    NAMES,
    NUMBER,
    NUMBER_OR_NULL,
    SHA256,
    STATUSES,
    TEXT,
    Schema,
    described,
    list_of,
    or_null,
    quantity_id_pattern,
    shape,
    whole,
)

_HEAD: Schema = {"soakage": TEXT, "contract": {"const": CONTRACT}}
_SAID: Schema = {"type": ["string", "null"]}
_STATUS: Schema = described(
    "Of the verdict that stands; null before one was given.", {"enum": [None, *STATUSES]}
)
_COUNTED: Schema = {"type": "integer", "minimum": 1}
_STATES: Schema = {"enum": ["current", "withdrawn"]}
_REVIEWS: Schema = {"enum": ["draft", "reviewed", "signed"]}
_ANY: Schema = {"type": "object"}


def import_schema() -> Schema:
    """Return the JSON Schema of ``import --json``.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12.
    """
    finding = shape(dict.fromkeys(("code", "sentence", "remedy"), TEXT))
    test = shape(
        {
            "test": TEXT,
            "asset": described("What a person calls it.", TEXT),
            "asset_id": _SAID,
            "section": TEXT,
            "known": described("It was there already.", FLAG),
            "status": _STATUS,
            "sentence": TEXT,
            "findings": list_of(finding, "What was noticed about its asset."),
        }
    )
    fault = judge_schema()["properties"]["errors"]["items"]
    file = shape(
        {
            "file": TEXT,
            "outcome": {"enum": ["added", "known", "refused"]},
            "tests": list_of(test, "In the order of the file."),
            "errors": list_of(fault, "Why it was refused."),
        }
    )
    return whole(
        "What came of an import",
        shape(
            {
                **_HEAD,
                "dry_run": FLAG,
                "files": list_of(file, "In the order they were read; of an export one for each test."),
                **dict.fromkeys(("added", "known", "refused", "tests_added"), COUNT),
                "assets_added": described("Their ids.", NAMES),
            },
            {"register_differs": described("What stands otherwise than in the export.", NAMES)},
        ),
    )


def list_schema() -> Schema:
    """Return the JSON Schema of ``list --json``."""
    test = shape(
        {
            "id": TEXT,
            **dict.fromkeys(("site", "asset", "asset_id", "day", "sentence"), _SAID),
            **dict.fromkeys(("section", "method"), TEXT),
            "status": _STATUS,
            "state": _STATES,
            "review": _REVIEWS,
            "revision": described("How many there are.", _COUNTED),
        }
    )
    asset = shape(
        {
            "id": TEXT,
            **dict.fromkeys(("site", "asset", "tag", "serial", "class", "last_day"), _SAID),
            "retired": FLAG,
            "tests": COUNT,
            "status": described("Worst of the newest visit; null without a test.", _STATUS),
        }
    )
    return whole(
        "Assets and tests of a store",
        shape(
            {
                **_HEAD,
                "tests": list_of(test, "The newest first."),
                "assets": list_of(asset, "By site and name."),
            }
        ),
    )


def show_schema() -> Schema:
    """Return the JSON Schema of ``show --json``: an asset or a test."""
    return whole("An asset or a test", {"oneOf": [_asset_page(), _test_page()]})


def _asset_page() -> Schema:
    figure = shape(
        {
            "value": NUMBER,
            "bound": BOUND,
            "uncertainty": NUMBER_OR_NULL,
            "rule": _SAID,
            "base_temperature": NUMBER_OR_NULL,
        }
    )
    figures = {
        "type": "object", "additionalProperties": figure, "propertyNames": {"pattern": quantity_id_pattern()},
    }  # fmt: skip
    standing = shape(
        {
            **dict.fromkeys(("tests", "unsigned"), COUNT),
            **dict.fromkeys(("day", "visit"), _SAID),
            "status": {"enum": list(STATUSES)},
            **dict.fromkeys(("resistance", "index", "fall"), NUMBER_OR_NULL),
        }
    )
    return shape(
        {
            **_HEAD,
            "kind": {"const": "asset"},
            "asset": described("Its id, and all that is stated of it, in SI.", _ANY),
            "sections": list_of(_ANY, "Name and what is stated of each."),
            "standing": described(
                "Where it stands by its newest visit; null without a test.", or_null(standing)
            ),
            "tests": list_of(shape({**_test(), "figures": figures}), "In order of day."),
            **_added(),
        }
    )


def _test_page() -> Schema:
    asset = shape({"id": TEXT, **dict.fromkeys(("site", "asset", "tag", "serial"), _SAID)})
    column: Schema = {"type": "array", "items": NUMBER_OR_NULL}
    readings = shape(
        {
            **dict.fromkeys(("time", "voltage", "current", "resistance"), column),
            "bound": described(
                "1: the truth is at or above the resistance; -1: at or below.", {"type": "array"}
            ),
        }
    )
    record = shape({"stated": _ANY, "extra": _ANY, "findings": {"type": "array"}, "readings": readings})
    revision = shape(
        {"number": _COUNTED, "content": SHA256, **dict.fromkeys(("reason", "person", "at"), TEXT)}
    )
    hashes = ("entry", "content", "profile_sha256", "criteria_sha256", "result")
    verdict = shape(
        {
            **dict.fromkeys(hashes, SHA256),
            **dict.fromkeys(("test", "profile", "version", "sentence", "at", "person", "reason"), TEXT),
            "status": {"enum": list(STATUSES)},
            "stands": FLAG,
        }
    )
    result = judge_schema()["properties"]["records"]["items"]
    return shape(
        {
            **_HEAD,
            "kind": {"const": "test"},
            "test": shape(_test()),
            "asset": or_null(asset),
            "record": described("As received, in SI.", record),
            "result": described("As judge --json gives it.", or_null(result)),
            "revisions": list_of(revision),
            "verdicts": list_of(verdict, "Every one given, in order."),
            **_added(),
            "origin": shape(
                {"file": TEXT, "sha256": SHA256, "row": {"type": ["integer", "null"]}, "kept": FLAG}
            ),
        }
    )


def _test() -> Schema:
    return {
        **dict.fromkeys(("id", "section", "method", "content"), TEXT),
        **dict.fromkeys(("asset_id", "visit", "instrument", "day", "started", "sentence", "reviewer"), _SAID),
        "test_voltage": NUMBER_OR_NULL,
        "revision": _COUNTED,
        "state": _STATES,
        "status": _STATUS,
        "review": _REVIEWS,
    }


def _added() -> Schema:
    names = ("notes", "events", "attachments", "reviews", "calibrations", "instruments")
    claim = shape({"value": {}, "person": TEXT, "at": TEXT, "entry": SHA256})
    return {
        **{name: list_of(_ANY) for name in names},
        "conflicts": list_of(
            shape({"field": TEXT, "claims": list_of(claim)}), "What two people changed apart."
        ),
    }


def export_schema() -> Schema:
    """Return the JSON Schema of ``export --json``."""
    counts = dict.fromkeys(("tests", "assets", "files"), COUNT)
    return whole(
        "What was exported",
        shape({**_HEAD, "folder": TEXT, "format": {"enum": ["record", "parquet", "xlsx", "json"]}, **counts}),
    )
