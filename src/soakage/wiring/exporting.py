"""A store, or part of it, as open files; ``soakage import FOLDER`` takes them back without loss."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path, PurePath
from typing import Any

from sqlalchemy import Connection

from soakage.app.lookup import the_asset
from soakage.app.register import title_of
from soakage.errors import StoreError
from soakage.importers.harmless import Names, harmless
from soakage.importers.reading import read_bytes
from soakage.importers.write_json import json_text
from soakage.importers.write_record import record_text
from soakage.model.record import Record
from soakage.model.stated import content_id, findings_plain
from soakage.store.memory import StoreMemory
from soakage.store.outgoing import (
    Chosen,
    Version,
    added,
    subjects,
    test_batches,
    verdicts_of,
    versions_of,
    visits,
    withdrawals,
)
from soakage.store.store import Store
from soakage.wiring.export_folder import ExportFolder
from soakage.wiring.export_many import MANY, ManyFile
from soakage.wiring.recipes import kept_recipes

FORMATS = ("record", *MANY)
REGISTER, TESTS, VERDICTS = "register.json", "tests.jsonl", "verdicts.jsonl"
Row = dict[str, Any]
Progress = Callable[[int], None]


def chosen_of(memory: StoreMemory, site: str | None, asset: str | None, since: str | None) -> Chosen:
    """Return what a person chose to export.

    Raises
    ------
    UsageError
        If there is no such asset, or several.
    """
    if asset is None:
        return Chosen(site=site, since=since)
    return Chosen(assets=(the_asset(memory, asset, site).id,), since=since)


def export(
    memory: StoreMemory,
    folder: Path,
    chosen: Chosen | None = None,
    form: str = "record",
    progress: Progress | None = None,
) -> dict[str, int]:
    """Write a store as open files; each is read again and compared before the export counts as whole.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    folder : Path
        Empty, or not there yet.
    chosen : Chosen, optional
        What to write; everything unless given.
    form : str
        How the records are written: record (a file each), parquet, xlsx or json (many in a file).
    progress : callable, optional
        Called with the number of tests written.

    Returns
    -------
    dict of str to int
        Numbers of tests, assets and files.

    Raises
    ------
    UsageError
        If the folder cannot be used.
    StoreError
        If something in the store is damaged.
    """
    out = ExportFolder(folder)
    what = chosen or Chosen()
    with memory.store.reading() as connection:
        register = _register(memory, connection, what)
        titles = {row["id"]: row["fields"] for row in register["assets"]}
        writer = _Writer(memory.store, connection, out, titles, form)
        count = 0
        with out.lines(TESTS) as add_test, out.lines(VERDICTS) as add_verdict:
            for batch in test_batches(connection, what):
                names = [row["id"] for row in batch]
                for line in writer.tests(batch):
                    add_test(line)
                for verdict in verdicts_of(memory.store, connection, names):
                    add_verdict(verdict)
                register["remarks"] += added(connection, "test", names)
                count += len(batch)
                if progress is not None:
                    progress(count)
        writer.close()
        for remark in register["remarks"]:
            if remark["action"] == "attached":
                remark["file"] = writer.kept(
                    remark["fields"]["sha256"], remark["fields"]["name"], "attachments"
                )
    out.write(REGISTER, _json(register))
    about = {"format": form, "tests": count, "assets": len(titles)}
    out.finish(about)
    return {"tests": count, "assets": len(titles), "files": len(out.files)}


def _json(value: object) -> bytes:
    import json

    return json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1).encode() + b"\n"


def _register(memory: StoreMemory, connection: Connection, chosen: Chosen) -> Row:
    register: Row = {
        "sites": subjects(connection, "site", chosen),
        "assets": subjects(connection, "asset", chosen),
        "instruments": subjects(connection, "instrument", chosen),
        "people": subjects(connection, "person", chosen),
        "recipes": [
            {"id": row["id"], "fields": {"name": row["name"], "text": row["text"]}}
            for row in kept_recipes(memory)
        ]
        if chosen.everything
        else [],
    }
    register["visits"] = [
        {"id": row["id"], "fields": {"asset": row["asset"], "name": row["name"], "day": row["day"]}}
        for row in visits(connection, [row["id"] for row in register["assets"]])
    ]
    register["remarks"] = [
        remark
        for kind, name in (("site", "sites"), ("asset", "assets"), ("instrument", "instruments"))
        for remark in added(connection, kind, [row["id"] for row in register[name]])
    ]
    return register


class _Writer:
    """Writes records, and the files they came in."""

    def __init__(
        self, store: Store, connection: Connection, out: ExportFolder, assets: Mapping[str, Row], form: str
    ) -> None:
        self._store, self._connection, self._out, self._assets = store, connection, out, assets
        self._many = None if form == "record" else ManyFile(out, form)
        self._folders, self._kept = Names(), dict[str, str]()

    def tests(self, batch: Sequence[Row]) -> Iterable[Row]:
        """Yield the line of each test of a batch, its records written."""
        names = [row["id"] for row in batch]
        versions = versions_of(self._store, self._connection, names)
        why = withdrawals(self._connection, [row["id"] for row in batch if row["state"] == "withdrawn"])
        for row in batch:
            yield {
                "test": row["id"],
                "asset": row["asset"],
                "section": row["section"],
                "day": row["day"],
                "withdrawn": why.get(row["id"], "") if row["state"] == "withdrawn" else None,
                "status": row["status"],
                "sentence": row["sentence"],
                "review": row["review"],
                "reviewer": row["reviewer"],
                "content": row["content"],
                "revisions": [self._revision(row, version) for version in versions[row["id"]]],
            }

    def close(self) -> None:
        """Write what is still open."""
        if self._many is not None:
            self._many.close()

    def kept(self, sha256: str, name: str, folder: str) -> str:
        """Write bytes kept in the store, once; return their path."""
        if sha256 not in self._kept:
            ending = harmless(PurePath(name.replace("\\", "/")).suffix.lstrip("."), "")[:12]
            path = f"{folder}/{sha256}.{ending}" if ending.isalnum() else f"{folder}/{sha256}"
            self._out.write(path, self._store.blob(self._connection, sha256))
            self._kept[sha256] = path
        return self._kept[sha256]

    def _revision(self, row: Row, version: Version) -> Row:
        if self._many is None:
            path, place = self._one(row, version), 0
        else:
            path, place = self._many.add(version.record, version.content)
        origin = version.record.origin
        return {
            "number": version.number,
            "content": version.content,
            "reason": version.reason,
            "person": version.person,
            "at": version.at,
            "file": path,
            "place": place,
            "findings": findings_plain(version.record.findings),
            "origin": {"file": origin.file, "sha256": origin.sha256, "row": origin.row},
            "original": self.kept(version.file_sha256, origin.file, "originals")
            if version.file_sha256
            else None,
        }

    def _one(self, row: Row, version: Version) -> str:
        values = self._assets.get(row["asset"] or "")
        folder = "records/no asset"
        if values is not None:
            site = self._folders.of(values.get("site") or "", f"site:{values.get('site')}", "no site")
            asset = self._folders.of(title_of(values), f"{site}/{row['asset']}")
            folder = f"records/{site}/{asset}"
        number = f" r{version.number}" if row["revision"] > 1 else ""
        name = f"{row['day'] or 'no day'} {harmless(row['section'], 'section')} {row['id'][:12]}{number}"
        path, text = f"{folder}/{name}.csv", record_text(version.record)
        if not _same(text.encode(), path, version.content):
            path, text = f"{folder}/{name}.json", "".join(json_text([version.record]))
            if not _same(text.encode(), path, version.content):
                raise StoreError(
                    f"Test {row['id']} cannot be written so that it reads back the same. Report it."
                )
        self._out.write(path, text.encode())
        return path


def _same(data: bytes, name: str, content: str) -> bool:
    found: tuple[Record, ...] = read_bytes(data, name)
    return [content_id(record) for record in found] == [content]
