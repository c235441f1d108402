"""Assets: find one, list them with filters, add one."""

from __future__ import annotations

from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from soakage.errors import SoakageError
from soakage.model.keys import CLASSES
from soakage.model.verdict import Status
from soakage.store.plant import sites
from soakage.store.queries import listed_assets
from soakage.web import asset_actions
from soakage.web.filters import PAGE, Asked, Filters, PageNumber
from soakage.web.forms import Typed
from soakage.web.people import Tester
from soakage.web.plate_view import boxes, faults_of
from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.stored import Memory

ROUTER = Router("assets", word="Assets", address="/assets", place="head", order=2)


@ROUTER.get("/assets", name="assets")
def assets(request: Request, memory: Memory, asked: Asked, page_number: PageNumber = 1) -> Response:
    """List assets; the only one that is called so is opened."""
    with memory.store.reading() as connection:
        found = listed_assets(connection, asked.wanted, limit=PAGE + 1, offset=PAGE * (page_number - 1))
        known = sites(connection)
    if len(found) == 1 and page_number == 1 and asked.only_text:
        return RedirectResponse(f"/assets/{found[0]['id']}", 303)
    return page(
        request,
        "assets.html",
        title="Assets",
        current="assets",
        asked=asked,
        rows=found[:PAGE],
        more=len(found) > PAGE,
        number=page_number,
        **choices(asked, known),
    )


def choices(asked: Filters, known_sites: list[str]) -> dict[str, Any]:
    """Return what the filters of a list may be set to."""
    return {
        "typed": asked.typed,
        "sites": known_sites,
        "classes": CLASSES,
        "statuses": [str(one) for one in Status],
    }


@ROUTER.get("/assets/new", name="assets-new")
def new(request: Request, person: Tester) -> HTMLResponse:
    """Show the form for a new asset."""
    del person
    return _form(request, {})


@ROUTER.post("/assets/new", name="assets-add")
def add(request: Request, memory: Memory, person: Tester, typed: Typed) -> Response:
    """Add an asset and open it."""
    del person
    try:
        made = asset_actions.added(memory, typed)
    except SoakageError as problem:
        return _form(request, typed, problem)
    return RedirectResponse(f"/assets/{made.id}?told=added", 303)


def _form(request: Request, typed: dict[str, str], problem: SoakageError | None = None) -> HTMLResponse:
    faults = faults_of(problem) if problem else ()
    names, plate, rest = boxes({}, typed, faults)
    return page(
        request,
        "asset_form.html",
        title="New asset",
        current="assets",
        asset=None,
        names=names,
        plate=plate,
        rest=rest,
        reason="",
        faults=faults,
        address_of_form="/assets/new",
        status=422 if problem else 200,
    )
