"""A step test of graded times: levels and holds planned for an assumed exponent, or for that of the first hold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from soakage.app.archive import look
from soakage.app.drafting import draft
from soakage.app.rules import Rules
from soakage.app.window import Window
from soakage.errors import UsageError
from soakage.methods.base import Shape
from soakage.model.record import Record
from soakage.physics.fit import CurrentFit, fit_current
from soakage.physics.fit_check import REASONS
from soakage.physics.graded_schedule import FIRST_HOLD, graded_schedule
from soakage.units import format_quantity

SHARES = (0.1, 0.2)
ASSUMED_EXPONENT = 0.8
FIRST_SHARE = 1.0 / 3.0
# A rest of less than this share of a step is given to the step before it.
_REST = 0.25
SOURCE, VERIFIED = "superposition of a linear dielectric; no standard's printed table", "derived"


@dataclass(frozen=True, slots=True)
class FirstHold:
    """What a first hold tells: level [V], time held [s], exponent with its standard uncertainty, A and G."""

    voltage: float
    held: float
    absorption_exponent: float
    uncertainty: float
    absorption_coefficient: float
    conductance: float


@dataclass(frozen=True, slots=True)
class Grading:
    """How a step test is to be graded.

    Parameters
    ----------
    share : float
        Each step as a share of the first level: 0.1 or 0.2.
    absorption_exponent : float or None
        From an earlier test; None where it is assumed.
    first : FirstHold or None
        The first hold, where it has been made: the others are planned from it.
    """

    share: float = 0.2
    absorption_exponent: float | None = None
    first: FirstHold | None = None


@dataclass(frozen=True, slots=True)
class Graded:
    """The schedule of a graded test; times count from the first voltage.

    Parameters
    ----------
    absorption_exponent : float
        It was planned for.
    exponent_source : str
        Where that is from.
    voltages : tuple of float
        Levels [V].
    starts, ends : tuple of float
        When each begins, and when its hold ends and the current is read [s].
    """

    absorption_exponent: float
    exponent_source: str
    voltages: tuple[float, ...]
    starts: tuple[float, ...]
    ends: tuple[float, ...]

    @property
    def total(self) -> float:
        """Time under voltage [s]."""
        return self.ends[-1]


def graded(top: float, grading: Grading) -> Graded:
    """Return the schedule of a graded test to a voltage.

    Parameters
    ----------
    top : float
        Highest level [V].
    grading : Grading
        Steps and exponent.

    Returns
    -------
    Graded
        Ends in whole seconds.

    Raises
    ------
    UsageError
        If the step is none of those offered, or the first hold was made at the top already.
    """
    if grading.share not in SHARES:
        allowed = " or ".join(f"{share:.0%}" for share in SHARES)
        raise UsageError(f"A graded test rises by {allowed} of its first level. Given: {grading.share:.0%}.")
    first = grading.first
    begun = top * FIRST_SHARE if first is None else first.voltage
    if not 0 < begun < top:
        raise UsageError(
            f"The first hold was made at {format_quantity(begun, 'voltage')}; the test would end at "
            f"{format_quantity(top, 'voltage')}. The first level must lie below that."
        )
    rise = grading.share * begun
    count = max(1, int(np.ceil((top - begun) / rise - _REST)))
    levels = np.append(begun + rise * np.arange(count), top)
    exponent, source = _exponent(grading)
    made = () if first is None else (first.held,)
    plan = graded_schedule(levels, exponent, FIRST_HOLD, made)
    ends = np.round(plan.start + plan.hold)
    starts = (0.0, *map(float, ends[:-1]))
    return Graded(exponent, source, tuple(map(float, levels)), starts, tuple(map(float, ends)))


def _exponent(grading: Grading) -> tuple[float, str]:
    if grading.absorption_exponent is not None:
        return grading.absorption_exponent, "as stated"
    if grading.first is not None:
        wide = f" ± {2 * grading.first.uncertainty:.2g}" if np.isfinite(grading.first.uncertainty) else ""
        return grading.first.absorption_exponent, f"fitted to the first hold{wide}"
    return ASSUMED_EXPONENT, "assumed; plan anew once the first hold has been made"


def first_hold(record: Record, rules: Rules) -> FirstHold:
    """Return what the record of a first hold tells.

    Parameters
    ----------
    record : Record
        A step test that has come as far as its first hold, or any test at one voltage.
    rules : Rules
        What judges.

    Returns
    -------
    FirstHold

    Raises
    ------
    UsageError
        If the current of the hold gives no exponent, with the reason.
    """
    item = draft(record, rules)
    window = item.window if item.method.shape is not Shape.SPOT else None
    fit = _fit(window)
    if window is None or fit is None:
        raise UsageError(
            f"{record.title}: no hold at one voltage with its times. Give the first hold's record."
        )
    told = first_hold_of(window)
    if told is None:
        reason = REASONS[int(fit.reason)] or "no absorption"
        raise UsageError(
            f"{record.title}: its first hold gives no exponent: {reason}. "
            "Plan with the assumed one, or look for what is wrong first."
        )
    return told


def first_hold_of(window: Window | None) -> FirstHold | None:
    """Return what a hold tells, or None where its current does not follow the model or has no absorption."""
    fit = _fit(window)
    if window is None or fit is None:
        return None
    exponent = float(fit.absorption_exponent)
    if not bool(fit.follows_model) or not np.isfinite(exponent):
        return None
    return FirstHold(
        voltage=float(window.level),
        held=float(fit.reach),
        absorption_exponent=exponent,
        uncertainty=float(np.sqrt(max(float(fit.covariance[1, 1]), 0.0))),
        absorption_coefficient=float(fit.absorption_coefficient),
        conductance=float(fit.conductance),
    )


def _fit(window: Window | None) -> CurrentFit | None:
    readings = look(window)
    if window is None or readings is None or not window.level > 0:
        return None
    standing = readings.time >= (window.stands_at or 0.0)
    if not standing.any():
        return None
    return fit_current(readings.time[standing], readings.current[standing] / window.level)
