"""Sessions: who a browser speaks for, and the token that binds a form to it."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace
from threading import Lock

from soakage.web.accounts import Role

IDLE = 10 * 3600.0
"""Seconds: a session that was not used for a working day ends."""
LONGEST = 24 * 3600.0
_MOST = 10_000


@dataclass(frozen=True, slots=True)
class Person:
    """Who does something.

    Parameters
    ----------
    name : str
        As it is written beside what was done.
    role : Role
        What the person may do.
    authenticated : bool
        False where the name is only stated: the user of the operating system.
    """

    name: str
    role: Role
    authenticated: bool


@dataclass(frozen=True, slots=True)
class _Session:
    person: Person
    made: float
    used: float


class Sessions:
    """Sessions of this process; only a hash of each id is held.

    Parameters
    ----------
    clock : callable
        Seconds that only go up.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._held: OrderedDict[bytes, _Session] = OrderedDict()
        self._lock = Lock()

    def begin(self, person: Person) -> str:
        """Return the id of a new session."""
        session_id, now = new_id(), self._clock()
        with self._lock:
            self._held[key_of(session_id)] = _Session(person, now, now)
            while len(self._held) > _MOST:
                self._held.popitem(last=False)
        return session_id

    def person(self, session_id: str) -> Person | None:
        """Return whose session it is; None where there is none or it has ended."""
        key, now = key_of(session_id), self._clock()
        with self._lock:
            held = self._held.get(key)
            if held is None:
                return None
            if now - held.used > IDLE or now - held.made > LONGEST:
                del self._held[key]
                return None
            self._held[key] = replace(held, used=now)
            self._held.move_to_end(key)
            return held.person

    def end(self, session_id: str) -> None:
        """End a session."""
        with self._lock:
            self._held.pop(key_of(session_id), None)

    def end_all(self, name: str) -> None:
        """End every session of a person, when the account changes."""
        with self._lock:
            self._held = OrderedDict((k, s) for k, s in self._held.items() if s.person.name != name)


def new_id() -> str:
    """Return an id nobody can guess."""
    return secrets.token_urlsafe(32)


def token(secret: bytes, session_id: str) -> str:
    """Return the token that a form of this session carries."""
    return hmac.new(secret, session_id.encode(), hashlib.sha256).hexdigest()


def token_fits(secret: bytes, session_id: str, given: str) -> bool:
    """Return whether a token was made for this session."""
    return hmac.compare_digest(token(secret, session_id).encode(), given.encode())


def key_of(session_id: str) -> bytes:
    """Return what is kept of a session's id."""
    return hashlib.sha256(session_id.encode()).digest()
