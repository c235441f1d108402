"""What the whole curve tells: fit of one hold, staircase without memory, knee of a ramp, forecast.

One record or many take the same path: records that share their times are fitted together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from soakage.app.archive import FIRST_MARK, INDEX_MARK, Archive, Backing, look, upto
from soakage.app.derive import Quantities
from soakage.app.derive_whole import time_under_voltage
from soakage.app.discharging import derive_conductance, discharge_findings
from soakage.app.graded import graded_test, line_findings
from soakage.app.ramp_split import RampSplit, split
from soakage.app.result import Fit, Forecast, Knee, StepConductance, StepRow
from soakage.app.result_graded import GradedTest
from soakage.app.window import Window
from soakage.methods.base import Method, Shape
from soakage.model.record import Record
from soakage.model.verdict import Finding, Judgement, Status
from soakage.physics.earthing import minimum_earthing_time
from soakage.physics.fit import CurrentFit, fit_current
from soakage.physics.fit_check import REASONS, TOO_FEW
from soakage.physics.fitted import fitted_ratio
from soakage.physics.forecast import Forecast as Foreseen
from soakage.physics.forecast import forecast_index, leaves_band
from soakage.physics.memory import residual_current_share, residual_share_time
from soakage.physics.ramp_knee import ramp_knee
from soakage.physics.ramp_relaxation import relaxation_explains
from soakage.physics.ramp_signs import break_in_slope, snaking
from soakage.physics.staircase_fit import StaircaseFit, staircase_fit
from soakage.units import format_quantity

LOOK_BACK = 120.0  # s of a complete record whose forecast the rest is held against
FEWEST_ON_RAMP = 6
RESIDUAL_SHARE = 0.01
EXCESS_CRITERION = "practice.excess-current-share"
COVERAGE = (
    "If nothing changes. A change that begins after the last reading cannot be foreseen: in simulations with a look "
    "at 120 s the band then held the index in 73 to 79 % where leakage drifted by up to a fifth, and in 36 to 40 % "
    "where it grew by 5 to 60 %, instead of in 90 %."
)


@dataclass(slots=True)
class Diagnosis:
    """What the whole curve of one record tells."""

    fit: Fit | None = None
    step_conductances: tuple[StepConductance, ...] = ()
    knee: Knee | None = None
    ramp_split: RampSplit | None = None
    graded: GradedTest | None = None
    findings: list[Finding] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Curve:
    """One record as the diagnosis sees it."""

    record: Record
    method: Method
    window: Window | None
    found: Quantities
    steps: tuple[StepRow, ...] = ()


def diagnose(curves: Sequence[Curve], excess_limit: float) -> list[Diagnosis]:
    """Add what the whole curve tells to each record's quantities.

    Parameters
    ----------
    curves : sequence of Curve
        Records with their quantities, which are added to in place.
    excess_limit : float
        Share of excess current from which a step test must be sure, or not judged.

    Returns
    -------
    list of Diagnosis
        One for each record.
    """
    results = [Diagnosis() for _ in curves]
    _fit_holds(curves, results)
    for curve, result in zip(curves, results, strict=True):
        if curve.method.shape is Shape.STEPS:
            _staircase(curve, result, excess_limit)
            result.graded = graded_test(curve.steps, curve.window)
            result.findings += line_findings(result.graded)
        elif curve.method.shape is Shape.RAMP:
            _ramp(curve, result)
        _residual(curve, result)
    _earthing(curves, results)
    return results


def _usable(curve: Curve) -> np.ndarray | None:
    window = curve.window
    if window is None or curve.method.shape in (Shape.STEPS, Shape.SPOT) or np.isnan(window.time).any():
        return None
    keep = window.time > 0
    if window.stands_at is not None:
        keep &= window.time >= window.stands_at
    times = window.time[keep]
    return keep if keep.sum() > 1 and (np.diff(times) > 0).all() else None


def _fit_holds(curves: Sequence[Curve], results: Sequence[Diagnosis]) -> None:
    """Fit every hold; records with the same times in one call."""
    alike: dict[bytes, list[tuple[int, np.ndarray]]] = {}
    for place, curve in enumerate(curves):
        keep = _usable(curve)
        if keep is not None and curve.window is not None:
            alike.setdefault(curve.window.time[keep].tobytes(), []).append((place, keep))
    for members in alike.values():
        windows = [(curves[place].window, keep) for place, keep in members]
        rows = [(w, keep) for w, keep in windows if w is not None]
        time = rows[0][0].time[rows[0][1]]
        current = np.array([w.current[keep] for w, keep in rows])
        voltage = np.array([w.voltage[keep] for w, keep in rows])
        bound = np.array([w.bound[keep] for w, keep in rows])
        current = np.where(current > 0, current, np.nan)
        voltage = np.where(voltage > 0, voltage, np.nan)
        fitted = fit_current(time, current, voltage=voltage, bound=bound)
        ratio, uncertainty = fitted_ratio(fitted, INDEX_MARK, FIRST_MARK)
        for row, (place, _) in enumerate(members):
            _keep_fit(curves[place], results[place], fitted, row, float(ratio[row]), float(uncertainty[row]))


def _keep_fit(
    curve: Curve, result: Diagnosis, fitted: CurrentFit, row: int, index: float, uncertainty: float
) -> None:
    reason = int(fitted.reason[row])
    if reason == TOO_FEW:
        return
    follows = bool(fitted.follows_model[row])
    coefficient, exponent, conductance = (
        float(entry[row])
        for entry in (fitted.absorption_coefficient, fitted.absorption_exponent, fitted.conductance)
    )
    result.fit = Fit(
        follows, REASONS[reason], float(fitted.scatter[row]), float(fitted.correlation[row]),
        coefficient, exponent, conductance,
    )  # fmt: skip
    if not follows:
        event = float(fitted.event_time[row])
        at = f" (at {format_quantity(event, 'time')})" if np.isfinite(event) else ""
        result.findings.append(
            Finding(
                "model_not_followed",
                f"The current does not follow the model of absorption and conduction: {REASONS[reason]}{at}. "
                "No fitted figure is given.",
                remedy="Look at the curve, at the set-up and for an event; repeat the test.",
            )
        )
        _left_band(curve, result)
        return
    spread = np.sqrt(np.maximum(np.diagonal(fitted.covariance[row]), 0.0))
    found = curve.found
    for name, value, u in (
        ("absorption_coefficient_fitted", coefficient, spread[0]),
        ("absorption_exponent_fitted", exponent, spread[1]),
        ("conductance_fitted", conductance, spread[2]),
    ):
        if np.isfinite(value):
            found.add(name, value, uncertainty=float(u))
    window = curve.window
    covered = window is not None and np.nanmin(window.time) <= FIRST_MARK
    if covered and np.isfinite(index):
        found.add("polarization_index_fitted", index, uncertainty=index * uncertainty)
    if window is not None and curve.method.shape is Shape.DISCHARGE and np.isfinite(exponent):
        covariance = fitted.covariance[row][:2, :2]
        result.findings += discharge_findings(curve.record, window, (coefficient, exponent), covariance)
        derive_conductance(curve.record, window, found)


def _left_band(curve: Curve, result: Diagnosis) -> None:
    """Say when a complete record left the band that its first two minutes foretold."""
    whole = look(curve.window)
    early = upto(whole, LOOK_BACK) if whole is not None else None
    if whole is None or early is None:
        return
    foreseen = forecast_index(early.time, early.current, early.bound)
    departure = leaves_band(foreseen, whole.time, whole.current)
    if departure is not None:
        side = "above" if departure.above else "below"
        result.findings.append(
            Finding(
                "left_forecast_band",
                f"From {format_quantity(departure.at, 'time')} on the current ran {side} what its first two "
                f"minutes foretold, by {abs(departure.share):.0%}: something changed during the test.",
                Status.INVESTIGATE if departure.above else None,
                "Find what changed (warming, a flaw, the set-up) and repeat the test.",
            )
        )


def _staircase(curve: Curve, result: Diagnosis, limit: float) -> None:
    readings, steps = curve.record.readings, curve.record.test.steps
    if np.isnan(readings.time).any() or not (np.diff(readings.time) > 0).all():
        return
    edges = np.array([step.at for step in steps]) if steps else None
    current = np.where((readings.bound == 0) & (readings.current > 0), readings.current, np.nan)
    fitted: StaircaseFit = staircase_fit(readings.time, readings.voltage, current, edges=edges)
    if fitted.reason:
        curve.found.missing["excess_current_share"] = (
            "The readings do not separate the steps from their memory."
        )
        return
    result.step_conductances = tuple(
        StepConductance(float(v), float(g), float(u))
        for v, g, u in zip(fitted.voltage, fitted.conductance, fitted.conductance_uncertainty, strict=True)
    )
    share = fitted.excess_current_share
    if not np.isfinite(share):
        return
    curve.found.add(
        "excess_current_share", share, uncertainty=fitted.excess_uncertainty,
        inputs={"90 % interval": f"{fitted.excess_lower:.1%} to {fitted.excess_upper:.1%}"},
    )  # fmt: skip
    if fitted.excess_upper > limit and not fitted.excess_found:
        curve.found.blocked["excess_current_share"] = (
            f"The share is only known to lie between {fitted.excess_lower:.1%} and {fitted.excess_upper:.1%}."
        )


def _ramp(curve: Curve, result: Diagnosis) -> None:
    readings = curve.record.readings
    good = ~(np.isnan(readings.time) | np.isnan(readings.voltage)) & (readings.current > 0)
    good &= readings.bound == 0
    if good.sum() < FEWEST_ON_RAMP or not readings.voltage[good][-1] > readings.voltage[good][0]:
        return
    time, voltage, current = (a[good] for a in (readings.time, readings.voltage, readings.current))
    seen = ramp_knee(time, voltage, current)
    if bool(seen.found) and relaxation_explains(time, voltage, current):
        result.findings.append(
            Finding(
                "ramp_relaxes",
                "The ramp leaves the course of a power law, but a slow relaxation explains it as well as a "
                "dependence on voltage would: a weak layer is linear and does this.",
                remedy="Make a dielectric discharge test before going higher.",
            )
        )
    elif bool(seen.found):
        onset, noticed, share = (
            float(v) for v in (seen.knee_voltage, seen.detected_voltage, seen.excess_share)
        )
        result.knee = Knee(onset, noticed, share, float(seen.confidence))
        curve.found.add("knee_voltage", onset)
        result.findings.append(
            Finding(
                "ramp_knee",
                f"The ramp bends upward from about {format_quantity(onset, 'voltage')}; it was noticed at "
                f"{format_quantity(noticed, 'voltage')}, where the excess was {share:.1%} of the current.",
                Status.INVESTIGATE,
                "Do not raise the voltage again before the cause is found: moisture, a crack, a void path.",
            )
        )
    until = result.knee.onset if result.knee is not None else np.inf
    result.ramp_split = split(time, voltage, current, until, curve.record.test.capacitance)
    _signs(voltage, current, result)


def _signs(voltage: np.ndarray, current: np.ndarray, result: Diagnosis) -> None:
    """Say where a ramp breaks in slope without a knee, and where it snakes."""
    remedy = "Look at the curve; repeat the ramp only after the cause was looked for."
    sharp = break_in_slope(voltage, current)
    if bool(sharp.found) and result.knee is None:
        at = format_quantity(float(sharp.voltage), "voltage")
        result.findings.append(
            Finding("ramp_breaks", f"The ramp breaks in slope at about {at}.", Status.INVESTIGATE, remedy)
        )
    wander = snaking(voltage, current)
    if bool(wander.found):
        at = format_quantity(float(wander.voltage), "voltage")
        result.findings.append(
            Finding(
                "ramp_snakes",
                f"The ramp snakes about its course from about {at} on, which is read as ionisation.",
                Status.INVESTIGATE,
                remedy,
            )
        )


def _earthing(curves: Sequence[Curve], results: Sequence[Diagnosis]) -> None:
    """Lengthen the minimum earthing times where the fitted absorption asks for more than four times."""
    asked = [
        (curve, result.fit.absorption_exponent, held)
        for curve, result in zip(curves, results, strict=True)
        if result.fit is not None
        and result.fit.follows_model
        and np.isfinite(result.fit.absorption_exponent)
        and (held := time_under_voltage(curve.record, curve.method)) is not None
    ]
    exponents, times = (np.array([entry[part] for entry in asked], dtype=float) for part in (1, 2))
    residuals = residual_share_time(exponents, times, RESIDUAL_SHARE).tolist()
    usuals = minimum_earthing_time(times).tolist()
    for (curve, _, held), residual, usual in zip(asked, residuals, usuals, strict=True):
        if np.isfinite(residual) and residual > usual:
            curve.found.add(
                "earthing_time", residual,
                formula=f"until {RESIDUAL_SHARE:.0%} of the 60 s absorption current is left; longer than four times",
                source="superposition of a power-law response, derived",
                inputs={
                    "time under voltage": format_quantity(held, "time"), "four times": format_quantity(usual, "time"),
                },
            )  # fmt: skip


def _residual(curve: Curve, result: Diagnosis) -> None:
    earlier, fit = curve.record.test.previous_test, result.fit
    voltage = curve.window.level if curve.window is not None else None
    if earlier is None or fit is None or not fit.follows_model or not voltage or earlier.earthed <= 0:
        return
    share = float(
        residual_current_share(
            fit.absorption_exponent, earlier.held, earlier.earthed, earlier.voltage / voltage, FIRST_MARK
        )
    )
    if np.isfinite(share):
        curve.found.add("residual_current_share", share)


def forecast(
    curve: Curve, judgements: Sequence[Judgement], archive: Archive | None = None
) -> Forecast | None:
    """Return the index a record that ended early would reach if nothing changes.

    Parameters
    ----------
    curve : Curve
        The record.
    judgements : sequence of Judgement
        Made on it; the limit of the index is taken from them.
    archive : Archive or None
        Complete tests that the band is rescaled by.

    Returns
    -------
    Forecast or None
        None for a complete record, and where the readings do not reach the first mark.
    """
    window, readings = curve.window, look(curve.window)
    wanted = curve.method.shape is Shape.HOLD and "polarization_index" in curve.method.quantities
    if not wanted or window is None or readings is None or upto(readings, INDEX_MARK) is None:
        return None
    until = float(readings.time[-1])
    if until >= INDEX_MARK:
        return None
    behind = archive.backing(curve.record.asset.asset_class, until) if archive else Backing(0, 1.0)
    seen: Foreseen = forecast_index(readings.time, readings.current, readings.bound, scale=behind.scale)
    limit = next(
        (
            j.limit.lower
            for j in judgements
            if j.quantity == "polarization_index" and j.limit is not None and j.limit.lower is not None
        ),
        None,
    )
    least, most = seen.band()
    band = tuple(
        (float(t), float(window.level / high), float(window.level / low))
        for t, low, high in zip(seen.time, least, most, strict=True)
    )
    return Forecast(
        "polarization_index", INDEX_MARK, float(seen.seen_until), float(seen.estimate), float(seen.lower),
        float(seen.upper), None if limit is None else float(seen.probability(limit)),
        "" if limit is not None else "No criterion of the index applies to this record.", band,
        behind.tests if archive else None, behind.scale,
    )  # fmt: skip
