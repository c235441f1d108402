"""What is hidden in the demo: an insulation as it is, and how it is tested."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from soakage.importers.values import Value
from soakage.physics.arrays import Floats, floats
from soakage.physics.currents import ramp_current, staircase_current
from soakage.physics.responses import Branches, PowerLaw, Response

# What stands between instrument and insulation; its charging is over before the first reading.
SERIES_RESISTANCE = 0.5e6
MINUTE = 60.0

# When a hold is read: often at first, where the current falls fast.
CLOSE = (*range(5, 60, 5), *range(60, 180, 10), *range(180, 601, 30))


@dataclass(frozen=True, slots=True)
class Insulation:
    """The hidden truth of one insulation.

    Parameters
    ----------
    absorption : float
        Resistance that the absorption current alone would show at 60 s [ohm].
    exponent : float
        n of the absorption current [1].
    leakage : float
        Resistance of bulk and surface conduction [ohm].
    capacitance : float
        Geometric capacitance [F].
    layers : tuple of float, optional
        Capacitances [F] and conductances [S] of two unlike layers in series: C1, C2, G1, G2. Their
        slow relaxation and their conduction are added to the rest.
    onset : float, optional
        Voltage from which a weak place conducts [V].
    growth : float, optional
        Conductance it adds at twice the onset, rising evenly from there [S].
    """

    absorption: float
    exponent: float
    leakage: float
    capacitance: float
    layers: tuple[float, float, float, float] | None = None
    onset: float = np.inf
    growth: float = 0.0

    def responses(self) -> tuple[Response, ...]:
        """Return the linear parts, side by side."""
        law = PowerLaw(
            MINUTE**self.exponent / self.absorption,
            self.exponent,
            1.0 / self.leakage,
            SERIES_RESISTANCE,
            self.capacitance,
        )
        if self.layers is None:
            return (law,)
        c1, c2, g1, g2 = self.layers
        # Two R-C elements in series answer a step by one exponential above their conductance (derived).
        rate = (g1 + g2) / (c1 + c2)
        size = (c1 * g2 - c2 * g1) ** 2 / ((g1 + g2) * (c1 + c2) ** 2)
        return (law, Branches([1.0 / size], [size / rate], g1 * g2 / (g1 + g2)))

    def weak_place(self, voltage: Floats) -> Floats:
        """Return the current [A] of the weak place at these voltages [V]."""
        beyond = np.maximum(voltage / self.onset - 1.0, 0.0)
        return self.growth * beyond * voltage


@dataclass(frozen=True, slots=True)
class Programme:
    """How the voltage runs and when it is read.

    Parameters
    ----------
    times : tuple of float
        Times of the readings since the voltage was applied [s].
    levels : tuple of float
        Voltages that stand [V]; empty for a ramp.
    edges : tuple of float
        When each level begins [s].
    rate : float
        Rate of rise of a ramp [V/s]; 0 for levels.
    """

    times: tuple[float, ...]
    levels: tuple[float, ...] = ()
    edges: tuple[float, ...] = (0.0,)
    rate: float = 0.0

    def voltage(self) -> Floats:
        """Return the voltage at each reading [V]; a reading at an edge belongs to the level before it."""
        time = floats(self.times)
        if self.rate:
            return self.rate * time
        place = np.searchsorted(self.edges, time, side="left") - 1
        return floats(self.levels)[np.maximum(place, 0)]

    def current(self, insulation: Insulation) -> Floats:
        """Return the current of an insulation at each reading [A], free of noise."""
        time = floats(self.times)
        total = insulation.weak_place(self.voltage())
        for response in insulation.responses():
            if self.rate:
                total = total + ramp_current(response, time, self.rate)
            else:
                total = total + staircase_current(response, time, self.edges, self.levels)
        return total


def hold(voltage: float, times: tuple[float, ...] = CLOSE) -> Programme:
    """Hold one voltage [V], read at these times [s]."""
    return Programme(times, (voltage,))


def charge_and_short(voltage: float, charge: float) -> Programme:
    """Hold one voltage [V] for so long [s], then short; read for two minutes."""
    after = (2, 5, 10, 20, 30, 40, 50, 60, 75, 90, 120)
    times = (*CLOSE, *range(660, int(charge) + 1, 60), *(charge + t for t in after))
    return Programme(times, (voltage, 0.0), (0.0, charge))


def steps(levels: tuple[float, ...], each: float = MINUTE) -> Programme:
    """Hold rising voltages [V] for equal times [s], read every ten seconds."""
    times = tuple(float(t) for t in range(10, int(each) * len(levels) + 1, 10))
    return Programme(times, levels, tuple(each * k for k in range(len(levels))))


def ramp(rate: float, until: float) -> Programme:
    """Raise steadily [V/s], read every five seconds until a time [s]."""
    return Programme(tuple(float(t) for t in range(5, int(until) + 1, 5)), rate=rate)


@dataclass(frozen=True, slots=True)
class Case:
    """One invented record file.

    Parameters
    ----------
    file : str
        Its name.
    cause : str
        What is hidden in it.
    header : mapping of str to text, list or table
        Keys of the record file as typed.
    insulation : Insulation
        The truth.
    programme : Programme
        How it was tested.
    unit : str
        Unit of the third column: of a current, or MOhm or GOhm for a resistance.
    limit : float
        Current the instrument can deliver [A]: the voltage folds back before it is exceeded.
    top : float
        Highest resistance it shows [ohm]; beyond it the cell is a bound.
    delimiter : str
        Semicolon for a file with decimal commas.
    """

    file: str
    cause: str
    header: Mapping[str, Value]
    insulation: Insulation
    programme: Programme
    unit: str = "uA"
    limit: float = np.inf
    top: float = np.inf
    delimiter: str = ","


@dataclass(frozen=True, slots=True)
class Circuit:
    """One row of a schedule: what lies between two conductors [ohm]."""

    circuit: str
    between: str
    resistance: float
    note: str = ""


@dataclass(frozen=True, slots=True)
class Schedule:
    """One invented schedule of circuits, tested at one voltage [V], read up to a top resistance [ohm]."""

    file: str
    cause: str
    header: Mapping[str, Value]
    voltage: float
    top: float
    rows: tuple[Circuit, ...]
