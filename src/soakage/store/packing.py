"""How the bytes of a blob lie in its row: as they are, or compressed where that is shorter."""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from typing import Any

from soakage.errors import StoreError

_PACK_FROM = 64
_SEALED = b"SOAK"


def packed(name: str, content: bytes) -> dict[str, Any]:
    """Return the row of a blob.

    Parameters
    ----------
    name : str
        Hash of the bytes.
    content : bytes
        As received.

    Returns
    -------
    dict
    """
    small = len(content) < _PACK_FROM or content.startswith(_SEALED)  # readings are compressed already
    short = content if small else zlib.compress(content, 6)
    if len(short) >= len(content):
        return {"sha256": name, "packing": "none", "content": content}
    return {"sha256": name, "packing": "zlib", "content": short}


def unpacked(row: Mapping[str, Any]) -> bytes:
    """Return the bytes of a blob's row as they were received.

    Raises
    ------
    StoreError
        If they cannot be unpacked.
    """
    content = bytes(row["content"])
    if row["packing"] != "zlib":
        return content
    try:
        return zlib.decompress(content)
    except zlib.error:
        raise StoreError(
            "A content of the store is damaged: it cannot be unpacked. Run 'soakage check'."
        ) from None
