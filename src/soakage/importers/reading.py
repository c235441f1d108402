"""Files to records: picks the importer of each file and keeps going where one cannot be read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import soakage.importers
from soakage.discovery import declared
from soakage.errors import Fault, InputError
from soakage.importers.base import Importer
from soakage.importers.recipe import Recipe
from soakage.importers.recipe_read import read_with
from soakage.importers.text import LARGEST
from soakage.model.record import Record

HEAD = 4096


@dataclass(frozen=True, slots=True)
class ReadResult:
    """What came of reading files.

    Parameters
    ----------
    records : tuple of Record
        In the order of the files and, in a file, of its rows or sheets.
    errors : tuple of Fault
        Every fault of every file that could not be read.
    """

    records: tuple[Record, ...]
    errors: tuple[Fault, ...]


@cache
def importers() -> dict[str, Importer]:
    """Return every importer by id: those of this folder and those of installed add-ons."""
    return declared(soakage.importers, "IMPORTER", Importer, "soakage.importers")


def pick(head: bytes, name: str) -> Importer | None:
    """Return the importer that recognises a file best, or None where none does.

    Parameters
    ----------
    head : bytes
        Its first 4096 bytes.
    name : str
        Its name; an importer that names suffixes looks at no other files.

    Returns
    -------
    Importer or None
        The one with the highest score; of equals the first by module name.
    """
    suffix = Path(name).suffix.lower()
    scores = [
        (importer.recognises(head, name), importer)
        for importer in importers().values()
        if not importer.suffixes or suffix in importer.suffixes or not suffix
    ]
    score, best = max(scores, key=lambda pair: pair[0], default=(0, None))
    return best if score > 0 else None


def read_bytes(
    data: bytes, name: str, overrides: Mapping[str, str] | None = None, recipe: Recipe | None = None
) -> tuple[Record, ...]:
    """Read one file given as bytes.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        Its name, for the choice of importer and for messages.
    overrides : mapping of str to str, optional
        Keys of the record file given as options, as typed; they win over the file, with a finding.
    recipe : Recipe, optional
        Reads a table of another make; no importer is asked then.

    Returns
    -------
    tuple of Record
        Its records in order.

    Raises
    ------
    InputError
        If it cannot be read; holds every fault.
    """
    if recipe is not None:
        return read_with(recipe, data, name, overrides)
    importer = pick(data[:HEAD], name)
    if importer is None:
        endings = sorted({suffix for known in importers().values() for suffix in known.suffixes})
        fault = Fault(
            name,
            None,
            "",
            Path(name).suffix or "no ending",
            "No importer reads this kind of file.",
            ", ".join(endings),
            "Save it as CSV or XLSX.",
        )
        raise InputError([fault])
    return importer.read(data, name, overrides or {})


def read_files(
    paths: Iterable[str | Path], overrides: Mapping[str, str] | None = None, recipe: Recipe | None = None
) -> ReadResult:
    """Read files; one that cannot be read costs only its own records.

    Parameters
    ----------
    paths : iterable of str or Path
        Files, read in this order.
    overrides : mapping of str to str, optional
        Keys of the record file given as options, as typed, for every file.
    recipe : Recipe, optional
        Reads every file.

    Returns
    -------
    ReadResult
        Records of the good files and faults of the others.
    """
    records: list[Record] = []
    errors: list[Fault] = []
    for path in paths:
        name = str(path)
        try:
            with Path(path).open("rb") as file:
                data = file.read(LARGEST + 1)
            records += read_bytes(data, name, overrides, recipe)
        except OSError as error:
            reason = error.strerror or type(error).__name__
            errors.append(
                Fault(
                    name,
                    None,
                    "",
                    "",
                    f"The file cannot be opened: {reason}.",
                    "a readable file",
                    "Check its name.",
                )
            )
        except InputError as error:
            errors += error.faults
    return ReadResult(tuple(records), tuple(errors))
