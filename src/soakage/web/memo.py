"""Answers that took long, kept until the store changes."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from threading import Lock
from typing import Any

from fastapi import Request
from sqlalchemy import select

from soakage.store import schema
from soakage.store.store import Store
from soakage.web.shown import now
from soakage.web.stored import store_of

_MOST = 128


class Memo:
    """Answers by what was asked, each made once at a time, forgotten when the store has changed."""

    def __init__(self) -> None:
        self._kept: OrderedDict[tuple[object, ...], tuple[Lock, list[Any]]] = OrderedDict()
        self._lock = Lock()

    def get(self, key: tuple[object, ...], make: Callable[[], Any]) -> Any:  # noqa: ANN401 - whatever is made
        """Return the answer to a key; whoever asks for the same meanwhile waits for it.

        Parameters
        ----------
        key : tuple
            What was asked, and the state of the store.
        make : callable
            Works it out.
        """
        with self._lock:
            lock, answer = self._kept.setdefault(key, (Lock(), []))
            self._kept.move_to_end(key)
            while len(self._kept) > _MOST:
                self._kept.popitem(last=False)
        with lock:
            if not answer:
                answer.append(make())
            return answer[0]


def state(store: Store) -> tuple[object, ...]:
    """Return what changes whenever anything in the journal does: an exchange is noted in the chain that stays here."""
    with store.reading() as connection:
        query = select(schema.chain.c.store, schema.chain.c.head).order_by(schema.chain.c.store)
        return tuple(tuple(row) for row in connection.execute(query))


def remembered(request: Request, key: tuple[object, ...], make: Callable[[], Any]) -> Any:  # noqa: ANN401
    """Return an answer of this server: as it was made before, where the store is still the same."""
    app = request.app
    if not hasattr(app.state, "memo"):
        app.state.memo = Memo()
    return app.state.memo.get((state(store_of(request)), now(), *key), make)
