"""Files into the register: whose records, known already or not, how judged; each file whole or not at all."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from soakage.app.intake_ids import TestIds
from soakage.app.intake_notes import nearly, nearly_known, no_asset, spellings
from soakage.app.judge_kept import Judged, give_verdict, judge_kept
from soakage.app.keep_subjects import keep_asset, keep_instrument, keep_visit
from soakage.app.keeping import instrument_id, received_body, visit_id
from soakage.app.ports import Change, KnownAsset, KnownTest, Memory
from soakage.app.register import (
    ambiguous,
    asset_id,
    fitting,
    identity,
    named,
    new_asset,
    title_of,
    unsaid,
)
from soakage.app.rules import Rules
from soakage.app.visits import section_name
from soakage.errors import Fault
from soakage.model.record import Record
from soakage.model.stated import content_id
from soakage.model.verdict import Finding

CHUNK = 200  # files in one change: what is acknowledged at a time
CHUNK_BYTES = 32 * 2**20  # and no more than this beyond one file, so that large files do not pile up
Progress = Callable[[int], None]


@dataclass(frozen=True, slots=True)
class Incoming:
    """One file as read: its name, its bytes, and its records or what is wrong with it."""

    file: str
    data: bytes
    records: tuple[Record, ...] = ()
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True, slots=True)
class TakenTest:
    """One record of a file: the test it is, whether it was there already, its asset, its verdict, what was noticed."""

    test: str
    asset: str | None
    asset_title: str
    section: str
    known: bool
    status: str | None
    sentence: str = ""
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class TakenFile:
    """What came of one file.

    Parameters
    ----------
    file : str
        Its name as given.
    outcome : str
        added, known (all of it was there already) or refused.
    tests : tuple of TakenTest
        Its records, in order.
    faults : tuple of Fault
        Why it was refused.
    """

    file: str
    outcome: str
    tests: tuple[TakenTest, ...] = ()
    faults: tuple[Fault, ...] = ()


@dataclass(slots=True)
class Intake:
    """What came of an import so far; a file stands here once it is on the disk."""

    files: list[TakenFile] = field(default_factory=list)
    assets_added: list[str] = field(default_factory=list)
    dry_run: bool = False
    again: bool = False  # whether what was purged may come in again
    seen: dict[str, str] = field(default_factory=dict)  # of a dry run: content ids that would be there by now

    def count(self, outcome: str) -> int:
        """Return how many files came out so."""
        return sum(file.outcome == outcome for file in self.files)

    @property
    def tests_added(self) -> int:
        """Tests that were not there before."""
        return sum(not test.known for file in self.files for test in file.tests)


@dataclass(slots=True)
class _Draft:
    """One record on its way in."""

    file: int
    record: Record
    content: str
    test: str
    asset: KnownAsset | None
    new_asset: bool
    known: bool
    findings: tuple[Finding, ...] = ()


def take_in(
    memory: Memory,
    incoming: Iterable[Incoming],
    rules: Rules,
    *,
    dry_run: bool = False,
    progress: Progress | None = None,
    outcome: Intake | None = None,
) -> Intake:
    """Import files: add unknown assets, pass over what is there already, judge, keep.

    Parameters
    ----------
    memory : Memory
        The register.
    incoming : iterable of Incoming
        Files as read, in order.
    rules : Rules
        What judges.
    dry_run : bool
        Say what would come of it and keep nothing.
    progress : callable, optional
        Called with the number of files done, once they are kept.
    outcome : Intake, optional
        Filled as the import goes on, so that it is at hand when it is broken off.

    Returns
    -------
    Intake
    """
    taken = outcome if outcome is not None else Intake(dry_run=dry_run)
    for chunk in _chunks(incoming):
        _take_chunk(memory, chunk, rules, taken)
        if progress is not None:
            progress(len(taken.files))
    return taken


def _chunks(incoming: Iterable[Incoming]) -> Iterator[list[Incoming]]:
    chunk: list[Incoming] = []
    size = 0
    for file in incoming:
        chunk.append(file)
        size += len(file.data)
        if len(chunk) == CHUNK or size > CHUNK_BYTES:
            yield chunk
            chunk, size = [], 0
    if chunk:
        yield chunk


def _take_chunk(memory: Memory, chunk: Sequence[Incoming], rules: Rules, taken: Intake) -> None:
    drafts, faults = _drafts(memory, chunk, taken.seen, again=taken.again)
    new = [draft for draft in drafts if not draft.known]
    judged: list[Judged] = []
    if new:
        assets = {draft.asset.id: draft.asset for draft in drafts if draft.asset is not None}
        tests = [_test_of(draft) for draft in new]
        present = {test.id for test in tests}
        sisters = memory.tests(visits={test.visit for test in tests if test.visit})
        tests += [test for test in sisters if test.id not in present and not test.withdrawn]
        evaluation, judged = judge_kept(memory, tests, rules, assets)
        if taken.dry_run:
            taken.seen |= {draft.content: draft.test for draft in new}
        else:
            with memory.changing() as change:
                keep_files(change, chunk, new)
                for item in judged:
                    if item.news:
                        reason = "" if item.test.result is None else "A sister section of its visit came in."
                        give_verdict(change, item, evaluation, reason)
    _tell(chunk, drafts, faults, {item.test.id: item for item in judged}, taken)


def _drafts(
    memory: Memory, chunk: Sequence[Incoming], seen: Mapping[str, str], *, again: bool
) -> tuple[list[_Draft], dict[int, tuple[Fault, ...]]]:
    """Return the records of a chunk with their assets, and the faults of files that are refused."""
    plates = [named(record.asset) for file in chunk for record in file.records]
    wanted = {key: {plate[key] for plate in plates if key in plate} for key in ("asset", "tag", "serial")}
    known = {
        asset.id: asset for asset in memory.assets_like(wanted["asset"], wanted["tag"], wanted["serial"])
    }
    # one that was renamed is still meant by the name it was first registered with
    known |= memory.assets({asset_id(plate) for plate in plates if plate} - set(known))
    contents = {id(record): content_id(record) for file in chunk for record in file.records}
    there = dict(seen) | memory.known_contents(contents.values())
    ids = TestIds(memory, (content for content in contents.values() if content not in there), again=again)
    added: set[str] = set()
    drafts: list[_Draft] = []
    faults: dict[int, tuple[Fault, ...]] = {}
    for place, file in enumerate(chunk):
        problems = list(file.faults)
        mine = []
        for record in file.records:
            content = contents[id(record)]
            asset, problem = _asset_of(record, known)
            if problem is None and content not in there:
                problem = ids.refusal(record, content)
            if problem is not None:
                problems.append(problem)
                continue
            fresh = asset is not None and asset.id not in known
            if asset is not None:
                known[asset.id] = asset
                if fresh:
                    added.add(asset.id)
            test = there[content] if content in there else ids.of(content)
            is_new = asset is not None and asset.id in added
            mine.append(_Draft(place, record, content, test, asset, is_new, content in there))
            there.setdefault(content, test)
        if problems:
            faults[place] = tuple(problems)
        else:
            drafts += mine
    _notice(memory, drafts, known.values())
    return drafts, faults


def _notice(memory: Memory, drafts: Sequence[_Draft], known: Iterable[KnownAsset]) -> None:
    """Add to new records what is noticed about their assets: once for each new asset."""
    fresh = {draft.asset.id: draft.asset for draft in drafts if draft.new_asset and draft.asset is not None}
    names = {name for asset in fresh.values() for name in spellings(asset.values)}
    register = {asset.id: asset for asset in memory.assets_nearly(names)} if names else {}
    by_name: dict[str, list[KnownAsset]] = {}
    for asset in (*register.values(), *(asset for asset in known if asset.id not in fresh | register)):
        for name in spellings(asset.values) & names:
            by_name.setdefault(name, []).append(asset)
    for draft in drafts:
        if draft.known:
            continue
        if draft.asset is None:
            draft.findings = (no_asset(),)
        elif fresh.pop(draft.asset.id, None) is not None:
            own = spellings(draft.asset.values)
            near = nearly(draft.asset, [other for name in own for other in by_name.get(name, ())])
            draft.findings = (nearly_known(draft.asset, near),) if near else ()
            for name in own:
                by_name.setdefault(name, []).append(draft.asset)


def _asset_of(record: Record, known: dict[str, KnownAsset]) -> tuple[KnownAsset | None, Fault | None]:
    wanted = named(record.asset)
    if not wanted:
        return None, None
    fits = fitting(wanted, known.values())
    if len(fits) > 1:
        fault = Fault(
            record.origin.file,
            record.origin.row,
            "asset",
            ", ".join(wanted.values()),
            f"It may be one of {len(fits)} assets of the register: {ambiguous(fits)}.",
            "one asset",
            "State site, tag or serial number too.",
        )
        return None, fault
    found = fits[0] if fits else known.get(asset_id(wanted))
    if found is None:
        return new_asset(wanted, record), None
    more = unsaid(record, found)
    return (replace(found, values=dict(found.values) | more) if more else found), None


def _test_of(draft: _Draft) -> KnownTest:
    asset = draft.asset.id if draft.asset else None
    return KnownTest(
        id=draft.test,
        content=draft.content,
        record=draft.record,
        asset=asset,
        visit=visit_id(asset, draft.record),
        instrument=instrument_id(draft.record),
        section=section_name(draft.record),
        withdrawn=False,
        review="draft",
        status=None,
        result=None,
    )


def keep_files(change: Change, chunk: Sequence[Incoming], drafts: Sequence[_Draft]) -> None:
    """Add what records bring to a change: sites, assets, sections, visits, instruments, tests, the files themselves."""
    change.look_up(subject for draft in drafts for subject in _touched(draft))
    for draft in drafts:
        if change.entries("test", draft.test):  # someone else brought it meanwhile
            continue
        record, asset = draft.record, draft.asset
        if asset is not None:
            keep_asset(change, asset, section_name(record))
            keep_visit(change, asset.id, record)
        keep_instrument(change, record)
        file = change.blob(chunk[draft.file].data)
        body = received_body(
            record,
            content=draft.content,
            asset=asset.id if asset else None,
            readings=change.readings(record),
            file_sha256=file,
        )
        change.add("test", draft.test, "received", body)


def _touched(draft: _Draft) -> Iterator[tuple[str, str]]:
    """Yield all that a draft may change, to be loaded at once."""
    yield "test", draft.test
    if draft.asset is not None:
        yield "asset", draft.asset.id
        if draft.asset.values.get("site"):
            yield "site", identity("site", draft.asset.values["site"])
        if visit := visit_id(draft.asset.id, draft.record):
            yield "visit", visit
    if instrument := instrument_id(draft.record):
        yield "instrument", instrument


def _tell(
    chunk: Sequence[Incoming],
    drafts: Sequence[_Draft],
    faults: dict[int, tuple[Fault, ...]],
    judged: dict[str, Judged],
    taken: Intake,
) -> None:
    by_file: dict[int, list[_Draft]] = {}
    for draft in drafts:
        by_file.setdefault(draft.file, []).append(draft)
        if draft.new_asset and draft.asset is not None and draft.asset.id not in taken.assets_added:
            taken.assets_added.append(draft.asset.id)
    for place, file in enumerate(chunk):
        if place in faults:
            taken.files.append(TakenFile(file.file, "refused", faults=faults[place]))
            continue
        mine = by_file.get(place, [])
        tests = tuple(_told(draft, judged.get(draft.test)) for draft in mine)
        outcome = "known" if mine and all(draft.known for draft in mine) else "added"
        taken.files.append(TakenFile(file.file, outcome, tests))


def _told(draft: _Draft, judged: Judged | None) -> TakenTest:
    verdict = judged.evaluated.verdict if judged is not None and not draft.known else None
    return TakenTest(
        test=draft.test,
        asset=draft.asset.id if draft.asset else None,
        asset_title=title_of(draft.asset.values) if draft.asset else draft.record.title,
        section=section_name(draft.record),
        known=draft.known,
        status=str(verdict.status) if verdict else None,
        sentence=verdict.sentence if verdict else "",
        findings=draft.findings,
    )
