"""A plan as plain values, in the shape of the contract; SI units."""

from __future__ import annotations

from typing import Any

from soakage.app.plan import Plan
from soakage.app.plan_charging import HOLD
from soakage.app.plan_criteria import Expected
from soakage.app.plan_graded import SOURCE, VERIFIED
from soakage.app.plan_rising import Rising
from soakage.app.plan_voltage import Voltage


def plan_json(plan: Plan) -> dict[str, Any]:
    """Return a plan as JSON-able values.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict
        ``refusal`` is null where something is planned; with a refusal the lists are empty.
    """
    return {
        "asset": plan.asset.title,
        "class": plan.asset.asset_class,
        "purpose": plan.paper.purpose,
        "hazardous_area": plan.paper.hazardous_area or "not stated",
        "refusal": plan.refusal or None,
        "rules": plan.rules,
        "methods": [
            {"id": entry.method.id, "title": entry.method.title, "why": entry.why,
             "source": entry.method.source, "verified": entry.method.verified,
             "limits_of_use": entry.method.limits_of_use}
            for entry in plan.methods
        ],
        "test_voltage": _voltage(plan.test_voltage),
        "connections": [
            {"methods": list(c.methods), "tested": list(c.tested), "earthed": list(c.earthed),
             "guarded": list(c.guarded), "voltage": c.voltage, "unit": "V", "earthing_time": e.time,
             "observes": [list(pair) for pair in c.observes], "note": c.note}
            for c, e in zip(plan.connections, plan.earthings, strict=True)
        ],
        "pairs": [{"between": list(pair), "resolved": pair in plan.resolved} for pair in plan.pairs],
        "marks": [
            {"method": entry.method.id, "time": mark.time, "unit": "s", "required": mark.required,
             "after_discharge": mark.after_discharge}
            for entry in plan.methods for mark in entry.method.marks
        ],
        "rising": [_rising(entry) for entry in plan.rising],
        "schedule": _schedule(plan),
        "charging": _charging(plan),
        "criteria": [_criterion(entry) for entry in plan.criteria],
        "earthing_time": _earthing(plan),
        "cautions": [
            {"step": c.step, "text": c.text, "source": c.source, "verified": c.verified}
            for c in plan.cautions
        ],
        "checklist": list(plan.checklist),
        "notes": list(plan.notes),
    }  # fmt: skip


def _voltage(voltage: Voltage | None) -> dict[str, Any] | None:
    if voltage is None:
        return None
    return {
        "value": voltage.value, "unit": "V", "lower": voltage.low, "upper": voltage.high,
        "table": voltage.table, "row": voltage.row, "source": voltage.source, "verified": voltage.verified,
        "why": voltage.why,
    }  # fmt: skip


def _rising(entry: Rising) -> dict[str, Any]:
    return {
        "method": entry.method, "test_voltage": _voltage(entry.voltage), "steps": list(entry.steps),
        "hold": HOLD if entry.steps and entry.graded is None else None,
        "ramp_rate": entry.rate, "overvoltage": entry.overvoltage, "conditions": list(entry.conditions),
    }  # fmt: skip


def _schedule(plan: Plan) -> dict[str, Any] | None:
    if plan.schedule is None:
        return None
    method, times = plan.schedule
    return {
        "method": method, "absorption_exponent": times.absorption_exponent,
        "exponent_source": times.exponent_source, "total": times.total,
        "steps": [
            {"voltage": volts, "start": start, "end": end, "hold": end - start}
            for volts, start, end in zip(times.voltages, times.starts, times.ends, strict=True)
        ],
        "source": SOURCE, "verified": VERIFIED,
    }  # fmt: skip


def _charging(plan: Plan) -> dict[str, Any] | None:
    if plan.charging is None:
        return None
    c = plan.charging
    return {
        "capacitance": c.capacitance, "source": c.source, "charge": c.charge, "energy": c.energy,
        "current": c.current, "time": c.time, "text": c.text,
    }  # fmt: skip


def _criterion(entry: Expected) -> dict[str, Any]:
    limit = entry.limit
    return {
        "criterion": entry.id,
        "name": entry.name,
        "quantity": entry.quantity,
        "limit": {"kind": limit.kind, "lower": limit.lower, "upper": limit.upper, "unit": limit.unit,
                  "text": limit.text} if limit else None,
        "reason": entry.reason or None,
        "readings": [{"temperature": t + 273.15, "resistance": r} for t, r in entry.readings],
        "rule": entry.rule or None,
        "rule_verified": entry.rule_verified or None,
        "source": entry.source,
        "verified": entry.verified,
        "decides": entry.decides,
        "connections": list(entry.for_what),
    }  # fmt: skip


def _earthing(plan: Plan) -> dict[str, Any] | None:
    if plan.earthing is None:
        return None
    e = plan.earthing
    return {
        "value": e.time, "unit": "s", "time_under_voltage": e.under_voltage, "text": e.text,
        "source": e.source, "verified": e.verified,
    }  # fmt: skip
