"""What is noticed about a record while it is taken in: it names no asset, or one spelled nearly like another."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from soakage.app.ports import KnownAsset
from soakage.app.register import IDENTITY, fitting, title_of
from soakage.model.verdict import Finding

_KEYS = ("asset", "tag", "serial")


def squeezed(text: object) -> str:
    """Return a name without its blanks, in small letters: what two spellings of one name have in common."""
    return "".join(str(text).lower().split())


def spellings(values: Mapping[str, object]) -> set[str]:
    """Return the squeezed name, tag and serial number of an asset."""
    return {squeezed(values[key]) for key in _KEYS if values.get(key)}


def nearly(asset: KnownAsset, others: Iterable[KnownAsset]) -> list[KnownAsset]:
    """Return the assets a new one would be, were capitals and blanks not looked at."""
    plain = {other.id: other for other in others if other.id != asset.id}
    fits = fitting(_squeezed(asset).values, map(_squeezed, plain.values()))
    return [plain[other.id] for other in fits]


def _squeezed(asset: KnownAsset) -> KnownAsset:
    plain = {key: squeezed(asset.values[key]) for key in IDENTITY if asset.values.get(key)}
    return KnownAsset(asset.id, plain)


def no_asset() -> Finding:
    """Return what is said of a record that names no asset."""
    return Finding(
        "asset_not_named",
        "The record names no asset: it is kept without one, and stands in no asset's history.",
        remedy="Give --asset, --tag or --serial, or write the key into the file, and import it again.",
    )


def nearly_known(asset: KnownAsset, near: Sequence[KnownAsset]) -> Finding:
    """Return what is said of a new asset that others are nearly called like."""
    names = ", ".join(dict.fromkeys(repr(title_of(other.values)) for other in near[:3]))
    return Finding(
        "asset_nearly_known",
        f"A new asset {title_of(asset.values)!r} is made beside {names}: they differ in capitals or blanks only.",
        remedy="If they are one, write the name as the register has it and import the file again.",
    )
