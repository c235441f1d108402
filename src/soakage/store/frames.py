"""The file of a bundle as a stream of frames: each with its length and its hash, read little at a time.

The file begins with a line that names the format and its version.  A frame is a word of four letters, the length of
what follows and its SHA-256; the last frame holds the hash over all headers before it, so that a frame left out,
added or moved is noticed, and its absence tells that the file was cut short.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from hashlib import sha256
from typing import IO, Protocol

from soakage.errors import StoreError

VERSION = 1
HEAD, ENTRIES, BLOB, NEXT, DONE = b"HEAD", b"ENTR", b"BLOB", b"NEXT", b"DONE"
LONGEST = {HEAD: 64 << 20, ENTRIES: 64 << 20, BLOB: (256 << 20) + 64, NEXT: 0, DONE: 1 << 16}
_MAGIC = b"soakage bundle "
_LINE = len(_MAGIC) + 5
_HEADER = struct.Struct("<4sQ32s")
MENDED = "Nothing of it was taken. Have it made or sent again."


class Written(Protocol):
    """What can be written to."""

    def write(self, content: bytes, /) -> object:
        """Take a part."""


class FrameWriter:
    """Writes frames.

    Parameters
    ----------
    stream : binary file
        Written to from the start on.
    """

    def __init__(self, stream: Written) -> None:
        self._stream = stream
        self._chain = sha256()
        stream.write(_MAGIC + b"%04d\n" % VERSION)

    def frame(self, kind: bytes, content: bytes = b"") -> None:
        """Write one frame."""
        header = _HEADER.pack(kind, len(content), sha256(content).digest())
        self._chain.update(header)
        self._stream.write(header)
        self._stream.write(content)

    @property
    def chain(self) -> str:
        """Hash over all headers so far."""
        return self._chain.hexdigest()


def frames(stream: IO[bytes], name: str) -> Iterator[tuple[bytes, bytes, str]]:
    """Yield the frames of a bundle with the hash over all headers before each.

    Parameters
    ----------
    stream : binary file
        Buffered: a read gives all that was asked for, unless it ends. Read from the start to the end.
    name : str
        For messages.

    Yields
    ------
    kind, content : bytes
    chain : str

    Raises
    ------
    StoreError
        If it is no bundle, one of a newer version, damaged or cut short.
    """
    line = stream.read(_LINE)
    if not (line.startswith(_MAGIC) and line[len(_MAGIC) : -1].isdigit() and line[_LINE - 1 :] == b"\n"):
        raise StoreError(f"{name}: this is no bundle of Soakage. Make one with 'soakage bundle -o FILE'.")
    version = int(line[len(_MAGIC) : -1])
    if version != VERSION:
        raise StoreError(
            f"{name}: a bundle of version {version}; this Soakage reads version {VERSION}. Nothing of it was "
            "taken. Use a newer Soakage."
        )
    chain = sha256()
    while True:
        header = stream.read(_HEADER.size)
        if len(header) < _HEADER.size:
            raise StoreError(f"{name}: the bundle ends before its end. {MENDED}")
        kind, length, wanted = _HEADER.unpack(header)
        if length > LONGEST.get(kind, -1):
            raise StoreError(f"{name}: the bundle is damaged: a part of it cannot be so. {MENDED}")
        content = stream.read(length)
        if len(content) < length:
            raise StoreError(f"{name}: the bundle ends before its end. {MENDED}")
        if sha256(content).digest() != wanted:
            raise StoreError(f"{name}: the bundle is damaged: the hash of a part does not fit. {MENDED}")
        if kind == DONE and stream.read(1):
            raise StoreError(f"{name}: the bundle is damaged: something stands behind its end. {MENDED}")
        yield kind, content, chain.hexdigest()
        if kind == DONE:
            return
        chain.update(header)
