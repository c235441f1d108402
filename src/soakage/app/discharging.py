"""The discharge held against the charge: the current it foretells, and the conduction both currents leave."""

from __future__ import annotations

import numpy as np

from soakage.app.derive import Quantities
from soakage.app.window import Window
from soakage.model.readings import Floats
from soakage.model.record import Record
from soakage.model.verdict import Finding
from soakage.physics.discharge import discharge_current
from soakage.physics.discharge_model import foretold_current
from soakage.physics.polarization import polarization_fit
from soakage.units import format_quantity

AFTER = 60.0
# Times what the charge foretells; beyond that, and beyond its uncertainty, it is told.  Ours, practice.
BEYOND = 1.5
COVERAGE = 2.0
# From here on the capacitance is discharged and the leads are quiet.  Ours, practice.
SETTLED = 5.0
FEWEST = 5


def discharge_findings(
    record: Record, window: Window, absorption: tuple[float, float], covariance: Floats
) -> tuple[Finding, ...]:
    """Return what the current one minute into the short circuit says beside what the charge foretells.

    Parameters
    ----------
    record : Record
        Counted positive; with its discharge.
    window : Window
        Readings of the charge.
    absorption : tuple of float
        A [S s^n] and n fitted to the charge.
    covariance : ndarray of float, shape (2, 2)
        Of both.

    Returns
    -------
    tuple of Finding
        Empty where nothing was read, or no more than is foretold came back.
    """
    started, readings = record.test.discharge_started, record.readings
    if started is None or not (readings.time > started).any():
        return ()
    measured = float(discharge_current(readings.time, readings.current, started, AFTER).value)
    foretold, doubt = foretold_current(window.level, started, *absorption, covariance, AFTER)
    if not np.isfinite(measured) or not foretold > 0 or measured <= BEYOND * (foretold + COVERAGE * doubt):
        return ()
    return (
        Finding(
            "discharge_beyond_fit",
            f"One minute into the short circuit {format_quantity(measured, 'current')} came back, "
            f"{measured / foretold:.2g} times the {format_quantity(foretold, 'current')} ± "
            f"{format_quantity(COVERAGE * doubt, 'current', digits=2)} that the charge foretells: more charge "
            "is held than one linear insulation holds, as between layers.",
            remedy="Repeat at the same temperature after full earthing; compare sister sections.",
        ),
    )


def derive_conductance(record: Record, window: Window, found: Quantities) -> None:
    """Add the conductance that charging and discharging currents leave together, the residue taken off.

    Parameters
    ----------
    record : Record
        Counted positive; with its discharge.
    window : Window
        Readings of the charge.
    found : Quantities
        Where it is added; the reason where it cannot be had.
    """
    started = record.test.discharge_started
    if started is None:
        return
    time, charging, discharging = _common(record, window, started)
    if time.size < FEWEST:
        found.missing["conductance_from_discharge"] = (
            f"Fewer than {FEWEST} times stand in both charge and discharge, from {SETTLED:g}\u00a0s on."
        )
        return
    fit = polarization_fit(time, charging, discharging, window.level, started)
    if not fit.conductance > COVERAGE * fit.conductance_uncertainty:
        found.missing["conductance_from_discharge"] = (
            "Charge and discharge differ by no more than their scatter: the conduction is too small to be told."
        )
        return
    # the scatter of the readings alone is no uncertainty of the instrument: none is given
    found.add(
        "conductance_from_discharge", fit.conductance,
        inputs={
            "common times": f"{time.size}, {format_quantity(float(time[0]), 'time')} to "
            f"{format_quantity(float(time[-1]), 'time')}",
            "residue taken off at the last": f"{fit.residue_share:.1%} of it",
        },
    )  # fmt: skip


def _common(record: Record, window: Window, started: float) -> tuple[Floats, Floats, Floats]:
    """Give the times since either edge at which both currents are known, and both currents there."""
    readings = record.readings
    after = readings.time - started
    kept = (after >= SETTLED) & (readings.current < 0)
    charge = (window.time > 0) & (window.current > 0) & (window.bound == 0)
    since, current = window.time[charge], window.current[charge]
    if since.size < 2 or not kept.any():
        nothing = np.empty(0)
        return nothing, nothing, nothing
    kept &= (after >= since[0]) & (after <= since[-1])
    time = after[kept]
    charging = np.exp(np.interp(np.log(time), np.log(since), np.log(current)))
    return time, charging, -readings.current[kept]
