"""A new test: of which asset, or of which nameplate; the plan comes next."""

from __future__ import annotations

from typing import Annotated

from fastapi import Query, Request
from fastapi.responses import RedirectResponse, Response

from soakage.store.queries import Wanted, listed_assets
from soakage.store.waiting import unfinished
from soakage.web import plan_view
from soakage.web.filters import clean
from soakage.web.planning import Asked
from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.stored import Memory
from soakage.web.view import counted

ROUTER = Router("new-test", order=30)
MOST = 12


@ROUTER.get("/tests/new", name="new-test")
def new_test(
    request: Request,
    memory: Memory,
    find: Annotated[str, Query(max_length=200)] = "",
    asset: Annotated[str, Query(pattern="^([0-9a-f]{32})?$")] = "",
) -> Response:
    """Show where a test begins; an asset that is named leads to its plan at once."""
    if asset:
        return RedirectResponse(Asked(asset).address(), 303)
    text = clean(find)
    with memory.store.reading() as connection:
        found = listed_assets(connection, Wanted(text=text), limit=MOST + 1)
        sheets = unfinished(connection, 5)
    return page(
        request,
        "new_test.html",
        title="New test",
        current="new-test",
        find=text,
        assets=found[:MOST],
        more_assets=len(found) > MOST,
        sheets=sheets,
        counted=counted,
        **plan_view.chosen(Asked(None), None),
    )
