"""Lines wrapped to the terminal, at 60 columns or more."""

from __future__ import annotations

import shutil
import textwrap

NARROWEST, WIDEST = 60, 110


def width() -> int:
    """Return the width to write at."""
    return max(NARROWEST, min(WIDEST, shutil.get_terminal_size((100, 24)).columns))


def wrapped(text: str, indent: str = "", first: str | None = None) -> str:
    """Return text wrapped to the terminal; no-break spaces hold."""
    return textwrap.fill(
        text,
        width(),
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def counted(number: int, one: str) -> str:
    """Return a number with what is counted, in the plural where it is not one."""
    return f"{number} {one}" if number == 1 else f"{number} {one}s"
