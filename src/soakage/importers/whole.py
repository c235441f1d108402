"""A file written whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from uuid import uuid4

from soakage.errors import UsageError
from soakage.importers.text import LARGEST


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Give a place beside a file to write to; at the end it takes the file's place, after a failure it is gone.

    Parameters
    ----------
    path : Path
        The file to be written.

    Yields
    ------
    Path
        Where to write.

    Raises
    ------
    UsageError
        If the folder cannot be written, or what was written is too large to be read again.
    """
    part = path.with_name(f".{path.name}.{uuid4().hex[:8]}.part")
    try:
        yield part
        size = part.stat().st_size
        if size > LARGEST:
            raise UsageError(
                f"{path}: {size / 2**20:.0f} MiB. Allowed: at most {LARGEST // 2**20} MiB, so that it can be read "
                "again. Write fewer records to one file."
            )
        _settle(part)
        part.replace(path)
    except OSError as problem:
        raise UsageError(
            f"{path}: {problem.strerror or problem}. Choose a folder that can be written."
        ) from None
    finally:
        part.unlink(missing_ok=True)


def _settle(part: Path) -> None:
    """Put on the disk what was written, before its name says that it is whole."""
    with part.open("rb+") as file:
        os.fsync(file.fileno())
