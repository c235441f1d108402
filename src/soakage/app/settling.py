"""Settling a conflict: someone chooses one of the values, or gives another; all of them stay in the trail."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from soakage.app.exchange import Conflict
from soakage.app.ports import Change
from soakage.errors import UsageError

SHORTEST = 8  # signs of an id that must be given
ONLY_TAKEN = ("content", "withdrawn")  # of a test: one of the values, never another


@dataclass(frozen=True, slots=True)
class Settled:
    """A conflict that is none any more: what it was, and the value that stands."""

    conflict: Conflict
    value: Any


def meant(conflicts: Sequence[Conflict], text: str, field: str) -> Conflict:
    """Return the conflict a person means.

    Parameters
    ----------
    conflicts : sequence of Conflict
        All there are.
    text : str
        Name, tag or serial number, or the id or its beginning.
    field : str
        Which field.

    Returns
    -------
    Conflict

    Raises
    ------
    UsageError
        If there is none, or it may be several.
    """
    wanted = " ".join(text.split())
    mine = [
        one
        for one in conflicts
        if wanted in (one.title, *one.also)
        or (len(wanted) >= SHORTEST and one.subject.startswith(wanted.lower()))
    ]
    if not mine:
        raise UsageError(f"Nothing called {text!r} is in conflict. See 'soakage conflicts'.")
    named = field.strip().replace("-", "_")
    fitting = [one for one in mine if field.strip() == one.field or named == one.field]
    if not fitting:
        known = ", ".join(sorted({one.field for one in mine}))
        raise UsageError(f"{text}: {field!r} is not in conflict. In conflict: {known}.")
    if len({one.subject for one in fitting}) > 1:
        ids = ", ".join(one.subject[:12] for one in fitting)
        raise UsageError(f"{text!r} may be several: {ids}. Give the id.")
    return fitting[0]


def taken(conflict: Conflict, number: int) -> Any:  # noqa: ANN401 - a plain value
    """Return the value of a claim by its number, counted from 1 as they are listed.

    Raises
    ------
    UsageError
        If there is no such claim.
    """
    if not 1 <= number <= len(conflict.claims):
        raise UsageError(f"--take {number}: there are the values 1 to {len(conflict.claims)}.")
    return conflict.claims[number - 1].value


def settle(change: Change, conflict: Conflict, value: object, reason: str = "") -> Settled:
    """Let one value stand; the others stay in the trail.

    Parameters
    ----------
    change : Change
        Of the memory.
    conflict : Conflict
        As it was shown.
    value : object
        Plain value; None for no value.
    reason : str
        Why.

    Returns
    -------
    Settled

    Raises
    ------
    UsageError
        If it was settled, or more values came to it, since it was shown; or the value may not be another.
    """
    now = change.folded(conflict.kind, conflict.subject).conflicts.get(conflict.field, ())
    if {claim.entry for claim in now} != {claim.entry for claim in conflict.claims}:
        raise UsageError("This conflict has changed meanwhile. Look at it again: 'soakage conflicts'.")
    if (
        conflict.kind == "test"
        and conflict.field in ONLY_TAKEN
        and value not in [claim.value for claim in now]
    ):
        raise UsageError("Of a test one of the values is chosen. Give --take with its number.")
    change.state(conflict.kind, conflict.subject, {conflict.field: value}, reason=reason.strip())
    return Settled(conflict, value)
