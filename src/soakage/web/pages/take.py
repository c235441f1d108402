"""Taking readings by hand: a timed sheet that calls each mark, keeps each reading at once and lets nothing be lost."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from fastapi import Path, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from soakage.errors import Fault, SoakageError
from soakage.store.store import microseconds
from soakage.web import taking_actions as actions
from soakage.web import taking_page
from soakage.web.forms import Typed
from soakage.web.house import house
from soakage.web.people import Tester
from soakage.web.plate_view import faults_of
from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.stored import Memory

ROUTER = Router("take", order=40)
Draft = Annotated[str, Path(pattern="^[0-9a-f]{32}$", description="Whole id of a sheet.")]
Place = Annotated[int | None, Query(ge=0, le=200)]


@ROUTER.get("/take/{draft}", name="take")
def take(
    request: Request,
    memory: Memory,
    draft: Draft,
    sheet: Place = None,
    part: Annotated[str, Query(max_length=5)] = "",
) -> HTMLResponse:
    """Show a sheet; ``part`` gives only what changes with a reading."""
    return _page(request, memory, draft, sheet, part=bool(part))


@ROUTER.post("/take/{draft}/header", name="take-header")
def header(
    request: Request, memory: Memory, person: Tester, draft: Draft, typed: Typed, sheet: Place = None
) -> Response:
    """Keep conditions, instrument and people."""
    del person
    given = {key: text for key, text in typed.items() if key not in ("csrf", "known")}
    name, _, serial_due = typed.get("known", "").partition("|")
    if name:
        serial, _, due = serial_due.partition("|")
        given |= {"instrument": name, "instrument_serial": serial, "calibration_due": due}
    try:
        actions.header_changed(memory, draft, given)
    except SoakageError as problem:
        return _page(request, memory, draft, sheet, faults=faults_of(problem), typed=given)
    return _back(draft, sheet)


@ROUTER.post("/take/{draft}/keep", name="take-keep")
def keep(request: Request, memory: Memory, person: Tester, draft: Draft, sheet: Place = None) -> Response:
    """Receive the sheet as tests, then show the first of them."""
    del person
    try:
        taken = actions.kept(memory, draft)
    except SoakageError as problem:
        return _page(request, memory, draft, sheet, faults=faults_of(problem))
    return RedirectResponse(f"/tests/{taken.files[0].tests[0].test}", 303)


@ROUTER.post("/take/{draft}/away", name="take-away")
def away(memory: Memory, person: Tester, draft: Draft) -> Response:
    """Put a sheet away without keeping a test."""
    del person
    actions.put_away(memory, draft)
    return RedirectResponse("/", 303)


def _back(draft: str, sheet: int | None) -> Response:
    return RedirectResponse(f"/take/{draft}" + (f"?sheet={sheet}" if sheet is not None else ""), 303)


def _page(
    request: Request,
    memory: Memory,
    draft: str,
    sheet: int | None,
    *,
    part: bool = False,
    faults: tuple[Fault, ...] = (),
    typed: Mapping[str, str] | None = None,
) -> HTMLResponse:
    scale = house(request).settings.clock_scale
    found = taking_page.shown(memory, actions.the_draft(memory, draft), sheet, microseconds(), scale)
    if typed is not None:  # what was refused stays in its fields to be corrected, not typed anew
        found["header"] = [one | {"value": typed.get(one["name"], "")} for one in found["header"]]
    return page(
        request,
        "take_part.html" if part else "take.html",
        current="new-test",
        faults=faults,
        status=422 if faults else 200,
        **found,
    )
