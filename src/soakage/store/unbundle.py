"""Bundles as they are read: in order, in bounded memory, every hash held against what stands there."""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterator
from dataclasses import asdict
from typing import IO, Any

from soakage.app.exchange import Parcel
from soakage.app.holdings import holdings_of
from soakage.app.journal import Entry, entry_faults
from soakage.errors import StoreError
from soakage.model.stated import digest
from soakage.store.bundle import BLOB_HEADER, ENTRIES_HEADER, FIELDS, MOST_BLOB, Counts, Head
from soakage.store.frames import BLOB, DONE, ENTRIES, HEAD, LONGEST, MENDED, NEXT, frames


class BundleReader:
    """A bundle as it is read: first its head, then its parcels, one at a time.

    Parameters
    ----------
    stream : binary file
        At its start.
    name : str
        For messages.

    Raises
    ------
    StoreError
        If it is no bundle that this Soakage reads.
    """

    def __init__(self, stream: IO[bytes], name: str) -> None:
        self.name = name
        self.counts = Counts()
        self._frames = frames(stream, name)
        kind, content, _ = next(self._frames)
        self.head = _head(name, kind, content)

    def parcels(self) -> Iterator[Parcel]:
        """Yield the parcels; the bytes of each are read while they are asked for, and passed over if they are not.

        Raises
        ------
        StoreError
            If something in it is not what was written; all parcels yielded before were.
        """
        while True:
            kind, content, chain = next(self._frames)
            if kind == DONE:
                self._check_end(content, chain)
                return
            entries: list[Entry] = []
            size = 0
            while kind == ENTRIES:
                size += len(content)
                if size > LONGEST[ENTRIES]:
                    raise self._damaged("too much stands together in it")
                entries += self._entries(content)
                kind, content, chain = next(self._frames)
            blobs = self._blobs(kind, content)
            self.counts.parcels += 1
            self.counts.entries += len(entries)
            self.counts.tests += len({entry.subject for entry in entries if entry.kind == "test"})
            yield Parcel(entries, blobs)
            for _ in blobs:
                pass

    def _blobs(self, kind: bytes, content: bytes) -> Iterator[tuple[str, bytes]]:
        while kind == BLOB:
            self.counts.blobs += 1
            yield self._blob(content)
            kind, content, _ = next(self._frames)
        if kind != NEXT:
            raise self._damaged("its parts are not in order")

    def _entries(self, content: bytes) -> list[Entry]:
        size = ENTRIES_HEADER.unpack_from(content)[0] if len(content) >= ENTRIES_HEADER.size else -1
        text = self._unpacked(content[ENTRIES_HEADER.size :], size, LONGEST[ENTRIES])
        found = []
        for line in text.splitlines():
            entry = _entry(line)
            if entry is None:
                raise self._damaged("an entry cannot be read")
            if problems := entry_faults(entry):
                which = f"entry {entry.number} of the store {entry.store[:12]}"
                raise StoreError(f"{self.name}: {which} was changed. {problems[0]} {MENDED}")
            found.append(entry)
        return found

    def _blob(self, content: bytes) -> tuple[str, bytes]:
        if len(content) < BLOB_HEADER.size:
            raise self._damaged("a content cannot be read")
        name, small, size = BLOB_HEADER.unpack_from(content)
        whole = content[BLOB_HEADER.size :]
        if small:
            whole = self._unpacked(whole, size, MOST_BLOB)
        if len(whole) != size or digest(whole) != name.hex():
            raise self._damaged(f"the hash of the content {name.hex()[:12]} does not fit")
        return name.hex(), whole

    def _unpacked(self, packed: bytes, size: int, most: int) -> bytes:
        if not 0 <= size <= most:
            raise self._damaged("a part is larger than any can be")
        engine = zlib.decompressobj()
        try:
            found = engine.decompress(packed, size + 1)
        except zlib.error:
            raise self._damaged("a part cannot be unpacked") from None
        if len(found) != size or engine.unconsumed_tail:
            raise self._damaged("a part is not as long as it says")
        return found

    def _check_end(self, content: bytes, chain: str) -> None:
        try:
            said = json.loads(content)
        except ValueError:
            said = None
        if said != {"counts": asdict(self.counts), "chain": chain}:
            raise self._damaged("something was left out or added")

    def _damaged(self, how: str) -> StoreError:
        return StoreError(f"{self.name}: the bundle is damaged: {how}. {MENDED}")


def _entry(line: bytes) -> Entry | None:
    try:
        values: Any = json.loads(line)
        values["parents"] = tuple(values["parents"])
        entry = Entry(**values)
        texts = (*entry.parents, *(getattr(entry, name) for name, kind in FIELDS.items() if kind == "str"))
        sound = all(isinstance(text, str) for text in texts) and isinstance(entry.body, str | None)
        hashes = (entry.previous, entry.body_sha256, entry.hash, *entry.parents)
        sound = sound and type(entry.number) is type(entry.at) is int
        sound = sound and max(entry.number, entry.at) < 1 << 62
        sound = sound and all(len(bytes.fromhex(text)) == 32 for text in hashes)
        return entry if sound and isinstance(json.loads(entry.body or "{}"), dict) else None
    except (ValueError, TypeError, KeyError, RecursionError):
        return None


def _head(name: str, kind: bytes, content: bytes) -> Head:
    try:
        said: Any = json.loads(content) if kind == HEAD else {}
        texts = {key: said[key] for key in ("store", "person", "part", "soakage")}
        if all(isinstance(text, str) for text in texts.values()):
            return Head(made=int(said["made"]), holds=holdings_of(said["holds"]), **texts)
    except (ValueError, TypeError, KeyError, RecursionError, StoreError):
        pass
    raise StoreError(f"{name}: the bundle is damaged: its head cannot be read. {MENDED}")
