"""Progress of long work on the error stream: only for a person, only when there is much to do."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

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
