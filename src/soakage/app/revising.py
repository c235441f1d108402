"""Changes to what was received: a revision, a withdrawal, a purge; nothing is overwritten, every one has a reason."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from soakage.app.folding import body_of
from soakage.app.judge_kept import Judged, give_verdict, judge_kept
from soakage.app.keep_subjects import keep_asset, keep_instrument, keep_visit
from soakage.app.keeping import instrument_id, received_body, visit_id
from soakage.app.ports import Change, GivenVerdict, KnownAsset, KnownTest, Memory
from soakage.app.register import ambiguous, asset_id, fitting, named, new_asset, unsaid
from soakage.app.result import RuleNames
from soakage.app.rules import Rules
from soakage.app.visits import section_name
from soakage.errors import UsageError
from soakage.model.record import Record
from soakage.model.stated import content_id, readings_digest, stated_plain

RECEIVED = ("received", "revised")


@dataclass(frozen=True, slots=True)
class FieldChange:
    """One field before and after, as plain values; None where it was not stated."""

    field: str
    before: Any
    after: Any


@dataclass(frozen=True, slots=True)
class Moved:
    """A test whose verdict a change of another test touched: its section, the status before and after."""

    test: str
    section: str
    before: str | None
    after: str | None


@dataclass(frozen=True, slots=True)
class Revised:
    """A test after a revision.

    Parameters
    ----------
    test : str
        Its id; it stays.
    reason : str
        Why.
    before, after : str or None
        Status.
    sentence : str
        Of the verdict now.
    changed : tuple of FieldChange
        Keys that differ.
    readings_changed : bool
        Whether a reading differs.
    was_signed : bool
        Whether the revision before was signed; its sign-off does not go over to this one.
    sisters : tuple of Moved
        Sister sections of the visit that were judged again.
    left : tuple of str
        Sister sections that were judged by other rules than those at hand, and so were left as they are.
    """

    test: str
    reason: str
    before: str | None
    after: str | None
    sentence: str
    changed: tuple[FieldChange, ...]
    readings_changed: bool
    was_signed: bool
    sisters: tuple[Moved, ...]
    left: tuple[str, ...]


def owed(reason: str | None, what: str) -> str:
    """Return a reason without what surrounds it.

    Raises
    ------
    UsageError
        If there is none.
    """
    if not reason or not reason.strip():
        raise UsageError(f"{what} needs a reason. Give it with --reason.")
    return " ".join(reason.split())


def field_changes(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[FieldChange, ...]:
    """Return the fields in which two sets of plain values differ."""
    names = dict.fromkeys([*before, *after])
    return tuple(
        FieldChange(name, before.get(name), after.get(name))
        for name in names
        if before.get(name) != after.get(name)
    )


def revise(
    memory: Memory,
    test: KnownTest,
    record: Record,
    rules: Rules,
    reason: str | None,
    *,
    file: bytes | None = None,
) -> Revised:
    """Put a corrected record in the place of a test's; the one before stays, and so do its verdicts and sign-off.

    Parameters
    ----------
    memory : Memory
        The register.
    test : KnownTest
        Which is revised.
    record : Record
        As it should have been.
    rules : Rules
        What judges the revision.
    reason : str
        Why.
    file : bytes, optional
        The corrected file, kept as it is; the one the test came in stands unless given.

    Returns
    -------
    Revised

    Raises
    ------
    UsageError
        If no reason is given, nothing differs, or another test has this very content.
    """
    why = owed(reason, "A revision")
    content = content_id(record)
    if content == test.content:
        raise UsageError(
            "Nothing differs from what is there. State what was wrong, for example --winding-temperature."
        )
    other = memory.known_contents([content]).get(content)
    if other not in (None, test.id):
        raise UsageError(f"Test {str(other)[:12]} has this very content. Withdraw one of the two instead.")
    asset = _asset_of(memory, test, record)
    own = asset.id if asset else None
    visit, section = visit_id(own, record), section_name(record)
    revised = replace(
        test,
        content=content,
        record=record,
        asset=own,
        visit=visit,
        section=section,
        instrument=instrument_id(record),
        review="draft",
        result=None,
    )
    sisters = _sisters(memory, test.id, visit)
    evaluation, judged = judge_kept(
        memory, [revised, *sisters], rules, {own: asset} if asset and own else None
    )
    moving, left = _alike(memory, [item for item in judged[1:] if item.news], evaluation.rules, rules)
    with memory.changing() as change:
        kept = _unchanged(change, test)
        if asset is not None:
            keep_asset(change, asset, section)
            keep_visit(change, asset.id, record)
        keep_instrument(change, record)
        body = received_body(
            record,
            content=content,
            asset=own,
            readings=change.readings(record),
            file_sha256=kept["record"]["file_sha256"] if file is None else change.blob(file),
        )
        body["was"] = {"content": test.content, "asset": test.asset}
        change.add("test", test.id, "revised", body, reason=why)
        give_verdict(change, judged[0], evaluation, f"Revised: {why}")
        for item in moving:
            give_verdict(change, item, evaluation, "A sister section was revised.")
    verdict = judged[0].evaluated.verdict
    return Revised(
        test=test.id,
        reason=why,
        before=test.status,
        after=str(verdict.status),
        sentence=verdict.sentence,
        changed=field_changes(
            stated_plain(test.record) | dict(test.record.extra), stated_plain(record) | dict(record.extra)
        ),
        readings_changed=readings_digest(test.record.readings) != readings_digest(record.readings),
        was_signed=test.review == "signed",
        sisters=tuple(_moved(item) for item in moving),
        left=left,
    )


def _asset_of(memory: Memory, test: KnownTest, record: Record) -> KnownAsset | None:
    """Return the asset of a revision: the same one where the revision names it as the record before did."""
    wanted = named(record.asset)
    if not wanted:
        return None
    if wanted == named(test.record.asset) and test.asset:
        # the register may call it otherwise by now
        found = list(memory.assets([test.asset]).values())
    else:
        like = memory.assets_like(
            *([wanted[key]] if key in wanted else [] for key in ("asset", "tag", "serial"))
        )
        found = fitting(wanted, like) or list(memory.assets([asset_id(wanted)]).values())
    if len(found) > 1:
        raise UsageError(
            f"The revision may be of {len(found)} assets of the register: {ambiguous(found)}. State site, tag or "
            "serial number too."
        )
    if not found:
        return new_asset(wanted, record)
    more = unsaid(record, found[0])
    return replace(found[0], values=dict(found[0].values) | more) if more else found[0]


def _sisters(memory: Memory, test: str, visit: str | None) -> list[KnownTest]:
    there = memory.tests(visits=[visit] if visit else [])
    return [sister for sister in there if sister.id != test and not sister.withdrawn]


def _alike(
    memory: Memory, news: Sequence[Judged], names: RuleNames, rules: Rules
) -> tuple[list[Judged], tuple[str, ...]]:
    """Part the sisters judged by the rules at hand before, too, from those judged by others: these are left."""
    given = memory.verdicts(item.test.id for item in news)
    moving, left = [], []
    for item in news:
        stood = next(
            (one for one in reversed(given.get(item.test.id, [])) if one.content == item.test.content), None
        )
        if stood is None or _same_rules(memory, stood, names, rules):
            moving.append(item)
        else:
            left.append(item.test.section)
    return moving, tuple(left)


def _same_rules(memory: Memory, stood: GivenVerdict, names: RuleNames, rules: Rules) -> bool:
    if (stood.profile_sha256, stood.criteria_sha256) != (names.profile_sha256, names.criteria_sha256):
        return False
    before = json.loads(memory.blob(stood.result))
    own = any(judgement["user_limit"] for judgement in before["judgements"])
    return not own and not rules.limits and rules.temperature_rule is None


def _moved(item: Judged) -> Moved:
    return Moved(item.test.id, item.test.section, item.test.status, str(item.evaluated.verdict.status))


def _unchanged(change: Change, test: KnownTest) -> Mapping[str, Any]:
    """Return the newest version of a test as kept.

    Raises
    ------
    UsageError
        If somebody changed it since it was read.
    """
    entries = change.entries("test", test.id)
    if any(entry.action == "purged" for entry in entries):
        raise UsageError(f"Test {test.id[:12]} was purged meanwhile. Nothing was changed.")
    if change.folded("test", test.id).values.get("content") != test.content:
        raise UsageError(
            f"Test {test.id[:12]} was revised meanwhile. Nothing was changed. Look, then try again."
        )
    versions = [body_of(entry) for entry in sorted(entries, key=lambda entry: (entry.at, entry.hash))
                if entry.action in RECEIVED]  # fmt: skip
    return next(body for body in reversed(versions) if body.get("set", {}).get("content") == test.content)


def withdraw(
    memory: Memory, test: KnownTest, rules: Rules, reason: str | None, *, back: bool = False
) -> Revised:
    """Mark a test as withdrawn, or take that back; it is kept. On a signed one this is a revision.

    Parameters
    ----------
    memory : Memory
        The register.
    test : KnownTest
        Which.
    rules : Rules
        Sister sections that were compared with it are judged again by these.
    reason : str
        Why.
    back : bool
        Take a withdrawal back.

    Returns
    -------
    Revised

    Raises
    ------
    UsageError
        If no reason is given, or there is nothing to change.
    """
    why = owed(reason, "Taking a withdrawal back" if back else "A withdrawal")
    if test.withdrawn != back:
        state = "withdrawn already" if test.withdrawn else "not withdrawn"
        raise UsageError(f"Test {test.id[:12]} is {state}. Nothing was changed.")
    sisters = _sisters(memory, test.id, test.visit)
    evaluation, judged = judge_kept(memory, [*([test] if back else []), *sisters], rules)
    news = [item for item in judged if item.news and item.test.id != test.id]
    moving, left = _alike(memory, news, evaluation.rules, rules)
    with memory.changing() as change:
        kept = _unchanged(change, test)
        body: dict[str, Any] = {"set": {"withdrawn": not back}, "was": {"withdrawn": back}}
        action = "reinstated" if back else "withdrawn"
        if test.review == "signed":
            body |= {"of": kept["of"], "record": kept["record"]}
            body["set"] |= {"content": test.content}
            action = "revised"
        change.add("test", test.id, action, body, reason=why)
        for item in moving:
            give_verdict(
                change, item, evaluation, f"A sister section was {'taken back' if back else 'withdrawn'}."
            )
    return Revised(
        test=test.id,
        reason=why,
        before=test.status,
        after=test.status,
        sentence="",
        changed=(FieldChange("withdrawn", back, not back),),
        readings_changed=False,
        was_signed=test.review == "signed",
        sisters=tuple(_moved(item) for item in moving),
        left=left,
    )


def purge(memory: Memory, test: KnownTest, reason: str | None, exported: Mapping[str, Any]) -> None:
    """Remove the content of a test for good; that it was there, who purged it and why stays.

    Parameters
    ----------
    memory : Memory
        The register.
    test : KnownTest
        Which; its content was exported, and the export read back.
    reason : str
        Why.
    exported : mapping
        What to note of the export: its name and hash.

    Raises
    ------
    UsageError
        If no reason is given, or the test changed since it was exported.
    """
    why = owed(reason, "A purge")
    with memory.changing() as change:
        _unchanged(change, test)
        change.add("test", test.id, "purged", {"export": dict(exported)}, reason=why)
