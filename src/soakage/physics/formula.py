"""What a formula is, as data beside its function: name, inputs, unit, source, a worked example.

``explain`` and the documentation read nothing else, so a formula that carries its card is reachable
from every door.  The decorator leaves the function as it is.
"""

from __future__ import annotations

import importlib
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from soakage.errors import DiscoveryError, UsageError, ValidityError

STATUSES = ("read", "secondary", "memory", "practice", "derived")

# Every module whose formulas are shown; named, not searched for, so that nothing appears by accident.
MODULES = (
    "soakage.physics.resistance",
    "soakage.physics.indices",
    "soakage.physics.absorption",
    "soakage.physics.linearity",
    "soakage.physics.spread",
    "soakage.physics.three_point",
    "soakage.physics.fitted",
    "soakage.physics.currents",
    "soakage.physics.ramp",
    "soakage.physics.graded_schedule",
    "soakage.physics.layers",
    "soakage.physics.discharge",
    "soakage.physics.discharge_model",
    "soakage.physics.polarization",
    "soakage.physics.memory",
    "soakage.physics.charge",
    "soakage.physics.earthing",
    "soakage.physics.indirect",
    "soakage.physics.temperature",
    "soakage.physics.temperature_tables",
    "soakage.physics.energy",
    "soakage.physics.humidity",
    "soakage.physics.cable",
    "soakage.physics.cable_constants",
    "soakage.physics.network",
    "soakage.physics.network_cards",
    "soakage.physics.uncertainty",
    "soakage.physics.uncertainty_ratio",
    "soakage.physics.conformity",
)

_Function = TypeVar("_Function", bound=Callable[..., Any])


@dataclass(frozen=True, slots=True)
class Input:
    """One input of a formula.

    Parameters
    ----------
    name : str
        Key of the record file or id of a quantity wherever one exists.
    unit : str
        SI unit; ``degC`` for a temperature handed over in degrees Celsius.
    definition : str
        What it is.
    parameter : str, optional
        Parameter of the function when it is not the name (with ``_degC`` added where the unit says so).
        Inputs that share a parameter are stacked, in their order, on the last axis.
    default : float, optional
        The value taken when none is given; None when the input is required.
    """

    name: str
    unit: str
    definition: str
    parameter: str = ""
    default: float | None = None

    @property
    def argument(self) -> str:
        """The parameter of the function this input goes to."""
        if self.parameter:
            return self.parameter
        return f"{self.name}_degC" if self.unit == "degC" else self.name


@dataclass(frozen=True, slots=True)
class Example:
    """A worked example: what goes in as a user would write it, what comes out in SI, and who says so.

    Parameters
    ----------
    inputs : Mapping of str to str
        Input name to text with its unit.
    expected : float
        The result in the formula's unit.
    tolerance : float
        Relative tolerance of the printed figure; absolute where the expected value is 0.
    source : str
        Where the figure stands, with its status.
    """

    inputs: Mapping[str, str]
    expected: float
    tolerance: float
    source: str


@dataclass(frozen=True, slots=True)
class Formula:
    """The card of one formula.

    Parameters
    ----------
    id : str
        Permanent identifier: the id of the quantity it gives wherever one exists.
    name : str
        What the trade calls it.
    expression : str
        The formula in plain text.
    inputs : tuple of Input
        What goes in.
    unit : str
        SI unit of the result; ``degC`` for a temperature in degrees Celsius.
    source : str
        Where the formula stands.
    verified : str
        read, secondary, memory, practice or derived.
    example : Example
        A worked example.
    function : Callable
        The function; takes the inputs by keyword and gives one number.
    validity : str, optional
        Where it holds; outside it the function gives NaN.
    """

    id: str
    name: str
    expression: str
    inputs: tuple[Input, ...]
    unit: str
    source: str
    verified: str
    example: Example
    function: Callable[..., Any]
    validity: str = ""

    def __post_init__(self) -> None:
        if self.verified not in STATUSES:
            raise DiscoveryError(
                f"Formula {self.id!r} says verified={self.verified!r}. Allowed: {', '.join(STATUSES)}."
            )

    def compute(self, **values: float) -> float:
        """Work the formula once.

        Parameters
        ----------
        **values : float
            One number per input, by its name, in the input's unit.

        Returns
        -------
        float
            The result in the formula's unit.

        Raises
        ------
        UsageError
            When an input is missing or not one of the formula's; all are named at once.
        ValidityError
            When the formula has no value there.
        """
        names = {entry.name for entry in self.inputs}
        missing = [e.name for e in self.inputs if e.default is None and e.name not in values]
        unknown = [name for name in values if name not in names]
        if missing or unknown:
            faults = [f"missing: {', '.join(missing)}"] if missing else []
            faults += [f"not an input: {', '.join(unknown)}"] if unknown else []
            allowed = ", ".join(f"{entry.name} [{entry.unit}]" for entry in self.inputs)
            raise UsageError(f"{self.id}: {'; '.join(faults)}. It takes: {allowed}. Give each as key=value.")
        stacked: dict[str, list[float]] = {}
        for entry in self.inputs:
            if entry.name in values:
                stacked.setdefault(entry.argument, []).append(values[entry.name])
        shared = [entry.argument for entry in self.inputs]
        arguments = {key: v if shared.count(key) > 1 else v[0] for key, v in stacked.items()}
        result = float(self.function(**arguments))
        if math.isnan(result):
            given = ", ".join(f"{key}={value:g}" for key, value in values.items())
            raise ValidityError(
                f"{self.id} has no value there. Given: {given}. "
                f"It holds for: {self.validity or 'positive inputs'}. Change the inputs or use another rule."
            )
        return result


def formula(
    *,
    id: str,  # noqa: A002 - the field is called id in every catalogue of the house
    name: str,
    expression: str,
    inputs: tuple[Input, ...],
    unit: str,
    source: str,
    verified: str,
    example: Example,
    validity: str = "",
) -> Callable[[_Function], _Function]:
    """Attach a formula's card to its function as ``.formula``; the function itself is not wrapped.

    Parameters
    ----------
    id, name, expression, inputs, unit, source, verified, example, validity
        As in :class:`Formula`.

    Returns
    -------
    Callable
        A decorator that returns the function unchanged.
    """

    def attach(function: _Function) -> _Function:
        function.__dict__["formula"] = Formula(
            id, name, expression, inputs, unit, source, verified, example, function, validity
        )
        return function

    return attach


def catalogue() -> dict[str, Formula]:
    """Return every formula of the house by its id, in the order of the modules.

    Returns
    -------
    dict of str to Formula

    Raises
    ------
    DiscoveryError
        When two formulas claim one id.
    """
    found: dict[str, Formula] = {}
    for module in MODULES:
        for value in vars(importlib.import_module(module)).values():
            card = value if isinstance(value, Formula) else getattr(value, "formula", None)
            if not isinstance(card, Formula) or card.function.__module__ != module:
                continue
            earlier = found.setdefault(card.id, card)
            if earlier is not card:
                raise DiscoveryError(
                    f"Formula id {card.id!r} is declared by {module}.{card.function.__name__} and by "
                    f"{earlier.function.__module__}.{earlier.function.__name__}. Give one of them another id."
                )
    return found
