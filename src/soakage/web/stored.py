"""The store of the server, in the hands of whoever asks."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Request

from soakage.store.memory import StoreMemory
from soakage.store.store import Store
from soakage.web.people import LogInNeededError, person
from soakage.wiring.memory import in_hands


def store_of(request: Request) -> Store:
    """Return the store this server was started with."""
    found = request.app.state.store
    assert isinstance(found, Store)  # noqa: S101 - set where the app is made, nowhere else
    return found


def memory_of(request: Request) -> StoreMemory:
    """Return the store in the name of whoever asks: what a route depends on.

    Raises
    ------
    LogInNeededError
        If nobody has logged in.
    """
    found = person(request)
    if found is None:
        raise LogInNeededError
    return in_hands(store_of(request), found.name, authenticated=found.authenticated)


Memory = Annotated[StoreMemory, Depends(memory_of)]
