"""Readings sealed into bytes: a versioned header, the hash of all of it, columns shuffled and compressed."""

from __future__ import annotations

import struct
import zlib
from hashlib import sha256

import numpy as np

from soakage.errors import StoreError
from soakage.model.readings import Readings
from soakage.model.stated import COLUMNS, FLAGS

_HEAD = struct.Struct("<4sBBI")
_SIZE = _HEAD.size + 32
_MAGIC, _VERSION = b"SOAK", 1
_MOST_ROWS = 50_000_000


def seal(readings: Readings) -> bytes:
    """Return readings as bytes that tell when they were damaged.

    Parameters
    ----------
    readings : Readings
        Any number of rows.

    Returns
    -------
    bytes
        Mark, version, flags, rows; SHA-256 of these and of the content; then the compressed content: the
        little-endian float64 columns with their bytes shuffled, then the bounds as int8.
    """
    table = np.array([getattr(readings, name) for name in COLUMNS], dtype="<f8")
    shuffled = table.view(np.uint8).reshape(-1, 8).T
    content = np.ascontiguousarray(shuffled).tobytes() + np.asarray(readings.bound, dtype=np.int8).tobytes()
    flags = sum(getattr(readings, flag) << place for place, flag in enumerate(FLAGS))
    head = _HEAD.pack(_MAGIC, _VERSION, flags, len(readings))
    return head + sha256(head + content).digest() + zlib.compress(content, 6)


def unseal(sealed: bytes) -> Readings:
    """Return readings from bytes.

    Parameters
    ----------
    sealed : bytes
        As `seal` made them.

    Returns
    -------
    Readings

    Raises
    ------
    StoreError
        If the bytes are not sealed readings, of a newer version, or damaged.
    """
    if len(sealed) < _SIZE or sealed[:4] != _MAGIC:
        raise StoreError("These bytes are not sealed readings.")
    head, wanted = sealed[: _HEAD.size], sealed[_HEAD.size : _SIZE]
    _, version, flags, rows = _HEAD.unpack(head)
    if version != _VERSION:
        raise StoreError(
            f"Readings sealed in version {version}; this Soakage reads {_VERSION}. Use a newer one."
        )
    size = rows * (8 * len(COLUMNS) + 1)
    if rows > _MOST_ROWS:
        raise StoreError(f"The sealed readings claim {rows} rows, more than any test has: they are damaged.")
    try:
        content = zlib.decompressobj().decompress(sealed[_SIZE:], size + 1)
    except zlib.error:
        content = b""
    if len(content) != size or sha256(head + content).digest() != wanted:
        raise StoreError("The sealed readings are damaged: their hash does not fit.")
    numbers = rows * len(COLUMNS)
    shuffled = np.frombuffer(content, dtype=np.uint8, count=8 * numbers).reshape(8, numbers)
    table = np.ascontiguousarray(shuffled.T).view("<f8").reshape(len(COLUMNS), rows).astype(np.float64)
    bound = np.frombuffer(content, dtype=np.int8, offset=8 * numbers).copy()
    time, voltage, current, resistance = table
    assumed, derived, given = (bool(flags >> place & 1) for place in range(len(FLAGS)))
    return Readings(time, voltage, current, resistance, bound, assumed, derived, given)
