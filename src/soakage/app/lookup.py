"""Which asset or test of the register is meant by what a person typed."""

from __future__ import annotations

import re

from soakage.app.ports import KnownAsset, KnownTest, Memory
from soakage.app.register import ambiguous
from soakage.errors import UsageError

SHORTEST = 8  # signs of a test's id that must be given
_ID = re.compile(r"[0-9a-f]{8,32}")


def find_assets(memory: Memory, text: str, site: str | None = None) -> list[KnownAsset]:
    """Return the assets with this name, tag, serial number or id; never by the beginning of a name.

    Parameters
    ----------
    memory : Memory
        The register.
    text : str
        As typed.
    site : str, optional
        Only those at this site.
    """
    wanted = " ".join(text.split())
    found = {asset.id: asset for asset in memory.assets_like([wanted], [wanted], [wanted])}
    if _ID.fullmatch(wanted):
        found |= memory.assets([wanted])
    return [asset for asset in found.values() if site is None or asset.values.get("site") == site]


def the_asset(memory: Memory, text: str, site: str | None = None) -> KnownAsset:
    """Return the one asset meant.

    Raises
    ------
    UsageError
        If there is none, or several.
    """
    found = find_assets(memory, text, site)
    if not found:
        where = f" at {site}" if site else ""
        raise UsageError(
            f"No asset is called {text!r}{where}. A name, tag or serial number is matched whole: look it up with "
            "'soakage list'."
        )
    if len(found) > 1:
        ids = ", ".join(asset.id for asset in found[:5])
        raise UsageError(
            f"{text!r} may be {len(found)} assets: {ambiguous(found)}. Give the id of the one meant: {ids}."
        )
    return found[0]


def the_test(memory: Memory, text: str) -> KnownTest:
    """Return the one test meant by its id, or by the beginning of its id.

    Raises
    ------
    UsageError
        If there is none, or several.
    """
    start = text.strip().lower()
    if not _ID.fullmatch(start):
        raise UsageError(
            f"{text!r} is no id of a test: give at least its first {SHORTEST} signs, as 'soakage list' shows them."
        )
    found = [test for test in memory.tests_beginning(start) if test.id.startswith(start)]
    if not found:
        raise UsageError(f"No test begins with {text!r}. Look it up with 'soakage list'.")
    if len(found) > 1:
        raise UsageError(f"{len(found)} tests begin with {text!r}. Give more of the id.")
    return found[0]


def asset_or_test(memory: Memory, text: str, site: str | None = None) -> KnownAsset | KnownTest:
    """Return the asset of this name, tag, serial number or id, else the test whose id begins so.

    Raises
    ------
    UsageError
        If there is none, or several.
    """
    if find_assets(memory, text, site) or not _ID.fullmatch(text.strip().lower()):
        return the_asset(memory, text, site)
    return the_test(memory, text)
