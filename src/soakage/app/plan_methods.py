"""Which tests a plan proposes for an asset, and why; overvoltage tests only when asked for by name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from soakage.errors import UsageError
from soakage.methods import method, methods
from soakage.methods.base import Method, Shape
from soakage.model.asset import Asset

_INDEX, _RATIO = "polarization-index", "dielectric-absorption-ratio"
_SPOT, _SET = "insulation-resistance", "terminal-set"
_CORE, _SHEATH, _CIRCUIT = "cable-core", "cable-sheath", "circuit"
RISING = (Shape.STEPS, Shape.RAMP)
_LAYING = ("acceptance", "after-repair", "after-fault")


@dataclass(frozen=True, slots=True)
class Chosen:
    """A test of the plan and the reason for it."""

    method: Method
    why: str


def choose_methods(
    asset: Asset, purpose: str | None, asked: Sequence[str], *, index_waived: str = ""
) -> tuple[Chosen, ...]:
    """Return the tests of a plan in the order they are made.

    Parameters
    ----------
    asset : Asset
        Nameplate.
    purpose : str or None
        Why the test is made.
    asked : sequence of str
        Ids of methods asked for; empty: the usual set of the class.
    index_waived : str
        Why the rule set would not judge a polarization index of this asset; empty where it would.

    Returns
    -------
    tuple of Chosen
        With a step or ramp test, the tests that must pass before it stand first.

    Raises
    ------
    UsageError
        If a method is not known or not made on this class.
    """
    if not asked:
        return tuple(Chosen(method(name), why) for name, why in _usual(asset, purpose, index_waived))
    wanted = [method(name) for name in dict.fromkeys(asked)]
    for entry in wanted:
        if asset.asset_class is not None and asset.asset_class not in entry.classes:
            known = [name for name, other in methods().items() if asset.asset_class in other.classes]
            raise UsageError(
                f"{entry.id} is not made on the class {asset.asset_class}. Allowed: {', '.join(known)}."
            )
    chosen = [Chosen(entry, "Asked for.") for entry in wanted if entry.shape not in RISING]
    rising = [
        Chosen(entry, "Asked for; never proposed on its own.") for entry in wanted if entry.shape in RISING
    ]
    if rising and not any(entry.method.shape is Shape.HOLD for entry in chosen):
        before = _before_rising(asset)
        first = Chosen(method(before), "Must pass before the voltage is raised, in the same visit.")
        chosen = [first, *chosen]
    return (*chosen, *rising)


def _before_rising(asset: Asset) -> str:
    return _INDEX if asset.asset_class in _with(_INDEX) else _RATIO


def _with(name: str) -> tuple[str, ...]:
    return method(name).classes


def _usual(asset: Asset, purpose: str | None, index_waived: str) -> list[tuple[str, str]]:
    match asset.asset_class:
        case "rotating-machine":
            return [_machine(asset, index_waived)]
        case "transformer":
            return [
                (_SET, "Gives the resistance of each winding to earth and of each pair of windings."),
                (_INDEX, "Ten minutes on each winding alone tell leakage from absorption."),
            ]
        case "cable":
            tests = [(_CORE, "Each core against its screen and the other cores; compared by length.")]
            if asset.sheath_thickness is not None or purpose in _LAYING:
                tests.append((_SHEATH, "Damage from laying or digging shows in the oversheath first."))
            return tests
        case "low-voltage-installation":
            return [(_CIRCUIT, "The schedule of circuits that installation rules ask for.")]
        case _:
            return [(_SPOT, "Phase to phase and to earth, one minute each.")]


def _machine(asset: Asset, index_waived: str) -> tuple[str, str]:
    if index_waived:
        return (_RATIO if asset.winding == "random-wound" else _SPOT), index_waived
    if asset.winding is None:
        return _INDEX, "Kind of winding not stated: ten minutes give every ratio, whichever then applies."
    return _INDEX, "Ten minutes tell leakage from absorption, nearly free of temperature."
