"""What a test method declares."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Shape(StrEnum):
    """How the voltage runs during the test: what may be computed from the readings hangs on it."""

    SPOT = "spot"  # one reading, its time stated or not
    HOLD = "hold"  # one constant voltage
    DISCHARGE = "discharge"  # one constant voltage, then the short circuit
    STEPS = "steps"  # rising in steps
    RAMP = "ramp"  # rising steadily


@dataclass(frozen=True, slots=True)
class Mark:
    """A timed mark.

    Parameters
    ----------
    time : float
        Seconds since voltage was applied; of a step test, within each hold.
    required : bool
        Whether its absence is a fault of the test.
    after_discharge : bool
        True when the time counts from the short circuit.
    """

    time: float
    required: bool = True
    after_discharge: bool = False


@dataclass(frozen=True, slots=True)
class Method:
    """A test method.

    Parameters
    ----------
    id : str
        As written in the record file.
    title : str
        Name in the trade.
    purpose : str
        What the test tells, one or two sentences.
    procedure : tuple of str
        What is done between applying voltage and earthing, in order.
    shape : Shape
        How the voltage runs.
    classes : tuple of str
        Classes of asset it is made on.
    marks : tuple of Mark
        The timed marks.
    quantities : tuple of str
        Ids of the quantities it is made for.
    needs : tuple of str
        Keys of the record file its judgements need, beside class and method.
    chart : str
        ``resistance`` (resistance and current against time), ``steps``, ``ramp`` or ``none``.
    voltage_role : str
        Which table of test voltages applies: insulation-resistance or overvoltage.
    limits_of_use : str
        When not to use it, or what it cannot tell.
    source : str
        Where the method stands.
    verified : str
        How that was verified.
    """

    id: str
    title: str
    purpose: str
    procedure: tuple[str, ...]
    shape: Shape
    classes: tuple[str, ...]
    marks: tuple[Mark, ...]
    quantities: tuple[str, ...]
    needs: tuple[str, ...]
    chart: str
    voltage_role: str
    limits_of_use: str
    source: str
    verified: str
