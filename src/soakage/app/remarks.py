"""What is added to an asset or a test and changes nothing of it: notes, files, events."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from soakage.app.history import NEW_INSULATION, Happening
from soakage.app.ports import KnownAsset, KnownTest, Memory
from soakage.app.register import title_of
from soakage.errors import UsageError

EVENTS = tuple(str(happening) for happening in Happening)
LARGEST = 50_000_000  # bytes of one attachment; a video belongs elsewhere


@dataclass(frozen=True, slots=True)
class Remark:
    """What was added: to which kind of subject, its id and title, the action and its fields."""

    kind: str
    subject: str
    title: str
    action: str
    fields: dict[str, Any] = field(default_factory=dict)


def kind_of(subject: KnownAsset | KnownTest) -> str:
    """Return which kind of subject it is."""
    return "asset" if isinstance(subject, KnownAsset) else "test"


def title(subject: KnownAsset | KnownTest) -> str:
    """Return the name a person would use for an asset or a test."""
    return title_of(subject.values) if isinstance(subject, KnownAsset) else subject.record.title


def note(memory: Memory, subject: KnownAsset | KnownTest, text: str) -> Remark:
    """Add a note to an asset or a test.

    Raises
    ------
    UsageError
        If it is empty.
    """
    if not text.strip():
        raise UsageError("The note is empty. Write what is to be remembered.")
    return _added(memory, subject, "noted", {"text": text.strip()})


def attach(
    memory: Memory, subject: KnownAsset | KnownTest, name: str, media_type: str, content: bytes
) -> Remark:
    """Keep a file with an asset or a test, exactly as it is.

    Parameters
    ----------
    memory : Memory
        The register.
    subject : KnownAsset or KnownTest
        What it belongs to.
    name : str
        Of the file, without its folder.
    media_type : str
        Such as ``image/jpeg``.
    content : bytes
        The whole file.

    Raises
    ------
    UsageError
        If it is empty or too large.
    """
    if not content:
        raise UsageError(f"{name}: the file is empty. Nothing was kept.")
    if len(content) > LARGEST:
        raise UsageError(
            f"{name}: {len(content)} bytes; at most {LARGEST} are kept here. Keep it elsewhere and note its place."
        )
    fields = {"name": name, "media_type": media_type, "size": len(content)}
    return _added(memory, subject, "attached", fields, content)


def happened(memory: Memory, asset: KnownAsset, event: str, on: date, text: str = "") -> Remark:
    """Note what happened to an asset: after a rewind, a refill or a repair a new series of trends begins.

    Raises
    ------
    UsageError
        If the event is none of the list.
    """
    if event not in EVENTS:
        raise UsageError(f"{event!r} is no event. Allowed: {', '.join(EVENTS)}.")
    return _added(memory, asset, "happened", {"event": event, "at": on.isoformat(), "text": text.strip()})


def begins_anew(event: str) -> bool:
    """Return whether after this event the insulation is another one."""
    return event in tuple(map(str, NEW_INSULATION))


def _added(
    memory: Memory,
    subject: KnownAsset | KnownTest,
    action: str,
    fields: dict[str, Any],
    content: bytes | None = None,
) -> Remark:
    with memory.changing() as change:
        if content is not None:
            fields = fields | {"sha256": change.blob(content)}
        change.add(kind_of(subject), subject.id, action, fields)
    return Remark(kind_of(subject), subject.id, title(subject), action, fields)
