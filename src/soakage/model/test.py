"""The test: method, connection, conditions, instrument and paper, as stated in the record."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True, slots=True)
class Step:
    """One edge of a step test: the voltage [V] that stands from a time [s] on."""

    at: float
    voltage: float


@dataclass(frozen=True, slots=True)
class VoltageFound:
    """Voltage found on the terminals before the test, in volts; frequency in hertz."""

    dc: float | None = None
    ac: float | None = None
    frequency: float | None = None


@dataclass(frozen=True, slots=True)
class PreviousTest:
    """An earlier test on the same insulation: voltage [V], time held [s], time earthed since [s]."""

    voltage: float
    held: float
    earthed: float


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Declared accuracy of the instrument over one range; every part may be missing.

    Parameters
    ----------
    range : float or None
        Upper end of the range, in ohm; None for all ranges.
    reading : float or None
        Error limit as a share of the reading (0.05 for 5 %).
    offset : float or None
        Zero offset of the current, in ampere.
    resolution : float or None
        Last digit of the resistance, in ohm.
    timing : float or None
        Error limit of the time of a reading, in seconds.
    """

    range: float | None = None
    reading: float | None = None
    offset: float | None = None
    resolution: float | None = None
    timing: float | None = None


@dataclass(frozen=True, slots=True)
class Paper:
    """Permits, numbers, people and remarks, as stated."""

    permit: str | None = None
    gas_free_certificate: str | None = None
    hazardous_area: str | None = None
    report_number: str | None = None
    revision: str | None = None
    revision_reason: str | None = None
    licence_number: str | None = None
    work_order: str | None = None
    visit: str | None = None
    tested_by: str | None = None
    witnessed_by: str | None = None
    approved_by: str | None = None
    notes: str | None = None
    purpose: str | None = None


@dataclass(frozen=True, slots=True)
class Conditions:
    """Conditions of the test; temperatures in kelvin, humidity as a share, time in seconds."""

    winding_temperature: float | None = None
    temperature_uncertainty: float | None = None
    temperature_method: str | None = None
    ambient_temperature: float | None = None
    relative_humidity: float | None = None
    surface: str | None = None
    hours_out_of_service: float | None = None
    attached: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Test:
    """Method, voltage and connection; SI, times in seconds since voltage was applied."""

    method: str
    test_voltage: float | None = None
    started: datetime | date | None = None
    tested: tuple[str, ...] = ()
    earthed: tuple[str, ...] = ()
    guarded: tuple[str, ...] = ()
    polarity: str | None = None
    steps: tuple[Step, ...] = ()
    hold: float | None = None
    ramp_rate: float | None = None
    capacitance: float | None = None
    discharge_started: float | None = None
    voltage_found: VoltageFound | None = None
    ended: str | None = None
    ended_at: float | None = None
    ended_voltage: float | None = None
    previous_test: PreviousTest | None = None


@dataclass(frozen=True, slots=True)
class Instrument:
    """The instrument as stated."""

    name: str | None = None
    serial: str | None = None
    calibration_due: date | None = None
    current_limit: float | None = None
    accuracy: tuple[Accuracy, ...] = ()
