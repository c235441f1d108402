"""What is noticed about a record while it is taken in: it names no asset, or one spelled nearly like another."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from soakage.app.ports import KnownAsset
from soakage.app.register import title_of
from soakage.model.verdict import Finding

_KEYS = ("asset", "tag", "serial")


def squeezed(text: object) -> str:
    """Return a name without its blanks, in small letters: what two spellings of one name have in common."""
    return "".join(str(text).lower().split())


def spellings(values: Mapping[str, object]) -> set[str]:
    """Return the squeezed name, tag and serial number of an asset."""
    return {squeezed(values[key]) for key in _KEYS if values.get(key)}


def notes_on(asset: KnownAsset | None, *, fresh: bool, others: Iterable[KnownAsset]) -> Iterator[Finding]:
    """Yield what is noticed about the asset of a record.

    Parameters
    ----------
    asset : KnownAsset or None
        Its asset; None where it names none.
    fresh : bool
        Whether the asset is new.
    others : iterable of KnownAsset
        Assets of the register that may be spelled nearly so.
    """
    if asset is None:
        yield Finding(
            "asset_not_named",
            "The record names no asset: it is kept without one, and stands in no asset's history.",
            remedy="Give --asset, --tag or --serial, or write the key into the file, and import it again.",
        )
        return
    if not fresh:
        return
    own = spellings(asset.values)
    near = [other for other in others if other.id != asset.id and own & spellings(other.values)]
    if near:
        names = ", ".join(dict.fromkeys(repr(title_of(other.values)) for other in near[:3]))
        yield Finding(
            "asset_nearly_known",
            f"A new asset {title_of(asset.values)!r} is made beside {names}: they differ in capitals, blanks or "
            "in what else the record states (site, tag, serial number).",
            remedy="If they are one, write the name as the register has it and import the file again.",
        )
