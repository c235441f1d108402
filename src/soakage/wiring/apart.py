"""A process of its own for what strangers sent: little memory, little time; when it dies, only its task is lost."""

from __future__ import annotations

import multiprocessing
import signal
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from pathlib import Path
from threading import Lock
from typing import Any, Self, TypeVar

from soakage.errors import InputError, SoakageError

T = TypeVar("T")
_GLANCE = 0.1  # seconds between looks at whether it was cancelled
_BEGIN = 60.0  # seconds to begin
_LEAVE = 2.0  # seconds to end by itself


class LostError(SoakageError):
    """The process ended, or took too long, before it answered."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a task may use: bytes of memory beyond what the process begins with, and seconds."""

    memory: int = 1 << 30
    seconds: float = 60.0


class Apart:
    """One process that does tasks one after another; begun with the first, and anew after one is lost.

    Parameters
    ----------
    limits : Limits
        Of each task.
    """

    def __init__(self, limits: Limits | None = None) -> None:
        self.limits = limits or Limits()
        self._lock = Lock()
        self._process: SpawnProcess | None = None
        self._line: Connection | None = None

    def __enter__(self) -> Self:
        """Return itself; the process ends with the block."""
        return self

    def __exit__(self, *_problem: object) -> None:
        """End the process."""
        self.close()

    def ask(self, task: Callable[..., T], *given: object, meanwhile: Callable[[], None] = lambda: None) -> T:
        """Have a task done in the process.

        Parameters
        ----------
        task : callable
            A function of a module; it and what is given are sent to the process.
        *given : object
            What it is called with.
        meanwhile : callable
            Called while it is waited for; where it raises, the process is ended and the error goes on.

        Raises
        ------
        InputError
            As the task raised it.
        SoakageError
            As the task raised it, with its text.
        LostError
            If the process died, needed too much memory or took too long.
        """
        with self._lock:
            try:
                line = self._begun()
                line.send((task, given))
                kind, answer = self._answer(line, meanwhile)
                if kind == "lost":
                    self._end()
            except (EOFError, OSError):
                self._end()
                raise LostError(_DIED) from None
            except BaseException:
                self._end()
                raise
        if kind == "faults":
            raise InputError(answer)
        if kind == "problem":
            raise SoakageError(answer)
        if kind == "lost":
            raise LostError(answer)
        found: T = answer
        return found

    def close(self) -> None:
        """End the process; the next task begins another."""
        with self._lock:
            self._end()

    def _answer(self, line: Connection, meanwhile: Callable[[], None]) -> tuple[str, Any]:
        last = time.monotonic() + self.limits.seconds
        while not line.poll(_GLANCE):
            meanwhile()
            if time.monotonic() > last:
                return "lost", f"Reading it took longer than {self.limits.seconds:g}\u00a0s and was stopped."
        kind, answer = line.recv()
        return str(kind), answer

    def _begun(self) -> Connection:
        if self._line is not None and self._process is not None and self._process.is_alive():
            return self._line
        self._end()
        context = multiprocessing.get_context("spawn")
        here, there = context.Pipe()
        self._process = context.Process(target=_serve, args=(there, self.limits.memory), daemon=True)
        self._process.start()
        there.close()
        self._line = here
        if not here.poll(_BEGIN):  # how long that takes is no fault of a file
            raise EOFError
        here.recv()
        return here

    def _end(self) -> None:
        if self._line is not None:
            self._line.close()
        if self._process is not None:
            self._process.kill()
            self._process.join(_LEAVE)
        self._process = self._line = None


_DIED = "The process that read it ended by itself: it needed too much memory, or the file is made to do harm."


def _serve(line: Connection, memory: int) -> None:
    """Do tasks until nobody is at the other end."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _limit(memory)
    line.send(("ready", None))
    while True:
        try:
            task, given = line.recv()
        except (EOFError, OSError):
            return
        try:
            answer = "done", task(*given)
        except InputError as problem:
            answer = "faults", tuple(problem.faults)
        except SoakageError as problem:
            answer = "problem", str(problem)
        except MemoryError:
            answer = "lost", f"Reading it needs more than {memory >> 20}\u00a0MiB of memory."
        except Exception as problem:  # noqa: BLE001 - whatever a file brings about costs only that file
            answer = "lost", f"Reading it failed in Soakage itself ({type(problem).__name__})."
        with suppress(BrokenPipeError):
            line.send(answer)
        if answer[0] == "lost":
            return  # what is left of the task goes with the process


def _limit(memory: int) -> None:
    """Bound what the process may use, where the system can."""
    if sys.platform == "win32":
        return
    import resource

    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    held = Path("/proc/self/statm")
    if held.is_file():
        most = int(held.read_text().split()[0]) * resource.getpagesize() + memory
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
