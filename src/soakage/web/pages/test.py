"""One test: verdict, evidence, charts, criteria, findings, history of its verdicts, and what can be done with it."""

from __future__ import annotations

from typing import Annotated

from fastapi import Query, Request
from fastapi.responses import HTMLResponse

from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.stored import Memory
from soakage.web.test_view import found_page, title
from soakage.web.test_view_charts import plot_of
from soakage.web.test_view_page import answer
from soakage.web.test_view_why import why

# after every page that has a name of its own below /tests
ROUTER = Router("test", order=99)


@ROUTER.get("/tests/{test}", name="test")
def show(
    request: Request,
    memory: Memory,
    test: str,
    only: Annotated[str, Query(max_length=20)] = "",
    beside: Annotated[list[str] | None, Query(max_length=14)] = None,
) -> HTMLResponse:
    """Show a test; ``only`` is a status whose criteria are shown, ``beside`` the tests it is compared with."""
    return answer(request, memory, test, only=only, beside=beside)


@ROUTER.get("/tests/{test}/why/{quantity}")
def show_why(request: Request, memory: Memory, test: str, quantity: str) -> HTMLResponse:
    """Show why a figure is what it is."""
    found = found_page(memory, test)
    told = why(found, quantity)
    return page(
        request,
        "test_why.html",
        current="assets",
        title=told["name"],
        test=found["test"],
        of=title(found),
        why=told,
    )


@ROUTER.get("/tests/{test}/network")
def show_network(request: Request, memory: Memory, test: str) -> HTMLResponse:
    """Show the resistances between the terminals of the visit as a table."""
    network = plot_of(request, memory, test, "network")
    found = found_page(memory, test)["test"]
    return page(
        request,
        "test_network.html",
        current="assets",
        title=f"Network of {network['asset']}",
        test=found,
        network=network,
    )
