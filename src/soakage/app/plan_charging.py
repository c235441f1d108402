"""Charge, energy, charging time and current of a plan, and how long to earth after it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from soakage.app.cautions import EARTHING_MULTIPLE, line
from soakage.methods.base import Method, Shape
from soakage.model.asset import Asset
from soakage.physics.cable_constants import cable_capacitance
from soakage.physics.charge import charging_current, charging_time, stored_charge, stored_energy
from soakage.physics.earthing import minimum_earthing_time
from soakage.physics.memory import residual_share_time
from soakage.standards.library import Library
from soakage.units import format_quantity

CHARGE_TIME = "practice.discharge-charge-time"
USUAL_RATE = 1000.0 / 60.0  # V/s, as the ramp method says: usually 1 kV/min
STEPS = 5  # the usual quick form of a step test: equal steps, one minute each
HOLD = 60.0  # s


@dataclass(frozen=True, slots=True)
class Charging:
    """What charging the insulation takes.

    Parameters
    ----------
    capacitance : float or None
        [F]; None where not known, and then everything else but `text` is None.
    source : str
        Where the capacitance is from.
    charge : float or None
        [C].
    energy : float or None
        [J].
    current : float or None
        Charging current [A] of a ramp, or the instrument's limit.
    time : float or None
        [s] to within 1 % of the voltage at that current.
    text : str
        The same in words, or the formula and why it is not worked out.
    """

    capacitance: float | None
    source: str
    charge: float | None
    energy: float | None
    current: float | None
    time: float | None
    text: str


@dataclass(frozen=True, slots=True)
class Earthing:
    """A minimum time to earth.

    Parameters
    ----------
    time : float
        [s].
    under_voltage : float
        Time under voltage it follows from [s].
    text : str
        How it follows.
    source, verified : str
        Where the rule stands and how that was verified.
    """

    time: float
    under_voltage: float
    text: str
    source: str
    verified: str


def from_geometry(asset: Asset, relative_permittivity: float | None) -> float | None:
    """Return the capacitance of one core of a cable [F] where geometry and permittivity are all stated.

    Parameters
    ----------
    asset : Asset
        Its length and the diameters under and over the insulation.
    relative_permittivity : float or None
        Stated by whoever knows the compound; none is assumed.

    Returns
    -------
    float or None
        None where anything is missing or the diameters do not fit together.
    """
    inner, outer, length = asset.conductor_diameter, asset.insulation_diameter, asset.length
    if relative_permittivity is None or inner is None or outer is None or length is None:
        return None
    found = float(cable_capacitance(relative_permittivity, length, inner, outer))
    return found if math.isfinite(found) else None


def charging(
    test_voltage: float | None,
    *,
    capacitance: float | None,
    source: str = "as stated",
    current_limit: float | None = None,
    ramp_rate: float | None = None,
) -> Charging:
    """Return what charging takes; without a capacitance the formula, and no typical value.

    Parameters
    ----------
    test_voltage : float or None
        [V].
    capacitance : float or None
        [F], given or measured before.
    source : str
        Where the capacitance is from.
    current_limit : float or None
        Largest current of the instrument [A].
    ramp_rate : float or None
        [V/s] of a ramp.

    Returns
    -------
    Charging
        With its sentence.
    """
    if capacitance is None or test_voltage is None:
        missing = "capacitance" if capacitance is None else "test voltage"
        formula = "I = C dV/dt" if ramp_rate is not None else "t = C V / I"
        text = f"{formula}; {missing} not known, so it is not worked out."
        return Charging(capacitance, source if capacitance else "", None, None, None, None, text)
    charge = float(stored_charge(capacitance, test_voltage))
    energy = float(stored_energy(capacitance, test_voltage))
    held = (
        f"{format_quantity(capacitance, 'capacitance', trim=True)} ({source}) at "
        f"{format_quantity(test_voltage, 'voltage', trim=True)} hold "
        f"{format_quantity(charge, 'charge')} and {format_quantity(energy, 'energy')}"
    )
    if ramp_rate is not None:
        current = float(charging_current(capacitance, ramp_rate))
        rate = format_quantity(ramp_rate, "ramp_rate", trim=True)
        text = f"{held}. At {rate} the charging current is {format_quantity(current, 'current')}."
        return Charging(capacitance, source, charge, energy, current, test_voltage / ramp_rate, text)
    if current_limit is None:
        text = f"{held}. Charging takes t = C V / I; the current limit of the instrument is not stated."
        return Charging(capacitance, source, charge, energy, None, None, text)
    time = float(charging_time(capacitance, test_voltage, current_limit))
    limit = format_quantity(current_limit, "current", trim=True)
    text = f"{held}. At {limit} charging takes {format_quantity(time, 'time', digits=2)}."
    return Charging(capacitance, source, charge, energy, current_limit, time, text)


def time_under_voltage(method: Method, library: Library, test_voltage: float | None) -> float:
    """Return how long a test keeps its voltage on [s].

    Parameters
    ----------
    method : Method
        Its shape and marks decide.
    library : Library
        Holds the charging time of a discharge test.
    test_voltage : float or None
        Top of a ramp [V].

    Returns
    -------
    float
        Seconds; one minute for a method without marks.
    """
    if method.shape is Shape.STEPS:
        return STEPS * HOLD
    if method.shape is Shape.RAMP and test_voltage is not None:
        return test_voltage / USUAL_RATE
    marks = [mark.time for mark in method.marks if not mark.after_discharge]
    longest = max(marks, default=HOLD)
    if method.shape is Shape.DISCHARGE and CHARGE_TIME in library.thresholds:
        longest = max(longest, library.thresholds[CHARGE_TIME].value)
    return longest


def earthing(under_voltage: float, library: Library, *, exponent: float | None = None) -> Earthing:
    """Return the minimum earthing time: a multiple of the time under voltage, or the residual time if longer.

    Parameters
    ----------
    under_voltage : float
        Time under voltage [s].
    library : Library
        Holds the multiple.
    exponent : float or None
        Absorption exponent from an earlier test; None where the absorption is not known.

    Returns
    -------
    Earthing
        A minimum for the plan; only proving dead tells more.
    """
    multiple = line(library, EARTHING_MULTIPLE)
    residual = float(residual_share_time(exponent, under_voltage)) if exponent else 0.0
    time = float(minimum_earthing_time(under_voltage, residual, multiple.value))
    if residual > multiple.value * under_voltage:
        text = f"until 1 % of the one-minute absorption current is left (exponent {exponent:.2g})"
        return Earthing(time, under_voltage, text, "superposition of a linear dielectric", "derived")
    source = f"{multiple.standard.name}, {multiple.clause}" if multiple.clause else multiple.standard.name
    text = f"{multiple.value:g} times the time under voltage ({format_quantity(under_voltage, 'time')})"
    return Earthing(time, under_voltage, text, source, str(multiple.verified))
