"""Tables of text for a terminal: columns as wide as what they hold, the last one wrapped."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from soakage.cli.wrapping import width

_GAP = 2
_LEAST = 24  # columns that a wrapped last column is given at least
NOTHING = "\N{EN DASH}"


def table(headings: Sequence[str], rows: Sequence[Sequence[object]], indent: str = "") -> Iterator[str]:
    """Yield the lines of a table.

    Parameters
    ----------
    headings : sequence of str
        One for each column.
    rows : sequence of sequence
        Cells; None is shown as a dash, an empty text as nothing.
    indent : str
        Before each line.
    """
    texts = [tuple(NOTHING if cell is None else str(cell) for cell in row) for row in rows]
    widths = [max(map(len, column)) for column in zip(headings, *texts, strict=True)]
    before = sum(widths[:-1]) + _GAP * (len(widths) - 1) + len(indent)
    last = max(_LEAST, width() - before)
    yield _line(headings, widths, indent)
    yield indent + "-" * min(width() - len(indent), sum(widths) + _GAP * (len(widths) - 1))
    for row in texts:
        parts = textwrap.wrap(row[-1], last, break_long_words=False, break_on_hyphens=False) or [""]
        yield _line((*row[:-1], parts[0]), widths, indent)
        for part in parts[1:]:
            yield " " * before + part


def _line(cells: Sequence[str], widths: Sequence[int], indent: str) -> str:
    shown = [f"{cell:<{wide}}" for cell, wide in zip(cells[:-1], widths[:-1], strict=True)]
    return (indent + (" " * _GAP).join([*shown, cells[-1]])).rstrip()
