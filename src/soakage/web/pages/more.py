"""More: on a phone, the words that have no room in the bar."""

from __future__ import annotations

from fastapi import Request
from fastapi.responses import HTMLResponse

from soakage.web.rendering import page
from soakage.web.routing import Router

ROUTER = Router("more")


@ROUTER.get("/more", name="more")
def more(request: Request) -> HTMLResponse:
    """Show the words that stand in the head of a wide screen only."""
    return page(request, "more.html", title="More")
