"""Start: what is due, unfinished or needs a decision."""

from __future__ import annotations

from fastapi import Request
from fastapi.responses import HTMLResponse

from soakage.web.rendering import page
from soakage.web.routing import Router

ROUTER = Router("start", word="Start", address="/", place="head", order=1)


@ROUTER.get("/", name="start")
def start(request: Request) -> HTMLResponse:
    """Show the start."""
    return page(request, "start.html", title="Start", current="start")
