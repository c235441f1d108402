"""Records written as JSON: what :mod:`soakage.importers.json_file` reads back to the same records."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from pathlib import Path

from soakage.importers.exchange import plain
from soakage.importers.json_file import READINGS, RECORDS, VERSION_KEY
from soakage.importers.nameplate import VERSION
from soakage.importers.whole import whole_file
from soakage.model.record import Record


def json_text(records: Iterable[Record]) -> Iterator[str]:
    """Yield the text of a JSON file of records, piece by piece: one line per record.

    Parameters
    ----------
    records : iterable of Record
        Each with at least one reading.

    Yields
    ------
    str
        Pieces to be joined.
    """
    yield f'{{"{VERSION_KEY}": {int(VERSION)}, "{RECORDS}": ['
    for place, record in enumerate(records):
        one = plain(record)
        header = {key: value for key, value in one.header.items() if key != VERSION_KEY}
        text = json.dumps(header | {READINGS: dict(one.readings)}, ensure_ascii=False, allow_nan=False)
        yield f"{',' if place else ''}\n{text}"
    yield "\n]}\n"


def write_json(path: Path, records: Iterable[Record]) -> None:
    """Write records to a JSON file, whole or not at all.

    Parameters
    ----------
    path : Path
        The file.
    records : iterable of Record
        In the order to be written; :func:`soakage.importers.exchange.batches` keeps files readable.

    Raises
    ------
    UsageError
        If the folder cannot be written, or the file would be too large to be read again.
    """
    with whole_file(path) as part, part.open("w", encoding="utf-8", newline="\n") as file:
        file.writelines(json_text(records))
