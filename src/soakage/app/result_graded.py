"""What a step test of graded times gives: its steps, and how straight its line is."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class GradedStep:
    """One level of a graded test: voltage [V], start and end of its hold [s], current at the end [A]."""

    voltage: float
    start: float
    end: float
    current: float


@dataclass(frozen=True, slots=True)
class GradedTest:
    """A step test of graded times, judged as a straight line through the origin.

    Parameters
    ----------
    absorption_exponent : float
        Exponent its holds were made for.
    steps : tuple of GradedStep
        In order.
    conductance, conductance_uncertainty : float
        Slope of the readings before the last, and its standard uncertainty [S].
    departure, lower, upper : float
        Last reading over that line, less 1, with its 90 % interval.
    straight : bool
        Whether 0 lies in the interval.
    expected : float or None
        Departure that the schedule itself leaves with the exponent of the first hold; None where that is not known.
    """

    absorption_exponent: float
    steps: tuple[GradedStep, ...]
    conductance: float
    conductance_uncertainty: float
    departure: float
    lower: float
    upper: float
    straight: bool
    expected: float | None
