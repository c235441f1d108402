"""One asset or one test of a store, for the doors."""

from __future__ import annotations

from typing import Any

from soakage import __version__
from soakage.app.contract_json import CONTRACT
from soakage.app.lookup import asset_or_test
from soakage.app.ports import KnownAsset
from soakage.store.memory import StoreMemory
from soakage.store.pages import asset_page, test_page


def shown(memory: StoreMemory, text: str, site: str | None = None) -> dict[str, Any]:
    """Return all that is known of the asset or test a person named, in the shape of ``show --json``.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    text : str
        An asset's exact name, tag, serial number or id; or a test's id or at least eight signs of its beginning.
    site : str, optional
        Only assets of this site.

    Returns
    -------
    dict
        With ``kind``, asset or test.

    Raises
    ------
    UsageError
        If there is none, or several.
    """
    meant = asset_or_test(memory, text, site)
    head = {"soakage": __version__, "contract": CONTRACT}
    with memory.store.reading() as connection:
        if isinstance(meant, KnownAsset):
            return head | {"kind": "asset"} | asset_page(connection, meant.id)
        return head | {"kind": "test"} | test_page(memory.store, connection, meant.id)
