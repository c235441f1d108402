"""What came of long work, until it is looked at: the last few of one server, each for whoever began it."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock
from typing import Any

_MOST = 20


class Keepsakes:
    """Results by the id of the work they came of."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, tuple[str, Any]] = OrderedDict()
        self._lock = Lock()

    def keep(self, key: str, person: str, result: object) -> None:
        """Remember a result; the oldest is forgotten."""
        with self._lock:
            self._kept[key] = (person, result)
            while len(self._kept) > _MOST:
                self._kept.popitem(last=False)

    def get(self, key: str, person: str) -> Any:  # noqa: ANN401 - whatever was kept
        """Return a result of a person that is still remembered; None otherwise."""
        with self._lock:
            owner, result = self._kept.get(key, ("", None))
        return result if owner == person else None
