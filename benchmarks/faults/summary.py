"""The figures of a campaign out of its lines."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

Line = dict[str, Any]
BETWEEN = ("the start", "between changes")
COLUMNS = ("work", "engine", "kills", "in a change", "acknowledged", "lost", "half-written", "repairs")


def lines_of(path: Path) -> list[Line]:
    """Return the lines of a file of results; none where there is none, and a last one cut short is left out."""
    if not path.exists():
        return []
    found = []
    for text in path.read_text(encoding="utf-8").splitlines():
        try:
            found.append(json.loads(text))
        except ValueError:
            continue
    return found


def summary(lines: Iterable[Line]) -> list[Line]:
    """Return one row for each work and engine.

    Parameters
    ----------
    lines : iterable of dict
        One for each kill.

    Returns
    -------
    list of dict
        With the names of `COLUMNS`; acknowledged counts each thing each time it was looked for.
    """
    rows: dict[tuple[str, str], Line] = {}
    for line in lines:
        key = line["work"], line["engine"]
        row = rows.setdefault(key, dict.fromkeys(COLUMNS, 0) | {"work": key[0], "engine": key[1]})
        row["kills"] += 1
        row["in a change"] += line["during"] not in BETWEEN
        row["acknowledged"] += line["acknowledged"]
        row["lost"] += len(line["lost"])
        row["half-written"] += len(line["half"])
        row["repairs"] += len(line["repair"])
    return list(rows.values())


def table(rows: Iterable[Line]) -> str:
    """Return rows as a table in Markdown."""
    text = [f"| {' | '.join(COLUMNS)} |", "|" + "---|" * len(COLUMNS)]
    text += ["| " + " | ".join(_cell(row[name]) for name in COLUMNS) + " |" for row in rows]
    return "\n".join(text)


def _cell(value: object) -> str:
    return f"{value:,}" if isinstance(value, int) else str(value)
