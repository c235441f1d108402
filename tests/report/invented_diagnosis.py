"""What the whole curve tells, built by hand for the tests of reports. Every figure is invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from types import MappingProxyType
from typing import Any

import numpy as np

import invented
from soakage.app.result import (
    DryOut,
    DryOutPoint,
    Estimate,
    Evaluated,
    Evaluation,
    Fit,
    Forecast,
    Knee,
    Network,
    NextReading,
    Pair,
    StepConductance,
)
from soakage.model.readings import Readings
from soakage.model.verdict import Contribution, Status
from soakage.standards.causes import Cause, Ranked
from soakage.standards.criterion import Verified
from soakage.units import Bound

# The curve of invented.curve(): I = V (A t^-n + G).
FIT = Fit(True, "", 0.004, 0.1, 1.4e-8, 0.75, 6.4e-10)
NOT_FOLLOWED = Fit(
    False, "the current steps upward at one reading", 0.2, 0.9, float("nan"), float("nan"), float("nan")
)


def cause(name: str, confirm_by: str = "Open it and look.", next_test: str = "polarization-index") -> Cause:
    return Cause(
        name.lower().replace(" ", "-"), name, f"{name} lets current flow.", confirm_by, next_test,
        "common practice, no source", Verified.PRACTICE, (), (),
    )  # fmt: skip


CAUSES = (
    Ranked(cause("Wet film"), 4.5, ("the air was damp", "one section only"), ("the winding was warm",)),
    Ranked(
        cause("Old crack", "Repeat at lower voltage.", "step-voltage"), 2.0, ("it falls with voltage",), ()
    ),
)


def with_causes(*causes: Ranked) -> Evaluated:
    return invented.evaluated(causes=causes, causes_sought=True)


def fitted(fit: Fit = FIT) -> Evaluated:
    return invented.evaluated(fit=fit)


def ended_early(probability: float | None = 0.93, *, reason: str = "") -> Evaluated:
    """The first two minutes of the curve, with what the rest would be."""
    whole = invented.curve()
    seen = whole.time <= 120.0
    readings = Readings(
        *(getattr(whole, name)[seen] for name in ("time", "voltage", "current", "resistance", "bound"))
    )
    time = np.geomspace(60.0, 600.0, 20)
    middle = 5003.0 / (5003.0 * (1.4e-8 * time**-0.75 + 6.4e-10))
    width = 0.04 * np.log(time / 60.0)
    band = tuple(map(tuple, np.column_stack([time, middle * (1 - width), middle * (1 + width)]).tolist()))
    values = {q.id: q for q in invented.QUANTITIES if q.id == "insulation_resistance_60s"}
    index = replace(invented.JUDGEMENTS[0], status=Status.NOT_JUDGED, value=None, reason="It ended early.")
    return invented.evaluated(
        invented.record(readings=readings),
        quantities=MappingProxyType(values),
        judgements=(index,),
        forecast=Forecast(
            "polarization_index", 600.0, 120.0, 1.62, 1.55, 1.70, probability, reason, band
        ),
    )  # fmt: skip


def staircase() -> Evaluated:
    rows = ((1000.0, 1.05e-10), (2000.0, 1.07e-10), (3000.0, 1.06e-10), (4000.0, 1.3e-10), (5000.0, 1.7e-10))
    return replace(invented.steps(), step_conductances=tuple(StepConductance(v, g, 4e-12) for v, g in rows))


def knee() -> Evaluated:
    return replace(invented.ramp(), knee=Knee(8200.0, 8900.0, 0.06, 0.999))


def negative(of: Evaluated) -> Evaluated:
    """The same test made with the other polarity: voltage and current below zero."""
    readings = of.record.readings
    turned = replace(readings, voltage=-readings.voltage, current=-readings.current)
    return replace(of, record=replace(of.record, readings=turned))


def network(terminals: int = 3) -> Network:
    names = [f"T{i + 1}" for i in range(terminals)]
    pairs = [
        Pair((a, b), 2.4e9 + i * 1e9, None, 4e7, True)
        for i, (a, b) in enumerate((a, b) for k, a in enumerate(names) for b in names[k + 1 :])
    ]
    pairs[0] = Pair(pairs[0].between, None, None, None, False, at_least=5e9)
    pairs += [Pair((name, "tank"), 1e11, Bound.LOWER, None, True) for name in names]
    following = NextReading(("T1",), ("T2", "tank"), (), "Read next T1 against T2 and tank.")
    return Network("Transformer 9", tuple(pairs), True, suggestion=following, set_aside=("T3: damp lead",))


def dry_out(**more: Any) -> DryOut:
    values = (4.0e7, 2.5e7, 2.0e7, 3.5e7, 7.0e7, 1.1e8, 1.3e8)
    points = tuple(
        DryOutPoint(i, invented.STARTED + timedelta(hours=6 * i), 21_600.0 * i, r, r * 0.7, 333.15, None)
        for i, r in enumerate(values)
    )
    given: dict[str, Any] = {
        "asset": "Pump 3 motor", "points": points, "rule": "thermosetting", "base_temperature": 313.15,
        "stage": "levelling off", "minimum": 2, "time_constant": Estimate(36_000.0, 30_000.0, 44_000.0),
        "levels_at": Estimate(162_000.0, 150_000.0, None), "level": 1.6e8, "reason": "", "steady_for": 0.0,
        "steady_needed": 14_400.0, "index_met": None, "stop": False,
        "sentence": "The resistance is levelling off after 36 h.",
        "cautions": ("Keep the winding below 90 °C.",),
    }  # fmt: skip
    return DryOut(**(given | more))


def drying() -> Evaluation:
    members = (invented.spot("U", 40.0, Status.UNFIT), invented.spot("U", 130.0, Status.SOUND))
    return invented.evaluation(*members, dry_out=(dry_out(),), networks=(network(),))


def budgeted() -> Evaluated:
    """The index with its budget, probability and guard band."""
    budget = (Contribution("gain", 0.006, 0.66), Contribution("timing", 0.004, 0.338),
              Contribution("offset", 0.0001, 0.002))  # fmt: skip
    values = {q.id: q for q in invented.QUANTITIES}
    values["polarization_index"] = replace(values["polarization_index"], budget=budget)
    judged = (replace(invented.JUDGEMENTS[0], probability=0.0004, guard_band=0.012), *invented.JUDGEMENTS[1:])
    return invented.evaluated(quantities=MappingProxyType(values), judgements=judged)
