"""All plant: ranked by condition or by fall, counted by class, spread among peers, exported."""

from __future__ import annotations

from typing import Annotated

from fastapi import Query, Request
from fastapi.responses import HTMLResponse, Response

from soakage.store.plant import By, ranked
from soakage.web import plant_view
from soakage.web.filters import Asked, PageNumber
from soakage.web.memo import remembered
from soakage.web.pages.assets import choices
from soakage.web.plant_export import MEDIA, Form, exported
from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.stored import Memory

ROUTER = Router("plant", word="All plant", address="/plant", place="head", order=3)
_ORDERS = (("condition", "worst first"), ("fall", "by fall"), ("name", "by site and name"))


@ROUTER.get("/plant", name="plant")
def plant(
    request: Request, memory: Memory, asked: Asked, by: By = "condition", page_number: PageNumber = 1
) -> HTMLResponse:
    """Show all plant; the spread among peers is fetched after it."""
    key = ("plant", asked.address(""), by, page_number)
    found = dict(remembered(request, key, lambda: plant_view.shown(memory, asked, by, page_number)))
    return page(
        request,
        "plant.html",
        title="All plant",
        current="plant",
        asked=asked,
        ladder=plant_view.LADDER,
        orders=[(word, asked.address("/plant", by=name), name == by) for name, word in _ORDERS],
        files=[(form, asked.address(f"/plant/export.{form}", by=by)) for form in MEDIA],
        **{**choices(asked, found.pop("sites")), **found},
    )


@ROUTER.get("/plant/peers", name="plant-peers")
def peers(
    request: Request, memory: Memory, asked: Asked, part: Annotated[str, Query(max_length=5)] = ""
) -> HTMLResponse:
    """Show the spread of like assets; ``part`` gives it alone, for the page of all plant."""
    return page(
        request,
        "plant_peers_part.html" if part else "plant_peers.html",
        title="Among peers",
        current="plant",
        asked=asked,
        **remembered(request, ("peers", asked.address("")), lambda: plant_view.peers(memory, asked)),
    )


@ROUTER.get("/plant/export.{form}", name="plant-export")
def export(memory: Memory, asked: Asked, form: Form, by: By = "condition") -> Response:
    """Return the ranking as a file."""
    return file_of(memory, asked, form, by)


def file_of(memory: Memory, asked: Asked, form: Form, by: By) -> Response:
    """Return the whole ranking as a file to be saved."""
    with memory.store.reading() as connection:
        rows = ranked(connection, asked.wanted, by=by)
    headers = {"Content-Disposition": f'attachment; filename="all-plant.{form}"'}
    return Response(exported(rows, form), media_type=MEDIA[form], headers=headers)
