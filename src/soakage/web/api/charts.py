"""Charts of the pages: drawings, numbers and the specification of each, by its key."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import HTTPException, Path, Query, Request
from fastapi.responses import Response

from soakage.web import charts
from soakage.web.chart_data import Plot, as_csv
from soakage.web.house import house
from soakage.web.routing import Router

ROUTER = Router("charts", prefix="/charts", tags=["charts"])
Key = Annotated[str, Path(pattern="^[0-9a-f]{24}$")]
Width = Annotated[int, Query(ge=200, le=2000)]
Height = Annotated[int, Query(ge=160, le=1200)]
Place = Annotated[float | None, Query(allow_inf_nan=False)]
# The key is a hash of the content, so what it names never changes.
_KEPT = {"Cache-Control": "private, max-age=86400, immutable"}
_DRAWING = "default-src 'none'; style-src 'unsafe-inline'; font-src data:; frame-ancestors 'none'"


def _plot(request: Request, key: str) -> Plot:
    found = house(request).shelf.get(key)
    if found is None:
        raise HTTPException(404, "This chart is no longer at hand. Load its page again.")
    return found


@ROUTER.get("/{key}.svg", response_class=Response, responses={200: {"content": {"image/svg+xml": {}}}})
def chart_svg(
    request: Request,
    key: Key,
    look: Literal["screen-light", "screen-dark", "paper"] = "screen-light",
    width: Width = 1000,
    height: Height = 380,
) -> Response:
    """Return the drawing as SVG, its typeface inside."""
    plot = _plot(request, key)
    content = house(request).shelf.drawing(
        (key, look, width, height), lambda: charts.picture(plot, look, width, height)
    )
    return Response(
        content, media_type="image/svg+xml", headers={**_KEPT, "Content-Security-Policy": _DRAWING}
    )


@ROUTER.get("/{key}.png", response_class=Response, responses={200: {"content": {"image/png": {}}}})
def chart_png(request: Request, key: Key, width: Width = 1000, height: Height = 380) -> Response:
    """Return the drawing as PNG at twice its size."""
    plot = _plot(request, key)
    content = house(request).shelf.drawing(
        (key, "png", width, height), lambda: charts.bitmap(plot, width, height)
    )
    return Response(content, media_type="image/png", headers=_KEPT)


@ROUTER.get("/{key}.csv", response_class=Response, responses={200: {"content": {"text/csv": {}}}})
def chart_csv(request: Request, key: Key) -> Response:
    """Return its numbers in SI units as CSV."""
    return Response(as_csv(_plot(request, key)), media_type="text/csv; charset=utf-8", headers=_KEPT)


@ROUTER.get("/{key}.json")
def chart_json(
    request: Request,
    key: Key,
    width: Width = 1000,
    height: Height = 380,
    log: bool | None = None,  # noqa: FBT001 - a query has names
    low: Annotated[Place, Query(alias="from")] = None,
    high: Annotated[Place, Query(alias="to")] = None,
) -> dict[str, Any]:
    """Return the Vega-Lite specification of it, or of a part, and each reading in words."""
    return charts.lively(_plot(request, key), width, height, low, high, log=log)
