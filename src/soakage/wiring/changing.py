"""Changes of a store for the doors: values as typed, corrected records, purges with their export."""

from __future__ import annotations

import mimetypes
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from soakage.app.exchange import Scope
from soakage.app.folding import body_of
from soakage.app.ports import KnownAsset, KnownTest
from soakage.app.remarks import Remark, attach
from soakage.app.revising import owed, purge
from soakage.errors import StoreError, UsageError
from soakage.importers.reading import read_bytes
from soakage.importers.statement import read_statement
from soakage.importers.text import LARGEST, decode
from soakage.importers.write_record import header_line, header_values, record_text
from soakage.model.keys import KEYS
from soakage.model.record import Record
from soakage.model.stated import digest, plain_value, record_of, stated_plain
from soakage.model.verdict import Finding
from soakage.store.bundle import Head, save_bundle
from soakage.store.memory import StoreMemory
from soakage.store.parcels import parcels
from soakage.store.purging import blobs_named
from soakage.store.queries import Wanted, listed_assets
from soakage.store.store import microseconds
from soakage.store.unbundle import BundleReader
from soakage.store.writing import entries_on

OVERRIDDEN = "key_overridden"  # an option won over the file: said of a reading, not of the record
_TEXT = (".csv", ".txt")


def plain_values(options: Mapping[str, str]) -> tuple[dict[str, Any], tuple[Finding, ...]]:
    """Return keys given as options as plain values, and what was noticed while reading them.

    Parameters
    ----------
    options : mapping of str to str
        As typed.

    Raises
    ------
    InputError
        If one cannot be read; holds every fault.
    """
    read = read_statement(options)
    return {name: plain_value(name, value) for name, value in read.stated.items()}, read.findings


def amended(
    test: KnownTest,
    options: Mapping[str, str],
    clear: Iterable[str] = (),
    corrected: str | None = None,
    *,
    content: bytes | None = None,
    table: str | None = None,
) -> tuple[Record, bytes | None]:
    """Return the record of a test as it should have been, read with every check of the reader.

    Parameters
    ----------
    test : KnownTest
        As it stands.
    options : mapping of str to str
        Keys given as options, as typed.
    clear : iterable of str
        Keys that were stated and should not have been.
    corrected : str, optional
        A corrected file. One that begins with a header replaces the record; a bare table replaces the readings.
    content : bytes, optional
        What the corrected file holds, where it is at hand and not to be opened.
    table : str, optional
        Corrected readings as typed, with their headings; no file is kept for them.

    Returns
    -------
    record : Record
    file : bytes or None
        The corrected file, to be kept; None where there is none.

    Raises
    ------
    InputError
        If the corrected record cannot be read.
    UsageError
        If a key to be cleared is not stated, or the file holds not one record.
    """
    base = _without(test.record, clear)
    if corrected is None:
        name, file = f"{test.id[:12]}.csv", None
        data = (record_text(base) if table is None else _headed(base, table)).encode()
        origin = test.record.origin
    else:
        name, file = corrected, _content(corrected) if content is None else content
        data = file
        if Path(name).suffix.lower() in _TEXT and not (text := decode(file, name)).lstrip('"').startswith(
            "#"
        ):
            data = _headed(base, text).encode()
        origin = replace(test.record.origin, file=name, sha256=digest(file))
    records = read_bytes(data, name, options)
    if len(records) != 1:
        raise UsageError(
            f"{name}: {len(records)} records. A revision takes a file that holds the one it corrects."
        )
    findings = tuple(found for found in records[0].findings if found.code != OVERRIDDEN)
    return replace(records[0], origin=origin, findings=findings), file


def _headed(record: Record, table: str) -> str:
    lines = [header_line(key, value) for key, value in header_values(record).items()]
    return "\n".join([*lines, table])


def _without(record: Record, clear: Iterable[str]) -> Record:
    stated, extra = stated_plain(record), dict(record.extra)
    for typed in clear:
        name = typed.strip().replace("-", "_")
        if name not in stated and name not in extra:
            raise UsageError(
                f"--clear {typed}: the record does not state it. It states: {', '.join(stated)}."
            )
        if name in KEYS and name in ("class", "method"):
            raise UsageError(f"--clear {typed}: no record is without it. Give the right one with --{name}.")
        stated.pop(name, None)
        extra.pop(name, None)
    return record_of(stated, record.readings, extra=extra, findings=record.findings, origin=record.origin)


def _content(path: str) -> bytes:
    try:
        with Path(path).open("rb") as file:
            return file.read(LARGEST + 1)
    except OSError as problem:
        raise UsageError(f"{path}: {problem.strerror or problem}. Give a file that can be read.") from None


def attached(hands: StoreMemory, subject: KnownAsset | KnownTest, path: str) -> Remark:
    """Keep a file with an asset or a test.

    Raises
    ------
    UsageError
        If it cannot be read, is empty or too large.
    """
    media = mimetypes.guess_type(path)[0] or "application/octet-stream"
    return attach(hands, subject, Path(path).name, media, _content(path))


def assets_at(hands: StoreMemory, site: str) -> list[str]:
    """Return the ids of the assets of a site."""
    with hands.store.reading() as connection:
        return [row["id"] for row in listed_assets(connection, Wanted(site=site))]


def purged(hands: StoreMemory, test: KnownTest, export: str, reason: str | None) -> dict[str, Any]:
    """Export a test, read the export back, then purge the test.

    Parameters
    ----------
    hands : StoreMemory
        The store.
    test : KnownTest
        Which.
    export : str
        The file to be written: a bundle of the test with what it stands under.
    reason : str
        Why.

    Returns
    -------
    dict
        file, sha256, entries and blobs of the export.

    Raises
    ------
    UsageError
        If no reason is given, or the file is there already.
    StoreError
        If the export does not read back as it should; nothing is purged then.
    """
    why = owed(reason, "A purge")
    path = Path(export)
    if path.exists():
        raise UsageError(f"{export}: this file is there already. Choose another name; nothing was purged.")
    wanted = [("test", test.id)]
    wanted += [(kind, name) for kind, name in _around(test) if name]
    with hands.store.reading() as connection:
        scope = Scope(assets=(test.asset,)) if test.asset else None
        head = Head(hands.store.id, microseconds(), hands.person, f"test {test.id}", {})
        save_bundle(path, head, parcels(connection, scope, set(wanted)))
        entries = entries_on(connection, [("test", test.id)])["test", test.id]
    kept = {entry.hash for entry in entries}
    needed = {name for entry in entries for name in blobs_named(body_of(entry))}
    found, blobs = _read_back(path)
    if kept - found or needed - blobs:
        raise StoreError(f"{export}: the export does not hold all of the test. Nothing was purged.")
    told = {
        "file": path.name,
        "sha256": digest(path.read_bytes()),
        "entries": len(kept),
        "blobs": len(needed),
    }
    purge(hands, test, why, told)
    return told


def _around(test: KnownTest) -> tuple[tuple[str, str | None], ...]:
    return ("asset", test.asset), ("visit", test.visit), ("instrument", test.instrument)


def _read_back(path: Path) -> tuple[set[str], set[str]]:
    """Return the hashes of the entries with their content, and of the blobs, that stand in an export."""
    entries: set[str] = set()
    blobs: set[str] = set()
    with path.open("rb") as file:
        for parcel in BundleReader(file, str(path)).parcels():
            entries |= {entry.hash for entry in parcel.entries if entry.body is not None}
            blobs |= {name for name, _ in parcel.blobs}
    return entries, blobs
