"""Progress of long work on the error stream: only for a person, only when there is much to do."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, Self

import click

MANY = 50


@contextmanager
def progress_of(files: int, label: str = "Judging") -> Iterator[Callable[[int, int], None] | None]:
    """Give a function that shows progress, or None where none is wanted."""
    if files < MANY or not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=files, label=label, file=sys.stderr) as bar:
        shown = 0

        def step(done: int, total: int) -> None:
            nonlocal shown
            target = done * files // max(total, 1)
            bar.update(target - shown)
            shown = target

        yield step


class IntakeProgress:
    """Shows how many files were read, and how many of them are on the disk.

    Parameters
    ----------
    bar : object or None
        A bar of click's; None where none is wanted.
    """

    def __init__(self, bar: Any = None) -> None:  # noqa: ANN401 - click's type is private
        self._bar, self._read = bar, 0

    def read(self, number: int) -> None:
        """Say that so many were read."""
        if self._bar is not None:
            self._bar.update(number - self._read)
        self._read = number

    def kept(self, number: int) -> None:
        """Say that so many are on the disk."""
        if self._bar is not None:
            self._bar.label = f"Importing ({number} kept)"
            self._bar.update(0)


@contextmanager
def intake_progress(files: int) -> Iterator[IntakeProgress]:
    """Give what shows the progress of an import."""
    if files < MANY or not sys.stderr.isatty():
        yield IntakeProgress()
        return
    with click.progressbar(length=files, label="Importing", file=sys.stderr, show_pos=True) as bar:
        yield IntakeProgress(bar)


class Stopping:
    """While it lasts, Ctrl-C asks to stop between two changes; given again it stops at once."""

    def __init__(self) -> None:
        self.asked = False
        self._before: Any = None

    def __enter__(self) -> Self:
        """Listen; only the main thread can."""
        if threading.current_thread() is threading.main_thread():
            self._before = signal.signal(signal.SIGINT, self._ask)
        return self

    def __exit__(self, *_problem: object) -> None:
        """Listen no more."""
        if self._before is not None:
            signal.signal(signal.SIGINT, self._before)

    def _ask(self, _number: int, _frame: object) -> None:
        if self.asked:
            raise KeyboardInterrupt
        self.asked = True
        click.echo("\nStopping after what was read; press Ctrl-C again to drop that too.", err=True)
