"""One test: verdict, evidence, charts, criteria, findings, history of its verdicts, and what can be done with it."""

from __future__ import annotations

from typing import Annotated

from fastapi import Query, Request
from fastapi.responses import HTMLResponse

from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.stored import Memory
from soakage.web.test_view import found_page
from soakage.web.test_view_page import shown

# after every page that has a name of its own below /tests
ROUTER = Router("test", order=99)


@ROUTER.get("/tests/{test}", name="test")
def test(
    request: Request,
    memory: Memory,
    test: str,
    only: Annotated[str, Query(max_length=20)] = "",
    beside: Annotated[list[str] | None, Query(max_length=12)] = None,
) -> HTMLResponse:
    """Show a test; ``only`` is a status whose criteria are shown, ``beside`` the tests it is compared with."""
    found = found_page(memory, test)
    return page(request, "test.html", current="assets", **shown(request, memory, found, only, beside))
