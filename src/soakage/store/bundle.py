"""Bundles: what is shared of a store, or a part of it, in one file that another store takes."""

from __future__ import annotations

import os
import struct
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path

from soakage import __version__
from soakage.app.exchange import Parcel
from soakage.app.holdings import Holdings, holdings_plain
from soakage.app.journal import Entry
from soakage.errors import StoreError, UsageError
from soakage.model.stated import canonical
from soakage.store.frames import BLOB, DONE, ENTRIES, HEAD, LONGEST, NEXT, FrameWriter, Written

_PART = 4 << 20  # of entries as text in one frame, unless one alone is longer
MOST_BLOB = 256 << 20
BLOB_HEADER = struct.Struct("<32sBQ")
ENTRIES_HEADER = struct.Struct("<Q")
FIELDS = {part.name: part.type for part in fields(Entry)}


@dataclass(frozen=True, slots=True)
class Head:
    """What a bundle says of itself.

    Parameters
    ----------
    store : str
        Id of the store it was made from.
    made : int
        When, in microseconds since 1970 UTC.
    person : str
        By whom.
    part : str
        What of the store it holds, in words; empty for all of it.
    holds : Holdings
        What that store held when it was made.
    soakage : str
        Version that made it.
    """

    store: str
    made: int
    person: str
    part: str
    holds: Holdings
    soakage: str = __version__


@dataclass(slots=True)
class Counts:
    """How much a bundle holds."""

    entries: int = 0
    tests: int = 0
    blobs: int = 0
    parcels: int = 0


def write_bundle(stream: Written, head: Head, parcels: Iterable[Parcel]) -> Counts:
    """Write a bundle.

    Parameters
    ----------
    stream : binary file
        Written to as the parcels come; it need not be able to go back.
    head : Head
        What it says of itself.
    parcels : iterable of Parcel
        What it holds.

    Returns
    -------
    Counts

    Raises
    ------
    StoreError
        If something is too large for a bundle.
    """
    writer = FrameWriter(stream)
    plain = {name: getattr(head, name) for name in ("store", "made", "person", "part", "soakage")}
    writer.frame(HEAD, canonical(plain | {"holds": holdings_plain(head.holds)}).encode())
    counts = Counts()
    for parcel in parcels:
        counts.parcels += 1
        counts.entries += len(parcel.entries)
        counts.tests += len({entry.subject for entry in parcel.entries if entry.kind == "test"})
        for text in _texts(parcel.entries):
            writer.frame(ENTRIES, ENTRIES_HEADER.pack(len(text)) + zlib.compress(text, 6))
        for name, content in parcel.blobs:
            if len(content) > MOST_BLOB:
                raise StoreError(
                    f"The content {name[:12]} has {len(content)} bytes; a bundle takes {MOST_BLOB}. "
                    "Nothing was written."
                )
            counts.blobs += 1
            packed = content if content.startswith(b"SOAK") else zlib.compress(content, 6)
            small = len(packed) < len(content)
            frame = BLOB_HEADER.pack(bytes.fromhex(name), small, len(content)) + (
                packed if small else content
            )
            writer.frame(BLOB, frame)
        writer.frame(NEXT)
    writer.frame(DONE, canonical({"counts": asdict(counts), "chain": writer.chain}).encode())
    return counts


def _texts(entries: Sequence[Entry]) -> Iterator[bytes]:
    """Yield entries as JSON lines in pieces of bounded length."""
    lines: list[bytes] = []
    size = 0
    for entry in entries:
        line = canonical({name: getattr(entry, name) for name in FIELDS}).encode() + b"\n"
        if lines and size + len(line) > _PART:
            yield b"".join(lines)
            lines, size = [], 0
        lines.append(line)
        size += len(line)
    if size > LONGEST[ENTRIES] // 2:
        raise StoreError("One entry is too long for a bundle. Nothing was written.")
    if lines:
        yield b"".join(lines)


def save_bundle(path: Path, head: Head, parcels: Iterable[Parcel]) -> Counts:
    """Write a bundle to a file, whole or not at all.

    Parameters
    ----------
    path : Path
        A file that stands there is replaced once the new one is whole.
    head : Head
        What it says of itself.
    parcels : iterable of Parcel
        What it holds.

    Returns
    -------
    Counts

    Raises
    ------
    UsageError
        If the file cannot be written.
    """
    part = path.with_name(f".{path.name}.part")
    try:
        try:
            with part.open("wb") as stream:
                counts = write_bundle(stream, head, parcels)
                stream.flush()
                os.fsync(stream.fileno())
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)
    except OSError as problem:
        raise UsageError(
            f"{path}: {problem.strerror or problem}. No bundle was written. Choose a folder that can be written."
        ) from None
    return counts
