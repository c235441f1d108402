"""JSON Schema of ``trend --json``; keys may be added, ids do not change."""

from __future__ import annotations

from soakage.app.contract_json import CONTRACT
from soakage.app.schema_parts import (
    BOUND,
    COUNT,
    FLAG,
    NAMES,
    NUMBER,
    NUMBER_OR_NULL,
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

_TEXT_OR_NULL: Schema = {"type": ["string", "null"]}
_DAY: Schema = {"type": "string", "format": "date"}
_SHARE: Schema = {"type": "number", "minimum": 0, "maximum": 1}
_INTERVAL = {"value": NUMBER, "lower": NUMBER_OR_NULL, "upper": NUMBER_OR_NULL}


def trend_schema() -> Schema:
    """Return the JSON Schema of ``trend --json``.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12.
    """
    return whole(
        "Trends of an asset",
        shape(
            {
                "soakage": TEXT,
                "contract": {"const": CONTRACT},
                "asset": described("What names the asset, and its nameplate.", {"type": "object"}),
                "trends": list_of(_trend(), "One for each section, quantity and way of testing."),
                "due": work_list_schema(),
            }
        ),
    )


def work_list_schema() -> Schema:
    """Return the JSON Schema of a work list."""
    item = shape(
        {
            "asset": TEXT,
            "section": TEXT,
            "due": _DAY,
            "why": TEXT,
            "last_status": {"enum": list(STATUSES)},
            "last": _DAY,
            "source": described("Where the interval comes from.", TEXT),
        }
    )
    return list_of(item, "When each section is to be tested next.")


def _point() -> Schema:
    return shape(
        {
            "test": TEXT,
            "at": described("Day or moment, ISO 8601.", TEXT),
            "value": described("In SI.", NUMBER),
            "bound": BOUND,
            "uncertainty": NUMBER_OR_NULL,
            "status": {"enum": list(STATUSES)},
            "suspect": described("So far from the line that a slip is likelier than scatter.", FLAG),
        }
    )


def _trend() -> Schema:
    condition = shape(
        {
            "method": TEXT,
            "test_voltage": described("In volts.", NUMBER_OR_NULL),
            **dict.fromkeys(("tested", "earthed", "guarded", "attached"), NAMES),
            "neutral": _TEXT_OR_NULL,
        }
    )
    fall = or_null(
        described(
            "Share by which the latest value lies below; negative for a rise.",
            shape({"since": _DAY, "value": NUMBER, "bound": BOUND}),
        )
    )
    reach = shape(
        {
            "criterion": TEXT,
            "limit": described("In SI.", NUMBER),
            "date": _DAY,
            "lower": described("Earliest, 95 %; null where the interval is open.", or_null(_DAY)),
            "upper": or_null(_DAY),
        },
        description="When a criterion would be reached if the line went on. It foretells no failure.",
    )
    earlier = shape(
        {"from": TEXT, "to": TEXT, "points": list_of(_point()), "ended_by": described("Why it ended.", TEXT)}
    )
    rank_test = shape({"score": NUMBER, "tau": {"type": "number", "minimum": -1, "maximum": 1}, "p": _SHARE,
                       "exact": FLAG})  # fmt: skip
    return shape(
        {
            "section": TEXT,
            "quantity": {"type": "string", "pattern": quantity_id_pattern()},
            "rule": _TEXT_OR_NULL,
            "base_temperature": described("In kelvin.", NUMBER_OR_NULL),
            "condition": described("What the tests of this series have in common.", condition),
            "transform": described("ln: the slope is of the natural logarithm.", {"enum": ["ln", "none"]}),
            "points": list_of(_point(), "The current series by time."),
            "slope_per_year": or_null(
                described("With its 95 % interval; null where open.", shape(_INTERVAL))
            ),
            "line_from": described("First day the slope is drawn from.", or_null(_DAY)),
            "slope_reason": _TEXT_OR_NULL,
            "mann_kendall": or_null(rank_test),
            "change_point": or_null(shape({"at": _DAY, "size": NUMBER, "p": _SHARE})),
            "falls": shape({"from_last": fall, "from_first": fall}),
            "sisters": or_null(_sisters()),
            "peers": or_null(_peers()),
            "season": or_null(
                shape({"amplitude": NUMBER, "peak_day": {"type": "integer", "minimum": 1}, "p": _SHARE})
            ),
            "humidity": or_null(shape({"tau": NUMBER, "p": _SHARE, "count": COUNT})),
            "earlier_series": list_of(earlier, "Oldest first; never joined to the current one."),
            "reaches": or_null(reach),
            "reason": described("Why there is no date; null where there is one.", _TEXT_OR_NULL),
            "notes": NAMES,
            "caution": described("What published guidance holds of such dates.", TEXT),
        }
    )


def _sisters() -> Schema:
    value = shape({"section": TEXT, "value": NUMBER, "bound": BOUND})
    return shape(
        {
            "values": list_of(value, "Sister sections tested alike at the same visit."),
            "ratio": described("Value over the median of the sisters.", NUMBER_OR_NULL),
            "bound": BOUND,
        }
    )


def _peers() -> Schema:
    percent: Schema = {"type": ["number", "null"], "minimum": 0, "maximum": 100}
    return shape(
        {
            "group": described("What the peers have in common.", TEXT),
            "count": COUNT,
            "percentile": percent,
            "lower": percent,
            "upper": percent,
            "median": described("In SI.", NUMBER_OR_NULL),
            "reason": _TEXT_OR_NULL,
        }
    )
