"""What an importer is, and the notebook in which a reader collects all faults before it speaks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from soakage.errors import Fault, InputError, QuantityError
from soakage.model.record import Record
from soakage.model.verdict import Finding

MOST_FAULTS = 500
NBSP = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True, slots=True)
class Importer:
    """One way of reading a file.

    Parameters
    ----------
    id : str
        Permanent name, also that of its sample.
    title : str
        What it reads, for lists.
    suffixes : tuple of str
        File name endings it looks at, in lower case with the dot; empty for any.
    recognises : callable
        ``recognises(head, name)`` returns 0 (not mine) to 100 from the first 4096 bytes and the name; of
        several importers the highest reads.
    read : callable
        ``read(data, name, overrides)`` returns the records of a whole file or raises `InputError`
        with every fault; `overrides` are keys of the record file given as options, as typed.
    """

    id: str
    title: str
    suffixes: tuple[str, ...]
    recognises: Callable[[bytes, str], int]
    read: Callable[[bytes, str, Mapping[str, str]], tuple[Record, ...]]


@dataclass(slots=True)
class Notes:
    """Faults and findings of one file while it is read.

    Parameters
    ----------
    file : str
        Name of the file as given.
    """

    file: str
    faults: list[Fault] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    unsaid: int = 0

    def fault(
        self, row: int | None, where: str, given: str, problem: str, allowed: str = "", remedy: str = ""
    ) -> None:
        """Note one fault; beyond the first 500 they are only counted."""
        if len(self.faults) >= MOST_FAULTS:
            self.unsaid += 1
            return
        self.faults.append(
            Fault(self.file, row, shown(where), shown(given), *map(printable, (problem, allowed, remedy)))
        )

    def quantity_fault(self, row: int | None, where: str, error: QuantityError) -> None:
        """Note a figure that could not be read."""
        self.fault(row, where, error.given, error.problem, error.allowed, error.remedy)

    def finding(self, code: str, sentence: str, remedy: str = "") -> None:
        """Note something to be shown with the record."""
        self.findings.append(Finding(code, sentence, remedy=remedy))

    def settle(self) -> None:
        """Raise what was noted.

        Raises
        ------
        InputError
            If any fault was noted; holds them all.
        """
        if self.unsaid:
            more = Fault(
                self.file,
                None,
                "",
                "",
                f"{self.unsaid} more faults were found.",
                "",
                "Mend these first, then read again.",
            )
            self.faults.append(more)
            self.unsaid = 0
        if self.faults:
            raise InputError(self.faults)


def shown(text: str, longest: int = 80) -> str:
    """Return text fit for a message: on one line, shortened, nothing unprintable."""
    flat = " ".join(text[: 20 * longest].split())
    plain = printable(flat)
    return plain if len(plain) <= longest else plain[:longest] + "\N{HORIZONTAL ELLIPSIS}"


def printable(text: str) -> str:
    """Return text with whatever cannot be printed replaced; no-break spaces stay."""
    if text.isprintable():
        return text
    return "".join(
        letter if letter.isprintable() or letter == NBSP else "\N{REPLACEMENT CHARACTER}" for letter in text
    )
