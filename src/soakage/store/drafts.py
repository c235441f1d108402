"""Sheets being taken by hand: what was set up, and one row for each thing that happened, on the disk once acknowledged.

They belong to this place and are in no bundle.  What happened is only added to, by number, and carries a key the
page made up: what is sent twice is kept once, so that a page may send again whatever it has no answer to.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import delete, func, insert, select, update

from soakage.errors import UsageError
from soakage.model.stated import canonical
from soakage.store import schema
from soakage.store.asking import rows
from soakage.store.memory import StoreMemory
from soakage.store.store import microseconds

MOST_ROWS = 5000
_DRAFT, _ROW = schema.draft, schema.draft_row


@dataclass(frozen=True, slots=True)
class DraftRow:
    """One thing that happened: its number from 1 on, when the server was told [us UTC], and what it was."""

    number: int
    at: int
    fields: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class KeptDraft:
    """A sheet not yet received as a record.

    Parameters
    ----------
    id : str
        Its id.
    person : str
        Who began it.
    asset : str or None
        Id of the asset, where it is one of the register.
    begun, changed : int
        When [us UTC].
    fields : mapping
        What was set up.
    rows : tuple of DraftRow
        What happened, by number.
    """

    id: str
    person: str
    asset: str | None
    begun: int
    changed: int
    fields: Mapping[str, Any]
    rows: tuple[DraftRow, ...] = ()

    @property
    def next(self) -> int:
        """Number of the row to come."""
        return self.rows[-1].number + 1 if self.rows else 1


class GoneError(UsageError):
    """There is no such sheet."""

    def __init__(self) -> None:
        super().__init__("There is no such sheet. It was kept as a test, or put away, on another page.")


class OutOfTurnError(UsageError):
    """A row does not follow those that are there: another page added to the sheet meanwhile."""


def begin_draft(
    memory: StoreMemory,
    asset: str | None,
    fields: Mapping[str, Any],
    now: Callable[[], int] = microseconds,
) -> str:
    """Begin a sheet.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    asset : str or None
        Id of its asset.
    fields : mapping
        What is set up; JSON-able.
    now : callable, optional
        The clock [us UTC].

    Returns
    -------
    str
        Its id.
    """
    name, at = uuid.uuid4().hex, now()
    with memory.store.writing(memory.person, memory.identity) as writer:
        writer.connection.execute(
            insert(_DRAFT).values(
                id=name, person=memory.person, asset=asset, begun=at, changed=at, fields=canonical(fields)
            )
        )
    return name


def kept_draft(memory: StoreMemory, draft: str) -> KeptDraft | None:
    """Return a sheet with its rows; None where there is none."""
    with memory.store.reading() as connection:
        found = next(rows(connection, select(_DRAFT).where(_DRAFT.c.id == draft)), None)
        if found is None:
            return None
        query = select(_ROW).where(_ROW.c.draft == draft).order_by(_ROW.c.number)
        happened = tuple(
            DraftRow(row["number"], row["at"], json.loads(row["fields"])) for row in rows(connection, query)
        )
    return KeptDraft(**(found | {"fields": json.loads(found["fields"]), "rows": happened}))


def add_row(
    memory: StoreMemory,
    draft: str,
    number: int,
    fields: Mapping[str, Any],
    now: Callable[[], int] = microseconds,
) -> bool:
    """Add what happened; it is on the disk when this returns.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    draft : str
        Id of the sheet.
    number : int
        One more than the last; or that of a row with the same key, which then stays as it is.
    fields : mapping
        What happened, and its ``key``; JSON-able.
    now : callable, optional
        The clock [us UTC].

    Returns
    -------
    bool
        False where it was there already.

    Raises
    ------
    OutOfTurnError
        If another row has this number, or rows before it are missing.
    GoneError
        If there is no such sheet.
    UsageError
        If the sheet is full.
    """
    content, at = canonical(fields), now()
    with memory.store.writing(memory.person, memory.identity) as writer:
        connection = writer.connection
        changed = connection.execute(update(_DRAFT).where(_DRAFT.c.id == draft).values(changed=at))
        if not changed.rowcount:
            raise GoneError
        query = select(_ROW.c.fields).where(_ROW.c.draft == draft, _ROW.c.number == number)
        there = connection.execute(query).scalar()
        if there is not None and json.loads(there).get("key") == fields["key"]:
            return False
        last = connection.execute(select(func.max(_ROW.c.number)).where(_ROW.c.draft == draft)).scalar() or 0
        if there is not None or number != last + 1:
            raise OutOfTurnError(
                f"The sheet was added to meanwhile, perhaps on another page. Given: number {number}. "
                f"Allowed: {last + 1}. Nothing was lost; load the sheet again and look."
            )
        if last >= MOST_ROWS:
            raise UsageError(
                f"A sheet holds at most {MOST_ROWS} entries. Keep it as a test and begin another."
            )
        connection.execute(insert(_ROW).values(draft=draft, number=number, at=at, fields=content))
    return True


def set_up(
    memory: StoreMemory,
    draft: str,
    change: Callable[[dict[str, Any]], Mapping[str, Any]],
    now: Callable[[], int] = microseconds,
) -> dict[str, Any]:
    """Change what was set up: nobody else changes it between reading and writing.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    draft : str
        Id of the sheet.
    change : callable
        From what was set up to what is from now on.
    now : callable, optional
        The clock [us UTC].

    Returns
    -------
    dict
        What is set up now.

    Raises
    ------
    GoneError
        If there is no such sheet.
    """
    with memory.store.writing(memory.person, memory.identity) as writer:
        text = writer.connection.execute(select(_DRAFT.c.fields).where(_DRAFT.c.id == draft)).scalar()
        if text is None:
            raise GoneError
        made = dict(change(json.loads(text)))
        writer.connection.execute(
            update(_DRAFT).where(_DRAFT.c.id == draft).values(fields=canonical(made), changed=now())
        )
    return made


def remove_draft(memory: StoreMemory, draft: str) -> bool:
    """Remove a sheet with all its rows; return whether there was one."""
    with memory.store.writing(memory.person, memory.identity) as writer:
        writer.connection.execute(delete(_ROW).where(_ROW.c.draft == draft))
        done = writer.connection.execute(delete(_DRAFT).where(_DRAFT.c.id == draft))
    return bool(done.rowcount)


def instruments_at_hand(memory: StoreMemory, limit: int = 50) -> list[dict[str, Any]]:
    """Return the instruments of the register: name, serial and calibration_due, by name."""
    table = schema.instrument
    columns = (table.c.name, table.c.serial, table.c.calibration_due)
    with memory.store.reading() as connection:
        return list(rows(connection, select(*columns).order_by(table.c.name, table.c.serial).limit(limit)))
