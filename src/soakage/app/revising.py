"""Changes to what was received: a revision, a withdrawal, a remark, a sign-off; nothing is ever overwritten."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from soakage.app.folding import body_of
from soakage.app.intake import keep_asset, keep_instrument, keep_visit
from soakage.app.judge_kept import give_verdict, judge_kept
from soakage.app.keeping import instrument_id, received_body, visit_id
from soakage.app.ports import Change, KnownAsset, KnownTest, Memory
from soakage.app.register import fitting, named, new_asset
from soakage.app.rules import Rules
from soakage.app.visits import section_name
from soakage.errors import UsageError
from soakage.model.record import Record
from soakage.model.stated import content_id
from soakage.model.verdict import Status

EVENTS = ("rewind", "refill", "repair", "cleaning", "drying", "other")
RECEIVED = ("received", "revised")


@dataclass(frozen=True, slots=True)
class Revised:
    """A test after a revision: its id, the status before and after."""

    test: str
    before: str | None
    after: str | None


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


def revise(memory: Memory, test: KnownTest, record: Record, rules: Rules, reason: str | None) -> Revised:
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
    asset = _asset_of(memory, record)
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
    sisters = [
        sister
        for sister in memory.tests(visits=[visit] if visit else [])
        if sister.id != test.id and not sister.withdrawn
    ]
    evaluation, judged = judge_kept(
        memory, [revised, *sisters], rules, {own: asset} if asset and own else None
    )
    with memory.changing() as change:
        if asset is not None:
            keep_asset(change, asset, section)
            keep_visit(change, asset.id, record)
        keep_instrument(change, record)
        body = received_body(
            record,
            content=content,
            asset=own,
            readings=change.readings(record),
            file_sha256=_last_record(change, test.id)["file_sha256"],
        )
        change.add("test", test.id, "revised", body, reason=why)
        for item in judged:
            if item.news:
                give_verdict(
                    change,
                    item,
                    evaluation,
                    f"Revised: {why}" if item.test.id == test.id else "A sister section was revised.",
                )
    return Revised(test.id, test.status, str(judged[0].evaluated.verdict.status))


def _asset_of(memory: Memory, record: Record) -> KnownAsset | None:
    wanted = named(record.asset)
    if not wanted:
        return None
    like = memory.assets_like(*([wanted[key]] if key in wanted else [] for key in ("asset", "tag", "serial")))
    fits = fitting(wanted, like)
    if len(fits) > 1:
        raise UsageError(
            f"The revision may be of {len(fits)} assets of the register. State site, tag or serial number too."
        )
    return fits[0] if fits else new_asset(wanted, record)


def _last_record(change: Change, test: str) -> Mapping[str, Any]:
    """Return what the newest revision of a test keeps of its record."""
    versions = [entry for entry in change.entries("test", test) if entry.action in RECEIVED]
    newest = max(versions, key=lambda entry: (entry.at, entry.hash))
    kept: Mapping[str, Any] = body_of(newest)["record"]
    return kept


def withdraw(memory: Memory, test: KnownTest, reason: str | None, *, back: bool = False) -> None:
    """Mark a test as withdrawn, or take that back; it is kept. On a signed one this is a revision.

    Raises
    ------
    UsageError
        If no reason is given, or there is nothing to change.
    """
    why = owed(reason, "A withdrawal" if not back else "Taking a withdrawal back")
    if test.withdrawn != back:
        raise UsageError(f"Test {test.id[:12]} is {'' if test.withdrawn else 'not '}withdrawn already.")
    with memory.changing() as change:
        body: dict[str, Any] = {"set": {"withdrawn": not back}, "was": {"withdrawn": back}}
        action = "reinstated" if back else "withdrawn"
        if test.review == "signed":
            newest = max(
                (entry for entry in change.entries("test", test.id) if entry.action in RECEIVED),
                key=lambda entry: (entry.at, entry.hash),
            )
            kept = body_of(newest)
            body |= {"of": kept["of"], "record": kept["record"]}
            body["set"] |= {"content": test.content}
            action = "revised"
        change.add("test", test.id, action, body, reason=why)


def note(memory: Memory, subject: KnownAsset | KnownTest, text: str) -> None:
    """Add a note to an asset or a test.

    Raises
    ------
    UsageError
        If it is empty.
    """
    if not text.strip():
        raise UsageError("The note is empty.")
    with memory.changing() as change:
        change.add(kind_of(subject), subject.id, "noted", {"text": text.strip()})


def attach(
    memory: Memory, subject: KnownAsset | KnownTest, name: str, media_type: str, content: bytes
) -> str:
    """Keep a file with an asset or a test, exactly as it is; return its hash."""
    with memory.changing() as change:
        sha256 = change.blob(content)
        body = {"name": name, "media_type": media_type, "sha256": sha256, "size": len(content)}
        change.add(kind_of(subject), subject.id, "attached", body)
    return sha256


def happened(memory: Memory, asset: KnownAsset, event: str, on: date, text: str = "") -> None:
    """Note what happened to an asset: after a rewind, a refill or a repair a new series of trends begins.

    Raises
    ------
    UsageError
        If the event is none of the list.
    """
    if event not in EVENTS:
        raise UsageError(f"{event!r} is no event. Allowed: {', '.join(EVENTS)}.")
    with memory.changing() as change:
        change.add(
            "asset", asset.id, "happened", {"event": event, "at": on.isoformat(), "text": text.strip()}
        )


def sign_off(
    memory: Memory, test: KnownTest, *, signed: bool, status: str | None = None, text: str = ""
) -> str:
    """Record that the person who works here reviewed or signed a test; return the status they stand for.

    Parameters
    ----------
    memory : Memory
        The register.
    test : KnownTest
        As it stands.
    signed : bool
        True for a sign-off, after which only a revision changes the test; False for a review.
    status : str, optional
        The verdict the person gives; that of the tool unless given. Another one needs a text.
    text : str
        What the person adds.

    Returns
    -------
    str

    Raises
    ------
    UsageError
        If the test is withdrawn, signed already, in conflict or without a verdict, or a differing one lacks its text.
    """
    given = _stood_for(test, status, text)
    with memory.changing() as change:
        if "content" in change.folded("test", test.id).conflicts:
            raise UsageError(
                f"Test {test.id[:12]} has two revisions nobody chose between. Settle that first."
            )
        body = {"content": test.content, "status": given, "tool_status": test.status, "text": text.strip()}
        change.add("test", test.id, "signed" if signed else "reviewed", body)
    return given


def _stood_for(test: KnownTest, status: str | None, text: str) -> str:
    if test.withdrawn:
        raise UsageError(f"Test {test.id[:12]} is withdrawn. Take that back first.")
    if test.review == "signed":
        raise UsageError(
            f"Test {test.id[:12]} is signed already. Only a revision can change it: 'soakage amend'."
        )
    if test.status is None:
        raise UsageError(f"Test {test.id[:12]} has no verdict yet. Judge it first: 'soakage rejudge'.")
    given = status or test.status
    if given not in set(map(str, Status)):
        raise UsageError(f"{given!r} is no status. Allowed: {', '.join(Status)}.")
    if given != test.status and not text.strip():
        raise UsageError(f"The tool found {test.status}, you give {given}. Say why with --text.")
    return given


def kind_of(subject: KnownAsset | KnownTest) -> str:
    """Return which kind of subject it is."""
    return "asset" if isinstance(subject, KnownAsset) else "test"
