"""Cautions of a test, each at the step it belongs to; every figure comes from the criteria files.

They are reminders beside the work, not permission for it: local codes and the person in charge come
first.  Where several documents draw a line, the strictest is used and the others are named.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from soakage.errors import StandardDataError
from soakage.methods.base import Method, Shape
from soakage.standards.criterion import Threshold
from soakage.standards.library import Library
from soakage.units import format_quantity

STEPS = ("before", "isolate", "connect", "voltage", "during", "after")
DEFERENCE = (
    "Local codes and the person in charge of the work come first. Only people qualified and authorised "
    "for high-voltage tests do them."
)
# The lines a caution names, by their ids in the criteria files; of each set the strictest is used.
VOLTAGE_FOUND_AC = ("en-50191-2010.touch-ac", "nfpa-70e-2021.shock")
VOLTAGE_FOUND_DC = ("nfpa-70e-2021.shock", "en-50191-2010.touch-dc")
STORED_ENERGY = ("nfpa-70e-2021.capacitor-reflex-energy", "en-50191-2010.energy")
STORED_CHARGE = ("iec-61010-1-2010.charge",)
EARTHING_MULTIPLE = "ieee-43-2013.earthing-multiple"

_PRACTICE = ("common practice, no source", "practice")


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution.

    Parameters
    ----------
    step : str
        Where it is shown: before, isolate, connect, voltage, during or after.
    text : str
        What to mind; its first sentence is the message.
    source : str
        Where it stands.
    verified : str
        How that was verified.
    """

    step: str
    text: str
    source: str
    verified: str

    @property
    def lead(self) -> str:
        """The first sentence."""
        return self.text.partition(". ")[0].rstrip(".") + "."

    @property
    def rest(self) -> str:
        """What follows the first sentence; may be empty."""
        return self.text.partition(". ")[2]


def lines(library: Library, ids: Iterable[str]) -> tuple[Threshold, ...]:
    """Return thresholds of the criteria files, the strictest (lowest) first.

    Parameters
    ----------
    library : Library
        The criteria files.
    ids : iterable of str
        Their ids.

    Returns
    -------
    tuple of Threshold
        At least one.

    Raises
    ------
    StandardDataError
        If one of them stands in no file.
    """
    return tuple(sorted((line(library, name) for name in ids), key=lambda found: found.value))


def line(library: Library, threshold_id: str) -> Threshold:
    """Return one threshold of the criteria files.

    Raises
    ------
    StandardDataError
        If no file holds it.
    """
    try:
        return library.thresholds[threshold_id]
    except KeyError:
        raise StandardDataError(
            f"No criteria file holds the threshold {threshold_id!r}. Cautions name it: put it back."
        ) from None


def cautions(
    asset_class: str | None,
    method: Method,
    *,
    overvoltage: bool = False,
    hazardous_area: str | None = None,
    library: Library,
    capacitance: float | None = None,
    test_voltage: float | None = None,
) -> tuple[Caution, ...]:
    """Return the cautions of one test in the order of the work.

    Parameters
    ----------
    asset_class : str or None
        Class of the asset; None gives those of every class together with the general ones.
    method : Method
        The test method.
    overvoltage : bool
        Whether the voltage is above the insulation-resistance voltage of the rating.
    hazardous_area : str or None
        yes, no, or None where not stated.
    library : Library
        The criteria files, for every threshold.
    capacitance : float or None
        Of the insulation [F], where known.
    test_voltage : float or None
        [V], where known.

    Returns
    -------
    tuple of Caution
        Sorted by step.
    """
    found = [*_general(library), _charge(library, capacitance, test_voltage), *_hazard(hazardous_area)]
    classes = _BY_CLASS if asset_class is None else (asset_class,)
    found += [caution for name in classes for caution in _BY_CLASS.get(name, ())]
    if method.shape is Shape.DISCHARGE:
        found.append(
            _own("after", "The discharge is part of the test. Keep the short circuit on; earth beside it.")
        )
    if method.id == "cable-sheath":
        found.append(_own("after", "Put every screen earth back. Have the person in charge see it done."))
    if overvoltage:
        found += _overvoltage(asset_class)
    return tuple(sorted(found, key=lambda caution: STEPS.index(caution.step)))


def _own(step: str, text: str) -> Caution:
    return Caution(step, text, *_PRACTICE)


def _figure(threshold: Threshold) -> str:
    return format_quantity(threshold.value, threshold.dimension, trim=True)


def _named(threshold: Threshold) -> str:
    return f"{_figure(threshold)} ({threshold.standard.name})"


def _line_text(found: tuple[Threshold, ...], ending: str = "") -> str:
    """Name the strictest line, and those that draw it elsewhere."""
    strictest, *others = found
    elsewhere = [_named(other) for other in others if other.value != strictest.value]
    text = f"{_figure(strictest)}{ending} ({strictest.standard.name}"
    return text + (f"; less strict: {', '.join(elsewhere)})" if elsewhere else ")")


def _sources(found: Iterable[Threshold]) -> tuple[str, str]:
    """Return the sources joined, and the weakest way any of them was verified."""
    entries = list(found)
    order = ("read", "secondary", "derived", "memory", "practice", "user")
    named = dict.fromkeys(
        f"{entry.standard.name}, {entry.clause}" if entry.clause else entry.standard.name for entry in entries
    )
    return "; ".join(named), max((str(entry.verified) for entry in entries), key=order.index)


def _general(library: Library) -> list[Caution]:
    alternating, direct = lines(library, VOLTAGE_FOUND_AC), lines(library, VOLTAGE_FOUND_DC)
    multiple = line(library, EARTHING_MULTIPLE)
    return [
        Caution("before", DEFERENCE, *_PRACTICE),
        _own("before", "Stop for lightning, induced voltage or strange earths. Earths of other circuits on "
             "the same part mean somebody else is working there."),
        _own("isolate", "Permit and isolation are in the name of the person in charge. Prove the detector, "
             "prove the part dead, prove the detector again."),
        _own("isolate", "Guard both ends and every joined part. Voltage goes where the conductor goes."),
        _own("connect", "Check the test leads open and shorted before they go on."),
        Caution(
            "voltage",
            f"Do not start with voltage on the terminals. Lines: {_line_text(alternating, ' ac')}, "
            f"{_line_text(direct, ' dc')}. Above either, find where it comes from first.",
            *_sources((*alternating, *direct)),
        ),
        _own("during", "Stop at once if the current jumps, or grows while the voltage stands."),
        Caution(
            "after",
            "Never take a lead off before the charge is out through the instrument and the earth is on.",
            "TM 5-683, s. 13", "read",
        ),
        Caution(
            "after",
            f"Charge returns when the earth is lifted early. Earth for at least {multiple.value:g} times the "
            "time under voltage, prove dead, and keep earthed while you work.",
            *_sources((multiple,)),
        ),
    ]  # fmt: skip


def _charge(library: Library, capacitance: float | None, test_voltage: float | None) -> Caution:
    energy, charge = lines(library, STORED_ENERGY), lines(library, STORED_CHARGE)
    drawn = f"Lines: {_line_text(energy)}, {_line_text(charge)}."
    source, verified = _sources((*energy, *charge))
    if capacitance is None or test_voltage is None:
        held = "How much this part holds is not known, so take it as above every line."
    else:
        held = (
            f"This part holds {format_quantity(capacitance * test_voltage, 'charge')} and "
            f"{format_quantity(capacitance * test_voltage**2 / 2, 'energy')} at "
            f"{format_quantity(test_voltage, 'voltage', trim=True)}."
        )
    return Caution("before", f"Charge can kill. {held} {drawn}", source, verified)


def _hazard(hazardous_area: str | None) -> list[Caution]:
    if hazardous_area == "no":
        return []
    if hazardous_area == "yes":
        text = (
            "Explosive atmosphere: test only under a valid gas-free certificate. If it lapses or the gas "
            "alarm sounds, stop and leave the part earthed."
        )
    else:
        text = "Hazardous area: not stated. Ask before anything is connected; a test can spark."
    return [_own("before", text)]


def _overvoltage(asset_class: str | None) -> list[Caution]:
    found = [
        _own("before", "This voltage can break the insulation down. It needs the owner's consent, a stop "
             "rule and a way to repair, agreed in writing before the day."),
        _own("voltage", "Go on only after a passing resistance and index of the same visit. One of them low "
             "or missing: no overvoltage test."),
        _own("voltage", "Not where the maker excludes direct voltage."),
    ]  # fmt: skip
    if asset_class in ("cable", None):
        found.append(
            Caution(
                "voltage",
                "Not on extruded cable that has been in service. Direct overvoltage leaves charge in it and "
                "can shorten its life.",
                "IEEE Std 400-2012", "memory",
            )
        )  # fmt: skip
    return found


_BY_CLASS: dict[str, tuple[Caution, ...]] = {
    "rotating-machine": (
        _own("isolate", "Drives, soft starters, surge capacitors, arresters and voltage transformers off. "
             "Temperature and vibration sensors earthed or off."),
        _own("isolate", "Say on the record whether the star point was opened."),
        Caution("voltage", "Not with the winding at or below the dew point. A film of moisture hides what is "
                "measured.", "IEEE Std 43-2013, cl. 6.2 and 7", "memory"),
    ),
    "transformer": (
        _own("isolate", "Never under vacuum, and not before the filling and its level are known."),
        _own("isolate", "Arresters and the neutral earth off. Core earth as its maker says."),
        _own("connect", "Join all terminals of a winding; earth idle windings; short the secondaries of "
             "current transformers."),
    ),
    "cable": (
        _own("isolate", "Somebody stands at the far end, in contact with you, until it is earthed again."),
        _own("connect", "Earth the screens and the idle cores at the end you test from."),
    ),
    "switchgear": (
        _own("isolate", "Electronics, arresters and voltage transformers out or withdrawn."),
        _own("connect", "Capacitor banks never terminal to terminal. They keep a deadly charge."),
        _own("voltage", "No direct voltage across open vacuum interrupters unless their maker allows it. "
             "They can give off X-radiation."),
    ),
    "low-voltage-installation": (
        _own("isolate", "Electronics and surge-protective devices off. Lamps and loads out."),
        _own("connect", "Join the live conductors where electronics cannot be taken off."),
    ),
    "apparatus": (
        _own("isolate", "Electronics and arresters off, as the maker says."),
        _own("connect", "Capacitors never terminal to terminal. They keep a deadly charge."),
        _own("voltage", "No direct voltage across open vacuum interrupters unless their maker allows it. "
             "They can give off X-radiation."),
    ),
}  # fmt: skip
