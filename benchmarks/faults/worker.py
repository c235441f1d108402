"""A worker: a process that does a work until it is done or killed, and what it told until then."""

from __future__ import annotations

import gc
import json
import os
import select
import signal
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from faults.telling import Pipe, Tell
from soakage.errors import SoakageError

_PATIENCE = 120.0


@dataclass(slots=True)
class Told:
    """What came of a worker.

    Parameters
    ----------
    marks : list of str
        Where it was, in order.
    acks : list of dict
        What it acknowledged, in order.
    finished : bool
        Whether it came to its end.
    refused : str
        What it said when the store could not go on; empty where it did not.
    broken : str
        A traceback, where something else than the store's own words came up.
    seconds : float
        How long it lived.
    """

    marks: list[str] = field(default_factory=list)
    acks: list[dict[str, Any]] = field(default_factory=list)
    finished: bool = False
    refused: str = ""
    broken: str = ""
    seconds: float = 0.0

    def hear(self, line: bytes) -> None:
        """Take one line."""
        said = json.loads(line)
        if "mark" in said:
            self.marks.append(said["mark"])
        elif "ack" in said:
            self.acks.append(said["ack"])
        self.finished |= "finished" in said
        self.refused = said.get("refused", self.refused)
        self.broken = said.get("broken", self.broken)


def worked(
    do: Callable[[Tell], None], *, after: float | None = None, kill: Callable[[], bool] = lambda: True
) -> Told:
    """Do a work in a process of its own.

    Parameters
    ----------
    do : callable
        The work; all it needs is imported already.
    after : float, optional
        Seconds after which it is killed; never unless given.
    kill : callable
        Called at that moment; returns whether the worker itself is to be killed too.

    Returns
    -------
    Told
    """
    gc.freeze()  # what is there already is not gone through, and so not copied, in the worker
    reading, writing = os.pipe()
    began = time.monotonic()
    process = os.fork()
    if process == 0:
        os.close(reading)
        _child(do, Pipe(writing))
    os.close(writing)
    told = Told()
    try:
        rest = b""
        due = None if after is None else began + after
        while True:
            wait = began + _PATIENCE if due is None else due
            ready, _, _ = select.select([reading], [], [], max(0.0, wait - time.monotonic()))
            if not ready:
                if due is None or kill():
                    os.kill(process, signal.SIGKILL)
                due = None
                continue
            part = os.read(reading, 1 << 16)
            if not part:
                break
            *lines, rest = (rest + part).split(b"\n")
            for line in lines:
                told.hear(line)
    finally:
        os.close(reading)
        os.waitpid(process, 0)
    told.seconds = time.monotonic() - began
    return told


def _child(do: Callable[[Tell], None], pipe: Pipe) -> None:
    """Do the work and end without a word to what was inherited."""
    try:
        try:
            do(pipe)
            pipe.say({"finished": True})
        except SoakageError as problem:
            pipe.say({"refused": str(problem)})
        except BaseException:  # noqa: BLE001 - whatever it is, it is told
            pipe.say({"broken": traceback.format_exc()})
    finally:
        os._exit(0)
