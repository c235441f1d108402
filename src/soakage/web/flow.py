"""What one thread writes comes out of another in pieces: a long answer is sent while it is made, in bounded memory."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from queue import Empty, Full, Queue
from threading import Event, Thread

from soakage.errors import SoakageError

_PIECE = 1 << 16
_AHEAD = 16  # pieces made before they are asked for
_GLANCE = 0.5  # seconds


class LeftError(SoakageError):
    """Nobody reads any more."""


class Flow:
    """A file that is written by one thread and read, piece by piece, by another.

    Parameters
    ----------
    write : callable
        Writes all of it to the flow it is given.
    """

    def __init__(self, write: Callable[[Flow], None]) -> None:
        self._work = write
        self._pieces: Queue[bytes | BaseException | None] = Queue(_AHEAD)
        self._left = Event()
        self._held = bytearray()

    def write(self, content: bytes) -> int:
        """Take a part; wait while enough of it waits to be read."""
        self._held += content
        if len(self._held) >= _PIECE:
            self._hand_on(bytes(self._held))
            self._held.clear()
        return len(content)

    def pieces(self) -> Iterator[bytes]:
        """Yield what is written; a failure of the writer breaks it off, so that no part is taken for the whole.

        Yields
        ------
        bytes

        Raises
        ------
        SoakageError
            If writing failed.
        """
        writer = Thread(target=self._run, name="flow", daemon=True)
        writer.start()
        try:
            while True:
                try:
                    piece = self._pieces.get(timeout=_GLANCE)
                except Empty:
                    continue
                if piece is None:
                    return
                if isinstance(piece, BaseException):
                    raise piece
                yield piece
        finally:
            self._left.set()

    def _run(self) -> None:
        try:
            self._work(self)
            self._hand_on(bytes(self._held))
            self._hand_on(None)
        except LeftError:
            return
        except BaseException as problem:  # noqa: BLE001 - it is raised where it is read
            self._hand_on(problem)

    def _hand_on(self, piece: bytes | BaseException | None) -> None:
        while not self._left.is_set():
            with suppress(Full):
                self._pieces.put(piece, timeout=_GLANCE)
                return
        if not isinstance(piece, BaseException):
            raise LeftError("Nobody reads any more.")
