"""Start: what needs a decision, what is unfinished, what is due; and what to do first where nothing is kept."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import Query, Request
from fastapi.responses import HTMLResponse

from soakage.web import start_view
from soakage.web.filters import Asked
from soakage.web.memo import remembered
from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.stored import Memory
from soakage.web.view import counted, day
from soakage.wiring.looking import day_given
from soakage.wiring.trending import today

ROUTER = Router("start", word="Start", address="/", place="head", order=1)


@ROUTER.get("/", name="start")
def start(request: Request, memory: Memory) -> HTMLResponse:
    """Show the start; what is due is worked out after it."""
    most = start_view.TOLD
    said = remembered(request, ("waiting", most), lambda: start_view.journalled(memory, most))
    said = {**said, "unfinished": start_view.sheets(memory, most)}
    first, second = start_view.lead(said)
    return page(
        request,
        "start.html",
        title="Start",
        current="start",
        first=first,
        second=second,
        said=said,
        decide=start_view.decide_rows(said["decide"]["assets"]),
        disputes=start_view.conflict_rows(said["conflicts"]["fields"]),
        today=day(today()),
        counted=counted,
    )


def worked_out(request: Request, memory: Memory, by: str | None, asked: Asked) -> start_view.Due:
    """Return what falls due; worked out once for each state of the store and day."""
    now, wanted = today(), asked.wanted

    def make() -> start_view.Due:
        last = date.fromisoformat(by) if by else None
        return start_view.due(memory, now, by=last, site=wanted.site, asset_class=wanted.asset_class)

    found = remembered(request, ("due", now, by, wanted.site, wanted.asset_class), make)
    assert isinstance(found, start_view.Due)  # noqa: S101 - made here
    return found


@ROUTER.get("/due", name="due")
def due(
    request: Request,
    memory: Memory,
    asked: Asked,
    by: Annotated[str, Query(max_length=20)] = "",
    part: Annotated[str, Query(max_length=5)] = "",
) -> HTMLResponse:
    """Show what falls due up to a day; ``part`` gives the list alone, for the start."""
    last = day_given("by", by.strip() or None)
    found = worked_out(request, memory, last, asked)
    return page(
        request,
        "due_part.html" if part else "due.html",
        title="Due",
        current="start",
        due=found,
        rows=start_view.due_rows(found, today()),
        by=found.by.isoformat(),
        by_day=day(found.by),
        asked=asked,
        most=12 if part else 500,
    )
