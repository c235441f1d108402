"""What the whole curve tells, as JSON: fit, forecast, step conductances, knee, probable causes."""

from __future__ import annotations

import math
from typing import Any

from soakage.app.ramp_split import split_json
from soakage.app.result import Evaluated, Evaluation
from soakage.standards.causes import Ranked

Json = dict[str, Any]


def diagnosis_json(evaluated: Evaluated) -> Json:
    """Return the diagnosis of one record; keys are there only where there is something to say.

    Parameters
    ----------
    evaluated : Evaluated
        The record.

    Returns
    -------
    dict
        ``causes`` always; ``fit``, ``forecast``, ``step_conductances``, ``knee`` where they were found.
    """
    result: Json = {"causes": [_cause(ranked) for ranked in evaluated.causes]}
    if evaluated.fit is not None:
        fit = evaluated.fit
        result["fit"] = {
            "follows_model": fit.follows_model,
            "reason": fit.reason,
            "scatter": _plain(fit.scatter),
            "correlation": _plain(fit.correlation),
        }
    if evaluated.forecast is not None:
        foreseen = evaluated.forecast
        result["forecast"] = {
            "quantity": foreseen.quantity,
            "at": foreseen.at,
            "seen_until": foreseen.seen_until,
            "estimate": foreseen.estimate,
            "lower": foreseen.lower,
            "upper": foreseen.upper,
            "probability_meets": foreseen.probability_meets,
            "archive_tests": foreseen.archive_tests,
            "scale": foreseen.scale,
        }
        if foreseen.probability_meets is None:
            result["forecast"]["reason"] = foreseen.reason
    if evaluated.step_conductances:
        result["step_conductances"] = [
            {
                "voltage": step.voltage,
                "conductance": _plain(step.conductance),
                "uncertainty": _plain(step.uncertainty),
            }
            for step in evaluated.step_conductances
        ]
    if evaluated.ramp_split is not None:
        result["ramp_split"] = split_json(evaluated.ramp_split)
    if evaluated.knee is not None:
        knee = evaluated.knee
        result["knee"] = {
            "onset": knee.onset,
            "noticed_at": knee.noticed_at,
            "excess_share": _plain(knee.excess_share),
            "confidence": _plain(knee.confidence),
        }
    return result


def schedules_json(evaluation: Evaluation) -> list[Json]:
    """Return the graded step tests among the records, each with its line.

    Parameters
    ----------
    evaluation : Evaluation
        The result.

    Returns
    -------
    list of dict
        Empty without such a test; ``record`` is its place in ``records``.
    """
    return [
        {
            "record": place,
            "asset": item.record.asset.title,
            "absorption_exponent": item.graded.absorption_exponent,
            "steps": [
                {"voltage": s.voltage, "start": s.start, "end": s.end, "current": s.current}
                for s in item.graded.steps
            ],
            "line": {
                "conductance": item.graded.conductance,
                "uncertainty": item.graded.conductance_uncertainty,
                "departure": item.graded.departure,
                "lower": item.graded.lower,
                "upper": item.graded.upper,
                "straight": item.graded.straight,
                "expected": item.graded.expected,
            },
        }
        for place, item in enumerate(evaluation.records)
        if item.graded is not None
    ]


def _plain(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _cause(ranked: Ranked) -> Json:
    return {
        "id": ranked.cause.id,
        "name": ranked.cause.name,
        "weight": ranked.weight,
        "evidence": [*ranked.pro, *(f"against: {text}" for text in ranked.con)],
        "confirm_by": ranked.cause.confirm_by,
        "next_test": ranked.cause.next_test,
        "source": ranked.cause.source,
        "verified": str(ranked.cause.verified),
    }
