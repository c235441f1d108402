"""An export read back: its list of files is checked, its register and tests are taken in."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import Any

from soakage.app.export_back import (
    KINDS,
    ExportedTest,
    ExportedVersion,
    restore_register,
    restore_remarks,
    restore_tests,
)
from soakage.app.intake import CHUNK, Intake
from soakage.app.rules import Rules
from soakage.errors import Fault, InputError, UsageError
from soakage.importers.reading import read_bytes
from soakage.model.record import Origin, Record
from soakage.model.stated import content_id, findings_of
from soakage.store.memory import StoreMemory
from soakage.wiring.export_folder import MANIFEST, MARK, VERSION
from soakage.wiring.exporting import REGISTER, TESTS

Row = dict[str, Any]
_REMEDY = "Export once more, or import the record files of the folder one by one."


def is_export(path: str | Path) -> bool:
    """Whether a folder is a whole export."""
    return (Path(path) / MANIFEST).is_file() and (Path(path) / TESTS).is_file()


class ExportRead:
    """An export on its way back.

    Parameters
    ----------
    root : Path
        Its folder.

    Raises
    ------
    UsageError
        If it is of another version, or its list or register cannot be read.
    """

    def __init__(self, root: Path) -> None:
        self.root = root
        listed = self._json((root / MANIFEST).read_bytes(), MANIFEST)
        if listed.get(MARK) != VERSION:
            raise UsageError(
                f"{root}: an export of version {listed.get(MARK)}; this Soakage reads {VERSION}. Use the one that "
                "wrote it, or a later one."
            )
        self._listed = {str(file["path"]): file for file in listed["files"]}
        self.tests = int(listed["tests"])
        self.register = self._json(self.content(REGISTER), REGISTER)
        self._open: tuple[str, tuple[Record, ...]] = ("", ())

    def content(self, path: str) -> bytes:
        """Return the bytes of a file of the export.

        Raises
        ------
        UsageError
            If it is not on the list, not there, or not what was written.
        """
        if path not in self._listed or not (self.root / path).resolve().is_relative_to(self.root.resolve()):
            raise UsageError(f"{self.root / path}: the export's list has no such file. {_REMEDY}")
        try:
            data = (self.root / path).read_bytes()
        except OSError as problem:
            raise UsageError(f"{self.root / path}: {problem.strerror or problem}. {_REMEDY}") from None
        if sha256(data).hexdigest() != self._listed[path]["sha256"]:
            raise UsageError(
                f"{self.root / path}: it is not what was exported: its hash does not fit. {_REMEDY}"
            )
        return data

    def each(self) -> Iterator[ExportedTest]:
        """Yield the tests one by one; the records of one file are read once."""
        with (self.root / TESTS).open(encoding="utf-8") as file:
            for line in file:
                yield self._test(self._json(line.encode(), TESTS))

    def attachments(self) -> dict[str, bytes]:
        """Return the attachments by hash."""
        return {
            remark["fields"]["sha256"]: self.content(remark["file"])
            for remark in self.register["remarks"]
            if remark["action"] == "attached"
        }

    def _test(self, row: Row) -> ExportedTest:
        newest = str(self.root / row["revisions"][-1]["file"])
        try:
            versions = tuple(self._version(one) for one in row["revisions"])
        except UsageError as problem:
            return ExportedTest(row["test"], row["asset"], newest, faults=(_fault(newest, str(problem)),))
        except InputError as problem:
            return ExportedTest(row["test"], row["asset"], newest, faults=tuple(problem.faults))
        return ExportedTest(row["test"], row["asset"], newest, versions, row["withdrawn"])

    def _version(self, row: Row) -> ExportedVersion:
        path = row["file"]
        if self._open[0] != path:
            self._open = (path, read_bytes(self.content(path), path))
        records = self._open[1]
        if row["place"] >= len(records) or content_id(records[row["place"]]) != row["content"]:
            raise UsageError(
                f"{self.root / path}: record {row['place'] + 1} is not the one that was exported. {_REMEDY}"
            )
        origin = row["origin"]
        record = replace(
            records[row["place"]],
            findings=findings_of(row["findings"]),
            origin=Origin(origin["file"], origin["sha256"], origin["row"]),
        )
        original = None if row["original"] is None else self.content(row["original"])
        return ExportedVersion(record, row["content"], row["reason"], row["person"], row["at"], original)

    def _json(self, data: bytes, name: str) -> Row:
        try:
            found = json.loads(data)
        except ValueError:
            found = None
        if not isinstance(found, dict):
            raise UsageError(f"{self.root / name}: this is not what an export holds. {_REMEDY}")
        return found


def _fault(file: str, problem: str) -> Fault:
    return Fault(file, None, "", "", problem, "", "")


def import_export(
    memory: StoreMemory,
    root: Path,
    rules: Rules,
    outcome: Intake,
    *,
    kept: Callable[[int], None] | None = None,
    stopped: Callable[[], bool] = lambda: False,
) -> list[str]:
    """Take in an export.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    root : Path
        The export's folder.
    rules : Rules
        What judges.
    outcome : Intake
        Filled; its ``dry_run`` says whether anything is kept.
    kept : callable, optional
        Called with the number of tests that are on the disk.
    stopped : callable, optional
        Asked between changes.

    Returns
    -------
    list of str
        What the register has otherwise than the export, in words; it stays as it is.

    Raises
    ------
    UsageError
        If the export's list or register is damaged.
    """
    found = ExportRead(root)
    register: Mapping[str, list[Row]] = {name: found.register[name] for name in KINDS}
    fresh, differing = restore_register(memory, register, dry_run=outcome.dry_run)
    outcome.assets_added += fresh
    batch: list[ExportedTest] = []
    for test in found.each():
        batch.append(test)
        if len(batch) == CHUNK:
            restore_tests(memory, batch, rules, outcome, dry_run=outcome.dry_run)
            batch = []
            if kept is not None:
                kept(len(outcome.files))
            if stopped():
                return differing
    restore_tests(memory, batch, rules, outcome, dry_run=outcome.dry_run)
    if kept is not None:
        kept(len(outcome.files))
    if not outcome.dry_run:
        restore_remarks(memory, found.register["remarks"], found.attachments())
    return differing
