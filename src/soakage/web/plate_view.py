"""A nameplate on a page: values in words with what each means, and the same as fields to be filled in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from soakage.app.register import IDENTITY, NAMEPLATE
from soakage.errors import Fault, InputError
from soakage.importers.write_record import header_line
from soakage.methods import words
from soakage.model.keys import KEYS, Kind
from soakage.model.stated import value_of
from soakage.units import format_exact, format_quantity
from soakage.wiring.changing import plain_values

Values = Mapping[str, Any]
_LABELS = {"asset": "Name", "class": "Class", "current": "Kind of current"}
_COMMON = ("class", "rated_voltage", "rated_power", "insulation", "year", "terminals")
# Which keys are asked for first, by class; the others can be opened.
_OF_CLASS = {
    "rotating-machine": ("winding", "current", "thermal_class", "cooling"),
    "transformer": ("connection", "filling", "winding_voltages", "winding_powers"),
    "cable": ("length", "cores", "conductor_diameter", "insulation_diameter", "sheath_thickness", "in_service_since"),
    "low-voltage-installation": ("nominal_voltage",),
}  # fmt: skip
PLATE = (*IDENTITY, *NAMEPLATE)


@dataclass(frozen=True, slots=True)
class Line:
    """One key of a nameplate: what it is called, its value in words, and what it means."""

    key: str
    label: str
    value: str
    meaning: str


@dataclass(frozen=True, slots=True)
class Box:
    """One field of the form: its name, label and meaning, what stands in it, the words allowed, what is wrong."""

    name: str
    label: str
    meaning: str
    value: str
    words: tuple[str, ...]
    problem: str


def label(key: str) -> str:
    """Return what a key is called on a page."""
    return _LABELS.get(key, key.replace("_", " ").capitalize())


def value_text(key: str, value: object) -> str:
    """Return a plain value in words, figure and unit unparted."""
    known = KEYS.get(key)
    dimension = known.dimension if known else ""
    if dimension and isinstance(value, int | float) and not isinstance(value, bool):
        return format_quantity(float(value), dimension, trim=True)
    if isinstance(value, Mapping):
        return ", ".join(f"{part} {value_text(key, one)}" for part, one in value.items())
    if isinstance(value, list | tuple):
        return ", ".join(value_text("", one) for one in value)
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)


def lines(values: Values) -> list[Line]:
    """Return the nameplate in the order of the keys, what tells the asset from others last."""
    keys = [key for key in (*NAMEPLATE, "tag", "serial") if values.get(key) is not None]
    return [Line(key, label(key), value_text(key, values[key]), KEYS[key].meaning) for key in keys]


def typed_text(key: str, value: object) -> str:
    """Return a plain value as it can be typed and is read back to the same."""
    if value is None:
        return ""
    kind = KEYS[key].kind
    if kind is Kind.LIST and isinstance(value, list | tuple):
        return ", ".join(str(one) for one in value)
    if kind in (Kind.TEXT, Kind.WORD, Kind.YEAR) or (kind is Kind.WHEN and isinstance(value, str)):
        return str(value)
    return header_line(key, _written(key, value)).partition("=")[2].strip().strip('"')


def _written(key: str, value: object) -> Any:  # noqa: ANN401 - a text or a table of texts
    dimension, meant = KEYS[key].dimension, value_of(key, value)
    if isinstance(meant, Mapping):
        return {part: format_exact(one, dimension) for part, one in meant.items()}
    return format_exact(meant, dimension) if dimension else str(meant)


def boxes(
    values: Values, typed: Mapping[str, str] | None = None, faults: Iterable[Fault] = ()
) -> tuple[list[Box], list[Box], list[Box]]:
    """Return the fields of the form: what names the asset, what its class asks for, and the others.

    Parameters
    ----------
    values : mapping
        Plain value by key, as the register has it.
    typed : mapping, optional
        What the person typed, shown instead.
    faults : iterable of Fault
        What was wrong in it, by field.
    """
    wrong = {fault.field: fault for fault in faults}

    def box(key: str) -> Box:
        text = typed.get(key, "") if typed is not None else typed_text(key, values.get(key))
        fault = wrong.get(key)
        said = (
            " ".join(
                filter(None, (fault.problem, fault.allowed and f"Allowed: {fault.allowed}.", fault.remedy))
            )
            if fault
            else ""
        )
        known = KEYS[key]
        return Box(
            key, label(key), known.meaning, text, words(known) if known.kind is Kind.WORD else (), said
        )

    of_class = _OF_CLASS.get(str((typed or values).get("class") or ""), ())
    shown = [
        key for key in NAMEPLATE if key in (*_COMMON, *of_class) or (typed or values).get(key) or key in wrong
    ]
    rest = [key for key in NAMEPLATE if key not in shown]
    names = ("asset", "site", "tag", "serial")
    return [box(key) for key in names], [box(key) for key in shown], [box(key) for key in rest]


def read_form(values: Values, typed: Mapping[str, str]) -> tuple[dict[str, Any], list[str]]:
    """Return what a form sets and what it clears, of the keys it says something else of than the register.

    Parameters
    ----------
    values : mapping
        Plain value by key, as the register has it.
    typed : mapping of str to str
        What stands in each field.

    Raises
    ------
    InputError
        If one cannot be read; holds every fault.
    """
    given, clear = {}, []
    for key in PLATE:
        text = " ".join(typed.get(key, "").split())
        if key not in typed or text == " ".join(typed_text(key, values.get(key)).split()):
            continue
        if text:
            given[key] = text
        else:
            clear.append(key)
    return plain_values(given)[0] if given else {}, clear


def faults_of(problem: Exception) -> tuple[Fault, ...]:
    """Return what was wrong, each with what the page calls its field where that is known."""
    if not isinstance(problem, InputError):
        return (Fault("", None, "", "", str(problem), "", ""),)
    return tuple(replace(fault, field=fault.field.lstrip("-").replace("-", "_")) for fault in problem.faults)
