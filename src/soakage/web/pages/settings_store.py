"""Settings: the store itself, its backup and check, exchange with another store, accounts."""

from __future__ import annotations

from typing import Annotated

from fastapi import Form, HTTPException, Query, Request, UploadFile
from fastapi.responses import FileResponse, RedirectResponse, Response

from soakage.errors import SoakageError
from soakage.store.backup import Backup
from soakage.store.checkup import REMEDIES, Checkup
from soakage.web import settings_actions as actions
from soakage.web.accounts import Role
from soakage.web.forms import Typed
from soakage.web.house import house
from soakage.web.people import Administrator
from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.settings_view import last_noted
from soakage.web.stored import Memory
from soakage.wiring.exchanging import conflicts_of
from soakage.wiring.remote import place_of
from soakage.wiring.trending import today

ROUTER = Router("settings-store")
Job = Annotated[str, Query(max_length=80)]
_CERTIFICATE = 1 << 20


@ROUTER.get("/settings/store", name="store")
def show_store(
    request: Request, memory: Memory, person: Administrator, job: Job = "", done: Job = ""
) -> Response:
    """Show where the store is, its last backup, and what a check found."""
    found = house(request).keepsakes.get(done, person.name)
    return page(
        request, "settings_store.html", title="Store", current="settings", where=memory.store.where, job=job,
        id=memory.store.id, done=done, made=found if isinstance(found, Backup) else None, remedies=REMEDIES,
        checkup=found if isinstance(found, Checkup) else None, backup=last_noted(memory, "backed_up"),
        merged=last_noted(memory, "merged"), conflicts=len(conflicts_of(memory)), missing=memory.store.where.missing,
    )  # fmt: skip


@ROUTER.post("/settings/store/{what}", name="store-work")
def work_on_store(request: Request, memory: Memory, person: Administrator, what: str) -> Response:
    """Make a backup, or check the store."""
    shared = house(request)
    if what == "backup":
        said, work = "Writing a backup", actions.backup_made
    else:
        said, work = "Checking the store", actions.check_made
    job = actions.begun(shared, person, said, "/settings/store?done=", lambda job: work(shared, memory, job))
    return RedirectResponse(f"/settings/store?job={job.id}", 303)


@ROUTER.get("/settings/store/backups/{key}", name="store-backup")
def save_backup(request: Request, person: Administrator, key: str) -> Response:
    """Return a backup that was made, as long as it is at hand."""
    found = house(request).keepsakes.get(key, person.name)
    if not isinstance(found, Backup) or not found.path.is_file():
        raise HTTPException(404, "This backup is no longer at hand. Make another.")
    return FileResponse(
        found.path, media_type="application/octet-stream", filename=f"soakage-{today():%Y-%m-%d}.sqlite"
    )


@ROUTER.get("/settings/exchange", name="exchange")
def show_exchange(
    request: Request, memory: Memory, person: Administrator, job: Job = "", done: Job = ""
) -> Response:
    """Show how this store exchanges with another, and what came of it."""
    return page(
        request, "settings_exchange.html", title="Exchange", current="settings", job=job, person=person, problem="",
        told=house(request).keepsakes.get(done, person.name), merged=last_noted(memory, "merged"),
        given={"address": "", "account": ""},
    )  # fmt: skip


@ROUTER.post("/settings/exchange", name="exchange-begin")
def exchange(
    request: Request,
    memory: Memory,
    person: Administrator,
    typed: Typed,
    certificate: UploadFile | None = None,
) -> Response:
    """Push to another store, pull from it, or both."""
    shared = house(request)
    trusted = certificate.file.read(_CERTIFICATE) if certificate is not None and certificate.filename else b""
    given = {name: typed.get(name, "") for name in ("address", "account", "password", "what", "dry_run")}
    try:
        place = place_of(given["address"])
    except SoakageError as problem:
        return page(
            request, "settings_exchange.html", title="Exchange", current="settings", job="", person=person,
            problem=str(problem), told=None, merged=last_noted(memory, "merged"), given=given, status=422,
        )  # fmt: skip
    job = actions.begun(
        shared, person, f"Exchanging with {place}", "/settings/exchange?done=",
        lambda job: actions.exchanged(shared, memory, job, given, trusted),
    )  # fmt: skip
    return RedirectResponse(f"/settings/exchange?job={job.id}", 303)


def _accounts(request: Request, memory: Memory, person: Administrator, problem: str = "") -> Response:
    return page(
        request, "settings_accounts.html", title="Accounts", current="settings", person=person, problem=problem,
        kept=actions.accounts_of(memory).listed(), roles=list(map(str, Role)), status=422 if problem else 200,
    )  # fmt: skip


@ROUTER.get("/settings/accounts", name="accounts")
def show_accounts(request: Request, memory: Memory, person: Administrator) -> Response:
    """Show who may log in where the pages are served to others."""
    return _accounts(request, memory, person)


@ROUTER.post("/settings/accounts/{what}", name="accounts-change")
def change_account(
    request: Request,
    memory: Memory,
    person: Administrator,
    what: str,
    name: Annotated[str, Form(max_length=100)] = "",
    password: Annotated[str, Form(max_length=300)] = "",
    role: Annotated[str, Form(max_length=20)] = "",
) -> Response:
    """Open an account, give one a new password and role, or close one."""
    shared = house(request)
    try:
        if what == "close":
            actions.account_closed(shared, memory, name)
        else:
            actions.account_opened(shared, memory, name, password, role)
    except SoakageError as problem:
        return _accounts(request, memory, person, str(problem))
    return RedirectResponse("/settings/accounts", 303)
