"""Step and ramp tests, planned only when asked for by name, with what must stand in writing before them."""

from __future__ import annotations

from dataclasses import dataclass

from soakage.app.plan_charging import STEPS, USUAL_RATE
from soakage.app.plan_connections import Connection, Terminals
from soakage.app.plan_facts import voltage_facts
from soakage.app.plan_graded import Graded, Grading, graded
from soakage.app.plan_methods import RISING, Chosen
from soakage.app.plan_voltage import INSULATION_RESISTANCE, OVERVOLTAGE, Voltage, choose
from soakage.app.rules import Rules
from soakage.methods.base import Shape
from soakage.model.asset import Asset

CONSENT = "The owner consents in writing to a voltage above that of the insulation-resistance test."
STOP_RULE = (
    "Stop at once on an abrupt rise of the current, on a break in its slope, or if it grows while the "
    "voltage stands. Do not go back up."
)
REPAIR = "The way to repair is agreed: who mends a breakdown, with which spare, and by when."
AFTER_INDEX = (
    "Only after the resistance and the index of this visit have met their limits, judged and signed."
)


@dataclass(frozen=True, slots=True)
class Rising:
    """A step or ramp test that was asked for by name.

    Parameters
    ----------
    method : str
        Its id.
    voltage : Voltage
        Its top.
    steps : tuple of float
        Levels [V] of a step test, each held one minute unless `graded`; empty on a ramp.
    rate : float or None
        [V/s] of a ramp.
    overvoltage : bool
        Whether the top is above the insulation-resistance voltage of the rating.
    conditions : tuple of str
        What must stand in writing before; empty unless `overvoltage`.
    graded : Graded or None
        Times of a graded step test.
    """

    method: str
    voltage: Voltage
    steps: tuple[float, ...]
    rate: float | None
    overvoltage: bool
    conditions: tuple[str, ...]
    graded: Graded | None = None


def rising_test(
    entry: Chosen,
    asset: Asset,
    parts: Terminals,
    purpose: str | None,
    rules: Rules,
    grading: Grading | None = None,
) -> Rising | None:
    """Return the levels or the rate of a step or ramp test, and whether it is an overvoltage test.

    Parameters
    ----------
    entry : Chosen
        A test of the plan.
    asset : Asset
        Nameplate.
    parts : Terminals
        Its parts; of a transformer the weakest winding decides.
    purpose : str or None
        Why the test is made.
    rules : Rules
        Name the tables of voltages.
    grading : Grading or None
        How a step test is graded; None for equal steps of one minute.

    Returns
    -------
    Rising or None
        None for a test of another shape, or where no table gives a voltage.
    """
    method = entry.method
    if method.shape not in RISING:
        return None
    weakest = Connection((method.id,), parts.names(parts.live), (parts.earth,), parts=parts.live)
    facts = voltage_facts(asset, weakest, purpose)
    normal = choose(rules, asset, facts, role=INSULATION_RESISTANCE, purpose=purpose)
    above = choose(rules, asset, facts, role=OVERVOLTAGE, purpose=purpose)
    voltage = above or normal
    if voltage is None:
        return None
    overvoltage = above is not None and (normal is None or above.value > normal.high)
    ramp = method.shape is Shape.RAMP
    times = graded(voltage.value, grading) if grading is not None and not ramp else None
    equal = () if ramp else tuple(voltage.value * k / STEPS for k in range(1, STEPS + 1))
    return Rising(
        method.id,
        voltage,
        equal if times is None else times.voltages,
        USUAL_RATE if ramp else None,
        overvoltage,
        (AFTER_INDEX, CONSENT, STOP_RULE, REPAIR) if overvoltage else (),
        times,
    )
