"""Lists of a store for the doors."""

from __future__ import annotations

from datetime import date
from typing import Any

from soakage.errors import UsageError
from soakage.model.keys import CLASSES
from soakage.model.verdict import Status
from soakage.store.queries import Wanted, listed_assets, listed_tests
from soakage.wiring.memory import memory

Rows = list[dict[str, Any]]
wanted = Wanted


def listed(
    store: str | None, person: str | None, choice: Wanted, limit: int | None = None, offset: int = 0
) -> tuple[Rows, Rows, bool]:
    """Return tests, assets, and whether there are more of either than the limit.

    Parameters
    ----------
    store, person : str, optional
        Which store, and who works there.
    choice : Wanted
        What to list.
    limit, offset : int
        Which part of each list; all of it unless given.

    Returns
    -------
    tests, assets : list of dict
    more : bool
    """
    most = None if limit is None else limit + 1
    with memory(store, person).store as opened, opened.reading() as connection:
        tests = listed_tests(connection, choice, limit=most, offset=offset)
        assets = listed_assets(connection, choice, limit=most, offset=offset)
    more = limit is not None and max(len(tests), len(assets)) > limit
    return tests[:limit], assets[:limit], more


def day_given(option: str, text: str | None) -> str | None:
    """Return a day given as an option, as ISO text.

    Raises
    ------
    UsageError
        If it is none.
    """
    if text is None:
        return None
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise UsageError(f"{option} {text}: this is no day. Write it as 2026-03-14.") from None


def class_given(text: str | None) -> str | None:
    """Return a class of asset given as an option.

    Raises
    ------
    UsageError
        If it is none.
    """
    if text is None:
        return None
    word = text.strip().lower()
    if word not in CLASSES:
        raise UsageError(f"--class {text}: no such class. One of: {', '.join(CLASSES)}.")
    return word


def status_given(text: str | None) -> str | None:
    """Return a status given as an option, spelled as in the contract.

    Raises
    ------
    UsageError
        If it is none.
    """
    if text is None:
        return None
    word = " ".join(text.lower().replace("-", " ").split())
    if word not in list(Status):
        raise UsageError(f"--status {text}: no such status. One of: {', '.join(Status)}.")
    return word
