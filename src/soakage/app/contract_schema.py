"""JSON Schemas of ``judge --json`` and ``explain --json``; keys may be added, ids do not change."""

from __future__ import annotations

from soakage.app.contract_dry_out import dry_out_schema
from soakage.app.contract_json import CONTRACT
from soakage.app.diagnosis_schema import diagnosis_properties, schedule_shape
from soakage.app.schema_parts import (
    BOUND,
    COUNT,
    FLAG,
    NAMES,
    NUMBER,
    NUMBER_OR_NULL,
    SHA256,
    SHARE_OR_NULL,
    STATUSES,
    TEXT,
    VERIFIED,
    Schema,
    described,
    limit_shape,
    list_of,
    or_null,
    quantity_id_pattern,
    shape,
    whole,
)
from soakage.methods import methods
from soakage.model.keys import CLASSES
from soakage.model.verdict import Status


def judge_schema() -> Schema:
    """Return the JSON Schema of ``judge --json``.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12. Keys it does not name may be there; those it requires always are.
    """
    return whole(
        "Result of judging record files",
        shape(
            {
                "soakage": described("Version of the software.", TEXT),
                "contract": {"const": CONTRACT},
                "profile": shape({"id": TEXT, "sha256": SHA256}, description="Rule set that judged."),
                "criteria_sha256": described("Hash over all criteria files.", SHA256),
                "records": list_of(_record(), "In the order of the files and of their rows."),
                "visits": list_of(_visit(), "Records of one asset and visit, reported together."),
                "errors": list_of(_fault(), "What could not be read; good files are judged all the same."),
                "networks": list_of(_network(), "Resistances between the terminals of one asset."),
                "dry_out": list_of(dry_out_schema(), "How far the drying of a winding has come."),
                "schedule": list_of(
                    schedule_shape(), "Step tests of graded times, held against a straight line."
                ),
            }
        ),
    )


def _record() -> Schema:
    names = {"propertyNames": {"pattern": quantity_id_pattern()}}
    return shape(
        {
            "record": _identity(),
            "quantities": {"type": "object", "additionalProperties": _quantity()} | names,
            "findings": list_of(_finding(), "Worst first."),
            "judgements": list_of(_judgement(), "Neediest first."),
            "verdict": shape(
                {
                    "status": {"enum": [word for word in STATUSES if word != Status.NOT_APPLICABLE]},
                    "sentence": TEXT,
                    "actions": NAMES,
                }
            ),
            "checks": shape({"made": COUNT, "passed": COUNT}),
            "not_tested": list_of(shape({"what": TEXT, "why": TEXT})),
            "extra": described("Keys the reader does not know, as text.", {"type": "object"})
            | {"additionalProperties": TEXT},
        },
        {
            "steps": list_of(_step(), "Of a step test."),
            "ramp": _ramp(),
            **diagnosis_properties(),
        },
    )


def _identity() -> Schema:
    said = ("site", "asset", "tag", "serial", "section", "circuit", "between", "visit", "started")
    return shape(
        {
            "file": TEXT,
            "row": described("Line of a schedule.", {"type": ["integer", "null"], "minimum": 1}),
            "sha256": described("Hash of the file's bytes.", SHA256),
            "method": {"enum": list(methods())},
            **dict.fromkeys(("tested", "earthed", "guarded"), NAMES),
        },
        {"class": {"enum": list(CLASSES)}, **dict.fromkeys(said, TEXT)},
        "What the record states of itself; a text that is not stated is absent.",
    )


def _quantity() -> Schema:
    return shape(
        {
            "value": described("In SI; temperatures in kelvin.", NUMBER),
            "unit": TEXT,
            "bound": described("lower: the truth is at or above the value; upper: at or below.", BOUND),
            "uncertainty": described(
                "Standard uncertainty; null where no accuracy was declared.", NUMBER_OR_NULL
            ),
            "formula": TEXT,
            "source": TEXT,
        },
        {
            "uncertainty_reason": TEXT,
            "rule": described("Temperature rule of a corrected value.", TEXT),
            "base_temperature": described("Of that rule, in kelvin.", NUMBER_OR_NULL),
            "inputs": {"type": "object", "additionalProperties": TEXT},
            "budget": list_of(_contribution(), "What makes up the uncertainty, the largest first."),
        },
    )


def _contribution() -> Schema:
    share = {"type": "number", "minimum": 0, "maximum": 1}
    return shape({"name": TEXT, "uncertainty": NUMBER, "share": described("Of the variance.", share)})


def _finding() -> Schema:
    return shape(
        {
            "code": {"type": "string", "pattern": "^[a-z][a-z0-9_]*$"},
            "sentence": TEXT,
            "status": described(
                "Best verdict it still allows; null where it only informs.", _status_or_null()
            ),
            "remedy": TEXT,
        }
    )


def _status_or_null() -> Schema:
    return {"enum": [None, *STATUSES]}


def _judgement() -> Schema:
    return shape(
        {
            "criterion": described("Id of the criterion; it never changes.", TEXT),
            "name": TEXT,
            "quantity": {"type": "string", "pattern": quantity_id_pattern()},
            "value": described("The value judged, in SI.", NUMBER_OR_NULL),
            "limit": or_null(limit_shape()),
            "status": {"enum": list(STATUSES)},
            "reason": TEXT,
            "source": TEXT,
            "verified": VERIFIED,
            "decides": described("Whether its absence holds the verdict back.", FLAG),
            "user_limit": FLAG,
            "data_sha256": described("Hash of the criteria file; empty for a limit of your own.", SHA256),
            "probability": described("That the true value meets the limit.", SHARE_OR_NULL),
            "guard_band": described(
                "Distance from the limit from which it is met with 95 %.", NUMBER_OR_NULL
            ),
        }
    )


def _step() -> Schema:
    return shape(
        {
            "voltage": NUMBER,
            "hold": NUMBER_OR_NULL,
            "current": NUMBER_OR_NULL,
            "resistance": NUMBER_OR_NULL,
            "bound": BOUND,
        }
    )


def _ramp() -> Schema:
    point = dict.fromkeys(("time", "voltage", "current", "apparent_capacitance"), NUMBER)
    return shape({"measured_rate": NUMBER_OR_NULL, "points": list_of(shape(point))})


def _visit() -> Schema:
    members = list_of(COUNT, "Places in records, counted from 0.")
    return shape(
        {
            "asset": TEXT,
            "visit": TEXT,
            "records": members,
            "status": {"enum": list(STATUSES)},
            "sentence": TEXT,
        }
    )


def _fault() -> Schema:
    row = {"type": ["integer", "null"], "minimum": 1}
    said = ("file", "field", "given", "problem", "allowed", "remedy")
    return shape({"row": row, **dict.fromkeys(said, TEXT)})


def _network() -> Schema:
    pair = shape(
        {
            "between": list_of(TEXT) | {"minItems": 2, "maxItems": 2},
            "resistance": described("In ohm; null where the readings do not resolve it.", NUMBER_OR_NULL),
            "bound": BOUND,
            "uncertainty": NUMBER_OR_NULL,
            "resolved": FLAG,
            "at_least": described("What is known of an unresolved pair, in ohm.", NUMBER_OR_NULL),
        }
    )
    consistent = described("null without a check reading.", {"type": ["boolean", "null"]})
    chance = described(
        "Of readings that agree missing by as much; null without uncertainties.", SHARE_OR_NULL
    )
    sets = dict.fromkeys(("tested", "earthed", "guarded"), NAMES)
    return shape(
        {
            "asset": TEXT,
            "pairs": list_of(pair),
            "consistent": consistent,
            "probability": chance,
            "suggestion": or_null(shape({**sets, "sentence": TEXT}, description="What to read next.")),
            "set_aside": described("Readings not used, each with its reason.", NAMES),
        }
    )


def explain_schema() -> Schema:
    """Return the JSON Schema of ``explain --json``.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12. ``value``, ``unit`` and ``inputs`` are there with numbers of one's own.
    """
    said = ("id", "kind", "title", "definition", "formula", "source", "example")
    worked = {
        "value": NUMBER,
        "unit": TEXT,
        "inputs": {"type": "object", "additionalProperties": {"type": ["number", "string"]}},
        "text": TEXT,
        "status": {"enum": list(STATUSES)},
    }
    details = list_of(shape({"name": TEXT, "text": TEXT}))
    return whole(
        "Explanation of one id",
        shape({**dict.fromkeys(said, TEXT), "verified": VERIFIED, "details": details}, worked),
    )
