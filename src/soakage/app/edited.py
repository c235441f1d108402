"""What came of an edit of the register, and the checks that every edit shares."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from soakage.app.folding import body_of
from soakage.app.journal import Entry
from soakage.app.register import IDENTITY
from soakage.app.revising import FieldChange
from soakage.errors import UsageError

TEXT = "text"  # what a person writes beside a site, a section or a person


@dataclass(frozen=True, slots=True)
class Edited:
    """What came of an edit of the register.

    Parameters
    ----------
    kind, id, title : str
        What was edited.
    added : bool
        Whether it is new.
    changed : tuple of FieldChange
        Fields that differ; empty where the register had all of it already.
    judged_before : tuple of str
        Tests whose verdict was given with a nameplate value that is another one now.
    """

    kind: str
    id: str
    title: str
    added: bool
    changed: tuple[FieldChange, ...]
    judged_before: tuple[str, ...] = ()


def fresh_values(
    values: Mapping[str, Any], clear: Iterable[str], allowed: Iterable[str], what: str, *, some: bool = True
) -> dict[str, Any]:
    """Return the fields an edit sets, those to be cleared as None.

    Parameters
    ----------
    values : mapping
        Plain value by key.
    clear : iterable of str
        Keys whose value is taken away, as typed.
    allowed : iterable of str
        Keys that what is edited has.
    what : str
        For messages: an asset, an instrument.
    some : bool
        Whether there has to be any.

    Raises
    ------
    UsageError
        If a key is not allowed, or set and cleared, or nothing is given.
    """
    known = tuple(allowed)
    fresh: dict[str, Any] = clean_values(values, known, what)
    for key in clear:
        name = key.strip().replace("-", "_")
        if name not in known:
            raise UsageError(f"--clear {key}: no such part of {what}. Allowed: {', '.join(known)}.")
        if name in fresh:
            raise UsageError(f"--clear {key}: a value is given for it too. Leave one of the two out.")
        fresh[name] = None
    if some and not fresh:
        raise UsageError(f"Nothing to change is given. Allowed for {what}: {', '.join(known)}.")
    return fresh


def clean_values(values: Mapping[str, Any], allowed: Iterable[str], what: str) -> dict[str, Any]:
    """Return plain values of which every key is allowed, names without spare blanks.

    Raises
    ------
    UsageError
        If a key is none of those allowed.
    """
    known = tuple(allowed)
    foreign = [key for key in values if key not in known]
    if foreign:
        raise UsageError(f"{', '.join(foreign)}: no part of {what}. Allowed: {', '.join(known)}.")
    return {key: " ".join(value.split()) if key in IDENTITY else value for key, value in values.items()}


def word(text: str | None, what: str) -> str:
    """Return a name without spare blanks.

    Raises
    ------
    UsageError
        If nothing is left.
    """
    name = " ".join((text or "").split())
    if not name:
        raise UsageError(f"{what} needs a name.")
    return name


def changes_of(entry: Entry | None) -> tuple[FieldChange, ...]:
    """Return what an entry set, with what was there before."""
    if entry is None:
        return ()
    body = body_of(entry)
    was = body.get("was", {})
    return tuple(FieldChange(name, was.get(name), value) for name, value in body["set"].items())
