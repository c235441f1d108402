"""The plan of a test as a card to take along: on screen, on paper, on a phone; what is ticked on it is kept."""

from __future__ import annotations

from typing import Annotated

from fastapi import Path, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from soakage.app.capture_sheets import sheets_of
from soakage.errors import Fault, SoakageError
from soakage.report.card_pdf import card_pdf
from soakage.store.drafts import kept_draft, set_up
from soakage.web import plan_view
from soakage.web.people import Tester
from soakage.web.planning import Asked, asked_of, of_query, planned
from soakage.web.plate_view import faults_of
from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.stored import Memory
from soakage.web.taking_actions import the_draft, tick_by
from soakage.wiring.sheets import Planned, begin_sheet

ROUTER = Router("plan", order=40)
Asset = Annotated[str, Path(pattern="^[0-9a-f]{32}$", description="Whole id of an asset.")]
Draft = Annotated[str, Query(pattern="^([0-9a-f]{32})?$")]


@ROUTER.get("/assets/{asset}/plan", name="asset-plan")
def of_asset(request: Request, memory: Memory, asset: Asset, draft: Draft = "") -> HTMLResponse:
    """Show the plan of an asset."""
    return _page(request, memory, of_query(request, asset), draft)


@ROUTER.get("/plan", name="plan")
def of_plate(request: Request, memory: Memory, draft: Draft = "") -> HTMLResponse:
    """Show the plan of a nameplate as typed."""
    return _page(request, memory, of_query(request), draft)


@ROUTER.get("/assets/{asset}/plan.pdf", name="asset-plan-card")
def card_of_asset(request: Request, memory: Memory, asset: Asset) -> Response:
    """Give the card as a file to print."""
    return _card(memory, of_query(request, asset))


@ROUTER.get("/plan.pdf", name="plan-card")
def card_of_plate(request: Request, memory: Memory) -> Response:
    """Give the card of a nameplate as a file to print."""
    return _card(memory, of_query(request))


@ROUTER.post("/plan/sheet", name="plan-sheet")
async def open_sheet(request: Request, memory: Memory, person: Tester) -> Response:
    """Open the sheet of a plan, or keep what was ticked on it."""
    del person
    form = await request.form()
    fields = {name: value for name, value in form.items() if isinstance(value, str)}
    texts = {
        name: [one for one in form.getlist(name) if isinstance(one, str)]
        for name in ("method", "tick", "connection")
    }
    asked = asked_of(
        Asked(
            fields.get("asset") or None,
            {name.removeprefix("k-"): value for name, value in fields.items() if name.startswith("k-")},
            tuple(texts["method"]),
        )
    )
    made = planned(memory, asked)
    places = [int(text) for text in texts["connection"] if text.isdigit()]
    draft = _opened(memory, made, fields.get("draft", ""), places, texts["tick"])
    if fields.get("go") == "ticks":
        return RedirectResponse(asked.address(draft=draft), 303)
    return RedirectResponse(f"/take/{draft}", 303)


def _opened(memory: Memory, made: Planned, draft: str, places: list[int], ticks: list[str]) -> str:
    """Begin a sheet, or bring one that nothing happened on yet to what was chosen."""
    known = kept_draft(memory, draft) if draft else None
    if known is None:
        return begin_sheet(memory, made, places, {text: tick_by(memory) for text in ticks})
    sheets = [sheet.as_json() for sheet in sheets_of(made.plan, places)]

    def change(fields: dict[str, object]) -> dict[str, object]:
        before = fields["ticks"]
        assert isinstance(before, dict)  # noqa: S101 - we wrote it
        now = {text: before.get(text) or tick_by(memory) for text in ticks}
        return {**fields, "ticks": {**before, **now}, **({} if known.rows else {"sheets": sheets})}

    set_up(memory, draft, change)
    return draft


def _page(request: Request, memory: Memory, asked: Asked, draft: str) -> HTMLResponse:
    found = the_draft(memory, draft) if draft else None
    ticks = found.fields["ticks"] if found else {}
    sections = frozenset(str(sheet["title"]) for sheet in found.fields["sheets"]) if found else frozenset()
    made, shown = None, None
    faults: tuple[Fault, ...] = ()
    if asked.asset or "class" in asked.values:
        try:
            made = planned(memory, asked)
        except SoakageError as problem:
            faults = faults_of(problem)
    if made is not None and not made.plan.refusal:
        shown = plan_view.card(made, ticks, sections)
    asset_class = made.plan.asset.asset_class if made else asked.values.get("class")
    return page(
        request,
        "plan.html",
        title=f"Plan of {made.title}" if made else "Plan of a test",
        current="assets",
        made=made,
        card=shown,
        faults=faults,
        draft=found.id if found else "",
        status=422 if faults else 200,
        **plan_view.chosen(asked, asset_class),
    )


def _card(memory: Memory, asked: Asked) -> Response:
    content = card_pdf(planned(memory, asked).plan)
    headers = {"Content-Disposition": 'inline; filename="plan-card.pdf"'}
    return Response(content, media_type="application/pdf", headers=headers)
