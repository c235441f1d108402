"""The register: which asset a record is of, and what its nameplate adds to a record that is silent; pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from soakage.app.ports import KnownAsset
from soakage.model.asset import Asset
from soakage.model.keys import KEYS
from soakage.model.record import Record
from soakage.model.stated import canonical, digest, plain_value, stated_plain, value_of
from soakage.model.verdict import Finding

IDENTITY = ("site", "asset", "tag", "serial")
OF_THE_TEST = ("section", "circuit", "between", "neutral")  # keys of the asset's group that each test states
NAMEPLATE = tuple(
    key.name for key in KEYS.values() if key.part == "asset" and key.name not in (*IDENTITY, *OF_THE_TEST)
)
INSTRUMENT = tuple(key.name for key in KEYS.values() if key.part == "instrument")
# a calibration runs out on a day; what held on the day of a test only its record can say
_LENT = tuple(name for name in INSTRUMENT if name != "calibration_due")
SECTION = "section:"


def identity(kind: str, *parts: str | None) -> str:
    """Return the id of a thing from what names it, the same in every store."""
    return digest(canonical([kind, *parts]))[:32]


def asset_id(wanted: Mapping[str, str]) -> str:
    """Return the id an asset gets that is first registered with these names."""
    return identity("asset", *(wanted.get(key) for key in IDENTITY))


def named(asset: Asset) -> dict[str, str]:
    """Return what tells the asset of a record from others, by key; empty where it names none."""
    parts = (asset.site, asset.name, asset.tag, asset.serial)
    found = {
        key: " ".join(part.split())
        for key, part in zip(IDENTITY, parts, strict=True)
        if part and part.strip()
    }
    return found if set(found) - {"site"} else {}


def fitting(wanted: Mapping[str, str], known: Iterable[KnownAsset]) -> list[KnownAsset]:
    """Return the assets that what a record states may mean, best first; several that fit equally well first.

    Parameters
    ----------
    wanted : mapping of str to str
        As `named` gives it.
    known : iterable of KnownAsset
        Of the register.

    Returns
    -------
    list of KnownAsset
        Those that agree in every part that both state, and in a name, tag or serial number that both state;
        only those that agree in most. A name is matched whole, never by its beginning.
    """
    scored: list[tuple[int, KnownAsset]] = []
    for asset in known:
        both = [key for key in IDENTITY if key in wanted and asset.values.get(key)]
        if any(asset.values[key] != wanted[key] for key in both) or not set(both) - {"site"}:
            continue
        scored.append((len(both), asset))
    most = max((score for score, _ in scored), default=0)
    return [asset for score, asset in scored if score == most]


def new_asset(wanted: Mapping[str, str], record: Record) -> KnownAsset:
    """Return the asset a record names, with the nameplate it states."""
    stated = stated_plain(record)
    values: dict[str, Any] = dict(wanted) | {key: stated[key] for key in NAMEPLATE if key in stated}
    return KnownAsset(asset_id(wanted), values)


def unsaid(record: Record, known: KnownAsset) -> dict[str, Any]:
    """Return nameplate values that a record states and the register does not have yet."""
    stated = stated_plain(record)
    wanted = {key: stated[key] for key in NAMEPLATE if key in stated}
    wanted |= {
        key: value
        for key, value in named(record.asset).items()
        if key != "asset" or "asset" not in known.values
    }
    return {key: value for key, value in wanted.items() if known.values.get(key) is None}


def completed(
    record: Record, known: KnownAsset | None, instrument: Mapping[str, Any] | None = None
) -> Record:
    """Return a record with what the register adds where it is silent; what it states itself stands.

    Parameters
    ----------
    record : Record
        As received.
    known : KnownAsset or None
        Its asset.
    instrument : mapping, optional
        Plain values of its instrument.

    Returns
    -------
    Record
        With a finding that names the keys filled in, and one for those that differ.
    """
    stated = record.stated()
    plate: Mapping[str, Any] = known.values if known is not None else {}
    fill: dict[str, dict[str, Any]] = {"asset": {}, "instrument": {}}
    filled, differing = [], []
    for source, keys in ((plate, (*IDENTITY, *NAMEPLATE)), (instrument or {}, _LENT)):
        for name in keys:
            if source.get(name) is None:
                continue
            key = KEYS[name]
            if name not in stated:
                fill[key.part][key.field] = value_of(name, source[name])
                filled.append(name)
            elif plain_value(name, stated[name]) != source[name] and name not in IDENTITY:
                differing.append(name)
    if not filled and not differing:
        return record
    findings = list(record.findings)
    shown = [name for name in filled if name not in IDENTITY]
    if shown:
        findings.append(
            Finding(
                "from_register", f"Not stated in the record, taken from the register: {', '.join(shown)}."
            )
        )
    if differing:
        findings.append(
            Finding(
                "nameplate_differs",
                f"The record and the register differ in {', '.join(differing)}; the record's own is used.",
                remedy="Look at the nameplate, then correct the register or revise the record.",
            )
        )
    return replace(
        record,
        asset=replace(record.asset, **fill["asset"]),
        instrument=replace(record.instrument, **fill["instrument"]),
        findings=tuple(findings),
    )


def sections_of(values: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the names of the sections an asset's register entry lists."""
    return tuple(name.removeprefix(SECTION) for name in sorted(values) if name.startswith(SECTION))


def title_of(values: Mapping[str, Any]) -> str:
    """Return the name a person would use for an asset: name, else tag, else serial number."""
    return str(values.get("asset") or values.get("tag") or values.get("serial") or "unnamed asset")


def ambiguous(fits: Sequence[KnownAsset]) -> str:
    """Return the assets a record may mean, in words."""
    shown = [", ".join(str(asset.values[key]) for key in IDENTITY if asset.values.get(key)) for asset in fits]
    return "; ".join(shown[:5])
