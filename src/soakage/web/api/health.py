"""Health and metrics, for what watches the server."""

from __future__ import annotations

from typing import Literal

from fastapi import Request
from fastapi.responses import Response

from soakage import __version__
from soakage.web.house import house
from soakage.web.metrics import CONTENT_TYPE
from soakage.web.people import Reader
from soakage.web.routing import Router
from soakage.web.shapes import Shape

ROUTER = Router("health", open=True, tags=["server"])


class Health(Shape):
    """That the server answers, and which it is."""

    soakage: str
    status: Literal["up"]


@ROUTER.get("/health")
def health() -> Health:
    """Say that the server answers."""
    return Health(soakage=__version__, status="up")


@ROUTER.get(
    "/metrics", response_class=Response, responses={200: {"content": {"application/openmetrics-text": {}}}}
)
def metrics(request: Request, person: Reader) -> Response:
    """Return counts and times of requests in the OpenMetrics text format."""
    del person
    return Response(house(request).metrics.text(__version__), media_type=CONTENT_TYPE)
