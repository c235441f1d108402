"""What is stated without readings: a nameplate given by options, or the header of a record file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soakage.errors import Fault, InputError
from soakage.importers.base import Notes
from soakage.importers.layout import Sheet, take_apart
from soakage.importers.nameplate import read_plate
from soakage.importers.text import decode
from soakage.model.asset import Asset
from soakage.model.keys import KEYS
from soakage.model.verdict import Finding


@dataclass(frozen=True, slots=True)
class Statement:
    """An asset, every stated key in SI, and what was noticed while reading."""

    asset: Asset
    stated: Mapping[str, Any]
    findings: tuple[Finding, ...]


def read_statement(overrides: Mapping[str, str], path: str | Path | None = None) -> Statement:
    """Read a nameplate from options, over the header of a record file where one is given.

    Parameters
    ----------
    overrides : mapping of str to str
        Keys given as options, as typed.
    path : str or Path, optional
        A record file; its readings are not looked at.

    Returns
    -------
    Statement

    Raises
    ------
    InputError
        If the file cannot be read or a key is wrong; holds every fault.
    """
    name = str(path) if path is not None else ""
    notes = Notes(name)
    sheet = Sheet()
    if path is not None:
        try:
            data = Path(path).read_bytes()
        except OSError as problem:
            fault = Fault(
                name, None, "", "", problem.strerror or str(problem), "", "Give a file that can be read."
            )
            raise InputError([fault]) from None
        sheet = take_apart(decode(data, name), notes, header_only=True)
    plate = read_plate(sheet.entries, overrides, notes)
    notes.settle()
    fields = {KEYS[key].field: value for key, value in plate.stated.items() if KEYS[key].part == "asset"}
    return Statement(Asset(**fields), dict(plate.stated), tuple(notes.findings))
