"""What Settings does to a store; the pages and the API do it through these."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

from soakage.app.edited import Edited
from soakage.app.exchange_json import merge_json
from soakage.app.instruments import calibrate, edit_instrument, edit_person
from soakage.errors import InputError, UsageError
from soakage.store.backup import back_up
from soakage.store.checking import checked
from soakage.store.memory import StoreMemory
from soakage.web.accounts import Role, account
from soakage.web.filters import clean
from soakage.web.house import House
from soakage.web.jobs import Job
from soakage.web.sessions import Person
from soakage.web.settings_view import PLATE, instruments
from soakage.web.shapes import fault
from soakage.web.stored_accounts import StoreAccounts
from soakage.wiring.changing import plain_values
from soakage.wiring.exchanging_far import pulled, pushed
from soakage.wiring.looking import day_given
from soakage.wiring.remote import Remote, place_of

_BACKUPS = 2  # files of backups that wait to be saved


def instrument_kept(memory: StoreMemory, serial: str, typed: Mapping[str, str], *, add: bool) -> Edited:
    """Add an instrument, or change what is stated of it; what is empty is taken away.

    Raises
    ------
    InputError, UsageError
        If a value cannot be read, or it is there already or not there.
    """
    given = {key: clean(typed.get(key, "")) for key in PLATE if key in typed}
    if add and typed.get("calibration_due"):
        given["calibration_due"] = clean(typed["calibration_due"])
    stated = {key: text for key, text in given.items() if text}
    empty = [key for key, text in given.items() if not text]
    if not add:  # what stands in a field as it stood there is no change
        shown = next((one.values for one in instruments(memory) if one.serial == clean(serial)), {})
        stated = {key: text for key, text in stated.items() if text != shown.get(key)}
        empty = [key for key in empty if key in shown]
        if not stated and not empty:
            raise UsageError("Nothing differs from what is there.")
    values = plain_values(stated)[0] if stated else {}
    return edit_instrument(memory, clean(serial), values, () if add else empty, add=add)


def calibrated(memory: StoreMemory, serial: str, due: str, done: str = "", certificate: str = "") -> Edited:
    """Note a calibration.

    Raises
    ------
    UsageError
        If a day cannot be read, or there is no such instrument.
    """
    last = day_given("due", due.strip() or None)
    if last is None:
        raise UsageError("When does this calibration run out? Write the day as 2027-03-14.")
    made = day_given("done", done.strip() or None)
    return calibrate(
        memory, clean(serial), date.fromisoformat(last), done=date.fromisoformat(made) if made else None,
        certificate=clean(certificate)[:200],
    )  # fmt: skip


def person_kept(memory: StoreMemory, name: str, licence: str, text: str, *, add: bool) -> Edited:
    """Add a person, or change what is written of one; what is empty is taken away."""
    given = {"licence_number": clean(licence)[:200], "text": clean(text)[:1000]}
    values = {key: value for key, value in given.items() if value}
    empty = () if add else tuple(key for key, value in given.items() if not value)
    return edit_person(memory, clean(name)[:200], values, empty, add=add)


def accounts_of(memory: StoreMemory) -> StoreAccounts:
    """Return the accounts of a store, changed in the name of whoever asks."""
    return StoreAccounts(memory.store, memory.person)


def account_opened(shared: House, memory: StoreMemory, name: str, password: str, role: str) -> None:
    """Open an account, or give one a new password and role; its sessions end.

    Raises
    ------
    InputError
        If there is no such role.
    UsageError
        If the name is empty or the password too short.
    """
    if role not in set(map(str, Role)):
        raise InputError([fault("That is no role.", field="role", given=role[:40], allowed=", ".join(Role))])
    made = account(clean(name)[:100], password, Role(role))
    if not shared.accounts.any() and made.role is not Role.ADMINISTER:
        raise UsageError("The first account has to administer, or nobody could change this again.")
    accounts_of(memory).keep(made)
    shared.accounts.forget()
    shared.sessions.end_all(made.name)


def account_closed(shared: House, memory: StoreMemory, name: str) -> None:
    """Close an account; its sessions end.

    Raises
    ------
    UsageError
        If there is no open one of that name, or nobody else could administer.
    """
    kept = accounts_of(memory)
    others = [one for one in kept.listed() if not one.closed and one.name != name]
    if others and not any(one.role is Role.ADMINISTER for one in others):
        raise UsageError("Nobody else administers. Give another account that role first.")
    if not kept.close(name):
        raise UsageError(f"There is no open account of that name. Given: {name[:100]}.")
    shared.accounts.forget()
    shared.sessions.end_all(name)


def backup_made(shared: House, memory: StoreMemory, job: Job) -> None:
    """Make a backup in a passing place, to be saved from the page."""
    job.tell("Writing the store into one file, and verifying it", 0, 0)
    place = shared.batches.place("backups")
    for old in sorted(place.iterdir(), key=lambda file: file.stat().st_mtime)[: 1 - _BACKUPS or None]:
        old.unlink(missing_ok=True)
    made = back_up(memory.store, place / f"{job.id}.sqlite", memory.person, identity=memory.identity)
    shared.keepsakes.keep(job.id, job.person.name, made)


def check_made(shared: House, memory: StoreMemory, job: Job) -> None:
    """Look for anything damaged, missing or left over."""
    job.tell("Looking at every entry, every content and every row", 0, 0)
    shared.keepsakes.keep(job.id, job.person.name, checked(memory.store))


@contextmanager
def certificate_in(shared: House, content: bytes) -> Iterator[Path | None]:
    """Give a certificate that somebody brought as a file, as long as it is needed; none where nothing was."""
    if not content:
        yield None
        return
    from soakage.web.sessions import new_id

    path = shared.batches.place("certificates") / new_id()
    path.write_bytes(content)
    try:
        yield path
    finally:
        path.unlink(missing_ok=True)


def exchanged(
    shared: House, memory: StoreMemory, job: Job, given: Mapping[str, Any], certificate: bytes = b""
) -> None:
    """Push to another store, or pull from it, or both.

    Parameters
    ----------
    shared : House
        Keeps what came of it.
    memory : StoreMemory
        This store.
    job : Job
        Told how far it is.
    given : mapping
        ``address``, ``account``, ``password``, ``what`` (push, pull, both), ``dry_run``.
    certificate : bytes
        Of an authority of one's own.
    """
    place = place_of(str(given["address"]))
    dry_run = bool(given.get("dry_run"))
    done: dict[str, Any] = {"address": str(place), "dry_run": dry_run, "pulled": None, "pushed": None}
    with certificate_in(shared, certificate) as file, Remote(place, file) as remote:
        job.tell(f"Asking {place}", 0, 0)
        remote.log_in(str(given.get("account") or memory.person), lambda: str(given.get("password") or ""))
        if given["what"] in ("pull", "both"):
            merged = pulled(memory, remote, dry_run=dry_run, told=job.tell)
            done["pulled"] = merge_json([(str(place), merged)], dry_run=dry_run)["files"][0]
        if given["what"] in ("push", "both"):
            done["pushed"] = pushed(memory, remote, dry_run=dry_run, told=job.tell)
    shared.keepsakes.keep(job.id, job.person.name, done)


def begun(shared: House, person: Person, sentence: str, then: str, work: Any) -> Job:  # noqa: ANN401 - a callable
    """Begin long work whose result is kept under its id; it is shown at ``then`` with that id behind it."""

    def doing(job: Job) -> str:
        work(job)
        return f"{then}{job.id}"

    return shared.jobs.begin(person, sentence, doing)
