"""The result as JSON: the shapes of ``judge --json``, SI throughout, ids that do not change."""

from __future__ import annotations

import math
from typing import Any

from soakage.app.contract_diagnosis import diagnosis_json, schedules_json
from soakage.app.contract_dry_out import dry_out_json
from soakage.app.result import Evaluated, Evaluation, Network
from soakage.errors import Fault
from soakage.model.verdict import Finding, Judgement, QuantityValue, Status
from soakage.quantities import lookup

CONTRACT = 1
Json = dict[str, Any]


def evaluation_json(evaluation: Evaluation) -> Json:
    """Return the whole result in the shape of the contract.

    Parameters
    ----------
    evaluation : Evaluation
        From :func:`soakage.app.evaluate.evaluate`.

    Returns
    -------
    dict
        Ready for ``json.dumps``; temperatures in kelvin, statuses spelled as in the contract.
    """
    return {
        "soakage": evaluation.rules.version,
        "contract": CONTRACT,
        "profile": {"id": evaluation.rules.profile, "sha256": evaluation.rules.profile_sha256},
        "criteria_sha256": evaluation.rules.criteria_sha256,
        "records": [record_json(evaluated) for evaluated in evaluation.records],
        "visits": [
            {
                "asset": visit.asset,
                "visit": visit.name,
                "records": list(visit.members),
                "status": str(visit.status),
                "sentence": visit.sentence,
            }
            for visit in evaluation.visits
        ],
        "errors": [fault_json(fault) for fault in evaluation.errors],
        "networks": [_network(network) for network in evaluation.networks],
        "dry_out": [dry_out_json(dry_out) for dry_out in evaluation.dry_out],
        "schedule": schedules_json(evaluation),
    }


def exit_code(evaluation: Evaluation) -> int:
    """Return 1 for any record investigate or unfit, else 2 for any not judged or unreadable, else 0."""
    statuses = {evaluated.verdict.status for evaluated in evaluation.records}
    if statuses & {Status.INVESTIGATE, Status.UNFIT}:
        return 1
    if evaluation.errors or not statuses or statuses & {Status.NOT_JUDGED, Status.INVALID_TEST}:
        return 2
    return 0


def fault_json(fault: Fault) -> Json:
    """Return a fault: file, row, field, what was given, what is allowed, what to do."""
    return {
        "file": fault.file,
        "row": fault.row,
        "field": fault.field,
        "given": fault.given,
        "problem": fault.problem,
        "allowed": fault.allowed,
        "remedy": fault.remedy,
    }


def record_json(evaluated: Evaluated) -> Json:
    """Return one record with everything said about it, as it stands in ``records``."""
    record = evaluated.record
    asset, test = record.asset, record.test
    identity = {
        "site": asset.site,
        "asset": asset.name,
        "tag": asset.tag,
        "serial": asset.serial,
        "section": asset.section,
        "class": asset.asset_class,
        "circuit": asset.circuit,
        "between": asset.between,
        "method": test.method,
        "visit": record.paper.visit,
        "started": test.started.isoformat() if test.started else None,
        "tested": list(test.tested),
        "earthed": list(test.earthed),
        "guarded": list(test.guarded),
    }
    result: Json = {
        "record": {
            "file": record.origin.file,
            "row": record.origin.row,
            "sha256": record.origin.sha256,
            **{key: value for key, value in identity.items() if value is not None},
        },
        "quantities": {name: quantity_json(quantity) for name, quantity in evaluated.quantities.items()},
        "findings": [_finding(finding) for finding in evaluated.findings],
        "judgements": [_judgement(judgement) for judgement in evaluated.judgements],
        "verdict": {
            "status": str(evaluated.verdict.status),
            "sentence": evaluated.verdict.sentence,
            "actions": list(evaluated.verdict.actions),
        },
        "checks": {"made": evaluated.checks_made, "passed": evaluated.checks_passed},
        "not_tested": [{"what": entry.what, "why": entry.why} for entry in evaluated.not_tested],
        "extra": dict(record.extra),
    }
    result |= diagnosis_json(evaluated)
    if evaluated.steps:
        result["steps"] = [
            {
                "voltage": row.voltage,
                "hold": row.hold,
                "current": _plain(row.current),
                "resistance": _plain(row.resistance),
                "bound": row.bound,
            }
            for row in evaluated.steps
        ]
    if evaluated.ramp:
        result["ramp"] = {
            "measured_rate": evaluated.measured_ramp_rate,
            "points": [
                {
                    "time": row.time,
                    "voltage": row.voltage,
                    "current": row.current,
                    "apparent_capacitance": row.apparent_capacitance,
                }
                for row in evaluated.ramp
            ],
        }
    return result


def _plain(value: float) -> float | None:
    return value if math.isfinite(value) else None


def quantity_json(quantity: QuantityValue) -> Json:
    """Return one quantity in SI with bound, uncertainty, formula and source."""
    result: Json = {
        "value": quantity.value,
        "unit": lookup(quantity.id).unit,
        "bound": quantity.bound,
        "uncertainty": quantity.uncertainty,
        "formula": quantity.formula,
        "source": quantity.source,
    }
    if quantity.uncertainty is None:
        result["uncertainty_reason"] = "no accuracy declared, or none holds for this quantity"
    if quantity.rule is not None:
        result["rule"] = quantity.rule
        result["base_temperature"] = quantity.base_temperature
    if quantity.inputs:
        result["inputs"] = dict(quantity.inputs)
    if quantity.budget:
        result["budget"] = [
            {"name": part.name, "uncertainty": part.uncertainty, "share": part.share}
            for part in quantity.budget
        ]
    return result


def _finding(finding: Finding) -> Json:
    return {
        "code": finding.code,
        "sentence": finding.sentence,
        "status": str(finding.status) if finding.status else None,
        "remedy": finding.remedy,
    }


def _judgement(judgement: Judgement) -> Json:
    limit = judgement.limit
    return {
        "criterion": judgement.criterion,
        "name": judgement.name,
        "quantity": judgement.quantity,
        "value": judgement.value,
        "limit": None
        if limit is None
        else {
            "kind": limit.kind,
            "lower": limit.lower,
            "upper": limit.upper,
            "unit": limit.unit,
            "text": limit.text,
        },
        "status": str(judgement.status),
        "reason": judgement.reason,
        "source": judgement.source,
        "verified": judgement.verified,
        "decides": judgement.decides,
        "user_limit": judgement.user_limit,
        "data_sha256": judgement.data_hash,
        "probability": judgement.probability,
        "guard_band": judgement.guard_band,
    }


def _network(network: Network) -> Json:
    return {
        "asset": network.asset,
        "pairs": [
            {
                "between": list(pair.between),
                "resistance": pair.resistance,
                "bound": pair.bound,
                "uncertainty": pair.uncertainty,
                "resolved": pair.resolved,
                "at_least": pair.at_least,
            }
            for pair in network.pairs
        ],
        "consistent": network.consistent,
        "probability": network.probability,
        "suggestion": None
        if network.suggestion is None
        else {
            "tested": list(network.suggestion.tested),
            "earthed": list(network.suggestion.earthed),
            "guarded": list(network.suggestion.guarded),
            "sentence": network.suggestion.sentence,
        },
        "set_aside": list(network.set_aside),
    }
