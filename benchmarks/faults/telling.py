"""What a worker tells before it is killed: where it is, and what it has acknowledged; and a store that is watched."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Protocol

from sqlalchemy import select

from soakage.app.journal import STATED_IDENTITY
from soakage.store import schema
from soakage.store.address import Address
from soakage.store.store import Store
from soakage.store.trail import own_chains
from soakage.store.writing import Writer

STORE = (
    "f" * 32
)  # every store of a work has this id and no clock, so that undisturbed runs give the same bytes
PERSON = "N. Invented"


class Tell(Protocol):
    """Takes what a worker says."""

    def mark(self, where: str) -> None:
        """Say what is going on from now on."""

    def acknowledge(self, **what: Any) -> None:  # noqa: ANN401 - plain values
        """Say what is promised to be kept."""


class Pipe:
    """Tells on a pipe, one line each; what was written there outlives the writer.

    Parameters
    ----------
    descriptor : int
        End of the pipe that is written to.
    """

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor

    def mark(self, where: str) -> None:
        """Say what is going on from now on."""
        self.say({"mark": where})

    def acknowledge(self, **what: Any) -> None:  # noqa: ANN401
        """Say what is promised to be kept."""
        self.say({"ack": what})

    def say(self, line: dict[str, Any]) -> None:
        """Write one line."""
        left = json.dumps(line).encode() + b"\n"
        while left:
            left = left[os.write(self._descriptor, left) :]


class WatchedStore(Store):
    """A store that tells where each change of it is.

    Parameters
    ----------
    where : Address
        Its place.
    tell : Tell
        Who is told.
    """

    def __init__(self, where: Address, tell: Tell) -> None:
        super().__init__(where, now=lambda: 0, name=lambda: STORE)
        self._tell = tell
        self._told: set[str] = set()

    @contextmanager
    def writing(self, person: str, identity: str = STATED_IDENTITY) -> Iterator[Writer]:
        """Give a writer; see :meth:`soakage.store.store.Store.writing`."""
        self._tell.mark("a change begins")
        with super().writing(person, identity) as writer:
            self._tell.mark("in a change")
            yield writer
            self._tell.mark("a change is written and committed")
        self._tell.mark("between changes")

    def acknowledge(self, **what: Any) -> None:  # noqa: ANN401
        """Tell what is acknowledged, with every entry that came since the last time and the heads of the chains."""
        with self.reading() as connection:
            hashes = set(connection.execute(select(schema.entry.c.hash)).scalars())
            chains = own_chains(connection)
        self._tell.acknowledge(
            entries=sorted(hashes - self._told),
            chains={name: number for name, (number, _) in chains.items()},
            **what,
        )
        self._told = hashes
