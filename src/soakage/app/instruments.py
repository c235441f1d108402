"""Instruments with their calibrations, and people, in the register; what was before stays."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from soakage.app.calibration import CALIBRATED, KEY, due_of
from soakage.app.edited import TEXT, Edited, changes_of, fresh_values, word
from soakage.app.ports import Change, Memory
from soakage.app.register import INSTRUMENT, identity
from soakage.app.revising import FieldChange
from soakage.errors import UsageError


def edit_instrument(
    memory: Memory,
    serial: str,
    values: Mapping[str, Any],
    clear: Iterable[str] = (),
    *,
    add: bool,
    reason: str = "",
) -> Edited:
    """Add an instrument, or change what the register has of it; its serial number tells it from others.

    Raises
    ------
    UsageError
        If it is there already, or is not there, or a key is none of an instrument's.
    """
    wanted = word(serial, "An instrument")
    fresh = fresh_values(values, clear, INSTRUMENT, "an instrument", some=not add)
    if fresh.get("instrument_serial", wanted) != wanted:
        raise UsageError("The serial number tells an instrument from others and stays. Add the other one.")
    subject = identity("instrument", wanted)
    with memory.changing() as change:
        before = _instrument(change, wanted, add=add)
        entry = change.state("instrument", subject, fresh | {"instrument_serial": wanted}, reason=reason)
    title = str((dict(before) | fresh).get("instrument") or wanted)
    return Edited("instrument", subject, title, added=add, changed=changes_of(entry))


def _instrument(change: Change, serial: str, *, add: bool) -> Mapping[str, Any]:
    values = change.folded("instrument", identity("instrument", serial)).values
    if add and values:
        raise UsageError(
            f"The instrument {serial} is there already. Change it with 'soakage register edit instrument'."
        )
    if not add and not values:
        raise UsageError(
            f"No instrument has the serial number {serial!r}; it is matched whole. Add it with 'soakage register add "
            "instrument'."
        )
    return values


def calibrate(
    memory: Memory, serial: str, due: date, *, done: date | None = None, certificate: str = ""
) -> Edited:
    """Note a calibration of an instrument; the latest date on which one runs out is the one that counts.

    Parameters
    ----------
    memory : Memory
        The register.
    serial : str
        Of the instrument.
    due : date
        When this calibration runs out.
    done : date, optional
        When it was made.
    certificate : str
        Its number, or where it is kept.

    Raises
    ------
    UsageError
        If there is no such instrument, or the calibration runs out before it was made.
    """
    if done is not None and done > due:
        raise UsageError(f"A calibration made on {done} cannot run out on {due}. Check the two dates.")
    wanted = word(serial, "An instrument")
    subject = identity("instrument", wanted)
    with memory.changing() as change:
        values = _instrument(change, wanted, add=False)
        before = due_of(change.folded("instrument", subject), change.entries("instrument", subject))
        body: dict[str, Any] = {
            "due": due.isoformat(),
            "done": done.isoformat() if done is not None else None,
            "certificate": certificate.strip(),
        }
        change.add("instrument", subject, CALIBRATED, body)
        after = due_of(change.folded("instrument", subject), change.entries("instrument", subject))
    changed = (FieldChange(KEY, before, after),) if after != before else ()
    return Edited(
        "instrument", subject, str(values.get("instrument") or wanted), added=False, changed=changed
    )


def edit_person(
    memory: Memory, name: str, values: Mapping[str, Any], clear: Iterable[str] = (), *, add: bool
) -> Edited:
    """Add a person, or change what the register has of one: name, licence_number, text.

    Raises
    ------
    UsageError
        If the person is there already, or is not there.
    """
    wanted = word(name, "A person")
    fresh = fresh_values(values, clear, ("name", "licence_number", TEXT), "a person", some=not add)
    subject = identity("person", wanted)
    with memory.changing() as change:
        there = change.folded("person", subject).values
        if add and there:
            raise UsageError(f"{wanted} is there already. Change it with 'soakage register edit person'.")
        if not add and not there:
            raise UsageError(
                f"No person was added as {wanted!r}. Add them with 'soakage register add person'."
            )
        entry = change.state("person", subject, ({"name": wanted} if add else {}) | fresh)
    return Edited("person", subject, str(fresh.get("name") or there.get("name") or wanted), added=add,
                  changed=changes_of(entry))  # fmt: skip
