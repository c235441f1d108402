"""JSON Schemas of what the commands print with ``--json``; keys may be added, ids do not change."""

from __future__ import annotations

import re
from typing import Any

from soakage.app.contract_json import CONTRACT
from soakage.methods import methods
from soakage.model.keys import CLASSES
from soakage.model.verdict import Status
from soakage.quantities import GLOSSARY
from soakage.standards.criterion import Kind, Verified

DIALECT = "https://json-schema.org/draft/2020-12/schema"
STATUSES = tuple(str(status) for status in Status)
# Ids that carry times, as soakage.quantities.lookup resolves them; written for every dialect of patterns.
_SECONDS = "[0-9]+(?:[.][0-9]+)?s"
_TIMED = (f"insulation_resistance_{_SECONDS}(?:_corrected)?", f"resistance_ratio_{_SECONDS}_{_SECONDS}")
Schema = dict[str, Any]

_TEXT: Schema = {"type": "string"}
_FLAG: Schema = {"type": "boolean"}
_NUMBER: Schema = {"type": "number"}
_NUMBER_OR_NULL: Schema = {"type": ["number", "null"]}
_COUNT: Schema = {"type": "integer", "minimum": 0}
_NAMES: Schema = {"type": "array", "items": _TEXT}
_SHA256: Schema = {"type": "string", "pattern": "^([0-9a-f]{64})?$"}
_BOUND: Schema = {"enum": [None, "lower", "upper"]}
_VERIFIED: Schema = {"enum": [str(word) for word in Verified]}
_LIMIT_KINDS: Schema = {"enum": [str(kind) for kind in Kind]}


def _object(required: Schema, optional: Schema | None = None, description: str = "") -> Schema:
    shape: Schema = {
        "type": "object",
        "properties": {**required, **(optional or {})},
        "required": [*required],
    }
    return shape | ({"description": description} if description else {})


def _list(items: Schema, description: str = "") -> Schema:
    shape: Schema = {"type": "array", "items": items}
    return shape | ({"description": description} if description else {})


def _or_null(shape: Schema) -> Schema:
    return {"anyOf": [{"type": "null"}, shape]}


def _said(description: str, shape: Schema) -> Schema:
    return shape | {"description": description}


def _whole(title: str, shape: Schema) -> Schema:
    return {"$schema": DIALECT, "title": title, **shape}


def quantity_id_pattern() -> str:
    """Return the pattern every id of a quantity fits: those of the glossary and those that carry times."""
    return f"^(?:{'|'.join([*map(re.escape, GLOSSARY), *_TIMED])})$"


def judge_schema() -> Schema:
    """Return the JSON Schema of ``judge --json``.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12. Keys it does not name may be there; those it requires always are.
    """
    return _whole(
        "Result of judging record files",
        _object(
            {
                "soakage": _said("Version of the software.", _TEXT),
                "contract": {"const": CONTRACT},
                "profile": _object({"id": _TEXT, "sha256": _SHA256}, description="Rule set that judged."),
                "criteria_sha256": _said("Hash over all criteria files.", _SHA256),
                "records": _list(_record(), "In the order of the files and of their rows."),
                "visits": _list(_visit(), "Records of one asset and visit, reported together."),
                "errors": _list(_fault(), "What could not be read; good files are judged all the same."),
                "networks": _list(_network(), "Resistances between the terminals of one asset."),
            }
        ),
    )


def _record() -> Schema:
    names = {"propertyNames": {"pattern": quantity_id_pattern()}}
    return _object(
        {
            "record": _identity(),
            "quantities": {"type": "object", "additionalProperties": _quantity()} | names,
            "findings": _list(_finding(), "Worst first."),
            "judgements": _list(_judgement(), "Neediest first."),
            "verdict": _object(
                {
                    "status": {"enum": [word for word in STATUSES if word != Status.NOT_APPLICABLE]},
                    "sentence": _TEXT,
                    "actions": _NAMES,
                }
            ),
            "checks": _object({"made": _COUNT, "passed": _COUNT}),
            "not_tested": _list(_object({"what": _TEXT, "why": _TEXT})),
            "extra": _said("Keys the reader does not know, as text.", {"type": "object"})
            | {"additionalProperties": _TEXT},
        },
        {"steps": _list(_step(), "Of a step test."), "ramp": _ramp()},
    )


def _identity() -> Schema:
    said = ("site", "asset", "tag", "serial", "section", "circuit", "between", "visit", "started")
    return _object(
        {
            "file": _TEXT,
            "row": _said("Line of a schedule.", {"type": ["integer", "null"], "minimum": 1}),
            "sha256": _said("Hash of the file's bytes.", _SHA256),
            "method": {"enum": list(methods())},
            **dict.fromkeys(("tested", "earthed", "guarded"), _NAMES),
        },
        {"class": {"enum": list(CLASSES)}, **dict.fromkeys(said, _TEXT)},
        "What the record states of itself; a text that is not stated is absent.",
    )


def _quantity() -> Schema:
    return _object(
        {
            "value": _said("In SI; temperatures in kelvin.", _NUMBER),
            "unit": _TEXT,
            "bound": _said("lower: the truth is at or above the value; upper: at or below.", _BOUND),
            "uncertainty": _said(
                "Standard uncertainty; null where no accuracy was declared.", _NUMBER_OR_NULL
            ),
            "formula": _TEXT,
            "source": _TEXT,
        },
        {
            "uncertainty_reason": _TEXT,
            "rule": _said("Temperature rule of a corrected value.", _TEXT),
            "base_temperature": _said("Of that rule, in kelvin.", _NUMBER_OR_NULL),
            "inputs": {"type": "object", "additionalProperties": _TEXT},
        },
    )


def _finding() -> Schema:
    return _object(
        {
            "code": {"type": "string", "pattern": "^[a-z][a-z0-9_]*$"},
            "sentence": _TEXT,
            "status": _said("Best verdict it still allows; null where it only informs.", _status_or_null()),
            "remedy": _TEXT,
        }
    )


def _status_or_null() -> Schema:
    return {"enum": [None, *STATUSES]}


def _limit() -> Schema:
    return _object(
        {
            "kind": _LIMIT_KINDS,
            "lower": _NUMBER_OR_NULL,
            "upper": _NUMBER_OR_NULL,
            "unit": _TEXT,
            "text": _TEXT,
        }
    )


def _judgement() -> Schema:
    return _object(
        {
            "criterion": _said("Id of the criterion; it never changes.", _TEXT),
            "name": _TEXT,
            "quantity": {"type": "string", "pattern": quantity_id_pattern()},
            "value": _said("The value judged, in SI.", _NUMBER_OR_NULL),
            "limit": _or_null(_limit()),
            "status": {"enum": list(STATUSES)},
            "reason": _TEXT,
            "source": _TEXT,
            "verified": _VERIFIED,
            "decides": _said("Whether its absence holds the verdict back.", _FLAG),
            "user_limit": _FLAG,
            "data_sha256": _said("Hash of the criteria file; empty for a limit of your own.", _SHA256),
        }
    )


def _step() -> Schema:
    return _object(
        {
            "voltage": _NUMBER,
            "hold": _NUMBER_OR_NULL,
            "current": _NUMBER_OR_NULL,
            "resistance": _NUMBER_OR_NULL,
            "bound": _BOUND,
        }
    )


def _ramp() -> Schema:
    point = dict.fromkeys(("time", "voltage", "current", "apparent_capacitance"), _NUMBER)
    return _object({"measured_rate": _NUMBER_OR_NULL, "points": _list(_object(point))})


def _visit() -> Schema:
    members = _list(_COUNT, "Places in records, counted from 0.")
    return _object(
        {
            "asset": _TEXT,
            "visit": _TEXT,
            "records": members,
            "status": {"enum": list(STATUSES)},
            "sentence": _TEXT,
        }
    )


def _fault() -> Schema:
    row = {"type": ["integer", "null"], "minimum": 1}
    said = ("file", "field", "given", "problem", "allowed", "remedy")
    return _object({"row": row, **dict.fromkeys(said, _TEXT)})


def _network() -> Schema:
    pair = _object(
        {
            "between": _list(_TEXT) | {"minItems": 2, "maxItems": 2},
            "resistance": _said("In ohm; null where the readings do not resolve it.", _NUMBER_OR_NULL),
            "bound": _BOUND,
            "uncertainty": _NUMBER_OR_NULL,
            "resolved": _FLAG,
        }
    )
    consistent = _said("null without a check reading.", {"type": ["boolean", "null"]})
    return _object({"asset": _TEXT, "pairs": _list(pair), "consistent": consistent})


def explain_schema() -> Schema:
    """Return the JSON Schema of ``explain --json``.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12. ``value``, ``unit`` and ``inputs`` are there with numbers of one's own.
    """
    said = ("id", "kind", "title", "definition", "formula", "source", "example")
    worked = {
        "value": _NUMBER,
        "unit": _TEXT,
        "inputs": {"type": "object", "additionalProperties": {"type": ["number", "string"]}},
        "text": _TEXT,
        "status": {"enum": list(STATUSES)},
    }
    details = _list(_object({"name": _TEXT, "text": _TEXT}))
    return _whole(
        "Explanation of one id",
        _object({**dict.fromkeys(said, _TEXT), "verified": _VERIFIED, "details": details}, worked),
    )


def plan_schema() -> Schema:
    """Return the JSON Schema of ``plan --json``.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12. With a ``refusal`` nothing is planned.
    """
    voltage = _or_null(_voltage())
    pair = _object({"between": _list(_TEXT) | {"minItems": 2, "maxItems": 2}, "resolved": _FLAG})
    mark = _object(
        {
            "method": _TEXT,
            "time": _NUMBER,
            "unit": {"const": "s"},
            "required": _FLAG,
            "after_discharge": _FLAG,
        }
    )
    caution = _object({"step": _TEXT, "text": _TEXT, "source": _TEXT, "verified": _VERIFIED})
    method = dict.fromkeys(("title", "why", "source", "limits_of_use"), _TEXT)
    return _whole(
        "Plan of a test",
        _object(
            {
                "asset": _TEXT,
                "class": {"enum": [None, *CLASSES]},
                "purpose": {"type": ["string", "null"]},
                "hazardous_area": _TEXT,
                "refusal": _said("Why nothing is planned; null otherwise.", {"type": ["string", "null"]}),
                "rules": _TEXT,
                "methods": _list(_object({"id": {"enum": list(methods())}, **method, "verified": _VERIFIED})),
                "test_voltage": voltage,
                "connections": _list(_connection()),
                "pairs": _list(pair),
                "marks": _list(mark),
                "rising": _list(_rising(voltage)),
                "charging": _or_null(_charging()),
                "criteria": _list(_expected()),
                "earthing_time": _or_null(_earthing()),
                "cautions": _list(caution),
                "checklist": _NAMES,
                "notes": _NAMES,
            }
        ),
    )


def _voltage() -> Schema:
    said = dict.fromkeys(("table", "row", "source", "why"), _TEXT)
    numbers = dict.fromkeys(("value", "lower", "upper"), _NUMBER)
    return _object({**numbers, "unit": {"const": "V"}, **said, "verified": _VERIFIED})


def _connection() -> Schema:
    sets = dict.fromkeys(("methods", "tested", "earthed", "guarded"), _NAMES)
    observes = _list(_list(_TEXT) | {"minItems": 2, "maxItems": 2}, "Pairs this connection sees.")
    return _object(
        {
            **sets,
            "voltage": _NUMBER_OR_NULL,
            "unit": {"const": "V"},
            "earthing_time": _said("A minimum, in seconds.", _NUMBER),
            "observes": observes,
            "note": _TEXT,
        }
    )


def _rising(voltage: Schema) -> Schema:
    return _object(
        {
            "method": _TEXT,
            "test_voltage": voltage,
            "steps": _list(_NUMBER),
            "hold": _NUMBER_OR_NULL,
            "ramp_rate": _NUMBER_OR_NULL,
            "overvoltage": _FLAG,
            "conditions": _NAMES,
        }
    )


def _charging() -> Schema:
    numbers = dict.fromkeys(("capacitance", "charge", "energy", "current", "time"), _NUMBER_OR_NULL)
    return _object({**numbers, "source": _TEXT, "text": _TEXT})


def _expected() -> Schema:
    reading = _object({"temperature": _said("In kelvin.", _NUMBER), "resistance": _NUMBER})
    return _object(
        {
            **dict.fromkeys(("criterion", "name", "source"), _TEXT),
            "quantity": {"type": "string", "pattern": quantity_id_pattern()},
            "limit": _or_null(_limit()),
            "reason": {"type": ["string", "null"]},
            "readings": _list(reading, "What may be read at other temperatures to meet the limit."),
            "rule": _said("Temperature rule of those readings.", {"type": ["string", "null"]}),
            "verified": _VERIFIED,
            "decides": _FLAG,
            "connections": _NAMES,
        },
        {"rule_verified": {"enum": [None, *map(str, Verified)]}},
    )


def _earthing() -> Schema:
    return _object(
        {
            "value": _said("A minimum, in seconds.", _NUMBER),
            "unit": {"const": "s"},
            "time_under_voltage": _NUMBER,
            "text": _TEXT,
            "source": _TEXT,
            "verified": _VERIFIED,
        }
    )
