"""How often something may be done: a sliding window for each key."""

from __future__ import annotations

import time
from collections import OrderedDict, deque
from collections.abc import Callable
from threading import Lock

_MOST_KEYS = 10_000


class RateLimit:
    """So many times in so many seconds, for each key.

    Parameters
    ----------
    count : int
        How many times.
    seconds : float
        In which time.
    clock : callable
        Seconds that only go up.
    """

    def __init__(self, count: int, seconds: float, clock: Callable[[], float] = time.monotonic) -> None:
        self._count, self._seconds, self._clock = count, seconds, clock
        self._times: OrderedDict[str, deque[float]] = OrderedDict()
        self._lock = Lock()

    def wait(self, key: str) -> float:
        """Return in how many seconds it may be done again; 0 where it may be now, which then counts.

        Parameters
        ----------
        key : str
            Who or what is counted.
        """
        now = self._clock()
        with self._lock:
            times = self._times.setdefault(key, deque())
            self._times.move_to_end(key)
            while times and times[0] <= now - self._seconds:
                times.popleft()
            if len(times) >= self._count:
                return times[0] + self._seconds - now
            times.append(now)
            while len(self._times) > _MOST_KEYS:
                self._times.popitem(last=False)
            return 0.0

    def forget(self, key: str) -> None:
        """Begin anew for a key, after it was done rightly."""
        with self._lock:
            self._times.pop(key, None)
