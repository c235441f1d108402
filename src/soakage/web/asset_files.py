"""Files kept with an asset, sent with headers that let nothing run."""

from __future__ import annotations

from fastapi import HTTPException
from fastapi.responses import Response

from soakage.store.memory import StoreMemory
from soakage.web.asset_view import the_asset
from soakage.web.test_files import sent

PICTURES = ("image/jpeg", "image/png", "image/gif", "image/webp")


def attachment(memory: StoreMemory, asset: str, sha256: str) -> Response:
    """Return a file that was added to an asset; a picture is shown.

    Raises
    ------
    HTTPException
        404 where the asset has none with this hash.
    """
    _, head = the_asset(memory, asset)
    kept = next((one for one in head["attachments"] if one.get("sha256") == sha256), None)
    if kept is None:
        raise HTTPException(404, "This asset has no such attachment.")
    return sent(memory.blob(sha256), str(kept["name"]), shown=True)
