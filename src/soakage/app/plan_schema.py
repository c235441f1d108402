"""JSON Schema of ``plan --json``; keys may be added, ids do not change."""

from __future__ import annotations

from soakage.app.schema_parts import (
    FLAG,
    NAMES,
    NUMBER,
    NUMBER_OR_NULL,
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
from soakage.standards.criterion import Verified


def plan_schema() -> Schema:
    """Return the JSON Schema of ``plan --json``.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12. With a ``refusal`` nothing is planned.
    """
    voltage = or_null(_voltage())
    pair = shape({"between": list_of(TEXT) | {"minItems": 2, "maxItems": 2}, "resolved": FLAG})
    mark = shape(
        {
            "method": TEXT,
            "time": NUMBER,
            "unit": {"const": "s"},
            "required": FLAG,
            "after_discharge": FLAG,
        }
    )
    caution = shape({"step": TEXT, "text": TEXT, "source": TEXT, "verified": VERIFIED})
    method = dict.fromkeys(("title", "why", "source", "limits_of_use"), TEXT)
    return whole(
        "Plan of a test",
        shape(
            {
                "asset": TEXT,
                "class": {"enum": [None, *CLASSES]},
                "purpose": {"type": ["string", "null"]},
                "hazardous_area": TEXT,
                "refusal": described("Why nothing is planned; null otherwise.", {"type": ["string", "null"]}),
                "rules": TEXT,
                "methods": list_of(shape({"id": {"enum": list(methods())}, **method, "verified": VERIFIED})),
                "test_voltage": voltage,
                "connections": list_of(_connection()),
                "pairs": list_of(pair),
                "marks": list_of(mark),
                "rising": list_of(_rising(voltage)),
                "schedule": or_null(_schedule()),
                "charging": or_null(_charging()),
                "criteria": list_of(_expected()),
                "earthing_time": or_null(_earthing()),
                "cautions": list_of(caution),
                "checklist": NAMES,
                "notes": NAMES,
            }
        ),
    )


def _voltage() -> Schema:
    said = dict.fromkeys(("table", "row", "source", "why"), TEXT)
    numbers = dict.fromkeys(("value", "lower", "upper"), NUMBER)
    return shape({**numbers, "unit": {"const": "V"}, **said, "verified": VERIFIED})


def _connection() -> Schema:
    sets = dict.fromkeys(("methods", "tested", "earthed", "guarded"), NAMES)
    observes = list_of(list_of(TEXT) | {"minItems": 2, "maxItems": 2}, "Pairs this connection sees.")
    return shape(
        {
            **sets,
            "voltage": NUMBER_OR_NULL,
            "unit": {"const": "V"},
            "earthing_time": described("A minimum, in seconds.", NUMBER),
            "observes": observes,
            "note": TEXT,
        }
    )


def _rising(voltage: Schema) -> Schema:
    return shape(
        {
            "method": TEXT,
            "test_voltage": voltage,
            "steps": list_of(NUMBER),
            "hold": NUMBER_OR_NULL,
            "ramp_rate": NUMBER_OR_NULL,
            "overvoltage": FLAG,
            "conditions": NAMES,
        }
    )


def _schedule() -> Schema:
    step = dict.fromkeys(("voltage", "start", "end", "hold"), NUMBER)
    return shape(
        {
            "method": {"enum": list(methods())},
            "absorption_exponent": NUMBER,
            "exponent_source": TEXT,
            "total": described("Time under voltage, in seconds.", NUMBER),
            "steps": list_of(shape(step), "In volts and seconds since the first voltage; read at each end."),
            "source": TEXT,
            "verified": VERIFIED,
        },
        description="Times of a graded step test; null without one.",
    )


def _charging() -> Schema:
    numbers = dict.fromkeys(("capacitance", "charge", "energy", "current", "time"), NUMBER_OR_NULL)
    return shape({**numbers, "source": TEXT, "text": TEXT})


def _expected() -> Schema:
    reading = shape({"temperature": described("In kelvin.", NUMBER), "resistance": NUMBER})
    return shape(
        {
            **dict.fromkeys(("criterion", "name", "source"), TEXT),
            "quantity": {"type": "string", "pattern": quantity_id_pattern()},
            "limit": or_null(limit_shape()),
            "reason": {"type": ["string", "null"]},
            "readings": list_of(reading, "What may be read at other temperatures to meet the limit."),
            "rule": described("Temperature rule of those readings.", {"type": ["string", "null"]}),
            "verified": VERIFIED,
            "decides": FLAG,
            "connections": NAMES,
        },
        {"rule_verified": {"enum": [None, *map(str, Verified)]}},
    )


def _earthing() -> Schema:
    return shape(
        {
            "value": described("A minimum, in seconds.", NUMBER),
            "unit": {"const": "s"},
            "time_under_voltage": NUMBER,
            "text": TEXT,
            "source": TEXT,
            "verified": VERIFIED,
        }
    )
