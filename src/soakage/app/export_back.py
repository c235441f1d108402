"""An export taken in again: the register filled up where it is silent, tests with their ids and revisions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from soakage.app.folding import body_of
from soakage.app.intake import Intake, TakenFile, TakenTest
from soakage.app.judge_kept import Judged, give_verdict, judge_kept
from soakage.app.keeping import instrument_id, received_body, visit_id
from soakage.app.ports import Change, KnownTest, Memory
from soakage.app.register import title_of
from soakage.app.rules import Rules
from soakage.app.visits import section_name
from soakage.errors import Fault
from soakage.model.record import Record

KINDS = {"sites": "site", "people": "person", "instruments": "instrument", "recipes": "recipe", "assets": "asset",
         "visits": "visit"}  # fmt: skip
BROUGHT = ("noted", "attached", "happened", "calibrated")  # what may be said again; a sign-off may not
AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class ExportedVersion:
    """One revision as exported: the record, its content id, why, by whom and when, and the file it came in."""

    record: Record
    content: str
    reason: str
    person: str
    at: str
    original: bytes | None


@dataclass(frozen=True, slots=True)
class ExportedTest:
    """One test as exported.

    Parameters
    ----------
    id : str
        Its id.
    asset : str or None
        Id of its asset.
    file : str
        File that holds its newest revision, for the list of outcomes.
    versions : tuple of ExportedVersion
        In order; empty where `faults` says why.
    withdrawn : str or None
        Why it was withdrawn; None where it was not.
    faults : tuple of Fault
        What is wrong with it.
    """

    id: str
    asset: str | None
    file: str
    versions: tuple[ExportedVersion, ...] = ()
    withdrawn: str | None = None
    faults: tuple[Fault, ...] = ()


def restore_register(
    memory: Memory, register: Mapping[str, Sequence[Mapping[str, Any]]], *, dry_run: bool
) -> tuple[list[str], list[str]]:
    """Fill up the register from an export; what it states already stands.

    Parameters
    ----------
    memory : Memory
        The store.
    register : mapping
        Lists of ``{"id", "fields"}`` by kind.
    dry_run : bool
        Change nothing.

    Returns
    -------
    fresh : list of str
        Ids of assets that were not there.
    differing : list of str
        What the register has otherwise, in words.
    """
    ids = [row["id"] for row in register["assets"]]
    there = memory.assets(ids)
    fresh = [name for name in ids if name not in there]
    differing = [
        f"{title_of(there[row['id']].values)}: {key}"
        for row in register["assets"]
        if row["id"] in there
        for key, value in row["fields"].items()
        if there[row["id"]].values.get(key) not in (None, value)
    ]
    if dry_run:
        return fresh, differing
    for name, kind in KINDS.items():
        rows = register[name]
        for start in range(0, len(rows), AT_ONCE):
            part = rows[start : start + AT_ONCE]
            with memory.changing() as change:
                change.look_up((kind, row["id"]) for row in part)
                for row in part:
                    now = change.folded(kind, row["id"]).values
                    missing = {
                        key: value
                        for key, value in row["fields"].items()
                        if value is not None and key not in now
                    }
                    change.state(kind, row["id"], missing, reason="From an export.")
    return fresh, differing


def restore_remarks(memory: Memory, remarks: Sequence[Mapping[str, Any]], files: Mapping[str, bytes]) -> None:
    """Say again what was noted, attached and happened, each once; a sign-off is its signer's alone.

    Parameters
    ----------
    memory : Memory
        The store.
    remarks : sequence of mapping
        kind, subject, action, person, at, fields.
    files : mapping of str to bytes
        Attachments by hash.
    """
    wanted = [remark for remark in remarks if remark["action"] in BROUGHT]
    for start in range(0, len(wanted), AT_ONCE):
        part = wanted[start : start + AT_ONCE]
        with memory.changing() as change:
            change.look_up((remark["kind"], remark["subject"]) for remark in part)
            for remark in part:
                _say(change, remark, files)


def _say(change: Change, remark: Mapping[str, Any], files: Mapping[str, bytes]) -> None:
    kind, subject, action, fields = remark["kind"], remark["subject"], remark["action"], remark["fields"]
    entries = change.entries(kind, subject)
    if not entries or any(entry.action == "purged" for entry in entries):
        return
    if any(entry.action == action and body_of(entry) == fields for entry in entries):
        return
    if action == "attached":
        content = files.get(fields["sha256"])
        if content is None:
            return
        change.blob(content)
    change.add(kind, subject, action, fields, reason=_whence(remark["person"], remark["at"]))


def restore_tests(
    memory: Memory, batch: Sequence[ExportedTest], rules: Rules, taken: Intake, *, dry_run: bool
) -> None:
    """Take in tests of an export with the ids and revisions they had, judged by the rules given.

    Parameters
    ----------
    memory : Memory
        The store; the register of the export is in it.
    batch : sequence of ExportedTest
        Whole ones are kept, those with faults refused.
    rules : Rules
        What judges.
    taken : Intake
        Filled.
    dry_run : bool
        Change nothing.
    """
    purged = memory.purged(test.id for test in batch)
    batch = [replace(test, versions=(), faults=_gone(test)) if test.id in purged else test for test in batch]
    there = memory.known_contents(version.content for test in batch for version in test.versions)
    new = {test.id: test for test in batch if test.versions and test.versions[-1].content not in there}
    judged: dict[str, Judged] = {}
    if new and not dry_run:
        tests = [_known(test) for test in new.values()]
        sisters = memory.tests(visits={test.visit for test in tests if test.visit})
        tests += [test for test in sisters if test.id not in new and not test.withdrawn]
        counted = [test for test in tests if not test.withdrawn]
        evaluation, found = judge_kept(memory, counted, rules)
        judged = {item.test.id: item for item in found}
        # a withdrawn one is judged as it was, beside its sisters; they are judged without it
        whole, beside = judge_kept(memory, tests, rules) if len(counted) < len(tests) else (evaluation, [])
        judged |= {item.test.id: item for item in beside if item.test.withdrawn}
        with memory.changing() as change:
            change.look_up(("test", name) for name in new)
            brought = [test for test in new.values() if not change.entries("test", test.id)]
            for test in brought:
                _keep(change, test)
            for item in judged.values():
                if item.news:
                    give_verdict(change, item, whole if item.test.withdrawn else evaluation)
    assets = memory.assets({test.asset for test in batch if test.asset})
    for test in batch:
        if test.faults:
            taken.files.append(TakenFile(test.file, "refused", faults=test.faults))
            continue
        verdict = judged[test.id].evaluated.verdict if test.id in judged else None
        last = test.versions[-1].record
        values = assets[test.asset].values if test.asset in assets else None
        told = TakenTest(
            test=there.get(test.versions[-1].content, test.id),
            asset=test.asset,
            asset_title=title_of(values) if values is not None else last.title,
            section=section_name(last),
            known=test.id not in new,
            status=str(verdict.status) if verdict else None,
            sentence=verdict.sentence if verdict else "",
        )
        taken.files.append(TakenFile(test.file, "added" if test.id in new else "known", (told,)))


def _gone(test: ExportedTest) -> tuple[Fault, ...]:
    problem = f"Test {test.id[:12]} was purged from the store; it does not come back by an export."
    return (
        Fault(
            test.file,
            None,
            "",
            "",
            problem,
            "",
            "Import its record file alone with --again if it is meant to.",
        ),
    )


def _known(test: ExportedTest) -> KnownTest:
    last = test.versions[-1]
    return KnownTest(
        id=test.id,
        content=last.content,
        record=last.record,
        asset=test.asset,
        visit=visit_id(test.asset, last.record),
        instrument=instrument_id(last.record),
        section=section_name(last.record),
        withdrawn=test.withdrawn is not None,
        review="draft",
        status=None,
        result=None,
    )


def _keep(change: Change, test: ExportedTest) -> None:
    for place, version in enumerate(test.versions):
        body = received_body(
            version.record,
            content=version.content,
            asset=test.asset,
            readings=change.readings(version.record),
            file_sha256=None if version.original is None else change.blob(version.original),
        )
        reason = " ".join(filter(None, (version.reason, _whence(version.person, version.at))))
        change.add("test", test.id, "revised" if place else "received", body, reason=reason)
    if test.withdrawn is not None:
        change.add(
            "test",
            test.id,
            "withdrawn",
            {"set": {"withdrawn": True}},
            reason=test.withdrawn or "As exported.",
        )


def _whence(person: str, at: str) -> str:
    return f"From an export: {person}, {at}."
