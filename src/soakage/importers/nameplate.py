"""From header entries and options to the stated values of a record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import lru_cache
from typing import Any

from soakage.errors import QuantityError
from soakage.importers.base import Notes, shown
from soakage.importers.kinds import read_key
from soakage.importers.layout import Entry
from soakage.importers.values import plain_key, unquoted
from soakage.methods import words
from soakage.model.asset import Asset
from soakage.model.keys import KEYS
from soakage.model.readings import Readings
from soakage.model.record import Origin, Record
from soakage.model.test import Conditions, Instrument, Paper, Test

VERSION = "1"
_ONE_QUANTITY = {"insulation_temperature": "winding_temperature"}


@dataclass(slots=True)
class Plate:
    """Everything stated apart from the readings.

    Parameters
    ----------
    stated : dict
        Value in SI by key of the record file.
    extra : dict
        Text by key for keys the reader does not know.
    version : str or None
        What ``# soakage`` says; None where it is missing.
    broken : set
        Keys that were given and could not be read.
    """

    stated: dict[str, Any] = field(default_factory=dict)
    extra: dict[str, str] = field(default_factory=dict)
    version: str | None = None
    broken: set[str] = field(default_factory=set)

    def record(self, readings: Readings, origin: Origin, notes: Notes) -> Record:
        """Return the record made of what is stated and of these readings."""
        parts: dict[str, dict[str, Any]] = {
            "asset": {},
            "paper": {},
            "conditions": {},
            "test": {},
            "instrument": {},
        }
        for name, value in self.stated.items():
            key = KEYS[name]
            parts[key.part][key.field] = value
        return Record(
            asset=Asset(**parts["asset"]),
            test=Test(**parts["test"]),
            readings=readings,
            conditions=Conditions(**parts["conditions"]),
            instrument=Instrument(**parts["instrument"]),
            paper=Paper(**parts["paper"]),
            origin=origin,
            extra=dict(self.extra),
            findings=tuple(notes.findings),
        )


def read_plate(entries: Sequence[Entry], overrides: Mapping[str, str], notes: Notes) -> Plate:
    """Read header entries and options into stated values, noting every fault.

    Parameters
    ----------
    entries : sequence of Entry
        The header as typed.
    overrides : mapping of str to str
        Keys given as options; they win over the header, with a finding where the two differ.
    notes : Notes
        Takes faults and findings.

    Returns
    -------
    Plate
        What could be read.
    """
    plate = Plate()
    options = {plain_key(name): text for name, text in overrides.items()}
    lines: dict[str, Entry] = {}
    for entry in entries:
        name = plain_key(entry.key)
        if name == "soakage":
            _version(entry, plate, notes)
            continue
        same = _ONE_QUANTITY.get(name, name)
        if same in lines:
            first = lines[same]
            also = f" (as {first.key})" if plain_key(first.key) != name else ""
            notes.fault(
                entry.row,
                name,
                entry.value,
                f"This key is there already, in line {first.row}{also}.",
                "each key once",
                "Delete one of the two lines.",
            )
            continue
        lines[same] = entry
    for name, text in options.items():
        if name in KEYS:
            _override(name, text, lines.get(_ONE_QUANTITY.get(name, name)), plate, notes)
        else:
            notes.fault(
                None, _option(name), text, "No key has this name.", _nearest(name) or "a key", "Check it."
            )
    # terminals first: lists of figures take their names from it
    for same, entry in sorted(lines.items(), key=lambda item: item[0] != "terminals"):
        name = plain_key(entry.key)
        if same in {_ONE_QUANTITY.get(option, option) for option in options}:
            continue
        if name in KEYS:
            _take(name, entry.value, entry.row, plate, notes)
        else:
            _unknown(entry, plate, notes)
    plate.stated = {name: plate.stated[name] for name in KEYS if name in plate.stated}
    return plate


def _take(name: str, text: str, row: int | None, plate: Plate, notes: Notes) -> None:
    if not text.strip() or text.strip() in ('""', "''", "[]", "{}"):
        return  # an empty form field states nothing
    where = name if row is not None else _option(name)
    try:
        value = read_key(name, text, plate.stated, notes)
    except QuantityError as error:
        notes.quantity_fault(row, where, error)
        plate.broken.add(name)
    else:
        if value not in (None, (), ""):
            plate.stated[name] = value


def _override(name: str, text: str, entry: Entry | None, plate: Plate, notes: Notes) -> None:
    _take(name, text, None, plate, notes)
    if entry is None or name not in plate.stated or not entry.value.strip():
        return
    try:
        in_file = read_key(plain_key(entry.key), entry.value, plate.stated, Notes(""))
    except QuantityError:
        in_file = None
    if in_file != plate.stated[name]:
        notes.finding(
            "key_overridden",
            f"The file states {name} = {shown(unquoted_or_same(entry.value))}; the option {_option(name)} "
            f"{shown(text)} is used instead.",
            "Correct the file or leave the option out.",
        )


def unquoted_or_same(text: str) -> str:
    """Return text without its quotes, or as it stands where an escape in it is broken."""
    try:
        return unquoted(text)
    except ValueError:
        return text


def _unknown(entry: Entry, plate: Plate, notes: Notes) -> None:
    if not entry.key:
        notes.fault(
            entry.row,
            "",
            entry.value,
            "A header line has no key.",
            "# key = value",
            "Write the key before '='.",
        )
        return
    plate.extra[entry.key] = unquoted_or_same(entry.value)
    near = _nearest(plain_key(entry.key))
    also = f" The nearest known key is {near}." if near else ""
    notes.finding("unknown_key", f"The key {shown(entry.key)!r} is not known; it is kept and not used.{also}")


@lru_cache(maxsize=1024)
def _nearest(name: str) -> str:
    return next(iter(get_close_matches(name[:60], KEYS, 1)), "")


def _option(name: str) -> str:
    return "--" + name.replace("_", "-")


def _version(entry: Entry, plate: Plate, notes: Notes) -> None:
    version = unquoted_or_same(entry.value).removesuffix(".0")
    if plate.version is not None:
        notes.fault(
            entry.row, "soakage", entry.value, "The version is there twice.", "once", "Delete one of them."
        )
    elif version != VERSION:
        notes.fault(
            entry.row,
            "soakage",
            entry.value,
            "This version of the record file is not known.",
            f"soakage = {VERSION}",
            "Read it with the release of Soakage that wrote it, or a later one.",
        )
    plate.version = version


def require(plate: Plate, notes: Notes, *, file_keys: bool) -> None:
    """Note what a record cannot do without: class and method.

    Parameters
    ----------
    plate : Plate
        What is stated.
    notes : Notes
        Takes the faults.
    file_keys : bool
        True where the file has a header to write them in; the version is required there too.
    """
    if file_keys and plate.version is None:
        notes.fault(
            None,
            "soakage",
            "",
            "The header does not say that this is a record file.",
            f"# soakage = {VERSION}",
            "Write it as the first line.",
        )
    for name in ("class", "method"):
        if name not in plate.stated and name not in plate.broken:
            place = (
                f"Add the line '# {name} = ...' or give {_option(name)}."
                if file_keys
                else f"Give {_option(name)}."
            )
            notes.fault(None, name, "", f"The {name} is not stated.", ", ".join(words(KEYS[name])), place)
