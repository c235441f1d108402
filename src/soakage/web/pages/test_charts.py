"""Charts of a test, each at an address of its own: drawn from the record evaluated when it is asked for."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import Path, Request
from fastapi.responses import RedirectResponse, Response

from soakage.web.house import house
from soakage.web.routing import Router
from soakage.web.stored import Memory
from soakage.web.test_view_charts import network_picture, plot_of

ROUTER = Router("test-charts", order=98)
Kind = Annotated[str, Path(pattern="^[a-z-]{1,40}$")]


@ROUTER.get("/tests/{test}/charts/network.svg")
def network(
    request: Request, memory: Memory, test: str, look: Literal["screen-light", "screen-dark"] = "screen-light"
) -> Response:
    """Return the resistances between the terminals of the visit, drawn."""
    return Response(
        network_picture(plot_of(request, memory, test, "network"), look), media_type="image/svg+xml"
    )


@ROUTER.get("/tests/{test}/charts/{kind}.{ending}")
def chart(
    request: Request, memory: Memory, test: str, kind: Kind, ending: Literal["svg", "png", "csv", "json"]
) -> RedirectResponse:
    """Lead to a chart of this test as it is now; what it leads to never changes."""
    key = house(request).shelf.put(plot_of(request, memory, test, kind))
    query = f"?{request.url.query}" if request.url.query else ""
    return RedirectResponse(f"/charts/{key}.{ending}{query}", 307)
