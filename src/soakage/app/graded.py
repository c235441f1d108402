"""A step test of graded times, judged as a straight line: what its last reading departs from it by."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from soakage.app.plan_graded import first_hold_of
from soakage.app.result import StepRow
from soakage.app.result_graded import GradedStep, GradedTest
from soakage.app.window import Window
from soakage.model.verdict import Finding
from soakage.physics.currents import staircase_current
from soakage.physics.graded_line import graded_holds
from soakage.physics.graded_schedule import straight_line
from soakage.physics.responses import PowerLaw
from soakage.units import format_quantity

FEWEST = 3
# Holds within this share of a graded schedule are one: whole seconds and slow hands.  Ours, practice.
KEPT_TO = 0.03


def graded_test(rows: Sequence[StepRow], window: Window | None) -> GradedTest | None:
    """Return the line of a graded step test, or None for a record whose holds are not graded.

    Parameters
    ----------
    rows : sequence of StepRow
        Its table.
    window : Window or None
        Its first hold: where the readings tell the exponent, the bend that the schedule itself leaves is told too.

    Returns
    -------
    GradedTest or None
    """
    read = [row for row in rows if row.bound is None and np.isfinite(row.current) and row.hold > 0]
    if len(read) < FEWEST or len(read) < len(rows):
        return None
    voltage = np.array([row.voltage for row in read])
    hold = np.array([row.hold for row in read])
    if not (np.diff(voltage) > 0).all() or not hold[0] > hold[1:].max():
        return None
    made = graded_holds(voltage, hold)
    if made.departure > KEPT_TO:
        return None
    current = np.array([row.current for row in read])
    line = straight_line(voltage, current)
    end = np.cumsum(hold)
    steps = tuple(
        GradedStep(float(v), float(e - h), float(e), float(i))
        for v, e, h, i in zip(voltage, end, hold, current, strict=True)
    )
    return GradedTest(
        made.absorption_exponent, steps, line.conductance, line.conductance_uncertainty, line.departure,
        line.lower, line.upper, line.straight, _expected(voltage, hold, window),
    )  # fmt: skip


def _expected(voltage: np.ndarray, hold: np.ndarray, window: Window | None) -> float | None:
    """Give the departure a linear winding of the first hold's exponent shows on this schedule."""
    fit = first_hold_of(window)
    if fit is None:
        return None
    law = PowerLaw(
        fit.absorption_coefficient, absorption_exponent=fit.absorption_exponent, conductance=fit.conductance,
        offset=0.0,
    )  # fmt: skip
    end = np.cumsum(hold)
    return straight_line(voltage, staircase_current(law, end, end - hold, voltage)).departure


def line_sentence(test: GradedTest) -> str:
    """Return in words how straight the line is."""
    first, last = test.steps[0], test.steps[-1]
    said = (
        f"Graded times, made for an exponent of {test.absorption_exponent:.2g}: held against the straight line through "
        f"the readings before it, that at {format_quantity(last.voltage, 'voltage')} lies {test.departure:+.1%} off "
        f"({test.lower:+.1%} to {test.upper:+.1%}, nine times in ten)"
    )
    said += ": straight within its interval." if test.straight else ": not straight."
    if test.expected is not None:
        said += (
            f" A linear insulation with the exponent of the hold at {format_quantity(first.voltage, 'voltage')} would "
            f"show {test.expected:+.1%}."
        )
    return said


def line_findings(test: GradedTest | None) -> tuple[Finding, ...]:
    """Return what a line that bends upwards says; it informs, for the excess current share judges.

    Parameters
    ----------
    test : GradedTest or None
        The line.

    Returns
    -------
    tuple of Finding
        Empty unless the whole interval lies above what the schedule itself leaves.
    """
    if test is None or test.lower <= max(0.0, test.expected or 0.0):
        return ()
    return (
        Finding(
            "graded_line_bends",
            line_sentence(test) + " The current bends upwards.",
            remedy="Look at the excess current share, which needs no schedule; go no higher before it is explained.",
        ),
    )
