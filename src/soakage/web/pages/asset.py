"""One asset: how it stands, its sections, nameplate, tests and history, and what can be done with it."""

from __future__ import annotations

from typing import Annotated

from fastapi import Path, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from soakage.app.register import title_of
from soakage.app.remarks import EVENTS, LARGEST, begins_anew
from soakage.errors import Fault, SoakageError
from soakage.web import asset_actions as actions
from soakage.web import asset_history, asset_view
from soakage.web.asset_files import PICTURES, attachment
from soakage.web.filters import PageNumber
from soakage.web.forms import Chosen, Typed
from soakage.web.memo import remembered
from soakage.web.people import Tester
from soakage.web.plate_view import boxes, faults_of
from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.stored import Memory
from soakage.web.view import counted, day
from soakage.wiring.trending import today

ROUTER = Router("asset", order=50)
Asset = Annotated[str, Path(pattern="^[0-9a-f]{32}$", description="Whole id of an asset.")]
_TOLD = {
    "added": "The asset was added.",
    "changed": "The nameplate was changed. What was before stays in the trail.",
    "judged": "The nameplate was changed. Verdicts given with the old one stand until they are judged again.",
    "same": "Nothing differs from what the register has.",
    "noted": "The note was added.",
    "happened": "The event was added.",
    "anew": "The event was added. A new series of trends begins with it.",
    "attached": "The file was added.",
    "retired": "The asset is retired: no test of it falls due. Its history stays.",
    "back": "The asset is back in service.",
    "section": "The section was added.",
    "settled": "The conflict is settled. The other values stay in the trail.",
}


@ROUTER.get("/assets/{asset}", name="asset")
def show(
    request: Request,
    memory: Memory,
    asset: Asset,
    page_number: PageNumber = 1,
    told: Annotated[str, Query(max_length=20)] = "",
    section: Annotated[str, Query(max_length=200)] = "",
) -> HTMLResponse:
    """Show an asset; its history is fetched after it."""
    return _page(request, memory, asset, number=page_number, told=_TOLD.get(told, ""), section=section)


def _page(
    request: Request,
    memory: Memory,
    asset: str,
    *,
    number: int = 1,
    told: str = "",
    section: str = "",
    faults: tuple[Fault, ...] = (),
) -> HTMLResponse:
    found = asset_view.shown(memory, asset, number)
    return page(
        request,
        "asset.html",
        title=found["asset"]["title"],
        current="assets",
        told=told,
        section=section,
        faults=faults,
        event_words=EVENTS,
        today=today().isoformat(),
        counted=counted,
        day=day,
        pictures=PICTURES,
        status=422 if faults else 200,
        **found,
    )


@ROUTER.get("/assets/{asset}/history", name="asset-history")
def history(
    request: Request,
    memory: Memory,
    asset: Asset,
    section: Annotated[str, Query(max_length=200)] = "",
    part: Annotated[str, Query(max_length=5)] = "",
) -> HTMLResponse:
    """Show the history of an asset; ``part`` gives it alone, for the page of the asset."""
    known, _ = asset_view.the_asset(memory, asset)
    found = remembered(
        request, ("history", today(), asset, section), lambda: asset_history.shown(memory, asset, section)
    )
    found = {**found, "histories": asset_history.charted(request, found["histories"])}
    title = title_of(known.values)
    return page(
        request,
        "asset_history_part.html" if part else "asset_history.html",
        title=f"History of {title}",
        current="assets",
        asset={"id": asset, "title": title},
        **found,
    )


@ROUTER.get("/assets/{asset}/edit", name="asset-edit")
def edit(request: Request, memory: Memory, asset: Asset, person: Tester) -> HTMLResponse:
    """Show the nameplate as a form."""
    del person
    return _form(request, memory, asset, None)


@ROUTER.post("/assets/{asset}/edit", name="asset-change")
def change(request: Request, memory: Memory, asset: Asset, person: Tester, typed: Typed) -> Response:
    """Change the nameplate to what stands in each field."""
    del person
    known, _ = asset_view.the_asset(memory, asset)
    try:
        made = actions.edited(memory, known, typed, typed.get("reason", ""))
    except SoakageError as problem:
        return _form(request, memory, asset, typed, problem)
    told = "same" if made is None else "judged" if made.judged_before else "changed"
    return _done(asset, told)


def _form(
    request: Request,
    memory: Memory,
    asset: str,
    typed: dict[str, str] | None,
    problem: SoakageError | None = None,
) -> HTMLResponse:
    known, _ = asset_view.the_asset(memory, asset)
    faults = faults_of(problem) if problem else ()
    names, plate, rest = boxes(known.values, typed, faults)
    title = title_of(known.values)
    return page(
        request,
        "asset_form.html",
        title=f"Nameplate of {title}",
        current="assets",
        asset={"id": asset, "title": title},
        names=names,
        plate=plate,
        rest=rest,
        reason=(typed or {}).get("reason", ""),
        faults=faults,
        address_of_form=f"/assets/{asset}/edit",
        status=422 if problem else 200,
    )


@ROUTER.post("/assets/{asset}/note", name="asset-note")
def note(request: Request, memory: Memory, asset: Asset, person: Tester, typed: Typed) -> Response:
    """Add a note."""
    del person
    known, _ = asset_view.the_asset(memory, asset)
    try:
        actions.noted(memory, known, typed.get("text", ""))
    except SoakageError as problem:
        return _page(request, memory, asset, faults=faults_of(problem))
    return _done(asset, "noted")


@ROUTER.post("/assets/{asset}/event", name="asset-event")
def event(request: Request, memory: Memory, asset: Asset, person: Tester, typed: Typed) -> Response:
    """Add what happened to it."""
    del person
    known, _ = asset_view.the_asset(memory, asset)
    word = typed.get("event", "")
    try:
        actions.event_added(memory, known, word, typed.get("on", ""), typed.get("text", ""))
    except SoakageError as problem:
        return _page(request, memory, asset, faults=faults_of(problem))
    return _done(asset, "anew" if begins_anew(word) else "happened")


@ROUTER.post("/assets/{asset}/section", name="asset-section")
def section(request: Request, memory: Memory, asset: Asset, person: Tester, typed: Typed) -> Response:
    """Add a section."""
    del person
    known, _ = asset_view.the_asset(memory, asset)
    try:
        actions.section_added(memory, known, typed.get("name", ""), typed.get("text", ""))
    except SoakageError as problem:
        return _page(request, memory, asset, faults=faults_of(problem))
    return _done(asset, "section")


@ROUTER.post("/assets/{asset}/retire", name="asset-retire")
def retire(request: Request, memory: Memory, asset: Asset, person: Tester, typed: Typed) -> Response:
    """Mark it as retired, or take that back."""
    del person
    known, _ = asset_view.the_asset(memory, asset)
    back = typed.get("back") == "yes"
    try:
        actions.retired(memory, known, typed.get("reason", ""), back=back)
    except SoakageError as problem:
        return _page(request, memory, asset, faults=faults_of(problem))
    return _done(asset, "back" if back else "retired")


@ROUTER.post("/assets/{asset}/settle", name="asset-settle")
def settle(request: Request, memory: Memory, asset: Asset, person: Tester, typed: Typed) -> Response:
    """Let one of the values in conflict stand."""
    del person
    known, _ = asset_view.the_asset(memory, asset)
    try:
        actions.settled(
            memory, known, typed.get("field", ""), typed.get("entry", ""), typed.get("reason", "")
        )
    except SoakageError as problem:
        return _page(request, memory, asset, faults=faults_of(problem))
    return _done(asset, "settled")


@ROUTER.post("/assets/{asset}/attach", name="asset-attach")
def attach(request: Request, memory: Memory, asset: Asset, person: Tester, file: Chosen) -> Response:
    """Keep a photograph or another file with it."""
    del person
    known, _ = asset_view.the_asset(memory, asset)
    if file is None:
        fault = Fault("", None, "file", "", "No file was chosen.", "", "Choose one, then add it.")
        return _page(request, memory, asset, faults=(fault,))
    content = file.file.read(LARGEST + 1)
    try:
        actions.attached(memory, known, file.filename or "", file.content_type or "", content)
    except SoakageError as problem:
        return _page(request, memory, asset, faults=faults_of(problem))
    return _done(asset, "attached")


@ROUTER.get("/assets/{asset}/attachments/{sha256}", name="asset-attachment")
def kept_file(
    memory: Memory, asset: Asset, sha256: Annotated[str, Path(pattern="^[0-9a-f]{64}$")]
) -> Response:
    """Return a file kept with it; a picture is shown."""
    return attachment(memory, asset, sha256)


def _done(asset: str, told: str) -> RedirectResponse:
    return RedirectResponse(f"/assets/{asset}?told={told}", 303)
