"""A dry-out as JSON, and the JSON Schema of it."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from soakage.app.result import DryOut, Estimate
from soakage.app.schema_parts import (
    COUNT,
    FLAG,
    NAMES,
    NUMBER,
    NUMBER_OR_NULL,
    TEXT,
    Schema,
    described,
    list_of,
    or_null,
    shape,
)
from soakage.physics.dry_out import (
    AT_MINIMUM,
    FALLING,
    FALLING_AGAIN,
    LEVELLING,
    RISING,
    STEADY,
    TOO_FEW,
)

STAGES = (TOO_FEW, FALLING, AT_MINIMUM, RISING, LEVELLING, STEADY, FALLING_AGAIN)


def dry_out_json(dry_out: DryOut) -> dict[str, Any]:
    """Return a dry-out in SI: times in seconds from its first reading, temperatures in kelvin.

    Parameters
    ----------
    dry_out : DryOut
        From :func:`soakage.app.dry_out.dry_outs`.

    Returns
    -------
    dict
        Ready for ``json.dumps``.
    """
    return {
        "asset": dry_out.asset,
        "stage": dry_out.stage,
        "points": [{**asdict(point), "at": point.at.isoformat()} for point in dry_out.points],
        "rule": dry_out.rule,
        "base_temperature": dry_out.base_temperature,
        "minimum": dry_out.minimum,
        "time_constant": _estimate(dry_out.time_constant),
        "levels_at": _estimate(dry_out.levels_at),
        "level": dry_out.level,
        "reason": dry_out.reason,
        "steady_for": dry_out.steady_for,
        "steady_needed": dry_out.steady_needed,
        "index_met": dry_out.index_met,
        "stop": dry_out.stop,
        "sentence": dry_out.sentence,
        "cautions": list(dry_out.cautions),
    }


def _estimate(estimate: Estimate | None) -> dict[str, float | None] | None:
    return None if estimate is None else asdict(estimate)


def dry_out_schema() -> Schema:
    """Return the JSON Schema of one dry-out."""
    interval = shape({"value": NUMBER, "lower": NUMBER_OR_NULL, "upper": NUMBER_OR_NULL})
    point = shape(
        {
            "record": described("Place in records, counted from 0.", COUNT),
            "at": TEXT,
            "elapsed": described("From the first reading, in seconds.", NUMBER),
            "resistance": described("At the base temperature, in ohm.", NUMBER),
            "as_read": NUMBER,
            "temperature": described("In kelvin.", NUMBER_OR_NULL),
            "index": NUMBER_OR_NULL,
        }
    )
    return shape(
        {
            "asset": TEXT,
            "stage": {"enum": list(STAGES)},
            "points": list_of(point, "Readings used, by time."),
            "rule": described("Temperature rule; empty where readings are as read.", TEXT),
            "base_temperature": NUMBER_OR_NULL,
            "minimum": described("Place of the lowest in points.", or_null(COUNT)),
            "time_constant": described("In seconds, with its 90 % interval.", or_null(interval)),
            "levels_at": described("In seconds from the first reading.", or_null(interval)),
            "level": described("Resistance it tends to, in ohm.", NUMBER_OR_NULL),
            "reason": described("Why nothing is estimated; empty otherwise.", TEXT),
            "steady_for": NUMBER,
            "steady_needed": NUMBER,
            "index_met": or_null(FLAG),
            "stop": described("Whether the stop rule is met; no leave to energise.", FLAG),
            "sentence": TEXT,
            "cautions": NAMES,
        }
    )
