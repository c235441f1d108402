"""Every exception Soakage raises.

The tree::

    SoakageError                something the caller can act on
    ├── InputError              faults in data given to us; carries every fault at once
    ├── QuantityError           one figure with its unit that cannot be read
    ├── UsageError              a command, option or call that does not fit together
    ├── ValidityError           a formula was asked for a value outside its range
    ├── StandardDataError       a criteria or profile file is wrong
    ├── StoreError              the store cannot be opened, read or written; says what was kept
    └── DiscoveryError          two parts of the house declare the same id, or one declares none
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in what was given, said so that the reader can mend it.

    Parameters
    ----------
    file : str
        Where it stands; empty when the data came from no file.
    row : int or None
        Line of the file, counted from 1; None when the whole file is meant.
    field : str
        Key, column or option concerned; empty when none is.
    given : str
        What was found there.
    problem : str
        What is wrong with it, one sentence.
    allowed : str
        What would have been right.
    remedy : str
        What to do.
    """

    file: str
    row: int | None
    field: str
    given: str
    problem: str
    allowed: str
    remedy: str

    def __str__(self) -> str:
        """Return the fault as one line."""
        place = self.file
        if self.row is not None:
            place += f":{self.row}" if place else f"line {self.row}"
        parts = [place] if place else []
        if self.field:
            parts.append(self.field)
        text = ": ".join([*parts, self.problem])
        if self.given:
            text += f" Given: {self.given}."
        if self.allowed:
            text += f" Allowed: {self.allowed}."
        if self.remedy:
            text += f" {self.remedy}"
        return text


class SoakageError(Exception):
    """Base of every error raised on purpose."""


class InputError(SoakageError):
    """Data that cannot be read; holds every fault found, not only the first."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class QuantityError(SoakageError):
    """One figure with its unit cannot be read, or can be read in more than one way.

    Parameters
    ----------
    given : str
        The text as it came.
    problem, allowed, remedy : str
        As in :class:`Fault`; the place is not known here.
    """

    def __init__(self, given: str, problem: str, allowed: str, remedy: str) -> None:
        self.given = given
        self.problem = problem
        self.allowed = allowed
        self.remedy = remedy
        super().__init__(str(self.fault()))

    def fault(self, file: str = "", row: int | None = None, field: str = "") -> Fault:
        """Return the same as a fault with its place."""
        return Fault(file, row, field, self.given, self.problem, self.allowed, self.remedy)


class UsageError(SoakageError):
    """A command, option or call that does not fit together."""


class ValidityError(SoakageError):
    """A formula was asked for a value outside the range it holds in."""


class StandardDataError(SoakageError):
    """A criteria or profile file is wrong: the message names file, entry and remedy."""


class StoreError(SoakageError):
    """The store cannot be opened, read or written, or holds something damaged; says what was kept."""


class DiscoveryError(SoakageError):
    """Two parts declare one id, or a part declares none."""
