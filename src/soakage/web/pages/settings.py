"""Settings: how pages look and figures are shown, what judges, what stands on reports."""

from __future__ import annotations

from typing import Annotated

from fastapi import Form, Request, UploadFile
from fastapi.responses import RedirectResponse, Response

from soakage.web.batches import name_of
from soakage.web.forms import Typed
from soakage.web.house import house
from soakage.web.people import Administrator, Reader
from soakage.web.rendering import LOOK_COOKIE, LOOKS, look_of, page
from soakage.web.routing import Router
from soakage.web.settings_view import instruments, last_noted, rules_told
from soakage.web.shown import COOKIE, DECIMALS, DEGREES, Shown, shown_of
from soakage.web.stored import Memory
from soakage.wiring import house_rules as rules

ROUTER = Router("settings", word="Settings", address="/settings", place="more", order=50)
_YEAR = 365 * 24 * 3600
LOOK_WORDS = {
    "system": "as the system",
    "light": "light",
    "dark": "dark",
    "sunlight": "sunlight: more contrast",
}


@ROUTER.get("/settings", name="settings")
def show(request: Request, memory: Memory, person: Reader) -> Response:
    """Show everything that can be set, each with what it is now."""
    kept = instruments(memory)
    return page(
        request, "settings.html", title="Settings", current="settings", person=person, told=rules_told(memory),
        looks=[(name, LOOK_WORDS[name]) for name in LOOKS], look=look_of(request), shown=shown_of(request),
        decimals=DECIMALS, degrees=DEGREES, instruments=len(kept), overdue=sum(one.overdue for one in kept),
        backup=last_noted(memory, "backed_up"), where=memory.store.where, accounts=house(request).accounts.any(),
    )  # fmt: skip


@ROUTER.post("/settings/shown", name="settings-shown")
def change_shown(request: Request, typed: Typed) -> Response:
    """Keep look, decimal mark and degrees in this browser."""
    secure = house(request).settings.secure
    look = typed.get("look", "")
    going = RedirectResponse("/settings#shown", 303)
    if look in LOOKS:
        going.set_cookie(LOOK_COOKIE, look, max_age=_YEAR, secure=secure, samesite="lax", path="/")
    decimal, degrees = typed.get("decimal", "."), typed.get("degrees", "C")
    if decimal in DECIMALS and degrees in DEGREES:
        chosen = Shown(decimal, degrees).cookie
        going.set_cookie(COOKIE, chosen, max_age=_YEAR, secure=secure, samesite="lax", path="/")
    return going


@ROUTER.post("/settings/profile", name="settings-profile")
def change_profile(
    memory: Memory,
    person: Administrator,
    profile: Annotated[str, Form(max_length=60)] = "",
    file: UploadFile | None = None,
) -> Response:
    """Judge by another profile from now on: one that comes with Soakage, or a file."""
    del person
    if file is not None and file.filename:
        rules.set_own_profile(memory, name_of(file.filename), file.file.read(rules.LONGEST_PROFILE + 1))
    else:
        rules.set_profile(memory, profile)
    return RedirectResponse("/settings#judging", 303)


@ROUTER.post("/settings/temperature-rule", name="settings-temperature")
def change_temperature(
    memory: Memory, person: Administrator, rule: Annotated[str, Form(max_length=100)] = ""
) -> Response:
    """Correct by another temperature rule from now on."""
    del person
    rules.set_temperature_rule(memory, rule)
    return RedirectResponse("/settings#judging", 303)


@ROUTER.post("/settings/report", name="settings-report")
def change_report(memory: Memory, person: Administrator, typed: Typed) -> Response:
    """Write other words on reports from now on."""
    del person
    rules.set_report(memory, {name: typed.get(name, "") for name in ("company", "heading", "note")})
    return RedirectResponse("/settings#reports", 303)
