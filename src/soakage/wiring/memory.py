"""Which store, in whose name: picked here for every door."""

from __future__ import annotations

import getpass

from soakage.app.journal import ACCOUNT_IDENTITY, STATED_IDENTITY
from soakage.store.address import address
from soakage.store.memory import StoreMemory
from soakage.store.store import Store

_OPENED: list[Store] = []


def person_named(given: str | None = None) -> str:
    """Return who works here: the name given, else that of the operating system's user."""
    if given and given.strip():
        return " ".join(given.split())
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return "unnamed"


def memory(store: str | None = None, person: str | None = None) -> StoreMemory:
    """Return the store in the hands of a person; nothing is opened or made until it is used.

    Parameters
    ----------
    store : str, optional
        Path or PostgreSQL address; SOAKAGE_STORE, else the user's data folder, unless given.
    person : str, optional
        Who works here, as stated; the operating system's user unless given.

    Raises
    ------
    UsageError
        If the address is of another kind of database.
    """
    return in_hands(open_store(store), person_named(person))


def open_store(store: str | None = None) -> Store:
    """Return a store at an address; `close_stores` lets it go.

    Parameters
    ----------
    store : str, optional
        Path or PostgreSQL address; SOAKAGE_STORE, else the user's data folder, unless given.

    Raises
    ------
    UsageError
        If the address is of another kind of database.
    """
    opened = Store(address(store))
    _OPENED.append(opened)
    return opened


def in_hands(store: Store, person: str, *, authenticated: bool = False) -> StoreMemory:
    """Return a store in the hands of a person: whoever is authenticated, or only stated a name."""
    return StoreMemory(store, person, ACCOUNT_IDENTITY if authenticated else STATED_IDENTITY)


def close_stores() -> None:
    """Let go of every store that was opened here: the end of a command."""
    while _OPENED:
        _OPENED.pop().close()
