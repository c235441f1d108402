"""How each kind of key is read from its text: one function per kind of :class:`soakage.model.keys.Kind`."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date, datetime
from difflib import get_close_matches
from functools import lru_cache
from itertools import pairwise

from soakage.errors import QuantityError
from soakage.importers.base import Notes, shown
from soakage.importers.values import Value, names, plain_key, read_value, split_list, unquoted
from soakage.methods import words
from soakage.model.keys import KEYS, THERMAL_LETTERS, Key, Kind, insulation_family
from soakage.model.test import Accuracy, PreviousTest, Step, VoltageFound
from soakage.units import parse

_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_WHEN = re.compile(
    r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2}([.,]\d{1,6})?)? ?(Z|[+-]\d{2}:?\d{2})?",
    re.ASCII | re.IGNORECASE,
)
_FIGURE = re.compile(r"[0-9]+(?:[.,][0-9]+)?")
_EARTHED_PARTS = ("frame", "tank", "earth", "ground", "core", "screen", "sheath", "pe")
_BETWEEN_FIGURES = re.compile(r";|,(?![0-9])")
_YEARS = (1850, 2200)
_ABOVE_ZERO = (
    "length", "power", "capacitance", "ramp_rate",
    "rated_voltage", "nominal_voltage", "test_voltage", "hold", "current_limit",
)  # fmt: skip

PARTS: dict[str, dict[str, str]] = {
    "voltage_found": {"dc": "voltage", "ac": "voltage", "frequency": "frequency"},
    "previous_test": {"voltage": "voltage", "held": "time", "earthed": "time"},
    "accuracy": {
        "range": "resistance", "reading": "fraction", "offset": "current", "resolution": "resistance",
        "timing": "time",
    },
    "steps": {"at": "time", "voltage": "voltage"},
}  # fmt: skip
EXAMPLES = {
    Kind.YEAR: "a year, such as 2004",
    Kind.DATE: "a date, such as 2026-03-14",
    Kind.WHEN: "a date-time such as 2026-03-14T09:20:00+02:00, or a date",
    Kind.LIST: 'a list, such as ["U", "V", "W"]',
    Kind.STEPS: 'such as [{at = "0 s", voltage = "1 kV"}, {at = "60 s", voltage = "2 kV"}]',
    Kind.ACCURACY: 'such as [{range = "10 GOhm", reading = "5 %", offset = "20 pA", resolution = "1 MOhm"}]',
    Kind.VOLTAGE_FOUND: '{dc = "12 V"} or {ac = "12 V", frequency = "50 Hz"}',
    Kind.PREVIOUS_TEST: 'such as {voltage = "5 kV", held = "10 min", earthed = "2 h"}',
}


@lru_cache(maxsize=4096)  # headers of a thousand files repeat themselves
def figure(text: str, dimension: str, *, bare: str = "") -> float:
    """Return a stated figure in SI; a bound is no statement.

    Parameters
    ----------
    text : str
        As typed.
    dimension : str
        Dimension word of :mod:`soakage.units`.
    bare : str
        Unit of a figure without one.

    Returns
    -------
    float
        In SI.

    Raises
    ------
    QuantityError
        If it cannot be read, or is a bound.
    """
    plain = text.strip()
    if bare and _FIGURE.fullmatch(plain):
        plain = f"{plain} {bare}"
    measured = parse(plain, dimension)
    if measured.bound is not None:
        raise QuantityError(text, "A bound cannot be used here.", "a figure with its unit", "Give the value.")
    return measured.value


def _number(key: Key, text: str, _stated: Mapping[str, object], _notes: Notes) -> object:
    value = figure(unquoted(text), key.dimension, bare="h" if key.name == "hours_out_of_service" else "")
    if key.dimension == "temperature":
        if value <= 0:
            raise QuantityError(
                text, "Colder than absolute zero.", "a temperature, such as 27.5 degC", "Check the unit."
            )
    elif key.dimension in _ABOVE_ZERO or key.name in _ABOVE_ZERO:
        if value <= 0:
            raise QuantityError(
                text, f"{key.name} must be above zero.", "a positive figure", "Check the figure."
            )
    elif value < 0:
        raise QuantityError(text, f"{key.name} cannot be negative.", "zero or above", "Check the sign.")
    if key.dimension == "humidity" and value > 1:
        raise QuantityError(text, "More than 100 % relative humidity.", "0 % to 100 %", "Check the figure.")
    return value


def _text(key: Key, text: str, _stated: Mapping[str, object], notes: Notes) -> object:
    word = unquoted(text)
    if key.name == "insulation" and word:
        family = insulation_family(word)
        if family is None:
            notes.finding(
                "insulation_not_recognised",
                f"The insulation {shown(word)!r} names neither a thermosetting nor a thermoplastic system; "
                "the word is kept.",
                "Say insulation = thermosetting or thermoplastic.",
            )
        elif family != word:
            notes.finding("read_as", f"Insulation {shown(word)!r} is read as {family}.")
    return word


def _word(key: Key, text: str, _stated: Mapping[str, object], notes: Notes) -> object:
    typed = unquoted(text)
    word = "-".join(typed.replace("_", " ").replace("-", " ").split()).lower()
    if key.words == ("yes", "no"):
        word = {"true": "yes", "false": "no"}.get(word, word)
    if key.name == "thermal_class":
        letter = typed.strip().removeprefix("class").removeprefix("Class").strip().upper()
        if letter in THERMAL_LETTERS:
            notes.finding("read_as", f"Thermal class {letter} is read as {THERMAL_LETTERS[letter]}.")
            word = THERMAL_LETTERS[letter]
    known = words(key)
    if word in known:
        return word
    near = get_close_matches(word, known, 1)
    allowed = ", ".join(known)
    remedy = f"Did you mean {near[0]}?" if near else "Use one of the words allowed."
    raise QuantityError(typed, f"{key.name} has a word that is not known.", allowed, remedy)


def _year(key: Key, text: str, _stated: Mapping[str, object], _notes: Notes) -> object:
    typed = unquoted(text).removesuffix(".0")
    if not re.fullmatch("[0-9]{4}", typed) or not _YEARS[0] <= int(typed) <= _YEARS[1]:
        raise QuantityError(typed, "This is no year.", EXAMPLES[key.kind], "Give four digits.")
    return int(typed)


def read_when(typed: str, *, date_only: bool = False) -> datetime | date:
    """Return a date-time, or a date where no time stands.

    Parameters
    ----------
    typed : str
        ``2026-03-14T09:20:00+02:00``, ``2026-03-14 09:20`` or ``2026-03-14``.
    date_only : bool
        Whether a time of day is dropped.

    Returns
    -------
    datetime or date
        Without a zone where none is stated.

    Raises
    ------
    QuantityError
        If it is neither.
    """
    kind = Kind.DATE if date_only else Kind.WHEN
    try:
        if _DATE.fullmatch(typed):
            return date.fromisoformat(typed)
        if _WHEN.fullmatch(typed):
            when = datetime.fromisoformat(
                typed.replace(",", ".").replace(" ", "T", 1).replace(" ", "").upper()
            )
            return when.date() if date_only else when
    except ValueError as error:
        raise QuantityError(
            typed, f"There is no such date: {error}.", EXAMPLES[kind], "Check day and month."
        ) from None
    raise QuantityError(
        typed, "This is no date in the order year, month, day.", EXAMPLES[kind], "Write it as YYYY-MM-DD."
    )


def _date(_key: Key, text: str, _stated: Mapping[str, object], _notes: Notes) -> object:
    return read_when(unquoted(text), date_only=True)


def _when(key: Key, text: str, _stated: Mapping[str, object], notes: Notes) -> object:
    when = read_when(unquoted(text))
    if key.name == "started" and isinstance(when, datetime) and when.tzinfo is None:
        notes.finding(
            "zone_not_stated",
            f"started = {when.isoformat()} states no zone; it is taken as local time.",
            "Add the zone, for example +02:00.",
        )
    return when


def _list(_key: Key, text: str, _stated: Mapping[str, object], _notes: Notes) -> object:
    return _listed(text)


@lru_cache(maxsize=4096)
def _listed(text: str) -> tuple[str, ...]:
    if text.strip().startswith("["):
        value = read_value(text)
        return names(value if isinstance(value, list) else [value])
    whole = unquoted(text)
    return tuple(split_list(whole if whole != text.strip() else text))


def _numbers(key: Key, text: str, stated: Mapping[str, object], _notes: Notes) -> object:
    value = read_value(text)
    if isinstance(value, dict):
        return {name: _leaf(item, key.dimension) for name, item in value.items()}
    figures = (
        list(value)
        if isinstance(value, list)
        else [part for part in _BETWEEN_FIGURES.split(value) if part.strip()]
    )
    terminals = stated.get("terminals")
    windings = (
        [t for t in terminals if t.lower() not in _EARTHED_PARTS] if isinstance(terminals, tuple) else []
    )
    if len(windings) != len(figures):
        raise QuantityError(
            text,
            f"{len(figures)} figures for {len(windings)} windings in terminals.",
            f'{key.name} = {{H = "33 kV", X = "11 kV"}}, or a list in the order of terminals',
            "Name each winding.",
        )
    return {name: _leaf(item, key.dimension) for name, item in zip(windings, figures, strict=True)}


def _leaf(item: Value, dimension: str) -> float:
    if not isinstance(item, str):
        raise QuantityError(
            str(item), "A single figure is needed here.", "a figure with its unit", "Take the brackets away."
        )
    value = figure(item, dimension)
    if value < 0:
        raise QuantityError(item, "A negative figure cannot stand here.", "zero or above", "Check the sign.")
    return value


def _row(key: Key, value: Value) -> dict[str, float]:
    """Return one inline table of figures, each part by its dimension."""
    parts = PARTS[key.name]
    if not isinstance(value, dict):
        raise QuantityError(
            str(value), f"{key.name} needs its parts named.", EXAMPLES[key.kind], "Use braces."
        )
    figures: dict[str, float] = {}
    for name, item in value.items():
        if plain_key(name) not in parts:
            raise QuantityError(
                name, f"{key.name} has no part {name!r}.", ", ".join(parts), "Check its spelling."
            )
        figures[plain_key(name)] = _leaf(item, parts[plain_key(name)])
    return figures


def _rows(key: Key, text: str) -> list[dict[str, float]]:
    value = read_value(text)
    return [_row(key, item) for item in (value if isinstance(value, list) else [value])]


def _steps(key: Key, text: str, _stated: Mapping[str, object], _notes: Notes) -> object:
    rows = _rows(key, text)
    if any(len(row) != 2 for row in rows):
        raise QuantityError(
            text, "Each step needs both at and voltage.", EXAMPLES[key.kind], "Add the missing part."
        )
    steps = tuple(Step(row["at"], row["voltage"]) for row in rows)
    if any(later.at <= earlier.at for earlier, later in pairwise(steps)):
        raise QuantityError(
            text, "The times of the steps do not rise.", EXAMPLES[key.kind], "Put them in order."
        )
    return steps


def _accuracy(key: Key, text: str, _stated: Mapping[str, object], _notes: Notes) -> object:
    return tuple(Accuracy(**row) for row in _rows(key, text) if row)


def _voltage_found(key: Key, text: str, _stated: Mapping[str, object], _notes: Notes) -> object:
    value = read_value(text)
    if isinstance(value, str):
        raise QuantityError(
            value,
            "Direct or alternating voltage is not told.",
            f'{{dc = "{shown(value, 20)}"}} or {{ac = "{shown(value, 20)}", frequency = "50 Hz"}}',
            "Say which it is.",
        )
    row = _row(key, value)
    return VoltageFound(**row) if row else None


def _previous_test(key: Key, text: str, _stated: Mapping[str, object], _notes: Notes) -> object:
    row = _row(key, read_value(text))
    missing = [part for part in PARTS[key.name] if part not in row]
    if missing:
        raise QuantityError(
            text, f"previous_test lacks {', '.join(missing)}.", EXAMPLES[key.kind], "Add what is missing."
        )
    return PreviousTest(**row)


Reader = Callable[[Key, str, Mapping[str, object], Notes], object]
READERS: dict[Kind, Reader] = {
    Kind.TEXT: _text, Kind.WORD: _word, Kind.NUMBER: _number, Kind.YEAR: _year, Kind.DATE: _date,
    Kind.WHEN: _when,
    Kind.LIST: _list, Kind.NUMBERS: _numbers, Kind.STEPS: _steps, Kind.ACCURACY: _accuracy,
    Kind.VOLTAGE_FOUND: _voltage_found, Kind.PREVIOUS_TEST: _previous_test,
}  # fmt: skip


def read_key(name: str, text: str, stated: Mapping[str, object], notes: Notes) -> object:
    """Return the value of a known key in SI.

    Parameters
    ----------
    name : str
        Key of the record file.
    text : str
        Its value as typed.
    stated : mapping
        Keys read before it; a list of figures takes its names from ``terminals``.
    notes : Notes
        Takes what is to be shown about the reading.

    Returns
    -------
    object
        As the model holds it.

    Raises
    ------
    QuantityError
        If the value cannot be read.
    """
    key = KEYS[name]
    try:
        return READERS[key.kind](key, text, stated, notes)
    except ValueError as error:
        allowed = EXAMPLES.get(key.kind, "text")
        raise QuantityError(
            text, f"The value cannot be read: {error}.", allowed, "Check quotes and brackets."
        ) from None
